/*
 * Areas from squares, strips and outlines against closed forms, and their bounds against what they promise.
 */
#include "damaged/measure.h"
#include "test.h"

#include <math.h>
#include <stdlib.h>

#define MM(value)  ((int32_t)((value)*1000))
#define MM2(value) ((int64_t)(value)*UM2_PER_MM2)

static uint32_t seed = 20261128;

static uint32_t random_below(uint32_t below)
{
    seed = seed * 1664525u + 1013904223u;
    return (uint32_t)((uint64_t)(seed >> 4) * below >> 28);
}

static struct area outline(const struct point *points, size_t count, int32_t bound_um)
{
    struct area area = {-1, -1};
    assert_int_equal(outline_measure(points, count, bound_um, &area), MEASURE_GOOD);
    return area;
}

/* ---- Outlines ---- */

static void known_figures_have_their_areas(void **state)
{
    (void)state;
    const struct point rectangle[] = {{0, 0}, {MM(150), 0}, {MM(150), MM(66)}, {0, MM(66)}};
    struct area area = outline(rectangle, 4, 0);
    assert_int_equal(area.um2, MM2(9900));
    assert_int_equal(area.bound_um2, 0);
    const struct point triangle[] = {{0, 0}, {MM(30), 0}, {0, MM(40)}, {0, 0}}; /* closed: the last point repeats */
    assert_int_equal(outline(triangle, 4, 0).um2, MM2(600));
    /* An L: 20 x 20 without 10 x 10; the other way round, and away from the origin. */
    const struct point corner[] = {{-5000, -5000}, {-5000, 15000}, {5000, 15000},
                                   {5000, 5000},   {15000, 5000},  {15000, -5000}};
    assert_int_equal(outline(corner, 6, 0).um2, MM2(300));
    /* Half a square micrometre is in the bound. */
    const struct point odd[] = {{0, 0}, {1, 0}, {0, 1}};
    area = outline(odd, 3, 0);
    assert_int_equal(area.um2, 0);
    assert_int_equal(area.bound_um2, 1);
}

static void the_way_round_does_not_matter(void **state)
{
    (void)state;
    const struct point there[] = {{0, 0}, {MM(70), MM(3)}, {MM(66), MM(60)}, {MM(20), MM(33)}};
    struct point back[4];
    for (size_t i = 0; i < 4; i++)
        back[i] = there[3 - i];
    assert_int_equal(outline(there, 4, 500).um2, outline(back, 4, 500).um2);
    assert_int_equal(outline(there, 4, 500).bound_um2, outline(back, 4, 500).bound_um2);
}

static enum measure_fault fault_of(const struct point *points, size_t count)
{
    struct area area;
    return outline_measure(points, count, 0, &area);
}

