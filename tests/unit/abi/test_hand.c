/*
 * A lane without a machine: a cashier or the host opens a case by currency and value, nothing else. Does everything hold
 * that holds with a machine: guidance, record, figures, mistakes, failing memory?
 */
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { CHECKS_MOST = 12, TEXT_SIZE = 65536 };

struct fixture {
    char folder[64];
    char path[96];
    cfoil_context *context;
    cfoil_ledger *ledger;
};

static struct fixture fixture;
static char text[TEXT_SIZE];

static void store_open(cfoil_context *context)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = fixture.path;
    assert_int_equal(cfoil_ledger_open(context, &options, &fixture.ledger), CFOIL_OK);
}

static int fixture_open(void **state)
{
    (void)state;
    strcpy(fixture.folder, "/tmp/counterfoil-hand-XXXXXX");
    assert_non_null(mkdtemp(fixture.folder));
    snprintf(fixture.path, sizeof fixture.path, "%s/ledger", fixture.folder);
    assert_int_equal(cfoil_context_open(NULL, &fixture.context), CFOIL_OK);
    store_open(fixture.context);
    return 0;
}

static int fixture_close(void **state)
{
    (void)state;
    cfoil_context_close(fixture.context);
    static const char *const endings[] = {"", "-wal", "-shm"};
    for (int i = 0; i < 3; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s%s", fixture.path, endings[i]);
        unlink(path);
    }
    return rmdir(fixture.folder);
}

static cfoil_case_options hand_options(const char *currency, int64_t value_minor)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = currency;
    options.value_minor = value_minor;
    options.ledger = fixture.ledger;
    options.lane = "counter";
    return options;
}

static cfoil_case *hand_case_open(int64_t value_minor)
{
    cfoil_case_options options = hand_options("EUR", value_minor);
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_open(fixture.context, &options, &doubt), CFOIL_OK);
    return doubt;
}

/* Gives each check the same answer until there is advice; how many were asked. */
static int checks_answer(cfoil_case *doubt, int32_t answer, cfoil_step *step)
{
    for (int asked = 0; asked <= CHECKS_MOST; asked++) {
        *step = (cfoil_step)CFOIL_STEP_INIT;
        assert_int_equal(cfoil_case_step(doubt, step), CFOIL_OK);
        if (step->kind == CFOIL_STEP_ADVICE)
            return asked;
        assert_true(step->number == (uint32_t)asked + 1 && step->instruction[0] != '\0' && step->expected[0] != '\0');
        assert_int_equal(cfoil_case_answer(doubt, step->check, answer), CFOIL_OK);
    }
    fail_msg("the checks do not end");
    return 0;
}

static int32_t case_end(cfoil_case *doubt, int32_t disposition, cfoil_record *record)
{
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = disposition;
    *record = (cfoil_record)CFOIL_RECORD_INIT;
    return cfoil_case_dispose(doubt, &end, record);
}

static int64_t entries_count(void)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(fixture.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    return (int64_t)check.entries;
}

static void a_lane_handle_needs_a_machine(void **state)
{
    (void)state;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.name = "counter";
    cfoil_lane *lane = (cfoil_lane *)fixture.folder;
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &lane), CFOIL_E_ARGUMENT_NULL);
    assert_null(lane);
    options.adapter = "cctalk";
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &lane), CFOIL_E_ARGUMENT_NULL);
    options.port = "";
    assert_int_equal(cfoil_lane_open(fixture.context, &options, &lane), CFOIL_E_ARGUMENT_PORT);
    cfoil_case_close(hand_case_open(5000)); /* and a case needs no lane */
}

static void every_check_fine_and_the_note_is_taken(void **state)
{
    (void)state;
    cfoil_case *doubt = hand_case_open(5000);
    cfoil_step step;
    cfoil_record record;
    assert_true(checks_answer(doubt, CFOIL_ANSWER_AS_IT_SHOULD_BE, &step) >= 3);
    assert_int_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_TAKEN, &record), CFOIL_OK);
    assert_true(record.entry > 0 && strlen(record.hash) == 64);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, &record), CFOIL_E_STATE_CASE_ENDED);
    cfoil_case_close(doubt);
}

static void a_doubt_is_refused_and_stays_refused(void **state)
{
    (void)state;
    cfoil_case *doubt = hand_case_open(2000);
    cfoil_step step;
    cfoil_record record;
    assert_true(checks_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, &step) >= 1); /* words such as COPY end it */
    assert_int_not_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_true(step.say[0] != '\0');
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_TAKEN, &record), CFOIL_E_RULE_ADVICE);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, &record), CFOIL_OK);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_TAKEN;
    end.override_by = "s1";
    end.override_why = "changed my mind";
    assert_int_equal(cfoil_case_dispose(doubt, &end, NULL), CFOIL_E_RULE_REFUSED);
    cfoil_case_close(doubt);
}

