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

enum { PAIRS = 5, MEMORY_VERSION = 1, MEMORY_SIZE = 14 };

/* Memory, by byte: version, type of the note that was held (0 = none), MEMORY_TYPES_SET or 0, counter, ten of pairs. */
enum { MEMORY_TYPES_SET = 1 };

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

void cctalk_held_end(struct session *session)
{
    memset(&session->held, 0, sizeof session->held);
    session->held.route_us = UINT64_MAX;
    session->held.outcome_us = UINT64_MAX;
}

bool cctalk_held_active(const struct session *session)
{
    return session->held.state != HELD_NONE && session->held.state != HELD_DOUBTFUL;
}

void cctalk_outcome_unknown_tell(struct session *session)
{
    uint8_t type = session->held.type;
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_OUTCOME_UNKNOWN;
    event.reason = CFOIL_REASON_DEVICE;
    event.reasons_possible = 1u << CFOIL_REASON_DEVICE;
    note_put(session, &event, type);
    snprintf(event.text, sizeof event.text, "What became of the held note is not known: look for it, count by hand.");
    event_tell(session, &event);
    cctalk_held_end(session);
    session->held.state = HELD_DOUBTFUL;
    session->held.type = type;
}

void cctalk_fault_clear(struct session *session, const char *raw_text)
{
    session->fault = false;
    session->configured = false; /* which tells the new state, too */
    session->fault_told = false;
    cctalk_condition_tell(session, CFOIL_CONDITION_FAULT_CLEARED, raw_text, "The validator is in order again.");
}

void cctalk_fault_tell(struct session *session, const uint8_t *answer, uint32_t length)
{
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
    if (!session->fault_told || session->fault_code != answer[0])
        event_tell(session, &event);
    session->fault = true;
    session->fault_told = true;
    session->fault_code = answer[0];
    say_state(session->host, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, "%s", event.text);
}

/* Events are missing. Among them may be what became of the held note. */
static void lost_tell(struct session *session, uint32_t count, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_LOST_EVENTS;
    event.condition = CFOIL_CONDITION_COUNTER_GAP;
    event.lost_count = count;
    snprintf(event.raw_text, sizeof event.raw_text, "counter");
    snprintf(event.text, sizeof event.text, "%s", text);
    event_tell(session, &event);
    session->blocked = true;
    if (cctalk_held_active(session))
        cctalk_outcome_unknown_tell(session);
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
    say_log(session->host, CFOIL_LOG_WARNING, "code_unknown", "Unknown event %s; nothing is credited.",
            event->raw_text);
    event_tell(session, event);
}

static void held_begin(struct session *session, uint8_t type)
{
    struct held *held = &session->held;
    cctalk_held_end(session);
    held->state = HELD_WAITING;
    held->type = type;
    held->until_us = session->now_us + session->settings.hold_us;
    held->extend_us = session->now_us + EXTEND_US;
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
    if (cctalk_held_active(session) && (b == 1 || session->held.type != type))
        cctalk_outcome_unknown_tell(session); /* another note, and not a word about the one before */
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
    cctalk_held_end(session);
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
        note_put(session, &event, session->held.type);
        cctalk_held_end(session);
    }
    event_tell(session, &event);
    bool halts = code->category == CCTALK_CATEGORY_FATAL || code->category == CCTALK_CATEGORY_FRAUD;
    if (halts && cctalk_held_active(session))
        cctalk_outcome_unknown_tell(session);
    if (code->category == CCTALK_CATEGORY_FRAUD)
        session->blocked = true;
    if (code->category == CCTALK_CATEGORY_FATAL) {
        session->fault = true;
        session->fault_told = true;
        session->fault_code = 0;
        session->self_check_us = session->now_us;
        say_state(session->host, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, "%s", code->text);
    } else if (session->fault && !session->self_check_known && code->condition == CFOIL_CONDITION_STACKER_IN_PLACE) {
        cctalk_fault_clear(session, event.raw_text); /* the only word of recovery from a device without a self-check */
    }
}

/* ---- Memory: where we stand in the device's events, for the next life of the host ---- */

