/*
 * The state of one described device, and what the files of this folder do with it:
 * exchange.c carries one request to its answer and finds the messages of talking devices; startup.c leads to readiness;
 * run.c polls, moves held notes and takes commands; rules.c turns messages into events; buffer.c reads event buffers.
 */
#ifndef DESCRIBED_SESSION_H
#define DESCRIBED_SESSION_H

#include "match.h"
#include "wire.h"

/* Times that no description changes; common practice, no source. */
#define MS(milliseconds) (UINT64_C(1000) * (milliseconds))
#define QUIET_US         MS(250)  /* without a byte after a request that was sent again: late answers are over */
#define QUIET_LIMIT_US   MS(500)  /* but no longer than that: others may talk on the line without end */
#define NOISE_LIMIT_US   MS(1000) /* after the time for an answer: no longer, whatever still comes in */
#define AGAIN_US         MS(1000) /* before start-up is tried again */
#define ROUTE_AGAIN_US   MS(500)
#define NOISE_PERIOD_US  MS(60000)
#define LATE_US          MS(2000) /* an answer that comes so late is still known as one */
#define OVERDUE_US       MS(500)  /* a poll comes before anything else that can wait */

enum { CONFIG_TRIES = 4, ROUTE_TRIES = 4, REREADS = 8, NOISE_LIMIT = 5, MISSES = 2 };

enum outcome {
    OUTCOME_ANSWER,
    OUTCOME_OTHER, /* only answers that are not the one expected */
    OUTCOME_SILENT
};

/* What the exchange under way is for. */
enum purpose {
    PURPOSE_START,
    PURPOSE_CONFIGURE,
    PURPOSE_POLL,
    PURPOSE_ROUTE,
    PURPOSE_HOLD,
    PURPOSE_SELF_CHECK,
    PURPOSE_WATCH, /* still as we set it? */
    PURPOSE_QUIT
};

struct exchange {
    bool under_way;
    bool draining;    /* damaged bytes came: wait for silence, then try again */
    bool out_of_step; /* a request was sent again or not answered: an answer to it may still come */
    bool other;       /* a good message came that is not the answer */
    enum purpose purpose;
    const struct described_exchange *what;
    uint32_t tries_left;
    uint64_t deadline_us;
    uint64_t limit_us;    /* the deadline never moves past it */
    uint64_t finished_us; /* the last outcome */
    uint64_t earliest_us; /* no request before this time */
    uint32_t sent_length;
    uint8_t sent[2 * DESCRIBED_SEND_MAX + 32];
    struct described_message answer; /* valid after OUTCOME_ANSWER */
};

enum stage {
    STAGE_START,
    STAGE_SELF_CHECK,
    STAGE_WATCH,     /* was it reset since we set it last? */
    STAGE_COUNTER,   /* event buffers: where does the device stand? */
    STAGE_CONFIGURE, /* from here on the device is known */
    STAGE_RUN,
    STAGE_ENDED
};

enum held_state {
    HELD_NONE,
    HELD_WAITING,  /* in escrow, nobody has decided */
    HELD_STACKING, /* it was or is to be told to stack: never told to return from here on */
    HELD_RETURNING,
    HELD_EARLIER, /* in an earlier life of the host; until its events are read */
    HELD_DOUBTFUL /* told: its fate is not known */
};

struct held {
    enum held_state state;
    int32_t note; /* index, -1 = not in the table */
    uint64_t until_us;
    uint64_t extend_us;
    uint64_t route_us;   /* the command may be sent then; UINT64_MAX = none wanted */
    uint64_t outcome_us; /* an outcome is overdue then; UINT64_MAX = none awaited */
    uint32_t route_tries_left;
};

/* How a jump of an event counter is looked into before anything is believed. */
enum doubt {
    DOUBT_NONE,
    DOUBT_WATCH, /* is the device still set as we set it? */
    DOUBT_READ   /* the events again, after a silence */
};

/* What of a device that was reset is news. */
enum base {
    BASE_RESET, /* proved: all that it has counted since */
    BASE_FOUND, /* likely: nothing that is in its buffer now */
    BASE_STANDS /* proved, but its counter stands where it stood: nobody can say */
};

/* One reading of an event buffer. */
struct snapshot {
    uint32_t counter;
    uint8_t entries[DESCRIBED_BUFFER_MAX];
};

