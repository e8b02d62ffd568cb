/*
 * How soon does the report name what happened, and how often does it name what did not? On invented histories with known truth.
 *   history [--short]                       prints the figures of docs/statistics.md
 *   history --ledger FILE [--seed N] [--nothing-happens]     puts one history on record, for `counterfoil report`
 */
#include "statistics/signals.h"

#include "bench.h"
#include "history_cells.h"
#include "history_ledger.h"
#include "statistics/statistics.h"

#include <inttypes.h>
#include <string.h>

/* ---- Looking for what is known ---- */

struct found {
    const struct signal *sensor, *run, *series;
    uint32_t others; /* signals of what did not happen */
};

static bool is_lane(const struct cells *cells, uint16_t lane, uint32_t wanted)
{
    char name[16];
    (void)snprintf(name, sizeof name, "lane %u", (unsigned)wanted + 1);
    return lane != CELL_ALL && strcmp(cells->lanes[lane].name, name) == 0;
}

static struct found found_of(const struct history_plan *plan, const struct cells *cells, const struct signals *signals)
{
    struct found found = {NULL, NULL, NULL, 0};
    for (uint32_t i = 0; i < signals->count; i++) {
        const struct signal *signal = &signals->list[i];
        int64_t first = signal->first_hour * CELL_HOUR_MS - HISTORY_BEGIN_MS;
        int32_t day = (int32_t)(first / HISTORY_DAY_MS);
        if (signal->kind == SIGNAL_SENSOR && plan->drift_day >= 0 && signal->channel == CFOIL_CHANNEL_INFRARED &&
            is_lane(cells, signal->lane, plan->drift_lane))
            found.sensor = signal;
        else if (signal->kind == SIGNAL_RUN && plan->run_day == day && signal->named.value_minor == plan->run_value)
            found.run = signal;
        else if (signal->kind == SIGNAL_NOTES && plan->series_day >= 0 &&
                 signal->named.value_minor == plan->series_value)
            found.series = signal;
        else
            found.others++;
    }
    return found;
}

static void history_look(const struct history_plan *plan, struct cells *cells, struct signals *signals)
{
    *cells = (struct cells){.memory = &memory_heap};
    *signals = (struct signals){.memory = &memory_heap};
    if (!history_count(plan, cells) || !signals_find(cells, signals))
        bench_fail("memory for a history");
}

/* ---- Figures ---- */

static void share_print(const char *what, uint32_t count, uint32_t of)
{
    double lower = 0;
    double upper = 1;
    (void)interval_wilson(count, of, QUANTILE_975, &lower, &upper);
    printf("%-58s %4" PRIu32 " of %4" PRIu32 "  (%.1f to %.1f %%)\n", what, count, of, 100 * lower, 100 * upper);
    fflush(stdout);
}

static uint32_t false_count(const struct history_plan *plan, uint32_t histories)
{
    uint32_t wrong = 0;
    for (uint32_t i = 0; i < histories; i++) {
        struct history_plan mine = *plan;
        struct cells cells;
        struct signals signals;
        mine.seed = 1000 + i;
        history_look(&mine, &cells, &signals);
        wrong += found_of(&mine, &cells, &signals).others > 0;
        signals_free(&signals);
        cells_free(&cells);
    }
    return wrong;
}

/* Days from what happens to the first evening on which the report names it; -1 = never within the history. */
enum what { WHAT_SENSOR, WHAT_RUN, WHAT_SERIES };

static int32_t delay_of(struct history_plan plan, enum what what, int32_t begins)
{
    uint32_t days = plan.days;
    for (uint32_t until = (uint32_t)begins + 1; until <= days; until++) {
        struct cells cells;
        struct signals signals;
        plan.days = until;
        history_look(&plan, &cells, &signals);
        struct found found = found_of(&plan, &cells, &signals);
        const struct signal *signal[] = {found.sensor, found.run, found.series};
        bool named = signal[what] != NULL;
        signals_free(&signals);
        cells_free(&cells);
        if (named)
            return (int32_t)until - 1 - begins;
    }
    return -1;
}

