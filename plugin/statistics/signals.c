/*
 * What stands out. See signals.h and docs/statistics.md.
 */
#include "statistics/signal_find.h"

#include "statistics/compare.h"

#include <math.h>
#include <string.h>

#define HOURS_OF_DAY 24
#define DAYS_MOST    3700 /* ten years */

/* One value is taken for the whole of a machine's trouble when it is so much of what is too much, and the other values are not
 * raised but with such a probability of chance; several machines share in a value when the others are raised with at most
 * OTHERS_CHANCE (our choices; no source). */
#define NEARLY_ALL     0.9
#define MOST_OF_IT     0.7
#define OTHERS_CHANCE  0.001
#define OTHERS_PERHAPS 0.05
/* A time of at most so many days of one value is that of its run. */
#define SHORT_DAYS 2

static void *room(struct finder *finder, size_t count, size_t size)
{
    return memory_allocate(finder->signals->memory, count == 0 ? size : count * size);
}

/* ---- Series ---- */

static struct series *series_at(struct finder *finder, const struct series *wanted)
{
    for (uint32_t i = 0; i < finder->series_count; i++) {
        struct series *series = &finder->series[i];
        if (series->lane == wanted->lane && series->note == wanted->note && series->channel == wanted->channel &&
            series->outcome == wanted->outcome)
            return series;
    }
    if (finder->series_count == finder->series_capacity) {
        uint32_t capacity = finder->series_capacity == 0 ? 32 : 2 * finder->series_capacity;
        struct series *grown = room(finder, capacity, sizeof *grown);
        if (grown == NULL)
            return NULL;
        if (finder->series_count > 0)
            memcpy(grown, finder->series, finder->series_count * sizeof *grown);
        memory_release(finder->signals->memory, finder->series);
        finder->series = grown;
        finder->series_capacity = capacity;
    }
    struct series *series = &finder->series[finder->series_count];
    *series = *wanted;
    series->days = room(finder, (size_t)finder->signals->days, sizeof *series->days);
    finder->series_count += series->days != NULL;
    return series->days != NULL ? series : NULL;
}

static bool event_add(struct finder *finder, struct series wanted, int32_t day, uint32_t events)
{
    struct series *series = series_at(finder, &wanted);
    if (series != NULL)
        series->days[day - finder->signals->first_day].events += events;
    return series != NULL;
}

/* The refusals of one day into the questions that they belong to. */
static bool events_add(struct finder *finder, const struct cell *cell)
{
    const struct cell_key *key = &cell->key;
    if (key->outcome == CELL_ACCEPTED || !is_trial(cell) || cell->counts.firsts == 0)
        return true;
    struct series machine = {.lane = key->lane, .note = CELL_ALL, .channel = key->channel, .outcome = key->outcome};
    if (!event_add(finder, machine, key->hour, cell->counts.firsts))
        return false;
    const struct cell_note *note = &finder->days.notes[key->note];
    if (!is_refusal(cell) || note->currency[0] == '\0')
        return true;
    struct series value = {
        .lane = CELL_ALL, .note = finder->plain[key->note], .channel = CELL_ALL, .outcome = CELL_REFUSED};
    struct series one = value;
    one.note = key->note;
    return event_add(finder, value, key->hour, cell->counts.firsts) &&
           (one.note == value.note || event_add(finder, one, key->hour, cell->counts.firsts));
}

/* Every trial of a day counts for the questions of its machine; those of a value for that value, and its refusals of other
 * series for each series too. */
static void trials_add(struct finder *finder)
{
    for (uint32_t i = 0; i < finder->series_count; i++) {
        struct series *series = &finder->series[i];
        for (uint32_t j = 0; j < finder->days.count; j++) {
            const struct cell *cell = &finder->days.cells[j];
            bool mine = series->lane != CELL_ALL ? cell->key.lane == series->lane && is_trial(cell)
                                                 : (cell->key.outcome == CELL_ACCEPTED || is_refusal(cell)) &&
                                                       finder->plain[cell->key.note] == finder->plain[series->note];
            if (mine)
                series->days[cell->key.hour - finder->signals->first_day].trials += cell->counts.firsts;
        }
    }
}

