/*
 * How long does a chart run until it signals, when nothing or when something has happened? And the other way round: which
 * limits give a wanted run? Knows no notes.
 */
#ifndef STATISTICS_RUN_LENGTH_H
#define STATISTICS_RUN_LENGTH_H

#include <stdbool.h>
#include <stdint.h>

/* Tabular cumulative sums of independent normal values with standard deviation 1. All in standard deviations; both sums begin
 * at `head_start` (0, or half the decision interval for a fast start). */
struct cusum_plan {
    double slack, decision, head_start;
};

/* Mean number of points to the signal of the upper sum alone, and of either sum, when the mean is `shift` off the target.
 * False unless slack >= 0, 0 < decision <= 40 and 0 <= head_start < decision. */
bool cusum_run_length_upper(const struct cusum_plan *plan, double shift, double *points);
bool cusum_run_length(const struct cusum_plan *plan, double shift, double *points);

/* The decision interval with a mean of `points` (10 to 1e6) to a false signal of either sum. */
bool cusum_design(double slack, double points, double *decision);

/* Weighted moving average between fixed (steady) limits of `width` standard deviations of the average, from the target on.
 * False unless 0.01 <= weight <= 1 and 0.5 <= width <= 6. */
bool ewma_run_length(double weight, double width, double shift, double *points);

/* The width with a mean of `points` (10 to 1e6) to a false signal. */
bool ewma_design(double weight, double points, double *width);

/* A sum of counts in whole steps, never below 0: each period adds `per_period` and `per_event` for each event; it signals at
 * `threshold` or more. For a rise per_event is positive and per_period negative, for a fall the other way. */
struct count_sum {
    int32_t per_event, per_period;
    uint32_t threshold, start;
};
#define COUNT_SUM_MAX 64 /* longest threshold that is worked out */

/* Mean number of periods to the signal with Poisson counts of that mean. False unless 0 < threshold <= COUNT_SUM_MAX, start <
 * threshold, mean > 0 and the two steps have different signs. */
bool count_sum_run_length(const struct count_sum *sum, double mean, double *periods);

#endif
