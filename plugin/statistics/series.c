/*
 * One rate over days. See series.h and docs/statistics.md.
 */
#include "statistics/series.h"

#include "model/normal.h"
#include "statistics/bernoulli.h"
#include "statistics/compare.h"
#include "statistics/run_length.h"
#include "statistics/statistics.h"

#include <math.h>

#define SCORE_MOST      8.0   /* beyond it the tail is too small for a mid-P in double precision */
#define EWMA_WIDTH_MOST 6.0   /* run lengths are worked out up to here */
#define BASE_PART       3     /* a third of the days tells the rate that a rare event starts from */
#define BASE_QUANTILE   1.0   /* and its upper Wilson limit of about 84 % is taken, since the base is short */
#define MOVING_RANGE    1.128 /* as in charts.c */

/* ---- Scores ---- */

/* "SPC Q charts for start-up processes and short or long runs", Journal of Quality Technology 23 (1991): each value is judged by the
 * ones before it (title and idea from memory). */
bool day_score(const struct group *past, const struct group *day, double *score)
{
    struct exact_test test;
    if (past->trials == 0 || day->trials == 0 || past->events + day->events == 0 || !fisher_test(day, past, &test))
        return false;
    /* The smaller of the two mid-P tails: the other one would lose its digits near 1. */
    double seen = test.less + test.greater - 1;
    double above = test.greater - seen / 2;
    double below = test.less - seen / 2;
    double tail = fmin(above, below);
    double size = tail > 1e-15 ? fmin(-normal_quantile(fmin(tail, 0.5)), SCORE_MOST) : SCORE_MOST;
    *score = above < below ? size : -size;
    return true;
}

static struct group group_add(struct group one, struct group other)
{
    return (struct group){one.events + other.events, one.trials + other.trials};
}

/* Scores of all days; NAN where there is none. How many there are. */
static uint32_t scores_fill(const struct group *days, uint32_t count, double *scores)
{
    struct group past = {0, 0};
    uint32_t scored = 0;
    for (uint32_t i = 0; i < count; i++) {
        bool good = day_score(&past, &days[i], &scores[i]);
        if (!good)
            scores[i] = NAN;
        scored += good;
        past = group_add(past, days[i]);
    }
    return scored;
}

/* Laney's factor of the scores: their mean moving range. Never less than 1: fewer differences than chance are no reason to
 * believe more. */
static double scores_spread(const double *scores, uint32_t count)
{
    double before = NAN;
    double sum = 0;
    uint32_t ranges = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (isnan(scores[i]))
            continue;
        if (!isnan(before)) {
            sum += fabs(scores[i] - before);
            ranges++;
        }
        before = scores[i];
    }
    return ranges == 0 ? 1 : fmax(sum / ranges / MOVING_RANGE, 1);
}

/* ---- Charts of scores ---- */

/* Among `points`, at least one signal of a chart that runs `length` points on the mean. */
static double chance_of_signal(double points, double length)
{
    return -expm1(-points / length);
}

/* Only a rise counts: one side of a chart runs twice as long as both. */
static void average_test(const double *scores, uint32_t count, uint32_t scored, struct series_result *result)
{
    struct ewma ewma = {.sigma = result->spread, .weight = SERIES_EWMA_WEIGHT, .width = 1};
    double unit = ewma_limits_steady(&ewma).upper;
    double width;
    double highest = 0;
    if (!ewma_design(SERIES_EWMA_WEIGHT, SERIES_RUN_DAYS / 2, &width))
        return;
    for (uint32_t i = 0; i < count; i++) {
        if (isnan(scores[i]))
            continue;
        (void)ewma_add(&ewma, scores[i]);
        highest = fmax(highest, ewma.value / unit);
        if (ewma.value > width * unit && result->seen == count)
            result->seen = i;
    }
    double length;
    if (highest < 1 || !ewma_run_length(SERIES_EWMA_WEIGHT, fmin(highest, EWMA_WIDTH_MOST), 0, &length))
        return;
    result->p = chance_of_signal(scored, 2 * length);
    result->chart = SERIES_CHART_EWMA;
}

/* The day that stands out most. */
static void share_test(const double *scores, uint32_t count, uint32_t scored, struct series_result *result)
{
    double limit = -normal_quantile(1 / SERIES_RUN_DAYS);
    double highest = 0;
    uint32_t seen = count;
    for (uint32_t i = 0; i < count; i++) {
        if (isnan(scores[i]))
            continue;
        highest = fmax(highest, scores[i] / result->spread);
        if (scores[i] / result->spread > limit && seen == count)
            seen = i;
    }
    double tail = normal_probability(-highest);
    double p = -expm1(scored * log1p(-tail));
    if (seen < result->seen)
        result->seen = seen;
    if (p < result->p) {
        result->p = p;
        result->chart = SERIES_CHART_SHARE;
    }
    result->p = fmin(2 * result->p, 1); /* the better one of two charts */
}

/* ---- Rare events ---- */

/* One day into the sum, its events evenly among its trials. Whether it reached the threshold. */
static bool day_add(const struct group *day, const struct bernoulli *design, uint32_t *sum)
{
    bool reached = false;
    uint64_t done = 0;
    for (uint64_t event = 0; event < day->events; event++) {
        uint64_t at = (event + 1) * (day->trials - day->events) / (day->events + 1);
        uint64_t fall = at - done;
        done = at;
        *sum = fall > *sum ? 0 : *sum - (uint32_t)fall;
        *sum = *sum < design->threshold ? *sum + design->span - 1 : *sum;
        reached = reached || *sum >= design->threshold;
    }
    uint64_t rest = day->trials - day->events - done;
    *sum = rest > *sum ? 0 : *sum - (uint32_t)rest;
    return reached;
}

