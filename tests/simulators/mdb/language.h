/* What can a script say about an MDB bill validator and its bus controller? */
#ifndef SIMULATOR_MDB_LANGUAGE_H
#define SIMULATOR_MDB_LANGUAGE_H

#include "common/script.h"

enum { TYPES = 16, CREDIT_TOKEN = 255, SETUP_BYTES_LEAST = 12, SETUP_BYTES = 27 };

/* Commands as a script names them: the low three bits of the first byte, then 8 + the sub-command of 37H. */
enum {
    COMMAND_RESET,
    COMMAND_SETUP,
    COMMAND_SECURITY,
    COMMAND_POLL,
    COMMAND_BILL_TYPE,
    COMMAND_ESCROW,
    COMMAND_STACKER,
    COMMAND_OTHER, /* a sub-command that is not here */
    COMMAND_EXPANSION,
    COMMANDS = COMMAND_EXPANSION + 11
};

enum counting { COUNTING_RIGHT, COUNTING_STUCK, COUNTING_JUMPS };
enum saying { SAYS_NEVER, SAYS_ONCE, SAYS_ALWAYS };
enum unknown_treatment { UNKNOWN_SILENT, UNKNOWN_NAK, UNKNOWN_ACK };

struct settings {
    long level, country, scaling, places, capacity, count, security, software, setup_bytes, poll_bytes, holds;
    long escrow_timeout_ms, start_ms, move_ms, reply_ms;
    /* Choices; the words are in language.c. */
    long escrow, counting, stacks_on_power_loss, keeps_events, statuses_once, says_disabled, count_clears, recycling,
        unknown, passes_strays, ignores_retransmit;
    char maker[4], serial[13], model[13];
    long credit[TYPES]; /* -1: no such note */
    long stored[TYPES]; /* in the recycler at the start */
    unsigned recycles;  /* mask of the types that the recycler can hold; 0: no recycler */
};

/* How an inserted note fares; the poll bytes belong to validator.c. */
enum way { WAY_GENUINE, WAY_REFUSED, WAY_PULLED, WAY_JAMS, WAY_JAMS_IN_STACKER, WAY_JAMS_WITHIN_REACH, WAY_UNSAID };

enum status { STATUS_GOOD, STATUS_MOTOR, STATUS_SENSOR, STATUS_BUSY, STATUS_ROM };
enum stacker { STACKER_OK, STACKER_REMOVED, STACKER_INSERTED, STACKER_FULL };
enum transfer { TRANSFER_FILL, TRANSFER_DISPENSE, TRANSFER_TO_CASH_BOX };

enum {
    ACTION_EVENT = ACTION_OWN,
    ACTION_JAM,
    ACTION_STATUS,
    ACTION_STACKER,
    ACTION_COUNT,
    ACTION_RECYCLER,
    ACTION_CONTROLLER
};

enum { WAIT_KEPT = WAIT_OWN }; /* the controller keeps a block that the host has not acknowledged */

/* Which line a fault is on. */
enum { ON_BUS, FROM_CONTROLLER, TO_CONTROLLER };

/* Faults that only bus.c and carrier.c know how to do. */
enum { OWN_NONE, OWN_DEAF, OWN_STALE, OWN_NAK, OWN_ACK_LOST, OWN_FRAMING };

/* Kinds of packets of the word carrier. */
enum { PACKET_HELLO = 0x01, PACKET_ACKNOWLEDGE = 0x02, PACKET_SEND = 0x10, PACKET_BLOCK = 0x11, PACKET_FAULT = 0x12 };

extern const struct language mdb_language;

void settings_default(struct settings *settings);
const char *command_name(long command);
const char *packet_name(long kind);

#endif
