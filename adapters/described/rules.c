/*
 * From messages to events: repetitions, rules in their order, and what each tells, exactly once.
 *
 * Money is told only by a rule of the description that gives STACKED, for a note of its own table, and never from the
 * first message after the port was opened: that one may repeat what an earlier life of the host was told.
 */
#include "check.h"
#include "session.h"

#include <stdio.h>
#include <string.h>

/* ---- Telling ---- */

static void event_tell(struct session *session, cfoil_adapter_event *event)
{
    if (session->away)
        event->flags |= CFOIL_EVENT_WHILE_AWAY;
    session->carried = true;
    session->host->event(session->host->user, event);
}

static void device_reason_put(cfoil_adapter_event *event)
{
    event->reason = CFOIL_REASON_DEVICE;
    event->reasons_possible = 1u << CFOIL_REASON_DEVICE;
}

void described_condition_tell(struct session *session, int32_t condition, const char *raw_text, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = condition;
    if (condition != CFOIL_CONDITION_IDENTIFIED)
        device_reason_put(&event);
    snprintf(event.raw_text, sizeof event.raw_text, "%s", raw_text);
    snprintf(event.text, sizeof event.text, "%s", text);
    event_tell(session, &event);
}

static void note_put(const struct session *session, cfoil_adapter_event *event, int32_t index)
{
    if (index < 0)
        return;
    const struct described_note *note = &session->description->notes[index];
    event->note_type = note->type;
    event->value_minor = note->value_minor;
    memcpy(event->currency, note->currency, sizeof event->currency);
    memcpy(event->note_name, note->name, sizeof note->name);
}

void described_held_end(struct session *session)
{
    memset(&session->held, 0, sizeof session->held);
    session->held.note = -1;
    session->held.route_us = UINT64_MAX;
    session->held.outcome_us = UINT64_MAX;
}

bool described_held_active(const struct session *session)
{
    return session->held.state != HELD_NONE && session->held.state != HELD_DOUBTFUL;
}

void described_outcome_unknown_tell(struct session *session)
{
    int32_t note = session->held.note;
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = CFOIL_CONDITION_OUTCOME_UNKNOWN;
    device_reason_put(&event);
    note_put(session, &event, note);
    snprintf(event.text, sizeof event.text, "What became of the held note is not known: look for it, count by hand.");
    event_tell(session, &event);
    described_held_end(session);
    session->held.state = HELD_DOUBTFUL;
    session->held.note = note;
}

/* Events are missing. Among them may be what became of the held note. */
void described_lost_tell(struct session *session, uint32_t count, int32_t condition, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_LOST_EVENTS;
    event.condition = condition;
    event.lost_count = count;
    snprintf(event.raw_text, sizeof event.raw_text, "%s",
             condition == CFOIL_CONDITION_COUNTER_GAP ? "counter" : "line");
    snprintf(event.text, sizeof event.text, "%s", text);
    event_tell(session, &event);
    session->blocked = true;
    if (described_held_active(session))
        described_outcome_unknown_tell(session);
}

void described_fault_begin(struct session *session, const char *text)
{
    session->fault = true;
    session->self_check_us = session->now_us;
    snprintf(session->fault_text, sizeof session->fault_text, "%s", text);
    session->state_told = 0; /* another fault has another text */
}

void described_fault_clear(struct session *session, const char *raw_text)
{
    session->fault = false;
    session->configured = false;
    described_condition_tell(session, CFOIL_CONDITION_FAULT_CLEARED, raw_text, "The device is in order again.");
}

/* The device was reset: what it was doing with a note nobody knows. */
void described_restart_tell(struct session *session)
{
    if (described_held_active(session))
        described_outcome_unknown_tell(session);
    described_condition_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "",
                             "A note stacked just before the reset may be missing here: count the cash box.");
}

/* Only what the description says to be so as long as the device was not reset can prove it. */
bool described_reset_proved(const struct session *session)
{
    return session->set && session->reset_seen;
}

/* ---- One rule ---- */

