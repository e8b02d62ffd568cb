/*
 * A case in words for an expert: live and from the ledger, every kind of machine's word, answer and end; the machine's own
 * record; the clock; and texts that are no case.
 */
#include "guidance/guidance.h"
#include "model/json.h"
#include "packs/pack.h"
#include "statistics/explain.h"
#include "test.h"

#include <cjson/cJSON.h>
#include <counterfoil/counterfoil.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { GOOD = CFOIL_ANSWER_AS_IT_SHOULD_BE, BAD = CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, UNTOLD = CFOIL_ANSWER_CANNOT_TELL };

static struct pack_set *packs;
static char text[32768];
static char json[65536];

static int packs_load(void **state)
{
    (void)state;
    return pack_set_create(&memory_heap, &packs, NULL) == CFOIL_OK ? 0 : -1;
}

static int packs_release(void **state)
{
    (void)state;
    pack_set_release(packs);
    return 0;
}

/* ---- Through guidance ---- */

static struct guidance *case_open(uint32_t tools)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.tools = tools;
    struct guidance *guidance;
    assert_int_equal(guidance_open(&memory_heap, packs, &options, "a-case", &guidance, NULL), CFOIL_OK);
    return guidance;
}

static void refuse(struct guidance *guidance, int32_t kind, int32_t reason, int32_t channel)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = kind;
    event.reason = reason;
    event.finding_count = channel > 0 ? 1 : 0;
    event.findings[0] = (cfoil_finding){channel, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0};
    assert_int_equal(guidance_presentation_add(guidance, &event, NULL), CFOIL_OK);
}

static int32_t step_kind(struct guidance *guidance, int32_t answer)
{
    cfoil_step step = CFOIL_STEP_INIT;
    assert_int_equal(guidance_step(guidance, &step, NULL), CFOIL_OK);
    if (step.kind == CFOIL_STEP_CHECK && answer != 0)
        assert_int_equal(guidance_answer(guidance, step.check, answer, NULL), CFOIL_OK);
    return step.kind;
}

/* One line, so that words can be looked for across line ends. */
static void explain(const char *source)
{
    char *made;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(explain_text(&memory_heap, source, &made, &error), CFOIL_OK);
    size_t at = 0;
    for (const char *from = made; *from != '\0'; from++) {
        bool blank = *from == ' ' || *from == '\n';
        if (!blank || (at > 0 && text[at - 1] != ' '))
            text[at++] = blank ? ' ' : *from;
    }
    text[at] = '\0';
    cJSON_free(made);
}

static void explain_case(struct guidance *guidance)
{
    cJSON *object = guidance_json(guidance, NULL, 0);
    char *line = json_line(object);
    snprintf(json, sizeof json, "%s", line);
    cJSON_free(line);
    cJSON_Delete(object);
    explain(json);
}

static void says(const char *words)
{
    if (strstr(text, words) == NULL)
        fail_msg("\"%s\" is not in: %s", words, text);
}

static void a_refused_note_is_explained(void **state)
{
    (void)state;
    struct guidance *guidance = case_open(CFOIL_TOOL_UV_A);
    refuse(guidance, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_INFRARED);
    explain_case(guidance);
    says("18 were withdrawn as not genuine in 2024");
    says("1 in 560,000 (from 1 in 5,600,000 to 1 in 5,600)");
    says("at most 29 times as likely (20 to 50)");
    says("for want of a long enough record (0 notes so far)");
    says("None was answered.");
    says("it speaks to what the machine doubted");
    says("Were each look independent");
    says("A refusal is no proof");
    while (step_kind(guidance, GOOD) == CFOIL_STEP_CHECK)
        ;
    explain_case(guidance);
    says("that is reached: the same eyes can tell no more");
    says("The sum was cut");
    says("feel, look and tilt are as they should be");
    guidance_close(guidance);
}

static void every_kind_of_answer_is_explained(void **state)
{
    (void)state;
    struct guidance *guidance = case_open(CFOIL_TOOL_UV_A | CFOIL_TOOL_MAGNIFIER);
    refuse(guidance, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_ULTRAVIOLET);
    assert_int_equal(guidance_answer(guidance, "uv-print", BAD, NULL), CFOIL_OK);
    assert_int_equal(guidance_answer(guidance, "microprint", GOOD, NULL), CFOIL_OK);
    assert_int_equal(guidance_answer(guidance, "watermark", GOOD, NULL), CFOIL_OK);
    assert_int_equal(guidance_answer(guidance, "thread", GOOD, NULL), CFOIL_OK);
    assert_int_equal(guidance_answer(guidance, "hologram-stripe", UNTOLD, NULL), CFOIL_OK);
    explain_case(guidance);
    says("the machine sensed the same");
    says("no figure was published: it counts for the rules");
    says("watermark (watermark), as it should be: 0.32 times as likely (0.16 to 0.64), weighed as 'sight'.");
    says("another answer by the same sense speaks already");
    says("moves nothing, and is no pass");
    guidance_close(guidance);
}

