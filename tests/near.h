/*
 * Numbers compared in double precision (cmocka's own comparison works in single precision).
 */
#ifndef NEAR_H
#define NEAR_H

#include "test.h"

#include <math.h>

#define assert_near(value, expected, tolerance) near_at((value), (expected), (tolerance), __FILE__, __LINE__)

static inline void near_at(double value, double expected, double tolerance, const char *file, int line)
{
    if (!(fabs(value - expected) <= tolerance)) {
        print_error("%.15g instead of %.15g\n", value, expected);
        _fail(file, line);
    }
}

#endif
