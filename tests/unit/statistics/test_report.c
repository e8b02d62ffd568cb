/*
 * What the report counts, what it leaves out, and what it says when little or something strange is on record.
 */
#include "../ledger/world.h"

#include "model/event.h"
#include "model/json.h"
#include "model/names.h"
#include "statistics/figures.h"
#include "statistics/statistics.h"

#define BEGIN_MS INT64_C(1764000000000)

/* ---- Putting events on record ---- */

struct lane {
    struct world *world;
    const char *name;
    uint64_t sequence;
};

static void body_append(struct world *world, const char *kind, const char *body)
{
    struct ledger_item item = item_make(kind, body);
    static int case_number;
    char case_id[24];
    if (strcmp(kind, LEDGER_KIND_CASE) == 0) {
        snprintf(case_id, sizeof case_id, "case %d", ++case_number);
        item.case_id = case_id;
        item.disposition = CFOIL_DISPOSITION_ABANDONED; /* the report reads the body */
    }
    item.time_utc_ms = BEGIN_MS + world_query(world, "SELECT max(number) FROM entry") * 1000;
    assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
}

static void event_append(struct lane *lane, cfoil_event event)
{
    event.sequence = ++lane->sequence;
    cJSON *body = event_json(&event);
    assert_true(json_text_add(body, "lane", lane->name));
    char *text = json_canonical(body);
    bool note = event.kind >= CFOIL_KIND_HELD && event.kind <= CFOIL_KIND_REJECTED;
    body_append(lane->world, note ? LEDGER_KIND_PRESENTATION : LEDGER_KIND_DEVICE, text);
    cJSON_Delete(body);
    free(text);
}

static cfoil_event note(int32_t kind, uint64_t presentation, const char *currency, int64_t value_minor)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = kind;
    event.presentation = presentation;
    event.value_minor = value_minor;
    snprintf(event.currency, sizeof event.currency, "%s", currency);
    return event;
}

static cfoil_event rejected(uint64_t presentation, int32_t reason)
{
    cfoil_event event = note(CFOIL_KIND_REJECTED, presentation, "", 0);
    event.reason = reason;
    return event;
}

static cfoil_event machine(int32_t kind, int32_t condition)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = kind;
    event.condition = condition;
    return event;
}

/* ---- Reading the report ---- */

static cJSON *report_read(struct world *world, const cfoil_report_options *given)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    if (given != NULL)
        options = *given;
    options.format = CFOIL_FORMAT_JSON;
    char *text = NULL;
    assert_int_equal(report_text(world->ledger, &options, &text, &world->error), CFOIL_OK);
    cJSON *report = cJSON_Parse(text);
    assert_non_null(report);
    cJSON_free(text);
    return report;
}

/* "total.rates.0.count": keys and places in lists, joined by dots. */
static const cJSON *at(const cJSON *report, const char *way)
{
    char key[40];
    while (way[0] != '\0') {
        size_t length = strcspn(way, ".");
        snprintf(key, sizeof key, "%.*s", (int)length, way);
        report = cJSON_IsArray(report) ? cJSON_GetArrayItem(report, atoi(key)) : cJSON_GetObjectItem(report, key);
        if (report == NULL)
            fail_msg("the report has no %s", key);
        way += length + (way[length] == '.');
    }
    return report;
}

static void expect(const cJSON *report, const char *way, double value)
{
    const cJSON *item = at(report, way);
    if (!cJSON_IsNumber(item) || item->valuedouble < value - 1e-9 || item->valuedouble > value + 1e-9)
        fail_msg("%s is %g instead of %g", way, item->valuedouble, value);
}

static void expect_text(const cJSON *report, const char *way, const char *text)
{
    assert_string_equal(cJSON_GetStringValue(at(report, way)), text);
}

static char *plain_read(struct world *world, const char *lane)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.format = CFOIL_FORMAT_TEXT;
    options.lane = lane;
    char *text = NULL;
    assert_int_equal(report_text(world->ledger, &options, &text, &world->error), CFOIL_OK);
    for (const char *line = text; *line != '\0'; line += strcspn(line, "\n") + 1) {
        if (strcspn(line, "\n") > 80)
            fail_msg("wider than 80 columns: %.100s", line);
    }
    return text;
}

