/*
 * Tables, trends, exact and many tests against published worked examples and R's help pages.
 */
#include "statistics/compare.h"

#include "near.h"

#define COUNT(array) ((uint32_t)(sizeof(array) / sizeof(array)[0]))

static struct table_test tested(const uint64_t *counts, uint32_t rows, uint32_t columns)
{
    struct table_test test;
    assert_true(table_test(&(struct table){counts, rows, columns}, &test));
    return test;
}

/* Tests of the R package that accompanies "Statistical Analysis of Contingency Tables" (2017): lady tasting tea, and the
 * table of chapter 7 (its G, V and residuals are computed). */
static void contingency_tables(void **state)
{
    (void)state;
    static const uint64_t tea[] = {3, 1, 1, 3};
    struct table_test test = tested(tea, 2, 2);
    assert_near(test.pearson, 2.000, 5e-4);
    assert_near(test.pearson_p, 0.15730, 5e-6);
    assert_near(test.likelihood, 2.093, 5e-4);
    assert_near(test.likelihood_p, 0.14798, 5e-6);
    static const uint64_t chapter_7[] = {40, 25, 54, 7, 63, 10};
    test = tested(chapter_7, 3, 2);
    assert_near(test.pearson, 17.562, 5e-4);
    assert_int_equal(test.degrees, 2);
    assert_near(test.pearson_p, 0.00015, 5e-6);
    assert_near(test.pearson, 17.5616364428, 5e-11);
    assert_near(test.likelihood, 16.6996985754, 5e-11);
    assert_near(test.likelihood_p, 0.000236432, 5e-10);
    assert_near(test.cramer, 0.297068, 5e-7);
    static const double residuals[] = {4.1789, -2.2134, -1.9490};
    for (uint32_t i = 0; i < 3; i++)
        assert_near(table_residual(&(struct table){chapter_7, 3, 2}, i, 1), residuals[i], 5e-5);
}

/* R chisq.test on help-page data: an independent program. 138.29 is also the figure in the literature (from memory). */
static void tables_of_r(void **state)
{
    (void)state;
    static const uint64_t party[] = {762, 327, 468, 484, 239, 477};
    struct table_test test = tested(party, 2, 3);
    assert_near(test.pearson, 30.070149, 5e-7);
    assert_near(test.pearson_p, 2.953589e-07, 5e-14);
    static const double residuals[] = {4.5021, 0.6995, -5.3159};
    for (uint32_t j = 0; j < 3; j++)
        assert_near(table_residual(&(struct table){party, 2, 3}, 0, j), residuals[j], 5e-5);
    static const uint64_t hair[] = {68, 20, 15, 5, 119, 84, 54, 29, 26, 17, 14, 14, 7, 94, 10, 16};
    test = tested(hair, 4, 4);
    assert_int_equal(test.degrees, 9);
    assert_near(test.pearson, 138.2898, 5e-5);
    assert_near(test.likelihood, 146.4436, 5e-5);
    static const uint64_t jobs[] = {1, 3, 10, 6, 2, 3, 10, 7, 1, 6, 14, 12, 0, 1, 9, 11};
    assert_near(tested(jobs, 4, 4).pearson, 5.9655, 5e-5);
    static const uint64_t admissions[] = {1198, 1493, 557, 1278};
    assert_near(tested(admissions, 2, 2).pearson, 92.2053, 5e-5);
}

/* R fisher.test; [0 16; 15 57] is of the package tests named above. */
static void fisher(void **state)
{
    (void)state;
    struct exact_test test;
    assert_true(fisher_test(&(struct group){3, 4}, &(struct group){1, 4}, &test));
    assert_near(test.greater, 0.2428571, 5e-8);
    assert_near(test.two_sided, 0.4857143, 5e-8);
    assert_true(fisher_test(&(struct group){0, 16}, &(struct group){15, 72}, &test));
    assert_near(test.two_sided, 0.06287, 5e-6);
    assert_near(test.mid, 0.04466, 5e-6);
    assert_near(test.two_sided, 0.0628666646, 5e-11);
    assert_near(test.mid, 0.0446596912, 5e-11);
    assert_true(fisher_test(&(struct group){2, 17}, &(struct group){10, 13}, &test));
    assert_near(test.less, 0.0004651809, 5e-11);
}

/* Tests of the R package that accompanies "Statistical Analysis of Contingency Tables" (2017): lady tasting tea. */
static void yates(void **state)
{
    (void)state;
    double statistic;
    double p;
    assert_true(yates_test(&(struct group){3, 4}, &(struct group){1, 4}, &statistic, &p));
    assert_near(statistic, 0.500, 5e-4);
    assert_near(p, 0.47950, 5e-6);
    assert_true(yates_test(&(struct group){2, 4}, &(struct group){2, 4}, &statistic, &p));
    assert_true(statistic <= 0 && p >= 1);
    assert_false(yates_test(&(struct group){0, 4}, &(struct group){0, 4}, &statistic, &p));
    assert_false(yates_test(&(struct group){5, 4}, &(struct group){0, 4}, &statistic, &p));
}

