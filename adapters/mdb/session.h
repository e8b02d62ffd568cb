/*
 * The state of one MDB/ICP bill validator, and what the files of this folder do with it:
 * settings.c reads the host's settings; exchange.c carries one command to its answer; startup.c leads to readiness;
 * run.c polls, routes held notes and takes commands; events.c tells what a POLL answer says; claims.c decides which
 * notes the device says it stacked are credited; memory.c keeps what the next life of the host must know.
 */
#ifndef MDB_SESSION_H
#define MDB_SESSION_H

#include "block.h"
#include "common/say.h"
#include "setup.h"

#include <counterfoil/adapter.h>
#include <stdbool.h>

/* Commands to the bill validator, address 0x30: MDB/ICP 4.3 section 6 (one text, agrees with memory). */
enum {
    COMMAND_RESET = 0x30,
    COMMAND_SETUP = 0x31,
    COMMAND_SECURITY = 0x32,
    COMMAND_POLL = 0x33,
    COMMAND_BILL_TYPE = 0x34,
    COMMAND_ESCROW = 0x35,
    COMMAND_STACKER = 0x36,
    COMMAND_EXPANSION = 0x37
};

/* Second byte of COMMAND_EXPANSION. */
enum {
    EXPANSION_IDENTITY = 0x00, /* level 1 */
    EXPANSION_OPTIONS = 0x01,
    EXPANSION_IDENTITY_OPTIONS = 0x02, /* level 2 and above */
    EXPANSION_RECYCLER_SETUP = 0x03,
    EXPANSION_RECYCLER_COUNT = 0x05
};

/* Lengths of answers, the check not counted. */
enum {
    LENGTH_POLL_MAX = 16,
    LENGTH_STACKER = 2,
    LENGTH_IDENTITY = 29,
    LENGTH_IDENTITY_OPTIONS = 33,
    LENGTH_RECYCLER_SETUP = 2,
    LENGTH_RECYCLER_COUNT = 34
};

/* Z30 to Z33 of the identification, bit 1: the device can recycle (from memory). */
#define OPTION_RECYCLER 0x02u

/* ESCROW data. */
enum { ESCROW_RETURN = 0, ESCROW_STACK = 1 };

/* ---- Times, microseconds. Those of the standard are from memory; the others are common practice, no source. ---- */
#define MS(milliseconds) (UINT64_C(1000) * (milliseconds))
#define OPEN_PAUSE_US    MS(300)
#define CHARACTER_US     UINT64_C(1146) /* 11 bits at 9600 baud (computed) */
#define GAP_US           MS(5)          /* before the next command */
#define BLOCK_GAP_US     MS(20)   /* words of one block at our side of the carrier; the bus limit of 1 ms is its */
#define QUIET_US         MS(10)   /* after damage, before RET */
#define STALE_US         MS(100)  /* after no answer: one that comes late belongs to nothing */
#define LATE_US          MS(2100) /* docs/word-carrier.md, rule 1: a packet may be 20 times 100 ms under way */
#define BABBLE_US        MS(1000) /* a bus that is never quiet is waited for so long */
#define BREAK_US         MS(310)  /* 100 ms break and 200 ms setup time (section 3), and a little */
#define AWAIT_US         MS(3000) /* for 06 after a reset */
#define AGAIN_US         MS(1000) /* before start-up is tried again */
#define PROBE_US         MS(500)
#define REVIVE_US        MS(10000) /* section 6: RESET at least every 10 s to a silent device */
#define LEVEL_US         MS(2000)  /* a status that has not come for so long has gone */
#define REPEAT_US        MS(600)   /* no validator takes two notes in less */
#define SETTLE_US        MS(2000)  /* a count that disagrees with what was said is watched so long */
#define UNREAD_US        MS(5000)  /* longest non-response time of a validator (section 3) */
#define WATCH_US         MS(5000)  /* between looks at the stacker count */
#define FREE_US          MS(10000) /* a note fed before escrow was switched on is through by then */
#define ESCROW_AGAIN_US  MS(500)
#define OUTCOME_US       MS(30000) /* section 6: an outcome within 30 s of ESCROW */
#define REMOVED_US       MS(5000)  /* after 07 a 'returned' should follow */
#define CONFIG_AGAIN_US  MS(500)
#define DISABLED_US      MS(5000)  /* between BILL TYPE commands to a device that says it is disabled */
#define BOX_US           MS(60000) /* a count may fall so long after the cash box was out */
#define NOISE_PERIOD_US  MS(60000)

enum { TRIES = 4, TRIES_OPTIONAL = 2, ESCROW_TRIES = 4, RET_MAX = 3, NOISE_LIMIT = 5, CLAIMS_MAX = 32 };

struct settings {
    char currency[4]; /* "" = as the device says */
    uint64_t poll_us;
    uint64_t answer_us;
    uint64_t silence_us;
    uint64_t hold_us;
    bool security_high;
    bool bus_reset;
    bool count_used; /* the stacker count proves credits */
};

