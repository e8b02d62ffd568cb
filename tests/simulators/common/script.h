/* What does a script say? The timeline, and the words that every simulator has; its own words come as a language.
 * README.md describes both. */
#ifndef SIMULATOR_SCRIPT_H
#define SIMULATOR_SCRIPT_H

#include "fault.h"
#include "words.h"

#include <stdio.h>

enum { SCRIPT_STATEMENTS = 512 };

enum wait {
    WAIT_NOTHING,
    WAIT_AT,
    WAIT_PAUSE,
    WAIT_ENABLED,
    WAIT_INHIBITED,
    WAIT_HELD,
    WAIT_STACKED,
    WAIT_RETURNED,
    WAIT_REJECTED,
    WAIT_FINISHED,
    WAIT_EVENTS_READ,
    WAIT_CONNECTED,
    WAIT_DISCONNECTED,
    WAIT_POLLS,
    WAIT_REQUEST,
    WAIT_ANSWERED,
    WAIT_OWN /* the first of the simulator's own */
};

enum {
    ACTION_NONE,
    ACTION_INSERT, /* waits until the path is free */
    ACTION_PULL,
    ACTION_CLEAR,
    ACTION_RESET,
    ACTION_POWER_OFF,
    ACTION_SILENCE,
    ACTION_DROP,
    ACTION_UNPLUG,
    ACTION_REPLUG,
    ACTION_FAULT,
    ACTION_FAULTS_OFF,
    ACTION_REPEAT,
    ACTION_REPEAT_END,
    ACTION_END,
    ACTION_OWN /* the first of the simulator's own */
};

struct statement {
    int line;
    enum wait wait;
    long wait_value;
    int action;
    long first, second; /* the action's numbers, in the order written */
    struct fault fault;
};

struct script;

/* Tables end with a NULL word. A NULL reader: nothing follows. */
struct action_word {
    const char *word;
    int action;
    bool (*read)(const struct script *script, struct words *words, struct statement *statement);
};

struct setting_word {
    const char *word;
    bool (*read)(struct words *words, void *settings);
};

struct language {
    const struct setting_word *settings;
    const struct action_word *actions;
    const char *const *conditions; /* its own, in order from WAIT_OWN on */
    const struct fault_word *faults;
    bool (*command_read)(struct words *words, long *command); /* what follows "request" and "answered" */
    bool (*fault_on_read)(struct words *words, struct fault *fault);
};

struct script {
    const char *file;
    const struct language *language;
    void *settings; /* of the simulator's own kind */
    long patience_ms;
    struct statement statements[SCRIPT_STATEMENTS];
    size_t count;
};

/* Reads the file; on the first error prints "FILE:LINE: what is wrong" on stderr and returns false. */
bool script_read(struct script *script, const struct language *language, void *settings, const char *file);
/* The same from a stream that is open already; `file` is its name for errors. */
bool script_read_stream(struct script *script, const struct language *language, void *settings, const char *file,
                        FILE *stream);

/* timeline.c */
bool timeline_read(struct script *script, struct words *words);
bool timeline_check_end(const struct script *script);

#endif