/* How surely does the stretch stand out? Of all stretches, by Fisher's test of each: exact, and no rate need be known. */
static double stretch_chance(const struct group *days, uint32_t count)
{
    struct stretch stretch;
    struct exact_test test;
    if (!series_stretch(days, count, &stretch) || !fisher_test(&stretch.inside, &stretch.outside, &test))
        return 1;
    double stretches = count * (count + 1.0) / 2;
    return fmin(test.greater * stretches, 1);
}

/* The sum tells when it was seen. Whether it is told at all does not hang on the short base that the sum starts from. */
static void rare_test(const struct group *days, uint32_t count, struct series_result *result)
{
    result->p = stretch_chance(days, count);
    uint32_t base_days = count / BASE_PART;
    struct group base = {0, 0};
    struct group after = {0, 0};
    for (uint32_t i = 0; i < count; i++) {
        struct group *part = i < base_days ? &base : &after;
        *part = group_add(*part, days[i]);
    }
    double lower;
    double rate;
    struct bernoulli design;
    if (after.trials == 0 || !interval_wilson(base.events, base.trials, BASE_QUANTILE, &lower, &rate))
        return;
    double notes = SERIES_RUN_DAYS * (double)after.trials / (count - base_days);
    double least = 1.0 / BERNOULLI_SPAN_MAX; /* rarer than this a longer span would be needed: then it signals later */
    rate = fmax(rate, least);
    if (!bernoulli_design(rate, fmin(SERIES_RARE_RISE * rate, 0.9), notes, &design))
        return;
    uint32_t sum = 0;
    for (uint32_t i = base_days; i < count; i++) {
        bool reached = day_add(&days[i], &design, &sum);
        if (reached && result->seen == count)
            result->seen = i;
    }
}

/* ---- Together ---- */

struct series_result series_test(const struct group *days, uint32_t count, double *scores)
{
    struct series_result result = {.chart = SERIES_CHART_NONE, .p = 1, .spread = 1, .seen = count};
    struct group all = {0, 0};
    uint32_t used = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (days[i].events > days[i].trials)
            return result;
        all = group_add(all, days[i]);
        used += days[i].trials > 0;
    }
    if (used < SERIES_DAYS_LEAST || all.trials < SERIES_TRIALS_LEAST || all.events < SERIES_EVENTS_LEAST)
        return result;
    if ((double)all.events < SERIES_EWMA_EVENTS * used) {
        result.chart = SERIES_CHART_BERNOULLI;
        rare_test(days, count, &result);
        return result;
    }
    uint32_t scored = scores_fill(days, count, scores);
    result.chart = SERIES_CHART_EWMA;
    result.spread = scores_spread(scores, count);
    average_test(scores, count, scored, &result);
    share_test(scores, count, scored, &result);
    return result;
}

/* ---- The stretch that stands out ---- */

static double side_likelihood(const struct group *group)
{
    double n = (double)group->trials;
    double x = (double)group->events;
    return (x > 0 ? x * log(x / n) : 0) + (n - x > 0 ? (n - x) * log((n - x) / n) : 0);
}

/* How much likelier the days are with two rates than with one; 0 unless the rate inside is the higher one. */
static double stretch_gain(const struct stretch *stretch)
{
    const struct group *in = &stretch->inside;
    const struct group *out = &stretch->outside;
    if (in->trials == 0 || out->trials == 0 ||
        (double)in->events * (double)out->trials <= (double)out->events * (double)in->trials)
        return 0;
    struct group all = group_add(*in, *out);
    return side_likelihood(in) + side_likelihood(out) - side_likelihood(&all);
}

static void stretch_fill(const struct group *days, uint32_t count, struct stretch *stretch)
{
    stretch->inside = stretch->outside = (struct group){0, 0};
    for (uint32_t i = 0; i < count; i++) {
        struct group *side = i >= stretch->first && i < stretch->after ? &stretch->inside : &stretch->outside;
        *side = group_add(*side, days[i]);
    }
}

/* The stretch whose days speak most for `rise` times the rate `share` against that rate: the greatest sum of neighbours. */
static void stretch_for_rise(const struct group *days, uint32_t count, double share, double rise, struct stretch *best)
{
    double raised = fmin(share * rise, 0.999);
    double event = log(raised / share);
    double other = log((1 - raised) / (1 - share));
    double sum = 0;
    double highest = 0;
    uint32_t first = 0;
    best->first = best->after = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (sum <= 0) {
            sum = 0;
            first = i;
        }
        sum += (double)days[i].events * event + (double)(days[i].trials - days[i].events) * other;
        if (sum > highest) {
            highest = sum;
            best->first = first;
            best->after = i + 1;
        }
    }
    stretch_fill(days, count, best);
}

bool series_stretch(const struct group *days, uint32_t count, struct stretch *stretch)
{
    static const double rises[] = {1.5, 2, 3, 5, 10, 30};
    double share;
    double gain = 0;
    if (!groups_share(days, count, &share) || share <= 0 || share >= 1)
        return false;
    for (size_t i = 0; i < sizeof rises / sizeof rises[0]; i++) {
        double usual = share;
        for (int round = 0; round < 3 && usual > 0 && usual < 1; round++) {
            struct stretch found;
            stretch_for_rise(days, count, usual, rises[i], &found);
            double found_gain = stretch_gain(&found);
            if (found_gain > gain) {
                gain = found_gain;
                *stretch = found;
            }
            /* Again with the rate of the days outside, half an event added so that it is never 0. */
            usual = found.outside.trials == 0
                        ? 0
                        : ((double)found.outside.events + 0.5) / ((double)found.outside.trials + 1);
        }
    }
    return gain > 0;
}
