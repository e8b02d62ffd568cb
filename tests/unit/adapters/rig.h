/*
 * The bench for the ccTalk adapter: a virtual clock, a line at 9600 baud, a host that records, and the contract of
 * cfoil_adapter.step asserted at each call. Tests include rig.c.
 */
#ifndef RIG_H
#define RIG_H

#include "fake_validator.h"
#include "test.h"

enum { RIG_EVENTS = 8192, RIG_STATES = 4096, RIG_SENT = 65536, RIG_LINE = 8192, RIG_MEMORIES = 4, RIG_LOGS = 32 };

enum rig_chunks { CHUNKS_WHOLE, CHUNKS_BYTES, CHUNKS_RANDOM };
enum rig_policy { POLICY_NONE, POLICY_STACK, POLICY_RETURN, POLICY_MIXED };

struct rig_event {
    uint64_t at_us;
    cfoil_adapter_event event;
};

struct rig_state {
    uint64_t at_us;
    int32_t state;
    int32_t result;
    char text[160];
};

struct rig_sent {
    uint64_t at_us;
    uint8_t header;
    uint8_t address;
    uint8_t length;
    uint8_t data[2];
};

struct rig_byte {
    uint64_t at_us;
    uint8_t byte;
    bool end;  /* of what was sent in one go */
    bool echo; /* the host's own */
};

struct rig_memory {
    char device[64];
    uint32_t length;
    uint8_t bytes[64];
};

struct rig {
    struct fake fake;
    const cfoil_adapter *adapter;
    void *state;
    cfoil_adapter_host host;
    uint64_t now_us;
    uint64_t deadline_us;
    uint64_t answer_us; /* what the adapter waits for quick answers */
    enum rig_chunks chunks;
    bool echo;
    bool cut;   /* nothing passes in either direction */
    bool loose; /* faults on the line: the rules about gaps are not asserted */
    uint64_t seed;
    bool quit_sent;

    /* The line to the host. */
    uint32_t line_first;
    uint32_t line_count;
    struct rig_byte line[RIG_LINE];
    uint64_t line_free_us;

    /* The request on its way to the device. */
    uint64_t request_us; /* its last bit arrives; UINT64_MAX = none */
    uint32_t request_length;
    uint8_t request[FAKE_FRAME];

    /* What the host does by itself with held notes. */
    enum rig_policy policy;
    uint64_t decide_after_us;
    uint64_t decide_us;

    /* What was seen. */
    uint32_t event_count;
    struct rig_event events[RIG_EVENTS];
    uint32_t state_count;
    struct rig_state states[RIG_STATES];
    uint32_t sent_count;
    struct rig_sent sent[RIG_SENT];
    uint32_t log_count;
    char logs[RIG_LOGS][48];
    struct rig_memory memories[RIG_MEMORIES];
    uint32_t sends_in_step;
    uint32_t steps_now; /* at this instant */
    uint64_t step_us;
    uint64_t byte_us; /* the last byte delivered that was not an echo */
    bool answered;    /* since the last request */
    uint64_t polled_us;
    uint64_t poll_gap_us; /* the longest between two 159 while the device is ready */
    bool gap_counts;
};

/* One rig for a test: begin, change what the fake is, start. */
struct rig *rig_begin(void);
void rig_end(struct rig *rig);
int32_t rig_open(struct rig *rig, int32_t accept, const char *settings, char *error); /* "key=value;key=value" */
void rig_start(struct rig *rig, int32_t accept, const char *settings);                /* opens, must work */
void rig_ready(struct rig *rig, int32_t accept);   /* opens and runs until it is IDLE or ACCEPTING */
void rig_restart(struct rig *rig, int32_t accept); /* another life of the host; the memory is kept, what was seen too */
void rig_run(struct rig *rig, uint32_t ms);
bool rig_run_until_state(struct rig *rig, int32_t state, uint32_t limit_ms);
bool rig_run_until_event(struct rig *rig, int32_t kind, uint32_t limit_ms); /* a new one */
int32_t rig_command(struct rig *rig, int32_t command, int32_t argument);
void rig_bytes(struct rig *rig, const uint8_t *bytes, uint32_t length); /* onto the line, now */

uint32_t rig_random(struct rig *rig, uint32_t below);
int32_t rig_lane_state(const struct rig *rig);
uint32_t rig_count(const struct rig *rig, int32_t kind);
uint32_t rig_conditions(const struct rig *rig, int32_t condition);
uint32_t rig_requests(const struct rig *rig, uint8_t header, int32_t first); /* first data byte, -1 = any */
uint32_t rig_logged(const struct rig *rig, const char *key);
const cfoil_adapter_event *rig_last(const struct rig *rig, int32_t kind);
void rig_forget(struct rig *rig); /* what was seen so far */
void rig_dump(const struct rig *rig);

/* Every STACKED event is a note the fake truly stacked, in that order; returns how many are missing. */
uint32_t rig_stacked_check(const struct rig *rig);

#endif
