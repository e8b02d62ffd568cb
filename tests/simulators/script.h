/* What does a script say? The settings and the timeline of the simulated note validator, as read from a text file.
 * README.md in this folder describes the language. */
#ifndef SIMULATOR_SCRIPT_H
#define SIMULATOR_SCRIPT_H

#include <stdbool.h>
#include <stddef.h>

enum {
    SCRIPT_STATEMENTS = 512,
    SCRIPT_COUNTRIES = 8,
    SCRIPT_TYPES = 16, /* header 231 has two mask bytes: bill types 1..16 */
    SCRIPT_EARLIER = 5 /* header 159 shows five pairs */
};

enum header_treatment { TREAT_ANSWER, TREAT_SILENT, TREAT_NAK, TREAT_BUSY };
enum empty_position { EMPTY_DOTS, EMPTY_SPACES, EMPTY_ZEROS, EMPTY_NAK, EMPTY_SILENCE };

struct country {
    char letters[3];
    long scale;
    long places;
};

struct settings {
    long address, serial, counter, mode;
    long escrow_timeout_ms, start_ms, move_ms, watchdog_ms, reply_ms, patience_ms;
    long crc, echo, stacks_on_power_loss, keeps_counters, empty; /* choices; the words are in script.c */
    long comms[3], priority[2], fault[2];
    char category[33], maker[33], product[33], software[33], build[33];
    char notes[SCRIPT_TYPES + 1][8]; /* by type number; an empty text is an unprogrammed position */
    struct country countries[SCRIPT_COUNTRIES];
    size_t country_count;
    long earlier[SCRIPT_EARLIER][2];
    size_t earlier_count;
    unsigned char treatment[256];
};

/* How an inserted note fares; the event codes belong to device.c. */
enum way {
    WAY_GENUINE,
    WAY_REFUSED,
    WAY_TRANSPORT,
    WAY_SWITCHED_OFF,
    WAY_PULLED,
    WAY_TAMPERED,
    WAY_OPTICAL,
    WAY_STRING,
    WAY_UNKNOWN,
    WAY_JAMS,
    WAY_JAMS_IN_STACKER,
    WAY_COUNT
};

enum jam { JAM_TRANSPORT, JAM_SAFE, JAM_STACKER };
enum stacker { STACKER_OK, STACKER_REMOVED, STACKER_INSERTED, STACKER_FAULTY, STACKER_FULL, STACKER_JAMMED };

enum fault_kind {
    FAULT_LOST,
    FAULT_DOUBLED,
    FAULT_FLIP,
    FAULT_CUT,
    FAULT_LATE,
    FAULT_PAUSE,
    FAULT_SILENCE,
    FAULT_DEAF,
    FAULT_STALE,
    FAULT_GARBAGE,
    FAULT_ECHO
};

struct fault {
    enum fault_kind kind;
    long value;                       /* late, pause: milliseconds; garbage: number of bytes */
    long byte;                        /* position in the reply counted from 0, or -1: chosen at random */
    long header;                      /* only answers to this command, or -1: to any */
    long every, reply, chance, times; /* 0: not asked for */
    unsigned long random;
    long matched, used;
};

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
    WAIT_ANSWERED
};

enum action {
    ACTION_NONE,
    ACTION_INSERT,
    ACTION_EVENT,
    ACTION_PULL,
    ACTION_JAM,
    ACTION_CLEAR,
    ACTION_STACKER,
    ACTION_SELF_CHECK,
    ACTION_ROUTE_FAILS,
    ACTION_RESET,
    ACTION_POWER_OFF,
    ACTION_DROP,
    ACTION_UNPLUG,
    ACTION_REPLUG,
    ACTION_SILENCE,
    ACTION_FAULT,
    ACTION_FAULTS_OFF,
    ACTION_REPEAT,
    ACTION_REPEAT_END,
    ACTION_END
};

struct statement {
    int line;
    enum wait wait;
    long wait_value;
    enum action action;
    long first, second; /* the action's numbers, in the order written */
    struct fault fault;
};

struct script {
    const char *file;
    struct settings settings;
    struct statement statements[SCRIPT_STATEMENTS];
    size_t count;
};

/* Reads the file; on the first error prints "FILE:LINE: what is wrong" on stderr and returns false. */
bool script_read(struct script *script, const char *file);
const char *fault_name(enum fault_kind kind);

#endif
