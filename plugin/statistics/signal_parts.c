/*
 * Which machines and which values share in what stands out, and runs within an hour. See signal_find.h.
 */
#include "statistics/signal_find.h"

#include "statistics/compare.h"

#include <math.h>
#include <string.h>

/* A value or a machine shares in it from this share of what is too much on. */
#define PART_SHARE 0.1
/* ---- Runs within an hour ---- */

/* Notes of a value (0) and all trials (1) of an hour. */
static struct group hour_group(const struct finder *finder, uint16_t note, uint32_t *at, int32_t hour)
{
    struct group group = {0, 0};
    for (; *at < finder->hours.count && finder->hours.cells[*at].key.hour == hour; (*at)++) {
        const struct cell *cell = &finder->hours.cells[*at];
        group.trials += is_trial(cell) ? cell->counts.firsts : 0;
        group.events += is_refusal(cell) && finder->plain[cell->key.note] == note ? cell->counts.firsts : 0;
    }
    return group;
}

/* The pair of neighbouring hours with notes that stands out most against all other hours. Any hour of sixty minutes lies in
 * such a pair. The probability is that of the pair, times the number of pairs. */
void run_find(const struct finder *finder, uint16_t note, struct group all, struct run *run)
{
    struct group before = {0, 0};
    int32_t hour_before = INT32_MIN;
    uint32_t pairs = 0;
    double least = 1;
    for (uint32_t at = 0; at < finder->hours.count;) {
        int32_t hour = finder->hours.cells[at].key.hour;
        struct group now = hour_group(finder, note, &at, hour);
        struct group pair = now;
        if (hour - 1 == hour_before)
            pair = (struct group){now.events + before.events, now.trials + before.trials};
        pairs++;
        if (pair.events >= RUN_LEAST) {
            struct group others = {all.events - pair.events, all.trials - pair.trials};
            double rate = ((double)others.events + 1) / ((double)others.trials + 1);
            double p = rate < 1 ? binomial_upper_tail(pair.events, pair.trials, rate) : 1;
            if (p < least) {
                least = p;
                run->hour = hour - (hour - 1 == hour_before && before.events > 0);
                run->inside = pair;
                run->outside = others;
            }
        }
        before = now;
        hour_before = hour;
    }
    run->note = note;
    run->p = fmin(least * pairs, 1);
}

/* ---- Who shares in it ---- */

static bool in_signal(const struct cell *cell, const struct signal *signal)
{
    return cell->key.hour >= signal->first_hour && cell->key.hour < signal->after_hour;
}

/* How many of its events are too many, by the rate of the time outside. */
static double part_excess(const struct part *part)
{
    double usual = part->trials_outside > 0 ? part->events_outside / part->trials_outside : 0;
    return part->events_inside - usual * part->trials_inside;
}

/* Refusals in a run are told as that run: they do not count for a longer time of the same value. */
static bool in_run(const struct finder *finder, const struct cell *cell)
{
    for (uint32_t i = 0; i < finder->run_count; i++) {
        const struct run *run = &finder->runs[i];
        if (run->told && run->note == finder->plain[cell->key.note] && cell->key.hour >= run->hour &&
            cell->key.hour < run->hour + RUN_HOURS)
            return true;
    }
    return false;
}

static bool shares_in(const struct finder *finder, const struct signal *signal, enum part_of of,
                      const struct cell *cell)
{
    if (!is_refusal(cell) || (signal->kind != SIGNAL_RUN && in_run(finder, cell)))
        return false;
    if (of == PART_OF_NOTES)
        return cell->key.channel == signal->channel && finder->days.notes[cell->key.note].currency[0] != '\0';
    return cell->key.note == signal->note || finder->plain[cell->key.note] == signal->note;
}

/* Trials are those of the machine: all of them for each value. */
static struct part parts_fill(const struct finder *finder, const struct signal *signal, enum part_of of,
                              struct part *parts, uint32_t count)
{
    struct part all = {0, 0, 0, 0};
    memset(parts, 0, count * sizeof *parts);
    for (uint32_t i = 0; i < finder->hours.count; i++) {
        const struct cell *cell = &finder->hours.cells[i];
        if (!is_trial(cell) || (of == PART_OF_NOTES && cell->key.lane != signal->lane))
            continue;
        double firsts = cell->counts.firsts;
        double events = shares_in(finder, signal, of, cell) ? firsts : 0;
        struct part *part = &parts[of == PART_OF_NOTES ? finder->plain[cell->key.note] : cell->key.lane];
        bool inside = in_signal(cell, signal);
        *(inside ? &part->events_inside : &part->events_outside) += events;
        *(inside ? &part->trials_inside : &part->trials_outside) += firsts;
        *(inside ? &all.events_inside : &all.events_outside) += events;
        *(inside ? &all.trials_inside : &all.trials_outside) += firsts;
    }
    for (uint32_t i = 0; of == PART_OF_NOTES && i < count; i++) {
        parts[i].trials_inside = all.trials_inside;
        parts[i].trials_outside = all.trials_outside;
    }
    return all;
}

/* Is what is left without the greatest part raised too? */
static double others_chance(const struct part *all, const struct part *most, enum part_of of)
{
    double less_inside = of == PART_OF_LANES ? most->trials_inside : 0;
    double less_outside = of == PART_OF_LANES ? most->trials_outside : 0;
    struct group inside = {(uint64_t)(all->events_inside - most->events_inside),
                           (uint64_t)(all->trials_inside - less_inside)};
    struct group outside = {(uint64_t)(all->events_outside - most->events_outside),
                            (uint64_t)(all->trials_outside - less_outside)};
    struct exact_test test;
    return fisher_test(&inside, &outside, &test) ? test.greater : 1;
}

void sharing_find(const struct finder *finder, const struct signal *signal, enum part_of of, struct sharing *sharing)
{
    uint32_t count = of == PART_OF_NOTES ? finder->days.note_count : finder->days.lane_count;
    struct part all = parts_fill(finder, signal, of, sharing->parts, count);
    double greatest = 0;
    sharing->most = CELL_ALL;
    sharing->count = 0;
    for (uint32_t i = 0; i < count; i++) {
        double excess = part_excess(&sharing->parts[i]);
        sharing->count += excess > 0 && excess >= PART_SHARE * part_excess(&all);
        if (excess > greatest) {
            greatest = excess;
            sharing->most = (uint16_t)i;
        }
    }
    sharing->most_share = greatest > 0 ? greatest / fmax(part_excess(&all), greatest) : 0;
    sharing->others = sharing->most != CELL_ALL ? others_chance(&all, &sharing->parts[sharing->most], of) : 1;
}
