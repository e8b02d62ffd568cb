/*
 * The ends of the statistical methods: no data, no spread, empty rows, ties, long runs.
 */
#include "statistics/bernoulli.h"
#include "statistics/compare.h"

#include "near.h"

#include <math.h>

#define COUNT(array) ((uint32_t)(sizeof(array) / sizeof(array)[0]))

static void shares_without_data(void **state)
{
    (void)state;
    static const struct group empty[] = {{0, 0}, {0, 0}};
    static const struct group wrong[] = {{1, 2}, {3, 2}};
    static const struct group none[] = {{0, 9}, {0, 9}};
    static const struct group all[] = {{9, 9}, {9, 9}};
    static const struct group single[] = {{0, 0}, {4, 9}, {0, 0}};
    double share;
    double spread;
    double p;
    assert_false(groups_share(empty, 2, &share) || groups_share(wrong, 2, &share) || groups_share(none, 0, &share));
    assert_false(laney_spread(empty, 2, &spread) || laney_spread(none, 2, &spread) || laney_spread(all, 2, &spread));
    assert_false(laney_spread(single, 3, &spread));
    assert_false(trend_test(empty, 2, &spread, &p) || trend_test(none, 2, &spread, &p) ||
                 trend_test(all, 2, &spread, &p));
    assert_false(trend_test(single, 3, &spread, &p));
    struct limits flat = share_limits(0, 9, 1);
    assert_false(limits_passed(&flat, 0.5));
    flat = share_limits(0.9, 2, 1);
    assert_true(flat.lower > 0 && flat.upper >= 1 && flat.upper <= 1);
    assert_false(limits_passed(&flat, flat.lower));
    assert_true(limits_passed(&flat, 0));
}

static void trend_passes_over_empty_groups(void **state)
{
    (void)state;
    static const struct group groups[] = {{0, 0}, {2, 10}, {0, 0}, {6, 10}};
    double statistic;
    double p;
    assert_true(trend_test(groups, COUNT(groups), &statistic, &p));
    assert_near(statistic, 10.0 / 3, 1e-12); /* two groups: Pearson's X^2 of [2 8; 6 4] */
}

static void dispersion_without_data(void **state)
{
    (void)state;
    static const uint64_t events[] = {0, 0, 0};
    static const uint64_t full[] = {5, 5, 5};
    struct dispersion found;
    assert_false(binomial_dispersion(events, 3, 5, &found) || binomial_dispersion(full, 3, 5, &found));
    assert_false(binomial_dispersion(full, 3, 0, &found) || binomial_dispersion(full, 1, 9, &found));
    assert_false(poisson_dispersion(events, 3, &found));
    assert_true(poisson_dispersion(full, 3, &found));
    assert_true(found.ratio <= 0 && found.p >= 1);
}

/* e^-x/2 with two degrees; far beyond the range of numbers, and in the middle of many degrees. */
static void chi_square_everywhere(void **state)
{
    (void)state;
    assert_true(chi_square_tail(0, 3) >= 1 && chi_square_tail(-1, 2) >= 1);
    for (double x = 0.25; x < 200; x *= 2)
        assert_true(fabs(chi_square_tail(x, 2) / exp(-x / 2) - 1) < 1e-12);
    assert_true(chi_square_tail(5000, 1) <= 0 && chi_square_tail(5000, 2) <= 0);
    assert_near(chi_square_tail(3000, 3000), 0.4966, 5e-4); /* the median is about 3000 - 2/3 */
    assert_near(chi_square_tail(3001, 3001), 0.4966, 5e-4);
    for (uint32_t degrees = 1; degrees < 60; degrees++)
        assert_true(chi_square_tail(20, degrees) < chi_square_tail(20, degrees + 1));
}

static void tables_with_empty_lines(void **state)
{
    (void)state;
    static const uint64_t counts[] = {3, 0, 1, 0, 0, 0, 1, 0, 3};
    static const uint64_t one_row[] = {3, 1, 0, 0};
    static const uint64_t one_column[] = {3, 0, 1, 0};
    struct table table = {counts, 3, 3};
    struct table_test test;
    assert_true(table_test(&table, &test));
    assert_int_equal(test.degrees, 1);
    assert_near(test.pearson, 2, 1e-14);
    assert_near(test.cramer, 0.5, 1e-14);
    assert_near(test.expected_least, 2, 1e-14);
    assert_true(fabs(table_residual(&table, 1, 0)) <= 0 && table_residual(&table, 0, 0) > 0);
    assert_false(table_test(&(struct table){one_row, 2, 2}, &test));
    assert_false(table_test(&(struct table){one_column, 2, 2}, &test));
    static const uint64_t zeros[4] = {0};
    assert_false(table_test(&(struct table){zeros, 2, 2}, &test));
    assert_true(fabs(table_residual(&(struct table){zeros, 2, 2}, 0, 0)) <= 0);
}

