/* Which bytes wait for their time? A queue of chunks in the order of time, sent when due. */
#ifndef SIMULATOR_OUTBOX_H
#define SIMULATOR_OUTBOX_H

#include "fault.h"

enum { CHUNK_BYTES = 1024, CHUNKS = 32 };

/* The last chunk of an answer carries what it tells the host. */
struct chunk {
    int64_t due_ms;
    size_t length, sent;
    int command; /* that it answers, -1: none */
    bool intact;
    uint64_t events; /* made by the device until then */
    uint8_t bytes[CHUNK_BYTES];
};

struct outbox {
    struct chunk chunks[CHUNKS];
    size_t count;
    void (*sent)(void *user, const struct chunk *chunk); /* a chunk has gone out whole; may be NULL */
    void *user;
};

/* NULL: full, or nothing to send. */
struct chunk *outbox_add(struct outbox *outbox, int64_t due_ms, const uint8_t *bytes, size_t length);
/* Adds an answer as one chunk, or as two with the pause between; it does not overtake what waits. Gives the last. */
struct chunk *outbox_answer(struct outbox *outbox, const struct outgoing *out, int64_t now_ms);
void outbox_clear(struct outbox *outbox);
/* Sends what is due; false if the client is gone. *sent: whether anything went out. */
bool outbox_send(struct outbox *outbox, int descriptor, bool *sent, int64_t now_ms);
/* The same without a client: the bytes are lost. */
void outbox_spill(struct outbox *outbox, int64_t now_ms);
int64_t outbox_deadline(const struct outbox *outbox);

#endif
