/*
 * What a POLL answer says: each byte becomes an event, a claim of a stacked note, or a status that comes and goes.
 *
 * An answer whose ACK was lost comes again at the next POLL, with what happened since behind it. So an answer that
 * begins with all of the last one may be that one: what it says of money is checked against the count (claims.c), the
 * rest is taken as said already.
 */
#include "codes.h"
#include "session.h"

#include <stdio.h>
#include <string.h>

/* ---- Telling ---- */

void mdb_event_tell(const struct session *session, cfoil_adapter_event *event)
{
    if (session->away)
        event->flags |= CFOIL_EVENT_WHILE_AWAY;
    session->host->event(session->host->user, event);
}

void mdb_raw_put(cfoil_adapter_event *event, uint8_t byte)
{
    event->raw_length = 1;
    event->raw[0] = byte;
    snprintf(event->raw_text, sizeof event->raw_text, "poll %02X", byte);
}

/* The device counts its types from 0; in an event 0 means 'no type', so they are counted from 1 there. */
void mdb_note_put(const struct session *session, cfoil_adapter_event *event, uint8_t type)
{
    const struct mdb_note *note = &session->setup.notes[type];
    event->note_type = type + 1;
    snprintf(event->note_name, sizeof event->note_name, "type %u", type);
    if (!note->valued)
        return;
    event->value_minor = note->value_minor;
    memcpy(event->currency, session->setup.currency, sizeof event->currency);
}

static void condition_put(cfoil_adapter_event *event, int32_t condition)
{
    event->kind = CFOIL_KIND_DEVICE;
    event->condition = condition;
    if (condition == CFOIL_CONDITION_IDENTIFIED || condition == CFOIL_CONDITION_NONE)
        return;
    event->reason = CFOIL_REASON_DEVICE;
    event->reasons_possible = 1u << CFOIL_REASON_DEVICE;
}

void mdb_condition_tell(const struct session *session, int32_t condition, const char *raw_text, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    condition_put(&event, condition);
    snprintf(event.raw_text, sizeof event.raw_text, "%s", raw_text);
    snprintf(event.text, sizeof event.text, "%s", text);
    mdb_event_tell(session, &event);
}

void mdb_outcome_unknown_tell(const struct session *session, uint8_t type)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    condition_put(&event, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    mdb_note_put(session, &event, type);
    snprintf(event.text, sizeof event.text, "What became of the held note is not known: look for it, count by hand.");
    mdb_event_tell(session, &event);
}

/* ---- The note in escrow ---- */

void mdb_held_doubt(struct session *session)
{
    struct held *held = &session->held;
    if (held->state == HELD_NONE || held->state == HELD_DOUBTFUL)
        return;
    mdb_outcome_unknown_tell(session, held->type);
    held->state = HELD_DOUBTFUL;
    held->escrow_us = UINT64_MAX;
    held->outcome_us = UINT64_MAX;
}

/* Tells the note in escrow and what becomes of it. */
static void held_tell(struct session *session)
{
    struct held *held = &session->held;
    bool valued = session->setup.notes[held->type].valued;
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    mdb_raw_put(&event, (uint8_t)(0x90 | held->type));
    mdb_note_put(session, &event, held->type);
    event.kind = valued ? CFOIL_KIND_HELD : CFOIL_KIND_DEVICE;
    event.condition = valued ? CFOIL_CONDITION_NONE : CFOIL_CONDITION_UNKNOWN_CODE;
    snprintf(event.text, sizeof event.text, "%s",
             valued ? "A note is held; no money yet." : "A note of a type without a value is held; it goes back.");
    mdb_event_tell(session, &event);
    held->state = HELD_WAITING;
    held->until_us = session->now_us + session->settings.hold_us;
    bool all = session->accept_wanted == CFOIL_ACCEPT_ALL;
    if (valued && !all)
        return; /* the host decides */
    held->state = valued && mdb_accept_effective(session) == CFOIL_ACCEPT_ALL ? HELD_STACKING : HELD_RETURNING;
    held->escrow_us = session->now_us;
}

