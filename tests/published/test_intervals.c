/*
 * Wilson intervals against published tables.
 */
#include "statistics/statistics.h"

#include "test.h"

#include <math.h>

struct row {
    uint64_t x;
    uint64_t n;
    double lower;
    double upper;
    double tolerance;
};

static void expect(const struct row *rows, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double lower;
        double upper;
        assert_true(interval_wilson(rows[i].x, rows[i].n, QUANTILE_975, &lower, &upper));
        if (fabs(lower - rows[i].lower) > rows[i].tolerance || fabs(upper - rows[i].upper) > rows[i].tolerance)
            fail_msg("%u of %u: %.10f to %.10f", (unsigned)rows[i].x, (unsigned)rows[i].n, lower, upper);
    }
}

/* Half a unit of the last printed digit, and a little for the binary fraction. */
#define FOUR_DIGITS 0.0000500001

/* "Two-sided confidence intervals for the single proportion: comparison of seven methods", Statistics in Medicine 17
 * (1998) 857-872, Table I, as quoted in the test suite of R package propint. */
static void seven_methods_table_1(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {81, 263, 0.2553, 0.3662, FOUR_DIGITS},
        {15, 148, 0.0624, 0.1605, FOUR_DIGITS},
    };
    expect(rows, sizeof rows / sizeof rows[0]);
}

/* The same table; these rows are from memory. */
static void seven_methods_table_1_from_memory(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {0, 20, 0.0000, 0.1611, FOUR_DIGITS},
        {1, 29, 0.0061, 0.1718, FOUR_DIGITS},
    };
    expect(rows, sizeof rows / sizeof rows[0]);
}

/* Test suite of the R package that accompanies "Statistical Analysis of Contingency Tables" (2017), chapter 2. */
static void contingency_tables_chapter_2(void **state)
{
    (void)state;
    static const struct row rows[] = {{13, 16, 0.5699, 0.9341, FOUR_DIGITS}};
    expect(rows, sizeof rows / sizeof rows[0]);
}

/* Not published: computed with R 4.2.2 and Python (scipy 1.10.1) in double precision, as a second implementation. The
 * inputs of 26 of 200 are those of the NIST/SEMATECH e-Handbook 7.2.4 (from memory). */
static void computed_elsewhere(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {81, 263, 0.2552885198782742, 0.3662095769828000, 1e-12},
        {0, 20, 0, 0.1611251580528194, 1e-12},
        {13, 16, 0.5699111903802586, 0.9340840092857187, 1e-12},
        {26, 200, 0.09028202, 0.18366352, 0.0000000051},
    };
    expect(rows, sizeof rows / sizeof rows[0]);
}

/* Not published: computed. Three in a hundred, at the sizes that the report's word 'too few notes' is about. */
static void three_percent_at_three_sizes(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {3, 100, 0.010, 0.085, 0.00051},
        {15, 500, 0.018, 0.049, 0.00051},
        {60, 2000, 0.023, 0.038, 0.00051},
    };
    expect(rows, sizeof rows / sizeof rows[0]);
}

/* The quantile itself: normal tables, 0.975 at 1.96; the digits as R's qnorm(0.975) gives them (computed). */
static void the_quantile(void **state)
{
    (void)state;
    assert_true(fabs(QUANTILE_975 - 1.959963984540054) < 1e-15);
    /* erf(z / sqrt 2) is the probability between -z and z (definition). */
    assert_true(fabs(erf(QUANTILE_975 / sqrt(2)) - 0.95) < 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(seven_methods_table_1),        cmocka_unit_test(seven_methods_table_1_from_memory),
        cmocka_unit_test(contingency_tables_chapter_2), cmocka_unit_test(computed_elsewhere),
        cmocka_unit_test(three_percent_at_three_sizes), cmocka_unit_test(the_quantile),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
