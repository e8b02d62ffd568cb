/*
 * Is it the machine, the notes, or chance? What stands out in a table of counts, with its evidence. Names nobody.
 */
#ifndef STATISTICS_SIGNALS_H
#define STATISTICS_SIGNALS_H

#include "statistics/cells.h"
#include "statistics/series.h"

/* The share of false signals among all that are told, on the mean (Benjamini-Hochberg). The tests hang together to the same side, for
 * which the procedure holds; that they always do is an assumption. */
#define SIGNALS_FALSE_SHARE 0.01

enum signal_kind {
    SIGNAL_SENSOR,       /* one machine, notes of several values: a sensor that drifts, or dirt */
    SIGNAL_MACHINE_NOTE, /* one machine, one value: its data set, or what is brought to that place */
    SIGNAL_FEEDING,      /* one machine feeds worse: belts, dirt, or how notes are put in */
    SIGNAL_NOTES,        /* several machines, one value or series: the notes, or a data set that does not know them */
    SIGNAL_RUN,          /* one after another of one value within an hour */
    SIGNAL_KINDS
};

struct signal {
    enum signal_kind kind;
    enum series_chart chart;
    uint16_t lane; /* SENSOR, MACHINE_NOTE, FEEDING: place in the cells; else CELL_ALL */
    uint16_t note; /* MACHINE_NOTE, NOTES, RUN: not CELL_ALL, and `named` says which */
    struct cell_note named;
    uint16_t channel;               /* SENSOR, MACHINE_NOTE: what the refusals name */
    int32_t first_hour, after_hour; /* when it stands out, in hours since 1970 */
    int32_t seen_day;               /* when the chart first signalled, in days since 1970 */
    bool seen, going_on;            /* `seen_day` is set; it lasts to the last day with notes */
    struct group inside, outside;   /* notes put in for the first time, and of these the refused ones */
    uint32_t lanes, notes;          /* how many machines, and how many values, share in it */
    double p, adjusted, spread;
};

struct signals {
    const struct memory *memory;
    struct signal *list;
    uint32_t count;
    uint32_t tests;   /* made, also the dull ones */
    uint32_t too_few; /* questions that could not be asked yet */
    int32_t first_day, days;
};

/* Zeroed but for `memory`. False when there is no memory. Looks at first insertions only, so that a note that is fed five times
 * counts once. */
bool signals_find(const struct cells *cells, struct signals *signals);
void signals_free(struct signals *signals);

/* Words: kept apart from what finds the signals. Keys as in catalogues of messages. */
struct signal_words {
    const char *key;
    const char *what; /* one sentence */
    const char *next; /* what to do */
};
extern const struct signal_words signal_words[SIGNAL_KINDS];

#endif