static void every_word_of_the_machine_is_explained(void **state)
{
    (void)state;
    static const struct {
        int32_t reason;
        const char *says;
        const char *ends;
    } rows[] = {
        {CFOIL_REASON_HANDLING, "says nothing about the note.", "it was fed badly"},
        {CFOIL_REASON_NOT_ENABLED, "says nothing about the note.", "told not to take it"},
        {CFOIL_REASON_DEVICE, "says nothing about the note.", "the machine is in trouble"},
        {CFOIL_REASON_TAMPERING, "It reported interference.", "the machine reported interference"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct guidance *guidance = case_open(0);
        refuse(guidance, CFOIL_KIND_REJECTED, rows[i].reason, 0);
        explain_case(guidance);
        says(rows[i].says);
        says(rows[i].ends);
        guidance_close(guidance);
    }
    struct guidance *guidance = case_open(0);
    explain_case(guidance);
    says("It refused nothing");
    refuse(guidance, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, 0);
    refuse(guidance, CFOIL_KIND_HELD, CFOIL_REASON_NONE, 0);
    explain_case(guidance);
    says("It took the note in the end.");
    guidance_close(guidance);
}

static void the_machines_own_record_is_told(void **state)
{
    (void)state;
    struct guidance *guidance = case_open(0);
    guidance_record_set(guidance, 1000, 10);
    refuse(guidance, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, 0);
    explain_case(guidance);
    says("from its own record: 10 refusals of 1000 notes");
    guidance_close(guidance);
}

static void the_clock_ends_the_checks(void **state)
{
    (void)state;
    struct guidance *guidance = case_open(0);
    refuse(guidance, CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, 0);
    guidance_time_set(guidance, 5000);
    assert_int_equal(step_kind(guidance, 0), CFOIL_STEP_CHECK);
    guidance_time_set(guidance, 7500);
    assert_int_equal(step_kind(guidance, GOOD), CFOIL_STEP_CHECK);
    explain_case(guidance);
    assert_non_null(strstr(json, "\"answer_ms\":2500"));
    guidance_time_set(guidance, 95000);
    assert_int_equal(step_kind(guidance, 0), CFOIL_STEP_CHECK); /* 90 s exactly */
    guidance_time_set(guidance, 95001);
    assert_int_equal(step_kind(guidance, 0), CFOIL_STEP_ADVICE);
    explain_case(guidance);
    assert_non_null(strstr(json, "\"time_up\":true"));
    says("the time was up");
    guidance_close(guidance);
}

static void a_note_with_two_differences_is_explained(void **state)
{
    (void)state;
    struct guidance *guidance = case_open(0);
    assert_int_equal(guidance_answer(guidance, "watermark", BAD, NULL), CFOIL_OK);
    explain_case(guidance);
    says("it is independent of the one that differs");
    assert_int_equal(step_kind(guidance, BAD), CFOIL_STEP_CHECK);
    explain_case(guidance);
    says("two independent features differ");
    guidance_close(guidance);
}

/* ---- Strange records ---- */

static void what_is_no_case_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t result;
    } rows[] = {
        {"", CFOIL_E_DATA_SYNTAX},
        {"{", CFOIL_E_DATA_SYNTAX},
        {"[]", CFOIL_E_DATA_SCHEMA},
        {"{\"schema\":\"counterfoil.case/1\"}", CFOIL_E_DATA_SCHEMA},
        {"{\"schema\":\"counterfoil.event/1\",\"working\":{}}", CFOIL_E_DATA_SCHEMA},
    };
    char *made;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(explain_text(&memory_heap, rows[i].text, &made, NULL), rows[i].result);
    size_t length = 1048577;
    char *large = malloc(length + 1);
    memset(large, ' ', length);
    large[length] = '\0';
    assert_int_equal(explain_text(&memory_heap, large, &made, NULL), CFOIL_E_DATA_SIZE);
    free(large);
}

