/*
 * From pixels to millimetres, and how bright ground and paper are at each place.
 */
#ifndef SCAN_PLANE_H
#define SCAN_PLANE_H

#include <stdbool.h>

struct spot {
    double x, y;
};

/* A projective map: X = (a x + b y + c) / w, Y = (d x + e y + f) / w, w = g x + h y + 1. */
struct mapping {
    double a, b, c, d, e, f, g, h;
};

/* The map that takes the four spots to the corners (0,0), (length,0), (length,height), (0,height); false = none. */
bool mapping_find(const struct spot from[4], double length, double height, struct mapping *mapping);
struct spot mapping_apply(const struct mapping *mapping, struct spot spot);

/* How large the map makes a small area there: its Jacobian's determinant, det(H) / w^3. */
double mapping_magnify(const struct mapping *mapping, double x, double y);

/* Brightness as a plane, fitted by least squares. */
struct plane {
    double level, across, down;
};
struct plane_sums {
    double n, x, y, xx, xy, yy, v, vx, vy;
};
void plane_add(struct plane_sums *sums, double x, double y, double value);
bool plane_fit(const struct plane_sums *sums, struct plane *plane);
double plane_at(const struct plane *plane, double x, double y);

#endif
