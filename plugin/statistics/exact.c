/*
 * Exact tests of two counts, given the sums at the margins. See compare.h.
 */
#include "statistics/compare.h"

#include "model/beta.h"

#include <math.h>

/* As likely as what was seen, but for rounding: a tolerance of 1e-7 (that R's fisher.test has the same is from memory). */
#define AS_LIKELY (1 + 1e-7)

/* Whole numbers from `low` to `high`. The next one is (one - k)(other - k) / ((k + 1)(rest + k + 1)) times as likely
 * for the hypergeometric, and (one - k) / (k + 1) times `odds` for the binomial. */
struct spread {
    double low, high, seen;
    double one, other, rest;
    double odds; /* above 0: binomial */
};

static double step_ratio(const struct spread *spread, double k)
{
    if (spread->odds > 0)
        return (spread->one - k) / (k + 1) * spread->odds;
    return (spread->one - k) / (k + 1) * (spread->other - k) / (spread->rest + k + 1);
}

struct sums {
    double total, less, greater, seen, no_likelier;
};

static void sums_add(const struct spread *spread, double k, double weight, double most, struct sums *sums)
{
    sums->total += weight;
    sums->less += k <= spread->seen ? weight : 0;
    sums->greater += k >= spread->seen ? weight : 0;
    sums->seen += fabs(k - spread->seen) < 0.5 ? weight : 0;
    sums->no_likelier += weight <= most ? weight : 0;
}

/* From the likeliest number outwards: weights only fall, so that none is too large, and no factorial is needed. */
static struct sums sums_of(const struct spread *spread, double likeliest, double most)
{
    struct sums sums = {0, 0, 0, 0, 0};
    double weight = 1;
    for (uint64_t i = 0; i <= (uint64_t)(spread->high - likeliest); i++) {
        double k = likeliest + (double)i;
        sums_add(spread, k, weight, most, &sums);
        weight *= step_ratio(spread, k);
    }
    weight = 1;
    for (uint64_t i = 1; i <= (uint64_t)(likeliest - spread->low); i++) {
        double k = likeliest - (double)i;
        weight /= step_ratio(spread, k);
        sums_add(spread, k, weight, most, &sums);
    }
    return sums;
}

static void spread_test(const struct spread *spread, struct exact_test *test)
{
    double likeliest = spread->low;
    while (likeliest < spread->high && step_ratio(spread, likeliest) > 1)
        likeliest += 1;
    double most = sums_of(spread, likeliest, 0).seen * AS_LIKELY;
    struct sums sums = sums_of(spread, likeliest, most);
    test->less = fmin(sums.less / sums.total, 1);
    test->greater = fmin(sums.greater / sums.total, 1);
    test->two_sided = fmin(sums.no_likelier / sums.total, 1);
    test->mid = test->two_sided - sums.seen / sums.total / 2;
}

bool fisher_test(const struct group *one, const struct group *other, struct exact_test *test)
{
    if (one->events > one->trials || other->events > other->trials)
        return false;
    double events = (double)one->events + (double)other->events;
    double trials = (double)one->trials;
    double rest = (double)other->trials - events; /* below 0 when events must be in the first */
    struct spread spread = {.low = fmax(-rest, 0), .high = fmin(events, trials), .seen = (double)one->events};
    spread.one = events;
    spread.other = trials;
    spread.rest = rest;
    spread_test(&spread, test);
    return true;
}

/* As R's poisson.test for two counts does. */
bool poisson_test(uint64_t x1, double amount1, uint64_t x2, double amount2, struct exact_test *test)
{
    double events = (double)x1 + (double)x2;
    if (!(events > 0 && amount1 > 0 && amount2 > 0))
        return false;
    struct spread spread = {.high = events, .seen = (double)x1, .one = events, .odds = amount1 / amount2};
    spread_test(&spread, test);
    return true;
}

/* The beta form of both tails. */
double binomial_upper_tail(uint64_t events, uint64_t trials, double p)
{
    if (events == 0 || events > trials)
        return events == 0 ? 1 : 0;
    return beta_cumulative(p, (double)events, (double)(trials - events) + 1);
}

double binomial_lower_tail(uint64_t events, uint64_t trials, double p)
{
    if (events >= trials)
        return 1;
    return beta_cumulative(1 - p, (double)(trials - events), (double)events + 1);
}