static void event_fill(const struct session *session, const struct described_rule *rule,
                       const struct described_view *view, cfoil_adapter_event *event)
{
    event->kind = rule->kind;
    event->condition = rule->condition;
    event->reason = rule->reason;
    event->reasons_possible = rule->reasons_possible;
    event->finding_count = rule->finding_count;
    memcpy(event->findings, rule->findings, sizeof event->findings);
    event->raw_length = view->length < CFOIL_RAW_MAX ? view->length : CFOIL_RAW_MAX;
    memcpy(event->raw, view->bytes, event->raw_length);
    const char *form = rule->raw_text[0] != '\0' ? rule->raw_text : session->description->raw_text;
    if (form[0] != '\0')
        described_raw_text_make(form, view, event->raw_text, sizeof event->raw_text);
    else
        described_raw_text_plain(view, session->description->text_lines, event->raw_text, sizeof event->raw_text);
    snprintf(event->text, sizeof event->text, "%s", rule->text);
}

/* The same event, but as a condition of the device without money. */
static void as_condition_tell(struct session *session, cfoil_adapter_event *event, int32_t condition, const char *text)
{
    event->kind = CFOIL_KIND_DEVICE;
    event->condition = condition;
    event->value_minor = 0;
    memset(event->currency, 0, sizeof event->currency);
    snprintf(event->text, sizeof event->text, "%s", text);
    event_tell(session, event);
}

static void held_begin(struct session *session, int32_t note)
{
    struct held *held = &session->held;
    described_held_end(session);
    held->state = HELD_WAITING;
    held->note = note;
    held->until_us = session->now_us + session->description->hold_us;
    held->extend_us = session->now_us + session->description->hold_every_us;
    held->route_tries_left = ROUTE_TRIES;
    if (note < 0)
        held->state = HELD_RETURNING; /* nobody can decide about a note of unknown value */
    else if (session->accept_wanted == CFOIL_ACCEPT_ALL)
        held->state = HELD_STACKING;
    if (held->state != HELD_WAITING)
        held->route_us = session->now_us;
}

static void held_take(struct session *session, cfoil_adapter_event *event, int32_t note)
{
    if (described_held_active(session))
        described_outcome_unknown_tell(session); /* another note, and not a word about the one before */
    note_put(session, event, note);
    if (note < 0)
        as_condition_tell(session, event, CFOIL_CONDITION_UNKNOWN_CODE,
                          "A note that the description does not have is held; it goes back.");
    else
        event_tell(session, event);
    held_begin(session, note);
}

static void stacked_take(struct session *session, const struct described_rule *rule, cfoil_adapter_event *event,
                         int32_t note)
{
    struct held *held = &session->held;
    bool same = held->state != HELD_NONE && held->note == note;
    if (described_held_active(session) && !same)
        described_outcome_unknown_tell(session); /* not a word about the note that was held */
    note_put(session, event, note);
    if (note < 0)
        as_condition_tell(session, event, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
                          "A note of unknown value went to the cash box: count by hand.");
    else if (!session->based)
        as_condition_tell(session, event, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT,
                          "The device's first word is of a note in the cash box, new or told before: count by hand.");
    else if (rule->after_held && !same)
        as_condition_tell(session, event, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
                          "The device tells a note in the cash box that it did not hold: nothing is credited, count.");
    else
        event_tell(session, event);
    if (same)
        described_held_end(session);
}

static void restarted_take(struct session *session, cfoil_adapter_event *event)
{
    event_tell(session, event);
    described_restart_tell(session);
    described_startup_begin(session);
}

/* The only word of recovery from a device that has no self-check and does not tell its state over and over. */
static void recovery_take(struct session *session, const cfoil_adapter_event *event)
{
    const struct description *description = session->description;
    bool levels = description->polled && !description->buffer.known;
    if (!session->fault || levels || description->self_check.send.length > 0)
        return;
    if (event->condition == CFOIL_CONDITION_STACKER_IN_PLACE)
        described_fault_clear(session, event->raw_text);
    if (event->condition != CFOIL_CONDITION_FAULT_CLEARED)
        return;
    session->fault = false;
    session->configured = false;
}

