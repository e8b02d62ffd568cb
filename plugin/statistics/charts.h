/*
 * Has a rate or a level moved? Control charts: limits for shares, weighted averages, cumulative sums. Knows no notes.
 */
#ifndef STATISTICS_CHARTS_H
#define STATISTICS_CHARTS_H

#include <stdbool.h>
#include <stdint.h>

/* One sub-group: `events` of `trials`. Groups without trials are passed over everywhere. */
struct group {
    uint64_t events, trials;
};

struct limits {
    double lower, centre, upper;
};

/* The share over all groups. False without trials or when a group has more events than trials. */
bool groups_share(const struct group *groups, uint32_t count, double *share);

/* p-chart: three standard deviations around `share` for a group of `trials` (not 0), each `spread` times as wide as by
 * chance (1 for an ordinary chart), kept within 0 and 1. At a share of 0 or 1 there is no width: ask for a longer base. */
struct limits share_limits(double share, uint64_t trials, double spread);

/* A point beyond a limit; one on it is within. Never when the limits have no width. */
bool limits_passed(const struct limits *limits, double value);

/* c-chart and u-chart: counts for each unit around the mean `rate`, seen over `units` (more than 0). */
struct limits count_limits(double rate, double units);

/* Laney's factor for shares that differ by more than chance: 1 is chance alone. Needs two groups with trials and a share
 * that is neither 0 nor 1; below about 20 groups it is unsteady, and a fault within the base hides itself. */
bool laney_spread(const struct group *groups, uint32_t count, double *spread);

/* Observed variance against that of chance: `ratio`, and the probability of as much or more by chance. Two groups at least. */
struct dispersion {
    double ratio, statistic, p;
};
bool binomial_dispersion(const uint64_t *events, uint32_t count, uint64_t trials, struct dispersion *dispersion);
bool poisson_dispersion(const uint64_t *events, uint32_t count, struct dispersion *dispersion);

/* Mean, standard deviation (n - 1) and autocorrelation at lag 1 of values in order. A deviation needs two values, a correlation
 * different ones; what cannot be told is 0. */
struct moments {
    double mean, deviation, autocorrelation;
};
struct moments moments_of(const double *values, uint32_t count);

/* Exponentially weighted moving average. 0 < weight <= 1; start with value = target, points = 0. A missing day: no call. */
struct ewma {
    double target, sigma, weight, width; /* width: of the limits, in standard deviations of the average */
    double value;
    uint32_t points;
};
bool ewma_add(struct ewma *ewma, double x);                /* whether the average is beyond its limits now */
struct limits ewma_limits(const struct ewma *ewma);        /* exact for the points so far */
struct limits ewma_limits_steady(const struct ewma *ewma); /* after many points */

/* Tabular cumulative sums. Slack K and decision interval H in the units of the data; a sum above H signals.
 * `points_high` and `points_low` count since the sum was last 0: the shift began after that point. */
struct cusum {
    double target, slack, decision;
    double high, low;
    uint32_t points_high, points_low;
};
bool cusum_add(struct cusum *cusum, double x);

#endif
