/* What does the validator with status bits do with notes, and what do its three status bytes say? No I/O here. */
#ifndef SIMULATOR_BITS_VALIDATOR_H
#define SIMULATOR_BITS_VALIDATOR_H

#include "language.h"

#include "common/note.h"
#include "common/truth.h"

#include <stdint.h>

enum { EVENTS_QUEUED = 16, STATUS_BYTES = 3 };

/* Something that one answer tells: a bit of the second status byte, and what the third says with it. */
struct happening {
    uint8_t bit, detail;
};

struct validator {
    const struct settings *settings;
    const struct truth *truth;
    struct happening queue[EVENTS_QUEUED];
    int queued;
    bool shown, start_shown; /* the first of the queue, the start: in the answer that the host has not confirmed */
    bool enabled, was_accepting, started; /* started: not told yet */
    uint8_t faults, tampering;            /* bits of the second status byte */
    uint8_t extra[2];                     /* bits that the script sets */
    enum path path;
    enum outcome outcome;
    enum way way;
    long number, type; /* of the note inserted last */
    int64_t path_due_ms, quiet_until_ms, off_until_ms;
};

void validator_start(struct validator *validator, const struct settings *settings, const struct truth *truth);
void validator_advance(struct validator *validator, int64_t now_ms);
int64_t validator_deadline(const struct validator *validator);
bool validator_accepting(const struct validator *validator, int64_t now_ms);

void validator_insert(struct validator *validator, long type, enum way way, int64_t now_ms);
void validator_jam(struct validator *validator, int64_t now_ms);
void validator_stacker(struct validator *validator, long stacker, int64_t now_ms);
void validator_tampering(struct validator *validator, int64_t now_ms);
void validator_clear(struct validator *validator, int64_t now_ms);
void validator_restart(struct validator *validator, long off_ms, int64_t now_ms);
void validator_silence(struct validator *validator, long ms, int64_t now_ms);

/* The host asks: what it was told before is confirmed, then its wishes are carried out. */
void validator_confirm(struct validator *validator);
void validator_forget(struct validator *validator);
void validator_control(struct validator *validator, uint8_t control, int64_t now_ms);
/* The status of a new answer. */
void validator_status(struct validator *validator, uint8_t status[STATUS_BYTES], int64_t now_ms);

#endif