/* R fisher.test on larger tables, an independent program; the first is its help page. The second has a column and a row of zeros. */
static void fisher_larger(void **state)
{
    (void)state;
    static const uint64_t jobs[] = {1, 3, 10, 6, 2, 3, 10, 7, 1, 6, 14, 12, 0, 1, 9, 11};
    static const uint64_t sparse[] = {3, 0, 0, 1, 0, 0, 0, 0, 0, 0, 2, 4, 1, 0, 5, 0};
    static const uint64_t tea[] = {3, 1, 1, 3};
    static const uint64_t one_row[] = {3, 1, 0, 0};
    static const uint64_t many[] = {300, 300, 300, 101};
    double p;
    assert_true(exact_table_test(&(struct table){jobs, 4, 4}, &p));
    assert_near(p, 0.7826849, 5e-8);
    assert_near(p / 0.782684938965639, 1, 1e-9);
    assert_true(exact_table_test(&(struct table){sparse, 4, 4}, &p));
    assert_near(p / 0.00511988011988014, 1, 1e-9);
    assert_true(exact_table_test(&(struct table){tea, 2, 2}, &p));
    assert_near(p, 0.4857143, 5e-8);
    assert_false(exact_table_test(&(struct table){one_row, 2, 2}, &p));
    assert_false(exact_table_test(&(struct table){many, 2, 2}, &p));
}

/* R mantelhaen.test on UCBAdmissions, an independent program: who looks bad in all counts together need not in any layer. */
static void layers(void **state)
{
    (void)state;
    static const struct layer departments[] = {
        {{512, 825}, {89, 108}},  {{353, 560}, {17, 25}}, {{120, 325}, {202, 593}},
        {{138, 417}, {131, 375}}, {{53, 191}, {94, 393}}, {{22, 373}, {24, 341}},
    };
    struct layer_test test;
    assert_true(layer_test(departments, COUNT(departments), &test));
    assert_near(test.statistic, 1.5246, 5e-5);
    assert_near(test.p, 0.2169, 5e-5);
    assert_near(test.corrected, 1.4269, 5e-5);
    assert_near(test.corrected_p, 0.2323, 5e-5);
    assert_near(test.odds_ratio, 0.9046968, 5e-8);
    static const struct layer dull[] = {{{0, 9}, {0, 4}}, {{4, 4}, {2, 2}}, {{0, 0}, {1, 2}}};
    assert_false(layer_test(dull, COUNT(dull), &test));
    static const struct layer wrong[] = {{{4, 3}, {0, 4}}};
    assert_false(layer_test(wrong, COUNT(wrong), &test));
    static const struct layer all_agree[] = {{{3, 3}, {0, 4}}};
    assert_true(layer_test(all_agree, COUNT(all_agree), &test));
    assert_true(test.odds_ratio < 0);
}

/* R poisson.test, help page: an independent program. */
static void poisson(void **state)
{
    (void)state;
    struct exact_test test;
    assert_true(poisson_test(11, 800, 21, 3011, &test));
    assert_near(test.two_sided, 0.07966863, 5e-9);
}

/* R prop.test and prop.trend.test, help page: an independent program. */
static void trend(void **state)
{
    (void)state;
    static const struct group smokers[] = {{83, 86}, {90, 93}, {129, 136}, {70, 82}};
    static const uint64_t counts[] = {83, 3, 90, 3, 129, 7, 70, 12};
    double statistic;
    double p;
    assert_true(trend_test(smokers, COUNT(smokers), &statistic, &p));
    assert_near(statistic, 8.2249, 5e-5);
    assert_near(p, 0.004131897, 5e-10);
    struct table_test test = tested(counts, 4, 2);
    assert_near(test.pearson, 12.6004, 5e-5);
    assert_near(test.pearson_p, 0.005585, 5e-7);
}

/* Journal of the Royal Statistical Society B 57 (1995) 289-300: the values as in the documentation of SciPy, the number of
 * rejections from memory; adjusted values computed. */
static void many_tests(void **state)
{
    (void)state;
    static const double p[] = {.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344,
                               .0459, .3240, .4262, .5719, .6528, .7590, 1.000};
    static const double expected[] = {.0015, .003, .0095,     .035625, .0603,     .06385714, .06385714, .0645,
                                      .0765, .486, .58118182, .714875, .75323077, .81321429, 1};
    double adjusted[COUNT(p)];
    uint32_t rejected = 0;
    uint32_t rejected_dependent = 0;
    benjamini_hochberg(p, COUNT(p), adjusted);
    for (uint32_t i = 0; i < COUNT(p); i++) {
        assert_near(adjusted[i], expected[i], 5.01e-9);
        rejected += adjusted[i] <= 0.05;
        rejected_dependent += adjusted[i] <= 0.05 / benjamini_dependence(COUNT(p));
    }
    assert_int_equal(rejected, 4);
    assert_int_equal(rejected_dependent, 3);
    assert_near(benjamini_dependence(COUNT(p)), 3.3182289932, 5e-11);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contingency_tables),
        cmocka_unit_test(tables_of_r),
        cmocka_unit_test(fisher),
        cmocka_unit_test(yates),
        cmocka_unit_test(fisher_larger),
        cmocka_unit_test(layers),
        cmocka_unit_test(poisson),
        cmocka_unit_test(trend),
        cmocka_unit_test(many_tests),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
