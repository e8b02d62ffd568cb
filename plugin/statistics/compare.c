/*
 * Counts compared: tables, trends, many tests, change points. See compare.h.
 */
#include "statistics/compare.h"

#include <math.h>
#include <stddef.h>

#define LOG_SQRT_PI 0.57236494292470008707 /* ln Gamma(1/2) */

/* The finite sums 26.4.4 and 26.4.5 of the Handbook of Mathematical Functions (1964; numbers from memory): exact for whole
 * degrees. In logarithms, so that neither a large x nor many degrees leave the range of numbers. */
double chi_square_tail(double x, uint32_t degrees)
{
    if (!(x > 0))
        return 1;
    bool odd = degrees % 2 != 0;
    double half = x / 2;
    double power = odd ? 0.5 : 0; /* the terms are e^-half half^power / Gamma(power + 1) */
    double term = odd ? 0.5 * log(half) - (LOG_SQRT_PI - log(2)) - half : -half;
    double sum = odd ? erfc(sqrt(half)) : 0;
    for (uint32_t i = 0; i < degrees / 2; i++) {
        sum += exp(term);
        power += 1;
        term += log(half / power);
    }
    return fmin(sum, 1);
}

static double row_total(const struct table *table, uint32_t row)
{
    double total = 0;
    for (uint32_t j = 0; j < table->columns; j++)
        total += (double)table->counts[(size_t)row * table->columns + j];
    return total;
}

static double column_total(const struct table *table, uint32_t column)
{
    double total = 0;
    for (uint32_t i = 0; i < table->rows; i++)
        total += (double)table->counts[(size_t)i * table->columns + column];
    return total;
}

static double table_total(const struct table *table)
{
    double total = 0;
    for (uint32_t i = 0; i < table->rows; i++)
        total += row_total(table, i);
    return total;
}

/* 0 ln 0 is 0. */
static double times_log(double count, double ratio)
{
    return count > 0 ? count * log(ratio) : 0;
}

/* One row into the sums; the row and the table are not empty. */
static void row_add(const struct table *table, uint32_t row, double total, struct table_test *test)
{
    double in_row = row_total(table, row);
    for (uint32_t j = 0; j < table->columns; j++) {
        double expected = in_row * column_total(table, j) / total;
        if (!(expected > 0))
            continue;
        double seen = (double)table->counts[(size_t)row * table->columns + j];
        test->pearson += (seen - expected) * (seen - expected) / expected;
        test->likelihood += 2 * times_log(seen, seen / expected);
        test->expected_least = fmin(test->expected_least, expected);
    }
}

/* Pearson's X^2, G and Cramer's V as in "Statistical Analysis of Contingency Tables" (2017), chapter 7. */
bool table_test(const struct table *table, struct table_test *test)
{
    uint32_t rows = 0;
    uint32_t columns = 0;
    for (uint32_t i = 0; i < table->rows; i++)
        rows += row_total(table, i) > 0;
    for (uint32_t j = 0; j < table->columns; j++)
        columns += column_total(table, j) > 0;
    if (rows < 2 || columns < 2)
        return false;
    double total = table_total(table);
    *test = (struct table_test){.expected_least = total, .degrees = (rows - 1) * (columns - 1)};
    for (uint32_t i = 0; i < table->rows; i++)
        row_add(table, i, total, test);
    test->pearson_p = chi_square_tail(test->pearson, test->degrees);
    test->likelihood = fmax(test->likelihood, 0); /* rounding can leave a little less */
    test->likelihood_p = chi_square_tail(test->likelihood, test->degrees);
    test->cramer = sqrt(test->pearson / (total * ((rows < columns ? rows : columns) - 1)));
    return true;
}

bool yates_test(const struct group *one, const struct group *other, double *statistic, double *p)
{
    if (one->events > one->trials || other->events > other->trials)
        return false;
    double a = (double)one->events;
    double b = (double)one->trials - a;
    double c = (double)other->events;
    double d = (double)other->trials - c;
    double margins = (a + b) * (c + d) * (a + c) * (b + d);
    double total = a + b + c + d;
    if (!(margins > 0))
        return false;
    double off = fmax(fabs(a * d - b * c) - total / 2, 0);
    *statistic = total * off * off / margins;
    *p = chi_square_tail(*statistic, 1);
    return true;
}

/* One layer into the sums: events of the first against what its margins let expect. */
struct layer_sums {
    double off, variance, agree, against;
};

static void layer_add(const struct layer *layer, struct layer_sums *sums)
{
    double a = (double)layer->one.events;
    double c = (double)layer->other.events;
    double first = (double)layer->one.trials;
    double second = (double)layer->other.trials;
    double total = first + second;
    if (total < 2)
        return;
    double events = a + c;
    sums->off += a - first * events / total;
    sums->variance += first * second * events * (total - events) / (total * total * (total - 1));
    sums->agree += a * (second - c) / total;
    sums->against += (first - a) * c / total;
}