static void other_take(struct session *session, const struct described_rule *rule, cfoil_adapter_event *event,
                       int32_t note)
{
    bool returned = rule->kind == CFOIL_KIND_RETURNED;
    note_put(session, event, returned && note < 0 ? session->held.note : note);
    if (returned)
        described_held_end(session);
    if (event->condition == CFOIL_CONDITION_RESTARTED) {
        restarted_take(session, event);
        return;
    }
    event_tell(session, event);
    if (rule->halt != DESCRIBED_HALT_NONE && described_held_active(session))
        described_outcome_unknown_tell(session);
    if (rule->halt == DESCRIBED_HALT_HOST)
        session->blocked = true;
    if (rule->halt == DESCRIBED_HALT_CLEAR)
        described_fault_begin(session, rule->text);
    recovery_take(session, event);
}

static void rule_tell(struct session *session, const struct described_rule *rule, const struct described_view *view,
                      int32_t note)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event_fill(session, rule, view, &event);
    switch (rule->kind) {
    case CFOIL_KIND_NONE:
        break;
    case CFOIL_KIND_HELD:
        held_take(session, &event, note);
        break;
    case CFOIL_KIND_STACKED:
        stacked_take(session, rule, &event, note);
        break;
    default:
        other_take(session, rule, &event, note);
        break;
    }
}

static void unknown_tell(struct session *session, const struct described_view *view)
{
    static const struct described_rule unknown = {.kind = CFOIL_KIND_DEVICE, .condition = CFOIL_CONDITION_UNKNOWN_CODE};
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event_fill(session, &unknown, view, &event);
    snprintf(event.text, sizeof event.text, "The device sent a code that its description does not have: %.60s.",
             event.raw_text);
    described_log(session, CFOIL_LOG_WARNING, "code_unknown", event.text);
    event_tell(session, &event);
}

/* ---- One message ---- */

/* One entry of an event buffer: the first rule that fits is the one. */
void described_view_read(struct session *session, const struct described_view *view)
{
    const struct description *description = session->description;
    for (uint32_t i = 0; i < description->rule_count; i++) {
        const struct described_rule *rule = &description->rules[i];
        if (!described_fits(&rule->when, view))
            continue;
        rule_tell(session, rule, view, described_note_find(description, rule, view));
        if (!rule->go_on)
            return;
    }
    unknown_tell(session, view);
}

/* The beginning of a message without what differs each time: sequence and check. Returns its length. */
static uint32_t essence_copy(const struct description *description, const struct described_view *view,
                             uint8_t essence[CFOIL_RAW_MAX])
{
    const struct described_check *check = &description->check;
    const struct described_number *number = &description->sequence.number;
    uint32_t length = view->length < CFOIL_RAW_MAX ? view->length : CFOIL_RAW_MAX;
    uint32_t at;
    memcpy(essence, view->bytes, length);
    for (uint32_t i = 0; i < check->count; i++) {
        if (place_find(check->at[i], view->length, &at) && at < length)
            essence[at] = 0;
    }
    for (uint32_t i = 0; i < number->bytes && place_find(number->at, view->length, &at); i++) {
        if (at + i < length)
            essence[at + i] &= (uint8_t) ~(number->mask >> (8 * (number->big_endian ? number->bytes - 1 - i : i)));
    }
    return length;
}

/* No rule fits. A device that is asked goes on saying so: it is told once. */
static void unknown_take(struct session *session, const struct described_view *view)
{
    uint8_t essence[CFOIL_RAW_MAX];
    uint32_t length = essence_copy(session->description, view, essence);
    bool again = session->description->polled && session->unknown_length == length &&
                 memcmp(session->unknown, essence, length) == 0;
    session->unknown_length = length;
    memcpy(session->unknown, essence, length);
    /* The first line of a device that talks may be the end of one. */
    if (!again && (session->based || !session->description->text_lines))
        unknown_tell(session, view);
}

/* What is new: a rule that did not fit the message before, or one for which each message is an event. */
static bool is_news(struct session *session, uint32_t index, int32_t note)
{
    const struct described_rule *rule = &session->description->rules[index];
    uint32_t mark = (uint32_t)(note + 2);
    bool same = session->active[index] == mark;
    session->active[index] = mark;
    return !same || rule->each_message || !session->description->polled;
}

/* A state of the device that halted it has ended when no rule of that kind fits any more. */
static void level_check(struct session *session, bool halts)
{
    if (session->fault && !halts && session->description->polled && session->description->self_check.send.length == 0)
        described_fault_clear(session, "status");
}

