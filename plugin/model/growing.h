/*
 * A text that grows while it is written, in memory of the context; after a failure nothing more is added.
 */
#ifndef MODEL_GROWING_H
#define MODEL_GROWING_H

#include "model/memory.h"

#include <stdbool.h>

/* Zeroed but for `memory`. */
struct growing {
    const struct memory *memory;
    char *text; /* NULL = nothing yet */
    size_t length;
    size_t capacity;
    bool failed;
};

/* Makes room for so many bytes and the ending one; false = no memory, now or before. */
bool growing_reserve(struct growing *growing, size_t more);

void growing_add(struct growing *growing, const char *bytes, size_t length);
void growing_text_add(struct growing *growing, const char *text);

/* How HTML writes a letter that it uses itself (HTML Living Standard, section 13.1.4); NULL = as it stands. */
const char *growing_html_name(char letter);

/* A text with those letters written so. */
void growing_html_add(struct growing *growing, const char *text);

/* "" when nothing was added. */
const char *growing_text(const struct growing *growing);

void growing_release(struct growing *growing);

#endif