/* As R's mantelhaen.test does; the original is in the Journal of the National Cancer Institute 22 (1959) (from memory). */
bool layer_test(const struct layer *layers, uint32_t count, struct layer_test *test)
{
    struct layer_sums sums = {0, 0, 0, 0};
    for (uint32_t i = 0; i < count; i++) {
        if (layers[i].one.events > layers[i].one.trials || layers[i].other.events > layers[i].other.trials)
            return false;
        layer_add(&layers[i], &sums);
    }
    if (!(sums.variance > 0))
        return false;
    double off = fabs(sums.off);
    double less = fmax(off - 0.5, 0);
    test->statistic = off * off / sums.variance;
    test->corrected = less * less / sums.variance;
    test->p = chi_square_tail(test->statistic, 1);
    test->corrected_p = chi_square_tail(test->corrected, 1);
    test->odds_ratio = sums.against > 0 ? sums.agree / sums.against : -1;
    return true;
}

double table_residual(const struct table *table, uint32_t row, uint32_t column)
{
    double total = table_total(table);
    double in_row = row_total(table, row);
    double in_column = column_total(table, column);
    double expected = in_row * in_column / fmax(total, 1);
    double variance = expected * (1 - in_row / fmax(total, 1)) * (1 - in_column / fmax(total, 1));
    double seen = (double)table->counts[(size_t)row * table->columns + column];
    return variance > 0 ? (seen - expected) / sqrt(variance) : 0;
}

/* Scores 1, 2, 3, ...: the form of R's prop.trend.test. */
bool trend_test(const struct group *groups, uint32_t count, double *statistic, double *p)
{
    double share;
    if (!groups_share(groups, count, &share) || share <= 0 || share >= 1)
        return false;
    double trials = 0;
    double scores = 0;
    double squares = 0;
    double lean = 0;
    for (uint32_t i = 0; i < count; i++) {
        double n = (double)groups[i].trials;
        double score = i + 1.0;
        double off = score - (trials > 0 ? scores / trials : score);
        squares += trials + n > 0 ? off * off * n * trials / (trials + n) : 0; /* Welford's update with weights */
        trials += n;
        scores += score * n;
        lean += score * ((double)groups[i].events - n * share);
    }
    if (!(squares > 0))
        return false;
    *statistic = lean * lean / (share * (1 - share) * squares);
    *p = chi_square_tail(*statistic, 1);
    return true;
}

/* Journal of the Royal Statistical Society B 57 (1995) 289-300. The rank of a p counts all that are not greater, so that
 * ties share the last rank; the least over all that are not smaller makes the adjusted values rise with p. */
void benjamini_hochberg(const double *p, uint32_t count, double *adjusted)
{
    for (uint32_t i = 0; i < count; i++) {
        uint32_t rank = 0;
        for (uint32_t j = 0; j < count; j++)
            rank += p[j] <= p[i];
        adjusted[i] = fmin(p[i] * count / rank, 1);
    }
    for (uint32_t i = 0; i < count; i++)
        for (uint32_t j = 0; j < count; j++)
            if (p[j] >= p[i])
                adjusted[i] = fmin(adjusted[i], adjusted[j]);
}

double benjamini_dependence(uint32_t count)
{
    double sum = 0;
    for (uint32_t i = count; i > 0; i--)
        sum += 1.0 / i;
    return sum;
}

static double group_likelihood(const struct group *group)
{
    double trials = (double)group->trials;
    double events = (double)group->events;
    return times_log(events, events / trials) + times_log(trials - events, (trials - events) / trials);
}

/* The likelihood ratio of two shares against one, at each split. */
bool change_point_find(const struct group *groups, uint32_t count, struct change_point *change)
{
    double share;
    if (!groups_share(groups, count, &share))
        return false;
    struct group all = {0, 0};
    for (uint32_t i = 0; i < count; i++)
        all = (struct group){all.events + groups[i].events, all.trials + groups[i].trials};
    struct group before = {0, 0};
    uint32_t splits = 0;
    for (uint32_t i = 0; i < count; i++) {
        struct group after = {all.events - before.events, all.trials - before.trials};
        if (groups[i].trials > 0 && before.trials > 0) {
            double gain = group_likelihood(&before) + group_likelihood(&after) - group_likelihood(&all);
            double statistic = fmax(2 * gain, 0);
            if (splits++ == 0 || statistic > change->statistic)
                *change = (struct change_point){i, before, after, statistic, 1};
        }
        before = (struct group){before.events + groups[i].events, before.trials + groups[i].trials};
    }
    if (splits == 0)
        return false;
    change->p = fmin(splits * chi_square_tail(change->statistic, 1), 1);
    return true;
}
