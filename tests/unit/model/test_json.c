/*
 * JSON helpers and events as JSON: whole numbers keep all digits, canonical text, every failing allocation.
 */
#include "model/event.h"
#include "model/json.h"
#include "unit/model/failing.h"

#include "test.h"

static void prints_as(cJSON *object, const char *expected)
{
    char *text = json_line(object);
    assert_string_equal(text, expected);
    cJSON_free(text);
}

static void each_kind_of_value_is_added(void **state)
{
    (void)state;
    cJSON *object = cJSON_CreateObject();
    assert_true(json_text_add(object, "text", "a\"\n"));
    assert_true(json_text_add(object, "no_text", NULL));
    assert_true(json_integer_add(object, "most", INT64_MAX));
    assert_true(json_integer_add(object, "least", INT64_MIN));
    assert_true(json_number_add(object, "number", 0.5));
    assert_true(json_flag_add(object, "yes", true));
    assert_true(json_flag_add(object, "no", false));
    assert_true(json_null_add(object, "nothing"));
    cJSON *list = json_array_add(object, "list");
    assert_true(json_integer_add(list, NULL, 1));
    assert_non_null(json_object_add(list, NULL));
    assert_non_null(json_object_add(object, "object"));
    prints_as(object, "{\"text\":\"a\\\"\\n\",\"no_text\":null,\"most\":9223372036854775807,"
                      "\"least\":-9223372036854775808,\"number\":0.5,\"yes\":true,\"no\":false,\"nothing\":null,"
                      "\"list\":[1,{}],\"object\":{}}");
    cJSON_Delete(object);
}

static void nothing_is_added_to_nothing(void **state)
{
    (void)state;
    assert_false(json_text_add(NULL, "key", "text"));
    assert_false(json_integer_add(NULL, NULL, 1));
    assert_null(json_object_add(NULL, "key"));
    assert_null(json_array_add(NULL, "key"));
    assert_null(json_line(NULL));
    assert_null(json_canonical(NULL));
    char buffer[4];
    assert_int_equal(json_export(NULL, buffer, sizeof buffer, NULL), CFOIL_E_MEMORY);
}

static void canonical_text_sorts_the_keys_of_every_level(void **state)
{
    (void)state;
    cJSON *object = cJSON_Parse("{\"b\":[{\"z\":1,\"y\":{\"d\":1,\"c\":2,\"e\":3}}],\"a\":{},\"ab\":[],\"B\":null,"
                                "\"a\":true}");
    char *text = json_canonical(object);
    assert_string_equal(text, "{\"B\":null,\"a\":{},\"a\":true,\"ab\":[],\"b\":[{\"y\":{\"c\":2,\"d\":1,\"e\":3},"
                              "\"z\":1}]}");
    cJSON_free(text);
    /* The sorted object can still be added to. */
    assert_true(json_null_add(object, "c"));
    text = json_canonical(object);
    assert_non_null(strstr(text, ",\"c\":null}"));
    cJSON_free(text);
    cJSON_Delete(object);
}

