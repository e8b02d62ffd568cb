/*
 * What the report says besides counts: figures by lane, note, channel and time, signals in words, kept notes, the table, the store.
 */
#include "../ledger/world.h"

#include "history_cells.h"
#include "history_ledger.h"
#include "ledger/rollup.h"
#include "near.h"
#include "statistics/report_parts.h"
#include "statistics/statistics.h"

/* 2026-01-05, a Monday, 08:00 UTC. */
#define MORNING_MS (HISTORY_BEGIN_MS + 8 * INT64_C(3600000))

static void append(struct world *world, const char *kind, int64_t time_utc_ms, const char *case_id, const char *body)
{
    struct ledger_item item = {.kind = kind, .time_utc_ms = time_utc_ms, .body = body, .case_id = case_id};
    item.disposition = case_id != NULL ? CFOIL_DISPOSITION_SET_ASIDE : 0;
    assert_int_equal(ledger_append(world->ledger, &item, 1, NULL, NULL, &world->error), CFOIL_OK);
}

static char *report_of(struct world *world, int32_t format, const char *store)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    char *text = NULL;
    options.format = format;
    options.store = store;
    if (report_text(world->ledger, &options, &text, &world->error) != CFOIL_OK)
        assert_null(text);
    return text;
}

static cJSON *figures_of(struct world *world, const char *part)
{
    char *text = report_of(world, CFOIL_FORMAT_JSON, NULL);
    cJSON *report = cJSON_Parse(text);
    cJSON_free(text);
    cJSON *wanted = cJSON_DetachItemFromObject(report, part);
    assert_non_null(wanted);
    cJSON_Delete(report);
    return wanted;
}

static double number_at(const cJSON *item, const char *key, const char *inner)
{
    const cJSON *found = cJSON_GetObjectItem(item, key);
    if (inner != NULL)
        found = cJSON_GetObjectItem(found, inner);
    assert_true(cJSON_IsNumber(found));
    return found->valuedouble;
}

/* Lane a: a note refused twice and looked at by hand, three accepted. Lane b: one accepted, one jam, one not enabled. */
static void day_fill(struct world *world)
{
    append(world, LEDGER_KIND_PRESENTATION, MORNING_MS, NULL,
           "{\"kind\":\"rejected\",\"lane\":\"a\",\"seq\":1,\"reason\":\"authenticity\",\"findings\":["
           "{\"channel\":\"image\",\"strength\":\"weak\"},{\"channel\":\"infrared\",\"strength\":\"clear\"}]}");
    append(world, LEDGER_KIND_PRESENTATION, MORNING_MS + 5000, NULL,
           "{\"kind\":\"rejected\",\"lane\":\"a\",\"seq\":2,\"reason\":\"authenticity\",\"findings\":["
           "{\"channel\":\"infrared\",\"strength\":\"clear\"}]}");
    append(world, LEDGER_KIND_CASE, MORNING_MS + 40000, "case 1",
           "{\"schema\":\"counterfoil.case/"
           "1\",\"lane\":\"a\",\"currency\":\"EUR\",\"value_minor\":5000,\"series\":\"ES2\","
           "\"disposition\":\"set_aside\",\"presentations\":[{\"kind\":\"rejected\",\"seq\":1},"
           "{\"kind\":\"rejected\",\"seq\":2}]}");
    for (int i = 0; i < 3; i++)
        append(world, LEDGER_KIND_PRESENTATION, MORNING_MS + 100000 * (i + 1), NULL,
               "{\"kind\":\"stacked\",\"lane\":\"a\",\"currency\":\"EUR\",\"value_minor\":5000}");
    append(world, LEDGER_KIND_PRESENTATION, MORNING_MS + 3600000, NULL,
           "{\"kind\":\"stacked\",\"lane\":\"=b\\\"\",\"currency\":\"EUR\",\"value_minor\":2000}");
    append(world, LEDGER_KIND_PRESENTATION, MORNING_MS + 3700000, NULL,
           "{\"kind\":\"rejected\",\"lane\":\"=b\\\"\",\"reason\":\"handling\"}");
    append(world, LEDGER_KIND_PRESENTATION, MORNING_MS + 3800000, NULL,
           "{\"kind\":\"rejected\",\"lane\":\"=b\\\"\",\"reason\":\"not_enabled\"}");
    append(world, LEDGER_KIND_CUSTODY, MORNING_MS + 40 * HISTORY_DAY_MS, NULL,
           "{\"case\":\"case 0\",\"from\":\"handed_over\",\"state\":\"genuine\"}");
}