void cctalk_memory_store(const struct session *session)
{
    if (session->key[0] == '\0')
        return;
    uint8_t bytes[MEMORY_SIZE];
    bytes[0] = MEMORY_VERSION;
    bytes[1] = cctalk_held_active(session) ? session->held.type : 0;
    bytes[2] = session->types_set ? MEMORY_TYPES_SET : 0;
    bytes[3] = session->last.counter;
    memcpy(bytes + 4, session->last.pairs, sizeof session->last.pairs);
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
    session->types_set = bytes[2] == MEMORY_TYPES_SET;
    session->last.counter = bytes[3];
    memcpy(session->last.pairs, bytes + 4, sizeof session->last.pairs);
    cctalk_held_end(session);
    if (bytes[1] != 0) {
        session->held.state = HELD_EARLIER; /* its outcome is among the events, or nobody knows it */
        session->held.type = bytes[1];
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

/* Did the device come from `last` to `now` without a reset and without events that nobody read, by what the pairs prove? */
static bool plain(const struct session *session, const struct snapshot *now)
{
    if (memcmp(&session->last, now, sizeof *now) == 0)
        return true;
    uint32_t count = events_between(session->last.counter, now->counter);
    /* Five new ones leave no old pair to prove it. */
    return now->counter != 0 && count > 0 && count < PAIRS && pairs_continue(&session->last, now, count);
}

/* Does the answer look as it can only look soon after a reset: no more pairs than the counter counts? */
static bool looks_restarted(const struct snapshot *now)
{
    static const uint8_t none[2 * PAIRS];
    return now->counter < PAIRS && memcmp(now->pairs + 2 * now->counter, none, 2 * (size_t)(PAIRS - now->counter)) == 0;
}

/* Is it an answer that the device gave before it gave `last`? */
static bool older(const struct session *session, const struct snapshot *now)
{
    uint32_t count = events_between(now->counter, session->last.counter);
    return count > 0 && count < PAIRS && pairs_continue(now, &session->last, count);
}

/* After a reset all types are inhibited (published device manual); we always enable some when there are any. */
bool cctalk_reset_proved(const struct session *session)
{
    return session->types_set && session->types_found == 0;
}

static void pairs_take(struct session *session, const struct snapshot *now, uint32_t count)
{
    for (uint32_t i = count; i > 0; i--) { /* pair 1 is the newest: oldest first */
        uint8_t a = now->pairs[2 * (i - 1)];
        uint8_t b = now->pairs[2 * (i - 1) + 1];
        if (a != 0)
            type_take(session, a, b);
        else
            code_take(session, b);
    }
}

/* Tells what happened between `last` and `now` in one life of the device. */
static void difference_take(struct session *session, const struct snapshot *now)
{
    char text[160];
    uint32_t count = events_between(session->last.counter, now->counter);
    if (!pairs_continue(&session->last, now, count)) {
        /* Nobody can say which of the pairs were told already: none is told. */
        lost_tell(session, count > 0 ? count : 255,
                  "The validator's events do not continue those read before: count the cash box against the record.");
    } else if (count > PAIRS) {
        snprintf(text, sizeof text,
                 "The validator had %u more events than it could keep: count the cash box against the record.",
                 count - PAIRS);
        lost_tell(session, count - PAIRS, text);
        pairs_take(session, now, PAIRS);
    } else {
        pairs_take(session, now, count);
    }
    session->last = *now;
    cctalk_memory_store(session);
}

void cctalk_restart_take(struct session *session, enum base base)
{
    cctalk_condition_tell(session, CFOIL_CONDITION_RESTARTED, base == BASE_STANDS ? "inhibits" : "counter",
                          "The validator was reset or lost power.");
    if (cctalk_held_active(session))
        cctalk_outcome_unknown_tell(session);
    cctalk_condition_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "",
                          "A note stacked just before the reset may be missing here: count the cash box.");
    if (base == BASE_ZERO)
        memset(&session->last, 0, sizeof session->last);
    session->rebase = base == BASE_FOUND;
    session->types_set = false;
    cctalk_memory_store(session);
}

/* An answer that is not plain, and that is no single late one. True when the device was reset. */
static bool oddity_take(struct session *session, const struct snapshot *now)
{
    bool proved = cctalk_reset_proved(session);
    if (proved || looks_restarted(now)) {
        cctalk_restart_take(session, proved ? BASE_ZERO : BASE_FOUND);
        return true;
    }
    if (older(session, now))
        say_log(session->host, CFOIL_LOG_WARNING, "answer_old",
                "An old answer came again and again; it is not believed.");
    else
        difference_take(session, now);
    return false;
}

static void recover_known(struct session *session)
{
    session->away = true;
    bool is_plain = plain(session, &session->start);
    if (is_plain && cctalk_reset_proved(session))
        cctalk_restart_take(session, BASE_STANDS);
    if (is_plain || (oddity_take(session, &session->start) && !session->rebase))
        difference_take(session, &session->start);
    if (session->held.state == HELD_EARLIER)
        cctalk_outcome_unknown_tell(session); /* held when the host ended, and no event tells what became of it */
    session->away = false;
}

void cctalk_events_recover(struct session *session)
{
    if (!session->last_known)
        memory_load(session);
    if (session->last_known && !session->rebase)
        recover_known(session);
    if (!session->last_known || session->rebase)
        session->last = session->start; /* nothing in its buffer is known to be new */
    session->last_known = true;
    session->rebase = false;
    cctalk_memory_store(session);
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

/* Two answers agree: what they tell is true, unless it is so odd that it needs another look. */
static void snapshot_take(struct session *session, const struct snapshot *now)
{
    if (!plain(session, now) && session->doubt != DOUBT_READ) {
        session->candidate = *now;
        session->doubt = DOUBT_TYPES;
        return;
    }
    if (plain(session, now)) {
        difference_take(session, now);
    } else if (oddity_take(session, now)) {
        cctalk_startup_begin(session, STAGE_CATEGORY); /* its events are told when it is known again */
        say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "The validator restarted; starting it up again.");
    }
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
