/*
 * Counting entries into cells, and what must be remembered of each lane between two entries.
 */
#ifndef LEDGER_ROLLUP_COUNT_H
#define LEDGER_ROLLUP_COUNT_H

#include "ledger/rollup.h"

/* Another ledger, or a history without one, that entries were imported from. */
struct rollup_source {
    struct rollup_source *next; /* by id, which counts from 1 */
    int64_t id;
    bool fresh; /* not in the file yet */
    char ledger[65];
    char store[ROLLUP_TEXT_SIZE];
};

struct rollup_lane {
    struct rollup_lane *next;
    int64_t source;
    char name[ROLLUP_TEXT_SIZE];
    int64_t sequence;              /* of the event seen last */
    int64_t held;                  /* presentation that is held and has no outcome yet, 0 = none */
    struct rollup_key held_key;    /* where it counts */
    int64_t refused_utc_ms;        /* when a note was refused last that may be put in again, 0 = none */
    struct rollup_key refused_key; /* where the first refusal of that note counts */
};

struct rollup_sums;

/* Fills a lane that is met for the first time, when earlier entries were counted before. False = it failed. */
typedef bool (*rollup_lane_load)(void *user, struct rollup_lane *lane);

/* NULL = no memory. `load` may be NULL: the first entry counted is the first there is. */
struct rollup_sums *rollup_sums_create(const struct memory *memory, rollup_lane_load load, void *user);
void rollup_sums_free(struct rollup_sums *sums);

/* Counts one entry; they must come in their order. False = no memory, or loading a lane failed. */
bool rollup_sums_count(struct rollup_sums *sums, const char *kind, int64_t time_utc_ms, const char *body);

/* Names a source that is known already, in the order of the ids. False = no memory. */
bool rollup_sums_source_add(struct rollup_sums *sums, int64_t id, const char *ledger, const char *store);

const struct rollup_source *rollup_sums_sources(const struct rollup_sums *sums);
const struct rollup_lane *rollup_sums_lanes(const struct rollup_sums *sums);

/* Adds the counts of a cell to those of the same combination. False = no memory. */
bool rollup_sums_cell_add(struct rollup_sums *sums, const struct rollup_cell *cell);

/* Each combination once, in the order of their first entries. False when the visitor ended it. */
bool rollup_sums_visit(const struct rollup_sums *sums, rollup_visit visit, void *user);

#endif
