/*
 * How a case may end: what each advice offers, overrides, envelopes, refused notes; and the case as JSON.
 */
#include "unit/guidance/case.h"

#include "model/json.h"

/* Which of the four dispositions may end the case now, as a bit mask. */
static uint32_t may_end(struct guidance *guidance)
{
    uint32_t mask = 0;
    for (int32_t disposition = CFOIL_DISPOSITION_TAKEN; disposition <= CFOIL_DISPOSITION_ABANDONED; disposition++) {
        int32_t result = case_may_end(guidance, disposition);
        if (result == CFOIL_OK)
            mask |= BIT(disposition);
        else if (disposition == CFOIL_DISPOSITION_TAKEN)
            assert_true(result == CFOIL_E_RULE_ADVICE || result == CFOIL_E_RULE_REFUSED);
        else
            assert_int_equal(result, CFOIL_E_RULE_DISPOSITION);
    }
    return mask;
}

static void what_is_offered_is_what_is_allowed(void **state)
{
    (void)state;
    const uint32_t always = BIT(CFOIL_DISPOSITION_NOT_TAKEN) | BIT(CFOIL_DISPOSITION_ABANDONED);
    const struct pack_jurisdiction *common = pack_jurisdiction_find(case_packs, NULL);
    const uint32_t set_aside = common->dispositions & BIT(CFOIL_DISPOSITION_SET_ASIDE);
    const uint32_t refusals = common->dispositions & ~BIT(CFOIL_DISPOSITION_TAKEN);
    struct guidance *guidance = case_plain();
    assert_int_equal(may_end(guidance), always); /* a check is open */
    assert_int_equal(case_step(guidance).dispositions, always);
    assert_int_equal(case_answer_all(guidance, GOOD).dispositions, always | BIT(CFOIL_DISPOSITION_TAKEN));
    assert_int_equal(may_end(guidance), always | BIT(CFOIL_DISPOSITION_TAKEN));
    case_close(guidance);

    guidance = case_plain();
    assert_int_equal(case_answer_all(guidance, UNTOLD).advice, CFOIL_ADVICE_ASK_ANOTHER);
    assert_int_equal(may_end(guidance), always | set_aside);
    assert_int_equal(case_step(guidance).dispositions, always | set_aside);
    case_close(guidance);

    guidance = case_plain();
    assert_int_equal(case_answer_all(guidance, BAD).advice, CFOIL_ADVICE_SET_ASIDE);
    assert_int_equal(may_end(guidance), refusals);
    assert_int_equal(case_step(guidance).dispositions, refusals);
    assert_int_not_equal(refusals, 0);
    case_close(guidance);

    static const int32_t reasons[] = {CFOIL_REASON_HANDLING, CFOIL_REASON_DEVICE, CFOIL_REASON_NOT_ENABLED};
    for (size_t i = 0; i < 3; i++) {
        guidance = case_plain();
        case_refuse(guidance, reasons[i]);
        assert_int_equal(may_end(guidance), always);
        case_close(guidance);
    }
}

static void dispositions_outside_the_range_are_refused(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    static const int32_t bad[] = {-1, CFOIL_DISPOSITION_NONE, CFOIL_DISPOSITION_ABANDONED + 1, INT32_MAX};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(case_may_end(guidance, bad[i]), CFOIL_E_ARGUMENT_RANGE);
    case_close(guidance);
}

