/*
 * A case from opening to closing: what its options, presentations, answers and serial number may be, what memory it takes.
 */
#include "unit/guidance/case.h"

/* ---- Options ---- */

static void options_fail_with(const cfoil_case_options *options, int32_t result)
{
    struct guidance *guidance = (struct guidance *)&case_error;
    assert_int_equal(case_try(options, &guidance), result);
    assert_null(guidance);
    assert_int_equal(case_error.result, result);
    assert_true(case_error.text[0] != '\0');
    assert_int_equal(failing_blocks, 0);
}

static void texts_of_options_are_checked(void **state)
{
    (void)state;
    cfoil_case_options options = case_options(5000);
    options.currency = NULL;
    options_fail_with(&options, CFOIL_E_ARGUMENT_NULL);
    static const char *const bad[] = {"", "EU", "EURO", "eur", "E\xC3\x84", "E1R"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        options.currency = bad[i];
        options_fail_with(&options, CFOIL_E_ARGUMENT_TEXT);
    }
    char longest[66];
    memset(longest, 'x', sizeof longest);
    const char **members[] = {&options.series, &options.jurisdiction, &options.lane, &options.sale, &options.staff};
    static const size_t lengths[] = {15, 15, 32, 64, 32};
    for (size_t i = 0; i < 5; i++) {
        options = case_options(5000);
        longest[lengths[i] + 1] = '\0';
        *members[i] = longest;
        options_fail_with(&options, CFOIL_E_ARGUMENT_TEXT);
        longest[lengths[i] + 1] = 'x';
        *members[i] = "a\nb";
        options_fail_with(&options, CFOIL_E_ARGUMENT_TEXT);
        *members[i] = "\xFF";
        options_fail_with(&options, CFOIL_E_ARGUMENT_TEXT);
    }
    options = case_options(5000);
    longest[32] = '\0';
    options.lane = options.staff = longest;
    char sale[65];
    memset(sale, 's', sizeof sale);
    sale[64] = '\0';
    options.sale = sale;
    case_close(case_open(&options));
}

static void numbers_of_options_are_checked(void **state)
{
    (void)state;
    static const int64_t values[] = {0, -1, INT64_MIN};
    for (size_t i = 0; i < 3; i++) {
        cfoil_case_options options = case_options(values[i]);
        options_fail_with(&options, CFOIL_E_ARGUMENT_RANGE);
    }
    cfoil_case_options options = case_options(5000);
    options.tools = 16;
    options_fail_with(&options, CFOIL_E_ARGUMENT_RANGE);
    options.tools = 15;
    for (uint32_t limit = 0; limit < 20; limit++) {
        options.check_limit = limit;
        if (limit == 0 || (limit >= 3 && limit <= 12))
            case_close(case_open(&options));
        else
            options_fail_with(&options, CFOIL_E_ARGUMENT_RANGE);
    }
    options.check_limit = 0;
    options.reserved = 1;
    options_fail_with(&options, CFOIL_E_ARGUMENT_RANGE);
}

static void what_the_options_name_must_be_in_the_packs(void **state)
{
    (void)state;
    cfoil_case_options options = case_options(5000);
    options.currency = "XTS"; /* ISO 4217: reserved for testing, so that no pack has it */
    options_fail_with(&options, CFOIL_E_MISSING_PACK);
    options = case_options(INT64_MAX);
    options_fail_with(&options, CFOIL_E_MISSING_NOTE);
    options = case_options(5001);
    options_fail_with(&options, CFOIL_E_MISSING_NOTE);
    options = case_options(5000);
    options.series = "no such series";
    options_fail_with(&options, CFOIL_E_MISSING_NOTE);
    options = case_options(5000);
    options.jurisdiction = "nowhere";
    options_fail_with(&options, CFOIL_E_MISSING_JURISDICTION);
}

