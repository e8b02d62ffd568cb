/*
 * The history of an invented shop: what happened at its lanes over months, with known truth. The same seed gives the same history.
 * Currency XTS, the code that ISO 4217 keeps for tests; values 5, 10, 20 and 50; series A, and B that comes out later.
 */
#ifndef HISTORY_H
#define HISTORY_H

#include "chance.h"

#include <stdbool.h>
#include <stdint.h>

#define HISTORY_LANES_MAX 12
#define HISTORY_BEGIN_MS  INT64_C(1767571200000) /* 2026-01-05, a Monday, 00:00 UTC */
#define HISTORY_DAY_MS    INT64_C(86400000)

/* What goes wrong; days from 0, none when the day is negative. */
struct history_plan {
    uint64_t seed;
    uint32_t days, lanes;
    double notes_per_day; /* and lane, on a usual day */
    double day_spread;    /* of the rates of refusal, from day to day: standard deviation of the logarithm */
    /* A sensor drifts from `drift_day` on, over `drift_length` days, to `drift_rise` times its rate, until it is cleaned. */
    int32_t drift_day, drift_length, clean_day;
    uint32_t drift_lane;
    double drift_rise;
    /* So many doubtful notes of one value come in within an hour. */
    int32_t run_day;
    uint32_t run_hour, run_notes;
    int64_t run_value;
    /* Series B of one value comes out, and grows to a share of it; machines refuse it until their data sets know it. */
    int32_t series_day, series_length, update_day;
    int64_t series_value;
    double series_share;
};
extern const struct history_plan history_demo;  /* everything above happens */
extern const struct history_plan history_quiet; /* nothing does */

/* One insertion, in the order of time. A refused note that was looked at by hand has its case straight after it. */
struct history_event {
    int64_t time_utc_ms;
    uint32_t lane; /* from 0 */
    uint64_t sequence;
    uint64_t sequence_before; /* of the refusal before, when the same note was fed again; 0 = none */
    int64_t value_minor;
    const char *series;
    int32_t reason;      /* CFOIL_REASON_NONE = accepted */
    int32_t channel;     /* CFOIL_CHANNEL_* */
    int32_t disposition; /* of its case; CFOIL_DISPOSITION_NONE = no case */
    bool doubtful;       /* truth, which no machine knows */
};
typedef bool (*history_visit)(void *user, const struct history_event *event);

/* Tells the whole history; false when a visit did. */
bool history_tell(const struct history_plan *plan, history_visit visit, void *user);

#endif
