/*
 * How much of a note is there? An area and how far it can be wrong, from squares, an outline, or what is missing.
 * Whole square micrometres throughout: a note of 400 mm x 400 mm has 1.6e11, so no limit is ever blurred by a fraction.
 */
#ifndef DAMAGED_MEASURE_H
#define DAMAGED_MEASURE_H

#include <stddef.h>
#include <stdint.h>

#define UM_PER_MM     1000
#define UM2_PER_MM2   1000000
#define LENGTH_UM_MAX 2000000       /* of a side, and of a coordinate from the origin: far beyond any note */
#define AREA_UM2_MAX  4000000000000 /* of a square with that side */
#define OUTLINE_MAX   512           /* points of one outline */
#define SQUARES_MAX   1000000

/* The true area lies from um2 - bound_um2 to um2 + bound_um2, both included. */
struct area {
    int64_t um2;
    int64_t bound_um2;
};

struct point {
    int32_t x_um, y_um;
};

enum measure_fault {
    MEASURE_GOOD = 0,
    MEASURE_FEW_POINTS = 1, /* fewer than three that differ */
    MEASURE_TWICE = 2,      /* a point stands twice */
    MEASURE_CROSSING = 3,   /* the outline crosses or touches itself */
    MEASURE_LARGE = 4       /* an area beyond AREA_UM2_MAX */
};

/* Squares counted on a grid: `whole` lie wholly inside, `partly` are cut by the edge. The bar printed beside the grid, meant
 * to be GRID_BAR_UM long, was measured as bar_um, give or take bar_bound_um; so much larger or smaller are the squares. */
#define GRID_BAR_UM 100000
enum measure_fault squares_measure(uint32_t whole, uint32_t partly, int32_t side_um, int32_t bar_um,
                                   int32_t bar_bound_um, struct area *area);

/* An outline, either way round; a last point that repeats the first is dropped. Each point may be off by bound_um. */
enum measure_fault outline_measure(const struct point *points, size_t count, int32_t bound_um, struct area *area);

/* A rectangle, each side give or take bound_um; `corner` = the triangle with these two sides at the right angle. */
struct area strip_measure(int32_t length_um, int32_t width_um, int32_t bound_um, int corner);

/* What is left of `whole`; never below nothing. */
struct area area_left(struct area whole, struct area missing);

/* The ends of what the area can be. */
int64_t area_least(struct area area);
int64_t area_most(struct area area);

#endif
