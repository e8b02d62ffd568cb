/*
 * Newcombe's interval and the exact interval against published tables.
 */
#include "statistics/statistics.h"

#include "near.h"

/* Half a unit of the last printed digit, and a little for the binary fraction. */
#define FOUR_DIGITS 0.0000500001

struct pair {
    uint64_t x1, n1, x2, n2;
    double lower, upper, tolerance;
};

static void expect_pairs(const struct pair *pairs, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct pair *pair = &pairs[i];
        double lower;
        double upper;
        assert_true(interval_newcombe(pair->x1, pair->n1, pair->x2, pair->n2, QUANTILE_975, &lower, &upper));
        assert_near(lower, pair->lower, pair->tolerance);
        assert_near(upper, pair->upper, pair->tolerance);
    }
}

/* "Interval estimation for the difference between independent proportions: comparison of eleven methods", Statistics in
 * Medicine 17 (1998) 873-890, Table II, as quoted in the test suite of R package propint; the last row from the tests of the
 * R package that accompanies "Statistical Analysis of Contingency Tables" (2017), chapter 4. */
static void eleven_methods_table_2(void **state)
{
    (void)state;
    static const struct pair pairs[] = {
        {56, 70, 48, 80, 0.0524, 0.3339, FOUR_DIGITS},
        {9, 10, 3, 10, 0.1705, 0.8090, FOUR_DIGITS},
        {7, 34, 1, 34, 0.0189, 0.3404, FOUR_DIGITS},
    };
    expect_pairs(pairs, sizeof pairs / sizeof pairs[0]);
}

/* The same table; these rows are from memory. */
static void eleven_methods_table_2_from_memory(void **state)
{
    (void)state;
    static const struct pair pairs[] = {
        {6, 7, 2, 7, 0.0582, 0.8062, FOUR_DIGITS},    {5, 56, 0, 29, -0.0381, 0.1926, FOUR_DIGITS},
        {0, 10, 0, 20, -0.1611, 0.2775, FOUR_DIGITS}, {0, 10, 0, 10, -0.2775, 0.2775, FOUR_DIGITS},
        {10, 10, 0, 20, 0.6791, 1.0000, FOUR_DIGITS}, {10, 10, 0, 10, 0.6075, 1.0000, FOUR_DIGITS},
    };
    expect_pairs(pairs, sizeof pairs / sizeof pairs[0]);
}

/* More digits, computed with Python; not published. */
static void computed_pairs(void **state)
{
    (void)state;
    static const struct pair pairs[] = {
        {56, 70, 48, 80, 0.05243147240236, 0.33387265403691, 1e-13},
        {7, 34, 1, 34, 0.01892144388577, 0.34036868703271, 1e-13},
    };
    expect_pairs(pairs, sizeof pairs / sizeof pairs[0]);
}

struct row {
    uint64_t x, n;
    double alpha, lower, upper, tolerance;
};

static void expect_rows(const struct row *rows, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double lower;
        double upper;
        assert_true(interval_exact(rows[i].x, rows[i].n, rows[i].alpha, &lower, &upper));
        assert_near(lower, rows[i].lower, rows[i].tolerance);
        assert_near(upper, rows[i].upper, rows[i].tolerance);
    }
}

/* Tests of the R package that accompanies "Statistical Analysis of Contingency Tables" (2017), chapter 2. */
static void contingency_tables_chapter_2(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {13, 16, 0.05, 0.5435, 0.9595, FOUR_DIGITS},
        {0, 1, 0.05, 0, 0.9750, FOUR_DIGITS},
        {1, 1, 0.05, 0.0250, 1, FOUR_DIGITS},
    };
    expect_rows(rows, sizeof rows / sizeof rows[0]);
}

/* "Two-sided confidence intervals for the single proportion: comparison of seven methods", Statistics in Medicine 17 (1998)
 * 857-872, Table I, and NIST/SEMATECH e-Handbook 7.2.4.1 (the last row: its upper limit is off by 1e-6). All from memory. */
static void exact_from_memory(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {81, 263, 0.05, 0.2527, 0.3676, FOUR_DIGITS}, {15, 148, 0.05, 0.0578, 0.1617, FOUR_DIGITS},
        {0, 20, 0.05, 0.0000, 0.1684, FOUR_DIGITS},   {1, 29, 0.05, 0.0009, 0.1776, FOUR_DIGITS},
        {4, 20, 0.10, 0.071354, 0.401029, 1e-5},
    };
    expect_rows(rows, sizeof rows / sizeof rows[0]);
}

/* 682 of 925: R binom.test (an independent program). The others: computed with Python; not published. */
static void exact_cross_checks(void **state)
{
    (void)state;
    static const struct row rows[] = {
        {682, 925, 0.05, 0.7076682641, 0.7654065582, 1e-10},
        {81, 263, 0.05, 0.2527367455852713, 0.3676219226013515, 1e-12},
        {0, 20, 0.05, 0, 0.1684334709830853, 1e-12},
    };
    expect_rows(rows, sizeof rows / sizeof rows[0]);
}

static void no_trials_give_no_interval(void **state)
{
    (void)state;
    double lower;
    double upper;
    assert_false(interval_newcombe(0, 0, 1, 2, QUANTILE_975, &lower, &upper));
    assert_false(interval_newcombe(1, 2, 3, 2, QUANTILE_975, &lower, &upper));
    assert_false(interval_exact(0, 0, 0.05, &lower, &upper));
    assert_false(interval_exact(3, 2, 0.05, &lower, &upper));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eleven_methods_table_2),
        cmocka_unit_test(eleven_methods_table_2_from_memory),
        cmocka_unit_test(computed_pairs),
        cmocka_unit_test(contingency_tables_chapter_2),
        cmocka_unit_test(exact_from_memory),
        cmocka_unit_test(exact_cross_checks),
        cmocka_unit_test(no_trials_give_no_interval),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
