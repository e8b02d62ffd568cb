/*
 * The event buffer: which events are new, and what each means, told exactly once.
 *
 * Rules of the counter (published device manuals, for the same layout of header 229): 0 only after power-up or reset, one
 * more for each event, 1 after 255. Reading removes nothing. Two rules are our own, so that no damaged, late or repeated
 * answer can invent or repeat money: an answer that would change anything counts only when the next one agrees with it;
 * and a counter that jumps, or pairs that do not continue what was read before, are believed only after two requests
 * whose answers have other lengths (a late answer would show there) and a third answer that agrees.
 */
#include "codes.h"
#include "session.h"

#include <stdio.h>
#include <string.h>

enum { PAIRS = 5, MEMORY_VERSION = 1, MEMORY_SIZE = 13 };

/* ---- Telling ---- */

static void event_tell(const struct session *session, cfoil_adapter_event *event)
{
    if (session->away)
        event->flags |= CFOIL_EVENT_WHILE_AWAY;
    session->host->event(session->host->user, event);
}

void cctalk_condition_tell(struct session *session, int32_t condition, const char *raw_text, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = condition;
    if (condition != CFOIL_CONDITION_IDENTIFIED) {
        event.reason = CFOIL_REASON_DEVICE;
        event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    }
    snprintf(event.raw_text, sizeof event.raw_text, "%s", raw_text);
    snprintf(event.text, sizeof event.text, "%s", text);
    event_tell(session, &event);
}

static void note_put(const struct session *session, cfoil_adapter_event *event, uint8_t type)
{
    event->note_type = type;
    if (type == 0 || type > CCTALK_TYPES || !session->notes[type].valued)
        return;
    const struct cctalk_note *note = &session->notes[type];
    event->value_minor = note->value_minor;
    memcpy(event->currency, note->currency, sizeof event->currency);
    memcpy(event->note_name, note->name, sizeof note->name);
}

void cctalk_outcome_unknown_tell(struct session *session)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_OUTCOME_UNKNOWN;
    event.reason = CFOIL_REASON_DEVICE;
    event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    note_put(session, &event, session->held.type);
    snprintf(event.text, sizeof event.text, "What became of the held note is not known: look for it, count by hand.");
    event_tell(session, &event);
    session->held.state = HELD_DOUBTFUL;
    session->held.route_us = UINT64_MAX;
    session->held.outcome_us = UINT64_MAX;
}

void cctalk_fault_tell(struct session *session, const uint8_t *answer, uint32_t length)
{
    if (session->fault_told && session->fault_code == answer[0])
        return;
    const struct cctalk_fault_code *code = cctalk_fault_code_find(answer[0]);
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_FAULT;
    event.reason = CFOIL_REASON_DEVICE;
    event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    event.raw_length = length;
    memcpy(event.raw, answer, length);
    if (length > 1)
        snprintf(event.raw_text, sizeof event.raw_text, "self-check %u,%u", answer[0], answer[1]);
    else
        snprintf(event.raw_text, sizeof event.raw_text, "self-check %u", answer[0]);
    const char *name = code != NULL ? code->text : "a fault that the tables do not have";
    if (length > 1 && code != NULL && code->extra != NULL)
        snprintf(event.text, sizeof event.text, "The validator reports a fault: %s (%s %u).", name, code->extra,
                 answer[1]);
    else
        snprintf(event.text, sizeof event.text, "The validator reports a fault: %s.", name);
    event_tell(session, &event);
    session->fault_told = true;
    session->fault_code = answer[0];
    cctalk_state(session, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, "%s", event.text);
}

static void lost_tell(const struct session *session, uint32_t count)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_LOST_EVENTS;
    event.condition = CFOIL_CONDITION_COUNTER_GAP;
    event.lost_count = count;
    snprintf(event.raw_text, sizeof event.raw_text, "counter");
    snprintf(event.text, sizeof event.text,
             "The validator had %u more events than it could keep: count the cash box against the record.", count);
    event_tell(session, &event);
}

/* ---- One pair ---- */

