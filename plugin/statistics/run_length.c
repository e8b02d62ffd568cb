/*
 * Run lengths of control charts. See run_length.h.
 */
#include "statistics/run_length.h"

#include "model/normal.h"

#include <math.h>

#define SIZE         COUNT_SUM_MAX /* of the systems of equations */
#define PI           3.14159265358979323846
#define ROOT_2_PI    2.50662827463100050242
#define POINTS_LEAST 10.0
#define POINTS_MOST  1e6

static double normal_density(double x)
{
    return exp(-x * x / 2) / ROOT_2_PI;
}

/* ---- Systems of equations ---- */

/* (identity - matrix) times unknown = right side. */
struct system {
    uint32_t size;
    double rows[SIZE][SIZE + 1]; /* the last column is the right side, then the solution */
};

static void rows_exchange(struct system *system, uint32_t one, uint32_t other)
{
    for (uint32_t j = 0; j <= system->size; j++) {
        double kept = system->rows[one][j];
        system->rows[one][j] = system->rows[other][j];
        system->rows[other][j] = kept;
    }
}

static void column_clear(struct system *system, uint32_t at)
{
    for (uint32_t i = 0; i < system->size; i++) {
        double factor = i == at ? 0 : system->rows[i][at] / system->rows[at][at];
        for (uint32_t j = at; factor < 0 || factor > 0 ? j <= system->size : false; j++)
            system->rows[i][j] -= factor * system->rows[at][j];
    }
}

/* Elimination with the largest pivot of each column. False when there is no one solution. */
static bool system_solve(struct system *system)
{
    for (uint32_t at = 0; at < system->size; at++) {
        uint32_t best = at;
        for (uint32_t i = at + 1; i < system->size; i++)
            best = fabs(system->rows[i][at]) > fabs(system->rows[best][at]) ? i : best;
        if (!(fabs(system->rows[best][at]) > 0))
            return false;
        rows_exchange(system, at, best);
        column_clear(system, at);
    }
    for (uint32_t i = 0; i < system->size; i++)
        system->rows[i][system->size] /= system->rows[i][i];
    return true;
}

/* ---- Integrals ---- */

/* Gauss-Legendre places and weights between two ends: zeros of the Legendre polynomial by Newton's steps. */
static void places_fill(double low, double high, uint32_t count, double *place, double *weight)
{
    for (uint32_t i = 0; i < count; i++) {
        double x = cos(PI * (i + 0.75) / (count + 0.5));
        double slope = 1;
        for (int step = 0; step < 100; step++) {
            double value = 1;
            double before = 0;
            for (uint32_t j = 0; j < count; j++) {
                double next = ((2.0 * j + 1) * x * value - j * before) / (j + 1);
                before = value;
                value = next;
            }
            slope = count * (x * value - before) / (x * x - 1);
            double off = value / slope;
            x -= off;
            if (fabs(off) < 1e-15)
                break;
        }
        place[i] = (low + high) / 2 + (high - low) / 2 * x;
        weight[i] = (high - low) / ((1 - x * x) * slope * slope);
    }
}

/* ---- Cumulative sums ---- */

static bool plan_good(const struct cusum_plan *plan)
{
    return plan->slack >= 0 && plan->decision > 0 && plan->decision <= 40 && plan->head_start >= 0 &&
           plan->head_start < plan->decision;
}

/* Biometrika 59 (1972) 539-548 has the integral equation (its form from memory): from a sum u the next is 0 with the
 * probability up to slack - u, or a place below the decision interval. The first unknown is the run from 0. */
static bool upper_solve(const struct cusum_plan *plan, double shift, double *from_zero, double *from_head)
{
    struct system system = {.size = SIZE};
    double place[SIZE] = {0};
    double weight[SIZE] = {0};
    places_fill(0, plan->decision, SIZE - 1, place + 1, weight + 1);
    for (uint32_t i = 0; i < SIZE; i++) {
        double off = plan->slack - place[i] - shift;
        for (uint32_t j = 0; j < SIZE; j++)
            system.rows[i][j] = -(j == 0 ? normal_probability(off) : weight[j] * normal_density(place[j] + off));
        system.rows[i][i] += 1;
        system.rows[i][SIZE] = 1;
    }
    if (!system_solve(&system))
        return false;
    *from_zero = system.rows[0][SIZE];
    double off = plan->slack - plan->head_start - shift;
    *from_head = 1 + normal_probability(off) * *from_zero;
    for (uint32_t j = 1; j < SIZE; j++)
        *from_head += weight[j] * normal_density(place[j] + off) * system.rows[j][SIZE];
    return true;
}

bool cusum_run_length_upper(const struct cusum_plan *plan, double shift, double *points)
{
    double from_zero;
    return plan_good(plan) && upper_solve(plan, shift, &from_zero, points);
}

