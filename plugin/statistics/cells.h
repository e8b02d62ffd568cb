/*
 * How many insertions of which note came out how, at which machine, in which hour? One table that everything else sums from.
 */
#ifndef STATISTICS_CELLS_H
#define STATISTICS_CELLS_H

#include "model/memory.h"

#include <counterfoil/counterfoil.h>
#include <stdbool.h>

#define CELL_HOUR_MS INT64_C(3600000)
#define CELL_ALL     UINT16_MAX /* a place of a cell that is a sum over all lanes, notes, ... */

/* What came of an insertion. */
enum cell_outcome {
    CELL_ACCEPTED = 0, /* held or stacked: the machine found nothing wrong */
    CELL_REFUSED = 1,  /* for the note: a feature could not be confirmed, or it was not recognised */
    CELL_UNTOLD = 2,   /* refused, and the machine told no reason, or one that we do not know */
    CELL_FEEDING = 3,  /* folds, skew, jams, transport: says nothing about the note */
    CELL_NO_TRIAL = 4, /* settings, the machine's own trouble, its alarms of interference */
    CELL_OUTCOMES = 5
};
extern const char *const cell_outcome_names[CELL_OUTCOMES];

struct cell_key {
    int32_t hour;  /* since 1970, UTC; or another span, see `struct cell_view` */
    uint16_t lane; /* place in cells.lanes */
    uint16_t note; /* place in cells.notes */
    uint16_t
        channel;     /* CFOIL_CHANNEL_* that the refusal names first; UNKNOWN for what names none and for acceptances */
    uint8_t outcome; /* enum cell_outcome; CELL_OUTCOMES = all */
    uint8_t
        reason; /* CFOIL_REASON_* of a refusal, or the place after the last for a word that we do not know; 255 = all */
};

struct cell_counts {
    uint32_t insertions;
    uint32_t firsts; /* of these, not fed again after a refusal: one for each note, as far as can be told */
    uint32_t lasts;  /* of these, how the note ended at the machine */
};

struct cell {
    struct cell_key key;
    struct cell_counts counts;
};

#define CELL_LANE_SIZE   65
#define CELL_SERIES_SIZE 24
struct cell_lane {
    char name[CELL_LANE_SIZE];
};
struct cell_note { /* currency "" = not known; series "" = not known */
    char currency[4];
    char series[CELL_SERIES_SIZE];
    int64_t value_minor;
};

/* Zeroed but for `memory`. Place 0 of the notes is the unknown note once anything was added. */
struct cells {
    const struct memory *memory;
    struct cell *cells;
    uint32_t count, capacity;
    uint32_t *index; /* by hash: place + 1, 0 = free */
    uint32_t index_size;
    struct cell_lane *lanes;
    uint32_t lane_count, lane_capacity;
    struct cell_note *notes;
    uint32_t note_count, note_capacity;
};

void cells_free(struct cells *cells);

/* Places of names, made when they are new. False when there is no memory, or more than 65,534 of them. */
bool cells_lane(struct cells *cells, const char *wanted, uint16_t *lane);
bool cells_note(struct cells *cells, const char *currency, int64_t value_minor, const char *series, uint16_t *note);

/* The cell of a key, made when it is new; good until the next call. NULL = no memory. */
struct cell *cells_at(struct cells *cells, const struct cell_key *key);
const struct cell *cells_find(const struct cells *cells, const struct cell_key *key); /* NULL = nothing counted */

/* What is kept apart; the rest is summed (CELL_ALL, CELL_OUTCOMES, 255, or hour 0). */
enum cell_span { CELL_SPAN_ALL, CELL_SPAN_HOUR, CELL_SPAN_DAY, CELL_SPAN_WEEK, CELL_SPAN_HOUR_OF_DAY };
struct cell_view {
    enum cell_span span; /* day and week: the number of the day or of the week's Monday since 1970 */
    bool lane, note, series, channel, outcome, reason;
};

/* Sums `from` as seen through the view into `to` (empty but for `memory`), which gets copies of lanes and notes in the same
 * places, and for notes without their series places after them. Sorted by key. False when there is no memory. */
bool cells_sum(const struct cells *from, const struct cell_view *view, struct cells *to);

/* Sums by outcome. Trials are all but CELL_NO_TRIAL. */
struct cell_sums {
    uint64_t insertions[CELL_OUTCOMES], firsts[CELL_OUTCOMES], lasts[CELL_OUTCOMES];
};
void cell_sums_add(struct cell_sums *sums, const struct cell *cell);
uint64_t cell_trials(const uint64_t counts[CELL_OUTCOMES]);

/* ---- Counting insertions ---- */

#define LANE_WATCH_REFUSALS 32u

struct insertion {
    int64_t time_utc_ms;
    uint64_t sequence; /* of the event, 0 = not told */
    uint16_t lane, note, channel;
    uint8_t outcome, reason;
};

/* What is remembered of a lane: its newest refusals, for the cases that will tell which notes they were. Zeroed at first. */
struct lane_watch {
    struct {
        struct cell_key key;
        uint64_t sequence;
        bool first, last;
    } refusals[LANE_WATCH_REFUSALS];
    uint64_t refusal_count; /* in all */
    int64_t time_utc_ms;    /* of the newest insertion */
    uint16_t note;          /* of its first insertion, as the machine named it */
    bool refused;           /* it was, and may be fed again */
};

/* What is fed again, and so the same note, is told as ledger/rollup.h has it. False when there is no memory. */
bool insertion_count(struct cells *cells, struct lane_watch *watch, const struct insertion *insertion);

/* A case tells which note the refusal with that sequence number was. Unknown ones are passed over. */
bool insertion_identify(struct cells *cells, struct lane_watch *watch, uint64_t sequence, uint16_t note);

#endif
