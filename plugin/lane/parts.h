/*
 * The inside of a lane, and which file does what. Everything below runs on the lane's thread unless it says otherwise.
 *
 * lane.c: life, and the calls of the host   serve.c: port, deadlines, loop    replay.c: the same from a trace
 * seam.c: calls into the adapter            host.c: calls from the adapter    backlog.c: told events, ledger, queue
 * journal.c: the ledger's rows              log.c: log records, last trouble
 */
#ifndef LANE_PARTS_H
#define LANE_PARTS_H

#include "lane/devices.h"
#include "lane/lane.h"
#include "lane/presentations.h"
#include "lane/queue.h"
#include "transport/port.h"
#include "transport/settings.h"
#include "transport/transport.h"

struct arrival;
struct os_condition;
struct os_mutex;
struct os_signal;
struct os_thread;
struct trace_player;
struct trace_record;
struct trace_target;
struct trace_writer;

#define LANE_NAME_MAX      32
#define LANE_COMMANDS_MAX  16
#define LANE_OUTPUT_MAX    16384 /* bytes one call of the adapter may send */
#define LANE_BLOCKS_MAX    64    /* blocks of words or messages one call of the adapter may send */
#define LANE_INPUT_MAX     4096  /* bytes read at once; fits a trace record */
#define BACKLOG_EVENTS_MAX 128
#define BACKLOG_GROUPS_MAX 64
#define LOG_KEYS_MAX       32

struct lane_command {
    int32_t command; /* CFOIL_COMMAND_* */
    int32_t argument;
    uint64_t presentation;
};

/* The note in escrow, as the host's calls see it. */
struct held_note {
    uint64_t presentation; /* 0 = none */
    bool stack_asked;
    bool return_asked;
};

/* An event on its way to the host. */
struct told {
    cfoil_event event;
    bool overflow; /* explains events that the queue dropped */
};

/* What one call of the adapter told: recorded in one transaction, and told in order. */
struct group {
    uint32_t count; /* of events */
    bool delivered; /* the host has them, unrecorded: the ledger gets them later */
    bool memory_set;
    struct device_memory memory;
};

/* Groups that are not yet recorded and delivered. The one being filled stands behind them: groups[group_count]. */
struct backlog {
    bool failing;             /* the ledger failed for too long: the host gets events unrecorded */
    uint32_t unrecorded;      /* events that found no place here and are not in the ledger */
    uint64_t failed_since_us; /* system's clock; 0 = the last try went well */
    uint64_t retry_us;        /* system's clock; 0 = at once */
    uint64_t pause_us;
    uint32_t group_count;
    uint32_t event_count;
    struct group groups[BACKLOG_GROUPS_MAX + 1];
    struct told events[BACKLOG_EVENTS_MAX];
};

struct log_key {
    char key[32];
    uint64_t since_us;
    uint32_t count;
};

struct lane {
    /* Fixed once the thread runs. */
    const struct memory *memory;
    const cfoil_adapter *adapter;
    struct ledger *ledger;
    struct lane_log log;
    char name[LANE_NAME_MAX + 1];
    char port_text[PORT_TEXT_MAX + 1];
    bool replay;
    bool messages; /* USB: what one call sends is a message of its own */
    bool plugged;  /* a port that may come and go with a USB device */
    uint32_t reconnect_ms;
    uint64_t failing_after_us;
    enum transport_way way;
    uint64_t start_us; /* system's clock at the lane's time 0 */
    struct settings settings;
    cfoil_adapter_host host;
    struct os_thread *thread; /* the owner's: lane_create and lane_stop */

    /* Shared with the host's calls, under `lock`. */
    struct os_mutex *lock;
    struct os_condition *changed; /* an event came, room came (replay), closing or shutdown */
    struct os_signal *wake;       /* set for the lane's thread */
    struct os_signal *watch;      /* the host's native wait handle, NULL until asked for */
    struct queue queue;
    bool closing;
    bool shutdown;
    bool served; /* the adapter is open: commands mean something to it */
    int32_t accept;
    uint32_t accept_count; /* how often the host has said so */
    struct held_note held;
    uint32_t command_count;
    struct lane_command commands[LANE_COMMANDS_MAX];
    cfoil_error_info error;

