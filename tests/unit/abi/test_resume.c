/*
 * Cases that have not ended: taken up again after the process was killed, seen by the sale's end in another process, and
 * one serial number in two cases at once.
 */
#include "shop.h"

#include <signal.h>
#include <sqlite3.h>
#include <sys/wait.h>

static void reject_add(cfoil_case *doubt)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.sequence = 3;
    event.presentation = 2;
    event.time_utc_ms = INT64_C(1764000000000);
    event.reason = CFOIL_REASON_AUTHENTICITY;
    event.reasons_possible = 1u << CFOIL_REASON_AUTHENTICITY;
    event.finding_count = 1;
    event.findings[0] = (cfoil_finding){CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0};
    event.raw_length = 2;
    event.raw[0] = 0xa5;
    event.raw[1] = 0x5a;
    strcpy(event.raw_text, "code 12");
    assert_int_equal(cfoil_case_presentation_add(doubt, &event), CFOIL_OK);
}

/* The case as JSON without what the clock changes. */
static cJSON *case_read(cfoil_case *doubt)
{
    static char text[65536];
    assert_int_equal(cfoil_case_json(doubt, text, sizeof text, NULL), CFOIL_OK);
    cJSON *object = cJSON_Parse(text);
    assert_non_null(object);
    cJSON_DeleteItemFromObject(object, "time");
    return object;
}

static const char *only_open_case(void)
{
    static char id[40];
    cJSON *items = shop_list(CFOIL_LIST_OPEN_CASES, NULL);
    assert_int_equal(cJSON_GetArraySize(items), 1);
    snprintf(id, sizeof id, "%s", shop_text_in(cJSON_GetArrayItem(items, 0), "case_id"));
    cJSON_Delete(items);
    return id;
}

/* What another process does until it is killed in the middle. Its half of the pipe tells when it has come so far. */
static void child_run(int told)
{
    cfoil_step step = CFOIL_STEP_INIT;
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(cfoil_context_open(NULL, &shop.context), CFOIL_OK);
    shop_ledger_open();
    cfoil_case *doubt = shop_case_open("S 1", 5000);
    reject_add(doubt);
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    assert_int_equal(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_AS_IT_SHOULD_BE), CFOIL_OK);
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    assert_int_equal(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_CANNOT_TELL), CFOIL_OK);
    assert_int_equal(cfoil_case_serial_set(doubt, "VA0436214792", &serial), CFOIL_OK);
    cJSON *object = case_read(doubt);
    char *text = cJSON_PrintUnformatted(object);
    size_t length = strlen(text);
    ssize_t written = write(told, text, length);
    (void)close(told);
    for (;;) {
        if (written != (ssize_t)length)
            _exit(1);
        pause();
    }
}

static cJSON *killed_in_the_middle(void)
{
    static char text[65536];
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    cfoil_context_close(shop.context);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        (void)close(ends[0]);
        child_run(ends[1]);
    }
    (void)close(ends[1]);
    size_t length = 0;
    for (ssize_t got; (got = read(ends[0], text + length, sizeof text - 1 - length)) > 0;)
        length += (size_t)got;
    text[length] = '\0';
    (void)close(ends[0]);
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, NULL, 0), child);
    assert_int_equal(cfoil_context_open(NULL, &shop.context), CFOIL_OK);
    shop_ledger_open();
    cJSON *object = cJSON_Parse(text);
    assert_non_null(object);
    return object;
}

/* Figures that hang on the lane's record or the clock are worked out afresh. */
static void same_case(cJSON *before, cJSON *after)
{
    cJSON_DeleteItemFromObject(before, "working");
    cJSON_DeleteItemFromObject(after, "working");
    char *first = cJSON_Print(before);
    char *second = cJSON_Print(after);
    assert_string_equal(first, second);
    cJSON_free(first);
    cJSON_free(second);
}

static void a_killed_process_loses_nothing(void **state)
{
    (void)state;
    cJSON *before = killed_in_the_middle();
    cfoil_tender tender = CFOIL_TENDER_INIT;
    assert_int_equal(cfoil_tender_check(shop.ledger, "S 1", &tender), CFOIL_OK);
    assert_int_equal(tender.verdict, CFOIL_TENDER_CASE_OPEN);
    const char *id = only_open_case();
    assert_string_equal(tender.case_id, id);
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, id, &doubt), CFOIL_OK);
    cJSON *after = case_read(doubt);
    same_case(before, after);
    cJSON_Delete(before);
    cJSON_Delete(after);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    cfoil_record record = shop_case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    assert_string_equal(record.case_id, id);
    assert_int_equal(shop_list_count(CFOIL_LIST_OPEN_CASES, NULL), 0);
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, id, &doubt), CFOIL_E_STATE_CASE_ENDED);
    assert_null(doubt);
}

