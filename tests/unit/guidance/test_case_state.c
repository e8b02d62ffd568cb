/*
 * A case as text: what is written comes back, memory that runs out leaves nothing half done, and a spoilt text is judged
 * like any other input.
 */
#include "guidance/case_state.h"
#include "unit/guidance/case.h"

#include "model/json.h"

#include <stdlib.h>

/* A case in which everything was used: two presentations with findings and raw bytes, three answers, a serial number. */
static struct guidance *case_told(void)
{
    cfoil_case_options options = case_options(5000);
    options.language = "de";
    options.jurisdiction = "DE";
    options.lane = "lane 1";
    options.sale = "4711";
    options.staff = "c7";
    options.tools = CFOIL_TOOL_MAGNIFIER;
    options.without = CFOIL_WITHOUT_BACK_LIGHT;
    options.seconds_limit = 60;
    struct guidance *guidance = case_open(&options);
    guidance_time_set(guidance, 1000);
    case_refuse(guidance, CFOIL_REASON_NOT_RECOGNISED);
    cfoil_event event = case_event(CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY);
    event.finding_count = 2;
    event.findings[0] = (cfoil_finding){CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0};
    event.findings[1] = (cfoil_finding){CFOIL_CHANNEL_THREAD, CFOIL_STRENGTH_WEAK, CFOIL_ORIGIN_DEVICE, 0};
    event.raw_length = 3;
    event.raw[0] = 0x0f;
    event.raw[1] = 0xa5;
    event.raw[2] = 0x10;
    snprintf(event.raw_text, sizeof event.raw_text, "0,13");
    assert_int_equal(guidance_presentation_add(guidance, &event, &case_error), CFOIL_OK);
    case_answer(guidance, GOOD);
    guidance_time_set(guidance, 4000);
    case_answer(guidance, GOOD);
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(guidance_serial_check(guidance, "X04940051213", &serial), CFOIL_OK);
    assert_int_equal(guidance_serial_set(guidance, &serial, false, &case_error), CFOIL_OK);
    return guidance;
}

static char *state_text(const struct guidance *guidance)
{
    cJSON *state = guidance_state(guidance);
    assert_non_null(state);
    char *text = json_line(state);
    cJSON_Delete(state);
    assert_non_null(text);
    return text;
}

static int32_t restore(const cJSON *state, struct guidance **guidance)
{
    memset(&case_error, 0, sizeof case_error);
    return guidance_restore(&failing_memory, case_packs, state, 9000, guidance, &case_error);
}

static void what_is_written_comes_back(void **state)
{
    (void)state;
    struct guidance *guidance = case_told();
    char *text = state_text(guidance);
    cJSON *tree = cJSON_Parse(text);
    struct pack_wanted wanted = guidance_state_wanted(tree);
    assert_string_equal(wanted.currency, "EUR");
    assert_string_equal(wanted.jurisdiction, "DE");
    assert_string_equal(wanted.language, "de");
    struct guidance *again;
    assert_int_equal(restore(tree, &again), CFOIL_OK);
    char *second = state_text(again);
    assert_string_equal(second, text);
    assert_string_equal(guidance_lane(again), "lane 1");
    assert_string_equal(guidance_sale(again), "4711");
    assert_int_equal(guidance_value_minor(again), 5000);
    cfoil_step before = case_step(guidance);
    char check[64];
    snprintf(check, sizeof check, "%s", before.check);
    assert_string_equal(case_step(again).check, check);
    cJSON_free(second);
    cJSON_free(text);
    cJSON_Delete(tree);
    guidance_close(again);
    case_close(guidance);
}

static void no_memory_leaves_nothing(void **state)
{
    (void)state;
    struct guidance *guidance = case_told();
    long before = failing_blocks;
    cJSON *tree = NULL;
    for (long count = 0; tree == NULL; count++) {
        failing_begin(count);
        tree = guidance_state(guidance);
        failing_stop();
        if (tree == NULL)
            assert_int_equal(failing_blocks, before);
    }
    char *text = json_line(tree); /* numbers are raw text until they are read again */
    cJSON_Delete(tree);
    tree = cJSON_Parse(text);
    cJSON_free(text);
    struct guidance *again = NULL;
    before = failing_blocks;
    for (long count = 0; again == NULL; count++) {
        failing_after(count);
        int32_t result = restore(tree, &again);
        failing_stop();
        assert_int_equal(result, again != NULL ? CFOIL_OK : CFOIL_E_MEMORY);
        if (again == NULL)
            assert_int_equal(failing_blocks, before);
    }
    guidance_close(again);
    cJSON_Delete(tree);
    failing_end();
    case_close(guidance);
}

/* Puts `to` in the place of `from` in the text of a case, and tries to take it up. */
static int32_t spoilt(const char *from, const char *to)
{
    struct guidance *guidance = case_told();
    char *text = state_text(guidance);
    char *found = strstr(text, from);
    if (found == NULL)
        print_error("%s\nis not in\n%s\n", from, text);
    assert_non_null(found);
    char changed[8192];
    snprintf(changed, sizeof changed, "%.*s%s%s", (int)(found - text), text, to, found + strlen(from));
    cJSON *tree = cJSON_Parse(changed);
    assert_non_null(tree);
    struct guidance *again;
    int32_t result = restore(tree, &again);
    if (result == CFOIL_OK)
        (void)case_step(again);
    else
        assert_null(again);
    guidance_close(again);
    cJSON_Delete(tree);
    cJSON_free(text);
    case_close(guidance);
    return result;
}

