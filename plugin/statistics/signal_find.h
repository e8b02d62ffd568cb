/*
 * What the files that find signals share. See signals.h.
 */
#ifndef STATISTICS_SIGNAL_FIND_H
#define STATISTICS_SIGNAL_FIND_H

#include "statistics/signals.h"

/* Notes of one value within two neighbouring hours, before a run is spoken of (our choice; no source). */
#define RUN_LEAST 4
#define RUN_HOURS 2

/* One question about days. */
struct series {
    uint16_t lane, note, channel; /* CELL_ALL where it is about all */
    uint8_t outcome;
    struct group *days;
    struct series_result result;
};

struct run {
    uint16_t note;
    int32_t hour;
    struct group inside, outside;
    double p;
    bool told;
};

struct finder {
    const struct cells *all;
    struct cells days, hours; /* first insertions by lane, note, outcome and channel */
    struct signals *signals;
    struct series *series;
    uint32_t series_count, series_capacity;
    uint16_t *plain; /* of each note: its place without the series */
    double *p, *adjusted;
    struct run *runs;
    uint32_t run_count;
};

static inline bool is_refusal(const struct cell *cell)
{
    return cell->key.outcome == CELL_REFUSED || cell->key.outcome == CELL_UNTOLD;
}

static inline bool is_trial(const struct cell *cell)
{
    return cell->key.outcome != CELL_NO_TRIAL;
}

/* Events and trials of one part (a value, or a lane), inside and outside the signal's time. */
struct part {
    double events_inside, events_outside, trials_inside, trials_outside;
};

enum part_of { PART_OF_NOTES, PART_OF_LANES };

/* The parts of a signal: values of the refusals of one machine, or machines of the refusals of one value. */
struct sharing {
    struct part *parts; /* work space */
    uint32_t count;     /* how many parts share in it */
    uint16_t most;      /* the one with the greatest excess */
    double most_share;  /* its share of all that is too much */
    double others;      /* the probability that the rest, without that one, is raised by chance alone */
};

void sharing_find(const struct finder *finder, const struct signal *signal, enum part_of of, struct sharing *sharing);

/* The pair of hours in which a value stands out most; `all` = its refusals and all trials of the period. */
void run_find(const struct finder *finder, uint16_t note, struct group all, struct run *run);

#endif
