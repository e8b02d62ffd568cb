/*
 * The state of one ccTalk bill validator, and what the files of this folder do with it:
 * settings.c reads the host's settings; exchange.c carries one request to its answer; startup.c leads to readiness;
 * run.c polls, routes held notes and watches; events.c turns the event buffer into events, exactly once each.
 */
#ifndef CCTALK_SESSION_H
#define CCTALK_SESSION_H

#include "common/say.h"
#include "notes.h"
#include "wire.h"

#include <counterfoil/adapter.h>
#include <stdbool.h>

/* ---- Commands: Generic Specification Part 2. Headers 254 to 225 also in published device manuals; 159 to 152 from
 * memory. ---- */
enum {
    HEADER_REPLY_DONE = 0, /* with or without data */
    HEADER_REPLY_NAK = 5,
    HEADER_REPLY_BUSY = 6,
    HEADER_SIMPLE_POLL = 254,
    HEADER_POLLING_PRIORITY = 249,
    HEADER_MAKER = 246,
    HEADER_CATEGORY = 245,
    HEADER_PRODUCT = 244,
    HEADER_SERIAL = 242,
    HEADER_SOFTWARE = 241,
    HEADER_SELF_CHECK = 232,
    HEADER_TYPES_WRITE = 231,
    HEADER_TYPES_READ = 230,
    HEADER_MASTER_WRITE = 228,
    HEADER_MASTER_READ = 227,
    HEADER_BUILD = 192,
    HEADER_EVENTS = 159,
    HEADER_NOTE_NAME = 157,
    HEADER_SCALING = 156,
    HEADER_ROUTE = 154,
    HEADER_MODE_WRITE = 153,
    HEADER_MODE_READ = 152,
    HEADER_COMMS_REVISION = 4
};

/* Route codes (154) and its answers; from memory. */
enum { ROUTE_RETURN = 0, ROUTE_STACK = 1, ROUTE_EXTEND = 255, ROUTE_ANSWER_EMPTY = 254, ROUTE_ANSWER_FAILED = 255 };

/* Operating mode (153, 152), bit 0 stacker, bit 1 escrow; from memory. */
enum { MODE_STACKER = 1, MODE_ESCROW = 2 };

/* Addresses: 1 is the host; 40 to 47 are bill validators (from memory). */
enum { ADDRESS_HOST = 1, ADDRESS_FIRST = 40, ADDRESS_LAST = 47 };

/* ---- Times, microseconds. Defaults of the fact sheet are common practice unless a source is named. ---- */
#define MS(milliseconds) (UINT64_C(1000) * (milliseconds))
#define OPEN_PAUSE_US    MS(300)
#define GAP_US           MS(5)    /* after the end of a reply */
#define BYTE_GAP_US      MS(50)   /* receiver's inter-byte time-out; two device manuals */
#define SLOW_ANSWER_US   MS(1000) /* 232, 231, 153 */
#define ROUTE_ANSWER_US  MS(400)  /* 154: no longer, for the events tell what it did, and they must be read in time */
#define BUSY_PAUSE_US    MS(50)
#define BUSY_LIMIT_US    MS(5000)
#define QUIET_US         MS(250)  /* without a byte, after a request that was sent again: late answers are over */
#define QUIET_LIMIT_US   MS(500)  /* but no longer than that: others may talk on the line without end */
#define NOISE_LIMIT_US   MS(1000) /* after the time for an answer: no longer, whatever still comes in */
#define PROBE_US         MS(250)
#define PROBE_LOST_US    MS(1000)
#define AGAIN_US         MS(1000) /* before start-up is tried again */
#define LOST_AFTER_US    MS(10000)
#define WATCH_US         MS(3000) /* 227/230 "every few seconds" */
#define SELF_CHECK_US    MS(3000) /* "at most every few seconds while faulty" */
#define EXTEND_US        MS(5000) /* "send 255 every 5 s" */
#define ROUTE_AGAIN_US   MS(500)
#define OUTCOME_LIMIT_US MS(10000)
#define POLL_OVERDUE_US  MS(300) /* leaves time for one lost answer and a pause: 800 ms must not pass without 159 */

enum { TRIES = 4, TRIES_OPTIONAL = 2, ROUTE_TRIES = 4, REREADS = 8, NOISE_LIMIT = 5, MISSES = 2 };
#define NOISE_PERIOD_US MS(60000)