/* ---- A week of two lanes ---- */

static void week_fill(struct world *world)
{
    struct lane one = {world, "lane 1", 0};
    struct lane two = {world, "lane 2", 0};
    event_append(&one, machine(CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED));
    event_append(&one, note(CFOIL_KIND_HELD, 1, "EUR", 2000));
    event_append(&one, note(CFOIL_KIND_STACKED, 1, "EUR", 2000));
    event_append(&one, note(CFOIL_KIND_HELD, 2, "EUR", 5000));
    event_append(&one, note(CFOIL_KIND_RETURNED, 2, "EUR", 5000));
    event_append(&one, note(CFOIL_KIND_STACKED, 3, "EUR", 1050)); /* never held */
    event_append(&one, note(CFOIL_KIND_STACKED, 4, "", 0));
    event_append(&one, note(CFOIL_KIND_HELD, 5, "EUR", 1000));
    event_append(&one, rejected(6, CFOIL_REASON_AUTHENTICITY));
    event_append(&one, note(CFOIL_KIND_STACKED, 5, "EUR", 1000)); /* told late */
    event_append(&one, rejected(7, CFOIL_REASON_NOT_RECOGNISED));
    event_append(&one, rejected(8, CFOIL_REASON_NOT_RECOGNISED));
    event_append(&one, rejected(9, CFOIL_REASON_HANDLING));
    event_append(&one, rejected(10, CFOIL_REASON_NOT_ENABLED));
    event_append(&one, rejected(11, CFOIL_REASON_DEVICE));
    event_append(&one, rejected(12, CFOIL_REASON_TAMPERING));
    event_append(&one, rejected(13, CFOIL_REASON_NONE));
    event_append(&two, note(CFOIL_KIND_STACKED, 1, "JPY", 1000));
    event_append(&two, note(CFOIL_KIND_STACKED, 2, "GBP", 500));
    event_append(&two, note(CFOIL_KIND_HELD, 3, "GBP", 500));
    event_append(&two, machine(CFOIL_KIND_DEVICE, CFOIL_CONDITION_JAM_SAFE));
    event_append(&two, machine(CFOIL_KIND_DEVICE, CFOIL_CONDITION_JAM_SAFE));
    cfoil_event lost = machine(CFOIL_KIND_LOST_EVENTS, CFOIL_CONDITION_COUNTER_GAP);
    event_append(&two, lost);
    lost.lost_count = 3;
    event_append(&two, lost);
    cfoil_event gone = machine(CFOIL_KIND_LANE_STATE, 0);
    gone.lane_state = CFOIL_LANE_LOST;
    event_append(&two, gone);
    gone.lane_state = CFOIL_LANE_IDLE;
    event_append(&two, gone);
    body_append(world, LEDGER_KIND_CASE,
                "{\"disposition\":\"set_aside\",\"currency\":\"EUR\",\"value_minor\":5000,\"advice\":\"set_aside\","
                "\"override\":null,\"lane\":\"lane 1\"}");
    body_append(world, LEDGER_KIND_CASE,
                "{\"disposition\":\"taken\",\"currency\":\"EUR\",\"value_minor\":5000,\"advice\":\"ask_another\","
                "\"override\":{\"by\":\"7\"},\"lane\":\"lane 1\"}");
    body_append(world, LEDGER_KIND_CASE,
                "{\"disposition\":\"not_taken\",\"currency\":\"EUR\",\"value_minor\":5000,\"advice\":\"ask_another\","
                "\"override\":null,\"lane\":\"lane 2\"}");
}

