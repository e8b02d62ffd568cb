/*
 * Event buffers: which events are new, told exactly once.
 *
 * Reading removes nothing; a counter tells how many events there were. Two rules are our own, so that no damaged, late or
 * repeated answer can invent or repeat money: an answer that would change anything counts only when the next one agrees
 * with it; and a counter that jumps, or entries that do not continue what was read before, are believed only when the
 * line has been quiet and another answer agrees.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

/* Memory, by byte: version, 1 + index of the note that was held (0 = none), MEMORY_SET or 0, four of the counter, the
 * entries. */
enum { MEMORY_VERSION = 1, MEMORY_SET = 1, MEMORY_HEAD = 7 };

static const struct described_buffer *buffer_of(const struct session *session)
{
    return &session->description->buffer;
}

static uint32_t buffer_bytes(const struct session *session)
{
    return buffer_of(session)->entry_bytes * buffer_of(session)->entries;
}

/* ---- Reading ---- */

static bool snapshot_read(const struct session *session, const struct described_message *message,
                          struct snapshot *snapshot)
{
    const struct described_buffer *buffer = buffer_of(session);
    struct described_view view = described_view_of(session, message);
    memset(snapshot, 0, sizeof *snapshot);
    if (!described_number_read(&buffer->counter.number, &view, &snapshot->counter) ||
        !described_count_valid(&buffer->counter, snapshot->counter) ||
        message->length < (uint32_t)buffer->at + buffer_bytes(session))
        return false;
    memcpy(snapshot->entries, message->bytes + buffer->at, buffer_bytes(session));
    return true;
}

/* The entry of that age; 0 is the newest. */
static const uint8_t *entry_at(const struct session *session, const struct snapshot *snapshot, uint32_t age)
{
    const struct described_buffer *buffer = buffer_of(session);
    uint32_t place = buffer->newest_first ? age : buffer->entries - 1 - age;
    return snapshot->entries + place * buffer->entry_bytes;
}

static bool same(const struct snapshot *left, const struct snapshot *right)
{
    return left->counter == right->counter && memcmp(left->entries, right->entries, sizeof left->entries) == 0;
}

/* ---- Which events are new ---- */

static uint32_t events_between(const struct session *session, const struct snapshot *before, const struct snapshot *now)
{
    return described_steps_between(&buffer_of(session)->counter, before->counter, now->counter);
}

/* Do the entries of `now` that are older than the new ones repeat those of `before`? */
static bool entries_continue(const struct session *session, const struct snapshot *before, const struct snapshot *now,
                             uint32_t count)
{
    const struct described_buffer *buffer = buffer_of(session);
    for (uint32_t age = count; age < buffer->entries; age++) {
        if (memcmp(entry_at(session, now, age), entry_at(session, before, age - count), buffer->entry_bytes) != 0)
            return false;
    }
    return true;
}

static bool is_reset(const struct session *session, const struct snapshot *now)
{
    const struct described_count *counter = &buffer_of(session)->counter;
    return counter->has_reset && now->counter == counter->reset;
}

/* Did the device come from `last` to `now` without a reset and without events that nobody read, by what the entries prove? */
static bool plain(const struct session *session, const struct snapshot *now)
{
    if (same(&session->last, now))
        return true;
    uint32_t count = events_between(session, &session->last, now);
    /* A buffer full of new ones leaves no old entry to prove it. */
    return !is_reset(session, now) && count > 0 && count < buffer_of(session)->entries &&
           entries_continue(session, &session->last, now, count);
}

/* Does the answer look as it can only look soon after a reset: no more entries than the counter counts? */
static bool looks_restarted(const struct session *session, const struct snapshot *now)
{
    static const uint8_t empty[DESCRIBED_BUFFER_MAX];
    const struct described_buffer *buffer = buffer_of(session);
    if (!buffer->counter.has_reset)
        return false;
    struct snapshot begin = {.counter = buffer->counter.reset};
    uint32_t count = events_between(session, &begin, now);
    if (count >= buffer->entries)
        return false;
    for (uint32_t age = count; age < buffer->entries; age++) {
        if (memcmp(entry_at(session, now, age), empty, buffer->entry_bytes) != 0)
            return false;
    }
    return true;
}