enum outcome { OUTCOME_ACK, OUTCOME_DATA, OUTCOME_NAK, OUTCOME_DAMAGED, OUTCOME_SILENT };

/* What the exchange under way is for. */
enum purpose {
    PURPOSE_START,    /* the stage of start-up */
    PURPOSE_REVIVE,   /* RESET to a silent device */
    PURPOSE_POLL,     /* 33 */
    PURPOSE_COUNT,    /* 36 */
    PURPOSE_RECYCLER, /* 37 05 */
    PURPOSE_ESCROW,   /* 35 */
    PURPOSE_TYPES,    /* 34 */
    PURPOSE_QUIT      /* 34 at the end */
};

struct exchange {
    bool under_way;
    bool done;     /* `outcome` holds */
    bool draining; /* damage came: wait for silence, then RET */
    enum purpose purpose;
    enum outcome outcome;
    uint8_t command[MDB_DATA_MAX];
    uint32_t rets_left;
    uint64_t deadline_us;
    uint64_t limit_us;    /* the answer is given up then, whatever comes in */
    uint64_t earliest_us; /* no command before this time */
    uint32_t late_polls;  /* POLL commands given up, whose answers may come yet */
    uint64_t late_us;     /* until then */
    uint64_t other_us;    /* until then data that comes late may answer another command than POLL */
    struct mdb_words words;
    struct mdb_reader reader; /* the answer, after OUTCOME_DATA */
};

enum stage {
    STAGE_PROBE, /* POLL: harmless, and tells what the device has not told anybody */
    STAGE_BREAK, /* bus reset; no answer */
    STAGE_RESET,
    STAGE_AWAIT, /* POLL until 06 */
    STAGE_SETUP,
    STAGE_STACKER, /* twice alike */
    STAGE_IDENTITY,
    STAGE_OPTIONS,
    STAGE_RECYCLER_SETUP,
    STAGE_RECYCLER_COUNT,
    STAGE_SECURITY,
    STAGE_RECOVER, /* what happened while nobody listened; sends nothing */
    STAGE_TYPES,
    STAGE_RUN
};

enum held_state {
    HELD_NONE,
    HELD_LATER, /* in escrow, not told yet: what the device said before is still being checked */
    HELD_WAITING,
    HELD_STACKING, /* ESCROW 01 was sent or is to be sent: never ESCROW 00 from here on */
    HELD_RETURNING,
    HELD_LEAVING, /* 07: it is on its way out, nobody knows how */
    HELD_DOUBTFUL /* told as unknown; a late word of the device still counts */
};

struct held {
    enum held_state state;
    uint8_t type;
    bool permit;         /* ESCROW 01 was sent: one 'stacked' of this type is expected */
    uint64_t until_us;   /* goes back then unless the host decides */
    uint64_t escrow_us;  /* next ESCROW may be sent then; UINT64_MAX = none wanted */
    uint64_t outcome_us; /* an outcome is overdue then; UINT64_MAX = none awaited */
    uint32_t tries_left;
};

/* A note that the device says it took, not yet told: the low four bits are its type. */
enum {
    CLAIM_TYPE = 0x0F,
    CLAIM_RECYCLER = 0x10, /* Bx, else 8x */
    CLAIM_REPEAT = 0x20,   /* may be the answer before, sent again because our ACK was lost */
    CLAIM_PAIRED = 0x40,   /* an ESCROW command of ours asked for it */
    CLAIM_FREE = 0x80      /* none is needed: notes are stacked without asking */
};

/* One of the device's own counts of notes. */
struct counter {
    bool known;
    bool moved;     /* it has risen since the connection began: it is of use */
    uint32_t base;  /* what the record accounts for */
    uint32_t now;   /* last reading */
    int32_t shifts; /* notes that service or the device itself moved since `base` */
    uint8_t doubts; /* claims given up: it may rise for them yet */
};

enum { COUNTER_STACKER, COUNTER_RECYCLER, COUNTERS };

struct session {
    const cfoil_adapter_host *host;
    struct settings settings;
    struct exchange exchange;
    enum stage stage;
    uint64_t now_us;
    uint64_t wait_us;     /* start-up goes on then */
    uint64_t answered_us; /* the last valid answer */
    uint64_t polled_us;   /* the last valid answer to POLL */
    uint64_t revive_us;   /* next RESET to a silent device */
    uint64_t await_us;    /* 06 is given up then */
    uint32_t failures;    /* of this stage */
    bool proved;          /* something answered POLL at the address of bill validators */
    bool resumable;       /* fell silent while running, and no RESET was sent since */
    bool reset_sent;      /* by STAGE_RESET, not only a break */
    bool reset_seen;      /* 06 in the POLL answer just taken */
    bool lost;
    bool quit;
    bool quit_done;

