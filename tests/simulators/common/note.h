/* Where is the note, and how did it end? The states that every simulated device shares, whatever its protocol. */
#ifndef SIMULATOR_NOTE_H
#define SIMULATOR_NOTE_H

#include <stdbool.h>

enum path { PATH_EMPTY, PATH_ENTERING, PATH_HELD, PATH_STACKING, PATH_RETURNING, PATH_JAMMED };

enum outcome {
    OUTCOME_NONE,
    OUTCOME_STACKED,
    OUTCOME_STACKED_UNKNOWN,
    OUTCOME_RETURNED,
    OUTCOME_REJECTED,
    OUTCOME_PULLED,
    OUTCOME_JAMMED,
    OUTCOME_NOT_TAKEN
};

/* What a script can wait for. */
struct note_state {
    bool accepting;
    bool events_read; /* nothing is left that the host could still be told */
    enum path path;
    enum outcome outcome; /* of the note inserted last */
};

/* The word for the log. */
const char *outcome_name(enum outcome outcome);

#endif
