/*
 * How much of a note is on this picture? Pieces lie on a dark ground; the scale comes from the scanner's resolution or from
 * four light marks at the corners of a known rectangle. Apart from the library: only this folder uses Leptonica.
 */
#ifndef SCAN_SCAN_H
#define SCAN_SCAN_H

#include <stdbool.h>
#include <stdint.h>

struct Pix;

#define SCAN_PIECES_MAX 50
#define SCAN_MARK_MM    10.0 /* side of a mark */

/* Where the scale comes from. */
struct scan_scale {
    double dpi;                  /* greater than 0: a flat-bed scan, no marks */
    double length_mm, height_mm; /* else: between the middles of the marks, across and down */
};

struct scan_piece {
    double area_mm2;
    double bound_mm2; /* meant to hold in at least 95 of 100 pictures; tests/unit/scan tries it */
};

struct scan_result {
    uint32_t count;
    struct scan_piece pieces[SCAN_PIECES_MAX]; /* the largest first */
};

enum scan_fault {
    SCAN_GOOD = 0,
    SCAN_FILE = 1,     /* cannot be read as a picture */
    SCAN_SIZE = 2,     /* smaller than 100 or larger than 20000 pixels a side */
    SCAN_CONTRAST = 3, /* ground and paper cannot be told apart */
    SCAN_MARKS = 4,    /* the four marks were not found */
    SCAN_EDGE = 5,     /* a piece reaches the edge of the picture */
    SCAN_NOTHING = 6,  /* no piece */
    SCAN_MANY = 7,     /* more than SCAN_PIECES_MAX pieces */
    SCAN_MEMORY = 8
};
const char *scan_fault_text(enum scan_fault fault);

/* A picture in memory, of any depth. */
enum scan_fault scan_measure(struct Pix *picture, const struct scan_scale *scale, struct scan_result *result);

/* The same from a file; a resolution of 0 with no marks takes the one that the file tells. */
enum scan_fault scan_file_measure(const char *path, const struct scan_scale *scale, struct scan_result *result);

#endif
