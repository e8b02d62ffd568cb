/*
 * Writing SVG or any long text into a buffer that may be too small: what does not fit is counted, as snprintf() does.
 */
#ifndef MODEL_DRAWING_H
#define MODEL_DRAWING_H

#include <stddef.h>

struct drawing {
    char *buffer; /* ended after every call while capacity is not 0 */
    size_t capacity;
    size_t length; /* of the whole text so far, whether it fitted or not */
};

void drawing_put(struct drawing *drawing, const char *text);

/* Shapes and numbers: at most 255 bytes once formatted. */
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void drawing_format(struct drawing *drawing, const char *format, ...);

/* Character data (XML 1.0, 2.4). */
void drawing_escape(struct drawing *drawing, const char *text);

#endif