static bool plain_fill(struct finder *finder)
{
    struct cells *days = &finder->days;
    uint32_t known = days->note_count; /* those without their series come after them */
    for (uint32_t i = 0; i < known; i++) {
        uint16_t place;
        if (!cells_note(days, days->notes[i].currency, days->notes[i].value_minor, "", &place))
            return false;
    }
    finder->plain = room(finder, days->note_count, sizeof *finder->plain);
    if (finder->plain == NULL)
        return false;
    for (uint32_t i = 0; i < days->note_count; i++) {
        if (!cells_note(days, days->notes[i].currency, days->notes[i].value_minor, "", &finder->plain[i]))
            return false;
    }
    return true;
}

static bool series_fill(struct finder *finder)
{
    static const struct cell_view by_day = {
        .span = CELL_SPAN_DAY, .lane = true, .note = true, .series = true, .channel = true, .outcome = true};
    static const struct cell_view by_hour = {
        .span = CELL_SPAN_HOUR, .lane = true, .note = true, .series = true, .channel = true, .outcome = true};
    finder->days.memory = finder->hours.memory = finder->signals->memory;
    if (!cells_sum(finder->all, &by_day, &finder->days) || !cells_sum(finder->all, &by_hour, &finder->hours) ||
        !plain_fill(finder))
        return false;
    if (finder->days.count == 0)
        return true;
    struct signals *signals = finder->signals;
    signals->first_day = finder->days.cells[0].key.hour;
    int64_t days = (int64_t)finder->days.cells[finder->days.count - 1].key.hour - signals->first_day + 1;
    if (days > DAYS_MOST)
        return true; /* a clock was wrong, or it is no one period: nothing is said */
    signals->days = (int32_t)days;
    for (uint32_t i = 0; i < finder->days.count; i++) {
        if (!events_add(finder, &finder->days.cells[i]))
            return false;
    }
    trials_add(finder);
    return true;
}

/* ---- From questions to signals ---- */

static bool signal_from_series(const struct finder *finder, const struct series *series, struct signal *signal)
{
    struct stretch stretch;
    const struct signals *signals = finder->signals;
    if (!series_stretch(series->days, (uint32_t)signals->days, &stretch))
        return false;
    int32_t last = signals->days;
    while (last > 0 && series->days[last - 1].trials == 0)
        last--;
    *signal = (struct signal){.chart = series->result.chart,
                              .lane = series->lane,
                              .note = series->note,
                              .channel = series->channel,
                              .first_hour = (signals->first_day + (int32_t)stretch.first) * HOURS_OF_DAY,
                              .after_hour = (signals->first_day + (int32_t)stretch.after) * HOURS_OF_DAY,
                              .seen = series->result.seen < (uint32_t)signals->days,
                              .seen_day = signals->first_day + (int32_t)series->result.seen,
                              .going_on = (int32_t)stretch.after >= last,
                              .inside = stretch.inside,
                              .outside = stretch.outside,
                              .p = series->result.p,
                              .spread = series->result.spread};
    return true;
}

static void machine_sort(const struct finder *finder, uint8_t outcome, struct sharing *sharing, struct signal *signal)
{
    signal->kind = outcome == CELL_FEEDING ? SIGNAL_FEEDING : SIGNAL_SENSOR;
    signal->lanes = 1;
    if (outcome == CELL_FEEDING)
        return;
    sharing_find(finder, signal, PART_OF_NOTES, sharing);
    signal->notes = sharing->count;
    bool nearly_all = sharing->most_share >= NEARLY_ALL && sharing->others > OTHERS_CHANCE;
    bool most_of_it = sharing->most_share >= MOST_OF_IT && sharing->others > OTHERS_PERHAPS;
    if (!nearly_all && !most_of_it)
        return;
    signal->kind = SIGNAL_MACHINE_NOTE;
    signal->note = sharing->most;
}

/* One machine's excess of one value is that machine's business. */
static bool note_sort(const struct finder *finder, struct sharing *sharing, struct signal *signal)
{
    signal->kind = SIGNAL_NOTES;
    signal->notes = 1;
    sharing_find(finder, signal, PART_OF_LANES, sharing);
    signal->lanes = sharing->count;
    return signal->lanes >= 2 && sharing->others <= OTHERS_CHANCE;
}

static bool times_meet(const struct signal *one, const struct signal *other)
{
    return one->first_hour < other->after_hour && other->first_hour < one->after_hour;
}

/* A value and one series of it: the series is told when it makes up at least half of the refusals. */
static bool series_told_by(const struct finder *finder, const struct signal *weak, const struct signal *strong)
{
    bool weak_plain = finder->plain[weak->note] == weak->note;
    bool strong_plain = finder->plain[strong->note] == strong->note;
    if (weak_plain == strong_plain)
        return false;
    const struct signal *one = weak_plain ? strong : weak;
    const struct signal *all = weak_plain ? weak : strong;
    return (2 * one->inside.events >= all->inside.events) == weak_plain;
}

