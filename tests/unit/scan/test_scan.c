/*
 * Areas on made-up pictures whose true areas are known: plain light shapes on a dark ground, drawn from outlines, turned,
 * tilted, unevenly lit and noisy. No picture of a note.
 *   test_scan [CASES]   2000 is the long form, 24 runs with the tests
 * Error limits are ours: 1 % for scans, 3 % for photos; the bound must hold in at least 95 of 100.
 */
#include "scan/plane.h"
#include "scan/scan.h"
#include "test.h"

#include <leptonica/allheaders.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define POINTS_MAX 40
#define ROWS_FINE  8 /* rows inside a pixel row; across, coverage is exact */

static uint32_t cases = 24;
static uint32_t seed;

static double chance(void)
{
    seed = seed * 1664525u + 1013904223u;
    return (seed >> 8) / 16777216.0;
}

static double between(double low, double high)
{
    return low + (high - low) * chance();
}

/* Sum of four evens, spread 1: near enough to a normal distribution. */
static double noise(void)
{
    return (chance() + chance() + chance() + chance() - 2) * sqrt(3);
}

struct shape {
    int count;
    struct spot points[POINTS_MAX];
};

static double shape_area(const struct shape *shape)
{
    double twice = 0;
    for (int i = 0; i < shape->count; i++) {
        struct spot a = shape->points[i];
        struct spot b = shape->points[(i + 1) % shape->count];
        twice += a.x * b.y - a.y * b.x;
    }
    return fabs(twice) / 2;
}

/* ---- Drawing ---- */

/* How much of each pixel is covered. */
struct canvas {
    int width, height;
    double *cover;
};

static struct canvas canvas_make(int width, int height)
{
    struct canvas canvas = {width, height, calloc((size_t)width * (size_t)height, sizeof(double))};
    assert_non_null(canvas.cover);
    return canvas;
}

static void span_add(struct canvas *canvas, int row, double from, double to)
{
    for (int x = (int)floor(from); x <= (int)floor(to); x++) {
        if (x < 0 || x >= canvas->width)
            continue;
        double part = fmin(to, x + 1) - fmax(from, x);
        if (part > 0)
            canvas->cover[(size_t)row * (size_t)canvas->width + (size_t)x] += part / ROWS_FINE;
    }
}

static int crossing_compare(const void *first, const void *second)
{
    double a = *(const double *)first;
    double b = *(const double *)second;
    return (a > b) - (a < b);
}

/* Pixel (x, y) reaches from x to x + 1. */
static void shape_draw(struct canvas *canvas, const struct shape *shape)
{
    for (int line = 0; line < canvas->height * ROWS_FINE; line++) {
        double y = (line + 0.5) / ROWS_FINE;
        double crossings[POINTS_MAX];
        int count = 0;
        for (int i = 0; i < shape->count; i++) {
            struct spot a = shape->points[i];
            struct spot b = shape->points[(i + 1) % shape->count];
            if ((a.y <= y) != (b.y <= y))
                crossings[count++] = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
        }
        qsort(crossings, (size_t)count, sizeof crossings[0], crossing_compare);
        for (int i = 0; i + 1 < count; i += 2)
            span_add(canvas, line / ROWS_FINE, crossings[i], crossings[i + 1]);
    }
}

/* A lens that is not quite sharp: the mean of nine pixels. */
static void canvas_blur(struct canvas *canvas)
{
    struct canvas sharp = *canvas;
    *canvas = canvas_make(sharp.width, sharp.height);
    for (int y = 1; y + 1 < sharp.height; y++) {
        for (int x = 1; x + 1 < sharp.width; x++) {
            double sum = 0;
            for (int i = 0; i < 9; i++)
                sum += fmin(1, sharp.cover[(y + i / 3 - 1) * sharp.width + x + i % 3 - 1]);
            canvas->cover[y * sharp.width + x] = sum / 9;
        }
    }
    free(sharp.cover);
}

/* Light falls off along a plane, and a soft shadow may lie across one side. */
struct light {
    double ground, paper, across, down, shadow, shadow_at, noise;
};

