/*
 * Do counts differ by more than chance? Tables, trends, pairs, change points, many tests at once. Knows no notes.
 */
#ifndef STATISTICS_COMPARE_H
#define STATISTICS_COMPARE_H

#include "statistics/charts.h"

/* The probability of a chi-square of `x` or more; 1 when x is not above 0. Degrees of freedom at least 1. */
double chi_square_tail(double x, uint32_t degrees);

/* Counts in `rows` times `columns`, row after row. Rows and columns of zeros alone are as if they were not there. */
struct table {
    const uint64_t *counts;
    uint32_t rows, columns;
};
struct table_test {
    double pearson, pearson_p;       /* X^2 */
    double likelihood, likelihood_p; /* G */
    double cramer;                   /* V, 0 to 1: how strong, whatever the count */
    double expected_least;           /* below 1, or often below 5: the probabilities are rough */
    uint32_t degrees;
};
/* False when fewer than two rows or two columns have counts. */
bool table_test(const struct table *table, struct table_test *test);

/* Two shares against each other with Yates's correction: X^2 made smaller by what whole numbers add. False as above. */
bool yates_test(const struct group *one, const struct group *other, double *statistic, double *p);

/* The adjusted residual of a cell, like a standard normal value without a link; 0 where there is nothing to compare. */
double table_residual(const struct table *table, uint32_t row, uint32_t column);

/* Exact probabilities, given the sums at the margins: of as few or fewer, as many or more, of all that are no likelier
 * than what was seen, and the same with half of what was seen. */
struct exact_test {
    double less, greater, two_sided, mid;
};
/* Fisher: events of one against the other; 1 when a margin is 0. False when a group has more events than trials. */
bool fisher_test(const struct group *one, const struct group *other, struct exact_test *test);

/* Fisher for larger tables: the probability of all tables with the same margins that are no likelier than this one. Every
 * table is counted, none is drawn by chance. False beyond the limits below, with fewer than two rows or columns with counts,
 * or when it would take more than EXACT_STEPS steps: then there is no exact answer, use table_test(). */
#define EXACT_ROWS    8
#define EXACT_COLUMNS 64
#define EXACT_TOTAL   1000 /* of all counts */
#define EXACT_STEPS   200000000u
bool exact_table_test(const struct table *table, double *p);

/* The probability of `events` or more in `trials` with probability p each (0 < p < 1), and of as few or fewer. For sub-groups with
 * few events, where three standard deviations are no limit. */
double binomial_upper_tail(uint64_t events, uint64_t trials, double p);
double binomial_lower_tail(uint64_t events, uint64_t trials, double p);

/* Two shares in several layers (places, denominations): does one differ from the other when like is compared with like?
 * Mantel-Haenszel, without or with the correction for whole numbers. False when no layer can tell. */
struct layer {
    struct group one, other;
};
struct layer_test {
    double statistic, p;
    double corrected, corrected_p;
    double odds_ratio; /* common to all layers; below 0 when it cannot be told */
};
bool layer_test(const struct layer *layers, uint32_t count, struct layer_test *test);

/* Two Poisson counts seen over two amounts more than 0, through the binomial share of the first. False with no event. */
bool poisson_test(uint64_t x1, double amount1, uint64_t x2, double amount2, struct exact_test *test);

/* Cochran-Armitage: shares that go up or down over groups in equal steps; chi-square with 1 degree of freedom. False unless
 * two groups have trials and the share over all is neither 0 nor 1. */
bool trend_test(const struct group *groups, uint32_t count, double *statistic, double *p);

/* Benjamini-Hochberg: each p adjusted for all `count` tests that were made, also the dull ones; reject what is at most q.
 * Time grows with the square of count. `adjusted` may not be `p`. */
void benjamini_hochberg(const double *p, uint32_t count, double *adjusted);

/* By what q is divided when the tests may depend on each other in any way. */
double benjamini_dependence(uint32_t count);

/* Where the share changed most likely: the first group after it. `p` is an upper bound (the best split's chi-square times the
 * number of splits), itself approximate. False when there is no split with trials on both sides. */
struct change_point {
    uint32_t first_after;
    struct group before, after;
    double statistic, p;
};
bool change_point_find(const struct group *groups, uint32_t count, struct change_point *change);

#endif
