/* What can a script say about a ccTalk note validator? Its settings, notes, mishaps and line faults. */
#ifndef SIMULATOR_CCTALK_LANGUAGE_H
#define SIMULATOR_CCTALK_LANGUAGE_H

#include "common/script.h"

enum {
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
    long escrow_timeout_ms, start_ms, move_ms, watchdog_ms, reply_ms;
    long crc, echo, stacks_on_power_loss, keeps_counters, empty; /* choices; the words are in language.c */
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

/* Faults that only line.c knows how to do. */
enum { OWN_NONE, OWN_DEAF, OWN_STALE, OWN_ECHO };

enum { ACTION_EVENT = ACTION_OWN, ACTION_JAM, ACTION_STACKER, ACTION_SELF_CHECK, ACTION_ROUTE_FAILS };

extern const struct language cctalk_language;

void settings_default(struct settings *settings);

#endif