static void raw_put(cfoil_adapter_event *event, uint8_t a, uint8_t b)
{
    event->raw_length = 2;
    event->raw[0] = a;
    event->raw[1] = b;
    snprintf(event->raw_text, sizeof event->raw_text, "%u,%u", a, b);
}

static void unknown_tell(struct session *session, cfoil_adapter_event *event)
{
    event->kind = CFOIL_KIND_DEVICE;
    event->condition = CFOIL_CONDITION_UNKNOWN_CODE;
    snprintf(event->text, sizeof event->text, "The validator sent a code that the tables do not have: %s.",
             event->raw_text);
    cctalk_log(session, CFOIL_LOG_WARNING, "code_unknown", "Unknown event %s; nothing is credited.", event->raw_text);
    event_tell(session, event);
}

static void held_begin(struct session *session, uint8_t type)
{
    struct held *held = &session->held;
    held->state = HELD_WAITING;
    held->type = type;
    held->until_us = session->now_us + session->settings.hold_us;
    held->extend_us = session->now_us + EXTEND_US;
    held->route_us = UINT64_MAX;
    held->outcome_us = UINT64_MAX;
    held->route_tries_left = ROUTE_TRIES;
    bool valued = type <= CCTALK_TYPES && session->notes[type].valued;
    if (!valued)
        held->state = HELD_RETURNING; /* nobody can decide about a note of unknown value */
    else if (session->accept_wanted == CFOIL_ACCEPT_ALL)
        held->state = HELD_STACKING; /* a device that holds although it was told to stack at once */
    if (held->state != HELD_WAITING)
        held->route_us = session->now_us;
}

/* A pair with a bill type: credit, or held in escrow. */
static void type_take(struct session *session, uint8_t type, uint8_t b)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    raw_put(&event, type, b);
    note_put(session, &event, type);
    bool valued = event.currency[0] != '\0';
    if (b > 1) {
        unknown_tell(session, &event);
        return;
    }
    if (b == 1) {
        event.kind = valued ? CFOIL_KIND_HELD : CFOIL_KIND_DEVICE;
        event.condition = valued ? CFOIL_CONDITION_NONE : CFOIL_CONDITION_UNKNOWN_CODE;
        snprintf(event.text, sizeof event.text,
                 valued ? "A note is held; no money yet." : "A note of a type without a value is held; it goes back.");
        event_tell(session, &event);
        held_begin(session, type);
        return;
    }
    event.kind = valued ? CFOIL_KIND_STACKED : CFOIL_KIND_DEVICE;
    event.condition = valued ? CFOIL_CONDITION_NONE : CFOIL_CONDITION_UNKNOWN_NOTE_STACKED;
    snprintf(event.text, sizeof event.text,
             valued ? "The note went to the cash box."
                    : "A note of unknown value went to the cash box: count by hand.");
    event_tell(session, &event);
    session->held.state = HELD_NONE;
}

/* A pair with a status or error code. */
static void code_take(struct session *session, uint8_t b)
{
    const struct cctalk_event_code *code = cctalk_event_code_find(b);
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    raw_put(&event, 0, b);
    if (code->category == CCTALK_CATEGORY_UNKNOWN) {
        unknown_tell(session, &event);
        return;
    }
    event.kind = code->kind;
    event.reason = code->reason;
    event.reasons_possible = code->reasons_possible;
    event.condition = code->condition;
    if (code->channel >= 0) {
        event.finding_count = 1;
        event.findings[0].channel = code->channel;
        event.findings[0].strength = code->strength;
        event.findings[0].origin = CFOIL_ORIGIN_DEVICE;
    }
    snprintf(event.text, sizeof event.text, "%s", code->text);
    if (code->kind == CFOIL_KIND_RETURNED) {
        note_put(session, &event, session->held.state != HELD_NONE ? session->held.type : 0);
        session->held.state = HELD_NONE;
    }
    event_tell(session, &event);
    bool halts = code->category == CCTALK_CATEGORY_FATAL || code->category == CCTALK_CATEGORY_FRAUD;
    if (halts && session->held.state != HELD_NONE && session->held.state != HELD_DOUBTFUL)
        cctalk_outcome_unknown_tell(session);
    if (code->category == CCTALK_CATEGORY_FRAUD)
        session->blocked = true;
    if (code->category == CCTALK_CATEGORY_FATAL) {
        session->fault = true;
        session->fault_told = true;
        session->fault_code = 0;
        session->self_check_us = session->now_us;
        cctalk_state(session, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, "%s", code->text);
    } else if (session->fault && !session->self_check_known && code->condition == CFOIL_CONDITION_STACKER_IN_PLACE) {
        session->fault = false; /* without a self-check this is the only word of recovery there is */
        session->fault_told = false;
    }
}

