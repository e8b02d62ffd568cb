/*
 * Small linear algebra. See plane.h.
 */
#include "scan/plane.h"

#include <math.h>

#define UNKNOWNS_MAX 8

/* Gaussian elimination with the largest pivot; rows hold the right side last. */
static bool solve(double rows[UNKNOWNS_MAX][UNKNOWNS_MAX + 1], int count, double *solution)
{
    for (int column = 0; column < count; column++) {
        int best = column;
        for (int row = column + 1; row < count; row++) {
            if (fabs(rows[row][column]) > fabs(rows[best][column]))
                best = row;
        }
        if (fabs(rows[best][column]) < 1e-12)
            return false;
        for (int i = column; i <= count; i++) {
            double kept = rows[column][i];
            rows[column][i] = rows[best][i];
            rows[best][i] = kept;
        }
        for (int row = column + 1; row < count; row++) {
            double factor = rows[row][column] / rows[column][column];
            for (int i = column; i <= count; i++)
                rows[row][i] -= factor * rows[column][i];
        }
    }
    for (int row = count - 1; row >= 0; row--) {
        double rest = rows[row][count];
        for (int i = row + 1; i < count; i++)
            rest -= rows[row][i] * solution[i];
        solution[row] = rest / rows[row][row];
    }
    return true;
}

bool mapping_find(const struct spot from[4], double length, double height, struct mapping *mapping)
{
    const struct spot to[4] = {{0, 0}, {length, 0}, {length, height}, {0, height}};
    double rows[UNKNOWNS_MAX][UNKNOWNS_MAX + 1] = {{0}};
    double found[UNKNOWNS_MAX];
    for (int i = 0; i < 4; i++) {
        const double across[] = {from[i].x, from[i].y, 1, 0, 0, 0, -from[i].x * to[i].x, -from[i].y * to[i].x, to[i].x};
        const double down[] = {0, 0, 0, from[i].x, from[i].y, 1, -from[i].x * to[i].y, -from[i].y * to[i].y, to[i].y};
        for (int j = 0; j <= UNKNOWNS_MAX; j++) {
            rows[2 * i][j] = across[j];
            rows[2 * i + 1][j] = down[j];
        }
    }
    if (!solve(rows, UNKNOWNS_MAX, found))
        return false;
    *mapping = (struct mapping){found[0], found[1], found[2], found[3], found[4], found[5], found[6], found[7]};
    return true;
}

struct spot mapping_apply(const struct mapping *mapping, struct spot spot)
{
    double w = mapping->g * spot.x + mapping->h * spot.y + 1;
    return (struct spot){(mapping->a * spot.x + mapping->b * spot.y + mapping->c) / w,
                         (mapping->d * spot.x + mapping->e * spot.y + mapping->f) / w};
}

double mapping_magnify(const struct mapping *m, double x, double y)
{
    double determinant = m->a * (m->e - m->f * m->h) - m->b * (m->d - m->f * m->g) + m->c * (m->d * m->h - m->e * m->g);
    double w = m->g * x + m->h * y + 1;
    return fabs(determinant / (w * w * w));
}

void plane_add(struct plane_sums *sums, double x, double y, double value)
{
    sums->n += 1;
    sums->x += x;
    sums->y += y;
    sums->xx += x * x;
    sums->xy += x * y;
    sums->yy += y * y;
    sums->v += value;
    sums->vx += value * x;
    sums->vy += value * y;
}

bool plane_fit(const struct plane_sums *s, struct plane *plane)
{
    double rows[UNKNOWNS_MAX][UNKNOWNS_MAX + 1] = {
        {s->n, s->x, s->y, s->v}, {s->x, s->xx, s->xy, s->vx}, {s->y, s->xy, s->yy, s->vy}};
    double found[3];
    if (!solve(rows, 3, found))
        return false;
    *plane = (struct plane){found[0], found[1], found[2]};
    return true;
}

double plane_at(const struct plane *plane, double x, double y)
{
    return plane->level + plane->across * x + plane->down * y;
}
