/*
 * The struct_size rule: older and newer hosts, sizes not set, tails not zero; and the macros that set it.
 */
#include "abi/structs.h"

#include "test.h"

struct version_one {
    uint32_t struct_size;
    int32_t first;
};

struct version_two {
    uint32_t struct_size;
    int32_t first;
    int64_t second;
};

static void older_host_is_read(void **state)
{
    (void)state;
    struct version_one given = {sizeof given, 7};
    struct version_two copy;
    assert_int_equal(struct_read(&given, sizeof given, sizeof copy, &copy), CFOIL_OK);
    assert_int_equal(copy.first, 7);
    assert_int_equal(copy.second, 0);
}

static void newer_host_is_read_when_its_tail_is_zero(void **state)
{
    (void)state;
    struct version_two given = {sizeof given, 7, 0};
    struct version_one copy;
    assert_int_equal(struct_read(&given, sizeof copy, sizeof copy, &copy), CFOIL_OK);
    assert_int_equal(copy.first, 7);
    given.second = 1;
    assert_int_equal(struct_read(&given, sizeof copy, sizeof copy, &copy), CFOIL_E_ARGUMENT_STRUCT_SIZE);
}

static void sizes_that_cannot_be_are_refused(void **state)
{
    (void)state;
    struct version_one given = {0, 7};
    struct version_one copy;
    assert_int_equal(struct_read(&given, sizeof copy, sizeof copy, &copy), CFOIL_E_ARGUMENT_STRUCT_SIZE);
    given.struct_size = sizeof given - 1;
    assert_int_equal(struct_read(&given, sizeof copy, sizeof copy, &copy), CFOIL_E_ARGUMENT_STRUCT_SIZE);
    given.struct_size = 0x7FFFFFFF;
    assert_int_equal(struct_read(&given, sizeof copy, sizeof copy, &copy), CFOIL_E_ARGUMENT_STRUCT_SIZE);
    assert_int_equal(struct_read(NULL, sizeof copy, sizeof copy, &copy), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(struct_check(NULL, 4), CFOIL_E_ARGUMENT_NULL);
}

static void writing_respects_the_hosts_size(void **state)
{
    (void)state;
    struct version_two filled = {sizeof filled, 7, 9};
    struct {
        struct version_one given;
        uint32_t guard;
    } older = {{sizeof older.given, 0}, 0xABCD};
    struct_write(&older.given, &filled, sizeof filled);
    assert_int_equal(older.given.first, 7);
    assert_int_equal(older.given.struct_size, sizeof older.given);
    assert_int_equal(older.guard, 0xABCD);

    struct version_one known = {sizeof known, 5};
    struct version_two newer = {sizeof newer, 1, 2};
    struct_write(&newer, &known, sizeof known);
    assert_int_equal(newer.first, 5);
    assert_int_equal(newer.second, 0);
    assert_int_equal(newer.struct_size, sizeof newer);
}

/* Every macro sets the size and nothing else. */
#define MACRO_CHECK(type, macro)                                                                                       \
    do {                                                                                                               \
        type value = macro;                                                                                            \
        type expected;                                                                                                 \
        memset(&expected, 0, sizeof expected);                                                                         \
        expected.struct_size = (uint32_t)sizeof expected;                                                              \
        assert_memory_equal(&value, &expected, sizeof expected);                                                       \
    } while (0)

static void macros_set_the_size_and_nothing_else(void **state)
{
    (void)state;
    MACRO_CHECK(cfoil_allocator, CFOIL_ALLOCATOR_INIT);
    MACRO_CHECK(cfoil_context_options, CFOIL_CONTEXT_OPTIONS_INIT);
    MACRO_CHECK(cfoil_error_info, CFOIL_ERROR_INFO_INIT);
    MACRO_CHECK(cfoil_event, CFOIL_EVENT_INIT);
    MACRO_CHECK(cfoil_lane_options, CFOIL_LANE_OPTIONS_INIT);
    MACRO_CHECK(cfoil_case_options, CFOIL_CASE_OPTIONS_INIT);
    MACRO_CHECK(cfoil_step, CFOIL_STEP_INIT);
    MACRO_CHECK(cfoil_disposition_options, CFOIL_DISPOSITION_OPTIONS_INIT);
    MACRO_CHECK(cfoil_record, CFOIL_RECORD_INIT);
    MACRO_CHECK(cfoil_serial, CFOIL_SERIAL_INIT);
    MACRO_CHECK(cfoil_ledger_options, CFOIL_LEDGER_OPTIONS_INIT);
    MACRO_CHECK(cfoil_ledger_check, CFOIL_LEDGER_CHECK_INIT);
    MACRO_CHECK(cfoil_report_options, CFOIL_REPORT_OPTIONS_INIT);
    MACRO_CHECK(cfoil_adapter_event, CFOIL_ADAPTER_EVENT_INIT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(older_host_is_read),
        cmocka_unit_test(newer_host_is_read_when_its_tail_is_zero),
        cmocka_unit_test(sizes_that_cannot_be_are_refused),
        cmocka_unit_test(writing_respects_the_hosts_size),
        cmocka_unit_test(macros_set_the_size_and_nothing_else),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