/* ---- Memory: where we stand in the device's events, for the next life of the host ---- */

static void memory_store(const struct session *session)
{
    if (session->key[0] == '\0')
        return;
    uint8_t bytes[MEMORY_SIZE];
    bytes[0] = MEMORY_VERSION;
    bytes[1] = session->held.state != HELD_NONE ? session->held.type : 0;
    bytes[2] = session->last.counter;
    memcpy(bytes + 3, session->last.pairs, sizeof session->last.pairs);
    session->host->memory_store(session->host->user, session->key, bytes, sizeof bytes);
}

static void memory_load(struct session *session)
{
    uint8_t bytes[MEMORY_SIZE];
    if (session->key[0] == '\0')
        return;
    uint32_t length = session->host->memory_load(session->host->user, session->key, bytes, sizeof bytes);
    if (length != MEMORY_SIZE || bytes[0] != MEMORY_VERSION)
        return;
    session->last_known = true;
    session->last.counter = bytes[2];
    memcpy(session->last.pairs, bytes + 3, sizeof session->last.pairs);
    if (bytes[1] != 0) {
        held_begin(session, bytes[1]);
        session->held.state = HELD_DOUBTFUL; /* its outcome is among the events, or nobody knows it */
        session->held.route_us = UINT64_MAX;
    }
}

/* ---- Which events are new ---- */

/* New events between two counters, both from one life of the device. */
static uint32_t events_between(uint8_t before, uint8_t now)
{
    if (now >= before)
        return (uint32_t)(now - before);
    return 255u - before + now;
}

/* Do the pairs of `now` that are older than the new ones repeat those of `before`? */
static bool pairs_continue(const struct snapshot *before, const struct snapshot *now, uint32_t count)
{
    if (count >= PAIRS)
        return true;
    size_t kept = 2 * (size_t)(PAIRS - count);
    return memcmp(before->pairs, now->pairs + 2 * count, kept) == 0;
}

static void pairs_take(struct session *session, const struct snapshot *now, uint32_t count)
{
    if (count > PAIRS) {
        lost_tell(session, count - PAIRS);
        session->blocked = true;
        count = PAIRS;
    }
    for (uint32_t i = count; i > 0; i--) { /* pair 1 is the newest: oldest first */
        uint8_t a = now->pairs[2 * (i - 1)];
        uint8_t b = now->pairs[2 * (i - 1) + 1];
        if (a != 0)
            type_take(session, a, b);
        else
            code_take(session, b);
    }
    session->last = *now;
    session->last_known = true;
    memory_store(session);
}

void cctalk_reset_tell(struct session *session)
{
    cctalk_condition_tell(session, CFOIL_CONDITION_RESTARTED, "counter 0", "The validator was reset or lost power.");
    if (session->held.state != HELD_NONE && session->held.state != HELD_DOUBTFUL)
        cctalk_outcome_unknown_tell(session);
    session->held.state = HELD_NONE;
    if (session->away || session->accept_now != CFOIL_ACCEPT_NONE)
        cctalk_condition_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "",
                              "A note stacked just before the reset may be missing here: count the cash box.");
}

/* The device began anew: everything it has now is new. */
static void reset_take(struct session *session, const struct snapshot *now)
{
    cctalk_reset_tell(session);
    memset(&session->last, 0, sizeof session->last);
    pairs_take(session, now, now->counter);
}

