/*
 * Every note of the real packs: every sequence of answers keeps the rules, by the plan alone and through a case; and
 * every word that such a step can show is free of accusation.
 */
#include "unit/guidance/case.h"
#include "unit/guidance/walk.h"

#include <ctype.h>

static cJSON *catalogue;

static int catalogue_load(void **state)
{
    if (case_packs_load(state) != 0)
        return -1;
    catalogue = cJSON_CreateObject();
    return pack_set_describe(case_packs, catalogue) ? 0 : -1;
}

static int catalogue_release(void **state)
{
    cJSON_Delete(catalogue);
    return case_packs_release(state);
}

/* Calls `visit` for every note of every currency; returns how many there are. */
static int notes_visit(void (*visit)(const char *currency, const struct pack_note *note))
{
    int count = 0;
    const cJSON *currency;
    cJSON_ArrayForEach(currency, cJSON_GetObjectItemCaseSensitive(catalogue, "currencies"))
    {
        const char *code = cJSON_GetObjectItemCaseSensitive(currency, "currency")->valuestring;
        const cJSON *row;
        cJSON_ArrayForEach(row, cJSON_GetObjectItemCaseSensitive(currency, "denominations"))
        {
            const char *value = cJSON_GetObjectItemCaseSensitive(row, "value_minor")->valuestring;
            const char *series = cJSON_GetObjectItemCaseSensitive(row, "series")->valuestring;
            const struct pack_note *note = pack_note_find(pack_currency_find(case_packs, code),
                                                          strtoll(value, NULL, 10), series);
            assert_non_null(note);
            visit(code, note);
            count++;
        }
    }
    return count;
}

/* Can TAKE be reached by hand at all? Some notes of small value have too little on them. */
static bool checkable_by_hand(const struct pack_note *note)
{
    uint32_t senses = 0;
    uint32_t groups = 0;
    for (uint32_t i = 0; i < note->check_count; i++) {
        const struct pack_check *check = &note->checks[i];
        if (check->tool != 0 || check->ends)
            continue;
        bool first = true;
        for (uint32_t j = 0; j < i; j++) {
            const struct pack_check *other = &note->checks[j];
            first = first && (other->tool != 0 || other->ends || strcmp(other->group, check->group) != 0);
        }
        senses |= BIT(check->sense);
        groups += first ? 1 : 0;
    }
    uint32_t of_note = walk_senses_of_note(note);
    return (senses & of_note) == of_note && (of_note == WALK_SENSES || groups >= 3);
}

static void euro_note_by_hand(const char *currency, const struct pack_note *note)
{
    assert_true(note->check_count <= WALK_CHECKS_MAX);
    if (strcmp(currency, "EUR") != 0)
        return;
    assert_true(checkable_by_hand(note));
    assert_int_equal(walk_senses_of_note(note), WALK_SENSES);
}

static void every_euro_note_can_be_felt_looked_at_and_tilted(void **state)
{
    (void)state;
    assert_true(notes_visit(euro_note_by_hand) >= 6);
}

/* Each channel alone, all of them together, and none; with every tool and with none; the least and the usual limit. */
static void plan_of_note(const char *currency, const struct pack_note *note)
{
    (void)currency;
    static const uint32_t tools[] = {0, 15};
    static const uint32_t limits[] = {3, 6};
    for (int32_t channel = CFOIL_CHANNEL_UNKNOWN; channel <= CFOIL_CHANNEL_TRANSPORT + 1; channel++) {
        uint32_t channels = channel <= CFOIL_CHANNEL_TRANSPORT ? BIT(channel) : BIT(CFOIL_CHANNEL_TRANSPORT + 1) - 1;
        for (int i = 0; i < 4; i++) {
            struct walk walk = {.note = note, .tools = tools[i & 1], .limit = limits[i >> 1]};
            walk.combined = (struct combined){.combination = COMBINATION_SINGLE,
                                              .refusals = 1,
                                              .reason = CFOIL_REASON_AUTHENTICITY,
                                              .channels = channels};
            if (walk_senses_of_note(note) != WALK_SENSES) { /* not taken after such a doubt, whatever is answered */
                walk_all(&walk);
                assert_int_equal(walk.endings[CFOIL_ADVICE_TAKE], 0);
                walk.combined.reason = CFOIL_REASON_NOT_RECOGNISED;
            }
            walk_all(&walk);
            assert_true(walk.endings[CFOIL_ADVICE_TAKE] > 0 || !checkable_by_hand(note));
            assert_true(walk.endings[CFOIL_ADVICE_SET_ASIDE] > 0 || !checkable_by_hand(note));
        }
    }
}