static void each_insertion_counts_once(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    week_fill(&world);
    cJSON *report = report_read(&world, NULL);
    expect_text(report, "schema", "counterfoil.report/1");
    expect_text(report, "store", "Example store");
    assert_true(cJSON_IsNull(at(report, "from")) && cJSON_IsNull(at(report, "until")) &&
                cJSON_IsNull(at(report, "lane")));
    expect(report, "entries", 30);
    expect(report, "first_entry", 1);
    expect(report, "last_entry", 30);
    expect_text(report, "last_entry_time", "2025-11-24T16:00:29.000Z");
    expect(report, "unreadable_entries", 0);
    const cJSON *total = at(report, "total");
    expect(total, "presentations.put_in", 16);
    expect(total, "presentations.stacked", 6);
    expect(total, "presentations.returned", 1);
    expect(total, "presentations.held_open", 1);
    expect(total, "presentations.rejected", 8);
    expect(total, "presentations.rejected_by_reason.authenticity", 1);
    expect(total, "presentations.rejected_by_reason.not_recognised", 2);
    expect(total, "presentations.rejected_by_reason.handling", 1);
    expect(total, "presentations.rejected_by_reason.not_enabled", 1);
    expect(total, "presentations.rejected_by_reason.device_condition", 1);
    expect(total, "presentations.rejected_by_reason.tampering", 1);
    expect(total, "presentations.rejected_by_reason.not_told", 1);
    expect(total, "presentations.rejected_by_reason.unknown", 0);
    /* what was not enabled, the machine's own or an alarm is no trial */
    expect_text(total, "rates.0.name", "accepted");
    expect(total, "rates.0.count", 8);
    expect(total, "rates.0.of", 13);
    expect(total, "rates.0.rate", 8.0 / 13);
    double lower;
    double upper;
    assert_true(interval_wilson(8, 13, QUANTILE_975, &lower, &upper));
    expect(total, "rates.0.lower", lower);
    expect(total, "rates.0.upper", upper);
    assert_true(cJSON_IsTrue(at(total, "rates.0.too_few")));
    expect_text(total, "rates.1.name", "refused_for_the_note");
    expect(total, "rates.1.count", 3);
    expect_text(total, "rates.2.name", "refused_for_feeding");
    expect(total, "rates.2.count", 1);
    expect_text(report, "lanes.0.lane", "lane 1");
    expect(report, "lanes.0.presentations.put_in", 13);
    expect(report, "lanes.0.presentations.held_open", 0);
    expect_text(report, "lanes.1.lane", "lane 2");
    expect(report, "lanes.1.presentations.put_in", 3);
    assert_int_equal(cJSON_GetArraySize(at(report, "lanes")), 2);
    assert_non_null(strstr(cJSON_GetStringValue(at(report, "caution")), "genuine"));
    assert_true(cJSON_GetArraySize(at(report, "notes")) >= 4);
    cJSON_Delete(report);
    world_close(&world);
}

static void money_machine_and_cases_are_counted(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    week_fill(&world);
    cJSON *report = report_read(&world, NULL);
    const cJSON *total = at(report, "total");
    assert_int_equal(cJSON_GetArraySize(at(total, "money_stacked")), 3);
    expect_text(total, "money_stacked.0.currency", "EUR");
    expect(total, "money_stacked.0.value_minor", 4050);
    expect(total, "money_stacked.0.notes", 3);
    expect_text(total, "money_stacked.1.currency", "GBP");
    expect(total, "money_stacked.1.value_minor", 500);
    expect_text(total, "money_stacked.2.currency", "JPY");
    expect(total, "stacked_without_value", 1);
    expect(total, "device.conditions.jam_safe", 2);
    expect(total, "device.conditions.identified", 1);
    expect(total, "device.conditions.counter_gap", 2);
    assert_int_equal(cJSON_GetArraySize(at(total, "device.conditions")), 3);
    expect(total, "device.loss_reports", 2);
    expect(total, "device.loss_reports_without_number", 1);
    expect(total, "device.events_lost", 3);
    expect(total, "device.connections_lost", 1);
    expect(total, "cases.count", 3);
    expect(total, "cases.overrides", 1);
    expect(total, "cases.by_disposition.taken.count", 1);
    expect(total, "cases.by_disposition.taken.by_advice.ask_another", 1);
    expect(total, "cases.by_disposition.set_aside.by_advice.set_aside", 1);
    expect(total, "cases.by_disposition.abandoned.count", 0);
    expect(total, "cases.by_disposition.unknown.count", 0);
    expect(total, "cases.money_set_aside.0.value_minor", 5000);
    expect(report, "lanes.1.cases.count", 1);
    expect(report, "lanes.1.cases.by_disposition.not_taken.count", 1);
    cJSON_Delete(report);
    world_close(&world);
}

