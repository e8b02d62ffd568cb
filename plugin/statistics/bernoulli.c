/*
 * The Bernoulli cumulative sum. See bernoulli.h.
 */
#include "statistics/bernoulli.h"

#include <math.h>

#define SPANS_MAX 64 /* of a threshold in a design: bounds its time */

/* "A CUSUM chart for monitoring a proportion when inspecting continuously", Journal of Quality Technology 31 (1999) 87-108
 * (form from memory): the span is r2 / r1, made whole so that the sum moves in whole steps. */
bool bernoulli_span(double p0, double p1, uint32_t *span)
{
    if (!(p0 > 0 && p0 < p1 && p1 < 1))
        return false;
    double r1 = log1p(-p0) - log1p(-p1);
    double r2 = log(p1 / p0) + r1;
    double nearest = round(r2 / r1);
    if (!(nearest >= 2 && nearest <= BERNOULLI_SPAN_MAX))
        return false;
    *span = (uint32_t)nearest;
    return true;
}

/* The mean E(s) from a sum s to the signal is, for s > 0, alpha + beta E(s - 1), where alpha and beta depend only on the
 * distance from the threshold: worked out from the threshold down, they serve every threshold. 1 - beta is kept instead of
 * beta, so that nothing is subtracted and long runs lose no digits. A ring of the last span - 1 of them is enough. */
struct chain {
    uint32_t rise; /* span - 1 */
    uint32_t steps;
    double p;
    double alpha[BERNOULLI_SPAN_MAX];
    double fall[BERNOULLI_SPAN_MAX]; /* 1 - beta */
};

/* After an event: E(s + rise) = mean + (1 - fall) E(s); both as at the signal while that is beyond the threshold. */
static void chain_rise(const struct chain *chain, double *mean, double *fall)
{
    *mean = 0;
    *fall = 1;
    if (chain->steps < chain->rise)
        return;
    double kept = 1;
    *fall = 0;
    for (uint32_t back = 0; back < chain->rise; back++) { /* from s + rise down to s + 1 */
        uint32_t at = (chain->steps - chain->rise + back) % chain->rise;
        *mean += kept * chain->alpha[at];
        *fall += kept * chain->fall[at];
        kept *= 1 - chain->fall[at];
    }
}

/* The run length from 0 with the threshold steps + 1, and one step further down. */
static double chain_next(struct chain *chain)
{
    double mean;
    double fall;
    chain_rise(chain, &mean, &fall);
    double leave = 1 - chain->p + chain->p * fall;
    uint32_t at = chain->steps++ % chain->rise;
    chain->alpha[at] = (1 + chain->p * mean) / leave;
    chain->fall[at] = chain->p * fall / leave;
    return (1 + chain->p * mean) / (chain->p * fall);
}

bool bernoulli_run_length(uint32_t span, uint32_t threshold, double p, double *notes)
{
    if (span < 2 || span > BERNOULLI_SPAN_MAX || threshold == 0 || !(p > 0 && p < 1))
        return false;
    struct chain chain = {.rise = span - 1, .p = p};
    for (uint32_t i = 0; i < threshold; i++)
        *notes = chain_next(&chain);
    return true;
}

bool bernoulli_design(double p0, double p1, double notes, struct bernoulli *bernoulli)
{
    uint32_t span;
    if (!bernoulli_span(p0, p1, &span))
        return false;
    struct chain chain = {.rise = span - 1, .p = p0};
    while (chain.steps < SPANS_MAX * span) {
        if (chain_next(&chain) >= notes) {
            *bernoulli = (struct bernoulli){.span = span, .threshold = chain.steps};
            return true;
        }
    }
    return false;
}

bool bernoulli_add(struct bernoulli *bernoulli, bool event)
{
    if (bernoulli->sum >= bernoulli->threshold)
        return true;
    if (event)
        bernoulli->sum += bernoulli->span - 1;
    else if (bernoulli->sum > 0)
        bernoulli->sum--;
    return bernoulli->sum >= bernoulli->threshold;
}
