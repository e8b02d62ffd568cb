/* What must a simulated thing be able to do, so that a script can drive it and a socket can reach it? */
#ifndef SIMULATOR_ACTOR_H
#define SIMULATOR_ACTOR_H

#include "note.h"
#include "outbox.h"
#include "script.h"
#include "truth.h"

struct actor {
    void *self;
    struct outbox *outbox;
    struct faults *faults;
    const struct truth *truth;
    /* Lets time pass. */
    void (*advance)(void *self, int64_t now_ms);
    /* When that is needed next, or INT64_MAX. */
    int64_t (*deadline)(void *self, int64_t now_ms);
    void (*note_state)(void *self, struct note_state *state, int64_t now_ms);
    /* How often this has happened: WAIT_POLLS, WAIT_REQUEST, WAIT_ANSWERED. */
    long (*count)(void *self, enum wait wait, long command);
    /* Its own conditions; may be NULL if it has none. */
    bool (*reached)(void *self, enum wait wait);
    /* Every action but those of the connection, faults and repetition. */
    void (*act)(void *self, const struct statement *statement, int64_t now_ms);
    /* Takes the bytes a client sent, up to the end of one message, and queues the answer; gives how many it took. */
    size_t (*receive)(void *self, const uint8_t *bytes, size_t count, int64_t now_ms);
    /* The client has gone: forgets half-received and half-sent bytes. */
    void (*disconnect)(void *self);
    /* A client is there; NULL: the device waits to be asked. */
    void (*connect)(void *self, int64_t now_ms);
};

#endif