void cctalk_events_recover(struct session *session)
{
    const struct snapshot *now = &session->start;
    bool first_here = !session->last_known;
    if (first_here)
        memory_load(session);
    if (!session->last_known) {
        /* Nothing is known of this device: its counter is where we begin, and nothing in its buffer is ours. */
        session->last = *now;
        session->last_known = true;
        memory_store(session);
        return;
    }
    session->away = true;
    uint32_t count = events_between(session->last.counter, now->counter);
    bool reset = (now->counter == 0 && session->last.counter != 0) || !pairs_continue(&session->last, now, count);
    if (reset)
        reset_take(session, now);
    else if (count > 0)
        pairs_take(session, now, count);
    if (first_here && session->held.state == HELD_DOUBTFUL) {
        cctalk_outcome_unknown_tell(session); /* held when the host ended, and no event tells what became of it */
        session->held.state = HELD_NONE;
    }
    session->away = false;
    session->polled_us = session->now_us;
}

/* ---- Answers to 159 while running ---- */

/* Is `now` what a device that answered `before` a moment ago may answer? */
static bool agrees(const struct snapshot *before, const struct snapshot *now)
{
    if (now->counter == 0 && before->counter != 0)
        return false;
    uint32_t count = events_between(before->counter, now->counter);
    return count < PAIRS && pairs_continue(before, now, count);
}

static void doubt_end(struct session *session)
{
    session->doubt = DOUBT_NONE;
    session->candidate_known = false;
    session->rereads = 0;
}

/* A reset seen while running: told, and the device started up again. */
static void reset_end(struct session *session, const struct snapshot *now)
{
    reset_take(session, now);
    doubt_end(session);
    cctalk_startup_begin(session, STAGE_CATEGORY);
    cctalk_state(session, CFOIL_LANE_STARTING, CFOIL_OK, "The validator restarted; starting it up again.");
}

/* Could the device have come from `last` to `now` without a reset and without events that nobody read? */
static bool plain(const struct session *session, const struct snapshot *now)
{
    uint32_t count = events_between(session->last.counter, now->counter);
    return now->counter != 0 && count <= PAIRS && pairs_continue(&session->last, now, count);
}

/* Two answers agree: what they tell is true, unless it is so odd that it needs another look. */
static void snapshot_take(struct session *session, const struct snapshot *now)
{
    if (plain(session, now)) {
        pairs_take(session, now, events_between(session->last.counter, now->counter));
        doubt_end(session);
        return;
    }
    session->candidate = *now;
    session->doubt = DOUBT_TYPES;
}

/* The look at a jump is over and the counter still says the same: a reset, or events that nobody read. */
static void doubt_decide(struct session *session, const struct snapshot *now)
{
    uint32_t count = events_between(session->last.counter, now->counter);
    bool proved = session->at_default && session->configured && session->accept_now != CFOIL_ACCEPT_NONE;
    if (now->counter == 0 || proved || !pairs_continue(&session->last, now, count)) {
        reset_end(session, now);
        return;
    }
    pairs_take(session, now, count);
    doubt_end(session);
}

void cctalk_events_answer(struct session *session)
{
    struct snapshot now;
    memcpy(&now, session->exchange.answer.data, sizeof now);
    session->polled_us = session->now_us;
    session->poll_us = session->now_us + session->settings.poll_us;
    if (memcmp(&now, &session->last, sizeof now) == 0) {
        doubt_end(session);
        return;
    }
    if (session->candidate_known && agrees(&session->candidate, &now)) {
        session->rereads = 0;
        if (session->doubt == DOUBT_READ && !plain(session, &now))
            doubt_decide(session, &now);
        else
            snapshot_take(session, &now);
        return;
    }
    session->doubt = DOUBT_NONE;
    session->candidate = now;
    session->candidate_known = true;
    session->rereads++;
    if (session->rereads <= REREADS)
        session->poll_us = session->now_us; /* read again at once */
    else
        session->rereads = 0; /* answers that never agree: noise; go on at the usual pace */
}