static void a_case_closed_untouched_leaves_nothing(void **state)
{
    (void)state;
    cfoil_case *doubt = shop_case_open("S 1", 5000);
    assert_int_equal(shop_list_count(CFOIL_LIST_OPEN_CASES, "1"), 1);
    assert_int_equal(shop_list_count(CFOIL_LIST_OPEN_CASES, "2"), 0);
    cfoil_case_close(doubt);
    assert_int_equal(shop_list_count(CFOIL_LIST_OPEN_CASES, NULL), 0);
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, "019abcde-0000-7000-8000-000000000001", &doubt),
                     CFOIL_E_MISSING_CASE);
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, NULL, &doubt), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, "", &doubt), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_case_resume(shop.context, shop.ledger, "x", NULL), CFOIL_E_ARGUMENT_NULL);
}

/* ---- The sale ---- */

static cfoil_tender tender_of(const char *sale)
{
    cfoil_tender tender = CFOIL_TENDER_INIT;
    assert_int_equal(cfoil_tender_check(shop.ledger, sale, &tender), CFOIL_OK);
    assert_true(tender.text[0] != '\0');
    return tender;
}

static void a_sale_waits_for_its_cases(void **state)
{
    (void)state;
    assert_int_equal(tender_of("S 1").verdict, CFOIL_TENDER_FREE);
    cfoil_case *doubt = shop_case_open("S 1", 5000);
    cfoil_case *other = shop_case_open("S 2", 5000);
    assert_int_equal(tender_of("S 1").verdict, CFOIL_TENDER_CASE_OPEN);
    assert_int_equal(tender_of("S 1").open, 1);
    cfoil_record record = shop_case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    cfoil_tender tender = tender_of("S 1");
    assert_int_equal(tender.verdict, CFOIL_TENDER_REFUSED);
    assert_int_equal(tender.refused, 1);
    assert_int_equal(tender.refused_minor, 5000);
    assert_string_equal(tender.currency, "EUR");
    assert_string_equal(tender.case_id, record.case_id);
    doubt = shop_case_open("S 1", 2000);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    (void)shop_case_end(doubt, CFOIL_DISPOSITION_SET_ASIDE, "E 1");
    assert_int_equal(tender_of("S 1").refused, 2);
    assert_int_equal(tender_of("S 1").refused_minor, 7000);
    doubt = shop_case_open("S 3", 2000);
    (void)shop_case_end(doubt, CFOIL_DISPOSITION_ABANDONED, NULL);
    assert_int_equal(tender_of("S 3").verdict, CFOIL_TENDER_FREE);
    assert_int_equal(tender_of("S 3").no_decision, 1);
    cfoil_case_close(other);
    assert_int_equal(tender_of("S 2").verdict, CFOIL_TENDER_FREE);
    assert_int_equal(cfoil_tender_check(shop.ledger, NULL, &tender), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_tender_check(shop.ledger, "", &tender), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_tender_check(shop.ledger, "S 1", NULL), CFOIL_E_ARGUMENT_NULL);
}

/* ---- One number in two cases ---- */

static cfoil_serial serial_of(cfoil_case *doubt, const char *text)
{
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(cfoil_case_serial_set(doubt, text, &serial), CFOIL_OK);
    return serial;
}

static void one_number_in_two_open_cases_is_told(void **state)
{
    (void)state;
    cfoil_case *first = shop_case_open("S 1", 5000);
    cfoil_case *second = shop_case_open("S 2", 5000);
    assert_int_equal(serial_of(first, "VA0436214792").seen_open, 0);
    assert_int_equal(serial_of(first, "VA0436214792").seen_open, 0);
    assert_int_equal(serial_of(second, "va 0436214792").seen_open, 1);
    assert_int_equal(serial_of(second, "VB0436214792").seen_open, 0);
    cfoil_case_close(first);
    assert_int_equal(serial_of(second, "VA0436214792").seen_open, 0);
    cfoil_case_close(second);
}

static cfoil_serial serial_of_note(int64_t value_minor, const char *text)
{
    cfoil_case *doubt = shop_case_open("S 9", value_minor);
    cfoil_serial serial = serial_of(doubt, text);
    cfoil_case_close(doubt);
    return serial;
}

static void step_take(const char *case_id, int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.case_id = case_id;
    options.staff = "07";
    options.holder = CFOIL_HOLDER_BANK;
    options.receipt = "R 1";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
}