/* Is `weak` told by `strong` already? A value that stands out everywhere, or in a run, is not each machine's fault. */
static bool told_by(const struct finder *finder, const struct signal *weak, const struct signal *strong)
{
    if (weak == strong || weak->note == CELL_ALL || strong->note == CELL_ALL || !times_meet(weak, strong) ||
        finder->plain[weak->note] != finder->plain[strong->note])
        return false;
    bool strong_short = strong->after_hour - strong->first_hour <= SHORT_DAYS * HOURS_OF_DAY;
    bool weak_short = weak->after_hour - weak->first_hour <= SHORT_DAYS * HOURS_OF_DAY;
    switch (weak->kind) {
    case SIGNAL_MACHINE_NOTE: /* several channels of one machine at once: the surest one is told */
        return strong->kind == SIGNAL_NOTES || strong->kind == SIGNAL_RUN ||
               (weak->lane == strong->lane && (weak->p > strong->p || (weak->p >= strong->p && weak > strong)));
    case SIGNAL_NOTES: /* a day or two of one value are those of its run */
        return strong->kind == SIGNAL_NOTES ? series_told_by(finder, weak, strong)
                                            : strong->kind == SIGNAL_RUN && weak_short;
    case SIGNAL_RUN: /* within a long time of the same value a run is a part of it */
        return strong->kind == SIGNAL_NOTES && !strong_short;
    default:
        return false;
    }
}

static void signals_thin(const struct finder *finder)
{
    struct signals *signals = finder->signals;
    uint32_t kept = 0;
    bool told[UINT8_MAX] = {false};
    for (uint32_t i = 0; i < signals->count && i < UINT8_MAX; i++) {
        for (uint32_t j = 0; j < signals->count; j++)
            told[i] = told[i] || told_by(finder, &signals->list[i], &signals->list[j]);
    }
    for (uint32_t i = 0; i < signals->count; i++) {
        if (i < UINT8_MAX && told[i])
            continue;
        struct signal *signal = &signals->list[kept++];
        *signal = signals->list[i];
        if (signal->note != CELL_ALL)
            signal->named = finder->days.notes[signal->note];
    }
    signals->count = kept;
}

static void signals_sort(struct signals *signals)
{
    for (uint32_t i = 1; i < signals->count; i++) {
        struct signal moved = signals->list[i];
        uint32_t at = i;
        for (; at > 0 && signals->list[at - 1].adjusted > moved.adjusted; at--)
            signals->list[at] = signals->list[at - 1];
        signals->list[at] = moved;
    }
}

static struct signal signal_from_run(const struct run *run, double adjusted)
{
    return (struct signal){.kind = SIGNAL_RUN,
                           .lane = CELL_ALL,
                           .note = run->note,
                           .channel = CELL_ALL,
                           .first_hour = run->hour,
                           .after_hour = run->hour + RUN_HOURS,
                           .inside = run->inside,
                           .outside = run->outside,
                           .notes = 1,
                           .p = run->p,
                           .adjusted = adjusted,
                           .spread = 1};
}

static void runs_choose(struct finder *finder, const double *adjusted, struct sharing *sharing)
{
    struct signals *signals = finder->signals;
    for (uint32_t i = 0; i < finder->run_count; i++) {
        finder->runs[i].told = adjusted[i] <= SIGNALS_FALSE_SHARE;
        if (!finder->runs[i].told)
            continue;
        struct signal signal = signal_from_run(&finder->runs[i], adjusted[i]);
        sharing_find(finder, &signal, PART_OF_LANES, sharing);
        signal.lanes = sharing->count;
        signals->list[signals->count++] = signal;
    }
}

static void series_choose(const struct finder *finder, const struct series *series, double adjusted,
                          struct sharing *sharing)
{
    struct signal signal;
    if (adjusted > SIGNALS_FALSE_SHARE || !signal_from_series(finder, series, &signal))
        return;
    signal.adjusted = adjusted;
    bool told = true;
    if (series->lane != CELL_ALL)
        machine_sort(finder, series->outcome, sharing, &signal);
    else
        told = note_sort(finder, sharing, &signal);
    if (told)
        finder->signals->list[finder->signals->count++] = signal;
}