static void period_and_lane_limit_the_report(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    week_fill(&world);
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.lane = "lane 2";
    cJSON *report = report_read(&world, &options);
    expect_text(report, "lane", "lane 2");
    expect(report, "total.presentations.put_in", 3);
    expect(report, "total.cases.count", 1);
    assert_int_equal(cJSON_GetArraySize(at(report, "lanes")), 1);
    cJSON_Delete(report);
    /* entry 3 is the HELD of the first note, entry 4 its STACKED */
    options.lane = NULL;
    options.from_utc_ms = BEGIN_MS + 2000;
    options.until_utc_ms = BEGIN_MS + 3000;
    report = report_read(&world, &options);
    expect_text(report, "from", "2025-11-24T16:00:02.000Z");
    expect_text(report, "until", "2025-11-24T16:00:03.000Z");
    expect(report, "entries", 1);
    expect(report, "total.presentations.held_open", 1);
    cJSON_Delete(report);
    options.from_utc_ms = BEGIN_MS + 3000;
    options.until_utc_ms = BEGIN_MS + 4000;
    report = report_read(&world, &options);
    expect(report, "total.presentations.stacked", 1);
    expect(report, "total.presentations.put_in", 1);
    cJSON_Delete(report);
    options.from_utc_ms = INT64_MAX - 1;
    options.until_utc_ms = INT64_MAX;
    report = report_read(&world, &options);
    expect(report, "entries", 0);
    assert_true(cJSON_IsNull(at(report, "total.rates.0.rate")) && cJSON_IsNull(at(report, "last_entry_time")));
    expect_text(report, "store", "Example store");
    cJSON_Delete(report);
    world_close(&world);
}

/* After a restart presentations begin at 1 again. */
static void a_restarted_lane_does_not_mix_its_notes(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct lane lane = {&world, "lane 1", 0};
    event_append(&lane, machine(CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED));
    event_append(&lane, note(CFOIL_KIND_HELD, 1, "EUR", 5000)); /* and the power goes */
    lane.sequence = 0;
    event_append(&lane, machine(CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN));
    event_append(&lane, note(CFOIL_KIND_STACKED, 1, "EUR", 1000)); /* another note */
    event_append(&lane, note(CFOIL_KIND_HELD, 2, "EUR", 1000));
    event_append(&lane, note(CFOIL_KIND_RETURNED, 3, "EUR", 1000)); /* not the one that is held */
    cJSON *report = report_read(&world, NULL);
    expect(report, "total.presentations.put_in", 4);
    expect(report, "total.presentations.held_open", 2);
    expect(report, "total.money_stacked.0.value_minor", 1000);
    cJSON_Delete(report);
    world_close(&world);
}

static void missing_and_strange_keys_are_borne(void **state)
{
    (void)state;
    static const char *const bodies[] = {
        "{}",
        "[]",
        "7",
        "{\"kind\":7,\"lane\":7,\"reason\":7,\"seq\":\"x\",\"presentation\":-1}",
        "{\"kind\":\"stacked\"}",
        "{\"kind\":\"stacked\",\"currency\":\"EUR\"}",
        "{\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":-5}",
        "{\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":0.5}",
        "{\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":1e300}",
        "{\"kind\":\"stacked\",\"currency\":\"EURO\",\"value_minor\":5}",
        "{\"kind\":\"stacked\",\"currency\":\"E\\u0007R\",\"value_minor\":5}",
        "{\"kind\":\"rejected\",\"reason\":\"a new one\"}",
        "{\"kind\":\"rejected\",\"reason\":null}",
        "{\"kind\":\"a new one\",\"condition\":\"a new one\"}",
        "{\"kind\":\"lost_events\"}",
        "{\"kind\":\"lane_state\"}",
        "{\"disposition\":\"a new one\",\"advice\":\"a new one\",\"override\":7}",
        "{\"disposition\":\"none\"}",
        "{\"disposition\":\"set_aside\"}",
    };
    static const char *const kinds[] = {LEDGER_KIND_PRESENTATION, LEDGER_KIND_DEVICE, LEDGER_KIND_CASE, "a new one"};
    struct world world;
    world_open(&world);
    for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++) {
        for (size_t kind = 0; kind < 4; kind++)
            body_append(&world, kinds[kind], bodies[i]);
    }
    cJSON *report = report_read(&world, NULL);
    expect(report, "entries", 77);
    expect(report, "unreadable_entries", 0);
    expect(report, "total.presentations.stacked", 7);
    expect(report, "total.stacked_without_value", 7);
    expect(report, "total.presentations.rejected_by_reason.unknown", 1);
    expect(report, "total.presentations.rejected_by_reason.not_told", 1);
    expect(report, "total.device.conditions.unknown", 1);
    expect(report, "total.device.loss_reports_without_number", 1);
    expect(report, "total.cases.count", 19);
    expect(report, "total.cases.by_disposition.unknown.count", 18);
    expect(report, "total.cases.by_disposition.unknown.by_advice.unknown", 1);
    expect(report, "total.cases.overrides", 0);
    expect_text(report, "lanes.0.lane", "");
    cJSON_Delete(report);
    free(plain_read(&world, NULL));
    world_close(&world);
}