/* A record of a newer version, or one that other hands changed: it is said as far as it goes. */
static void a_strange_case_is_said_as_far_as_it_goes(void **state)
{
    (void)state;
    explain("{\"schema\":\"counterfoil.case/1\",\"working\":{\"prior\":null,\"answers\":[{\"weight\":\"new\"},"
            "{\"weight\":\"ends\"}],\"sum\":{\"centre\":2000},\"stop\":\"a\\u001b[1mb\",\"bounds\":{}}}");
    says("no published yearly rate");
    says("not known to this version");
    says("its absence proves nothing");
    says("7.4 times as likely");
    says("by rule: a?[1mb.");
    explain(
        "{\"schema\":\"counterfoil.case/1\",\"answers\":[{\"answer\":\"as_it_should_be\"}],\"working\":{\"answers\":"
        "[{\"weight\":\"counted\",\"at_least\":true}],\"next\":{\"why\":\"ends_the_case\"}}}");
    says("and better than that by an unknown amount");
    says("would end the case at once");
}

static void chances_are_said_as_one_in_so_many(void **state)
{
    (void)state;
    static const struct {
        double log_odds;
        const char *text;
    } rows[] = {{0, "1 in 2.0"},
                {3, "1 in 1.0"},
                {-2.302585093, "1 in 11"},
                {-6.9077, "1 in 1,000"},
                {-1e9, "1 in 240,000,000,000,000,000"}};
    char said[ONE_IN_SIZE];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        one_in_text(rows[i].log_odds, said);
        assert_string_equal(said, rows[i].text);
    }
}

/* ---- Through the interface ---- */

static void the_ledger_gives_a_case_back(void **state)
{
    (void)state;
    char path[] = "/tmp/counterfoil-explain-XXXXXX";
    int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    close(descriptor);
    unlink(path);
    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_case *doubt;
    assert_int_equal(cfoil_context_open(NULL, &context), CFOIL_OK);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    assert_int_equal(cfoil_ledger_open(context, &options, &ledger), CFOIL_OK);
    cfoil_case_options wish = CFOIL_CASE_OPTIONS_INIT;
    wish.ledger = ledger;
    wish.lane = "lane 1";
    wish.currency = "EUR";
    wish.value_minor = 5000;
    assert_int_equal(cfoil_case_open(context, &wish, &doubt), CFOIL_OK);
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(cfoil_case_dispose(doubt, &end, &record), CFOIL_OK);
    assert_int_equal(cfoil_ledger_case_json(ledger, record.case_id, json, sizeof json, NULL), CFOIL_OK);
    size_t needed;
    assert_int_equal(cfoil_case_explain(context, json, text, sizeof text, &needed), CFOIL_OK);
    assert_int_equal(strlen(text) + 1, needed);
    says(record.case_id);
    assert_int_equal(cfoil_case_explain(context, json, text, 10, NULL), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(cfoil_case_explain(context, NULL, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_case_explain(context, "x", text, sizeof text, NULL), CFOIL_E_DATA_SYNTAX);
    assert_int_equal(cfoil_ledger_case_json(ledger, "nobody", json, sizeof json, NULL), CFOIL_E_MISSING_ENTRY);
    assert_int_equal(cfoil_ledger_case_json(ledger, NULL, json, sizeof json, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_ledger_case_json(ledger, "", json, sizeof json, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_matrix_json(context, "XXX", json, sizeof json, NULL), CFOIL_E_MISSING_PACK);
    assert_int_equal(cfoil_matrix_json(context, NULL, json, sizeof json, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_matrix_json(context, "EURO", json, sizeof json, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_matrix_json(context, "EUR", json, 4, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_true(needed > 1000);
    cfoil_case_close(doubt);
    cfoil_ledger_close(ledger);
    cfoil_context_close(context);
    unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_refused_note_is_explained),
        cmocka_unit_test(every_kind_of_answer_is_explained),
        cmocka_unit_test(every_word_of_the_machine_is_explained),
        cmocka_unit_test(the_machines_own_record_is_told),
        cmocka_unit_test(the_clock_ends_the_checks),
        cmocka_unit_test(a_note_with_two_differences_is_explained),
        cmocka_unit_test(what_is_no_case_is_refused),
        cmocka_unit_test(a_strange_case_is_said_as_far_as_it_goes),
        cmocka_unit_test(chances_are_said_as_one_in_so_many),
        cmocka_unit_test(the_ledger_gives_a_case_back),
    };
    return cmocka_run_group_tests(tests, packs_load, packs_release);
}
