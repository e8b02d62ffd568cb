/*
 * From insertions in the order of time to the table of counts. See cells.h.
 */
#include "statistics/cells.h"

#include "ledger/rollup.h"

#include <string.h>

/* One insertion with its marks into a cell, or out of it again. */
static bool cell_add(struct cells *cells, const struct cell_key *key, bool first, bool last)
{
    struct cell *cell = cells_at(cells, key);
    if (cell == NULL)
        return false;
    cell->counts.insertions++;
    cell->counts.firsts += first;
    cell->counts.lasts += last;
    return true;
}

static void cell_take(struct cells *cells, const struct cell_key *key, bool first, bool last)
{
    struct cell *cell = cells_at(cells, key); /* it is there: it was counted before */
    if (cell == NULL)
        return;
    cell->counts.insertions--;
    cell->counts.firsts -= first;
    cell->counts.lasts -= last;
}

static void refusal_remember(struct lane_watch *watch, const struct cell_key *key, uint64_t sequence, bool first)
{
    uint32_t at = (uint32_t)(watch->refusal_count++ % LANE_WATCH_REFUSALS);
    watch->refusals[at].key = *key;
    watch->refusals[at].sequence = sequence;
    watch->refusals[at].first = first;
    watch->refusals[at].last = true;
}

/* The refusal before was not the end of its note. */
static void newest_continue(struct cells *cells, struct lane_watch *watch)
{
    uint32_t at = (uint32_t)((watch->refusal_count - 1) % LANE_WATCH_REFUSALS);
    struct cell *cell = cells_at(cells, &watch->refusals[at].key);
    if (cell != NULL)
        cell->counts.lasts--;
    watch->refusals[at].last = false;
}

/* The same rule as that of the ledger's sums: soon enough, and not a note of another value. */
static bool fed_again(const struct cells *cells, const struct lane_watch *watch, const struct insertion *insertion)
{
    int64_t waited = insertion->time_utc_ms - watch->time_utc_ms;
    if (!watch->refused || waited < 0 || waited > ROLLUP_RETRY_MS)
        return false;
    const struct cell_note *before = &cells->notes[watch->note];
    const struct cell_note *now = &cells->notes[insertion->note];
    bool both_known = before->currency[0] != '\0' && now->currency[0] != '\0';
    return !both_known || (strcmp(before->currency, now->currency) == 0 && before->value_minor == now->value_minor);
}

bool insertion_count(struct cells *cells, struct lane_watch *watch, const struct insertion *insertion)
{
    int64_t hour = insertion->time_utc_ms / CELL_HOUR_MS - (insertion->time_utc_ms % CELL_HOUR_MS < 0);
    struct cell_key key = {.hour = hour < INT32_MIN || hour > INT32_MAX ? 0 : (int32_t)hour,
                           .lane = insertion->lane,
                           .note = insertion->note,
                           .channel = insertion->channel,
                           .outcome = insertion->outcome,
                           .reason = insertion->reason};
    bool trial = insertion->outcome != CELL_NO_TRIAL;
    bool again = trial && fed_again(cells, watch, insertion);
    if (!cell_add(cells, &key, trial && !again, trial))
        return false;
    if (!trial)
        return true;
    if (again)
        newest_continue(cells, watch);
    watch->time_utc_ms = insertion->time_utc_ms;
    if (!again)
        watch->note = insertion->note;
    watch->refused = insertion->outcome != CELL_ACCEPTED;
    if (watch->refused)
        refusal_remember(watch, &key, insertion->sequence, !again);
    return true;
}

bool insertion_identify(struct cells *cells, struct lane_watch *watch, uint64_t sequence, uint16_t note)
{
    uint64_t kept = watch->refusal_count < LANE_WATCH_REFUSALS ? watch->refusal_count : LANE_WATCH_REFUSALS;
    for (uint64_t back = 1; sequence > 0 && back <= kept; back++) { /* a lane numbers anew: the newest one is meant */
        uint32_t at = (uint32_t)((watch->refusal_count - back) % LANE_WATCH_REFUSALS);
        if (watch->refusals[at].sequence != sequence)
            continue;
        struct cell_key *key = &watch->refusals[at].key;
        struct cell_key known = *key;
        known.note = note;
        if (!cell_add(cells, &known, watch->refusals[at].first, watch->refusals[at].last))
            return false;
        cell_take(cells, key, watch->refusals[at].first, watch->refusals[at].last);
        *key = known;
        return true;
    }
    return true;
}
