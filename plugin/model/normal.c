/*
 * The normal distribution. See normal.h.
 */
#include "model/normal.h"

#include <math.h>

double normal_probability(double z)
{
    return 0.5 * erfc(-z / sqrt(2));
}

double normal_quantile(double p)
{
    double low = -40;
    double high = 40;
    for (;;) {
        double middle = low + (high - low) / 2;
        if (middle <= low || middle >= high)
            return middle;
        if (normal_probability(middle) < p)
            low = middle;
        else
            high = middle;
    }
}
