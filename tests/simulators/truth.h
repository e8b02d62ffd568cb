/* What truly happened inside the device? JSON lines, one a fact, flushed at once, for a test to compare with. */
#ifndef SIMULATOR_TRUTH_H
#define SIMULATOR_TRUTH_H

#include <stdint.h>
#include <stdio.h>

struct truth {
    FILE *stream; /* NULL: no log wanted */
};

struct truth_note {
    long number, type;
    const char *id;
};

/* A bare fact, with one number if `name` is not NULL. */
void truth_say(const struct truth *truth, int64_t now_ms, const char *word, const char *name, long value);
/* A note outcome; event bytes of -1: the device made no event. */
void truth_note(const struct truth *truth, int64_t now_ms, const char *word, const struct truth_note *note,
                const int event[2], unsigned counter);
void truth_event(const struct truth *truth, int64_t now_ms, const int event[2], unsigned counter);
void truth_fault(const struct truth *truth, int64_t now_ms, const char *kind, int header);

#endif
