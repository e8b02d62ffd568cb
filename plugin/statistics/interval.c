/*
 * How sure is a rate? How sure is the difference of two? See statistics.h.
 */
#include "statistics/statistics.h"

#include "model/beta.h"

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

/* "Interval estimation for the difference between independent proportions: comparison of eleven methods", Statistics in
 * Medicine 17 (1998) 873-890, method 10. */
bool interval_newcombe(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2, double z, double *lower, double *upper)
{
    double l1;
    double u1;
    double l2;
    double u2;
    if (!interval_wilson(x1, n1, z, &l1, &u1) || !interval_wilson(x2, n2, z, &l2, &u2))
        return false;
    double p1 = (double)x1 / (double)n1;
    double p2 = (double)x2 / (double)n2;
    *lower = fmax(p1 - p2 - hypot(p1 - l1, u2 - p2), -1);
    *upper = fmin(p1 - p2 + hypot(u1 - p1, p2 - l2), 1);
    return true;
}

/* The beta form of the exact limits (formula as in textbooks; rows that check it are in tests/published). */
bool interval_exact(uint64_t x, uint64_t n, double alpha, double *lower, double *upper)
{
    if (n == 0 || x > n)
        return false;
    double events = (double)x;
    double rest = (double)(n - x);
    *lower = x == 0 ? 0 : beta_quantile(alpha / 2, events, rest + 1);
    *upper = x == n ? 1 : beta_quantile(1 - alpha / 2, events + 1, rest);
    return true;
}
