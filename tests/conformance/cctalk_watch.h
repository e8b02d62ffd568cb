/*
 * The event buffer (159) as a stream of events, and notes that are asked for.
 */
#ifndef CONFORMANCE_CCTALK_WATCH_H
#define CONFORMANCE_CCTALK_WATCH_H

#include "cctalk_client.h"

enum { PAIRS = 5 };

struct snapshot {
    uint8_t counter;
    uint8_t pairs[PAIRS][2]; /* newest first */
};

struct bill_event {
    uint8_t a;
    uint8_t b;
};

struct watch {
    struct client *client;
    struct snapshot last;
    struct bill_event waiting[PAIRS]; /* read, not yet looked at */
    uint32_t waiting_count;
    bool wrapped;       /* the counter went past 255 */
    bool to_zero;       /* the counter became 0 without a reset of ours */
    bool jumped;        /* more than five events at once */
    const char *broken; /* the buffer breaks a rule: nothing more can be concluded from it */
    uint32_t credits;
};

/* What a note may come to. */
enum wish { WISH_ANY, WISH_HELD, WISH_GOOD, WISH_REFUSED };

/* One answer to 159. False = the case is skipped: there is no such answer. */
bool snapshot_read(struct client *client, struct snapshot *snapshot);
/* Begins at what the buffer holds now. */
bool watch_begin(struct client *client, struct watch *watch);
/* The next event, oldest first. False = none until then, or the buffer is broken. */
bool watch_next(struct watch *watch, uint64_t until_us, struct bill_event *event);

/* Stacker 1, escrow 2; all types on; master on. False = skipped. */
bool notes_enable(struct client *client, uint8_t mode);
/* Asks for a note and waits for the event it should make; others pass by. False = skipped. */
bool note_await(struct watch *watch, enum wish wish, const char *text, struct bill_event *event);
/* Asks for notes until one is held; enables escrow. False = skipped. */
bool note_hold(struct trial *trial, struct client *client, struct watch *watch, struct bill_event *event);

bool is_held(struct bill_event event);
bool is_credit(struct bill_event event);
bool is_refused(struct bill_event event);

#endif