static void outlines_that_are_none_are_refused(void **state)
{
    (void)state;
    const struct point bow[] = {{0, 0}, {10, 10}, {10, 0}, {0, 10}};
    assert_int_equal(fault_of(bow, 4), MEASURE_CROSSING);
    const struct point touching[] = {{0, 0}, {20, 0}, {20, 20}, {10, 0}, {0, 20}}; /* a corner on an edge */
    assert_int_equal(fault_of(touching, 5), MEASURE_CROSSING);
    const struct point spike[] = {{0, 0}, {20, 0}, {10, 0}, {10, 10}};
    assert_int_equal(fault_of(spike, 4), MEASURE_CROSSING);
    const struct point spike_longer[] = {{10, 0}, {20, 0}, {0, 0}, {10, 10}};
    assert_int_equal(fault_of(spike_longer, 4), MEASURE_CROSSING);
    const struct point flat[] = {{0, 0}, {10, 10}, {20, 20}};
    assert_int_equal(fault_of(flat, 3), MEASURE_CROSSING);
    const struct point corner_shared[] = {{0, 0}, {10, 0}, {5, 5}, {10, 10}, {0, 10}, {5, 5}};
    assert_int_equal(fault_of(corner_shared, 6), MEASURE_CROSSING);
    const struct point edges_on_each_other[] = {{0, 0}, {30, 0}, {30, 10}, {20, 0}, {10, 0}, {0, 10}};
    assert_int_equal(fault_of(edges_on_each_other, 6), MEASURE_CROSSING);
    const struct point twice[] = {{0, 0}, {10, 0}, {10, 0}, {0, 10}};
    assert_int_equal(fault_of(twice, 4), MEASURE_TWICE);
    assert_int_equal(fault_of(bow, 2), MEASURE_FEW_POINTS);
    const struct point closed_pair[] = {{0, 0}, {10, 0}, {0, 0}};
    assert_int_equal(fault_of(closed_pair, 3), MEASURE_FEW_POINTS);
    assert_int_equal(fault_of(closed_pair, 0), MEASURE_FEW_POINTS);
    const struct point large[] = {{-LENGTH_UM_MAX, -LENGTH_UM_MAX},
                                  {LENGTH_UM_MAX, -LENGTH_UM_MAX},
                                  {LENGTH_UM_MAX, LENGTH_UM_MAX},
                                  {-LENGTH_UM_MAX, LENGTH_UM_MAX}};
    assert_int_equal(fault_of(large, 4), MEASURE_LARGE);
    /* A point in the middle of a straight edge is no fault. */
    const struct point straight[] = {{0, 0}, {10, 0}, {20, 0}, {20, 20}, {0, 20}};
    assert_int_equal(outline(straight, 5, 0).um2, 400);
}

/* A star around the origin: always simple. Corners move by at most u in each of many trials; the area must stay inside the
 * bound, and the worst movement must come near to it. */
static void an_outline_stays_within_its_bound(void **state)
{
    (void)state;
    const double pi = acos(-1.0);
    for (int trial = 0; trial < 300; trial++) {
        struct point points[24];
        struct point moved[24];
        size_t count = 3 + random_below(22);
        int32_t u = 1 + (int32_t)random_below(1000);
        for (size_t i = 0; i < count; i++) {
            double angle = 2 * pi * (double)i / (double)count;
            double radius = 20000 + random_below(60000);
            points[i] = (struct point){(int32_t)(radius * cos(angle)), (int32_t)(radius * sin(angle))};
        }
        struct area area = outline(points, count, u);
        for (size_t i = 0; i < count; i++) {
            struct point before = points[(i + count - 1) % count];
            struct point after = points[(i + 1) % count];
            double x = (double)after.x_um - before.x_um;
            double y = (double)after.y_um - before.y_um;
            double chord = hypot(x, y);
            /* Outward across the chord: what grows the area most. */
            moved[i] = (struct point){points[i].x_um + (int32_t)(u * y / chord),
                                      points[i].y_um - (int32_t)(u * x / chord)};
        }
        struct area worst = outline(moved, count, 0);
        assert_true(worst.um2 <= area_most(area) && worst.um2 >= area_least(area));
        double used = (double)(worst.um2 - area.um2) / (double)area.bound_um2;
        assert_true(used > 0.7 || u < 20);
    }
    const struct point square[] = {{0, 0}, {MM(10), 0}, {MM(10), MM(10)}, {0, MM(10)}};
    /* By hand: 4 chords of 10 sqrt 2 mm, u = 0.5 mm: 0.25 * 56.568542 + 0.5 * 0.25 * 4 = 14.642136 mm2. */
    assert_int_equal(outline(square, 4, 500).bound_um2, 14642136);
}

/* ---- Squares ---- */

