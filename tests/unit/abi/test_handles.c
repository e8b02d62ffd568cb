/*
 * Handle life: NULL, foreign, wrong kind, closed, closed twice, closed while in use, reused after the quarantine.
 */
#include "abi/handle.h"

#include "test.h"

#include <pthread.h>

static cfoil_context *context_make(void)
{
    cfoil_context *context = NULL;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    assert_non_null(context);
    return context;
}

static cfoil_case *case_make(cfoil_context *context)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    cfoil_case *handle = NULL;
    assert_int_equal(cfoil_case_open(context, &options, &handle), CFOIL_OK);
    return handle;
}

static void null_and_foreign_pointers_are_named(void **state)
{
    (void)state;
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(NULL, &step), CFOIL_E_ARGUMENT_NULL);
    uint64_t foreign[128] = {0};
    assert_int_equal(cfoil_case_step((cfoil_case *)foreign, &step), CFOIL_E_ARGUMENT_HANDLE);
    cfoil_context *context = context_make();
    assert_int_equal(cfoil_case_step((cfoil_case *)context, &step), CFOIL_E_ARGUMENT_HANDLE);
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
    assert_int_equal(info.result, CFOIL_E_ARGUMENT_HANDLE);
    assert_true(info.text[0] != '\0');
    assert_int_equal(cfoil_error_read(NULL, &info), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_error_read(context, NULL), CFOIL_E_ARGUMENT_NULL);
    cfoil_context_close(context);
    cfoil_context_close(NULL);
    cfoil_case_close(NULL);
    cfoil_lane_close(NULL);
    cfoil_ledger_close(NULL);
}

static void closed_handles_are_stale(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    cfoil_case *closed = case_make(context);
    cfoil_case_close(closed);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(closed, &step), CFOIL_E_STATE_STALE);
    cfoil_case_close(closed);
    for (uint32_t i = 0; i < HANDLE_QUARANTINE - 1; i++)
        cfoil_case_close(case_make(context));
    assert_int_equal(cfoil_case_step(closed, &step), CFOIL_E_STATE_STALE);
    cfoil_context_close(context);
}

static void memory_does_not_grow_with_closed_handles(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    for (uint32_t i = 0; i < 3 * HANDLE_QUARANTINE; i++)
        cfoil_case_close(case_make(context));
    assert_true(context->waiting_count <= HANDLE_QUARANTINE + 1);
    cfoil_case *open = case_make(context);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(open, &step), CFOIL_OK);
    cfoil_context_close(context); /* closes `open` too */
}

static void the_middle_of_the_open_list_closes(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    cfoil_case *handles[3];
    for (int i = 0; i < 3; i++)
        handles[i] = case_make(context);
    cfoil_case_close(handles[1]);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(handles[0], &step), CFOIL_OK);
    assert_int_equal(cfoil_case_step(handles[1], &step), CFOIL_E_STATE_STALE);
    assert_int_equal(cfoil_case_step(handles[2], &step), CFOIL_OK);
    cfoil_context_close(context);
}

static void *close_in_thread(void *user)
{
    struct handle *handle = user;
    if (handle_close_begin(handle))
        return handle_close_end(handle) != NULL ? user : NULL;
    return NULL;
}

/* Closing waits until the call inside has left, and no new call gets in meanwhile. */
static void closing_waits_for_the_call_inside(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    struct handle *inside;
    static int body;
    struct handle *handle = handle_create(context, HANDLE_LEDGER, &body);
    assert_int_equal(handle_enter(handle, HANDLE_LEDGER, &inside), CFOIL_OK);
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, close_in_thread, handle), 0);
    struct handle *other;
    while (handle_enter(handle, HANDLE_LEDGER, &other) == CFOIL_OK)
        (void)handle_leave(other, CFOIL_OK, NULL);
    assert_ptr_equal(handle->body, &body); /* still there for the call inside */
    (void)handle_leave(inside, CFOIL_OK, NULL);
    void *returned = NULL;
    pthread_join(thread, &returned);
    assert_ptr_equal(returned, handle);
    assert_null(handle->body);
    cfoil_context_close(context);
}

static void failures_are_kept_and_waiting_is_none(void **state)
{
    (void)state;
    cfoil_context *context = context_make();
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    struct handle *entered;
    assert_int_equal(handle_enter(context, HANDLE_CONTEXT, &entered), CFOIL_OK);
    assert_int_equal(handle_leave(entered, CFOIL_E_TIME_OUT, NULL), CFOIL_E_TIME_OUT);
    assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
    assert_int_equal(info.result, CFOIL_OK);
    assert_int_equal(cfoil_pack_directory_add(context, "/nowhere/at/all"), CFOIL_E_DATA_FILE);
    assert_int_equal(cfoil_error_read(context, &info), CFOIL_OK);
    assert_int_equal(info.result, CFOIL_E_DATA_FILE);
    assert_non_null(strstr(info.text, "/nowhere/at/all"));
    cfoil_context_close(context);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(null_and_foreign_pointers_are_named),
        cmocka_unit_test(closed_handles_are_stale),
        cmocka_unit_test(memory_does_not_grow_with_closed_handles),
        cmocka_unit_test(the_middle_of_the_open_list_closes),
        cmocka_unit_test(closing_waits_for_the_call_inside),
        cmocka_unit_test(failures_are_kept_and_waiting_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
