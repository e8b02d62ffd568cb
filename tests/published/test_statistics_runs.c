/*
 * How long charts run until they signal, against published tables of mean run lengths.
 */
#include "statistics/run_length.h"

#include "near.h"

#define COUNT(array) ((uint32_t)(sizeof(array) / sizeof(array)[0]))

/* A printed number of three digits: half a unit of the last one, and a little for the binary fraction. */
static double three_digits(double printed)
{
    double unit = printed >= 100 ? 1 : printed >= 10 ? 0.1 : 0.01;
    return 0.501 * unit;
}

static double two_sided(double slack, double decision, double head_start, double shift)
{
    struct cusum_plan plan = {slack, decision, head_start};
    double points = 0;
    assert_true(cusum_run_length(&plan, shift, &points));
    return points;
}

static double one_sided(double slack, double decision, double shift)
{
    struct cusum_plan plan = {.slack = slack, .decision = decision};
    double points = 0;
    assert_true(cusum_run_length_upper(&plan, shift, &points));
    return points;
}

/* "Fast initial response for CUSUM quality-control schemes", Technometrics 24 (1982) 199-205, Table 1, as quoted in the help
 * pages of the R package spc: slack 0.5, decision 4, without and with a head start of 2. One printed cell differs by one unit of
 * its last digit from what two programs compute: 1.32 against 1.33. */
static void fast_initial_response(void **state)
{
    (void)state;
    static const struct {
        double shift, plain, fast;
    } rows[] = {
        {0, 168, 149},   {0.25, 74.2, 62.7}, {0.5, 26.6, 20.1}, {0.75, 13.3, 8.97}, {1, 8.38, 5.29}, {1.5, 4.75, 2.86},
        {2, 3.34, 2.01}, {2.5, 2.62, 1.59},  {3, 2.19, 1.32},   {4, 1.71, 1.07},    {5, 1.31, 1.01},
    };
    for (uint32_t i = 0; i < COUNT(rows); i++) {
        double off = rows[i].shift > 2.9 && rows[i].shift < 3.1 ? 0.0100001 : three_digits(rows[i].fast);
        assert_near(two_sided(0.5, 4, 0, rows[i].shift), rows[i].plain, three_digits(rows[i].plain));
        assert_near(two_sided(0.5, 4, 2, rows[i].shift), rows[i].fast, off);
    }
}

/* The textbook's table for a decision of 5, from memory; two cells are half a unit off the recomputed 139.49 and 17.05. Then decisions
 * for about 370 points to a false signal, from memory; the run lengths beside them are recomputed with Python. */
static void textbook_runs_from_memory(void **state)
{
    (void)state;
    static const struct {
        double shift, points;
    } rows[] = {{0, 465},    {0.25, 139}, {0.5, 38.0}, {0.75, 17.0}, {1, 10.4},
                {1.5, 5.75}, {2, 4.01},   {2.5, 3.11}, {3, 2.57},    {4, 2.01}};
    for (uint32_t i = 0; i < COUNT(rows); i++)
        assert_near(two_sided(0.5, 5, 0, rows[i].shift), rows[i].points, 1.1 * three_digits(rows[i].points));
    static const struct {
        double slack, decision, points;
    } designs[] = {{0.25, 8.01, 370.3}, {0.5, 4.77, 368.6},  {0.75, 3.34, 370.6},
                   {1.0, 2.52, 372.8},  {1.25, 1.99, 373.5}, {1.5, 1.61, 376.3}};
    for (uint32_t i = 0; i < COUNT(designs); i++) {
        double decision;
        assert_near(two_sided(designs[i].slack, designs[i].decision, 0, 0), designs[i].points, 0.051);
        assert_true(cusum_design(designs[i].slack, designs[i].points, &decision));
        assert_near(decision, designs[i].decision, 1e-3);
    }
}

/* Biometrika 59 (1972) 539-548 and Journal of Quality Technology 18 (1986) 189-193, both as quoted in the help pages of spc. The
 * second prints 2071.51 for a shift of -0.25 where two programs compute 2071.57. */
static void one_sided_runs(void **state)
{
    (void)state;
    assert_near(one_sided(0.5, 3, 0), 117.59, 0.0060001);
    assert_near(one_sided(0.5, 3, 1.5), 3.75, 0.005);
    assert_near(one_sided(0, 10, -0.25), 2071.57, 0.005);
    static const struct {
        double shift, points;
    } rows[] = {{-0.125, 400.28}, {0, 124.66}, {0.125, 59.30}, {0.25, 36.71}, {0.5, 20.37}, {0.75, 14.06}, {1, 10.75}};
    for (uint32_t i = 0; i < COUNT(rows); i++)
        assert_near(one_sided(0, 10, rows[i].shift), rows[i].points, 0.00501);
}

