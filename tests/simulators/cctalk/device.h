/* What does the simulated note validator do with notes and commands? Time comes in as a number; no I/O here. */
#ifndef SIMULATOR_DEVICE_H
#define SIMULATOR_DEVICE_H

#include "language.h"

#include "common/note.h"
#include "common/truth.h"

#include <stdint.h>

enum { BUFFER_EVENTS = 5, DATA_MOST = 252 };

/* Reply headers of the standard; silence is ours. */
enum { REPLY_SILENT = -1, REPLY_ACK = 0, REPLY_NAK = 5, REPLY_BUSY = 6 };

/* The note inserted last, or another one that the log speaks of. */
struct note {
    long number, type;
    const char *id;
};

struct device {
    const struct settings *settings;
    const struct truth *truth;
    int64_t quiet_until_ms; /* off, starting, or told to be silent */
    int64_t off_until_ms;   /* off or starting */
    uint8_t masks[2], master, mode;
    uint8_t counter, pairs[BUFFER_EVENTS][2];
    uint64_t events_made, events_read; /* since the program began; resets do not touch them */
    long inserted, accepted, rejected, frauds;
    long accepted_by_type[SCRIPT_TYPES + 1], errors[256];
    uint8_t timeouts, ignored, bad_checksums; /* header 2 */
    enum path path;
    int64_t path_due_ms, escrow_due_ms, last_poll_ms;
    struct note note, stuck; /* inserted last; jammed last */
    enum way way;
    enum outcome outcome; /* of the note inserted last */
    int fault, fault_extra;
    bool self_inhibited, was_accepting;
    long route_failures;
};

struct request {
    uint8_t header;
    const uint8_t *data;
    size_t length;
};

struct reply {
    int header;
    uint8_t data[DATA_MOST];
    size_t length;
};

void device_start(struct device *device, const struct settings *settings, const struct truth *truth, int64_t now_ms);
/* Lets time pass: notes move, the escrow times out, the poll watchdog bites. */
void device_advance(struct device *device, int64_t now_ms);
/* When device_advance is needed next, or INT64_MAX. */
int64_t device_deadline(const struct device *device);
bool device_accepting(const struct device *device, int64_t now_ms);

void device_insert(struct device *device, long type, enum way way, int64_t now_ms);
void device_event(struct device *device, int a, int b, int64_t now_ms);
void device_pull(struct device *device, int64_t now_ms);
void device_jam(struct device *device, enum jam jam, int64_t now_ms);
void device_clear(struct device *device, int64_t now_ms);
void device_stacker(struct device *device, enum stacker stacker, int64_t now_ms);
void device_restart(struct device *device, long off_ms, const char *why, int64_t now_ms);
void device_return(struct device *device, int64_t now_ms);
void device_stack(struct device *device, int64_t now_ms);

/* commands.c: carries the command out and fills the reply. */
void device_answer(struct device *device, const struct request *request, struct reply *reply, int64_t now_ms);

#endif
