/* When does the contact close and open? There is no standard for such devices: all of it is common practice, no source. */
#include "contact.h"

#include <string.h>

enum { OUTPUT_DTR = 16, OUTPUT_RTS = 32, SPLIT_MS = 8 };

/* ---- What the client sees ---- */

static uint8_t state_byte(const struct contact *contact, int64_t now_ms)
{
    unsigned bit = 1U << contact->settings->line;
    bool closed = contact->closed && now_ms >= contact->off_until_ms;
    bool high = closed != (contact->settings->active_low != 0);
    return (uint8_t)((contact->others & ~bit) | (high ? bit : 0U));
}

void contact_tell(struct contact *contact, int64_t now_ms)
{
    uint8_t byte = state_byte(contact, now_ms);
    contact->told_wanted = now_ms < contact->mute_until_ms;
    if (!contact->told_wanted)
        outbox_add(&contact->outbox, now_ms, &byte, 1);
}

/* ---- Pulses ---- */

static void edge_put(struct contact *contact, int64_t due_ms, bool closed)
{
    if (contact->edge_count < EDGES)
        contact->edges[contact->edge_count++] = (struct edge){due_ms, closed};
}

/* A contact that bounces opens and closes again, two milliseconds each, before it stays. */
static void edge_bounce(struct contact *contact, int64_t due_ms, bool closed)
{
    edge_put(contact, due_ms, closed);
    for (long i = 2; i + 2 <= contact->settings->bounce_ms; i += 4) {
        edge_put(contact, due_ms + i, !closed);
        edge_put(contact, due_ms + i + 2, closed);
    }
}

/* How one pulse turns out. */
struct shape {
    long width_ms, rest_ms;
    bool lost, split;
};

static struct shape shape_choose(struct contact *contact, int64_t now_ms)
{
    struct shape shape = {contact->settings->pulse_ms, contact->settings->pause_ms, false, false};
    for (size_t i = 0; i < contact->faults.count; i++) {
        struct fault *fault = &contact->faults.fault[i];
        if (!fault_strikes(fault, -1))
            continue;
        truth_begin(contact->truth, now_ms, "fault");
        truth_text(contact->truth, "kind", fault->kind->word);
        truth_end(contact->truth);
        if (fault->kind->effect == EFFECT_LATE)
            shape.width_ms = fault->value;
        else if (fault->kind->effect == EFFECT_PAUSE)
            shape.rest_ms = fault->value;
        shape.lost = shape.lost || fault->kind->effect == EFFECT_SILENCE;
        shape.split = shape.split || fault->kind->own == OWN_SPLIT;
    }
    return shape;
}

/* Gives the end of the pause after it. */
static int64_t pulse_put(struct contact *contact, const struct shape *shape, int64_t at_ms)
{
    int64_t end_ms = at_ms + shape->width_ms;
    if (shape->lost)
        return end_ms + shape->rest_ms;
    edge_bounce(contact, at_ms, true);
    if (shape->split) {
        edge_put(contact, at_ms + shape->width_ms / 2, false);
        edge_put(contact, at_ms + shape->width_ms / 2 + SPLIT_MS, true);
    }
    edge_bounce(contact, end_ms, false);
    contact->good++;
    return end_ms + shape->rest_ms;
}

static void train_put(struct contact *contact, long pulses, int64_t now_ms)
{
    int64_t at_ms = now_ms;
    if (contact->edge_next == contact->edge_count)
        contact->edge_next = contact->edge_count = 0;
    for (long i = 0; i < pulses; i++) {
        struct shape shape = shape_choose(contact, now_ms);
        at_ms = pulse_put(contact, &shape, at_ms);
    }
    contact->busy_until_ms = at_ms - contact->settings->pause_ms + contact->settings->rest_ms;
}

void contact_pulse(struct contact *contact, long pulses, int64_t now_ms)
{
    truth_say(contact->truth, now_ms, "pulses", "pulses", pulses);
    train_put(contact, pulses, now_ms);
}

/* ---- Notes ---- */

bool contact_accepting(const struct contact *contact, int64_t now_ms)
{
    const struct settings *settings = contact->settings;
    if (now_ms < contact->off_until_ms)
        return false;
    if (settings->inhibit == INHIBIT_NONE)
        return true;
    bool high = (contact->outputs & (settings->inhibit == INHIBIT_DTR ? OUTPUT_DTR : OUTPUT_RTS)) != 0;
    return high != (settings->inhibit_high != 0);
}