static void every_sequence_keeps_the_rules_by_the_plan(void **state)
{
    (void)state;
    notes_visit(plan_of_note);
}

/* The digits of `sequence` to the base 3 are the answers. Each step asks something new, and the end is sound. */
static void sequence_run(struct guidance *guidance, int sequence, uint32_t of_note)
{
    uint32_t good = 0;
    bool differs = false;
    char asked[7][64];
    int count = 0;
    cfoil_step step = case_step(guidance);
    for (; step.kind == CFOIL_STEP_CHECK; step = case_step(guidance)) {
        assert_true(count < 6);
        assert_int_equal(step.number, count + 1);
        assert_int_equal(step.number_max, 6);
        snprintf(asked[count], sizeof asked[count], "%s", step.check);
        for (int i = 0; i < count; i++)
            assert_string_not_equal(asked[i], asked[count]);
        int32_t answer = sequence % 3 + 1;
        sequence /= 3;
        if (answer == GOOD)
            good |= BIT(step.sense);
        differs = differs || answer == BAD;
        assert_int_equal(guidance_answer(guidance, asked[count], answer, &case_error), CFOIL_OK);
        count++;
    }
    if (step.advice == CFOIL_ADVICE_TAKE) {
        assert_int_equal(good & WALK_SENSES, of_note);
        assert_false(differs);
        assert_int_equal(case_may_end(guidance, CFOIL_DISPOSITION_TAKEN), CFOIL_OK);
    } else {
        assert_int_equal(case_may_end(guidance, CFOIL_DISPOSITION_TAKEN), CFOIL_E_RULE_ADVICE);
    }
}

static void cases_of_note(const char *currency, const struct pack_note *note)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = currency;
    options.value_minor = note->value_minor;
    options.series = note->series;
    /* 3 answers to at most 6 checks */
    for (int sequence = 0; sequence < 729; sequence++) {
        struct guidance *guidance = case_open(&options);
        if (sequence % 2 == 1)
            case_refuse(guidance, CFOIL_REASON_AUTHENTICITY);
        sequence_run(guidance, sequence, walk_senses_of_note(note));
        case_close(guidance);
    }
}

static void every_sequence_keeps_the_rules_through_a_case(void **state)
{
    (void)state;
    notes_visit(cases_of_note);
}

/* ---- Words ---- */

static bool contains(const char *text, const char *word)
{
    size_t length = strlen(word);
    for (; *text != '\0'; text++) {
        size_t i = 0;
        while (i < length && tolower((unsigned char)text[i]) == word[i])
            i++;
        if (i == length)
            return true;
    }
    return false;
}

static void text_without(const char *text, const char *const *words, size_t count)
{
    assert_non_null(text);
    for (size_t i = 0; i < count; i++) {
        if (contains(text, words[i]))
            fail_msg("\"%s\" says \"%s\"", text, words[i]);
    }
}

/* What a customer may hear or read over the counter. */
static void text_accuses_nobody(const char *text)
{
    static const char *const words[] = {"counterfeit", "fake",   "forg",   "false",  "fraud",  "crim",    "thief",
                                        "steal",       "stole",  "accus",  "liar",   "cheat",  "illegal", "suspect",
                                        "police",      "tamper", "arrest", "detain", "launder"};
    text_without(text, words, sizeof words / sizeof words[0]);
}

/* What only the cashier reads: no verdict on the note. */
static void text_gives_no_verdict(const char *text)
{
    static const char *const words[] = {"counterfeit", "fake", "forged", "forgery", "bogus", "phoney"};
    text_without(text, words, sizeof words / sizeof words[0]);
}