static void figures_of_a_day(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    day_fill(&world);
    cJSON *figures = figures_of(&world, "figures");
    const cJSON *all = cJSON_GetObjectItem(figures, "all");
    assert_near(number_at(all, "insertions", NULL), 7, 0);
    assert_near(number_at(all, "first_pass", "count"), 4, 0);
    assert_near(number_at(all, "first_pass", "of"), 6, 0);
    assert_near(number_at(all, "refused_for_the_note", "count"), 1, 0);
    assert_near(number_at(all, "refused_for_feeding", "count"), 1, 0);
    assert_near(number_at(all, "final", "of"), 6, 0);
    const cJSON *notes = cJSON_GetObjectItem(figures, "by_note");
    const cJSON *row;
    double named = 0;
    cJSON_ArrayForEach(row, notes)
    {
        const char *series = cJSON_GetStringValue(cJSON_GetObjectItem(row, "series"));
        if (series != NULL && strcmp(series, "ES2") == 0)
            named += number_at(row, "insertions", NULL);
    }
    assert_near(named, 2, 0);
    const cJSON *channel = cJSON_GetArrayItem(cJSON_GetObjectItem(figures, "refusals_by_lane_and_channel"), 0);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(channel, "channel")), "infrared");
    assert_near(number_at(channel, "refused", "of"), 4, 0);
    const cJSON *here = cJSON_GetArrayItem(cJSON_GetObjectItem(figures, "first_pass_against_other_lanes"), 0);
    double lower;
    double upper;
    assert_true(interval_newcombe(3, 4, 1, 2, QUANTILE_975, &lower, &upper));
    assert_near(number_at(here, "difference", NULL), 0.25, 1e-12);
    assert_near(number_at(here, "lower", NULL), lower, 1e-12);
    assert_near(number_at(here, "upper", NULL), upper, 1e-12);
    const cJSON *hours = cJSON_GetObjectItem(figures, "by_hour_of_day");
    assert_int_equal(cJSON_GetArraySize(hours), 2);
    assert_near(number_at(cJSON_GetArrayItem(hours, 1), "hour", NULL), 9, 0);
    const cJSON *week = cJSON_GetArrayItem(cJSON_GetObjectItem(figures, "by_week"), 0);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(week, "week_from")), "2026-01-05");
    const cJSON *wrong = cJSON_GetObjectItem(figures, "false_refusals");
    assert_near(number_at(wrong, "came_back_as_genuine_of_those_that_came_back", "of"), 1, 0);
    assert_near(number_at(wrong, "accepted_when_fed_again", "count"), 0, 0);
    cJSON_Delete(figures);
    cJSON *verdict = figures_of(&world, "verdict");
    assert_string_equal(cJSON_GetStringValue(verdict), "Too few notes to judge by.");
    cJSON_Delete(verdict);
    world_close(&world);
}

/* The note that was set aside is in the shop since 40 days less 40 seconds by the newest entry. */
static void kept_notes_age(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    day_fill(&world);
    cJSON *figures = figures_of(&world, "figures");
    const cJSON *custody = cJSON_GetObjectItem(figures, "custody");
    assert_near(number_at(custody, "held_now", NULL), 1, 0);
    assert_near(number_at(custody, "held_for", "longer"), 1, 0);
    assert_near(number_at(custody, "held_for", "up_to_30_days"), 0, 0);
    assert_near(number_at(custody, "came_into_state", "genuine"), 1, 0);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(custody, "oldest_since")), "2026-01-05T08:00:40.000Z");
    cJSON_Delete(figures);
    char *text = report_of(&world, CFOIL_FORMAT_TEXT, NULL);
    assert_non_null(strstr(text, "the oldest where it is since 2026-01-05"));
    cJSON_free(text);
    world_close(&world);
}

/* RFC 4180: CR LF, quotes doubled; a name that a spreadsheet would run is made a text. */
static void the_table(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    day_fill(&world);
    char *text = report_of(&world, CFOIL_FORMAT_CSV, "Example store");
    assert_non_null(text);
    assert_non_null(
        strstr(text, "\r\nall,,\"a\",EUR,5000,\"ES2\",refused,authenticity,infrared,2,1,4,0.250000,0.045587,"));
    assert_non_null(strstr(text, "\r\nweek,2026-01-05,\"'=b\"\"\",EUR,2000,\"\",accepted,,,1,1,1,1.000000,"));
    assert_non_null(strstr(text, "\r\nhour,2026-01-05 09:00,\"'=b\"\"\",,,\"\",feeding,handling,,1,1,2,0.500000,"));
    assert_non_null(strstr(text, ",no_trial,not_enabled,,1,0,2,,,\r\n"));
    size_t columns = 0;
    for (const char *at = text; *at != '\r'; at++)
        columns += *at == ',';
    assert_int_equal(columns, 14);
    for (const char *line = text; *line != '\0'; line = strchr(line, '\n') + 1)
        assert_true(strcspn(line, "\n") > 0 && line[strcspn(line, "\n") - 1] == '\r');
    cJSON_free(text);
    world_close(&world);
}

