/*
 * The beta distribution. See beta.h.
 */
#include "model/beta.h"

#include <float.h>
#include <math.h>

#define TERMS_MAX 500 /* the fraction needs about sqrt(max(a, b)) of them */

static double away_from_zero(double value)
{
    return fabs(value) < DBL_MIN ? DBL_MIN : value;
}

/* One step of the modified Lentz method with the coefficient `term`; returns the factor. */
static double fraction_step(double term, double *c, double *d)
{
    *d = 1 / away_from_zero(1 + term * *d);
    *c = away_from_zero(1 + term / *c);
    return *c * *d;
}

/* The continued fraction 26.5.8 of the Handbook of Mathematical Functions (1964; formula from memory), worked out by the
 * modified Lentz method. */
static double beta_fraction(double x, double a, double b)
{
    double c = 1;
    double d = 1 / away_from_zero(1 - (a + b) * x / (a + 1));
    double value = d;
    for (int m = 1; m <= TERMS_MAX; m++) {
        double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
        double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        value *= fraction_step(even, &c, &d);
        double factor = fraction_step(odd, &c, &d);
        value *= factor;
        if (fabs(factor - 1) < 4 * DBL_EPSILON)
            break;
    }
    return value;
}

/* ln Gamma by its asymptotic series after moving up to 12 or more: lgamma() keeps a sign in a variable of the process. */
static double gamma_log(double x)
{
    double moved = 0;
    while (x < 12) {
        moved += log(x);
        x += 1;
    }
    double square = 1 / (x * x);
    double series = (1.0 / 12 - square * (1.0 / 360 - square * (1.0 / 1260 - square * (1.0 / 1680 - square / 1188)))) /
                    x;
    return (x - 0.5) * log(x) - x + 0.91893853320467274178 /* ln sqrt(2 pi) */ + series - moved;
}

double beta_cumulative(double x, double a, double b)
{
    if (x <= 0)
        return 0;
    if (x >= 1)
        return 1;
    double front = exp(gamma_log(a + b) - gamma_log(a) - gamma_log(b) + a * log(x) + b * log1p(-x));
    /* The fraction settles quickly on this side of the mean only; the other side is its mirror. */
    if (x < (a + 1) / (a + b + 2))
        return front * beta_fraction(x, a, b) / a;
    return 1 - front * beta_fraction(1 - x, b, a) / b;
}

double beta_quantile(double p, double a, double b)
{
    double low = 0;
    double high = 1;
    for (;;) {
        double middle = low + (high - low) / 2;
        if (middle <= low || middle >= high)
            return middle;
        if (beta_cumulative(middle, a, b) < p)
            low = middle;
        else
            high = middle;
    }
}
