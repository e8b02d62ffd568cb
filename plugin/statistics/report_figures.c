/*
 * The figures by lane, note, channel and time, and what stands out, as parts of the JSON. See report_parts.h.
 */
#include "statistics/report_parts.h"

#include "ledger/custody.h"
#include "model/json.h"
#include "model/names.h"
#include "statistics/statistics.h"

#include <string.h>

/* ---- Rows of a view ---- */

/* What of a row's key is written. */
struct row_kind {
    const char *name;
    struct cell_view view; /* its outcome is always kept apart */
};

static const struct row_kind row_kinds[] = {
    {"by_lane", {.lane = true, .outcome = true}},
    {"by_note", {.note = true, .series = true, .outcome = true}},
    {"by_lane_and_note", {.lane = true, .note = true, .outcome = true}},
    {"by_day", {.span = CELL_SPAN_DAY, .outcome = true}},
    {"by_week", {.span = CELL_SPAN_WEEK, .outcome = true}},
    {"by_hour_of_day", {.span = CELL_SPAN_HOUR_OF_DAY, .outcome = true}},
};

static bool note_add(cJSON *item, const struct cell_note *note)
{
    bool known = note->currency[0] != '\0';
    return json_text_add(item, "currency", known ? note->currency : NULL) &&
           (known ? json_integer_add(item, "value_minor", note->value_minor) : json_null_add(item, "value_minor"));
}

static bool key_add(cJSON *item, const struct cells *cells, const struct cell_view *view, const struct cell_key *key)
{
    char text[MOMENT_SIZE];
    bool good = item != NULL;
    if (view->span == CELL_SPAN_DAY || view->span == CELL_SPAN_WEEK)
        good = json_text_add(item, view->span == CELL_SPAN_DAY ? "day" : "week_from", day_text(key->hour * 24, text));
    if (view->span == CELL_SPAN_HOUR_OF_DAY)
        good = json_integer_add(item, "hour", key->hour);
    if (good && view->lane)
        good = json_text_add(item, "lane", cells->lanes[key->lane].name);
    if (good && view->note)
        good = note_add(item, &cells->notes[key->note]);
    if (good && view->series)
        good = json_text_add(item, "series",
                             cells->notes[key->note].series[0] != '\0' ? cells->notes[key->note].series : NULL);
    return good;
}

static bool shares_add(cJSON *item, const struct shares *shares)
{
    return json_integer_add(item, "insertions", (int64_t)shares->insertions) &&
           share_add(item, "first_pass", &shares->first_pass) && share_add(item, "final", &shares->final) &&
           share_add(item, "refused_for_the_note", &shares->refused) &&
           share_add(item, "refused_without_a_reason", &shares->untold) &&
           share_add(item, "refused_for_feeding", &shares->feeding);
}

static bool keys_alike(const struct cell_key *one, const struct cell_key *other)
{
    return one->hour == other->hour && one->lane == other->lane && one->note == other->note;
}

/* Cells of one key but for the outcome are neighbours. */
static bool rows_add(cJSON *object, const struct row_kind *kind, const struct cells *from)
{
    struct cells sums = {.memory = from->memory};
    cJSON *list = json_array_add(object, kind->name);
    bool good = list != NULL && cells_sum(from, &kind->view, &sums);
    for (uint32_t i = 0; good && i < sums.count;) {
        const struct cell_key *key = &sums.cells[i].key;
        struct cell_sums row = {{0}, {0}, {0}};
        for (; i < sums.count && keys_alike(key, &sums.cells[i].key); i++)
            cell_sums_add(&row, &sums.cells[i]);
        struct shares shares = shares_of(&row);
        if (shares.insertions == 0)
            continue;
        cJSON *item = json_object_add(list, NULL);
        good = key_add(item, &sums, &kind->view, key) && shares_add(item, &shares);
    }
    cells_free(&sums);
    return good;
}

/* ---- Refusals by lane and channel ---- */

static uint64_t lane_trials(const struct cells *by_lane, uint16_t lane)
{
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < by_lane->count; i++) {
        if (by_lane->cells[i].key.lane == lane)
            cell_sums_add(&sums, &by_lane->cells[i]);
    }
    return cell_trials(sums.firsts);
}

