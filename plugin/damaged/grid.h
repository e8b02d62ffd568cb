/*
 * A page to count squares on: a grid to scale, the outline of one note, and a bar that shows whether the printer kept the
 * scale.
 */
#ifndef DAMAGED_GRID_H
#define DAMAGED_GRID_H

#include "damaged/request.h"
#include "model/drawing.h"

#define GRID_SIDE_LEAST_MM 1
#define GRID_SIDE_MOST_MM  10

/* SVG 1.1 for A4 across (297 mm x 210 mm, ISO 216), as snprintf() would. */
void grid_write(const struct pack_set *packs, const char *language, const struct damaged_request *note,
                uint32_t side_mm, struct drawing *drawing);

#endif
