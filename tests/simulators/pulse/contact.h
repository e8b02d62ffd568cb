/* When does the contact of the simulated device close and open? Notes, pulses and their faults; no I/O here. */
#ifndef SIMULATOR_PULSE_CONTACT_H
#define SIMULATOR_PULSE_CONTACT_H

#include "language.h"

#include "common/note.h"
#include "common/outbox.h"
#include "common/truth.h"

enum { EDGES = 4096 };

struct edge {
    int64_t due_ms;
    bool closed;
};

struct contact {
    const struct settings *settings;
    const struct truth *truth;
    struct outbox outbox;
    struct faults faults;
    struct edge edges[EDGES]; /* still to come, in order of time */
    size_t edge_count, edge_next;
    int64_t busy_until_ms; /* the last pulse and the rest after it */
    int64_t off_until_ms, mute_until_ms;
    bool closed;      /* now */
    bool told_wanted; /* what is told has changed while nothing could be told */
    uint8_t others;   /* the input lines that are not the contact's */
    uint8_t outputs;  /* as the client set them */
    long heard;       /* output states */
    bool was_accepting;
    enum path path;
    enum outcome outcome;
    int64_t path_due_ms;
    long number, type, good; /* of the note inserted last; pulses it put on the line */
};

void contact_start(struct contact *contact, const struct settings *settings, const struct truth *truth);
void contact_advance(struct contact *contact, int64_t now_ms);
int64_t contact_deadline(const struct contact *contact, int64_t now_ms);
bool contact_accepting(const struct contact *contact, int64_t now_ms);
/* Puts the present state of the input lines into the outbox. */
void contact_tell(struct contact *contact, int64_t now_ms);

void contact_insert(struct contact *contact, long type, enum way way, int64_t now_ms);
/* Pulses without a note. */
void contact_pulse(struct contact *contact, long pulses, int64_t now_ms);
void contact_set(struct contact *contact, bool closed, int64_t now_ms);
void contact_other(struct contact *contact, long line, bool on, int64_t now_ms);
void contact_power_off(struct contact *contact, long off_ms, int64_t now_ms);
void contact_outputs(struct contact *contact, uint8_t outputs, int64_t now_ms);

#endif
