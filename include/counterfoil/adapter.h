/*
 * adapter.h - the interface between Counterfoil and the adapter of one device protocol.
 *
 * An adapter is a state machine. Bytes and a time go in; bytes to send, events and the time of the next deadline come
 * out. It does no input or output, knows no clock, starts no thread and keeps nothing outside the state that the core
 * allocates for it. So the same adapter runs in a lane's thread, in a host's own loop, on a virtual clock in a test,
 * under a fuzzer, and from a trace, with the same result.
 *
 * Rules for every adapter:
 *  - never report CFOIL_KIND_STACKED unless the device itself said, by its protocol, that the note went to the cash box;
 *  - never credit on a code that the tables do not have: report CFOIL_CONDITION_UNKNOWN_CODE;
 *  - keep the raw code of each event; say what the code may mean and no more;
 *  - a gap in the device's own counters is reported (CFOIL_KIND_LOST_EVENTS), never guessed away;
 *  - send nothing but the harmless identity poll until the device has proved to be of the right kind.
 *
 * SPDX-License-Identifier: Apache-2.0
 */
#ifndef COUNTERFOIL_ADAPTER_H
#define COUNTERFOIL_ADAPTER_H

#include "counterfoil.h"

#ifdef __cplusplus
extern "C" {
#endif

/* The version of this interface; an adapter states the one it was built for. */
#define CFOIL_ADAPTER_API 1

/* Before the entry of an adapter in a shared library of its own: makes it visible to the loader. */
#if defined(_WIN32)
#define CFOIL_ADAPTER_EXPORT __declspec(dllexport)
#elif defined(__GNUC__)
#define CFOIL_ADAPTER_EXPORT __attribute__((visibility("default")))
#else
#define CFOIL_ADAPTER_EXPORT
#endif

/* How far an adapter has been proved. */
enum {
    CFOIL_MATURITY_EXPERIMENTAL = 1,
    CFOIL_MATURITY_REPLAY_VERIFIED = 2,  /* against simulators and traces */
    CFOIL_MATURITY_HARDWARE_VERIFIED = 3 /* against real devices */
};

/* Capability bits. Without WORDS or LINES the seam carries the bytes of the line as they are. */
enum {
    CFOIL_ADAPTER_ESCROW = 1,  /* can hold a note */
    CFOIL_ADAPTER_INHIBIT = 2, /* can refuse notes on command */
    CFOIL_ADAPTER_COUNTER = 4, /* the protocol counts events, so that loss is seen */
    CFOIL_ADAPTER_MEMORY = 8,  /* uses memory_load and memory_store */
    CFOIL_ADAPTER_WORDS = 16, /* the seam carries 16-bit words, low byte first: byte | mode bit << 8, or CFOIL_WORD_* */
    CFOIL_ADAPTER_LINES =
        32 /* the seam carries modem-control lines: in, CFOIL_LINE_CTS.. at each change; out, DTR, RTS */
};

/* Words that are not a character on the line (CFOIL_ADAPTER_WORDS). */
enum { CFOIL_WORD_BREAK = 0x8000 /* out: hold the line active for 100 ms; in: a break was seen */ };

/* Modem-control lines (CFOIL_ADAPTER_LINES), one byte with a bit for each line that is active. */
enum {
    CFOIL_LINE_CTS = 1,
    CFOIL_LINE_DSR = 2,
    CFOIL_LINE_DCD = 4,
    CFOIL_LINE_RI = 8,
    CFOIL_LINE_DTR = 16, /* outputs */
    CFOIL_LINE_RTS = 32
};

/* Parity of the serial line the protocol wants. */
enum {
    CFOIL_PARITY_NONE = 0,
    CFOIL_PARITY_EVEN = 1,
    CFOIL_PARITY_ODD = 2,
    CFOIL_PARITY_MARK = 3,
    CFOIL_PARITY_SPACE = 4
};

/* Line settings for serial ports; other transports ignore them. */
typedef struct cfoil_line {
    uint32_t baud;
    uint32_t data_bits; /* 5..8 */
    uint32_t stop_bits; /* 1..2 */
    int32_t parity;     /* CFOIL_PARITY_* */
} cfoil_line;

/* What an adapter tells. The core adds sequence, presentation number, times and ledger entry. */
typedef struct cfoil_adapter_event {
    uint32_t struct_size;
    int32_t kind;              /* CFOIL_KIND_HELD .. CFOIL_KIND_LOST_EVENTS; not LANE_STATE */
    int32_t reason;            /* CFOIL_REASON_*: the class to act on */
    uint32_t reasons_possible; /* 1u << CFOIL_REASON_* of everything the code may mean */
    int32_t condition;         /* CFOIL_CONDITION_* */
    int32_t note_type;
    int64_t value_minor;
    uint32_t lost_count;
    uint32_t flags; /* CFOIL_EVENT_WHILE_AWAY or 0 */
    uint32_t finding_count;
    uint32_t raw_length;
    cfoil_finding findings[CFOIL_FINDINGS_MAX];
    uint8_t raw[CFOIL_RAW_MAX];
    char currency[4];
    char note_name[20];
    char raw_text[72];
    char text[160];
} cfoil_adapter_event;
#define CFOIL_ADAPTER_EVENT_INIT CFOIL_SIZED(cfoil_adapter_event)

/* What the core offers to an adapter while one of the adapter's functions runs. All calls return at once. */
typedef struct cfoil_adapter_host {
    uint32_t struct_size;
    uint32_t reserved;
    void *user; /* pass it as the first argument of every call below */

    /* Queue bytes for the device; at most the table's frame_max in one call. They leave in order, soon after the
     * adapter's function returns. */
    void (*send)(void *user, const uint8_t *bytes, uint32_t length);

    /* Tell an event; copied. Events keep their order. */
    void (*event)(void *user, const cfoil_adapter_event *event);

    /* Tell that the device is STARTING, IDLE, ACCEPTING, in FAULT, LOST or ENDED (CFOIL_LANE_*); `result` says why
     * (CFOIL_OK or CFOIL_E_DEVICE_*), `text` is one English line. Telling the present state again is harmless. */
    void (*state)(void *user, int32_t lane_state, int32_t result, const char *text);

    /* Tell the log. `key` is short and stable. */
    void (*log)(void *user, int32_t level, const char *key, const char *text);

    /* What was stored for this device (a name such as "cctalk/1193046") in an earlier life of the host: copies at most
     * `capacity` bytes and returns how many there are; 0 = nothing known. */
    uint32_t (*memory_load)(void *user, const char *device, uint8_t *bytes, uint32_t capacity);

    /* Store at most 64 bytes for this device. The core writes them in one transaction with the events that the same
     * call of the adapter told, so a counter is never ahead of the events it counts. */
    void (*memory_store)(void *user, const char *device, const uint8_t *bytes, uint32_t length);
} cfoil_adapter_host;

/* One setting given by the host, already cut at ';' and '='. Both texts are UTF-8, valid during open only. */
typedef struct cfoil_adapter_setting {
    const char *key;
    const char *value;
} cfoil_adapter_setting;

typedef struct cfoil_adapter_start {
    uint32_t struct_size;
    uint32_t setting_count;
    const cfoil_adapter_setting *settings;
    const cfoil_adapter_host *host; /* valid until close */
    uint64_t now_us;                /* monotonic; the zero point has no meaning */
    int32_t accept;                 /* CFOIL_ACCEPT_* wanted from the start */
    uint32_t error_capacity;
    char *error;                         /* receives one English line when open fails */
    const struct cfoil_adapter *adapter; /* the table this state belongs to */
} cfoil_adapter_start;

typedef struct cfoil_adapter_input {
    uint32_t struct_size;
    uint32_t length;      /* bytes received, 0 when only time has passed */
    const uint8_t *bytes; /* valid during the call */
    uint64_t now_us;      /* never goes back */
} cfoil_adapter_input;

/* Commands from the host, sent through the core. */
enum {
    CFOIL_COMMAND_ACCEPT = 1, /* argument: CFOIL_ACCEPT_* */
    CFOIL_COMMAND_STACK = 2,  /* the held note to the cash box */
    CFOIL_COMMAND_RETURN = 3, /* the held note back to the customer */
    CFOIL_COMMAND_HOLD = 4,   /* argument: keep it so many milliseconds from now */
    CFOIL_COMMAND_QUIT = 5    /* the lane is closing: inhibit now if that takes one frame */
};

/*
 * The table of one adapter: constant, valid as long as any context that knows it. The core checks all of it when it
 * is registered. Every function is called from one thread at a time for one state, must return within 1 ms of work,
 * must not block, and must not call the library except through the host table.
 */
typedef struct cfoil_adapter {
    uint32_t struct_size;  /* sizeof(cfoil_adapter) */
    uint32_t api_version;  /* CFOIL_ADAPTER_API */
    const char *id;        /* 1..16 of a-z 0-9 '-' */
    const char *name;      /* shown to people, up to 64 bytes */
    int32_t maturity;      /* CFOIL_MATURITY_* */
    uint32_t capabilities; /* CFOIL_ADAPTER_* */
    uint32_t frame_max;    /* longest frame in either direction, 1..4096 bytes */
    uint32_t state_size;   /* bytes of private state, 1..1048576; zeroed before open */
    cfoil_line line;
    uint32_t answer_max_ms; /* longest silence after which the adapter reports LOST, 100..60000 */
    uint32_t reserved;

    /* Judge bytes that were overheard on a port: 0 = not mine .. 100 = certain. Writes nothing. Optional (NULL). */
    int32_t (*identify)(const uint8_t *bytes, uint32_t length);

    /* Begin on an open port. Required. CFOIL_OK, CFOIL_E_ARGUMENT_SETTING or another code with start->error set.
     * Called again on a zeroed state after the port was lost and reopened. */
    int32_t (*open)(void *state, const cfoil_adapter_start *start);

    /* Take what came, if anything, and the time; do what is due. Required. Returns the time of the next deadline; the
     * core calls again then, or earlier with bytes. UINT64_MAX = only when bytes come. */
    uint64_t (*step)(void *state, const cfoil_adapter_input *input);

    /* Take a command. Required. CFOIL_OK = noted, the rest happens in later steps (the core steps at once);
     * CFOIL_E_STATE_NOT_READY, CFOIL_E_STATE_NO_NOTE, CFOIL_E_ARGUMENT_RANGE otherwise. */
    int32_t (*command)(void *state, int32_t command, int32_t argument, uint64_t now_us);

    /* End; release nothing but own resources: the core frees the state. Optional (NULL). */
    void (*close)(void *state);

    const void *extension; /* NULL; reserved for a later interface */
} cfoil_adapter;

/*
 * The entry of an adapter that is a shared library of its own (cfoil_adapter_load): the one symbol such a file must
 * export. `version` is the CFOIL_ADAPTER_API of the library that asks. Answer with the table made for that version, or
 * NULL when there is none. It may be called more than once and from any thread; the table must be the same each time.
 * The file stays loaded while a context knows the table. It is unloaded afterwards, so it must start no thread and
 * leave nothing behind that refers to its code. It needs no library of ours to link with: only this header.
 */
#define CFOIL_ADAPTER_ENTRY "counterfoil_adapter_entry"
typedef const cfoil_adapter *(*cfoil_adapter_entry)(uint32_t version);
CFOIL_ADAPTER_EXPORT const cfoil_adapter *counterfoil_adapter_entry(uint32_t version);

#ifdef __cplusplus
} /* extern "C" */
#endif
#endif /* COUNTERFOIL_ADAPTER_H */