static PIX *canvas_picture(const struct canvas *canvas, const struct light *light)
{
    PIX *picture = pixCreate(canvas->width, canvas->height, 8);
    assert_non_null(picture);
    for (int y = 0; y < canvas->height; y++) {
        for (int x = 0; x < canvas->width; x++) {
            double covered = fmin(1, canvas->cover[(size_t)y * (size_t)canvas->width + (size_t)x]);
            double bright = 1 + light->across * ((double)x / canvas->width - 0.5) +
                            light->down * ((double)y / canvas->height - 0.5);
            double edge = ((double)x / canvas->width - light->shadow_at) * 12;
            bright *= 1 - light->shadow / (1 + exp(-edge));
            double level = (light->ground + (light->paper - light->ground) * covered) * bright + light->noise * noise();
            (void)pixSetPixel(picture, x, y, (l_uint32)fmax(0, fmin(255, level + 0.5)));
        }
    }
    return picture;
}

/* ---- Pieces ---- */

/* Part of a rectangle with one torn edge, in millimetres, turned round its middle and put in place. */
static struct shape piece_make(double length, double height, double angle, struct spot middle)
{
    struct shape shape = {0};
    int teeth = 3 + (int)(chance() * 20);
    double cosine = cos(angle);
    double sine = sin(angle);
    shape.points[shape.count++] = (struct spot){0, 0};
    for (int i = 0; i <= teeth; i++)
        shape.points[shape.count++] = (struct spot){length + between(-4, 4), height * i / teeth};
    shape.points[shape.count++] = (struct spot){0, height};
    for (int i = 0; i < shape.count; i++) {
        double x = shape.points[i].x - length / 2;
        double y = shape.points[i].y - height / 2;
        shape.points[i] = (struct spot){middle.x + cosine * x - sine * y, middle.y + sine * x + cosine * y};
    }
    return shape;
}

static struct shape shape_scale(const struct shape *shape, double factor)
{
    struct shape scaled = *shape;
    for (int i = 0; i < shape->count; i++)
        scaled.points[i] = (struct spot){shape->points[i].x * factor, shape->points[i].y * factor};
    return scaled;
}

static struct shape shape_map(const struct shape *shape, const struct mapping *mapping)
{
    struct shape mapped = *shape;
    for (int i = 0; i < shape->count; i++)
        mapped.points[i] = mapping_apply(mapping, shape->points[i]);
    return mapped;
}

struct tally {
    uint32_t tried, within;
    double worst, sum;
};

static void tally_add(struct tally *tally, const struct scan_piece *piece, double truth)
{
    double error = fabs(piece->area_mm2 - truth) / truth;
    tally->tried++;
    tally->within += fabs(piece->area_mm2 - truth) <= piece->bound_mm2;
    tally->sum += error;
    tally->worst = error > tally->worst ? error : tally->worst;
}

static void tally_judge(const struct tally *tally, const char *kind, double worst)
{
    print_message("%s: %u cases, mean error %.3f %%, worst %.3f %%, bound held in %.2f %%\n", kind, tally->tried,
                  100 * tally->sum / tally->tried, 100 * tally->worst, 100.0 * tally->within / tally->tried);
    assert_true(tally->worst <= worst);
    assert_true(tally->within * 100 >= tally->tried * 95);
}

/* ---- Scans ---- */

static void scan_try(struct tally *tally)
{
    double dpi = between(90, 200);
    double scale = dpi / 25.4;
    struct canvas canvas = canvas_make((int)(150 * scale), (int)(150 * scale));
    struct shape piece = piece_make(between(40, 110), between(50, 75), between(-3.14, 3.14), (struct spot){75, 75});
    struct shape drawn = shape_scale(&piece, scale);
    struct light light = {between(10, 60), between(150, 240), between(-0.1, 0.1), between(-0.1, 0.1), 0, 0,
                          between(0, 6)};
    struct scan_scale known = {dpi, 0, 0};
    struct scan_result result;
    shape_draw(&canvas, &drawn);
    PIX *picture = canvas_picture(&canvas, &light);
    assert_int_equal(scan_measure(picture, &known, &result), SCAN_GOOD);
    assert_int_equal(result.count, 1);
    tally_add(tally, &result.pieces[0], shape_area(&piece));
    pixDestroy(&picture);
    free(canvas.cover);
}