/* Is it an answer that the device gave before it gave `last`? */
static bool older(const struct session *session, const struct snapshot *now)
{
    uint32_t count = events_between(session, now, &session->last);
    return count > 0 && count < buffer_of(session)->entries && entries_continue(session, now, &session->last, count);
}

static void entries_take(struct session *session, const struct snapshot *now, uint32_t count)
{
    for (uint32_t age = count; age > 0; age--) { /* oldest first */
        struct described_view view = {entry_at(session, now, age - 1), buffer_of(session)->entry_bytes, 0};
        described_view_read(session, &view);
    }
}

/* Tells what happened between `last` and `now` in one life of the device. */
static void difference_take(struct session *session, const struct snapshot *now)
{
    char text[160];
    uint32_t entries = buffer_of(session)->entries;
    uint32_t count = events_between(session, &session->last, now);
    if (!entries_continue(session, &session->last, now, count)) {
        /* Nobody can say which of the entries were told already: none is told. */
        described_lost_tell(session, count, CFOIL_CONDITION_COUNTER_GAP,
                            "The device's events do not continue those read before: count the cash box against the "
                            "record.");
    } else if (count > entries) {
        snprintf(text, sizeof text,
                 "The device had %lu more events than it could keep: count the cash box against the record.",
                 (unsigned long)(count - entries));
        described_lost_tell(session, count - entries, CFOIL_CONDITION_COUNTER_GAP, text);
        entries_take(session, now, entries);
    } else {
        entries_take(session, now, count);
    }
    session->last = *now;
    described_memory_store(session);
}

void described_restart_take(struct session *session, enum base base)
{
    const struct described_buffer *buffer = buffer_of(session);
    described_condition_tell(session, CFOIL_CONDITION_RESTARTED, base == BASE_STANDS ? "settings" : "counter",
                             "The device was reset or lost power.");
    described_restart_tell(session);
    if (base == BASE_RESET)
        session->last = (struct snapshot){.counter = buffer->counter.reset};
    session->rebase = base == BASE_FOUND;
    session->set = false;
    described_memory_store(session);
}

/* An answer that is not plain, and that is no single late one. True when the device was reset. */
static bool oddity_take(struct session *session, const struct snapshot *now)
{
    bool proved = described_reset_proved(session);
    if (proved || looks_restarted(session, now)) {
        described_restart_take(session, proved && buffer_of(session)->counter.has_reset ? BASE_RESET : BASE_FOUND);
        return true;
    }
    if (older(session, now))
        described_log(session, CFOIL_LOG_WARNING, "answer_old",
                      "An old answer came again and again; it is not believed.");
    else
        difference_take(session, now);
    return false;
}

/* ---- Memory: where we stand in the device's events, for the next life of the host ---- */

void described_memory_store(const struct session *session)
{
    uint8_t bytes[MEMORY_HEAD + DESCRIBED_BUFFER_MAX];
    if (session->key[0] == '\0' || !buffer_of(session)->known)
        return;
    bytes[0] = MEMORY_VERSION;
    bytes[1] = described_held_active(session) ? (uint8_t)(session->held.note + 1) : 0;
    bytes[2] = session->set ? MEMORY_SET : 0;
    for (uint32_t i = 0; i < 4; i++)
        bytes[3 + i] = (uint8_t)(session->last.counter >> (8 * i));
    memcpy(bytes + MEMORY_HEAD, session->last.entries, buffer_bytes(session));
    session->host->memory_store(session->host->user, session->key, bytes, MEMORY_HEAD + buffer_bytes(session));
}

