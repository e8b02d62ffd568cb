/*
 * Has one rate risen, and since when? Days of one question, a chart that needs no base period, and the stretch that stands out.
 * Knows no notes.
 */
#ifndef STATISTICS_SERIES_H
#define STATISTICS_SERIES_H

#include "statistics/charts.h"

#include <stddef.h>

/* Before anything is said (our choice; no source). */
#define SERIES_DAYS_LEAST   20
#define SERIES_TRIALS_LEAST 400
#define SERIES_EVENTS_LEAST 8

/* A chart of a series whose rate does not change runs so many days on the mean until it signals falsely. */
#define SERIES_RUN_DAYS 2000.0

/* EWMA of daily scores from one event a day on (its weight), Bernoulli sum with fewer (a rise to so many times the rate). */
#define SERIES_EWMA_WEIGHT 0.1
#define SERIES_EWMA_EVENTS 1.0
#define SERIES_RARE_RISE   3.0

enum series_chart { SERIES_CHART_NONE, SERIES_CHART_EWMA, SERIES_CHART_SHARE, SERIES_CHART_BERNOULLI };

struct series_result {
    enum series_chart chart; /* that speaks strongest; NONE = too few counts, nothing else is set */
    double p;                /* of as much or more in a series that does not change */
    double spread;           /* Laney's factor that the limits were widened by, 1 or more */
    uint32_t seen;           /* first day beyond the chart's limit, counted from 0; `count` = never */
};

/* `scores` is work space for as many numbers as there are days. */
struct series_result series_test(const struct group *days, uint32_t count, double *scores);

/* The normal score of a day against all days before it: which of the events so far fell on it, by chance alone? (Hypergeometric, mid-P.)
 * False when there is nothing to compare. */
bool day_score(const struct group *past, const struct group *day, double *score);

/* The stretch of days in which the rate stands out most above that of the other days. False when no stretch does. */
struct stretch {
    uint32_t first, after; /* first day in it, first day after it */
    struct group inside, outside;
};
bool series_stretch(const struct group *days, uint32_t count, struct stretch *stretch);

#endif