    struct mdb_setup setup;
    bool setup_known;
    bool candidate_known; /* stacker count read once in this start-up */
    uint32_t candidate;
    char key[24]; /* "mdb/MAKERSERIAL", "" = the device tells none */
    bool recycler;
    bool recovered; /* start-up has been through STAGE_RECOVER in this life */
    bool away;      /* events now told happened while nobody listened */

    int32_t accept_wanted;
    int32_t accept_target; /* of the BILL TYPE under way */
    int32_t accept_now;    /* what the device was last told */
    bool types_wrong;      /* BILL TYPE must be sent, whatever accept_now says */
    bool unused_told;      /* that the stacker count is not used */
    bool told;             /* the lane's state has been told since it changed */
    bool blocked;          /* no notes until the host says ACCEPT again */
    bool fault;            /* no notes until the fault has gone */
    bool disabled;         /* by itself */
    uint64_t types_us;     /* BILL TYPE may be sent again then */
    uint64_t config_us;    /* the last BILL TYPE that was taken */
    uint64_t free_us;      /* until then a note may be stacked without ESCROW */

    uint64_t poll_us;              /* next POLL */
    uint64_t level_us[128];        /* last time a status came; 0 = it is not there */
    uint8_t last[LENGTH_POLL_MAX]; /* routed bytes of the last POLL answer that had some */
    uint32_t last_length;
    uint64_t last_us;
    uint32_t empties; /* POLL answers without routed bytes since */
    uint8_t attempts; /* 010n nnnn of the last POLL answer, 0 = none */
    uint64_t attempts_us;
    uint64_t box_us; /* 08 last came; 0 = never */
    bool full;
    bool recycler_fault;

    struct held held;
    struct counter counters[COUNTERS];
    uint8_t claims[CLAIMS_MAX];
    uint32_t claim_count;
    bool count_wanted;  /* read the counts now */
    uint64_t settle_us; /* a disagreement is decided then; UINT64_MAX = there is none */
    uint64_t unread_us; /* claims are given up then if no count can be read; UINT64_MAX = none */
    uint32_t quiet;     /* POLL answers in a row that changed nothing */
    uint64_t watch_us;

    uint8_t stored[64]; /* what memory_store had last */
    uint32_t stored_length;

    uint32_t noise;
    uint64_t noise_begin_us;
};

/* settings.c */
int32_t mdb_settings_read(struct settings *settings, const cfoil_adapter_start *start);

/* exchange.c */
void mdb_exchange_begin(struct session *session, enum purpose purpose, const uint8_t *command, uint32_t length);
void mdb_exchange_receive(struct session *session, const uint8_t *bytes, uint32_t length);
/* True when the exchange has its outcome. */
bool mdb_exchange_advance(struct session *session, enum outcome *outcome);

/* startup.c: begins what is due, or returns when something will be. */
uint64_t mdb_startup_next(struct session *session);
void mdb_startup_answer(struct session *session, enum outcome outcome);
void mdb_startup_begin(struct session *session, enum stage stage);
void mdb_revive_answer(struct session *session, enum outcome outcome);
void mdb_lost_check(struct session *session);

/* run.c */
uint64_t mdb_run_next(struct session *session);
void mdb_run_answer(struct session *session, enum outcome outcome);
void mdb_ready_tell(struct session *session);
int32_t mdb_accept_effective(const struct session *session);
void mdb_types_begin(struct session *session, enum purpose purpose);
void mdb_types_taken(struct session *session);
int32_t mdb_command(struct session *session, int32_t command, int32_t argument);

/* events.c */
void mdb_poll_take(struct session *session, const uint8_t *bytes, uint32_t length);
void mdb_note_put(const struct session *session, cfoil_adapter_event *event, uint8_t type);
void mdb_raw_put(cfoil_adapter_event *event, uint8_t byte);
void mdb_event_tell(const struct session *session, cfoil_adapter_event *event);
void mdb_condition_tell(const struct session *session, int32_t condition, const char *raw_text, const char *text);
void mdb_outcome_unknown_tell(const struct session *session, uint8_t type);
void mdb_held_doubt(struct session *session);
void mdb_held_later_tell(struct session *session);
void mdb_full_take(struct session *session, bool full);

/* claims.c */
void mdb_claim_add(struct session *session, uint8_t type, bool recycler, bool repeat);
void mdb_shift_add(struct session *session, uint8_t byte);
void mdb_count_take(struct session *session, uint32_t counter, uint32_t now);
void mdb_counts_judge(struct session *session);
void mdb_counts_fail(struct session *session);
void mdb_counts_recover(struct session *session);
void mdb_claims_abandon(struct session *session);
void mdb_claims_leave(const struct session *session);
uint32_t mdb_recycler_count(const uint8_t *data);

/* memory.c */
void mdb_memory_load(struct session *session);
void mdb_memory_keep(struct session *session);

#endif