static bool channels_add(cJSON *object, const struct cells *from)
{
    static const struct cell_view by_channel = {.lane = true, .channel = true, .outcome = true};
    static const struct cell_view by_lane = {.lane = true, .outcome = true};
    struct cells sums = {.memory = from->memory};
    struct cells lanes = {.memory = from->memory};
    cJSON *list = json_array_add(object, "refusals_by_lane_and_channel");
    bool good = list != NULL && cells_sum(from, &by_channel, &sums) && cells_sum(from, &by_lane, &lanes);
    for (uint32_t i = 0; good && i < sums.count; i++) {
        const struct cell *cell = &sums.cells[i];
        if (cell->key.outcome != CELL_REFUSED)
            continue;
        struct share share = share_make(cell->counts.firsts, lane_trials(&lanes, cell->key.lane));
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "lane", sums.lanes[cell->key.lane].name) &&
               json_text_add(item, "channel", name_channel(cell->key.channel)) && share_add(item, "refused", &share);
    }
    cells_free(&sums);
    cells_free(&lanes);
    return good;
}

/* ---- Each lane against the others ---- */

static bool difference_add(cJSON *list, const char *lane, const struct share *one, const struct share *other)
{
    cJSON *item = json_object_add(list, NULL);
    double lower;
    double upper;
    bool good = json_text_add(item, "lane", lane) && share_add(item, "here", one) && share_add(item, "others", other);
    if (!interval_newcombe(one->count, one->of, other->count, other->of, QUANTILE_975, &lower, &upper))
        return good && json_null_add(item, "difference") && json_null_add(item, "lower") &&
               json_null_add(item, "upper");
    return good && json_number_add(item, "difference", one->rate - other->rate) &&
           json_number_add(item, "lower", lower) && json_number_add(item, "upper", upper);
}

static bool differences_add(cJSON *object, const struct cells *from)
{
    static const struct cell_view by_lane = {.lane = true, .outcome = true};
    struct cells sums = {.memory = from->memory};
    cJSON *list = json_array_add(object, "first_pass_against_other_lanes");
    bool good = list != NULL && cells_sum(from, &by_lane, &sums);
    for (uint16_t lane = 0; good && sums.lane_count > 1 && lane < sums.lane_count; lane++) {
        struct cell_sums here = {{0}, {0}, {0}};
        struct cell_sums others = {{0}, {0}, {0}};
        for (uint32_t i = 0; i < sums.count; i++)
            cell_sums_add(sums.cells[i].key.lane == lane ? &here : &others, &sums.cells[i]);
        struct shares one = shares_of(&here);
        struct shares other = shares_of(&others);
        good = difference_add(list, sums.lanes[lane].name, &one.first_pass, &other.first_pass);
    }
    cells_free(&sums);
    return good;
}

/* ---- False refusals ---- */

static bool false_refusals_add(cJSON *object, const struct report *report, const struct cell_sums *sums)
{
    cJSON *item = json_object_add(object, "false_refusals");
    uint64_t firsts = sums->firsts[CELL_REFUSED] + sums->firsts[CELL_UNTOLD] + sums->firsts[CELL_FEEDING];
    uint64_t lasts = sums->lasts[CELL_REFUSED] + sums->lasts[CELL_UNTOLD] + sums->lasts[CELL_FEEDING];
    struct share again = share_make(firsts > lasts ? firsts - lasts : 0, firsts);
    uint64_t genuine = report->custody.steps[CUSTODY_GENUINE];
    struct share resolved = share_make(genuine, genuine + report->custody.steps[CUSTODY_NOT_GENUINE]);
    return share_add(item, "accepted_when_fed_again", &again) &&
           share_add(item, "came_back_as_genuine_of_those_that_came_back", &resolved) &&
           json_integer_add(item, "taken_after_checks_by_hand",
                            (int64_t)cases_ended(&report->total, CFOIL_DISPOSITION_TAKEN));
}

static bool prediction_add(cJSON *list, const struct prediction *prediction)
{
    char text[SENTENCE_SIZE];
    cJSON *item = json_object_add(list, NULL);
    prediction_text(prediction, text);
    return json_text_add(item, "currency", prediction->base->currency) &&
           json_number_add(item, "per_million_in_circulation", prediction->base->per_million) &&
           json_text_add(item, "year", prediction->base->year) &&
           json_text_add(item, "source", prediction->base->source) &&
           json_text_add(item, "confidence", prediction->base->mark) && json_text_add(item, "text", text);
}

static bool predictions_add(cJSON *object, const struct report *report)
{
    cJSON *list = json_array_add(object, "what_a_refusal_means");
    bool good = list != NULL;
    for (const struct money *money = report->total.money_stacked; good && money != NULL; money = money->next) {
        struct prediction prediction;
        if (prediction_make(report, money->currency, &prediction))
            good = prediction_add(list, &prediction);
    }
    return good;
}

/* ---- Custody ---- */