static void a_spoilt_text_is_judged(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to;
        int32_t result;
    } table[] = {
        {"counterfoil.open_case/1", "counterfoil.open_case/2", CFOIL_E_DATA_SCHEMA},
        {"\"case\":\"0189", "\"case\":\"189", CFOIL_E_DATA_SCHEMA},
        {"\"currency\":\"EUR\",\"value_minor\":5000", "\"currency\":7,\"value_minor\":5000", CFOIL_E_ARGUMENT_TEXT},
        {"\"value_minor\":5000", "\"value_minor\":1e300", CFOIL_E_ARGUMENT_RANGE},
        {"\"value_minor\":5000", "\"value_minor\":-1e300", CFOIL_E_ARGUMENT_RANGE},
        {"\"value_minor\":5000", "\"value_minor\":\"5000\"", CFOIL_E_ARGUMENT_RANGE},
        {"\"tools\":1", "\"tools\":4294967296", CFOIL_E_ARGUMENT_RANGE},
        {"\"tools\":1", "\"tools\":-1", CFOIL_E_ARGUMENT_RANGE},
        {"\"answer\":1", "\"answer\":99999999999", CFOIL_E_ARGUMENT_RANGE},
        {"\"answer\":1", "\"answer\":-99999999999", CFOIL_E_ARGUMENT_RANGE},
        {"\"check\":\"", "\"check\":\"no-", CFOIL_E_MISSING_CHECK},
        {"\"kind\":4", "\"kind\":99", CFOIL_E_ARGUMENT_RANGE},
        {"\"serial\":\"X04940051213\"", "\"serial\":\"\"", CFOIL_OK},
        {"\"serial\":\"X04940051213\"", "\"serial\":\"no serial number\"", CFOIL_OK},
        {"\"serial_refused\":false", "\"serial_refused\":true", CFOIL_OK},
        {"\"spent_ms\":3000", "\"spent_ms\":-3000", CFOIL_OK},
        {"\"raw\":\"0fa510\"", "\"raw\":\"xyz\"", CFOIL_OK},
        {"\"findings\":[[", "\"findings\":[[\"x\",-1,5000],[1,1,1],[1,1,1],[1,1,1],[1,1,1],[1,1,1],[1,1,1],[1,1,1],[",
         CFOIL_E_ARGUMENT_RANGE},
    };
    bool good = true;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        int32_t result = spoilt(table[i].from, table[i].to);
        if (result != table[i].result)
            print_error("%s -> %s: %#x %s\n", table[i].from, table[i].to, (unsigned)result, case_error.text);
        good = good && result == table[i].result;
    }
    assert_true(good);
}

/* ---- The step as JSON ---- */

static const char *text_at(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItem(object, key));
    assert_non_null(text);
    return text;
}

static cJSON *step_json(struct guidance *guidance)
{
    cJSON *object = cJSON_CreateObject();
    assert_true(guidance_step_add(object, guidance));
    return object;
}

static void a_step_says_the_same_as_json(void **state)
{
    (void)state;
    struct guidance *guidance = case_told();
    cJSON *object = step_json(guidance);
    const cJSON *step = cJSON_GetObjectItem(object, "step");
    cfoil_step filled = case_step(guidance);
    assert_string_equal(text_at(step, "kind"), "check");
    assert_string_equal(text_at(step, "check"), filled.check);
    assert_string_equal(text_at(step, "title"), filled.title);
    assert_string_equal(text_at(step, "instruction"), filled.instruction);
    assert_string_equal(text_at(step, "expected"), filled.expected);
    assert_string_equal(text_at(step, "where"), filled.where);
    assert_non_null(cJSON_GetObjectItem(step, "box_permille"));
    assert_null(cJSON_GetObjectItem(step, "advice"));
    cJSON_Delete(object);
    case_answer_all(guidance, BAD);
    object = step_json(guidance);
    step = cJSON_GetObjectItem(object, "step");
    filled = case_step(guidance);
    assert_string_equal(text_at(step, "kind"), "advice");
    assert_string_equal(text_at(step, "advice"), "set_aside");
    assert_string_equal(text_at(step, "say"), filled.say);
    assert_string_equal(text_at(step, "reasons"), filled.reasons);
    assert_null(cJSON_GetObjectItem(step, "check"));
    assert_string_equal(cJSON_GetArrayItem(cJSON_GetObjectItem(step, "dispositions"), 0)->valuestring, "not_taken");
    cJSON_Delete(object);
    case_close(guidance);
}

static void a_step_is_whole_or_memory_is_told(void **state)
{
    (void)state;
    for (int advice = 0; advice < 2; advice++) {
        struct guidance *guidance = case_told();
        if (advice == 1)
            case_answer_all(guidance, BAD);
        bool good = false;
        for (long count = 1; !good; count++) {
            failing_begin(-1);
            cJSON *object = cJSON_CreateObject();
            failing_after(count);
            good = guidance_step_add(object, guidance);
            failing_stop();
            cJSON_Delete(object);
            failing_end();
        }
        assert_false(guidance_step_add(NULL, guidance));
        case_close(guidance);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_written_comes_back),        cmocka_unit_test(no_memory_leaves_nothing),
        cmocka_unit_test(a_spoilt_text_is_judged),           cmocka_unit_test(a_step_says_the_same_as_json),
        cmocka_unit_test(a_step_is_whole_or_memory_is_told),
    };
    return cmocka_run_group_tests(tests, case_packs_load, case_packs_release);
}