static void words_of_checks(const char *currency, const struct pack_note *note)
{
    (void)currency;
    for (uint32_t i = 0; i < note->check_count; i++) {
        const struct pack_check *check = &note->checks[i];
        assert_true(check->title[0] != '\0' && check->instruction[0] != '\0' && check->genuine[0] != '\0');
        assert_true(check->tell[0] != '\0' && check->source[0] != '\0');
        text_accuses_nobody(check->title);
        text_accuses_nobody(check->feature);
        text_gives_no_verdict(check->instruction);
        text_gives_no_verdict(check->genuine);
        text_gives_no_verdict(check->tell);
        text_gives_no_verdict(check->hint);
    }
}

static void no_check_accuses_anybody(void **state)
{
    (void)state;
    notes_visit(words_of_checks);
}

/* A key of the catalogue that is missing shows as the key itself: a dot with a letter on both sides. */
static void text_holds_no_key(const char *text)
{
    for (size_t i = 1; text[0] != '\0' && text[i] != '\0'; i++) {
        if (text[i] == '.' && isalpha((unsigned char)text[i - 1]) && isalpha((unsigned char)text[i + 1]))
            fail_msg("the catalogue lacks a key of \"%s\"", text);
    }
}

static void step_is_well_said(const cfoil_step *step)
{
    const char *const texts[] = {step->title,   step->instruction, step->expected, step->doubtful, step->hint,
                                 step->reasons, step->caution,     step->source,   step->say};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        assert_non_null(texts[i]);
        text_holds_no_key(texts[i]);
        assert_null(strstr(texts[i], "  "));
    }
    assert_true(step->title[0] != '\0' && step->instruction[0] != '\0');
    assert_true(step->caution[0] != '\0' && step->source[0] != '\0');
    text_accuses_nobody(step->title);
    text_accuses_nobody(step->say);
    text_gives_no_verdict(step->reasons);
    text_gives_no_verdict(step->hint);
    if (step->kind == CFOIL_STEP_ADVICE)
        assert_true(step->reasons[0] != '\0' && step->say[0] != '\0' && step->check[0] == '\0');
    else
        assert_true(step->expected[0] != '\0' && step->doubtful[0] != '\0' && step->check[0] != '\0');
}

/* The ways to each cause of an advice. */
enum way {
    WAY_HANDLING_ONCE,
    WAY_HANDLING_TWICE,
    WAY_HANDLING_THRICE,
    WAY_DEVICE,
    WAY_NOT_ENABLED,
    WAY_TAMPERING,
    WAY_ACCEPTED,
    WAY_DIFFERING,
    WAY_SAME,
    WAY_SERIAL,
    WAY_ONE_BAD,
    WAY_ALL_GOOD,
    WAY_ALL_BAD,
    WAY_ALL_UNTOLD,
    WAY_COUNT
};

static void way_go_machine(struct guidance *guidance, enum way way)
{
    static const int32_t reasons[WAY_COUNT] = {
        [WAY_HANDLING_ONCE] = CFOIL_REASON_HANDLING,   [WAY_HANDLING_TWICE] = CFOIL_REASON_HANDLING,
        [WAY_HANDLING_THRICE] = CFOIL_REASON_HANDLING, [WAY_DEVICE] = CFOIL_REASON_DEVICE,
        [WAY_NOT_ENABLED] = CFOIL_REASON_NOT_ENABLED,  [WAY_TAMPERING] = CFOIL_REASON_TAMPERING,
        [WAY_ACCEPTED] = CFOIL_REASON_AUTHENTICITY,    [WAY_SAME] = CFOIL_REASON_NOT_RECOGNISED,
        [WAY_DIFFERING] = CFOIL_REASON_NOT_RECOGNISED,
    };
    static const int repeats[WAY_COUNT] = {[WAY_HANDLING_ONCE] = 1, [WAY_HANDLING_TWICE] = 2, [WAY_HANDLING_THRICE] = 3,
                                           [WAY_DEVICE] = 1,        [WAY_NOT_ENABLED] = 1,    [WAY_TAMPERING] = 1,
                                           [WAY_ACCEPTED] = 1,      [WAY_SAME] = 2,           [WAY_DIFFERING] = 1};
    for (int i = 0; i < repeats[way]; i++)
        case_refuse(guidance, reasons[way]);
    if (way == WAY_ACCEPTED)
        case_event_add(guidance, CFOIL_KIND_HELD, CFOIL_REASON_NONE);
    if (way == WAY_DIFFERING) {
        case_refuse_on(guidance, CFOIL_CHANNEL_INFRARED);
        case_refuse_on(guidance, CFOIL_CHANNEL_MAGNETIC);
    }
    if (way == WAY_SERIAL) {
        cfoil_serial serial = CFOIL_SERIAL_INIT;
        assert_int_equal(guidance_serial_set(guidance, &serial, true, &case_error), CFOIL_OK);
    }
}

