/*
 * Areas with bounds. See measure.h.
 */
#include "damaged/measure.h"

#include <math.h>
#include <stdbool.h>

/* ---- Areas ---- */

/* The interval as middle and half width; outward when its width is odd. */
static struct area area_between(int64_t least_um2, int64_t most_um2)
{
    int64_t middle = least_um2 + (most_um2 - least_um2) / 2;
    return (struct area){middle, most_um2 - middle};
}

int64_t area_least(struct area area)
{
    return area.um2 > area.bound_um2 ? area.um2 - area.bound_um2 : 0;
}

int64_t area_most(struct area area)
{
    return area.um2 + area.bound_um2;
}

struct area area_left(struct area whole, struct area missing)
{
    struct area left = {whole.um2 - missing.um2, whole.bound_um2 + missing.bound_um2};
    if (left.um2 < 0)
        left.um2 = 0;
    return left;
}

/* ---- Squares ---- */

enum measure_fault squares_measure(uint32_t whole, uint32_t partly, int32_t side_um, int32_t bar_um,
                                   int32_t bar_bound_um, struct area *area)
{
    /* The area is at least that of the squares inside, at most that of the squares touched (inner and outer content). A
     * bar that was printed as it should be leaves the products whole and exact. */
    double side = side_um;
    double smallest = side * ((double)bar_um - bar_bound_um) / GRID_BAR_UM;
    double largest = side * ((double)bar_um + bar_bound_um) / GRID_BAR_UM;
    double least = floor(whole * smallest * smallest);
    double most = ceil(((double)whole + partly) * largest * largest);
    if (most > (double)AREA_UM2_MAX)
        return MEASURE_LARGE;
    *area = area_between((int64_t)least, (int64_t)most);
    return MEASURE_GOOD;
}

/* ---- Strips ---- */

struct area strip_measure(int32_t length_um, int32_t width_um, int32_t bound_um, int corner)
{
    int64_t length = length_um;
    int64_t width = width_um;
    int64_t bound = bound_um;
    int64_t least = length > bound && width > bound ? (length - bound) * (width - bound) : 0;
    int64_t most = (length + bound) * (width + bound);
    return corner ? area_between(least / 2, (most + 1) / 2) : area_between(least, most);
}

/* ---- Outlines ---- */

/* Twice the signed area of the triangle a, b, c: on which side of the line from a to b is c? */
static int64_t turn(struct point a, struct point b, struct point c)
{
    return ((int64_t)b.x_um - a.x_um) * ((int64_t)c.y_um - a.y_um) -
           ((int64_t)b.y_um - a.y_um) * ((int64_t)c.x_um - a.x_um);
}

static bool same(struct point a, struct point b)
{
    return a.x_um == b.x_um && a.y_um == b.y_um;
}

/* Is c, known to lie on the line through a and b, between them? */
static bool between(struct point a, struct point b, struct point c)
{
    bool across = a.x_um < b.x_um ? c.x_um >= a.x_um && c.x_um <= b.x_um : c.x_um >= b.x_um && c.x_um <= a.x_um;
    bool down = a.y_um < b.y_um ? c.y_um >= a.y_um && c.y_um <= b.y_um : c.y_um >= b.y_um && c.y_um <= a.y_um;
    return across && down;
}

/* Have the two segments a point in common, be it an end? */
static bool segments_meet(struct point a, struct point b, struct point c, struct point d)
{
    int64_t side_c = turn(a, b, c);
    int64_t side_d = turn(a, b, d);
    int64_t side_a = turn(c, d, a);
    int64_t side_b = turn(c, d, b);
    if (((side_c > 0 && side_d < 0) || (side_c < 0 && side_d > 0)) &&
        ((side_a > 0 && side_b < 0) || (side_a < 0 && side_b > 0)))
        return true;
    return (side_c == 0 && between(a, b, c)) || (side_d == 0 && between(a, b, d)) ||
           (side_a == 0 && between(c, d, a)) || (side_b == 0 && between(c, d, b));
}

/* Does the outline turn back on itself at b, so that two edges lie on each other? */
static bool turns_back(struct point a, struct point b, struct point c)
{
    return turn(a, b, c) == 0 && (between(a, b, c) || between(b, c, a));
}

static enum measure_fault outline_check(const struct point *points, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (same(points[i], points[(i + 1) % count]))
            return MEASURE_TWICE;
    }
    for (size_t i = 0; i < count; i++) {
        struct point a = points[i];
        struct point b = points[(i + 1) % count];
        if (turns_back(a, b, points[(i + 2) % count]))
            return MEASURE_CROSSING;
        /* Neighbours share an end; every other pair of edges must not meet. */
        size_t last = i == 0 ? count - 1 : count;
        for (size_t j = i + 2; j < last; j++) {
            if (segments_meet(a, b, points[j], points[(j + 1) % count]))
                return MEASURE_CROSSING;
        }
    }
    return MEASURE_GOOD;
}

/* By how much the area can change when each point moves by at most u. With d the movements, the shoelace sum changes by
 * half of sum(d[i] x (p[i+1] - p[i-1])) + sum(d[i] x d[i+1]), so by at most u/2 sum |p[i+1] - p[i-1]| + n u u / 2. */
static int64_t outline_bound(const struct point *points, size_t count, int32_t bound_um)
{
    double chords = 0;
    for (size_t i = 0; i < count; i++) {
        struct point before = points[(i + count - 1) % count];
        struct point after = points[(i + 1) % count];
        chords += hypot((double)after.x_um - before.x_um, (double)after.y_um - before.y_um);
    }
    double u = bound_um;
    return bound_um > 0 ? (int64_t)ceil(u / 2 * chords + u * u / 2 * (double)count) : 0;
}

enum measure_fault outline_measure(const struct point *points, size_t count, int32_t bound_um, struct area *area)
{
    if (count > 1 && same(points[0], points[count - 1]))
        count--;
    if (count < 3)
        return MEASURE_FEW_POINTS;
    enum measure_fault fault = outline_check(points, count);
    if (fault != MEASURE_GOOD)
        return fault;
    int64_t twice = 0; /* at most 512 products of 3.2e13, so far inside 64 bits */
    for (size_t i = 0; i < count; i++) {
        struct point a = points[i];
        struct point b = points[(i + 1) % count];
        twice += (int64_t)a.x_um * b.y_um - (int64_t)a.y_um * b.x_um;
    }
    if (twice < 0)
        twice = -twice;
    int64_t bound = outline_bound(points, count, bound_um);
    if (twice / 2 + bound > AREA_UM2_MAX)
        return MEASURE_LARGE;
    /* Half a square micrometre too much or too little goes into the bound. */
    *area = (struct area){twice / 2, bound + twice % 2};
    return MEASURE_GOOD;
}
