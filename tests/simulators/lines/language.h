/* What can a script say about the detector that prints lines? Its settings and its own words. */
#ifndef SIMULATOR_LINES_LANGUAGE_H
#define SIMULATOR_LINES_LANGUAGE_H

#include "common/script.h"

enum { ACTION_SAY = ACTION_OWN, ACTION_JAM, ACTION_DIRTY };

enum { TEXTS = 64, TEXT_BYTES = 96 };

/* The order of the words in language.c. */
enum way {
    WAY_PASSED,
    WAY_UV,
    WAY_IR,
    WAY_MG,
    WAY_THREAD,
    WAY_SIZE,
    WAY_THICK,
    WAY_IMAGE,
    WAY_UV_IR,
    WAY_STRANGE,
    WAY_SKEWED,
    WAY_COUNT
};

struct settings {
    long alive_ms; /* between two signs of life; 0: none */
    long start_ms, move_ms;
    char texts[TEXTS][TEXT_BYTES]; /* of the "say" actions */
    long text_count;
};

extern const struct language lines_language;

void settings_default(struct settings *settings);

#endif