static void json_is_handed_to_the_callers_buffer(void **state)
{
    (void)state;
    cJSON *object = cJSON_CreateObject();
    char buffer[8] = "";
    size_t needed = 0;
    assert_int_equal(json_export(object, buffer, 2, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(needed, 3);
    assert_int_equal(json_export(object, buffer, 3, &needed), CFOIL_OK);
    assert_string_equal(buffer, "{}");
    cJSON_Delete(object);
}

/* ---- Events ---- */

static cfoil_event rejected_event(void)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.sequence = 7;
    event.presentation = 3;
    event.time_utc_ms = INT64_C(951782400000);
    event.lane_state = CFOIL_LANE_ACCEPTING;
    event.reason = CFOIL_REASON_AUTHENTICITY;
    event.reasons_possible = 1u << CFOIL_REASON_AUTHENTICITY | 1u << CFOIL_REASON_NOT_RECOGNISED;
    event.finding_count = 1;
    event.findings[0] = (cfoil_finding){CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK, CFOIL_ORIGIN_DEVICE, 0};
    event.raw_length = 2;
    event.raw[1] = 2;
    strcpy(event.raw_text, "159: 0,2");
    strcpy(event.text, "Not accepted.");
    return event;
}

static void event_prints_as(const cfoil_event *event, const char *expected)
{
    cJSON *object = event_json(event);
    prints_as(object, expected);
    cJSON_Delete(object);
}

static void a_refusal_is_written_with_what_it_may_mean(void **state)
{
    (void)state;
    cfoil_event event = rejected_event();
    event_prints_as(
        &event, "{\"schema\":\"counterfoil.event/1\",\"seq\":7,\"time\":\"2000-02-29T00:00:00.000Z\","
                "\"kind\":\"rejected\",\"presentation\":3,\"currency\":null,\"value_minor\":null,"
                "\"reason\":\"authenticity\",\"reasons_possible\":[\"authenticity\",\"not_recognised\"],"
                "\"findings\":[{\"channel\":\"not_told\",\"strength\":\"weak\",\"origin\":\"device\"}],"
                "\"raw\":\"159: 0,2\",\"raw_hex\":\"0002\",\"lane_state\":\"accepting\",\"text\":\"Not accepted.\"}");
}

static void other_events_carry_their_own_members(void **state)
{
    (void)state;
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_HELD;
    event.lane_state = CFOIL_LANE_ACCEPTING;
    strcpy(event.currency, "EUR");
    event.value_minor = 5000;
    event.note_type = 4;
    strcpy(event.note_name, "EU0050A");
    event.flags = CFOIL_EVENT_RECORDED | CFOIL_EVENT_WHILE_AWAY;
    event.entry = 12;
    event_prints_as(&event, "{\"schema\":\"counterfoil.event/1\",\"seq\":0,\"time\":\"1970-01-01T00:00:00.000Z\","
                            "\"kind\":\"held\",\"currency\":\"EUR\",\"value_minor\":5000,\"note_type\":4,"
                            "\"note_name\":\"EU0050A\",\"reason\":null,\"findings\":[],\"raw\":null,\"raw_hex\":\"\","
                            "\"lane_state\":\"accepting\",\"while_away\":true,\"entry\":12,\"text\":\"\"}");
    cfoil_event lost = CFOIL_EVENT_INIT;
    lost.kind = CFOIL_KIND_LOST_EVENTS;
    lost.lane_state = CFOIL_LANE_LOST;
    lost.condition = CFOIL_CONDITION_COUNTER_GAP;
    lost.result = CFOIL_E_DEVICE_SILENT;
    lost.time_utc_ms = -1;
    event_prints_as(&lost, "{\"schema\":\"counterfoil.event/1\",\"seq\":0,\"time\":\"\",\"kind\":\"lost_events\","
                           "\"currency\":null,\"value_minor\":null,\"reason\":null,\"findings\":[],\"raw\":null,"
                           "\"raw_hex\":\"\",\"lane_state\":\"lost\",\"condition\":\"counter_gap\","
                           "\"lost_count\":null,\"result\":262,\"text\":\"\"}");
    lost.lost_count = 6;
    cJSON *object = event_json(&lost);
    char *text = json_line(object);
    assert_non_null(strstr(text, "\"lost_count\":6"));
    cJSON_free(text);
    cJSON_Delete(object);
}

static void impossible_counts_are_cut(void **state)
{
    (void)state;
    cfoil_event event = rejected_event();
    event.finding_count = 4000000000u;
    event.raw_length = 4000000000u;
    cJSON *object = event_json(&event);
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItemCaseSensitive(object, "findings")), CFOIL_FINDINGS_MAX);
    const cJSON *hex = cJSON_GetObjectItemCaseSensitive(object, "raw_hex");
    assert_int_equal(strlen(hex->valuestring), 2 * CFOIL_RAW_MAX);
    cJSON_Delete(object);
}

/* Fails the first, second, third, ... allocation of writing an event, until one run needs no more. */
static void no_memory_leaves_nothing(const cfoil_event *event)
{
    failing_json();
    char *text = NULL;
    for (long tries = 0; text == NULL; tries++) {
        failing_after(tries);
        cJSON *object = event_json(event);
        text = json_canonical(object);
        cJSON_Delete(object);
        failing_stop();
        assert_true(text != NULL || failing_blocks == 0);
    }
    cJSON_free(text);
    assert_int_equal(failing_blocks, 0);
    cJSON_InitHooks(NULL);
}

static void events_survive_a_lack_of_memory(void **state)
{
    (void)state;
    cfoil_event event = rejected_event();
    no_memory_leaves_nothing(&event);
    strcpy(event.currency, "EUR");
    event.kind = CFOIL_KIND_LOST_EVENTS;
    event.condition = CFOIL_CONDITION_FAULT;
    event.result = CFOIL_E_DEVICE_FAULT;
    event.reason = CFOIL_REASON_NONE;
    event.flags = CFOIL_EVENT_RECORDED | CFOIL_EVENT_WHILE_AWAY;
    no_memory_leaves_nothing(&event);
    event.lost_count = 1;
    no_memory_leaves_nothing(&event);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_of_value_is_added),
        cmocka_unit_test(nothing_is_added_to_nothing),
        cmocka_unit_test(canonical_text_sorts_the_keys_of_every_level),
        cmocka_unit_test(json_is_handed_to_the_callers_buffer),
        cmocka_unit_test(a_refusal_is_written_with_what_it_may_mean),
        cmocka_unit_test(other_events_carry_their_own_members),
        cmocka_unit_test(impossible_counts_are_cut),
        cmocka_unit_test(events_survive_a_lack_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