/* The help page of spc, quoting Technometrics 29 (1987) and 32 (1990); it prints 1.94 at a shift of 2 where 1.95 is computed. */
static void weighted_average_runs(void **state)
{
    (void)state;
    static const struct {
        double weight, width, shift, points, tolerance;
    } rows[] = {
        {0.5, 2, 0, 26.45, 0.00501},  {0.5, 2, 0.5, 11.89, 0.00501}, {0.5, 2, 1, 4.91, 0.00501},
        {0.5, 2, 2, 1.94, 0.0100001}, {0.5, 2, 3, 1.26, 0.00501},    {0.5, 3.071, 0, 500, 0.501},
        {0.5, 3.071, 0.5, 88.8, .05}, {0.5, 3.071, 1, 17.5, 0.0501}, {0.5, 3.071, 2, 3.63, 0.00501},
        {0.5, 3.071, 3, 1.93, .0051}, {0.03, 2.437, 0, 500, 0.501},  {0.03, 2.437, 0.5, 29.3, 0.0501},
        {0.03, 2.437, 1, 12.6, .051}, {0.03, 2.437, 2, 5.99, .0051}, {0.03, 2.437, 3, 4.03, 0.00501},
    };
    for (uint32_t i = 0; i < COUNT(rows); i++) {
        double points = 0;
        assert_true(ewma_run_length(rows[i].weight, rows[i].width, rows[i].shift, &points));
        assert_near(points, rows[i].points, rows[i].tolerance);
    }
    double width = 0;
    assert_true(ewma_design(0.5, 500, &width));
    assert_near(width, 3.071, 5e-4);
    assert_true(ewma_design(0.03, 500, &width));
    assert_near(width, 2.437, 5e-4);
}

/* "Counted data CUSUM's", Technometrics 27 (1985) 129-144, Tables 2 to 5, as quoted in the help pages of spc: reference 0.25, decision
 * 10, mean 0.25, a signal at the decision or above. In quarters, so that the steps are whole. More digits: recomputed. */
static void counted_data(void **state)
{
    (void)state;
    static const struct {
        struct count_sum sum;
        double printed, computed;
    } rows[] = {
        {{4, -1, 40, 0}, 438, 438.125},
        {{4, -1, 40, 20}, 333, 333.125},
        {{-4, 1, 40, 0}, 437, 436.764},
        {{-4, 1, 40, 20}, 318, 318.333},
    };
    for (uint32_t i = 0; i < COUNT(rows); i++) {
        double periods = 0;
        assert_true(count_sum_run_length(&rows[i].sum, 0.25, &periods));
        assert_near(periods, rows[i].printed, 0.5);
        assert_near(periods, rows[i].computed, 5.01e-4);
    }
}

static void what_has_no_run_length(void **state)
{
    (void)state;
    double points;
    assert_false(cusum_run_length(&(struct cusum_plan){0.5, 0, 0}, 0, &points));
    assert_false(cusum_run_length(&(struct cusum_plan){0.5, 4, 4}, 0, &points));
    assert_false(cusum_run_length_upper(&(struct cusum_plan){-0.5, 4, 0}, 0, &points));
    assert_false(cusum_design(0, 370, &points) || cusum_design(0.5, 5, &points) || cusum_design(0.5, 1e7, &points));
    assert_false(ewma_run_length(0, 3, 0, &points) || ewma_run_length(1.1, 3, 0, &points));
    assert_false(ewma_design(0.2, 1e7, &points) || ewma_design(2, 370, &points));
    assert_false(count_sum_run_length(&(struct count_sum){4, 1, 40, 0}, 0.25, &points));
    assert_false(count_sum_run_length(&(struct count_sum){4, -1, 65, 0}, 0.25, &points));
    assert_false(count_sum_run_length(&(struct count_sum){4, -1, 40, 40}, 0.25, &points));
    assert_false(count_sum_run_length(&(struct count_sum){4, -1, 40, 0}, 0, &points));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fast_initial_response), cmocka_unit_test(textbook_runs_from_memory),
        cmocka_unit_test(one_sided_runs),        cmocka_unit_test(weighted_average_runs),
        cmocka_unit_test(counted_data),          cmocka_unit_test(what_has_no_run_length),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