/* The page says all of it without scripts; a name cannot become markup, nor end the script that holds the report. */
static void the_page(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    day_fill(&world);
    char *text = report_of(&world, CFOIL_FORMAT_HTML, "Example store");
    assert_non_null(text);
    assert_int_equal(strncmp(text, "<!doctype html>\n", 16), 0);
    assert_non_null(strstr(text, "<h1>Note validator report: Example store</h1>"));
    assert_non_null(strstr(text, "<p class=\"verdict\">"));
    assert_non_null(strstr(text, "<th scope=\"row\">=b&quot;</th>"));
    assert_null(strstr(text, "<th scope=\"row\">=b\"<"));
    assert_non_null(strstr(text, "<th scope=\"row\">EUR 50.00 series ES2</th>"));
    assert_non_null(strstr(text, "25.0 % (4.6 to 69.9) of 4"));
    assert_non_null(strstr(text, "data-heat=\"1\""));
    assert_non_null(strstr(text, "<figure hidden>"));
    assert_non_null(strstr(text, "uPlot"));
    assert_non_null(strstr(text, "</script></body></html>\n"));
    cJSON_free(text);
    world_close(&world);
}

static void the_store_must_be_the_one_meant(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    char *text = report_of(&world, CFOIL_FORMAT_TEXT, "Example store");
    assert_non_null(text);
    cJSON_free(text);
    assert_null(report_of(&world, CFOIL_FORMAT_TEXT, "Another store"));
    assert_int_equal(world.error.result, CFOIL_E_MISSING_ENTRY);
    assert_non_null(strstr(world.error.text, "Example store"));
    world_close(&world);
}

/* What the ledger keeps by itself, by lane and hour. */
struct kept {
    uint64_t accepted_first, accepted_retry, refused_first, refused_retry;
};

struct kept_question {
    struct kept *kept; /* by lane (1, 2, ...) and hour of the history */
    uint32_t hours;
};

#define KEPT_LANES 4u

static bool kept_add(void *user, const struct rollup_cell *cell)
{
    const struct kept_question *question = user;
    int64_t hour = cell->key.hour - HISTORY_BEGIN_MS / ROLLUP_HOUR_MS;
    uint32_t lane = (uint32_t)(cell->key.lane[5] - '1');
    if (strncmp(cell->key.lane, "lane ", 5) != 0)
        return true;
    assert_true(hour >= 0 && hour < question->hours && lane < KEPT_LANES);
    struct kept *kept = &question->kept[lane * question->hours + (uint32_t)hour];
    kept->accepted_first += (uint64_t)cell->counts[ROLLUP_ACCEPTED_FIRST];
    kept->accepted_retry += (uint64_t)cell->counts[ROLLUP_ACCEPTED_RETRY];
    kept->refused_first += (uint64_t)cell->counts[ROLLUP_REJECTED_FIRST];
    kept->refused_retry += (uint64_t)cell->counts[ROLLUP_REJECTED_RETRY];
    return true;
}