static void unset_texts_mean_the_default(void **state)
{
    (void)state;
    cfoil_case_options options = case_options(5000);
    options.series = options.jurisdiction = options.lane = options.sale = options.staff = "";
    struct guidance *guidance = case_open(&options);
    assert_string_equal(guidance_case_id(guidance), CASE_ID);
    assert_string_equal(guidance_currency(guidance), "EUR");
    assert_string_equal(guidance_serial(guidance), "");
    assert_int_equal(guidance_disposition(guidance), CFOIL_DISPOSITION_NONE);
    assert_false(guidance_touched(guidance));
    case_close(guidance);
    guidance_close(NULL);
}

/* ---- Presentations ---- */

static void event_fails(struct guidance *guidance, const cfoil_event *event)
{
    assert_int_equal(guidance_presentation_add(guidance, event, &case_error), CFOIL_E_ARGUMENT_RANGE);
    assert_true(case_error.text[0] != '\0');
    assert_false(guidance_touched(guidance));
}

static void presentations_are_checked(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    static const int32_t kinds[] = {-1, CFOIL_KIND_NONE, CFOIL_KIND_LOST_EVENTS, CFOIL_KIND_LANE_STATE, 99};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        cfoil_event event = case_event(kinds[i], CFOIL_REASON_NONE);
        event_fails(guidance, &event);
    }
    cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    event.reason = CFOIL_REASON_TAMPERING + 1;
    event_fails(guidance, &event);
    event.reason = -1;
    event_fails(guidance, &event);
    event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    event.finding_count = CFOIL_FINDINGS_MAX + 1;
    event_fails(guidance, &event);
    event.finding_count = 0;
    event.raw_length = CFOIL_RAW_MAX + 1;
    event_fails(guidance, &event);
    static const cfoil_finding findings[] = {{-1, 1, 1, 0}, {9, 1, 1, 0}, {1, -1, 1, 0}, {1, 4, 1, 0}};
    for (size_t i = 0; i < sizeof findings / sizeof findings[0]; i++) {
        event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
        event.finding_count = 1;
        event.findings[0] = findings[i];
        event_fails(guidance, &event);
    }
    case_close(guidance);
}

static void a_note_of_another_value_does_not_clear_the_case(void **state)
{
    (void)state;
    static const struct {
        int32_t kind;
        const char *currency;
        int64_t value_minor;
        bool good;
    } rows[] = {
        {CFOIL_KIND_HELD, "EUR", 5000, true},     {CFOIL_KIND_HELD, "EUR", 2000, false},
        {CFOIL_KIND_HELD, "GBP", 5000, false},    {CFOIL_KIND_HELD, "", 0, true},
        {CFOIL_KIND_STACKED, "EUR", 1000, false}, {CFOIL_KIND_RETURNED, "EUR", 1000, false},
        {CFOIL_KIND_REJECTED, "EUR", 1000, true}, {CFOIL_KIND_DEVICE, "EUR", 1000, true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct guidance *guidance = case_plain();
        cfoil_event event = case_event(rows[i].kind, CFOIL_REASON_NONE);
        strcpy(event.currency, rows[i].currency);
        event.value_minor = rows[i].value_minor;
        if (rows[i].good)
            assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
        else
            event_fails(guidance, &event);
        case_close(guidance);
    }
}

static void many_presentations_are_kept(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    for (int i = 0; i < 100; i++)
        case_refuse(guidance, CFOIL_REASON_AUTHENTICITY);
    assert_true(guidance_touched(guidance));
    cJSON *object = guidance_json(guidance, NULL, 0);
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItemCaseSensitive(object, "presentations")), 100);
    cJSON_Delete(object);
    case_close(guidance);
}

static void texts_without_an_end_are_ended(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    memset(event.currency, 'E', sizeof event.currency);
    memset(event.note_name, 'n', sizeof event.note_name);
    memset(event.raw_text, 'r', sizeof event.raw_text);
    memset(event.text, 't', sizeof event.text);
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
    cJSON *object = guidance_json(guidance, NULL, 0);
    assert_non_null(object);
    cJSON_Delete(object);
    case_close(guidance);
}

/* ---- Answers ---- */