static void taking_against_the_advice_needs_a_name_and_a_reason(void **state)
{
    (void)state;
    char by[34];
    char why[202];
    memset(by, 'b', sizeof by);
    memset(why, 'w', sizeof why);
    by[33] = why[201] = '\0';
    struct guidance *guidance = case_plain(); /* a check is open */
    assert_int_equal(case_may_override(guidance, NULL, NULL), CFOIL_E_RULE_ADVICE);
    assert_int_equal(case_may_override(guidance, "", ""), CFOIL_E_RULE_ADVICE);
    assert_int_equal(case_may_override(guidance, "supervisor 4", NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(case_may_override(guidance, "supervisor 4", ""), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(case_may_override(guidance, NULL, "known customer"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(case_may_override(guidance, "supervisor 4", "known customer"), CFOIL_OK);
    assert_int_equal(case_may_override(guidance, by, "known customer"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(case_may_override(guidance, by + 1, why), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(case_may_override(guidance, by + 1, why + 1), CFOIL_OK);
    assert_int_equal(case_may_override(guidance, "a\nb", "c"), CFOIL_E_ARGUMENT_TEXT);
    /* Also when the advice is not to take it, and when it is to take it. */
    assert_int_equal(case_answer_all(guidance, BAD).advice, CFOIL_ADVICE_SET_ASIDE);
    assert_int_equal(case_may_override(guidance, "supervisor 4", "known customer"), CFOIL_OK);
    case_close(guidance);
    guidance = case_plain();
    case_answer_all(guidance, GOOD);
    assert_int_equal(case_may_override(guidance, "supervisor 4", "known customer"), CFOIL_OK);
    /* With nothing but TAKEN. */
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    options.override_by = "supervisor 4";
    options.override_why = "known customer";
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_E_ARGUMENT_TEXT);
    case_close(guidance);
}

static void a_serial_number_refused_before_cannot_be_overridden(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    case_answer_all(guidance, GOOD);
    assert_int_equal(case_may_end(guidance, CFOIL_DISPOSITION_TAKEN), CFOIL_OK);
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(guidance_serial_check(guidance, "VA0436214792", &serial), CFOIL_OK);
    assert_int_equal(guidance_serial_set(guidance, &serial, true, &case_error), CFOIL_OK);
    assert_int_equal(case_may_end(guidance, CFOIL_DISPOSITION_TAKEN), CFOIL_E_RULE_REFUSED);
    assert_int_equal(case_may_override(guidance, "supervisor 4", "known customer"), CFOIL_E_RULE_REFUSED);
    case_close(guidance);
}

static void a_refused_note_cannot_become_taken(void **state)
{
    (void)state;
    for (int32_t first = CFOIL_DISPOSITION_TAKEN; first <= CFOIL_DISPOSITION_ABANDONED; first++) {
        struct guidance *guidance = case_plain();
        case_answer_all(guidance, first == CFOIL_DISPOSITION_TAKEN ? GOOD : UNTOLD);
        if (case_may_end(guidance, first) != CFOIL_OK) { /* the common ground may not offer to keep a note */
            assert_int_equal(first, CFOIL_DISPOSITION_SET_ASIDE);
            case_close(guidance);
            continue;
        }
        case_end(guidance, first);
        bool refused = first == CFOIL_DISPOSITION_NOT_TAKEN || first == CFOIL_DISPOSITION_SET_ASIDE;
        int32_t expected = refused ? CFOIL_E_RULE_REFUSED : CFOIL_E_STATE_CASE_ENDED;
        assert_int_equal(case_may_end(guidance, CFOIL_DISPOSITION_TAKEN), expected);
        assert_int_equal(case_may_override(guidance, "supervisor 4", "known customer"), expected);
        for (int32_t next = CFOIL_DISPOSITION_NOT_TAKEN; next <= CFOIL_DISPOSITION_ABANDONED; next++)
            assert_int_equal(case_may_end(guidance, next), CFOIL_E_STATE_CASE_ENDED);
        assert_int_equal(guidance_disposition(guidance), first);
        case_close(guidance);
    }
}

/* The id of some jurisdiction that lets a shop keep a note; NULL = the packs have none. */
static const char *keeping_jurisdiction(void)
{
    static const char *const ids[] = {"DE", "IE", "IT", "common"};
    for (size_t i = 0; i < sizeof ids / sizeof ids[0]; i++) {
        const struct pack_jurisdiction *rules = pack_jurisdiction_find(case_packs, ids[i]);
        if (rules != NULL && (rules->dispositions & BIT(CFOIL_DISPOSITION_SET_ASIDE)) != 0)
            return ids[i];
    }
    return NULL;
}

static void an_envelope_goes_with_set_aside_only(void **state)
{
    (void)state;
    cfoil_case_options open = case_options(5000);
    open.jurisdiction = keeping_jurisdiction();
    assert_non_null(open.jurisdiction);
    struct guidance *guidance = case_open(&open);
    case_answer_all(guidance, BAD);
    char envelope[34];
    memset(envelope, 'e', sizeof envelope);
    envelope[33] = '\0';
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_SET_ASIDE;
    options.envelope = envelope + 1;
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_OK);
    options.envelope = envelope;
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_E_ARGUMENT_TEXT);
    options.envelope = "E 12";
    options.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_E_ARGUMENT_TEXT);
    options.envelope = "";
    options.disposition = CFOIL_DISPOSITION_SET_ASIDE;
    assert_int_equal(guidance_disposition_check(guidance, &options, &case_error), CFOIL_OK);
    case_close(guidance);
}

/* ---- JSON ---- */

static const char *word_at(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    assert_non_null(item);
    return cJSON_IsNull(item) ? NULL : item->valuestring;
}

static void text_is(const cJSON *object, const char *key, const char *expected)
{
    const char *text = word_at(object, key);
    if (expected == NULL)
        assert_null(text);
    else
        assert_string_equal(text, expected);
}

static int count_at(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    assert_true(cJSON_IsArray(item));
    return cJSON_GetArraySize(item);
}

static void a_new_case_is_written_with_nulls(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    cJSON *object = guidance_json(guidance, NULL, 0);
    static const char *const keys[] = {"schema",         "case",         "currency", "value_minor", "series",
                                       "lane",           "jurisdiction", "working",  "sale",        "staff",
                                       "presentations",  "combined",     "answers",  "advice",      "disposition",
                                       "checks_asked",   "override",     "envelope", "serial",      "checksum",
                                       "refused_before", "time"};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        assert_non_null(cJSON_GetObjectItemCaseSensitive(object, keys[i]));
    assert_int_equal(cJSON_GetArraySize(object), sizeof keys / sizeof keys[0]);
    text_is(object, "schema", "counterfoil.case/1");
    text_is(object, "case", CASE_ID);
    text_is(object, "currency", "EUR");
    text_is(object, "value_minor", "5000"); /* a raw number keeps its digits as text */
    text_is(object, "advice", NULL);
    text_is(object, "disposition", NULL);
    text_is(object, "override", NULL);
    text_is(object, "envelope", NULL);
    text_is(object, "serial", NULL);
    text_is(object, "checksum", "none");
    text_is(object, "time", "1970-01-01T00:00:00.000Z");
    assert_int_equal(count_at(object, "presentations"), 0);
    assert_int_equal(count_at(object, "answers"), 0);
    assert_int_equal(count_at(object, "checks_asked"), 1);
    const cJSON *combined = cJSON_GetObjectItemCaseSensitive(object, "combined");
    text_is(combined, "combination", "none");
    text_is(combined, "reason", NULL);
    cJSON_Delete(object);
    case_close(guidance);
}

static void a_full_case_is_written_with_everything(void **state)
{
    (void)state;
    cfoil_case_options open = case_options(5000);
    open.lane = "lane 3";
    open.sale = "S-17";
    open.staff = "4711";
    struct guidance *guidance = case_open(&open);
    case_refuse_on(guidance, CFOIL_CHANNEL_INFRARED);
    case_refuse(guidance, CFOIL_REASON_NOT_RECOGNISED);
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    guidance_serial_check(guidance, "VA0436214792", &serial);
    guidance_serial_set(guidance, &serial, false, &case_error);
    case_answer(guidance, GOOD);
    case_answer(guidance, GOOD);
    case_answer(guidance, UNTOLD);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_TAKEN;
    end.override_by = "supervisor 4";
    end.override_why = "known customer";
    cJSON *object = guidance_json(guidance, &end, INT64_C(951782400000));
    text_is(object, "lane", "lane 3");
    text_is(object, "sale", "S-17");
    text_is(object, "staff", "4711");
    text_is(object, "disposition", "taken");
    text_is(object, "serial", "VA0436214792");
    text_is(object, "checksum", "fits");
    text_is(object, "time", "2000-02-29T00:00:00.000Z");
    text_is(cJSON_GetObjectItemCaseSensitive(object, "override"), "by", "supervisor 4");
    text_is(cJSON_GetObjectItemCaseSensitive(object, "override"), "why", "known customer");
    assert_int_equal(count_at(object, "answers"), 3);
    assert_int_equal(count_at(object, "checks_asked"), 4);
    const cJSON *answer = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(object, "answers"), 2);
    text_is(answer, "answer", "cannot_tell");
    assert_non_null(word_at(answer, "check"));
    assert_non_null(word_at(answer, "sense"));
    assert_non_null(word_at(answer, "group"));
    const cJSON *combined = cJSON_GetObjectItemCaseSensitive(object, "combined");
    text_is(combined, "combination", "differing");
    text_is(combined, "refusals", "2");
    text_is(combined, "reason", "authenticity");
    assert_int_equal(count_at(combined, "channels"), 1);
    const cJSON *second = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(object, "presentations"), 1);
    text_is(second, "kind", "rejected");
    const cJSON *standards = cJSON_GetObjectItemCaseSensitive(second, "standards");
    text_is(standards, "xfs4iot_refuse_reason", "invalidBill");
    text_is(standards, "ecb_category", "1");
    cJSON_Delete(object);
    /* Writing what would be changes nothing. */
    assert_int_equal(guidance_disposition(guidance), CFOIL_DISPOSITION_NONE);
    object = guidance_json(guidance, NULL, 0);
    text_is(object, "disposition", NULL);
    text_is(object, "override", NULL);
    cJSON_Delete(object);
    /* Ending the case keeps who overrode the advice and why. */
    guidance_end(guidance, &end);
    object = guidance_json(guidance, NULL, 0);
    text_is(object, "disposition", "taken");
    text_is(cJSON_GetObjectItemCaseSensitive(object, "override"), "by", "supervisor 4");
    cJSON_Delete(object);
    case_close(guidance);
}

static void the_present_advice_and_envelope_are_written(void **state)
{
    (void)state;
    cfoil_case_options open = case_options(5000);
    open.jurisdiction = keeping_jurisdiction();
    struct guidance *guidance = case_open(&open);
    case_answer_all(guidance, BAD);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_SET_ASIDE;
    end.envelope = "E 12";
    cJSON *object = guidance_json(guidance, &end, 0);
    text_is(object, "advice", "set_aside");
    text_is(object, "envelope", "E 12");
    assert_int_equal(count_at(object, "answers"), count_at(object, "checks_asked"));
    cJSON_Delete(object);
    case_close(guidance);
}

/* The same case gives the same canonical text, byte for byte. */
static void the_canonical_text_is_stable(void **state)
{
    (void)state;
    char *texts[2];
    for (int i = 0; i < 2; i++) {
        struct guidance *guidance = case_plain();
        case_refuse_on(guidance, CFOIL_CHANNEL_THREAD);
        case_answer(guidance, BAD);
        cJSON *object = guidance_json(guidance, NULL, 5);
        texts[i] = json_canonical(object);
        cJSON_Delete(object);
        case_close(guidance);
    }
    assert_string_equal(texts[0], texts[1]);
    cJSON_free(texts[0]);
    cJSON_free(texts[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_offered_is_what_is_allowed),
        cmocka_unit_test(dispositions_outside_the_range_are_refused),
        cmocka_unit_test(taking_against_the_advice_needs_a_name_and_a_reason),
        cmocka_unit_test(a_serial_number_refused_before_cannot_be_overridden),
        cmocka_unit_test(a_refused_note_cannot_become_taken),
        cmocka_unit_test(an_envelope_goes_with_set_aside_only),
        cmocka_unit_test(a_new_case_is_written_with_nulls),
        cmocka_unit_test(a_full_case_is_written_with_everything),
        cmocka_unit_test(the_present_advice_and_envelope_are_written),
        cmocka_unit_test(the_canonical_text_is_stable),
    };
    return cmocka_run_group_tests(tests, case_packs_load, case_packs_release);
}