static int32_t way_go(struct guidance *guidance, enum way way)
{
    way_go_machine(guidance, way);
    for (int i = 0; i < 8; i++) {
        cfoil_step step = case_step(guidance);
        step_is_well_said(&step);
        if (step.kind == CFOIL_STEP_ADVICE)
            return step.advice;
        int32_t answer = way == WAY_ALL_BAD ? BAD : way == WAY_ALL_UNTOLD ? UNTOLD : GOOD;
        if (way == WAY_ONE_BAD && i == 1) /* the first asks for words such as COPY, which end a case by themselves */
            answer = BAD;
        assert_int_equal(guidance_answer(guidance, step.check, answer, &case_error), CFOIL_OK);
    }
    return CFOIL_ADVICE_NONE;
}

static void every_advice_is_well_said_everywhere(void **state)
{
    (void)state;
    static const int32_t advices[WAY_COUNT] = {
        [WAY_HANDLING_ONCE] = CFOIL_ADVICE_FEED_AGAIN,
        [WAY_HANDLING_TWICE] = CFOIL_ADVICE_FEED_AGAIN,
        [WAY_HANDLING_THRICE] = CFOIL_ADVICE_TAKE,
        [WAY_DEVICE] = CFOIL_ADVICE_CHECK_MACHINE,
        [WAY_NOT_ENABLED] = CFOIL_ADVICE_CHECK_MACHINE,
        [WAY_TAMPERING] = CFOIL_ADVICE_ASK_ANOTHER,
        [WAY_ACCEPTED] = CFOIL_ADVICE_TAKE,
        [WAY_DIFFERING] = CFOIL_ADVICE_TAKE,
        [WAY_SAME] = CFOIL_ADVICE_TAKE,
        [WAY_SERIAL] = CFOIL_ADVICE_SET_ASIDE,
        [WAY_ONE_BAD] = CFOIL_ADVICE_ASK_ANOTHER,
        [WAY_ALL_GOOD] = CFOIL_ADVICE_TAKE,
        [WAY_ALL_BAD] = CFOIL_ADVICE_SET_ASIDE,
        [WAY_ALL_UNTOLD] = CFOIL_ADVICE_ASK_ANOTHER,
    };
    const cJSON *rules;
    int count = 0;
    cJSON_ArrayForEach(rules, cJSON_GetObjectItemCaseSensitive(catalogue, "jurisdictions"))
    {
        for (int way = 0; way < WAY_COUNT; way++) {
            cfoil_case_options options = case_options(5000);
            options.jurisdiction = cJSON_GetObjectItemCaseSensitive(rules, "id")->valuestring;
            struct guidance *guidance = case_open(&options);
            assert_int_equal(way_go(guidance, (enum way)way), advices[way]);
            case_close(guidance);
        }
        count++;
    }
    assert_true(count >= 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_euro_note_can_be_felt_looked_at_and_tilted),
        cmocka_unit_test(every_sequence_keeps_the_rules_by_the_plan),
        cmocka_unit_test(every_sequence_keeps_the_rules_through_a_case),
        cmocka_unit_test(no_check_accuses_anybody),
        cmocka_unit_test(every_advice_is_well_said_everywhere),
    };
    return cmocka_run_group_tests(tests, catalogue_load, catalogue_release);
}