static void scans_are_within_one_percent(void **state)
{
    (void)state;
    struct tally tally = {0};
    seed = 20261128;
    for (uint32_t i = 0; i < cases / 2; i++)
        scan_try(&tally);
    tally_judge(&tally, "scans", 0.01);
}

/* ---- Photos ---- */

#define MARKS_LENGTH 257.0
#define MARKS_HEIGHT 170.0

static void mark_draw(struct canvas *canvas, const struct mapping *mapping, double x, double y)
{
    double half = SCAN_MARK_MM / 2;
    struct shape mark = {4, {{x - half, y - half}, {x + half, y - half}, {x + half, y + half}, {x - half, y + half}}};
    struct shape drawn = shape_map(&mark, mapping);
    shape_draw(canvas, &drawn);
}

/* From the page to the picture: the inverse of a map from four corners that the camera saw askew. */
static struct mapping camera_make(int width, int height)
{
    double slack_x = width * 0.09;
    double slack_y = height * 0.09;
    double turn = between(-0.05, 0.05);
    const struct spot corners[4] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
    struct spot seen[4];
    for (int i = 0; i < 4; i++) {
        double x = (corners[i].x - 0.5) * width * 0.78 + between(-slack_x, slack_x) * 0.6;
        double y = (corners[i].y - 0.5) * height * 0.76 + between(-slack_y, slack_y) * 0.6;
        seen[i] = (struct spot){width / 2.0 + x * cos(turn) - y * sin(turn),
                                height / 2.0 + x * sin(turn) + y * cos(turn)};
    }
    /* mapping_find() maps spots to a rectangle; the other way round it is solved from the rectangle's unit square. */
    struct mapping there;
    assert_true(mapping_find(seen, MARKS_LENGTH, MARKS_HEIGHT, &there));
    double determinant = there.a * there.e - there.b * there.d;
    struct mapping back = {there.e - there.f * there.h,           there.c * there.h - there.b,
                           there.b * there.f - there.c * there.e, there.f * there.g - there.d,
                           there.a - there.c * there.g,           there.c * there.d - there.a * there.f,
                           there.d * there.h - there.e * there.g, there.b * there.g - there.a * there.h};
    double *numbers[] = {&back.a, &back.b, &back.c, &back.d, &back.e, &back.f, &back.g, &back.h};
    for (int i = 0; i < 8; i++)
        *numbers[i] /= determinant;
    return back;
}

static void photo_try(struct tally *tally)
{
    struct canvas canvas = canvas_make(1200, 820);
    struct mapping camera = camera_make(canvas.width, canvas.height);
    struct spot middle = {MARKS_LENGTH / 2 + between(-10, 10), MARKS_HEIGHT / 2 + between(-10, 10)};
    struct shape piece = piece_make(between(60, 140), between(55, 75), between(-0.3, 0.3), middle);
    struct shape drawn = shape_map(&piece, &camera);
    struct light light = {between(15, 50),  between(160, 230), between(-0.2, 0.2), between(-0.2, 0.2),
                          between(0, 0.25), between(0.2, 0.8), between(2, 8)};
    struct scan_scale known = {0, MARKS_LENGTH, MARKS_HEIGHT};
    struct scan_result result;
    shape_draw(&canvas, &drawn);
    mark_draw(&canvas, &camera, 0, 0);
    mark_draw(&canvas, &camera, MARKS_LENGTH, 0);
    mark_draw(&canvas, &camera, MARKS_LENGTH, MARKS_HEIGHT);
    mark_draw(&canvas, &camera, 0, MARKS_HEIGHT);
    canvas_blur(&canvas);
    PIX *picture = canvas_picture(&canvas, &light);
    enum scan_fault fault = scan_measure(picture, &known, &result);
    if (fault != SCAN_GOOD)
        print_error("%s\n", scan_fault_text(fault));
    assert_int_equal(fault, SCAN_GOOD);
    assert_int_equal(result.count, 1);
    tally_add(tally, &result.pieces[0], shape_area(&piece));
    pixDestroy(&picture);
    free(canvas.cover);
}