    /* The lane's thread only. */
    bool closing_seen;
    int32_t accept_seen;
    int32_t accept_given; /* to the adapter */
    uint32_t accept_count_seen;
    uint32_t accept_count_given; /* said again means begin again: a device that has stopped waits for it */
    uint64_t accept_retry_us;    /* lane's time */
    bool overflowing;            /* the queue dropped events that are not yet explained */
    bool ended;
    bool open;           /* the adapter is open */
    bool heard;          /* bytes came since the port was opened */
    bool sent;           /* the adapter sent bytes since this was cleared */
    int32_t port_result; /* why the port cannot be used any more, or CFOIL_OK */
    uint64_t now_us;     /* lane's time of the adapter's present call */
    uint64_t deadline_us;
    int32_t state; /* CFOIL_LANE_* told last */
    int32_t state_result;
    uint64_t sequence;
    struct presentations presentations;
    struct devices devices;
    struct transport *transport;
    struct arrival *arrival; /* while a port is waited for */
    struct trace_player *player;
    struct trace_writer *writer;
    void *adapter_state;
    uint32_t output_length;
    uint32_t block_count; /* of words or messages in `output`, each sent by one call */
    uint32_t block_ends[LANE_BLOCKS_MAX];
    uint8_t output[LANE_OUTPUT_MAX];
    uint8_t input[LANE_INPUT_MAX];
    struct backlog backlog;
    struct log_key log_keys[LOG_KEYS_MAX];
    char *bodies[BACKLOG_EVENTS_MAX]; /* JSON texts while a group is recorded */
};

/* ---- serve.c, replay.c ---- */
void lane_run(void *user); /* the thread */
void lane_replay_run(struct lane *lane);
const struct trace_target *lane_replay_target(struct lane *lane, struct trace_target *target);
uint64_t lane_clock(const struct lane *lane);
void lane_attend(struct lane *lane);                  /* takes what the host's calls have left */
void lane_rest(struct lane *lane, uint64_t until_us); /* one wait without a port, at most until then; system's clock */

/* ---- seam.c: each is one call of the adapter and one group ---- */
int32_t seam_open(struct lane *lane, int32_t accept, uint64_t now_us, char *text, uint32_t text_capacity);
void seam_step(struct lane *lane, const uint8_t *bytes, uint32_t length, uint64_t now_us);
int32_t seam_command(struct lane *lane, int32_t command, int32_t argument, uint64_t now_us);
void seam_close(struct lane *lane);
void seam_lose(struct lane *lane, int32_t result, uint64_t now_us); /* the port has gone: CFOIL_E_PORT_* */
void seam_trace(struct lane *lane, const struct trace_record *record);

/* ---- host.c ---- */
void host_table_fill(struct lane *lane);

/* ---- backlog.c ---- */
void backlog_begin(struct lane *lane, uint64_t now_us);
void backlog_event_add(struct lane *lane, cfoil_event *event); /* gives it its number, times and presentation */
void backlog_memory_set(struct lane *lane, const struct device_memory *memory);
void backlog_end(struct lane *lane);
void backlog_flush(struct lane *lane, bool now); /* tries to record and deliver; false = not before the pause is over */
uint64_t backlog_deadline(const struct lane *lane); /* system's clock; UINT64_MAX = nothing waits */
void backlog_overflow_tell(struct lane *lane, uint64_t now_us);
void lane_state_tell(struct lane *lane, int32_t state, int32_t result, const char *text); /* inside a group */
void lane_state_change(struct lane *lane, int32_t state, int32_t result, const char *text, uint64_t now_us);

/* ---- journal.c ---- */
/* CFOIL_OK also when there is nothing to record. Sets entry and flag of the events. */
int32_t journal_group(struct lane *lane, const struct group *group, struct told *events);
int32_t journal_memory(struct lane *lane, const struct device_memory *memory);
/* CFOIL_OK with *length 0 when nothing is known. */
int32_t journal_load(struct lane *lane, struct device_memory *memory);

/* ---- log.c ---- */
/* `about` may be NULL. No lock may be held. */
void lane_log_write(struct lane *lane, int32_t level, const cfoil_error_info *about, const char *area, const char *key,
                    const char *text);
void lane_trouble(struct lane *lane, int32_t level, const char *key, const cfoil_error_info *error);

#endif
