/*
 * Areas of outlines, and which outlines cross themselves, against GEOS (libgeos, an independent library of geometry).
 * Random outlines of two kinds: stars, which are always simple, and points in any order, which mostly cross.
 */
#include "damaged/measure.h"
#include "near.h"

#include <geos_c.h>
#include <stdbool.h>
#include <stdlib.h>

#define TRIALS 3000

static GEOSContextHandle_t geos;
static uint32_t seed = 20261128;

static uint32_t random_below(uint32_t below)
{
    seed = seed * 1664525u + 1013904223u;
    return (uint32_t)((uint64_t)(seed >> 4) * below >> 28);
}

static GEOSGeometry *polygon_make(const struct point *points, size_t count)
{
    GEOSCoordSequence *sequence = GEOSCoordSeq_create_r(geos, (unsigned)count + 1, 2);
    for (size_t i = 0; i <= count; i++)
        (void)GEOSCoordSeq_setXY_r(geos, sequence, (unsigned)i, points[i % count].x_um, points[i % count].y_um);
    return GEOSGeom_createPolygon_r(geos, GEOSGeom_createLinearRing_r(geos, sequence), NULL, 0);
}

/* GEOS lets a point stand twice and turns no blind eye to the rest; ours asks for points that differ. */
static unsigned outline_compare(const struct point *points, size_t count)
{
    struct area area = {0, 0};
    enum measure_fault fault = outline_measure(points, count, 0, &area);
    GEOSGeometry *polygon = polygon_make(points, count);
    bool simple = GEOSisValid_r(geos, polygon) == 1;
    double truth = 0;
    assert_int_equal(GEOSArea_r(geos, polygon, &truth), 1);
    GEOSGeom_destroy_r(geos, polygon);
    if (fault == MEASURE_TWICE)
        return 0;
    for (size_t i = 0; i < count && fault != (simple ? MEASURE_GOOD : MEASURE_CROSSING); i++)
        print_error("(%d, %d)\n", points[i].x_um, points[i].y_um);
    assert_int_equal(fault, simple ? MEASURE_GOOD : MEASURE_CROSSING);
    if (simple)
        assert_near((double)area.um2, truth, (double)area.bound_um2 / 2 + truth * 1e-15);
    return simple ? 1 : 0;
}

static void stars_have_the_area_that_geos_finds(void **state)
{
    (void)state;
    const double pi = acos(-1.0);
    for (int trial = 0; trial < TRIALS; trial++) {
        struct point points[40];
        size_t count = 3 + random_below(38);
        for (size_t i = 0; i < count; i++) {
            double angle = 2 * pi * ((double)i + random_below(800) / 1000.0) / (double)count;
            double radius = 5000 + random_below(90000);
            points[i] = (struct point){(int32_t)(radius * cos(angle)), (int32_t)(radius * sin(angle))};
        }
        (void)outline_compare(points, count);
    }
}

/* Small coordinates, so that touching corners and edges on each other come up, too. */
static void any_points_are_judged_as_geos_judges_them(void **state)
{
    (void)state;
    unsigned simple = 0;
    for (int trial = 0; trial < 4 * TRIALS; trial++) {
        struct point points[8];
        size_t count = 3 + random_below(6);
        for (size_t i = 0; i < count; i++)
            points[i] = (struct point){(int32_t)random_below(7), (int32_t)random_below(7)};
        if (points[0].x_um == points[count - 1].x_um && points[0].y_um == points[count - 1].y_um)
            continue; /* a repeated last point closes the outline */
        simple += outline_compare(points, count);
    }
    assert_true(simple > TRIALS / 4 && simple < 3 * TRIALS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stars_have_the_area_that_geos_finds),
        cmocka_unit_test(any_points_are_judged_as_geos_judges_them),
    };
    geos = GEOS_init_r();
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    GEOS_finish_r(geos);
    return failed;
}