static void exact_tests_at_the_ends(void **state)
{
    (void)state;
    struct exact_test test;
    assert_true(fisher_test(&(struct group){0, 5}, &(struct group){0, 9}, &test));
    assert_true(test.two_sided >= 1 && test.less >= 1 && test.greater >= 1);
    assert_true(fisher_test(&(struct group){0, 0}, &(struct group){3, 9}, &test));
    assert_true(test.two_sided >= 1);
    assert_true(
        fisher_test(&(struct group){5, 5}, &(struct group){9, 9}, &test)); /* more events than the other can have */
    assert_true(test.two_sided >= 1);
    assert_false(fisher_test(&(struct group){6, 5}, &(struct group){0, 9}, &test));
    assert_false(fisher_test(&(struct group){0, 5}, &(struct group){10, 9}, &test));
    assert_true(fisher_test(&(struct group){100000, 100000}, &(struct group){0, 100000}, &test));
    assert_true(test.two_sided <= 0 && test.less >= 1); /* far below the smallest number */
    assert_false(poisson_test(0, 1, 0, 1, &test) || poisson_test(1, 0, 1, 1, &test) || poisson_test(1, 1, 1, 0, &test));
    assert_true(poisson_test(3, 1, 0, 1, &test));
    assert_near(test.two_sided, 0.25, 1e-15);
    assert_near(test.greater, 0.125, 1e-15);
}

static void many_tests_in_any_order(void **state)
{
    (void)state;
    static const double p[] = {0.04, 0.0, 0.04, 0.9};
    double adjusted[COUNT(p)];
    benjamini_hochberg(p, COUNT(p), adjusted);
    assert_near(adjusted[0], 0.16 / 3, 1e-15);
    assert_near(adjusted[2], 0.16 / 3, 1e-15);
    assert_true(adjusted[1] <= 0);
    assert_near(adjusted[3], 0.9, 1e-15);
    benjamini_hochberg(p, 0, adjusted);
}

static void change_is_found(void **state)
{
    (void)state;
    static const struct group groups[] = {{0, 0}, {1, 100}, {2, 100}, {0, 0}, {1, 100}, {9, 100}, {8, 100}};
    static const struct group even[] = {{2, 10}, {2, 10}};
    static const struct group wrong[] = {{2, 10}, {12, 10}};
    struct change_point change;
    assert_true(change_point_find(groups, COUNT(groups), &change));
    assert_int_equal(change.first_after, 5);
    assert_int_equal(change.before.events, 4);
    assert_int_equal(change.after.trials, 200);
    assert_true(change.p < 0.01);
    assert_true(change_point_find(even, 2, &change));
    assert_true(change.p >= 1 && change.first_after == 1);
    assert_false(change_point_find(even, 1, &change));
    assert_false(change_point_find(wrong, 2, &change));
}

static void bernoulli_is_designed(void **state)
{
    (void)state;
    struct bernoulli bernoulli;
    double notes;
    double fewer;
    uint32_t span;
    assert_true(bernoulli_design(0.03, 0.06, 5000, &bernoulli));
    assert_int_equal(bernoulli.span, 23);
    assert_true(bernoulli_run_length(bernoulli.span, bernoulli.threshold, 0.03, &notes));
    assert_true(bernoulli_run_length(bernoulli.span, bernoulli.threshold - 1, 0.03, &fewer));
    assert_true(fewer < 5000 && notes >= 5000);
    assert_true(bernoulli_design(0.03, 0.06, 1e12, &bernoulli)); /* as long as a design can be asked for */
    assert_false(bernoulli_design(0.03, 0.06, INFINITY, &bernoulli));
    assert_false(bernoulli_design(0.06, 0.03, 100, &bernoulli));
    assert_false(bernoulli_span(0, 0.1, &span) || bernoulli_span(0.1, 0.1, &span) || bernoulli_span(0.5, 1, &span));
    assert_false(bernoulli_span(0.8, 0.9, &span) || bernoulli_span(1e-6, 2e-6, &span));
    assert_false(bernoulli_run_length(1, 5, 0.1, &notes) || bernoulli_run_length(3, 0, 0.1, &notes));
    assert_false(bernoulli_run_length(BERNOULLI_SPAN_MAX + 1, 5, 0.1, &notes));
    assert_false(bernoulli_run_length(3, 5, 0, &notes) || bernoulli_run_length(3, 5, 1, &notes));
}

static void bernoulli_runs(void **state)
{
    (void)state;
    struct bernoulli bernoulli = {.span = 3, .threshold = 4};
    static const bool events[] = {false, true, false, false, false, true, false, true, true};
    static const uint32_t sums[] = {0, 2, 1, 0, 0, 2, 1, 3, 5};
    for (uint32_t i = 0; i < COUNT(events); i++) {
        assert_int_equal(bernoulli_add(&bernoulli, events[i]), sums[i] >= 4);
        assert_int_equal(bernoulli.sum, sums[i]);
    }
    assert_true(bernoulli_add(&bernoulli, false));
    assert_int_equal(bernoulli.sum, 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shares_without_data),     cmocka_unit_test(trend_passes_over_empty_groups),
        cmocka_unit_test(dispersion_without_data), cmocka_unit_test(chi_square_everywhere),
        cmocka_unit_test(tables_with_empty_lines), cmocka_unit_test(exact_tests_at_the_ends),
        cmocka_unit_test(many_tests_in_any_order), cmocka_unit_test(change_is_found),
        cmocka_unit_test(bernoulli_is_designed),   cmocka_unit_test(bernoulli_runs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