static void photos_are_within_three_percent(void **state)
{
    (void)state;
    struct tally tally = {0};
    seed = 20261129;
    for (uint32_t i = 0; i < cases / 2; i++)
        photo_try(&tally);
    tally_judge(&tally, "photos", 0.03);
}

/* ---- What else can be on a picture ---- */

static const struct light plain_light = {30, 200, 0, 0, 0, 0, 0};
static const struct scan_scale plain_scale = {100, 0, 0}; /* 0.254 mm a pixel */

static void box_draw(struct canvas *canvas, double left, double top, double right, double bottom)
{
    struct shape box = {4, {{left, top}, {right, top}, {right, bottom}, {left, bottom}}};
    shape_draw(canvas, &box);
}

static enum scan_fault canvas_measure(struct canvas *canvas, const struct light *light, const struct scan_scale *scale,
                                      struct scan_result *result)
{
    PIX *picture = canvas_picture(canvas, light);
    enum scan_fault fault = scan_measure(picture, scale, result);
    pixDestroy(&picture);
    free(canvas->cover);
    return fault;
}

/* Whole pixels have exact areas: 200 x 100 pixels of 0.254 mm are 1290.32 mm2. The larger piece comes first. */
static void pieces_are_parted_and_ordered(void **state)
{
    (void)state;
    struct scan_result result;
    struct canvas canvas = canvas_make(500, 300);
    box_draw(&canvas, 20, 20, 60, 60);
    box_draw(&canvas, 100, 50, 300, 150);
    box_draw(&canvas, 300, 150, 340, 190); /* touches the one before at a corner only */
    box_draw(&canvas, 400, 250, 403, 253); /* dust */
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_GOOD);
    assert_int_equal(result.count, 3);
    assert_true(fabs(result.pieces[0].area_mm2 - 1290.32) < 0.01);
    assert_true(fabs(result.pieces[1].area_mm2 - 103.2256) < 0.01);
    assert_true(result.pieces[0].bound_mm2 > result.pieces[1].bound_mm2);
}

/* Dark print inside a piece is paper. */
static void dark_print_counts_as_paper(void **state)
{
    (void)state;
    struct scan_result result;
    struct canvas canvas = canvas_make(400, 300);
    box_draw(&canvas, 100, 50, 300, 150);
    for (int y = 80; y < 110; y++) {
        for (int x = 150; x < 210; x++)
            canvas.cover[y * 400 + x] = 0;
    }
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_GOOD);
    assert_true(fabs(result.pieces[0].area_mm2 - 1290.32) < 0.01);
}

static void what_cannot_be_measured_is_told(void **state)
{
    (void)state;
    struct scan_result result;
    const struct scan_scale marks = {0, MARKS_LENGTH, MARKS_HEIGHT};
    const struct light dim = {30, 50, 0, 0, 0, 0, 0};
    struct canvas canvas = canvas_make(99, 300);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_SIZE);
    canvas = canvas_make(300, 200);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_CONTRAST);
    canvas = canvas_make(300, 200);
    box_draw(&canvas, 50, 50, 200, 150);
    assert_int_equal(canvas_measure(&canvas, &dim, &plain_scale, &result), SCAN_CONTRAST);
    canvas = canvas_make(300, 200);
    box_draw(&canvas, 0, 50, 200, 150);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_EDGE);
    canvas = canvas_make(300, 200);
    box_draw(&canvas, 50, 50, 54, 54);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_NOTHING);
    canvas = canvas_make(300, 200);
    box_draw(&canvas, 50, 50, 200, 150);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &marks, &result), SCAN_MARKS);
    canvas = canvas_make(600, 400); /* four marks and the piece, but one mark has twice the side of the others */
    box_draw(&canvas, 20, 20, 40, 40);
    box_draw(&canvas, 560, 20, 580, 40);
    box_draw(&canvas, 540, 340, 580, 380);
    box_draw(&canvas, 20, 360, 40, 380);
    box_draw(&canvas, 200, 150, 400, 250);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &marks, &result), SCAN_MARKS);
    canvas = canvas_make(1000, 1000);
    for (int i = 0; i < SCAN_PIECES_MAX + 1; i++)
        box_draw(&canvas, 20 + i % 10 * 90, 20 + i / 10 * 90, 60 + i % 10 * 90, 60 + i / 10 * 90);
    assert_int_equal(canvas_measure(&canvas, &plain_light, &plain_scale, &result), SCAN_MANY);
}