static bool custody_add(cJSON *object, const struct report *report)
{
    static const char *const ages[CUSTODY_AGES] = {"up_to_1_day", "up_to_7_days", "up_to_30_days", "longer"};
    cJSON *item = json_object_add(object, "custody");
    cJSON *steps = json_object_add(item, "came_into_state");
    bool good = steps != NULL;
    for (int i = CUSTODY_NONE + 1; good && i < CUSTODY_STATE_COUNT; i++)
        good = json_integer_add(steps, custody_state_name((enum custody_state)i), (int64_t)report->custody.steps[i]);
    good = good && json_integer_add(item, "held_now", (int64_t)report->custody.held) &&
           json_text_add(item, "oldest_since",
                         report->custody.oldest_since[0] != '\0' ? report->custody.oldest_since : NULL);
    cJSON *held = good ? json_object_add(item, "held_for") : NULL;
    good = held != NULL;
    for (int i = 0; good && i < CUSTODY_AGES; i++)
        good = json_integer_add(held, ages[i], (int64_t)report->custody.aged[i]);
    return good;
}

bool report_figures_add(cJSON *object, const struct report *report)
{
    cJSON *figures = json_object_add(object, "figures");
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < report->cells.count; i++)
        cell_sums_add(&sums, &report->cells.cells[i]);
    struct shares shares = shares_of(&sums);
    cJSON *all = json_object_add(figures, "all");
    bool good = all != NULL && shares_add(all, &shares);
    for (size_t i = 0; good && i < sizeof row_kinds / sizeof row_kinds[0]; i++)
        good = rows_add(figures, &row_kinds[i], &report->cells);
    return good && channels_add(figures, &report->cells) && differences_add(figures, &report->cells) &&
           false_refusals_add(figures, report, &sums) && predictions_add(figures, report) &&
           custody_add(figures, report);
}

/* ---- Signals ---- */

static bool group_add(cJSON *object, const char *key, const struct group *group)
{
    struct share share = share_make(group->events, group->trials);
    return share_add(object, key, &share);
}

static bool moment_add(cJSON *item, const char *key, bool known, int32_t hour, bool with_hour)
{
    char text[MOMENT_SIZE];
    return json_text_add(item, key, !known ? NULL : with_hour ? hour_text(hour, text) : day_text(hour, text));
}

static bool signal_add(cJSON *list, const struct report *report, const struct signal *signal)
{
    static const char *const charts[] = {"count_in_two_hours", "ewma", "p_chart", "bernoulli_sum"};
    char title[SENTENCE_SIZE];
    char evidence[SENTENCE_SIZE];
    const struct signal_words *words = &signal_words[signal->kind];
    bool run = signal->kind == SIGNAL_RUN;
    signal_title(report, signal, title);
    signal_evidence(signal, evidence);
    cJSON *item = json_object_add(list, NULL);
    bool good = json_text_add(item, "key", words->key) && json_text_add(item, "title", title) &&
                json_text_add(item, "what", words->what) && json_text_add(item, "evidence", evidence) &&
                json_text_add(item, "next", words->next) &&
                json_text_add(item, "lane", signal->lane == CELL_ALL ? NULL : report->cells.lanes[signal->lane].name) &&
                note_add(item, &signal->named) &&
                json_text_add(item, "series", signal->named.series[0] != '\0' ? signal->named.series : NULL) &&
                json_text_add(item, "channel", signal->channel == CELL_ALL ? NULL : name_channel(signal->channel));
    return good && moment_add(item, "from", true, signal->first_hour, run) &&
           moment_add(item, "to", !signal->going_on, signal->after_hour - !run, run) &&
           moment_add(item, "chart_showed_it", signal->seen, signal->seen_day * 24, false) &&
           json_text_add(item, "chart", charts[signal->chart]) && json_integer_add(item, "lanes", signal->lanes) &&
           json_integer_add(item, "values", signal->notes) && group_add(item, "then", &signal->inside) &&
           group_add(item, "otherwise", &signal->outside) && json_number_add(item, "p", signal->p) &&
           json_number_add(item, "p_adjusted", signal->adjusted) && json_number_add(item, "spread", signal->spread);
}

bool report_signals_add(cJSON *object, const struct report *report)
{
    char verdict[SENTENCE_SIZE];
    verdict_text(report, verdict);
    bool good = json_text_add(object, "verdict", verdict);
    cJSON *list = good ? json_array_add(object, "signals") : NULL;
    good = list != NULL;
    for (uint32_t i = 0; good && i < report->signals.count; i++)
        good = signal_add(list, report, &report->signals.list[i]);
    return good && json_integer_add(object, "questions_asked", report->signals.tests) &&
           json_integer_add(object, "questions_with_too_few_counts", report->signals.too_few) &&
           json_number_add(object, "false_share_of_signals", SIGNALS_FALSE_SHARE);
}