static void squares_are_between_inside_and_touched(void **state)
{
    (void)state;
    struct area area;
    assert_int_equal(squares_measure(300, 40, MM(5), GRID_BAR_UM, 0, &area), MEASURE_GOOD);
    assert_int_equal(area_least(area), MM2(300 * 25));
    assert_int_equal(area_most(area), MM2(340 * 25));
    assert_int_equal(area.um2, MM2(320 * 25));
    /* A page printed at 98 %: each square is 4.9 mm, 24.01 mm2. */
    assert_int_equal(squares_measure(100, 0, MM(5), 98000, 0, &area), MEASURE_GOOD);
    assert_int_equal(area.um2, MM2(2401));
    /* The bar read to half a millimetre: sides from 4.975 to 5.025 mm. */
    assert_int_equal(squares_measure(100, 0, MM(5), GRID_BAR_UM, 500, &area), MEASURE_GOOD);
    assert_true(llabs(area_least(area) - 2475062500) <= 1);
    assert_true(llabs(area_most(area) - 2525062500) <= 1);
    assert_int_equal(squares_measure(SQUARES_MAX, 0, MM(10), GRID_BAR_UM, 0, &area), MEASURE_LARGE);
    assert_int_equal(squares_measure(0, 0, MM(5), GRID_BAR_UM, 0, &area), MEASURE_GOOD);
    assert_int_equal(area.um2, 0);
}

/* A slanted half plane over a grid, counted square by square: its area is inside the bound. */
static void counted_squares_hold_the_area(void **state)
{
    (void)state;
    for (int trial = 0; trial < 200; trial++) {
        /* Under y = left + (right - left) x / 150 inside 150 x 66 mm; squares of 5 mm (the page's) from the corner. */
        double left = random_below(66000) / 1000.0;
        double right = random_below(66000) / 1000.0;
        uint32_t whole = 0, partly = 0;
        for (int x = 0; x < 150; x += 5) {
            double from = left + (right - left) * x / 150;
            double to = left + (right - left) * (x + 5) / 150;
            for (int y = 0; y < 70; y += 5) {
                double top = y + 5 > 66 ? 66 : y + 5; /* the last row is cut by the note's own edge */
                if (y + 5 <= fmin(from, to))
                    whole++;
                else if (y < fmax(from, to) && y < top)
                    partly++;
            }
        }
        struct area area;
        assert_int_equal(squares_measure(whole, partly, MM(5), GRID_BAR_UM, 0, &area), MEASURE_GOOD);
        double truth = 150 * (left + right) / 2 * UM2_PER_MM2;
        assert_true(truth >= (double)area_least(area) - 1 && truth <= (double)area_most(area) + 1);
    }
}

/* ---- Strips ---- */

static void strips_have_their_areas(void **state)
{
    (void)state;
    struct area area = strip_measure(MM(30), MM(20), 0, 0);
    assert_int_equal(area.um2, MM2(600));
    assert_int_equal(area.bound_um2, 0);
    area = strip_measure(MM(30), MM(20), 500, 0); /* 29.5 x 19.5 = 575.25; 30.5 x 20.5 = 625.25 */
    assert_int_equal(area_least(area), 575250000);
    assert_int_equal(area_most(area), 625250000);
    area = strip_measure(MM(30), MM(20), 0, 1);
    assert_int_equal(area.um2, MM2(300));
    area = strip_measure(300, MM(20), 500, 0); /* thinner than the ruler tells */
    assert_int_equal(area_least(area), 0);
    area = strip_measure(MM(20), 300, 500, 0);
    assert_int_equal(area_least(area), 0);
}

static void what_is_left_is_never_below_nothing(void **state)
{
    (void)state;
    struct area left = area_left((struct area){MM2(9900), 0}, (struct area){MM2(600), MM2(25)});
    assert_int_equal(left.um2, MM2(9300));
    assert_int_equal(left.bound_um2, MM2(25));
    left = area_left((struct area){MM2(100), 0}, (struct area){MM2(600), MM2(25)});
    assert_int_equal(left.um2, 0);
    assert_int_equal(area_least(left), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(known_figures_have_their_areas),
        cmocka_unit_test(the_way_round_does_not_matter),
        cmocka_unit_test(outlines_that_are_none_are_refused),
        cmocka_unit_test(an_outline_stays_within_its_bound),
        cmocka_unit_test(squares_are_between_inside_and_touched),
        cmocka_unit_test(counted_squares_hold_the_area),
        cmocka_unit_test(strips_have_their_areas),
        cmocka_unit_test(what_is_left_is_never_below_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