/* The report's table and the sums that the ledger keeps are counted apart, and agree hour by hour. */
static void kept_sums_agree(void **state)
{
    (void)state;
    struct world world;
    struct cells cells = {.memory = &memory_heap};
    struct cells hours = {.memory = &memory_heap};
    struct history_plan plan = history_demo;
    plan.days = 30;
    plan.lanes = KEPT_LANES;
    world_open(&world);
    assert_int_equal(history_append(&plan, world.ledger, &world.error), CFOIL_OK);
    struct kept_question question = {.hours = 24 * plan.days};
    question.kept = calloc((size_t)KEPT_LANES * question.hours, sizeof *question.kept);
    assert_non_null(question.kept);
    struct rollup_query query = {.from_utc_ms = HISTORY_BEGIN_MS};
    assert_int_equal(rollup_cells(world.ledger, &query, kept_add, &question, &world.error), CFOIL_OK);
    struct cell_view view = {.span = CELL_SPAN_HOUR, .lane = true, .outcome = true};
    assert_true(history_count(&plan, &cells) && cells_sum(&cells, &view, &hours));
    for (uint32_t i = 0; i < hours.count; i++) {
        const struct cell *cell = &hours.cells[i];
        int32_t hour = cell->key.hour - (int32_t)(HISTORY_BEGIN_MS / CELL_HOUR_MS);
        uint32_t lane = (uint32_t)(hours.lanes[cell->key.lane].name[5] - '1');
        struct kept *kept = &question.kept[lane * question.hours + (uint32_t)hour];
        bool accepted = cell->key.outcome == CELL_ACCEPTED;
        *(accepted ? &kept->accepted_first : &kept->refused_first) -= cell->counts.firsts;
        *(accepted ? &kept->accepted_retry : &kept->refused_retry) -= cell->counts.insertions - cell->counts.firsts;
    }
    for (uint32_t i = 0; i < KEPT_LANES * question.hours; i++) {
        const struct kept *kept = &question.kept[i];
        assert_int_equal(kept->accepted_first | kept->accepted_retry | kept->refused_first | kept->refused_retry, 0);
    }
    free(question.kept);
    cells_free(&cells);
    cells_free(&hours);
    world_close(&world);
}

/* The demo on record: the report names the three things, and counts what the history tells without a ledger. */
static void the_demo_in_words(void **state)
{
    (void)state;
    struct world world;
    struct cells cells = {.memory = &memory_heap};
    world_open(&world);
    assert_int_equal(history_append(&history_demo, world.ledger, &world.error), CFOIL_OK);
    char *text = report_of(&world, CFOIL_FORMAT_TEXT, NULL);
    static const char *const said[] = {"3 things stand out",
                                       "Lane lane 2, infrared",
                                       "The chart first showed it on 2026-03-",
                                       "XTS 5000 minor units, 4 lanes",
                                       "Within two hours from 2026-03-26 17:00 UTC: 7 of ",
                                       "XTS 1000 minor units series B, 4 lanes",
                                       "Accuse nobody"};
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++) {
        if (strstr(text, said[i]) == NULL)
            fail_msg("the report does not say: %s", said[i]);
    }
    cJSON_free(text);
    assert_true(history_count(&history_demo, &cells));
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < cells.count; i++)
        cell_sums_add(&sums, &cells.cells[i]);
    cJSON *figures = figures_of(&world, "figures");
    const cJSON *all = cJSON_GetObjectItem(figures, "all");
    assert_near(number_at(all, "insertions", NULL), (double)cell_trials(sums.insertions), 0);
    assert_near(number_at(all, "first_pass", "count"), (double)sums.firsts[CELL_ACCEPTED], 0);
    assert_near(number_at(all, "final", "count"), (double)sums.lasts[CELL_ACCEPTED], 0);
    cJSON_Delete(figures);
    cells_free(&cells);
    world_close(&world);
}

/* In words: a published yearly share, what was refused here, and an assumption that is named. */
static void what_a_refusal_means(void **state)
{
    (void)state;
    struct prediction prediction;
    char text[SENTENCE_SIZE];
    struct cells cells = {.memory = &memory_heap};
    struct cell_key key = {.hour = 1};
    cells_at(&cells, &key)->counts = (struct cell_counts){970, 970, 970};
    key.outcome = CELL_REFUSED;
    cells_at(&cells, &key)->counts = (struct cell_counts){30, 30, 30};
    struct report report = {.memory = &memory_heap, .cells = cells};
    assert_true(prediction_make(&report, "EUR", &prediction));
    prediction_text(&prediction, text);
    /* A tenth of 18 per million, 99 % caught, 3 % refused: 1 in 16,800 (computed). */
    assert_non_null(strstr(text, "about 1 in 17,000 may be a counterfeit"));
    assert_non_null(strstr(text, "18.0 found per million in circulation (2024), 3.0 % of all notes refused"));
    assert_false(prediction_make(&report, "XTS", &prediction));
    cells_free(&cells);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_of_a_day),
        cmocka_unit_test(kept_notes_age),
        cmocka_unit_test(the_table),
        cmocka_unit_test(the_page),
        cmocka_unit_test(the_store_must_be_the_one_meant),
        cmocka_unit_test(kept_sums_agree),
        cmocka_unit_test(the_demo_in_words),
        cmocka_unit_test(what_a_refusal_means),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
