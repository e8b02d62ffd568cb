/*
 * How often did what happen, hour by hour? Sums over the entries, kept in the transaction that appends them, so that a
 * report over years need not read years of entries. docs/statistics.md says what each count means.
 *
 * A cell is one combination of hour, lane, note type, reason and so on (struct rollup_key) with its counts. An entry adds
 * to one cell, or to a few; summing cells over any of the keys loses nothing. `rollup_cells()` is the way to read them:
 * it takes the kept sums where they answer the question exactly, and counts the entries themselves where not, by the same
 * code.
 */
#ifndef LEDGER_ROLLUP_H
#define LEDGER_ROLLUP_H

#include "ledger/ledger.h"

#define ROLLUP_HOUR_MS   INT64_C(3600000)
#define ROLLUP_TEXT_SIZE 65

/* A note that was refused and is put in again: the next insertion on its lane within this time counts as the same note.
 * Common practice, no source: long enough to unfold and turn a note, too short for the next customer. */
#define ROLLUP_RETRY_MS INT64_C(20000)

enum rollup_count {
    /* Presentations, each counted once: */
    ROLLUP_HELD,     /* held, and without an outcome until now */
    ROLLUP_STACKED,  /* times value_minor is the money */
    ROLLUP_RETURNED, /* held, then given back */
    ROLLUP_REJECTED,
    /* The same insertions as trials of a note; refusals because of settings, the device's own trouble or tampering are no
     * trials. Of a held note the trial counts in the hour in which it was held. */
    ROLLUP_ACCEPTED_FIRST, /* accepted, and no retry */
    ROLLUP_ACCEPTED_RETRY,
    ROLLUP_REJECTED_FIRST,
    ROLLUP_REJECTED_RETRY,
    ROLLUP_RECOVERED, /* in the cell of a first refusal: the note was accepted when it was put in again */
    /* The machine: */
    ROLLUP_CONDITIONS,       /* how often this condition was told */
    ROLLUP_LOSSES,           /* reports of lost events */
    ROLLUP_LOSSES_UNCOUNTED, /* of these, without a number */
    ROLLUP_EVENTS_LOST,      /* the sum of the numbers */
    ROLLUP_CONNECTIONS_LOST,
    /* People: */
    ROLLUP_CASES,
    ROLLUP_OVERRIDES,
    ROLLUP_STEPS, /* of custody */
    ROLLUP_COUNTS
};

/* What is not told, or has no meaning for an entry, is 0 or "". A word that this version does not know has the number
 * after the last one it knows. */
struct rollup_key {
    int64_t hour;        /* of the entry's time, whole hours since 1970-01-01T00:00Z; of a day the first of its hours */
    int64_t source;      /* 0 = recorded by this ledger itself; else where it was imported from (table `source`) */
    int64_t value_minor; /* 0 = not told */
    int32_t reason;      /* CFOIL_REASON_*; of a case what the machine's refusals come to together */
    uint32_t channels;   /* bit mask of 1u << CFOIL_CHANNEL_*: the findings of the refusal, of a case of all of them */
    int32_t condition;   /* CFOIL_CONDITION_* */
    int32_t disposition; /* CFOIL_DISPOSITION_* */
    int32_t advice;      /* CFOIL_ADVICE_* */
    int32_t move;        /* CFOIL_CUSTODY_* */
    char lane[ROLLUP_TEXT_SIZE];
    char currency[4];
    char type
        [33]; /* the device's own name of the note type (of many devices it tells the series); of a case the series */
};

struct rollup_cell {
    struct rollup_key key;
    int64_t counts[ROLLUP_COUNTS];
};

/* A cell is borrowed for the call. False ends the walk. */
typedef bool (*rollup_visit)(void *user, const struct rollup_cell *cell);

struct rollup_query {
    int64_t from_utc_ms;  /* first moment included; 0 = the beginning */
    int64_t until_utc_ms; /* first moment not included; 0 = the end */
    const char *lane;     /* only this lane; NULL = all */
    bool days;            /* whole UTC days may come as one cell: much less to read when the hour does not matter */
};

/* Every cell of the period, in no order to rely on; one combination may come more than once. A period that begins or ends
 * inside an hour, and a ledger whose sums do not cover its entries (an older file that is only read), are counted from
 * the entries. A note that is held before such a period ends and has its outcome after it counts as held in it. */
int32_t rollup_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                     cfoil_error_info *error);

/* The same from the kept sums only. *kept = false: they do not answer the question, and nothing was visited. */
int32_t rollup_kept_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                          bool *kept, cfoil_error_info *error);

/* The same from the entries only. */
int32_t rollup_counted_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                             cfoil_error_info *error);

/* ---- For the ledger itself, inside a transaction ---- */

/* Counts the entries that are not counted yet: those just appended, and those that a program of an older version has
 * appended. Answers an SQLite code. */
int rollup_advance(struct ledger *ledger);

/* For a new ledger, whose entry 1 tells of its opening and counts nowhere. Answers an SQLite code. */
int rollup_begin(struct ledger *ledger);

/* Empties the sums and counts all entries anew. Answers an SQLite code. */
int rollup_make(struct ledger *ledger);

struct rollup_statements;
void rollup_statements_free(struct rollup_statements *statements, const struct memory *memory); /* NULL is harmless */

#endif
