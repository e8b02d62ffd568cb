/*
 * Has a rare event become likelier? The Bernoulli cumulative sum, one step a note, and how long it runs. Knows no notes.
 */
#ifndef STATISTICS_BERNOULLI_H
#define STATISTICS_BERNOULLI_H

#include <stdbool.h>
#include <stdint.h>

/* The sum goes up by span - 1 with an event, down by 1 (not below 0) without; it signals at `threshold` or more. */
struct bernoulli {
    uint32_t span, threshold, sum;
};

/* The longest span that is worked out: of rates down to about one in two thousand. */
#define BERNOULLI_SPAN_MAX 2048

/* The whole span nearest to the best one for telling p1 from p0. False unless 0 < p0 < p1 < 1 and it is 2 to the longest. */
bool bernoulli_span(double p0, double p1, uint32_t *span);

/* Mean number of notes from a sum of 0 to the signal when each is an event with probability p. Exact.
 * False unless 2 <= span <= BERNOULLI_SPAN_MAX, threshold > 0 and 0 < p < 1. */
bool bernoulli_run_length(uint32_t span, uint32_t threshold, double p, double *notes);

/* The least threshold with a mean of at least `notes` to a false signal at p0. False when p0 and p1 have no span, or when
 * no threshold up to 64 spans is enough. */
bool bernoulli_design(double p0, double p1, double notes, struct bernoulli *bernoulli);

/* One more note. Whether the sum signals; it stays there until the caller sets it to 0. */
bool bernoulli_add(struct bernoulli *bernoulli, bool event);

#endif
