/*
 * The beta distribution: what a count of events in trials says about their rate.
 */
#ifndef MODEL_BETA_H
#define MODEL_BETA_H

/* The probability of a value of at most x; a and b greater than 0. */
double beta_cumulative(double x, double a, double b);

/* The value that is not exceeded with probability p (0 < p < 1). */
double beta_quantile(double p, double a, double b);

#endif
