/*
 * What the next life of the host must know of this device: the counts that the record accounts for, the notes that were
 * said to be stacked and are not told yet, and the note in escrow.
 */
#include "session.h"

#include <string.h>

enum {
    VERSION = 1,
    PLACE_FLAGS = 1,
    PLACE_BASES = 2,
    PLACE_HELD = 6,
    PLACE_SHIFTS = 7,
    PLACE_DOUBTS = 9,
    PLACE_LAST = 11, /* length, then the routed bytes of the last POLL answer, if it may come again */
    PLACE_COUNT = PLACE_LAST + 1 + LENGTH_POLL_MAX,
    PLACE_CLAIMS
};
enum { FLAG_STACKER = 1, FLAG_RECYCLER = 2, FLAG_HELD = 4, FLAG_PERMIT = 8, FLAG_FREE = 16 };

_Static_assert(PLACE_CLAIMS + CLAIMS_MAX <= 64, "memory_store takes 64 bytes");

static uint8_t flags_make(const struct session *session)
{
    uint8_t flags = 0;
    if (session->counters[COUNTER_STACKER].known)
        flags |= FLAG_STACKER;
    if (session->counters[COUNTER_RECYCLER].known)
        flags |= FLAG_RECYCLER;
    if (session->held.state != HELD_NONE)
        flags |= FLAG_HELD;
    if (session->held.permit)
        flags |= FLAG_PERMIT;
    if (session->now_us < session->free_us)
        flags |= FLAG_FREE;
    return flags;
}

void mdb_memory_keep(struct session *session)
{
    uint8_t bytes[sizeof session->stored] = {VERSION};
    if (session->key[0] == '\0' || !session->recovered)
        return; /* nothing of this device has been compared yet */
    bytes[PLACE_FLAGS] = flags_make(session);
    for (uint32_t i = 0; i < COUNTERS; i++) {
        const struct counter *counter = &session->counters[i];
        bytes[PLACE_BASES + 2 * i] = (uint8_t)(counter->base >> 8);
        bytes[PLACE_BASES + 2 * i + 1] = (uint8_t)(counter->base & 0xFF);
        bytes[PLACE_SHIFTS + i] = (uint8_t)counter->shifts;
        bytes[PLACE_DOUBTS + i] = counter->doubts;
    }
    bytes[PLACE_HELD] = session->held.type;
    bytes[PLACE_LAST] = (uint8_t)session->last_length;
    memcpy(bytes + PLACE_LAST + 1, session->last, session->last_length);
    bytes[PLACE_COUNT] = (uint8_t)session->claim_count;
    memcpy(bytes + PLACE_CLAIMS, session->claims, session->claim_count);
    uint32_t length = PLACE_CLAIMS + session->claim_count;
    if (length == session->stored_length && memcmp(bytes, session->stored, length) == 0)
        return;
    memcpy(session->stored, bytes, length);
    session->stored_length = length;
    session->host->memory_store(session->host->user, session->key, bytes, length);
}

/* What POLL told before we knew the device belongs to the ESCROW command of the life before, if there was one, and may be
 * what that life heard last. */
static void claims_match(struct session *session, uint8_t flags, const uint8_t *last, uint32_t last_length)
{
    struct held *held = &session->held;
    for (uint32_t i = 0; i < session->claim_count; i++) {
        uint8_t *claim = &session->claims[i];
        uint8_t byte = (uint8_t)(((*claim & CLAIM_RECYCLER) != 0 ? 0xB0 : 0x80) | (*claim & CLAIM_TYPE));
        if (last_length > 0 && memchr(last, byte, last_length) != NULL) {
            *claim |= CLAIM_REPEAT;
            continue;
        }
        if ((flags & FLAG_FREE) != 0)
            *claim |= CLAIM_FREE;
        if (held->permit && (*claim & CLAIM_TYPE) == held->type) {
            *claim |= CLAIM_PAIRED;
            held->permit = false;
            held->state = HELD_NONE;
        }
    }
}

static void claims_prepend(struct session *session, const uint8_t *claims, uint32_t count)
{
    uint32_t room = CLAIMS_MAX - session->claim_count;
    uint32_t taken = count < room ? count : room;
    memmove(session->claims + taken, session->claims, session->claim_count);
    memcpy(session->claims, claims, taken);
    session->claim_count += taken;
}

void mdb_memory_load(struct session *session)
{
    uint8_t bytes[sizeof session->stored];
    if (session->key[0] == '\0')
        return;
    uint32_t length = session->host->memory_load(session->host->user, session->key, bytes, sizeof bytes);
    if (length < PLACE_CLAIMS || length > sizeof bytes || bytes[0] != VERSION || bytes[PLACE_COUNT] > CLAIMS_MAX ||
        bytes[PLACE_LAST] > LENGTH_POLL_MAX || length != (uint32_t)PLACE_CLAIMS + bytes[PLACE_COUNT])
        return;
    uint8_t flags = bytes[PLACE_FLAGS];
    session->counters[COUNTER_STACKER].known = (flags & FLAG_STACKER) != 0;
    session->counters[COUNTER_RECYCLER].known = (flags & FLAG_RECYCLER) != 0;
    for (uint32_t i = 0; i < COUNTERS; i++) {
        struct counter *counter = &session->counters[i];
        counter->base = (uint32_t)bytes[PLACE_BASES + 2 * i] << 8 | bytes[PLACE_BASES + 2 * i + 1];
        counter->shifts += (int8_t)bytes[PLACE_SHIFTS + i];
        counter->doubts = bytes[PLACE_DOUBTS + i];
    }
    if ((flags & FLAG_HELD) != 0) {
        session->held.state = HELD_DOUBTFUL; /* its outcome is among the claims, or nobody knows it */
        session->held.type = bytes[PLACE_HELD] & CLAIM_TYPE;
        session->held.permit = (flags & FLAG_PERMIT) != 0;
    }
    claims_match(session, flags, bytes + PLACE_LAST + 1, bytes[PLACE_LAST]);
    claims_prepend(session, bytes + PLACE_CLAIMS, bytes[PLACE_COUNT]);
    memcpy(session->stored, bytes, length);
    session->stored_length = length;
}