/* Both sides: Technometrics 24 (1982) 199-205 (its formula from memory; Table 1 checks it). */
bool cusum_run_length(const struct cusum_plan *plan, double shift, double *points)
{
    double up;
    double up_head;
    double down;
    double down_head;
    if (!plan_good(plan) || !upper_solve(plan, shift, &up, &up_head) || !upper_solve(plan, -shift, &down, &down_head))
        return false;
    /* Divided through by both, since a run of one side may be nearly endless. */
    *points = (up_head / up + down_head / down - 1) / (1 / up + 1 / down);
    return true;
}

/* ---- Weighted averages ---- */

/* "A simple method for studying run-length distributions of exponentially weighted moving average charts", Technometrics 29
 * (1987), the integral equation (its form from memory). In standard deviations of the data. */
bool ewma_run_length(double weight, double width, double shift, double *points)
{
    if (!(weight >= 0.01 && weight <= 1 && width >= 0.5 && width <= 6))
        return false;
    double limit = width * sqrt(weight / (2 - weight));
    struct system system = {.size = SIZE};
    double place[SIZE];
    double share[SIZE];
    places_fill(-limit, limit, SIZE, place, share);
    for (uint32_t i = 0; i < SIZE; i++) {
        for (uint32_t j = 0; j < SIZE; j++)
            system.rows[i][j] = -share[j] / weight *
                                normal_density((place[j] - (1 - weight) * place[i]) / weight - shift);
        system.rows[i][i] += 1;
        system.rows[i][SIZE] = 1;
    }
    if (!system_solve(&system))
        return false;
    *points = 1;
    for (uint32_t j = 0; j < SIZE; j++)
        *points += share[j] / weight * normal_density(place[j] / weight - shift) * system.rows[j][SIZE];
    return true;
}

/* ---- Design ---- */

static double plan_points(double slack, double decision)
{
    struct cusum_plan plan = {.slack = slack, .decision = decision};
    double points;
    return cusum_run_length(&plan, 0, &points) ? points : 0;
}

static double average_points(double weight, double width)
{
    double points;
    return ewma_run_length(weight, width, 0, &points) ? points : 0;
}

/* The limit between `low` and `high` with that run: it grows with the limit. */
static bool limit_find(double (*run)(double kind, double limit), double kind, double points, double low, double high,
                       double *limit)
{
    if (!(points >= POINTS_LEAST && points <= POINTS_MOST) || run(kind, high) < points || run(kind, low) > points)
        return false;
    for (int step = 0; step < 40; step++) {
        double middle = (low + high) / 2;
        if (run(kind, middle) < points)
            low = middle;
        else
            high = middle;
    }
    *limit = high;
    return true;
}

/* The highest tried limits give runs far above POINTS_MOST, and are not so high that the equations lose their digits. */
bool cusum_design(double slack, double points, double *decision)
{
    return slack >= 0.1 && slack <= 3 &&
           limit_find(plan_points, slack, points, 0.01, 8 / slack < 40 ? 8 / slack : 40, decision);
}

bool ewma_design(double weight, double points, double *width)
{
    return weight >= 0.01 && weight <= 1 && limit_find(average_points, weight, points, 0.5, 5.2, width);
}

/* ---- Sums of counts ---- */

/* "Counted data CUSUM's", Technometrics 27 (1985) 129-144: the chain of the sums below the threshold. */
static void count_row_fill(const struct count_sum *sum, double mean, uint32_t from, double *row)
{
    double chance = exp(-mean);
    double left = 1;
    for (int64_t events = 0; left > 0; events++) {
        int64_t next = (int64_t)from + sum->per_period + events * sum->per_event;
        bool signals = next >= (int64_t)sum->threshold;
        bool floor = next <= 0;
        if (signals && sum->per_event > 0)
            return; /* and so does every greater count */
        double share = floor && sum->per_event < 0 ? left : chance;
        if (!signals)
            row[floor ? 0 : next] -= share;
        left = floor && sum->per_event < 0 ? 0 : left - share;
        chance *= mean / (double)(events + 1);
    }
}

bool count_sum_run_length(const struct count_sum *sum, double mean, double *periods)
{
    bool rise = sum->per_event > 0 && sum->per_period < 0;
    bool fall = sum->per_event < 0 && sum->per_period > 0;
    if (!(rise || fall) || sum->threshold == 0 || sum->threshold > COUNT_SUM_MAX || sum->start >= sum->threshold ||
        !(mean > 0 && mean <= 100))
        return false;
    struct system system = {.size = sum->threshold};
    for (uint32_t i = 0; i < sum->threshold; i++) {
        count_row_fill(sum, mean, i, system.rows[i]);
        system.rows[i][i] += 1;
        system.rows[i][sum->threshold] = 1;
    }
    if (!system_solve(&system))
        return false;
    *periods = system.rows[sum->start][sum->threshold];
    return true;
}