/* A note of another value may carry the same number, and one that came back as genuine is held against nobody. */
static void a_refused_number_is_remembered_until_it_proves_genuine(void **state)
{
    (void)state;
    cfoil_case *doubt = shop_case_open("S 1", 5000);
    (void)serial_of(doubt, "VA0436214792");
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    cfoil_record record = shop_case_end(doubt, CFOIL_DISPOSITION_SET_ASIDE, "E 1");
    assert_int_equal(serial_of_note(5000, "VA0436214792").seen_refused, 1);
    assert_int_equal(serial_of_note(2000, "VA0436214792").seen_refused, 0);
    step_take(record.case_id, CFOIL_CUSTODY_HAND_OVER);
    assert_int_equal(serial_of_note(5000, "VA0436214792").seen_refused, 1);
    step_take(record.case_id, CFOIL_CUSTODY_GENUINE);
    assert_int_equal(serial_of_note(5000, "VA0436214792").seen_refused, 0);
}

static cfoil_case *rupee_case_open(void)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    cfoil_case *doubt;
    options.currency = "INR";
    options.value_minor = 50000;
    options.ledger = shop.ledger;
    assert_int_equal(cfoil_case_open(shop.context, &options, &doubt), CFOIL_OK);
    return doubt;
}

/* Two genuine notes of the rupee may share a number: the host is told, and the case goes on. */
static void a_number_that_notes_may_share_ends_no_case(void **state)
{
    (void)state;
    cfoil_step step = CFOIL_STEP_INIT;
    cfoil_case *doubt = rupee_case_open();
    (void)serial_of(doubt, "5AB 123456");
    (void)shop_case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    doubt = rupee_case_open();
    assert_int_equal(serial_of(doubt, "5AB123456").seen_refused, 1);
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    assert_int_equal(step.kind, CFOIL_STEP_CHECK);
    cfoil_case_close(doubt);
}

/* ---- What is saved may have been altered ---- */

static sqlite3 *database_open(void)
{
    sqlite3 *database;
    assert_int_equal(sqlite3_open(shop.path, &database), SQLITE_OK);
    sqlite3_busy_timeout(database, 5000);
    return database;
}

static void state_write(sqlite3 *database, const char *state)
{
    sqlite3_stmt *change;
    assert_int_equal(sqlite3_prepare_v2(database, "UPDATE open_case SET state = ?1", -1, &change, NULL), SQLITE_OK);
    sqlite3_bind_text(change, 1, state, -1, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(change), SQLITE_DONE);
    sqlite3_finalize(change);
}

static int32_t state_try(sqlite3 *database, const char *id, const char *state)
{
    cfoil_case *doubt;
    cfoil_step step = CFOIL_STEP_INIT;
    state_write(database, state);
    int32_t result = cfoil_case_resume(shop.context, shop.ledger, id, &doubt);
    assert_true((result == CFOIL_OK) == (doubt != NULL));
    if (doubt == NULL)
        return result;
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    return result;
}

/* Each byte in turn becomes another: the case is read, or refused with a code; what is no such text is always refused. */
static void an_altered_saved_case_is_read_or_refused(void **state)
{
    (void)state;
    static char text[65536];
    cfoil_case *doubt = shop_case_open("S 1", 5000);
    reject_add(doubt);
    assert_int_equal(cfoil_case_answer(doubt, "watermark", CFOIL_ANSWER_CANNOT_TELL), CFOIL_OK);
    const char *id = only_open_case();
    sqlite3 *database = database_open();
    sqlite3_stmt *row;
    assert_int_equal(sqlite3_prepare_v2(database, "SELECT state FROM open_case", -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    snprintf(text, sizeof text, "%s", (const char *)sqlite3_column_text(row, 0));
    sqlite3_finalize(row);
    static const char others[] = {'"', '9', '-', '}'};
    for (size_t i = 0; text[i] != '\0'; i++) {
        char kept = text[i];
        text[i] = others[i % sizeof others];
        (void)state_try(database, id, text);
        text[i] = kept;
    }
    assert_int_equal(state_try(database, id, "not JSON"), CFOIL_E_DATA_SCHEMA);
    assert_int_equal(state_try(database, id, "{}"), CFOIL_E_DATA_SCHEMA);
    assert_int_equal(state_try(database, id, "[]"), CFOIL_E_DATA_SCHEMA);
    assert_int_equal(state_try(database, id, text), CFOIL_OK);
    sqlite3_close(database);
}

int main(void)
{
#define SHOP_TEST(test) cmocka_unit_test_setup_teardown(test, shop_open, shop_close)
    const struct CMUnitTest tests[] = {
        SHOP_TEST(a_killed_process_loses_nothing),
        SHOP_TEST(a_case_closed_untouched_leaves_nothing),
        SHOP_TEST(a_sale_waits_for_its_cases),
        SHOP_TEST(one_number_in_two_open_cases_is_told),
        SHOP_TEST(a_refused_number_is_remembered_until_it_proves_genuine),
        SHOP_TEST(a_number_that_notes_may_share_ends_no_case),
        SHOP_TEST(an_altered_saved_case_is_read_or_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