void mdb_held_later_tell(struct session *session)
{
    if (session->held.state == HELD_LATER)
        held_tell(session);
}

static void escrow_take(struct session *session, uint8_t type)
{
    struct held *held = &session->held;
    bool live = held->state != HELD_NONE && held->state != HELD_DOUBTFUL;
    if (live && held->type == type)
        return; /* said again */
    mdb_held_doubt(session);
    *held = (struct held){.type = type, .escrow_us = UINT64_MAX, .outcome_us = UINT64_MAX, .tries_left = ESCROW_TRIES};
    if (session->stage != STAGE_RUN && !session->resumable) {
        held->state = HELD_DOUBTFUL; /* start-up resets the device: told when that is over */
        return;
    }
    held->state = HELD_LATER;
    if (session->claim_count == 0)
        held_tell(session); /* else the note before it comes first */
}

static void returned_take(struct session *session, uint8_t type, const struct mdb_route_code *code)
{
    struct held *held = &session->held;
    if (held->type != type)
        mdb_held_doubt(session); /* another note than the one that was held */
    *held = (struct held){.escrow_us = UINT64_MAX, .outcome_us = UINT64_MAX};
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = code->kind;
    mdb_raw_put(&event, (uint8_t)(0xA0 | type));
    mdb_note_put(session, &event, type);
    snprintf(event.text, sizeof event.text, "%s", code->text);
    mdb_event_tell(session, &event);
}

/* ---- Bytes of an answer ---- */

static void rejected_take(struct session *session, uint8_t byte, const struct mdb_route_code *code)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = code->kind;
    event.reason = code->reason;
    event.reasons_possible = code->reasons_possible;
    mdb_raw_put(&event, byte);
    mdb_note_put(session, &event, byte & 0x0F);
    snprintf(event.text, sizeof event.text, "%s", code->text);
    mdb_event_tell(session, &event);
}

static void routed_take(struct session *session, uint8_t byte, bool repeat)
{
    const struct mdb_route_code *code = mdb_route_find(byte);
    uint8_t type = byte & 0x0F;
    bool money = code->route == MDB_ROUTE_STACKED || code->route == MDB_ROUTE_RECYCLER;
    if (money) {
        mdb_claim_add(session, type, code->route == MDB_ROUTE_RECYCLER, repeat);
        return;
    }
    if (repeat && session->now_us - session->last_us < REPEAT_US)
        return;
    switch (code->route) {
    case MDB_ROUTE_ESCROW:
        escrow_take(session, type);
        break;
    case MDB_ROUTE_RETURNED:
        returned_take(session, type, code);
        break;
    case MDB_ROUTE_REJECTED:
        rejected_take(session, byte, code);
        break;
    default:
        say_log(session->host, CFOIL_LOG_NOTICE, "note_moved", "%s (poll %02X)", code->text, byte);
        mdb_shift_add(session, byte);
        break;
    }
}

static void attempts_take(struct session *session, uint8_t byte)
{
    uint8_t count = byte & 0x1F;
    if (count == 0 || (byte == session->attempts && session->now_us - session->attempts_us < REPEAT_US))
        return;
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.reason = CFOIL_REASON_NOT_ENABLED;
    event.reasons_possible = 1u << CFOIL_REASON_NOT_ENABLED;
    mdb_raw_put(&event, byte);
    snprintf(event.text, sizeof event.text, "Not taken: the validator was told to take no notes (%u tried).", count);
    mdb_event_tell(session, &event);
}