enum check_setting { CHECK_AUTO, CHECK_SUM, CHECK_CRC };

struct settings {
    uint8_t address; /* 0 = look at 40 to 47 */
    enum check_setting check;
    uint64_t poll_us;
    uint64_t answer_us;
    uint64_t hold_us;
    struct cctalk_currency currencies[CCTALK_CURRENCIES];
    uint32_t currency_count;
};

enum outcome { OUTCOME_ANSWER, OUTCOME_NAK, OUTCOME_BUSY, OUTCOME_SILENT };

/* What the exchange under way is for. */
enum purpose {
    PURPOSE_START,      /* the stage of start-up */
    PURPOSE_EVENTS,     /* 159 */
    PURPOSE_ROUTE,      /* 154 */
    PURPOSE_SELF_CHECK, /* 232 while faulty */
    PURPOSE_TYPES,      /* 230: still as we set it? */
    PURPOSE_MASTER,     /* 227: still as we set it? */
    PURPOSE_QUIT        /* 228[0] at the end */
};

struct exchange {
    bool under_way;
    bool draining;    /* damaged bytes came: wait for silence, then try again */
    bool out_of_step; /* a request was sent again or not answered: an answer to it may still come */
    enum purpose purpose;
    uint8_t header;
    uint8_t data[2];
    uint8_t length;
    uint32_t tries_left;
    uint64_t deadline_us;
    uint64_t limit_us;    /* the deadline never moves past it */
    uint64_t finished_us; /* the last outcome */
    uint64_t earliest_us; /* no request before this time */
    uint8_t sent[CCTALK_FRAME_MIN + 2];
    uint32_t sent_length;
    uint8_t received[2 * CCTALK_FRAME_MAX];
    uint32_t received_length;
    uint64_t received_us;
    struct cctalk_frame answer; /* valid after OUTCOME_ANSWER */
};

enum stage {
    STAGE_PROBE,
    STAGE_CATEGORY,
    STAGE_MAKER,
    STAGE_PRODUCT,
    STAGE_SOFTWARE,
    STAGE_BUILD,
    STAGE_SERIAL,
    STAGE_COMMS_REVISION,
    STAGE_PRIORITY,
    STAGE_TYPES_BEFORE, /* 230: still as we set it in an earlier life, or as after a reset? */
    STAGE_BAR,          /* 228[0]: no notes while we configure */
    STAGE_SELF_CHECK,
    STAGE_COUNTER,
    STAGE_NAMES,
    STAGE_SCALING,
    STAGE_RECOVER, /* what happened while nobody listened; sends nothing */
    STAGE_CLOSE,   /* configuring, from here on: 228[0] */
    STAGE_MODE_WRITE,
    STAGE_MODE_READ,
    STAGE_TYPES_WRITE,
    STAGE_TYPES_READ,
    STAGE_MASTER_WRITE,
    STAGE_MASTER_READ,
    STAGE_RUN,
    STAGE_ENDED
};

/* One answer to 159: the counter and five pairs, newest first. */
struct snapshot {
    uint8_t counter;
    uint8_t pairs[10];
};

enum held_state {
    HELD_NONE,
    HELD_WAITING,  /* in escrow, nobody has decided */
    HELD_STACKING, /* 154[1] was sent or is to be sent: never 154[0] from here on */
    HELD_RETURNING,
    HELD_EARLIER, /* in an earlier life of the host; until its events are read */
    HELD_DOUBTFUL /* told: its fate is not known */
};

struct held {
    enum held_state state;
    uint8_t type;
    uint64_t until_us;   /* extend the hold until then */
    uint64_t extend_us;  /* next extension */
    uint64_t route_us;   /* next 154 may be sent then; UINT64_MAX = none wanted */
    uint64_t outcome_us; /* an outcome is overdue then; UINT64_MAX = none awaited */
    uint32_t route_tries_left;
};

/* Where the events of a device begin that was reset. */
enum base {
    BASE_ZERO,   /* proved: all it has is new */
    BASE_STANDS, /* its counter stands where it stood, by chance */
    BASE_FOUND   /* not proved: nobody can say what is new, so nothing is */
};

/* How a jump of the event counter is looked into before anything is believed. */
enum doubt {
    DOUBT_NONE,
    DOUBT_TYPES,  /* 230 */
    DOUBT_MASTER, /* 227 */
    DOUBT_READ    /* 159 again */
};

