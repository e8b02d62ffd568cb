/*
 * What does a refusal mean, when genuine notes are so many? The base rate, and what it makes of a refusal.
 */
#ifndef STATISTICS_PREDICT_H
#define STATISTICS_PREDICT_H

#include <stdbool.h>
#include <stdint.h>

/* Published shares of counterfeits among notes in circulation, per million and year; replaceable data, not law. */
struct base_rate {
    const char *currency;
    double per_million;
    const char *year;
    const char *source;
    const char *mark; /* how far the figure is trusted: docs/sources.md */
};
const struct base_rate *base_rate_find(const char *currency); /* NULL = no published figure */

/* The chance for the next note offered was never published. Taken (our judgement): a tenth of the yearly share, within a
 * hundredth of it and ten times it. */
#define BASE_CENTRE 0.1
#define BASE_LOW    0.01
#define BASE_HIGH   10.0

/* How many counterfeits a machine refuses was not published for any machine either: an assumption. */
#define CATCH_ASSUMED 0.99

/* Odds in logarithms that a refused note is a counterfeit, when `prior` of the notes offered are, the machine refuses `caught` of these,
 * and `refused` of the genuine ones. All above 0 and below 1. */
double predictive_log_odds(double prior, double caught, double refused);

#endif
