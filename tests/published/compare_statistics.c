/*
 * Draws inputs by chance and prints them with our answers, for other programs to answer too: see compare-statistics.sh.
 * One line each: method;inputs;answers, numbers separated by commas.
 */
#include "statistics/bernoulli.h"
#include "statistics/compare.h"
#include "statistics/run_length.h"
#include "statistics/statistics.h"

#include "chance.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#define ROUNDS 300

static struct chance chance = {.state = 20261128};

static uint64_t below(uint64_t limit)
{
    return chance_next(&chance) % limit;
}

static double between(double low, double high)
{
    return low + (high - low) * (double)below(1000001) / 1000000;
}

/* From a handful to a hundred thousand trials, and shares from rare to common. */
static struct group group_draw(uint64_t most)
{
    static const uint64_t scales[] = {10, 100, 1000, 10000, 100000};
    uint64_t scale = scales[below(sizeof scales / sizeof scales[0])];
    uint64_t trials = 1 + below(scale < most ? scale : most);
    uint64_t events = below(2) == 0 ? below(trials + 1) : below(trials / 30 + 2);
    return (struct group){events < trials ? events : trials, trials};
}

static void groups_print(const struct group *groups, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        printf("%s%" PRIu64 ",%" PRIu64, i > 0 ? "," : "", groups[i].events, groups[i].trials);
}

/* ---- Intervals and tails ---- */

static void intervals(void)
{
    struct group one = group_draw(100000);
    struct group other = group_draw(100000);
    double lower;
    double upper;
    double alpha = between(0.001, 0.2);
    if (!interval_wilson(one.events, one.trials, QUANTILE_975, &lower, &upper))
        exit(1);
    printf("wilson;%" PRIu64 ",%" PRIu64 ";%.17g,%.17g\n", one.events, one.trials, lower, upper);
    if (!interval_exact(one.events, one.trials, alpha, &lower, &upper))
        exit(1);
    printf("exact;%" PRIu64 ",%" PRIu64 ",%.17g;%.17g,%.17g\n", one.events, one.trials, alpha, lower, upper);
    if (!interval_newcombe(one.events, one.trials, other.events, other.trials, QUANTILE_975, &lower, &upper))
        exit(1);
    printf("newcombe;%" PRIu64 ",%" PRIu64 ",%" PRIu64 ",%" PRIu64 ";%.17g,%.17g\n", one.events, one.trials,
           other.events, other.trials, lower, upper);
    double p = between(0.0005, 0.2);
    uint64_t events = (uint64_t)((double)one.trials * p * between(0, 2.5));
    printf("binomial;%" PRIu64 ",%" PRIu64 ",%.17g;%.17g,%.17g\n", events, one.trials, p,
           binomial_upper_tail(events, one.trials, p), binomial_lower_tail(events, one.trials, p));
}

/* ---- Tests of counts ---- */

static void two_groups(void)
{
    struct group pair[2] = {group_draw(2000), group_draw(2000)};
    struct exact_test test;
    double statistic;
    double p;
    if (!fisher_test(&pair[0], &pair[1], &test))
        exit(1);
    printf("fisher;");
    groups_print(pair, 2);
    printf(";%.17g,%.17g,%.17g\n", test.less, test.greater, test.two_sided);
    if (yates_test(&pair[0], &pair[1], &statistic, &p)) {
        printf("yates;");
        groups_print(pair, 2);
        printf(";%.17g,%.17g\n", statistic, p);
    }
    double amount1 = between(1, 50);
    double amount2 = between(1, 50);
    uint64_t x1 = below(60);
    uint64_t x2 = 1 + below(60);
    if (!poisson_test(x1, amount1, x2, amount2, &test))
        exit(1);
    printf("poisson;%" PRIu64 ",%.17g,%" PRIu64 ",%.17g;%.17g,%.17g,%.17g\n", x1, amount1, x2, amount2, test.less,
           test.greater, test.two_sided);
}