static void entries_that_other_hands_spoilt_are_told(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    week_fill(&world);
    world_unlock_entries(&world);
    world_tamper(&world, "UPDATE entry SET body = '{' WHERE number = 4; UPDATE entry SET body = '[' WHERE number = 1");
    cJSON *report = report_read(&world, NULL);
    expect(report, "unreadable_entries", 2);
    expect_text(report, "store", "");
    cJSON_Delete(report);
    char *text = plain_read(&world, NULL);
    assert_non_null(strstr(text, "2 records cannot be read"));
    assert_non_null(strstr(text, "Store    (no name)"));
    free(text);
    world_tamper(&world, "DELETE FROM entry WHERE number = 1");
    report = report_read(&world, NULL);
    expect_text(report, "store", "");
    cJSON_Delete(report);
    world_tamper(&world, "DROP TABLE head; DROP TABLE entry");
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    assert_int_not_equal(report_text(world.ledger, &options, &text, &world.error), CFOIL_OK);
    assert_null(text);
    world_close(&world);
}

static void sums_stop_at_the_largest_number(void **state)
{
    (void)state;
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    struct report report = {.memory = &memory_heap, .options = &options};
    for (int i = 0; i < 1100; i++)
        assert_true(report_entry_count(&report, 1, LEDGER_KIND_PRESENTATION, 0,
                                       "{\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":9007199254740992}"));
    assert_true(report.total.money_stacked->minor == INT64_MAX);
    report_free(&report);
}

/* ---- Plain text ---- */

static void a_manager_can_read_it(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "Store    Example store\n",
        "Period   from the beginning until now\n",
        "Lane     all\n",
        "Records  1 to 30, the newest of 2025-11-24T16:00:29.000Z\n",
        "  put in                                             16\n",
        "    feeding, jams and transport                       1\n",
        "    reason not told                                   1\n",
        "  accepted               61.5 %  (35.5 % to 82.3 %)  8 of 13\n",
        "Too few notes to judge by",
        "  EUR 40.50                                in 3 notes\n",
        "  JPY 1000 minor units                     in 1 note\n",
        "  1 note of unknown value: count the cash box by hand\n",
        "  taken against the advice, by a named person         1\n",
        "    advice was: ask another                           1\n",
        "Set aside, not part of the takings",
        "  jam safe                                            2\n",
        "  connection lost                                     1\n",
        "  lane 2\n    put in 3, not accepted 0, of these feeding 0; cases 1\n",
        "European Central Bank",
    };
    struct world world;
    world_open(&world);
    week_fill(&world);
    char *text = plain_read(&world, NULL);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        if (strstr(text, lines[i]) == NULL)
            fail_msg("no line '%s' in:\n%s", lines[i], text);
    }
    free(text);
    text = plain_read(&world, "lane 2");
    assert_non_null(strstr(text, "Lane     lane 2\n"));
    assert_null(strstr(text, "\nLANES\n"));
    free(text);
    text = plain_read(&world, "lane 9");
    assert_non_null(strstr(text, "no notes"));
    assert_non_null(strstr(text, "nothing to report"));
    free(text);
    world_close(&world);
}

