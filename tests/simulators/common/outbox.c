/* Which bytes wait for their time? Keeps them in order and hands them to the socket. */
#include "outbox.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>

#ifndef MSG_NOSIGNAL
#define MSG_NOSIGNAL 0 /* where it is missing, the socket option SO_NOSIGPIPE does the same */
#endif

struct chunk *outbox_add(struct outbox *outbox, int64_t due_ms, const uint8_t *bytes, size_t length)
{
    if (outbox->count == CHUNKS || length == 0)
        return NULL;
    size_t place = outbox->count++;
    for (; place > 0 && outbox->chunks[place - 1].due_ms > due_ms && outbox->chunks[place - 1].sent == 0; place--)
        outbox->chunks[place] = outbox->chunks[place - 1];
    struct chunk *chunk = &outbox->chunks[place];
    *chunk = (struct chunk){.due_ms = due_ms, .length = length, .command = -1};
    memcpy(chunk->bytes, bytes, length);
    return chunk;
}

/* Answers never overtake each other. */
static int64_t answer_due(const struct outbox *outbox, int64_t now_ms, long delay_ms)
{
    int64_t due = now_ms + delay_ms;
    for (size_t i = 0; i < outbox->count; i++) {
        if (outbox->chunks[i].due_ms > due)
            due = outbox->chunks[i].due_ms;
    }
    return due;
}

struct chunk *outbox_answer(struct outbox *outbox, const struct outgoing *out, int64_t now_ms)
{
    uint8_t bytes[OUTGOING_UNITS];
    for (size_t i = 0; i < out->length; i++)
        bytes[i] = (uint8_t)out->units[i];
    int64_t due = answer_due(outbox, now_ms, out->delay_ms);
    size_t first = out->split > 0 && out->split < out->length ? out->split : out->length;
    struct chunk *last = outbox_add(outbox, due, bytes, first);
    if (first < out->length)
        last = outbox_add(outbox, due + out->pause_ms, bytes + first, out->length - first);
    return last;
}

void outbox_clear(struct outbox *outbox)
{
    outbox->count = 0;
}

static void chunk_remove(struct outbox *outbox)
{
    outbox->count--;
    memmove(&outbox->chunks[0], &outbox->chunks[1], outbox->count * sizeof outbox->chunks[0]);
}

bool outbox_send(struct outbox *outbox, int descriptor, bool *sent, int64_t now_ms)
{
    while (outbox->count > 0 && outbox->chunks[0].due_ms <= now_ms) {
        struct chunk *chunk = &outbox->chunks[0];
        ssize_t count = send(descriptor, chunk->bytes + chunk->sent, chunk->length - chunk->sent, MSG_NOSIGNAL);
        if (count < 0)
            return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
        *sent = true;
        chunk->sent += (size_t)count;
        if (chunk->sent < chunk->length)
            continue;
        if (outbox->sent != NULL)
            outbox->sent(outbox->user, chunk);
        chunk_remove(outbox);
    }
    return true;
}

void outbox_spill(struct outbox *outbox, int64_t now_ms)
{
    while (outbox->count > 0 && outbox->chunks[0].due_ms <= now_ms)
        chunk_remove(outbox);
}

int64_t outbox_deadline(const struct outbox *outbox)
{
    return outbox->count > 0 ? outbox->chunks[0].due_ms : INT64_MAX;
}