void described_memory_load(struct session *session)
{
    uint8_t bytes[MEMORY_HEAD + DESCRIBED_BUFFER_MAX];
    if (session->last_known || session->key[0] == '\0' || !buffer_of(session)->known)
        return;
    uint32_t length = session->host->memory_load(session->host->user, session->key, bytes, sizeof bytes);
    if (length != MEMORY_HEAD + buffer_bytes(session) || bytes[0] != MEMORY_VERSION ||
        bytes[1] > session->description->note_count)
        return;
    struct snapshot stored = {.counter = 0};
    for (uint32_t i = 4; i > 0; i--)
        stored.counter = stored.counter << 8 | bytes[2 + i];
    if (!described_count_valid(&buffer_of(session)->counter, stored.counter))
        return; /* of another description with the same id */
    memcpy(stored.entries, bytes + MEMORY_HEAD, buffer_bytes(session));
    session->last_known = true;
    session->set = bytes[2] == MEMORY_SET;
    session->last = stored;
    described_held_end(session);
    if (bytes[1] != 0) {
        session->held.state = HELD_EARLIER; /* its outcome is among the events, or nobody knows it */
        session->held.note = bytes[1] - 1;
    }
}

static void recover_known(struct session *session, const struct snapshot *start)
{
    session->away = true;
    bool is_plain = plain(session, start);
    if (is_plain && described_reset_proved(session))
        described_restart_take(session, BASE_STANDS);
    if (is_plain || (oddity_take(session, start) && !session->rebase))
        difference_take(session, start);
    if (session->held.state == HELD_EARLIER)
        described_outcome_unknown_tell(session); /* held when the host ended, and no event tells what became of it */
    session->away = false;
}

static void doubt_end(struct session *session)
{
    session->doubt = DOUBT_NONE;
    session->candidate_known = false;
    session->rereads = 0;
}

static void buffer_recover(struct session *session)
{
    struct snapshot start = session->candidate;
    session->based = true; /* here the counter tells what is news */
    described_memory_load(session);
    if (session->last_known && !session->rebase)
        recover_known(session, &start);
    if (!session->last_known || session->rebase)
        session->last = start; /* nothing in its buffer is known to be new */
    session->last_known = true;
    session->rebase = false;
    doubt_end(session);
    described_memory_store(session);
}

/* ---- Answers to polls ---- */

/* Is `now` what a device that answered `before` a moment ago may answer? */
static bool agrees(const struct session *session, const struct snapshot *before, const struct snapshot *now)
{
    if (is_reset(session, now) && !is_reset(session, before))
        return false;
    uint32_t count = events_between(session, before, now);
    return count < buffer_of(session)->entries && entries_continue(session, before, now, count);
}

/* Two answers agree: what they tell is true, unless it is so odd that it needs another look. */
static void snapshot_take(struct session *session, const struct snapshot *now)
{
    bool watches = session->set && session->description->watch.send.length > 0;
    if (!plain(session, now) && session->doubt != DOUBT_READ) {
        session->candidate = *now;
        session->doubt = watches ? DOUBT_WATCH : DOUBT_READ;
        session->exchange.earliest_us = session->now_us + QUIET_US; /* no late answer comes after that */
        return;
    }
    if (plain(session, now))
        difference_take(session, now);
    else if (oddity_take(session, now))
        described_startup_begin(session); /* its events are told when it is known again */
    doubt_end(session);
}

/* While starting up: the same twice is where the device stands. */
static void start_take(struct session *session, const struct snapshot *now)
{
    bool agreed = session->candidate_known && same(&session->candidate, now);
    session->candidate = *now;
    session->candidate_known = true;
    if (!agreed)
        return;
    buffer_recover(session);
    described_configure_begin(session);
}

void described_buffer_answer(struct session *session)
{
    struct snapshot now;
    if (!snapshot_read(session, &session->exchange.answer, &now)) {
        described_noise_count(session); /* a counter that the device cannot have */
        return;
    }
    if (session->stage == STAGE_COUNTER) {
        start_take(session, &now);
        return;
    }
    if (same(&now, &session->last)) {
        doubt_end(session);
        return;
    }
    if (session->candidate_known && agrees(session, &session->candidate, &now)) {
        session->rereads = 0;
        snapshot_take(session, &now);
        return;
    }
    session->doubt = DOUBT_NONE;
    session->candidate = now;
    session->candidate_known = true;
    session->rereads++;
    if (session->rereads > REREADS)
        doubt_end(session); /* answers that never agree: noise; go on at the usual pace */
}
