/*
 * How many places does a text take on paper or a screen where every place is equally wide, and where may it be cut?
 * Unicode 15.0: UAX #11 for wide characters, the general category for those that take no place.
 */
#ifndef MODEL_CELLS_H
#define MODEL_CELLS_H

#include <stddef.h>

/* The character that `text` begins with: its bytes are returned (0 at the end), *cells becomes 0, 1 or 2. A byte that is
 * no UTF-8 counts as a character of one place. */
size_t cells_step(const char *text, size_t *cells);

/* Places of the first `length` bytes. */
size_t cells_count(const char *text, size_t length);

/* The bytes from the beginning of `text` that fit into so many places, marks together with what they stand on. At least
 * one character when `text` is not empty, so that who cuts gets on. */
size_t cells_fit(const char *text, size_t places);

#endif