static void an_empty_period_says_so(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.format = CFOIL_FORMAT_TEXT;
    options.from_utc_ms = BEGIN_MS;
    options.until_utc_ms = BEGIN_MS + 1;
    char *text;
    assert_int_equal(report_text(world.ledger, &options, &text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "Period   from 2025-11-24T16:00:00.000Z until 2025-11-24T16:00:00.001Z\n"));
    assert_non_null(strstr(text, "Records  none in this period\n"));
    free(text);
    options.until_utc_ms = INT64_MAX; /* no year that people write */
    assert_int_equal(report_text(world.ledger, &options, &text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "until now\n"));
    free(text);
    world_close(&world);
}

static void enough_notes_need_no_warning(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct lane lane = {&world, "lane 1", 0};
    struct lane other = {&world, "an unusual\nname", 0};
    for (uint64_t i = 1; i <= 99; i++)
        event_append(&lane, note(CFOIL_KIND_STACKED, i, "EUR", 500));
    event_append(&other, rejected(1, CFOIL_REASON_HANDLING));
    struct lane silent = {&world, "lane 3", 0};
    cfoil_event gone = machine(CFOIL_KIND_LANE_STATE, 0);
    gone.lane_state = CFOIL_LANE_LOST;
    event_append(&silent, gone);
    char *text = plain_read(&world, NULL);
    assert_null(strstr(text, "Too few notes to judge by"));
    assert_non_null(strstr(text, "(a name that cannot be shown)"));
    assert_non_null(strstr(text, "    too few notes\n"));
    free(text);
    cJSON *report = report_read(&world, NULL);
    assert_true(cJSON_IsFalse(at(report, "total.rates.0.too_few")));
    assert_true(cJSON_IsTrue(at(report, "lanes.0.rates.0.too_few")));
    cJSON_Delete(report);
    world_close(&world);
}

/* ---- The places of words, and memory ---- */

static void every_word_has_its_place(void **state)
{
    (void)state;
    assert_string_equal(name_reason(REASON_PLACES - 1), "unknown");
    assert_string_equal(name_condition(CONDITION_PLACES - 1), "unknown");
    assert_string_equal(name_advice(ADVICE_PLACES - 1), "unknown");
    assert_string_equal(name_disposition(DISPOSITION_PLACES - 1), "unknown");
}

static void scarce_memory_gives_no_report(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    week_fill(&world);
    ledger_release(world.ledger);
    for (int32_t format = CFOIL_FORMAT_JSON; format <= CFOIL_FORMAT_TEXT; format++) {
        struct scarce scarce = {-1, 0};
        struct memory memory = scarce_memory(&scarce);
        assert_int_equal(world_try(&world, &memory, 0), CFOIL_OK);
        cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
        options.format = format;
        long before = scarce.blocks;
        int32_t result = CFOIL_E_MEMORY;
        long n = 0;
        for (; result != CFOIL_OK; n++) {
            char *text = NULL;
            scarce.left = n;
            result = report_text(world.ledger, &options, &text, &world.error);
            assert_true(result == CFOIL_OK || (result == CFOIL_E_MEMORY && text == NULL));
            assert_int_equal(scarce.blocks, before);
            cJSON_free(text);
        }
        assert_true(n > 5);
        ledger_release(world.ledger);
        world.ledger = NULL;
        assert_int_equal(scarce.blocks, 0);
    }
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_insertion_counts_once),
        cmocka_unit_test(money_machine_and_cases_are_counted),
        cmocka_unit_test(period_and_lane_limit_the_report),
        cmocka_unit_test(a_restarted_lane_does_not_mix_its_notes),
        cmocka_unit_test(missing_and_strange_keys_are_borne),
        cmocka_unit_test(entries_that_other_hands_spoilt_are_told),
        cmocka_unit_test(sums_stop_at_the_largest_number),
        cmocka_unit_test(a_manager_can_read_it),
        cmocka_unit_test(an_empty_period_says_so),
        cmocka_unit_test(enough_notes_need_no_warning),
        cmocka_unit_test(every_word_has_its_place),
        cmocka_unit_test(scarce_memory_gives_no_report),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
