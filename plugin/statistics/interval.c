/*
 * How sure is a rate? The Wilson score interval. See statistics.h.
 */
#include "statistics/statistics.h"

#include <math.h>

/* NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1, two-sided form:
 * (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n). */
bool interval_wilson(uint64_t x, uint64_t n, double z, double *lower, double *upper)
{
    if (n == 0 || x > n)
        return false;
    double count = (double)n;
    double share = (double)x / count;
    double square = z * z / count;
    double centre = share + square / 2;
    double half = z * sqrt(share * (1 - share) / count + square / (4 * count));
    /* The ends are exact at no events and at nothing but events; rounding would leave 1e-17 there. */
    *lower = x == 0 ? 0 : (centre - half) / (1 + square);
    *upper = x == n ? 1 : (centre + half) / (1 + square);
    return true;
}
