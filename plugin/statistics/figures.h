/*
 * Counting: what the entries of a period say, in total and for each lane.
 */
#ifndef STATISTICS_FIGURES_H
#define STATISTICS_FIGURES_H

#include "statistics/signals.h"

/* One place for each code, and the last for words that we do not know. */
enum {
    REASON_PLACES = CFOIL_REASON_TAMPERING + 2,
    CONDITION_PLACES = CFOIL_CONDITION_IDENTIFIED + 2,
    ADVICE_PLACES = CFOIL_ADVICE_CHECK_MACHINE + 2,
    DISPOSITION_PLACES = CFOIL_DISPOSITION_ABANDONED + 2
};

#define NAME_SIZE 65 /* of a store or a lane */

struct money {
    struct money *next;
    char currency[4];
    uint64_t notes;
    int64_t minor;
};

struct figures {
    /* Presentations: each is in one of these. */
    uint64_t stacked;
    uint64_t returned;
    uint64_t held_open; /* held, and no outcome on record in the period */
    uint64_t rejected[REASON_PLACES];

    struct money *money_stacked;
    uint64_t stacked_without_value;

    uint64_t conditions[CONDITION_PLACES];
    uint64_t losses;           /* reports of lost events */
    uint64_t losses_uncounted; /* of these, without a number */
    uint64_t events_lost;      /* the sum of the numbers */
    uint64_t connections_lost;

    uint64_t cases[DISPOSITION_PLACES][ADVICE_PLACES];
    uint64_t overrides;
    struct money *money_set_aside;
};

/* One machine's numbering. A lane has several when other ledgers' lanes of the same name were imported. */
struct numbering {
    struct numbering *next;
    char ledger[NAME_SIZE], store[NAME_SIZE]; /* where it was imported from; "" = recorded here */
    uint64_t sequence;                        /* of the event seen last */
    uint64_t held;                            /* presentation that is held and has no outcome yet, 0 = none */
    uint16_t place;                           /* of this machine in the cells */
    struct lane_watch watch;
};

struct lane_figures {
    struct lane_figures *next;
    char name[NAME_SIZE];
    struct numbering own;
    struct figures figures;
};

/* What became of kept notes, as told in the period. */
enum { CUSTODY_PLACES = 10 }; /* as many as there are states (ledger/custody.h) */
enum { CUSTODY_AGES = 4 };
extern const int custody_age_days[CUSTODY_AGES - 1]; /* up to so many days; the last place is for what is older */
struct custody_figures {
    uint64_t steps[CUSTODY_PLACES]; /* by the state that the note came into */
    uint64_t held;                  /* now, by record, whatever the period */
    uint64_t aged[CUSTODY_AGES];    /* of these, by how long they are where they are: see custody_age_days */
    char oldest_since[32];          /* RFC 3339, "" = none is held */
};

struct report {
    const struct memory *memory;
    const cfoil_report_options *options;
    char store[NAME_SIZE];
    uint64_t entries; /* read, of the period */
    int64_t first_entry;
    int64_t last_entry;
    int64_t last_time_utc_ms;
    uint64_t unreadable;
    bool memory_failed;
    struct figures total;
    struct lane_figures *lanes; /* by name */
    struct cells cells;
    struct signals signals;
    struct custody_figures custody;
};

/* Counts one entry (a ledger_visit). False when there is no memory. */
bool report_entry_count(void *report, int64_t number, const char *kind, int64_t time_utc_ms, const char *body);

void report_free(struct report *report); /* what it points to */

/* ---- Sums ---- */

struct rate {
    const char *name; /* for JSON */
    const char *text; /* for people */
    uint64_t count;
    uint64_t of;
};

enum { RATES = 3, TOO_FEW_BELOW = 100 };

uint64_t figures_rejected(const struct figures *figures);
uint64_t figures_accepted(const struct figures *figures); /* held or stacked: the machine found nothing wrong */
void figures_rates(const struct figures *figures, struct rate rates[RATES]);
uint64_t cases_ended(const struct figures *figures, int32_t disposition); /* -1 = all */

#endif