static void status_tell(struct session *session, uint8_t byte, const struct mdb_status_code *code)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    mdb_raw_put(&event, byte);
    if (code->kind == CFOIL_KIND_NONE) {
        say_log(session->host, CFOIL_LOG_DEBUG, "status", "%s (%s)", code->text, event.raw_text);
        return;
    }
    event.kind = code->kind;
    event.reason = code->reason;
    event.reasons_possible = code->reasons_possible;
    event.condition = code->condition;
    if (code->kind == CFOIL_KIND_REJECTED) {
        event.finding_count = 1;
        event.findings[0].channel = CFOIL_CHANNEL_UNKNOWN;
        event.findings[0].strength = CFOIL_STRENGTH_WEAK;
        event.findings[0].origin = CFOIL_ORIGIN_DEVICE;
    }
    snprintf(event.text, sizeof event.text, "%s", code->text);
    mdb_event_tell(session, &event);
    if (code->effect == MDB_EFFECT_UNKNOWN)
        say_log(session->host, CFOIL_LOG_WARNING, "code_unknown", "Unknown status %s; nothing is credited.",
                event.raw_text);
}

static void block_notes(struct session *session)
{
    session->blocked = true;
    session->told = false;
}

/* 07: a 'returned' should follow; if it does not, nobody knows where the note is. */
static void removed_take(struct session *session)
{
    struct held *held = &session->held;
    block_notes(session);
    if (held->state == HELD_NONE || held->state == HELD_DOUBTFUL)
        return;
    held->state = HELD_LEAVING;
    held->escrow_us = UINT64_MAX;
    held->outcome_us = session->now_us + REMOVED_US;
}

/* 0A: our ESCROW command found no note. What was held has gone already; its outcome may be on the way. */
static void no_note_take(struct session *session)
{
    struct held *held = &session->held;
    if (held->state != HELD_STACKING && held->state != HELD_RETURNING)
        return;
    held->escrow_us = UINT64_MAX;
    held->outcome_us = session->now_us + REMOVED_US;
}

static void effect_take(struct session *session, enum mdb_effect effect)
{
    switch (effect) {
    case MDB_EFFECT_FAULT:
        session->fault = true;
        session->told = false;
        break;
    case MDB_EFFECT_RECYCLER:
        session->recycler_fault = true;
        break;
    case MDB_EFFECT_REMOVED:
        removed_take(session);
        break;
    case MDB_EFFECT_TAMPERED:
        block_notes(session);
        break;
    case MDB_EFFECT_NO_NOTE:
        no_note_take(session);
        break;
    default:
        break;
    }
}

/* 06. Not told when the reset is ours. */
static void reset_take(struct session *session, bool again)
{
    session->reset_seen = true;
    if (session->stage == STAGE_AWAIT || !session->recovered)
        return;
    if (!again) {
        cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
        condition_put(&event, CFOIL_CONDITION_RESTARTED);
        mdb_raw_put(&event, 0x06);
        snprintf(event.text, sizeof event.text, "The validator was reset or lost power.");
        mdb_event_tell(session, &event);
        if (!session->settings.count_used && session->accept_now != CFOIL_ACCEPT_NONE)
            mdb_condition_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "poll 06",
                               "A note stacked just before the reset may be missing here: count the cash box.");
    }
    mdb_held_doubt(session);
    session->accept_now = CFOIL_ACCEPT_NONE;
}

static void status_take(struct session *session, uint8_t byte)
{
    const struct mdb_status_code *code = mdb_status_find(byte);
    bool again = session->level_us[byte] != 0;
    session->level_us[byte] = session->now_us + 1; /* never 0, which means 'not there' */
    if (code->effect == MDB_EFFECT_RESET)
        reset_take(session, again);
    if (code->effect == MDB_EFFECT_BOX) {
        session->box_us = session->now_us + 1;
        session->count_wanted = true;
    }
    if (again)
        return;
    status_tell(session, byte, code);
    effect_take(session, code->effect);
}

/* ---- Statuses that have gone ---- */

static bool effect_present(const struct session *session, enum mdb_effect effect)
{
    for (uint32_t i = 0; i < sizeof session->level_us / sizeof session->level_us[0]; i++) {
        if (session->level_us[i] != 0 && mdb_status_find((uint8_t)i)->effect == effect)
            return true;
    }
    return false;
}