/* A note that was held is held no more, and nobody has decided: what became of it should be told soon. */
static void held_check(struct session *session, bool held)
{
    if (!session->description->polled || session->held.state != HELD_WAITING)
        return;
    if (held)
        session->held.outcome_us = UINT64_MAX;
    else if (session->held.outcome_us == UINT64_MAX)
        session->held.outcome_us = session->now_us + session->description->outcome_us;
}

static void rules_read(struct session *session, const struct described_view *view)
{
    const struct description *description = session->description;
    bool known = false;
    bool last = false;
    bool halts = false;
    bool held = false;
    for (uint32_t i = 0; i < description->rule_count; i++) {
        const struct described_rule *rule = &description->rules[i];
        bool fits = described_fits(&rule->when, view);
        if (!fits)
            session->active[i] = 0;
        halts = halts || (fits && rule->halt == DESCRIBED_HALT_CLEAR);
        held = held || (rule->kind == CFOIL_KIND_HELD && (fits || rule->each_message));
        if (!fits || last)
            continue; /* a rule that is hidden by one before keeps what it knew */
        int32_t note = described_note_find(description, rule, view);
        if (is_news(session, i, note))
            rule_tell(session, rule, view, note);
        known = true;
        last = !rule->go_on;
    }
    if (known)
        session->unknown_length = 0;
    else
        unknown_take(session, view);
    level_check(session, halts);
    held_check(session, held);
}

static void acknowledge(struct session *session)
{
    const struct description *description = session->description;
    if (description->acknowledge.length == 0 || (!session->carried && !description->acknowledge_all))
        return;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    uint32_t length = described_message_build(description, &description->acknowledge, session->sequence, raw);
    session->host->send(session->host->user, raw, length);
}

static void renumbered_tell(struct session *session)
{
    described_condition_tell(session, CFOIL_CONDITION_RESTARTED, "number", "The device was reset or lost power.");
    described_restart_tell(session);
    described_startup_begin(session);
}

/* A number that follows the one before, or not. False = the message was taken already. */
static bool sequence_take(struct session *session, uint32_t number)
{
    const struct described_count *sequence = &session->description->sequence;
    uint32_t values = sequence->last - sequence->first + 1;
    bool known = session->sequence_known;
    uint32_t steps = known ? described_steps_between(sequence, session->sequence, number) : 1;
    session->sequence_known = true;
    if (steps == 0)
        return false;
    session->sequence = number;
    if (known && sequence->has_reset && number == sequence->reset)
        renumbered_tell(session);
    else if (steps > 1 && steps > values / 2) {
        /* Far ahead, or something old: nobody can say what of it was told before. */
        session->based = false;
        described_lost_tell(session, 0, CFOIL_CONDITION_COUNTER_GAP,
                            "The device's numbers do not continue those before: count the cash box.");
    } else if (steps > 1) {
        described_lost_tell(session, steps - 1, CFOIL_CONDITION_COUNTER_GAP,
                            "Messages of the device are missing: count the cash box against the record.");
    }
    return true;
}

static bool numbered(struct session *session, const struct described_view *view, bool *repeated)
{
    const struct described_count *sequence = &session->description->sequence;
    uint32_t number;
    *repeated = false;
    if (session->description->driver != DESCRIBED_DRIVER_DEVICE)
        return true;
    if (!described_number_read(&sequence->number, view, &number) || !described_count_valid(sequence, number))
        return false;
    *repeated = !sequence_take(session, number);
    return true;
}

/* A device that numbers its messages numbers its answers, too: no rule reads this one, but none is missing. */
void described_answer_count(struct session *session, const struct described_message *message)
{
    struct described_view view = described_view_of(session, message);
    bool repeated;
    (void)numbered(session, &view, &repeated);
}

void described_message_read(struct session *session, const struct described_message *message)
{
    struct described_view view = described_view_of(session, message);
    bool repeated;
    bool proving = session->description->start_count > 0 && !session->proved;
    if (proving && !session->description->polled)
        return; /* a stranger's talk */
    session->carried = false;
    if (!numbered(session, &view, &repeated)) {
        unknown_take(session, &view);
        return;
    }
    if (!repeated) {
        rules_read(session, &view);
        session->based = true;
    } else {
        session->carried = true; /* the device did not hear that we have it */
    }
    acknowledge(session);
}