static void answers_are_checked(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    case_refuse(guidance, CFOIL_REASON_AUTHENTICITY);
    cfoil_step step = case_step(guidance);
    assert_int_equal(guidance_answer(guidance, NULL, GOOD, &case_error), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(guidance_answer(guidance, step.check, 0, &case_error), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(guidance_answer(guidance, step.check, 4, &case_error), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(guidance_answer(guidance, "no such check", GOOD, &case_error), CFOIL_E_MISSING_CHECK);
    assert_int_equal(guidance_answer(guidance, "", GOOD, &case_error), CFOIL_E_MISSING_CHECK);
    assert_int_equal(case_step(guidance).number, 1);
    step = case_step(guidance);
    assert_int_equal(guidance_answer(guidance, step.check, GOOD, &case_error), CFOIL_OK);
    assert_int_equal(case_step(guidance).number, 2);
    case_close(guidance);
}

static void an_answer_can_be_corrected(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    char first[64];
    case_answer(guidance, GOOD); /* words such as COPY, which would end the case */
    snprintf(first, sizeof first, "%s", case_step(guidance).check);
    assert_int_equal(guidance_answer(guidance, first, BAD, &case_error), CFOIL_OK);
    assert_true(guidance_touched(guidance));
    assert_int_equal(case_answer_all(guidance, GOOD).advice, CFOIL_ADVICE_ASK_ANOTHER);
    assert_int_equal(guidance_answer(guidance, first, GOOD, &case_error), CFOIL_OK);
    assert_int_equal(case_answer_all(guidance, GOOD).advice, CFOIL_ADVICE_TAKE);
    case_close(guidance);
}

static void an_ended_case_takes_nothing_more(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    case_end(guidance, CFOIL_DISPOSITION_ABANDONED);
    cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_E_STATE_CASE_ENDED);
    assert_int_equal(guidance_answer(guidance, "any", GOOD, &case_error), CFOIL_E_STATE_CASE_ENDED);
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(guidance_serial_set(guidance, &serial, true, &case_error), CFOIL_E_STATE_CASE_ENDED);
    assert_int_equal(guidance_disposition(guidance), CFOIL_DISPOSITION_ABANDONED);
    assert_int_equal(case_step(guidance).dispositions, 0);
    case_close(guidance);
}

/* ---- Serial number ---- */

static void serial_numbers_are_checked_and_kept(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(guidance_serial_check(guidance, NULL, &serial), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(guidance_serial_check(guidance, "", &serial), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(guidance_serial_check(guidance, "A\nB", &serial), CFOIL_E_ARGUMENT_TEXT);
    char longest[66];
    memset(longest, '1', 65);
    longest[65] = '\0';
    assert_int_equal(guidance_serial_check(guidance, longest, &serial), CFOIL_E_ARGUMENT_TEXT);
    /* A collector's published example of the Europa series (collector forum 2013-14). */
    assert_int_equal(guidance_serial_check(guidance, "va 0436214792", &serial), CFOIL_OK);
    assert_string_equal(serial.normalised, "VA0436214792");
    assert_int_equal(serial.checksum, CFOIL_CHECKSUM_FITS);
    assert_string_equal(guidance_serial(guidance), "");
    assert_int_equal(guidance_serial_set(guidance, &serial, false, &case_error), CFOIL_OK);
    assert_string_equal(guidance_serial(guidance), "VA0436214792");
    assert_int_equal(case_step(guidance).kind, CFOIL_STEP_CHECK);
    assert_int_equal(guidance_serial_set(guidance, &serial, true, &case_error), CFOIL_OK);
    case_advises(guidance, CFOIL_ADVICE_SET_ASIDE);
    assert_int_equal(guidance_serial_set(guidance, &serial, false, &case_error), CFOIL_OK);
    assert_int_equal(case_step(guidance).kind, CFOIL_STEP_CHECK);
    case_close(guidance);
}

/* ---- Memory ---- */

/* One life of a case with most of what it can hold; gives the first failure back. */
static int32_t case_life(void)
{
    cfoil_case_options options = case_options(5000);
    struct guidance *guidance = NULL;
    cfoil_step step = CFOIL_STEP_INIT;
    cfoil_error_info error;
    int32_t result = guidance_open(&failing_memory, case_packs, &options, CASE_ID, &guidance, &error);
    for (int i = 0; result == CFOIL_OK && i < 5; i++) {
        cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
        event.finding_count = 1;
        event.findings[0].channel = i;
        result = guidance_presentation_add(guidance, &event, &error);
    }
    while (result == CFOIL_OK && step.kind != CFOIL_STEP_ADVICE) {
        cfoil_step before = step;
        result = guidance_step(guidance, &step, &error);
        if (result != CFOIL_OK)
            assert_memory_equal(&step, &before, sizeof step);
        if (result == CFOIL_OK && step.kind == CFOIL_STEP_CHECK)
            result = guidance_answer(guidance, step.check, GOOD, &error);
    }
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_TAKEN;
    end.override_by = "supervisor 4";
    end.override_why = "known customer";
    cJSON *object = result == CFOIL_OK ? guidance_json(guidance, &end, 0) : NULL;
    if (result == CFOIL_OK && object == NULL)
        result = CFOIL_E_MEMORY;
    cJSON_Delete(object);
    guidance_close(guidance);
    return result;
}

static void every_failing_allocation_is_survived(void **state)
{
    (void)state;
    failing_json();
    int32_t result = CFOIL_E_MEMORY;
    long tries = 0;
    for (; result == CFOIL_E_MEMORY; tries++) {
        failing_after(tries);
        result = case_life();
        failing_stop();
        assert_int_equal(failing_blocks, 0);
    }
    cJSON_InitHooks(NULL);
    assert_int_equal(result, CFOIL_OK);
    assert_true(tries > 100);
}

/* A step that failed for want of memory can be asked for again. */
static void a_step_can_be_asked_for_again(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    cfoil_step step = CFOIL_STEP_INIT;
    failing_after(0);
    assert_int_equal(guidance_step(guidance, &step, &case_error), CFOIL_E_MEMORY);
    failing_stop();
    assert_int_equal(step.kind, 0);
    assert_int_equal(case_step(guidance).kind, CFOIL_STEP_CHECK);
    case_close(guidance);
}

/* Badly fed three times and then in order by hand: worn, not in doubt. What the machine doubted is not called worn. */
static void a_note_that_feeds_badly_is_for_the_bank(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    for (int i = 0; i < 3; i++)
        case_refuse(guidance, CFOIL_REASON_HANDLING);
    cfoil_step step = case_answer_all(guidance, GOOD);
    assert_int_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_non_null(strstr(step.instruction, "keep it apart for the bank"));
    assert_non_null(strstr(step.instruction, "Dirty from use and whole: full value."));
    case_close(guidance);
    guidance = case_plain();
    case_refuse(guidance, CFOIL_REASON_AUTHENTICITY);
    step = case_answer_all(guidance, GOOD);
    assert_int_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_null(strstr(step.instruction, "for the bank"));
    case_close(guidance);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_of_options_are_checked),
        cmocka_unit_test(a_note_that_feeds_badly_is_for_the_bank),
        cmocka_unit_test(numbers_of_options_are_checked),
        cmocka_unit_test(what_the_options_name_must_be_in_the_packs),
        cmocka_unit_test(unset_texts_mean_the_default),
        cmocka_unit_test(presentations_are_checked),
        cmocka_unit_test(a_note_of_another_value_does_not_clear_the_case),
        cmocka_unit_test(many_presentations_are_kept),
        cmocka_unit_test(texts_without_an_end_are_ended),
        cmocka_unit_test(answers_are_checked),
        cmocka_unit_test(an_answer_can_be_corrected),
        cmocka_unit_test(an_ended_case_takes_nothing_more),
        cmocka_unit_test(serial_numbers_are_checked_and_kept),
        cmocka_unit_test(every_failing_allocation_is_survived),
        cmocka_unit_test(a_step_can_be_asked_for_again),
    };
    return cmocka_run_group_tests(tests, case_packs_load, case_packs_release);
}
