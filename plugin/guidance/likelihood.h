/*
 * The arithmetic of evidence: likelihood ratios, odds, Wald's sequential test, information. Knows no notes.
 * Formulas: odds and ratios as in every textbook of diagnostic tests; the sequential test from "Sequential Analysis"
 * (1947), chapter 5; information gain from "Induction of decision trees" (Machine Learning 1, 1986).
 */
#ifndef GUIDANCE_LIKELIHOOD_H
#define GUIDANCE_LIKELIHOOD_H

#include <stdint.h>

/* A natural logarithm of odds or of a likelihood ratio, and the range to carry. low <= centre <= high. */
struct span {
    double low, centre, high;
};

struct span span_add(struct span one, struct span other);
struct span span_log(double low, double centre, double high); /* of three numbers greater than 0 */

/* Each part of `span` kept between the same part of `least` and of `most`. */
struct span span_clip(struct span span, struct span least, struct span most);

/* How much likelier an answer is with a note that is not genuine. 0 < false_alarm, hit < 1. */
double ratio_differs(double hit, double false_alarm); /* LR+ */
double ratio_passes(double hit, double false_alarm);  /* LR- */

/* d' = the distance of the two normal quantiles, and back for equal spread and no leaning. */
double discriminability(double hit, double false_alarm);
double unbiased_hit(double d_prime); /* the false alarms are 1 minus this */

double log_odds(double probability); /* 0 < probability < 1 */
double log_odds_probability(double log_odds);

/* Wald's test between two rates p0 < p1, with the risks alpha (of stopping at p1 although p0 holds) and beta.
 * After n looks of which d differ: d <= intercept_low + slope n is enough for p0, d >= intercept_high + slope n for p1. */
struct wald {
    double lower, upper; /* bounds of the summed ln LR: ln(beta/(1-alpha)), ln((1-beta)/alpha) */
    double intercept_low, intercept_high, slope;
    double looks_p0, looks_p1, looks_between; /* expected number of independent looks, at p0, at p1, at the slope */
};
void wald_test(double p0, double p1, double alpha, double beta, struct wald *wald);

/* Bits. `joint` holds, for each outcome, the probabilities (or counts) of the `states`; any positive total. */
double entropy(const double *weights, uint32_t count);
double information_gain(const double *joint, uint32_t outcomes, uint32_t states);

/* Bits that one look tells, before it is made, when the odds are e^log_odds. Never below 0. */
double look_information(double log_odds, double hit, double false_alarm);

#endif
