/*
 * The arithmetic of evidence against published numbers: predictive values, the sequential test, information gain, d' and
 * likelihood ratios, quantiles of the beta distribution; and the built-in figures against the studies they come from.
 * Each value names its source; "from memory" marks values whose source was not read again.
 */
#include "guidance/evidence.h"
#include "model/beta.h"
#include "near.h"
#include "packs/pack.h"

#include <math.h>

/* ---- Predictive values ---- */

static double positive_value(double prevalence, double sensitivity, double false_alarm)
{
    return log_odds_probability(log_odds(prevalence) + log(ratio_differs(sensitivity, false_alarm)));
}

static double negative_value(double prevalence, double sensitivity, double false_alarm)
{
    return log_odds_probability(-(log_odds(prevalence) + log(ratio_passes(sensitivity, false_alarm))));
}

/* British Medical Journal 309 (1994) 102: liver scan, 231 of 258 and 54 of 86, prevalence 0.75. The note prints the
 * negative value as 0.59; 54 of 81 is 0.667, and that is what must come out. */
static void predictive_values_of_the_liver_scan(void **state)
{
    (void)state;
    double sensitivity = 231.0 / 258;
    double alarm = 32.0 / 86;
    assert_near(positive_value(0.75, sensitivity, alarm), 0.88, 0.005);
    assert_near(positive_value(0.75, sensitivity, alarm), 231.0 / 263, 1e-12);
    assert_near(negative_value(0.75, sensitivity, alarm), 54.0 / 81, 1e-12);
    assert_near(positive_value(0.25, sensitivity, alarm), 0.45, 0.005);
    assert_near(negative_value(0.25, sensitivity, alarm), 0.95, 0.005);
    assert_near(ratio_differs(sensitivity, alarm), 2.40625, 1e-12);
    assert_near(ratio_passes(sensitivity, alarm), 0.1666667, 5e-8);
}

/* Screening examples as told in several secondary pages; the fourth answer from memory. */
static void predictive_values_of_screening(void **state)
{
    (void)state;
    assert_near(positive_value(0.01, 0.9, 0.09), 0.0917431, 5e-8);   /* "about 1 in 10" */
    assert_near(positive_value(0.008, 0.9, 0.07), 0.0939457, 5e-8);  /* "about 9 %" */
    assert_near(positive_value(0.005, 0.95, 0.01), 0.3231293, 5e-8); /* "about 32 %" */
    assert_near(positive_value(0.01, 0.8, 0.096), 0.0776398, 5e-8);  /* 7.8 %, from memory */
}

/* Worked out, not published: a refusal with ratio 33 at the base rates of three currencies. */
static void a_refusal_at_small_base_rates(void **state)
{
    (void)state;
    assert_near(1 / positive_value(18e-6, 0.99, 0.03), 1684, 1);
    assert_near(1 / positive_value(112e-6, 0.99, 0.03), 272, 0.5);
    assert_near(1 / positive_value(1.5e-6, 0.99, 0.03), 20203, 1);
    /* Consumers' "looks wrong" alone, at 18 for each million: about 1 in 5,800. */
    assert_near(1 / positive_value(18e-6, 0.79, 14.9 / 180), 5800, 50);
}

/* ---- The sequential test ---- */