static void cannot_tell_is_not_taken(void **state)
{
    (void)state;
    cfoil_case *doubt = hand_case_open(10000);
    cfoil_step step;
    cfoil_record record;
    (void)checks_answer(doubt, CFOIL_ANSWER_CANNOT_TELL, &step);
    assert_int_not_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_TAKEN, &record), CFOIL_E_RULE_ADVICE);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, &record), CFOIL_OK);
    cfoil_case_close(doubt);
}

/* Nobody looked at the note, and no machine did: that is no ground to take it. */
static void without_any_look_it_is_not_taken(void **state)
{
    (void)state;
    cfoil_case *doubt = hand_case_open(5000);
    cfoil_record record;
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_TAKEN, &record), CFOIL_E_RULE_ADVICE);
    cfoil_case_close(doubt);
}

static void the_record_says_that_no_machine_spoke(void **state)
{
    (void)state;
    cfoil_case *doubt = hand_case_open(5000);
    cfoil_step step;
    cfoil_record record;
    (void)checks_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, &step);
    assert_int_equal(case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, &record), CFOIL_OK);
    assert_int_equal(cfoil_ledger_entry_json(fixture.ledger, record.entry, text, sizeof text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "\"lane\":\"counter\""));
    assert_non_null(strstr(text, "\"presentations\":[]"));
    assert_non_null(strstr(text, "\"value_minor\":5000"));
    assert_non_null(strstr(text, record.case_id));
    cfoil_case_close(doubt);
}

/* The number behind "KEY": in the figures of one lane. */
static long figure_of(const char *lane, const char *key)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.lane = lane;
    assert_int_equal(cfoil_report_write(fixture.ledger, &options, text, sizeof text, NULL), CFOIL_OK);
    const char *place = strstr(text, key);
    assert_non_null(place);
    return strtol(place + strlen(key), NULL, 10);
}

static void the_figures_count_it(void **state)
{
    (void)state;
    static const char taken[] = "\"by_disposition\":{\"taken\":{\"count\":";
    static const char cases[] = "\"cases\":{\"count\":";
    long taken_before = figure_of("counter", taken);
    long cases_before = figure_of("counter", cases);
    cfoil_step step;
    cfoil_record record;
    for (int i = 0; i < 2; i++) { /* one after the other */
        cfoil_case *doubt = hand_case_open(1000);
        int32_t answer = i == 0 ? CFOIL_ANSWER_AS_IT_SHOULD_BE : CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE;
        (void)checks_answer(doubt, answer, &step);
        int32_t end = i == 0 ? CFOIL_DISPOSITION_TAKEN : CFOIL_DISPOSITION_SET_ASIDE;
        assert_true((step.dispositions >> end & 1) != 0);
        assert_int_equal(case_end(doubt, end, &record), CFOIL_OK);
        cfoil_case_close(doubt);
    }
    assert_int_equal(figure_of("counter", taken), taken_before + 1);
    assert_int_equal(figure_of("counter", cases), cases_before + 2);
    assert_int_equal(figure_of("counter", "\"put_in\":"), 0); /* no machine, no presentation */
    assert_int_equal(figure_of("elsewhere", cases), 0);
}

/* Two cashiers at one counter: each case is its own. */
static void two_cases_at_a_time_do_not_mix(void **state)
{
    (void)state;
    cfoil_case *first = hand_case_open(5000);
    cfoil_case *second = hand_case_open(5000);
    cfoil_step step;
    cfoil_record one;
    cfoil_record other;
    (void)checks_answer(first, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, &step);
    (void)checks_answer(second, CFOIL_ANSWER_AS_IT_SHOULD_BE, &step);
    assert_int_equal(case_end(second, CFOIL_DISPOSITION_TAKEN, &other), CFOIL_OK);
    assert_int_equal(case_end(first, CFOIL_DISPOSITION_NOT_TAKEN, &one), CFOIL_OK);
    assert_string_not_equal(one.case_id, other.case_id);
    assert_int_equal(one.entry, other.entry + 1);
    cfoil_case_close(first);
    cfoil_case_close(second);
}

static int32_t open_result(const char *currency, int64_t value_minor)
{
    cfoil_case_options options = hand_options(currency, value_minor);
    cfoil_case *doubt = (cfoil_case *)fixture.folder;
    int32_t result = cfoil_case_open(fixture.context, &options, &doubt);
    if (result != CFOIL_OK)
        assert_null(doubt);
    cfoil_case_close(doubt);
    return result;
}