struct session {
    const cfoil_adapter_host *host;
    struct settings settings;
    enum cctalk_check check;
    uint8_t address;
    struct exchange exchange;
    enum stage stage;
    uint64_t now_us;
    uint64_t wait_us;     /* start-up goes on then */
    uint64_t answered_us; /* the last valid answer */
    bool echo;            /* what we send comes back first, as on a line shared by both directions */
    bool lost;
    bool quit;
    bool quit_done;

    char key[40]; /* "cctalk/SERIAL", "" = the device tells no serial number */
    char product[33];
    struct cctalk_note notes[CCTALK_TYPES + 1];
    struct cctalk_note notes_before[CCTALK_TYPES + 1]; /* the first reading */
    bool notes_again;                                  /* the second reading is under way */
    uint32_t note_index;                               /* type that start-up is asking about */
    uint32_t valued_count;

    int32_t accept_wanted;
    int32_t accept_target; /* what the configuring under way is for */
    uint8_t mode;          /* last written, 0 = none yet */
    int32_t accept_now;    /* what the device was last configured to */
    bool configured;       /* accept_now holds */
    bool blocked;          /* no notes until the host says ACCEPT again */
    bool fault;            /* no notes until the self-check is clean */
    bool fault_told;
    uint8_t fault_code;
    bool self_check_known; /* the device answers 232 */
    uint64_t self_check_us;
    uint32_t config_failures;
    uint64_t busy_since_us; /* the request of this stage is answered with BUSY since then; 0 = it is not */

    bool last_known; /* `last` is where we stand in the device's events */
    struct snapshot last;
    struct snapshot start; /* read twice alike in this start-up */
    bool rebase;           /* `start` is where we stand, whatever `last` was */
    bool candidate_known;  /* read once, not yet confirmed */
    struct snapshot candidate;
    uint32_t rereads;
    uint64_t poll_us;   /* next 159 */
    uint64_t polled_us; /* the last answered 159 */
    bool away;          /* events now told happened while nobody listened */
    enum doubt doubt;
    bool types_set;       /* some types are enabled in the device, unless it was reset since */
    uint16_t types_found; /* the latest answer to 230 */

    struct held held;
    uint64_t watch_us; /* next 230 and 227 */
    bool watch_half;   /* 230 was answered, 227 comes next */
    uint32_t watch_misses;

    uint32_t noise;
    uint64_t noise_begin_us;
};

/* settings.c */
int32_t cctalk_settings_read(struct settings *settings, const cfoil_adapter_start *start);

/* exchange.c */
void cctalk_exchange_begin(struct session *session, enum purpose purpose, uint8_t header, const uint8_t *data,
                           uint8_t length, uint32_t tries);
void cctalk_exchange_receive(struct session *session, const uint8_t *bytes, uint32_t length);
/* Two bytes of an answer, least significant first (published device manuals). */
uint16_t cctalk_number_read(const uint8_t bytes[2]);
/* True when the exchange has its outcome. */
bool cctalk_exchange_advance(struct session *session, enum outcome *outcome);

/* startup.c: begins what is due, or returns when something will be. */
uint64_t cctalk_startup_next(struct session *session);
void cctalk_startup_answer(struct session *session, enum outcome outcome);
void cctalk_startup_begin(struct session *session, enum stage stage);
int32_t cctalk_accept_effective(const struct session *session);
bool cctalk_types_fit(const struct session *session);
void cctalk_lost_check(struct session *session);

/* run.c */
uint64_t cctalk_run_next(struct session *session);
/* When something will be due, without beginning it. */
uint64_t cctalk_run_due(const struct session *session);
void cctalk_run_answer(struct session *session, enum outcome outcome);
int32_t cctalk_command(struct session *session, int32_t command, int32_t argument);

/* events.c */
void cctalk_events_answer(struct session *session);
void cctalk_events_recover(struct session *session);
bool cctalk_reset_proved(const struct session *session);
void cctalk_restart_take(struct session *session, enum base base);
void cctalk_memory_store(const struct session *session);
void cctalk_held_end(struct session *session);
bool cctalk_held_active(const struct session *session);
void cctalk_condition_tell(struct session *session, int32_t condition, const char *raw_text, const char *text);
void cctalk_outcome_unknown_tell(struct session *session);
void cctalk_fault_tell(struct session *session, const uint8_t *answer, uint32_t length);
void cctalk_fault_clear(struct session *session, const char *raw_text);

#endif