static void delays_print(const char *title, const struct history_plan *plan, enum what what, int32_t begins,
                         uint32_t histories)
{
    uint64_t delays[1000];
    uint32_t named = 0;
    for (uint32_t i = 0; i < histories && i < 1000; i++) {
        struct history_plan mine = *plan;
        mine.seed = 5000 + i;
        int32_t delay = delay_of(mine, what, begins);
        if (delay >= 0)
            delays[named++] = (uint64_t)delay;
    }
    share_print(title, named, histories);
    if (named > 0)
        printf("    days until it was named: median %" PRIu64 ", nine of ten within %" PRIu64 "\n",
               bench_percentile(delays, named, 0.5), bench_percentile(delays, named, 0.9));
}

static void figures_print(uint32_t histories)
{
    struct history_plan only = history_quiet;
    struct history_plan uneven = history_quiet;
    printf("histories of %" PRIu32 " days, %" PRIu32 " lanes, %.0f notes a lane and day\n", only.days, only.lanes,
           only.notes_per_day);
    share_print("nothing happens: something is named", false_count(&only, 4 * histories), 4 * histories);
    uneven.day_spread = 0.3;
    share_print("the same, days very uneven (30 %): something is named", false_count(&uneven, 4 * histories),
                4 * histories);
    share_print("all three happen: something else is named", false_count(&history_demo, histories), histories);
    only.drift_day = history_demo.drift_day;
    only.clean_day = (int32_t)only.days;
    only.drift_length = history_demo.drift_length;
    only.drift_lane = history_demo.drift_lane;
    only.drift_rise = history_demo.drift_rise;
    delays_print("a sensor drifts to 10 times in 14 days: named", &only, WHAT_SENSOR, only.drift_day, histories / 4);
    only.drift_rise = 4;
    delays_print("a sensor drifts to 4 times in 14 days: named", &only, WHAT_SENSOR, only.drift_day, histories / 4);
    only = history_quiet;
    only.run_day = history_demo.run_day;
    only.run_hour = history_demo.run_hour;
    only.run_notes = history_demo.run_notes;
    only.run_value = history_demo.run_value;
    delays_print("seven doubtful notes of one value within an hour: named", &only, WHAT_RUN, only.run_day,
                 histories / 4);
    only = history_quiet;
    only.series_day = history_demo.series_day;
    only.series_length = history_demo.series_length;
    only.update_day = (int32_t)only.days;
    only.series_value = history_demo.series_value;
    only.series_share = history_demo.series_share;
    delays_print("a new series that grows to a quarter in 21 days: named", &only, WHAT_SERIES, only.series_day,
                 histories / 4);
}

/* ---- One history on record ---- */

static int ledger_write(const char *path, uint64_t seed, bool nothing)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct history_plan plan = nothing ? history_quiet : history_demo;
    struct ledger *ledger;
    options.path = path;
    options.store = "North Quay";
    plan.seed = seed;
    int32_t result = ledger_open(&memory_heap, &options, &ledger, &error);
    if (result == CFOIL_OK) {
        result = history_append(&plan, ledger, &error);
        ledger_release(ledger);
    }
    if (result != CFOIL_OK)
        fprintf(stderr, "history: %s\n", error.text);
    return result == CFOIL_OK ? 0 : 1;
}

int main(int argc, char **argv)
{
    const char *path = NULL;
    uint64_t seed = 1;
    bool nothing = false;
    uint32_t histories = 200;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--ledger") == 0 && i + 1 < argc)
            path = argv[++i];
        else if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = strtoull(argv[++i], NULL, 10);
        else if (strcmp(argv[i], "--nothing-happens") == 0)
            nothing = true;
        else if (strcmp(argv[i], "--short") == 0)
            histories = 4;
        else
            bench_fail("reading the options");
    }
    if (path != NULL)
        return ledger_write(path, seed, nothing);
    figures_print(histories);
    return 0;
}