static void the_sequential_test(void **state)
{
    (void)state;
    struct wald wald;
    /* "Sequential Analysis" (1947), chapter 5 (inputs from memory). */
    wald_test(0.10, 0.30, 0.02, 0.03, &wald);
    assert_near(wald.intercept_low, -2.58263, 5e-6);
    assert_near(wald.intercept_high, 2.87539, 5e-6);
    assert_near(wald.slope, 0.186169, 5e-7);
    assert_near(wald.looks_p0, 28.705, 5e-4);
    assert_near(wald.looks_p1, 23.822, 5e-4);
    assert_near(wald.looks_between, 49.01, 5e-3);
    /* First acceptance possible at n = 14, rejection at 4 for n <= 6 (computed). */
    assert_true(floor(wald.intercept_low + wald.slope * 13) < 0);
    assert_true(floor(wald.intercept_low + wald.slope * 14) >= 0);
    assert_near(ceil(wald.intercept_high + wald.slope * 6), 4, 0);
    assert_near(ceil(wald.intercept_high + wald.slope * 7), 5, 0);
    /* Textbook lines X_A = -1.22 + 0.028 n, X_R = 1.57 + 0.028 n (from memory). */
    wald_test(0.01, 0.06, 0.05, 0.10, &wald);
    assert_near(wald.intercept_low, -1.22, 0.005);
    assert_near(wald.intercept_high, 1.57, 0.005);
    assert_near(wald.slope, 0.028, 0.0005);
    assert_near(wald.looks_p0, 59.73, 5e-3);
    assert_near(wald.looks_p1, 40.42, 5e-3);
    assert_near(wald.looks_between, 70.08, 5e-3);
    /* Computed in the style of the e-Handbook 6.2.6. */
    wald_test(0.01, 0.10, 0.05, 0.10, &wald);
    assert_near(wald.intercept_low, -0.938862, 5e-7);
    assert_near(wald.intercept_high, 1.205379, 5e-7);
    assert_near(wald.slope, 0.0397474, 5e-8);
    assert_near(wald.looks_p0, 27.96, 5e-3);
    assert_near(wald.looks_p1, 16.45, 5e-3);
    assert_near(wald.looks_between, 29.65, 5e-3);
    /* Example output of the R package SPRT: the lower bound; the upper from memory. */
    wald_test(0.01, 0.10, 0.05, 0.20, &wald);
    assert_near(wald.lower, -1.558, 5e-4);
    assert_near(wald.upper, 2.773, 5e-4);
}

/* ---- Information ---- */

/* "Induction of decision trees", Machine Learning 1 (1986): 14 days, 9 yes and 5 no; 0.246 and 0.151 are printed cut off.
 * Full digits computed. */
static void information_of_the_weather(void **state)
{
    (void)state;
    static const double days[] = {9, 5};
    static const double outlook[] = {2, 3, 4, 0, 3, 2};
    static const double humidity[] = {3, 4, 6, 1};
    static const double wind[] = {6, 2, 3, 3};
    static const double temperature[] = {2, 2, 4, 2, 3, 1};
    assert_near(entropy(days, 2), 0.9402859587, 5e-11);
    assert_near(information_gain(outlook, 3, 2), 0.2467498198, 5e-11);
    assert_near(information_gain(humidity, 2, 2), 0.1518355014, 5e-11);
    assert_near(information_gain(wind, 2, 2), 0.0481270304, 5e-11);
    assert_near(information_gain(temperature, 3, 2), 0.0292225657, 5e-11);
    static const double useless[] = {2, 4, 1, 2};
    assert_near(information_gain(useless, 2, 2), 0, 1e-15);
}

/* With a chance of 1 in 100,000 there are 1.8e-4 bits to be had (computed), and a look gets some of them. */
static void information_when_hardly_any_note_is_meant(void **state)
{
    (void)state;
    static const double rare[] = {1e-5, 1 - 1e-5};
    assert_near(entropy(rare, 2), 1.8e-4, 5e-6);
    double glance = look_information(log_odds(1e-5), 0.734, 0.266);
    double look = look_information(log_odds(1e-5), 0.758, 0.242);
    assert_true(glance > 0 && look > glance && look < entropy(rare, 2));
}

/* ---- Looks at notes ---- */

/* Deutsche Bundesbank Discussion Paper 06/2016: 79 % found, 14.9 of 180 genuine notes doubted. */
static void consumers_at_their_own_pace(void **state)
{
    (void)state;
    assert_near(discriminability(0.79, 14.9 / 180), 2.193, 5e-4);
    assert_near(ratio_differs(0.79, 14.9 / 180), 9.54, 5e-3);
    assert_near(ratio_passes(0.79, 14.9 / 180), 0.229, 5e-4);
}

