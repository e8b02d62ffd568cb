/*
 * Fisher's exact test for tables larger than two by two. See compare.h.
 */
#include "statistics/compare.h"

#include <math.h>
#include <stddef.h>

/* As in exact.c: as likely as what was seen, but for rounding. */
#define AS_LIKELY 1e-7

/* A table is counted column by column, each column cell by cell. `left` is what the rows still take. The likelihood of a
 * column, given what is left, is a product of binomial coefficients; all are kept as logarithms. Columns stand in growing order:
 * few ways at first, and the last two are one walk. */
struct search {
    uint32_t rows, columns;
    uint32_t columns_sum[EXACT_COLUMNS];
    uint32_t left[EXACT_ROWS];
    double factorial_log[EXACT_TOTAL + 1];
    double seen; /* logarithm of this table's product, and a little */
    double sum;  /* of the products of all tables that are no likelier, against the sum of all */
    double all;  /* logarithm of the sum of all */
    uint64_t steps;
};

static double choose_log(const struct search *search, uint32_t of, uint32_t taken)
{
    const double *logs = search->factorial_log;
    return logs[of] - logs[taken] - logs[of - taken];
}

/* The likeliest way to take `count` from what is left: one after the other from the row that gains most. Binomial coefficients
 * rise ever more slowly, so the best next one is best altogether. */
static double best_log(struct search *search, uint32_t count)
{
    uint32_t taken[EXACT_ROWS] = {0};
    double log_product = 0;
    for (; count > 0; count--) {
        uint32_t best = 0;
        double gain = -1;
        for (uint32_t i = 0; i < search->rows; i++) {
            double ratio = (double)(search->left[i] - taken[i]) / (taken[i] + 1);
            if (ratio > gain) {
                gain = ratio;
                best = i;
            }
        }
        taken[best]++;
        log_product += log(gain);
        search->steps++;
    }
    return log_product;
}

static void columns_walk(struct search *search, uint32_t column, double path);

/* The rows from `row` on still give `count` to this column; those after it can take `room`. */
static void rows_walk(struct search *search, uint32_t column, uint32_t row, uint32_t count, uint32_t room, double path)
{
    if (search->steps++ > EXACT_STEPS)
        return;
    if (row + 1 == search->rows) {
        path += choose_log(search, search->left[row], count);
        search->left[row] -= count;
        columns_walk(search, column + 1, path);
        search->left[row] += count;
        return;
    }
    uint32_t here = search->left[row];
    uint32_t most = here < count ? here : count;
    for (uint32_t taken = count > room ? count - room : 0; taken <= most; taken++) {
        search->left[row] = here - taken;
        rows_walk(search, column, row + 1, count - taken, room - search->left[row + 1],
                  path + choose_log(search, here, taken));
    }
    search->left[row] = here;
}

/* With two columns left, a whole branch counts at once when its likeliest table is no likelier than what was seen. */
static void columns_walk(struct search *search, uint32_t column, double path)
{
    if (column + 1 == search->columns) {
        search->sum += path <= search->seen ? exp(path - search->all) : 0;
        return;
    }
    uint32_t room = 0;
    for (uint32_t i = 0; i < search->rows; i++)
        room += search->left[i];
    uint32_t count = search->columns_sum[column];
    if (column + 2 == search->columns && path + best_log(search, count) <= search->seen) {
        search->sum += exp(path + choose_log(search, room, count) - search->all);
        return;
    }
    rows_walk(search, column, 0, count, room - search->left[0], path);
}

/* Columns in growing order. */
static void column_add(struct search *search, uint32_t sum)
{
    uint32_t at = search->columns++;
    for (; at > 0 && search->columns_sum[at - 1] > sum; at--)
        search->columns_sum[at] = search->columns_sum[at - 1];
    search->columns_sum[at] = sum;
}

static bool factorials_fill(const struct table *table, struct search *search)
{
    uint64_t total = 0;
    for (size_t i = 0; i < (size_t)table->rows * table->columns; i++) {
        if (table->counts[i] > EXACT_TOTAL || (total += table->counts[i]) > EXACT_TOTAL)
            return false;
    }
    for (uint32_t i = 1; i <= EXACT_TOTAL; i++)
        search->factorial_log[i] = search->factorial_log[i - 1] + log(i);
    search->all = search->factorial_log[total];
    return true;
}

/* Lines without counts change nothing and are left out. */
static void margins_fill(const struct table *table, struct search *search)
{
    search->seen = AS_LIKELY;
    for (uint32_t i = 0; i < table->rows; i++) {
        uint64_t sum = 0;
        for (uint32_t j = 0; j < table->columns; j++)
            sum += table->counts[(size_t)i * table->columns + j];
        search->seen += search->factorial_log[sum];
        if (sum > 0)
            search->left[search->rows++] = (uint32_t)sum;
    }
    for (uint32_t j = 0; j < table->columns; j++) {
        uint64_t sum = 0;
        for (uint32_t i = 0; i < table->rows; i++) {
            uint64_t cell = table->counts[(size_t)i * table->columns + j];
            sum += cell;
            search->seen -= search->factorial_log[cell];
        }
        search->all -= search->factorial_log[sum];
        if (sum > 0)
            column_add(search, (uint32_t)sum);
    }
}

bool exact_table_test(const struct table *table, double *p)
{
    struct search search = {.rows = 0};
    if (table->rows > EXACT_ROWS || table->columns > EXACT_COLUMNS || !factorials_fill(table, &search))
        return false;
    margins_fill(table, &search);
    if (search.rows < 2 || search.columns < 2)
        return false;
    columns_walk(&search, 0, 0);
    *p = fmin(search.sum, 1);
    return search.steps <= EXACT_STEPS;
}