struct session {
    const cfoil_adapter_host *host;
    const struct description *description;
    struct exchange exchange;
    uint32_t received_length;
    uint8_t received[2 * DESCRIBED_FRAME_MAX];
    uint64_t received_us;
    bool skipping; /* lines: what comes before the next line end is the rest of something damaged */
    bool damage_told;
    uint64_t damage_us; /* the last damage of a talking device */
    enum stage stage;
    uint32_t step; /* of start-up, or of the list that configures */
    uint64_t now_us;
    uint64_t wait_us; /* start-up goes on then */
    uint64_t answered_us;
    uint64_t polled_us;
    bool proved;
    bool wrong; /* the proof came out otherwise once */
    bool lost;
    bool quit;
    bool quit_done;
    char key[40]; /* "ID/IDENTITY", "" = the device does not tell who it is */
    bool identified;

    int32_t accept_wanted;
    int32_t accept_target;
    int32_t accept_now;
    bool configured;
    uint32_t config_failures;
    bool blocked; /* no notes until the host says ACCEPT again */
    bool fault;
    uint64_t self_check_us;
    int32_t state_told;
    int32_t result_told;
    char fault_text[DESCRIBED_TEXT_MAX + 10];

    uint32_t sequence; /* host: of the next request; device: of the last message taken */
    bool sequence_known;
    bool based;                           /* some message was taken: from here on STACKED is news */
    bool carried;                         /* the message being read carries an event */
    uint32_t active[DESCRIBED_RULES_MAX]; /* 0, or what the rule said about the message before */
    uint32_t unknown_length;
    uint8_t unknown[CFOIL_RAW_MAX]; /* the message before, when no rule knew it */

    bool last_known;
    struct snapshot last;
    bool candidate_known;
    struct snapshot candidate;
    uint32_t rereads;
    enum doubt doubt;
    bool rebase;     /* the next start begins at what it finds */
    bool set;        /* the device was set to take notes, unless it was reset since */
    bool reset_seen; /* the latest look found it set otherwise */
    uint32_t watch_misses;
    uint64_t watch_us;
    bool away;
    uint64_t poll_us;

    struct held held;
    uint32_t noise;
    uint64_t noise_begin_us;
};

uint64_t described_earlier(uint64_t left, uint64_t right);

/* exchange.c */
void described_exchange_begin(struct session *session, enum purpose purpose, const struct described_exchange *what,
                              const struct described_bytes *send, uint32_t tries);
/* Takes as many bytes as there is room for and returns their number. */
uint32_t described_receive(struct session *session, const uint8_t *bytes, uint32_t length);
/* Reads what has come; true when the exchange under way has its outcome. */
bool described_exchange_advance(struct session *session, enum outcome *outcome);
void described_noise_count(struct session *session);
struct described_view described_view_of(const struct session *session, const struct described_message *message);

/* startup.c */
uint64_t described_startup_next(struct session *session);
void described_startup_answer(struct session *session, enum outcome outcome);
void described_startup_begin(struct session *session);
void described_configure_begin(struct session *session);
int32_t described_accept_effective(const struct session *session);
void described_lost_check(struct session *session);
void described_state_refresh(struct session *session);

/* run.c */
uint64_t described_run_next(struct session *session);
void described_run_answer(struct session *session, enum outcome outcome);
int32_t described_command(struct session *session, int32_t command, int32_t argument);
void described_poll_begin(struct session *session);

/* rules.c */
void described_message_read(struct session *session, const struct described_message *message);
void described_answer_count(struct session *session, const struct described_message *message);
void described_view_read(struct session *session, const struct described_view *view);
void described_condition_tell(struct session *session, int32_t condition, const char *raw_text, const char *text);
void described_outcome_unknown_tell(struct session *session);
void described_lost_tell(struct session *session, uint32_t count, int32_t condition, const char *text);
void described_restart_tell(struct session *session);
bool described_reset_proved(const struct session *session);
void described_held_end(struct session *session);
bool described_held_active(const struct session *session);
void described_fault_begin(struct session *session, const char *text);
void described_fault_clear(struct session *session, const char *raw_text);

/* buffer.c */
void described_buffer_answer(struct session *session);
void described_restart_take(struct session *session, enum base base);
void described_memory_load(struct session *session);
void described_memory_store(const struct session *session);

/* adapter.c */
void described_log(const struct session *session, int32_t level, const char *key, const char *text);
void described_state(struct session *session, int32_t state, int32_t result, const char *text);

#endif
