/*
 * Control charts. See charts.h.
 */
#include "statistics/charts.h"

#include "statistics/compare.h"

#include <math.h>

#define SIGMAS 3.0

bool groups_share(const struct group *groups, uint32_t count, double *share)
{
    double events = 0;
    double trials = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (groups[i].events > groups[i].trials)
            return false;
        events += (double)groups[i].events;
        trials += (double)groups[i].trials;
    }
    if (trials <= 0)
        return false;
    *share = events / trials;
    return true;
}

/* NIST/SEMATECH e-Handbook 6.3.3.2, and with `spread` the limits of "Improved control charts for attributes", Quality
 * Engineering 14 (2002) 531-537 (formula read in secondary pages). */
struct limits share_limits(double share, uint64_t trials, double spread)
{
    double half = SIGMAS * spread * sqrt(share * (1 - share) / (double)trials);
    return (struct limits){fmax(share - half, 0), share, fmin(share + half, 1)};
}

bool limits_passed(const struct limits *limits, double value)
{
    return limits->lower < limits->upper && (value < limits->lower || value > limits->upper);
}

struct limits count_limits(double rate, double units)
{
    double half = SIGMAS * sqrt(rate / units);
    return (struct limits){fmax(rate - half, 0), rate, rate + half};
}

/* The mean moving range of the standardised shares by 1.128, the mean range of two normal values: the same paper. Some
 * pages use the plain standard deviation, which a shift of the level would widen. */
bool laney_spread(const struct group *groups, uint32_t count, double *spread)
{
    double share;
    if (!groups_share(groups, count, &share) || share <= 0 || share >= 1)
        return false;
    double sum = 0;
    double before = 0;
    uint32_t used = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (groups[i].trials == 0)
            continue;
        double trials = (double)groups[i].trials;
        double z = ((double)groups[i].events / trials - share) / sqrt(share * (1 - share) / trials);
        sum += used++ ? fabs(z - before) : 0;
        before = z;
    }
    if (used < 2)
        return false;
    *spread = sum / (used - 1) / 1.128;
    return true;
}

/* Mean and sum of squares around it, by Welford's update: small differences of large counts stay exact. */
static double squares_of(const uint64_t *events, uint32_t count, double *mean)
{
    double squares = 0;
    *mean = 0;
    for (uint32_t i = 0; i < count; i++) {
        double off = (double)events[i] - *mean;
        *mean += off / (i + 1);
        squares += off * ((double)events[i] - *mean);
    }
    return squares;
}

/* "Statistical Process Control" (1991), pages 212-218: the sum of squares by the variance of chance, as chi-square. */
static bool dispersion_fill(double squares, double chance, uint32_t count, struct dispersion *dispersion)
{
    if (count < 2 || !(chance > 0))
        return false;
    dispersion->statistic = squares / chance;
    dispersion->ratio = dispersion->statistic / (count - 1);
    dispersion->p = chi_square_tail(dispersion->statistic, count - 1);
    return true;
}

bool binomial_dispersion(const uint64_t *events, uint32_t count, uint64_t trials, struct dispersion *dispersion)
{
    double mean;
    double squares = squares_of(events, count, &mean);
    double chance = trials == 0 ? 0 : mean * (1 - mean / (double)trials);
    return dispersion_fill(squares, chance, count, dispersion);
}

bool poisson_dispersion(const uint64_t *events, uint32_t count, struct dispersion *dispersion)
{
    double mean;
    double squares = squares_of(events, count, &mean);
    return dispersion_fill(squares, mean, count, dispersion);
}

/* Welford's update again, and then once more around the mean: numbers that share their first eight digits keep the rest. */
struct moments moments_of(const double *values, uint32_t count)
{
    struct moments moments = {0, 0, 0};
    double squares = 0;
    double products = 0;
    for (uint32_t i = 0; i < count; i++)
        moments.mean += (values[i] - moments.mean) / (i + 1);
    for (uint32_t i = 0; i < count; i++) {
        double off = values[i] - moments.mean;
        squares += off * off;
        products += i > 0 ? off * (values[i - 1] - moments.mean) : 0;
    }
    moments.deviation = count < 2 ? 0 : sqrt(squares / (count - 1));
    moments.autocorrelation = squares > 0 ? products / squares : 0;
    return moments;
}

/* NIST/SEMATECH e-Handbook 6.3.2.4; the bracket makes the limits exact from the first point on. */
static struct limits ewma_limits_with(const struct ewma *ewma, double bracket)
{
    double half = ewma->width * ewma->sigma * sqrt(ewma->weight / (2 - ewma->weight) * bracket);
    return (struct limits){ewma->target - half, ewma->target, ewma->target + half};
}

struct limits ewma_limits(const struct ewma *ewma)
{
    return ewma_limits_with(ewma, 1 - pow(1 - ewma->weight, 2.0 * ewma->points));
}

struct limits ewma_limits_steady(const struct ewma *ewma)
{
    return ewma_limits_with(ewma, 1);
}

bool ewma_add(struct ewma *ewma, double x)
{
    ewma->value = ewma->weight * x + (1 - ewma->weight) * ewma->value;
    ewma->points++;
    struct limits limits = ewma_limits(ewma);
    return limits_passed(&limits, ewma->value);
}

static void sum_add(double step, double *sum, uint32_t *points)
{
    *sum = fmax(*sum + step, 0);
    *points = *sum > 0 ? *points + 1 : 0;
}

/* NIST/SEMATECH e-Handbook 6.3.2.3. */
bool cusum_add(struct cusum *cusum, double x)
{
    sum_add(x - cusum->target - cusum->slack, &cusum->high, &cusum->points_high);
    sum_add(cusum->target - cusum->slack - x, &cusum->low, &cusum->points_low);
    return cusum->high > cusum->decision || cusum->low > cusum->decision;
}