static void files_are_read(void **state)
{
    (void)state;
    struct scan_result result;
    const struct scan_scale none = {0, 0, 0};
    char path[] = "/tmp/counterfoil-scan-XXXXXX";
    int file = mkstemp(path);
    assert_true(file >= 0);
    (void)close(file);
    assert_int_equal(scan_file_measure(path, &plain_scale, &result), SCAN_FILE);
    struct canvas canvas = canvas_make(400, 300);
    box_draw(&canvas, 100, 50, 300, 150);
    PIX *picture = canvas_picture(&canvas, &plain_light);
    free(canvas.cover);
    assert_int_equal(pixWrite(path, picture, IFF_PNG), 0);
    assert_int_equal(scan_file_measure(path, &none, &result), SCAN_MARKS); /* no resolution in it */
    (void)pixSetXRes(picture, 100);
    (void)pixSetYRes(picture, 100);
    assert_int_equal(pixWrite(path, picture, IFF_PNG), 0);
    assert_int_equal(scan_file_measure(path, &none, &result), SCAN_GOOD);
    assert_true(fabs(result.pieces[0].area_mm2 - 1290.32) < 0.01 * 1290.32); /* PNG keeps dots a metre */
    pixDestroy(&picture);
    (void)unlink(path);
}

/* Maps against a known one: a square seen as a trapezium, worked by hand. */
static void maps_are_found(void **state)
{
    (void)state;
    const struct spot trapezium[4] = {{0, 0}, {3, 0}, {2, 1}, {1, 1}};
    const struct spot line[4] = {{0, 0}, {1, 1}, {2, 2}, {3, 3}};
    struct mapping mapping;
    assert_true(mapping_find(trapezium, 1, 1, &mapping));
    /* The diagonals of the trapezium meet at (1.5, 0.75): the middle of the square. */
    struct spot middle = mapping_apply(&mapping, (struct spot){1.5, 0.75});
    assert_true(fabs(middle.x - 0.5) < 1e-9 && fabs(middle.y - 0.5) < 1e-9);
    /* Against a difference quotient. */
    const double step = 1e-5;
    struct spot right = mapping_apply(&mapping, (struct spot){1.5 + step, 0.75});
    struct spot down = mapping_apply(&mapping, (struct spot){1.5, 0.75 + step});
    double quotient = fabs((right.x - middle.x) * (down.y - middle.y) - (right.y - middle.y) * (down.x - middle.x)) /
                      step / step;
    assert_true(fabs(mapping_magnify(&mapping, 1.5, 0.75) / quotient - 1) < 1e-3);
    assert_false(mapping_find(line, 1, 1, &mapping));
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scans_are_within_one_percent),
        cmocka_unit_test(photos_are_within_three_percent),
        cmocka_unit_test(pieces_are_parted_and_ordered),
        cmocka_unit_test(dark_print_counts_as_paper),
        cmocka_unit_test(what_cannot_be_measured_is_told),
        cmocka_unit_test(files_are_read),
        cmocka_unit_test(maps_are_found),
    };
    if (argc > 1)
        cases = (uint32_t)strtoul(argv[1], NULL, 10);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