static void fault_end(struct session *session)
{
    session->fault = false;
    session->told = false;
    mdb_condition_tell(session, CFOIL_CONDITION_FAULT_CLEARED, "", "The validator is in order again.");
}

static void level_end(struct session *session, enum mdb_effect effect)
{
    switch (effect) {
    case MDB_EFFECT_BOX:
        mdb_condition_tell(session, CFOIL_CONDITION_STACKER_IN_PLACE, "", "The cash box is in its place again.");
        break;
    case MDB_EFFECT_DISABLED:
        if (session->disabled)
            session->told = false;
        session->disabled = false;
        session->types_wrong = false;
        break;
    default:
        break;
    }
}

static void levels_expire(struct session *session)
{
    for (uint32_t i = 0; i < sizeof session->level_us / sizeof session->level_us[0]; i++) {
        if (session->level_us[i] == 0 || session->now_us < session->level_us[i] + LEVEL_US)
            continue;
        session->level_us[i] = 0;
        level_end(session, mdb_status_find((uint8_t)i)->effect);
    }
    if (session->fault && !effect_present(session, MDB_EFFECT_FAULT))
        fault_end(session);
    if (session->recycler_fault && !effect_present(session, MDB_EFFECT_RECYCLER)) {
        session->recycler_fault = false;
        mdb_condition_tell(session, CFOIL_CONDITION_FAULT_CLEARED, "", "The recycler is in order again.");
    }
}

/* ---- A whole answer ---- */

/* How many routed bytes at the beginning may be those of the last answer, come again. */
static uint32_t repeat_length(const struct session *session, const uint8_t *routed, uint32_t length)
{
    bool whole = session->last_length <= length && memcmp(routed, session->last, session->last_length) == 0;
    return whole ? session->last_length : 0;
}

static void last_keep(struct session *session, const uint8_t *routed, uint32_t length)
{
    if (length > 0) {
        memcpy(session->last, routed, length);
        session->last_length = length;
        session->last_us = session->now_us;
        session->empties = 0;
        return;
    }
    /* The device has our ACK. Twice, because a late answer to an earlier command looks the same. */
    session->empties++;
    if (session->empties >= 2)
        session->last_length = 0;
}

void mdb_poll_take(struct session *session, const uint8_t *bytes, uint32_t length)
{
    uint8_t routed[LENGTH_POLL_MAX];
    uint32_t routed_length = 0;
    for (uint32_t i = 0; i < length; i++) {
        if (mdb_class_of(bytes[i]) == MDB_CLASS_ROUTED)
            routed[routed_length++] = bytes[i];
    }
    uint32_t repeats = repeat_length(session, routed, routed_length);
    uint32_t place = 0;
    uint8_t attempts = 0;
    session->polled_us = session->now_us;
    session->reset_seen = false;
    session->quiet++;
    for (uint32_t i = 0; i < length; i++) {
        switch (mdb_class_of(bytes[i])) {
        case MDB_CLASS_ROUTED:
            routed_take(session, bytes[i], place++ < repeats);
            break;
        case MDB_CLASS_ATTEMPTS:
            attempts_take(session, bytes[i]);
            attempts = bytes[i];
            break;
        default:
            status_take(session, bytes[i]);
            break;
        }
    }
    session->attempts = attempts;
    session->attempts_us = session->now_us;
    last_keep(session, routed, routed_length);
    levels_expire(session);
}

void mdb_full_take(struct session *session, bool full)
{
    if (full == session->full)
        return;
    session->full = full;
    mdb_condition_tell(session, full ? CFOIL_CONDITION_STACKER_FULL : CFOIL_CONDITION_STACKER_IN_PLACE, "stacker count",
                       full ? "The cash box is full." : "The cash box has room again.");
}