static void many_groups(void)
{
    struct group groups[8];
    uint32_t count = 2 + (uint32_t)below(7);
    double statistic;
    double p;
    for (uint32_t i = 0; i < count; i++)
        groups[i] = group_draw(100000);
    if (trend_test(groups, count, &statistic, &p)) {
        printf("trend;");
        groups_print(groups, count);
        printf(";%.17g,%.17g\n", statistic, p);
    }
    struct layer layers[4];
    struct layer_test test;
    for (uint32_t i = 0; i < 4; i++)
        layers[i] = (struct layer){group_draw(100000), group_draw(100000)};
    for (uint32_t i = 0; i < 4; i++) { /* R takes layers of two trials and more */
        layers[i].one.trials += 1;
        layers[i].other.trials += 1;
    }
    if (layer_test(layers, 4, &test) && test.corrected > 0) { /* where it would be 0, R does not correct at all */
        printf("layers;");
        for (uint32_t i = 0; i < 4; i++) {
            printf("%s", i > 0 ? "," : "");
            groups_print((struct group[]){layers[i].one, layers[i].other}, 2);
        }
        printf(";%.17g,%.17g,%.17g,%.17g,%.17g\n", test.statistic, test.p, test.corrected, test.corrected_p,
               test.odds_ratio);
    }
}

static void table_print(const char *method, const struct table *table)
{
    printf("%s;%" PRIu32 ",%" PRIu32, method, table->rows, table->columns);
    for (uint32_t i = 0; i < table->rows * table->columns; i++)
        printf(",%" PRIu64, table->counts[i]);
}

static void tables(uint32_t round)
{
    uint64_t counts[25];
    struct table table = {counts, 2 + (uint32_t)below(4), 2 + (uint32_t)below(4)};
    for (uint32_t i = 0; i < table.rows * table.columns; i++)
        counts[i] = 1 + below(1000);
    struct table_test test;
    if (!table_test(&table, &test))
        exit(1);
    table_print("table", &table);
    printf(";%.17g,%.17g,%.17g,%.17g,%.17g\n", test.pearson, test.pearson_p, test.likelihood, test.likelihood_p,
           table_residual(&table, 0, 0));
    if (round % 3 != 0)
        return;
    table.rows = 2 + (uint32_t)below(2);
    table.columns = 2 + (uint32_t)below(3);
    for (uint32_t i = 0; i < table.rows * table.columns; i++)
        counts[i] = (i % table.columns == i / table.columns) + below(5);
    double p;
    if (!exact_table_test(&table, &p))
        exit(1);
    table_print("exact_table", &table);
    printf(";%.17g\n", p);
}

static void many_tests(void)
{
    double p[12];
    double adjusted[12];
    uint32_t count = 2 + (uint32_t)below(11);
    printf("many;");
    for (uint32_t i = 0; i < count; i++) {
        p[i] = below(2) == 0 ? between(0, 1) : between(0, 0.05);
        printf("%s%.17g", i > 0 ? "," : "", p[i]);
    }
    benjamini_hochberg(p, count, adjusted);
    for (uint32_t i = 0; i < count; i++)
        printf("%c%.17g", i > 0 ? ',' : ';', adjusted[i]);
    printf("\n");
}

/* ---- Values and run lengths ---- */

static void values(void)
{
    double values[20];
    double base = between(0, 1e6);
    printf("moments;");
    for (uint32_t i = 0; i < 20; i++) {
        values[i] = base + between(0, 1);
        printf("%s%.17g", i > 0 ? "," : "", values[i]);
    }
    struct moments moments = moments_of(values, 20);
    printf(";%.17g,%.17g\n", moments.mean, moments.deviation);
}

static void runs(uint32_t round)
{
    struct cusum_plan plan = {between(0.2, 1), between(1, 6), 0};
    plan.head_start = below(2) == 0 ? 0 : plan.decision / 2;
    double shift = between(0, 2);
    double points;
    if (round % 10 != 0)
        return;
    if (!cusum_run_length(&plan, shift, &points))
        exit(1);
    printf("cusum;%.17g,%.17g,%.17g,%.17g;%.17g\n", plan.slack, plan.decision, plan.head_start, shift, points);
    double weight = between(0.05, 1);
    double width = between(2, 3.5);
    if (!ewma_run_length(weight, width, shift, &points))
        exit(1);
    printf("ewma;%.17g,%.17g,%.17g;%.17g\n", weight, width, shift, points);
    uint32_t span = 2 + (uint32_t)below(40);
    uint32_t threshold = 1 + (uint32_t)below(100);
    double p = between(0.01, 0.5);
    if (!bernoulli_run_length(span, threshold, p, &points))
        exit(1);
    if (points < 1e5) /* a chain with a longer run is nearly singular: what it is compared with would lose digits */
        printf("bernoulli;%" PRIu32 ",%" PRIu32 ",%.17g;%.17g\n", span, threshold, p, points);
}

int main(void)
{
    for (uint32_t round = 0; round < ROUNDS; round++) {
        intervals();
        two_groups();
        many_groups();
        tables(round);
        many_tests();
        values();
        runs(round);
    }
    return 0;
}