static bool signals_choose(struct finder *finder, uint32_t tests)
{
    struct signals *signals = finder->signals;
    size_t most = finder->days.note_count > finder->days.lane_count ? finder->days.note_count : finder->days.lane_count;
    struct sharing sharing = {.parts = room(finder, most, sizeof *sharing.parts)};
    signals->list = room(finder, tests, sizeof *signals->list);
    bool good = sharing.parts != NULL && signals->list != NULL;
    if (good)
        runs_choose(finder, finder->adjusted + tests - finder->run_count, &sharing);
    uint32_t at = 0;
    for (uint32_t i = 0; good && i < finder->series_count; i++) {
        if (finder->series[i].result.chart != SERIES_CHART_NONE)
            series_choose(finder, &finder->series[i], finder->adjusted[at++], &sharing);
    }
    memory_release(signals->memory, sharing.parts);
    return good;
}

static uint64_t series_events(const struct finder *finder, const struct series *series)
{
    uint64_t events = 0;
    for (int32_t day = 0; day < finder->signals->days; day++)
        events += series->days[day].events;
    return events;
}

/* The runs of all values that were ever refused often enough. */
static void runs_find(struct finder *finder)
{
    for (uint32_t i = 0; i < finder->series_count; i++) {
        const struct series *series = &finder->series[i];
        struct group all = {0, 0};
        if (series->lane != CELL_ALL || series->note != finder->plain[series->note])
            continue;
        all.events = series_events(finder, series);
        for (uint32_t j = 0; j < finder->hours.count; j++)
            all.trials += is_trial(&finder->hours.cells[j]) ? finder->hours.cells[j].counts.firsts : 0;
        if (all.events >= RUN_LEAST && all.trials >= SERIES_TRIALS_LEAST)
            run_find(finder, series->note, all, &finder->runs[finder->run_count++]);
    }
}

/* A value of which one series alone was refused: the same question twice. */
static bool series_is_repeated(const struct finder *finder, const struct series *series)
{
    if (series->lane != CELL_ALL || series->note == finder->plain[series->note])
        return false;
    for (uint32_t i = 0; i < finder->series_count; i++) {
        const struct series *value = &finder->series[i];
        if (value->lane == CELL_ALL && value->note == finder->plain[series->note])
            return series_events(finder, value) == series_events(finder, series);
    }
    return false;
}

static bool tests_make(struct finder *finder, double *scores)
{
    struct signals *signals = finder->signals;
    uint32_t tests = 0;
    for (uint32_t i = 0; i < finder->series_count; i++) {
        struct series *series = &finder->series[i];
        if (series_is_repeated(finder, series))
            continue; /* its result says that there is no chart */
        series->result = series_test(series->days, (uint32_t)signals->days, scores);
        if (series->result.chart == SERIES_CHART_NONE)
            signals->too_few++;
        else
            finder->p[tests++] = series->result.p;
    }
    runs_find(finder);
    for (uint32_t i = 0; i < finder->run_count; i++)
        finder->p[tests++] = finder->runs[i].p;
    signals->tests = tests;
    benjamini_hochberg(finder->p, tests, finder->adjusted);
    return signals_choose(finder, tests);
}

bool signals_find(const struct cells *cells, struct signals *signals)
{
    struct finder finder = {.all = cells, .signals = signals};
    const struct memory *memory = signals->memory;
    bool good = series_fill(&finder);
    double *scores = NULL;
    if (good) {
        finder.p = room(&finder, 2 * (size_t)finder.series_count, sizeof *finder.p);
        finder.adjusted = room(&finder, 2 * (size_t)finder.series_count, sizeof *finder.adjusted);
        finder.runs = room(&finder, finder.series_count, sizeof *finder.runs);
        scores = room(&finder, (size_t)signals->days, sizeof *scores);
        good = finder.p != NULL && finder.adjusted != NULL && finder.runs != NULL && scores != NULL &&
               tests_make(&finder, scores);
    }
    if (good) {
        signals_thin(&finder);
        signals_sort(signals);
    }
    memory_release(memory, finder.runs);
    memory_release(memory, scores);
    memory_release(memory, finder.p);
    memory_release(memory, finder.adjusted);
    memory_release(memory, finder.plain);
    for (uint32_t i = 0; i < finder.series_count; i++)
        memory_release(memory, finder.series[i].days);
    memory_release(memory, finder.series);
    cells_free(&finder.days);
    cells_free(&finder.hours);
    return good;
}

void signals_free(struct signals *signals)
{
    memory_release(signals->memory, signals->list);
    signals->list = NULL;
    signals->count = 0;
}