/* The built-in rows give the ratios that the studies' figures lead to. */
static void built_in_looks(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        double plus, minus, tolerance;
    } rows[] = {
        {"glance", 2.8, 0.36, 0.05},              /* d' 1.25 at 0.5 s: four central banks, from 2018 */
        {"sight", 3.1, 0.32, 0.05},               /* d' 1.40 at 3 s: the same */
        {"touch", 2.85, 0.35, 0.005},             /* 74 % by touch: Proceedings of SPIE 5310, 2004, symmetric */
        {"whole-seven-seconds", 4.0, 0.25, 1e-9}, /* 80 %: the same */
        {"whole-consumer", 9.5, 0.23, 0.05},      /* Discussion Paper 06/2016 */
    };
    struct pack_set *packs;
    assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
    const struct pack_evidence *figures = pack_evidence_find(packs);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct pack_look *look = &figures->looks[i];
        double hit;
        double alarm;
        assert_string_equal(look->id, rows[i].id);
        look_rates(look, &hit, &alarm);
        assert_near(ratio_differs(hit, alarm), rows[i].plus, rows[i].tolerance);
        assert_near(ratio_passes(hit, alarm), rows[i].minus, fmin(rows[i].tolerance, 0.005));
    }
    /* "2 to 5 % false rejects": trade press of 2002, common practice. */
    assert_near(figures->rejects.low, 0.02, 0);
    assert_near(figures->rejects.high, 0.05, 0);
    pack_set_release(packs);
}

/* ---- The beta distribution ---- */

/* Limits of Clopper-Pearson are quantiles of it: Statistics in Medicine 17 (1998) 857-872, Table I (15/148 and 1/29 from
 * memory), and the tests of the R package of "Statistical Analysis of Contingency Tables" (13/16). */
static void quantiles_of_the_beta_distribution(void **state)
{
    (void)state;
    static const struct {
        double x, n, lower, upper, tolerance;
    } rows[] = {
        {81, 263, 0.2527, 0.3676, 5e-5}, {81, 263, 0.2527367455852713, 0.3676219226013515, 1e-12}, /* computed */
        {15, 148, 0.0578, 0.1617, 5e-5}, {1, 29, 0.0009, 0.1776, 5e-5},
        {13, 16, 0.5435, 0.9595, 5e-5},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_near(beta_quantile(0.025, rows[i].x, rows[i].n - rows[i].x + 1), rows[i].lower, rows[i].tolerance);
        assert_near(beta_quantile(0.975, rows[i].x + 1, rows[i].n - rows[i].x), rows[i].upper, rows[i].tolerance);
    }
    assert_near(beta_quantile(0.975, 1, 20), 0.1684334709830853, 1e-12); /* 0 of 20, computed */
    /* 13 of 16, Jeffreys: the same package. */
    assert_near(beta_quantile(0.025, 13.5, 3.5), 0.5792, 5e-5);
    assert_near(beta_quantile(0.975, 13.5, 3.5), 0.9442, 5e-5);
    /* 682 of 925: R, binom.test. */
    assert_near(beta_quantile(0.025, 682, 244), 0.7076682641, 5e-11);
    assert_near(beta_quantile(0.975, 683, 243), 0.7654065582, 5e-11);
    assert_near(beta_cumulative(0.3, 1, 1), 0.3, 1e-15);
    assert_true(beta_cumulative(0, 2, 3) == 0 && beta_cumulative(1, 2, 3) == 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(predictive_values_of_the_liver_scan),
        cmocka_unit_test(predictive_values_of_screening),
        cmocka_unit_test(a_refusal_at_small_base_rates),
        cmocka_unit_test(the_sequential_test),
        cmocka_unit_test(information_of_the_weather),
        cmocka_unit_test(information_when_hardly_any_note_is_meant),
        cmocka_unit_test(consumers_at_their_own_pace),
        cmocka_unit_test(built_in_looks),
        cmocka_unit_test(quantiles_of_the_beta_distribution),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