static void wrong_values_and_currencies_open_nothing(void **state)
{
    (void)state;
    int64_t before = entries_count();
    assert_int_equal(open_result("EUR", 700), CFOIL_E_MISSING_NOTE);
    assert_int_equal(open_result("EUR", 50), CFOIL_E_MISSING_NOTE); /* 50 cents, where 50 euro were meant */
    assert_int_equal(open_result("EUR", INT64_MAX), CFOIL_E_MISSING_NOTE);
    assert_int_equal(open_result("EUR", 0), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(open_result("EUR", -5000), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(open_result("ZZZ", 5000), CFOIL_E_MISSING_PACK);
    assert_int_equal(open_result("eur", 5000), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(open_result("EURO", 5000), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(open_result(NULL, 5000), CFOIL_E_ARGUMENT_NULL);
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(fixture.context, &info), CFOIL_OK);
    assert_true(info.text[0] != '\0');
    assert_int_equal(entries_count(), before);
}

/* The till is switched off in the middle of a case: it is on record as abandoned. */
static void closing_everything_with_a_case_open_leaves_it_abandoned(void **state)
{
    (void)state;
    int64_t before = entries_count();
    static const char abandoned[] = "\"abandoned\":{\"count\":";
    long abandoned_before = figure_of("counter", abandoned);
    cfoil_case *doubt = hand_case_open(5000);
    cfoil_case *untouched = hand_case_open(5000);
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
    assert_int_equal(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE), CFOIL_OK);
    assert_non_null(untouched);
    cfoil_context_close(fixture.context);
    assert_int_equal(cfoil_context_open(NULL, &fixture.context), CFOIL_OK);
    store_open(fixture.context);
    assert_int_equal(entries_count(), before + 1);
    assert_int_equal(figure_of("counter", abandoned), abandoned_before + 1);
}

/* ---- Failing memory ---- */

static long allocations_left;
static long blocks;

static void *poor_allocate(void *user, size_t size)
{
    (void)user;
    if (allocations_left-- <= 0)
        return NULL;
    blocks++;
    return malloc(size);
}

static void poor_release(void *user, void *memory)
{
    (void)user;
    blocks -= memory != NULL;
    free(memory);
}

/* One whole case; the first failure ends it. */
static int32_t hand_case_play(cfoil_context *context, cfoil_record *record)
{
    cfoil_case_options options = hand_options("EUR", 5000);
    cfoil_case *doubt = NULL;
    int32_t result = cfoil_case_open(context, &options, &doubt);
    for (int i = 0; result == CFOIL_OK && i < 3; i++) {
        cfoil_step step = CFOIL_STEP_INIT;
        result = cfoil_case_step(doubt, &step);
        if (result == CFOIL_OK)
            result = cfoil_case_answer(doubt, step.check,
                                       i == 0 ? CFOIL_ANSWER_AS_IT_SHOULD_BE : CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    }
    if (result == CFOIL_OK)
        result = cfoil_case_serial_set(doubt, "X04940051213", NULL);
    if (result == CFOIL_OK)
        result = case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, record);
    cfoil_case_close(doubt);
    return result;
}

static void without_memory_it_says_so_and_records_whole_or_not_at_all(void **state)
{
    (void)state;
    cfoil_allocator allocator = CFOIL_ALLOCATOR_INIT;
    allocator.allocate = poor_allocate;
    allocator.release = poor_release;
    cfoil_context_options options = CFOIL_CONTEXT_OPTIONS_INIT;
    options.allocator = &allocator;
    cfoil_context *context;
    cfoil_ledger *own = fixture.ledger;
    allocations_left = 1000000;
    assert_int_equal(cfoil_context_open(&options, &context), CFOIL_OK);
    store_open(context);
    cfoil_record record;
    assert_int_equal(hand_case_play(context, &record), CFOIL_OK); /* what is made once is made */
    int failed = 0;
    int32_t result = CFOIL_E_MEMORY;
    for (long n = 0; result != CFOIL_OK && n < 2000; n++) {
        int64_t before = entries_count();
        allocations_left = n;
        record.entry = 0;
        result = hand_case_play(context, &record);
        assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
        failed += result != CFOIL_OK;
        allocations_left = 1000000;
        assert_true(entries_count() - before <= 1);
    }
    assert_int_equal(result, CFOIL_OK);
    assert_true(failed >= 2 && record.entry > 0);
    fixture.ledger = own;
    cfoil_context_close(context);
    assert_int_equal(blocks, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lane_handle_needs_a_machine),
        cmocka_unit_test(every_check_fine_and_the_note_is_taken),
        cmocka_unit_test(a_doubt_is_refused_and_stays_refused),
        cmocka_unit_test(cannot_tell_is_not_taken),
        cmocka_unit_test(without_any_look_it_is_not_taken),
        cmocka_unit_test(the_record_says_that_no_machine_spoke),
        cmocka_unit_test(the_figures_count_it),
        cmocka_unit_test(two_cases_at_a_time_do_not_mix),
        cmocka_unit_test(wrong_values_and_currencies_open_nothing),
        cmocka_unit_test(closing_everything_with_a_case_open_leaves_it_abandoned),
        cmocka_unit_test(without_memory_it_says_so_and_records_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, fixture_open, fixture_close);
}