static void note_end(struct contact *contact, enum outcome outcome, int64_t now_ms)
{
    contact->outcome = outcome;
    contact->path = PATH_EMPTY;
    truth_begin(contact->truth, now_ms, outcome_name(outcome));
    truth_number(contact->truth, "note", contact->number);
    truth_number(contact->truth, "type", contact->type);
    truth_number(contact->truth, "pulses", contact->good);
    truth_end(contact->truth);
}

void contact_insert(struct contact *contact, long type, enum way way, int64_t now_ms)
{
    contact->number++;
    contact->type = type;
    contact->good = 0;
    contact->outcome = OUTCOME_NONE;
    if (!contact_accepting(contact, now_ms) || contact->path != PATH_EMPTY) {
        note_end(contact, OUTCOME_NOT_TAKEN, now_ms);
        return;
    }
    if (way == WAY_REFUSED) {
        note_end(contact, OUTCOME_REJECTED, now_ms); /* it comes back, and no wire says so */
        return;
    }
    contact->path = PATH_ENTERING;
    contact->path_due_ms = now_ms + contact->settings->move_ms;
}

static void path_advance(struct contact *contact, int64_t now_ms)
{
    if (contact->path == PATH_ENTERING && now_ms >= contact->path_due_ms) {
        contact->path = PATH_STACKING; /* in the box: the pulses say so */
        train_put(contact, contact->settings->pulses[contact->type], now_ms);
        contact->path_due_ms = contact->busy_until_ms;
    }
    if (contact->path == PATH_STACKING && now_ms >= contact->path_due_ms)
        note_end(contact, OUTCOME_STACKED, now_ms);
}

void contact_advance(struct contact *contact, int64_t now_ms)
{
    path_advance(contact, now_ms);
    while (contact->edge_next < contact->edge_count && contact->edges[contact->edge_next].due_ms <= now_ms)
        contact_set(contact, contact->edges[contact->edge_next++].closed, now_ms);
    if (contact->told_wanted && now_ms >= contact->mute_until_ms)
        contact_tell(contact, now_ms);
    bool accepting = contact_accepting(contact, now_ms);
    if (accepting != contact->was_accepting)
        truth_say(contact->truth, now_ms, accepting ? "enabled" : "inhibited", NULL, 0);
    contact->was_accepting = accepting;
}

static void earlier(int64_t *deadline, int64_t candidate)
{
    if (candidate < *deadline)
        *deadline = candidate;
}

int64_t contact_deadline(const struct contact *contact, int64_t now_ms)
{
    int64_t deadline = contact->busy_until_ms > now_ms ? contact->busy_until_ms : INT64_MAX;
    if (contact->path != PATH_EMPTY)
        earlier(&deadline, contact->path_due_ms);
    if (contact->edge_next < contact->edge_count)
        earlier(&deadline, contact->edges[contact->edge_next].due_ms);
    if (contact->told_wanted)
        earlier(&deadline, contact->mute_until_ms);
    return deadline;
}

/* ---- What the script and the client do ---- */

void contact_set(struct contact *contact, bool closed, int64_t now_ms)
{
    if (contact->closed == closed)
        return;
    contact->closed = closed;
    if (now_ms >= contact->off_until_ms)
        contact_tell(contact, now_ms);
}

void contact_other(struct contact *contact, long line, bool on, int64_t now_ms)
{
    unsigned bit = 1U << line;
    contact->others = (uint8_t)(on ? contact->others | bit : contact->others & ~bit);
    contact_tell(contact, now_ms);
}

/* A relay without current opens; pulses that were still to come never do. */
void contact_power_off(struct contact *contact, long off_ms, int64_t now_ms)
{
    truth_say(contact->truth, now_ms, off_ms > 0 ? "power_off" : "reset", "edges_left",
              (long)(contact->edge_count - contact->edge_next));
    contact->edge_next = contact->edge_count = 0;
    contact_set(contact, false, now_ms);
    contact->off_until_ms = now_ms + off_ms;
    contact->busy_until_ms = contact->off_until_ms;
    if (contact->path == PATH_STACKING)
        note_end(contact, OUTCOME_STACKED, now_ms);
    else if (contact->path != PATH_EMPTY)
        note_end(contact, OUTCOME_RETURNED, now_ms);
}

void contact_outputs(struct contact *contact, uint8_t outputs, int64_t now_ms)
{
    contact->heard++;
    contact->outputs = outputs;
    contact_advance(contact, now_ms);
}

void contact_start(struct contact *contact, const struct settings *settings, const struct truth *truth)
{
    memset(contact, 0, sizeof *contact);
    contact->settings = settings;
    contact->truth = truth;
    truth_say(truth, 0, "started", NULL, 0);
}
