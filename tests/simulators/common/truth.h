/* What truly happened inside the device? JSON lines, one a fact, flushed at once, for a test to compare with. */
#ifndef SIMULATOR_TRUTH_H
#define SIMULATOR_TRUTH_H

#include "note.h"

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

struct truth {
    FILE *stream; /* NULL: no log wanted */
};

/* A bare fact, with one number if `name` is not NULL. */
void truth_say(const struct truth *truth, int64_t now_ms, const char *word, const char *name, long value);
/* A fact with more to it: begin, members, end. No text may need an escape. */
void truth_begin(const struct truth *truth, int64_t now_ms, const char *word);
void truth_number(const struct truth *truth, const char *name, long value);
void truth_text(const struct truth *truth, const char *name, const char *text);
void truth_bytes(const struct truth *truth, const char *name, const uint8_t *bytes, size_t count);
void truth_end(const struct truth *truth);

#endif
