/*
 * Which presentation does an event belong to? See presentations.h.
 */
#include "lane/presentations.h"

#include <stdbool.h>
#include <string.h>

static uint64_t number_next(struct presentations *presentations)
{
    return ++presentations->last;
}

/* Could this event be about the note that was held? What is not told on either side is not held against it. */
static bool same_note(const cfoil_event *held, const cfoil_event *event)
{
    if (held->currency[0] != '\0' && event->currency[0] != '\0' &&
        (strcmp(held->currency, event->currency) != 0 || held->value_minor != event->value_minor))
        return false;
    return held->note_type == 0 || event->note_type == 0 || held->note_type == event->note_type;
}

static uint64_t held_begin(struct presentations *presentations, const cfoil_event *event)
{
    presentations->held = number_next(presentations);
    presentations->unresolved = 0;
    presentations->note = *event;
    return presentations->held;
}

/* STACKED or RETURNED: the end of a held note, the late word about an unresolved one, or a note never held. */
static uint64_t outcome(struct presentations *presentations, const cfoil_event *event)
{
    bool late = (event->flags & CFOIL_EVENT_WHILE_AWAY) != 0;
    uint64_t number = presentations->held != 0 ? presentations->held : late ? presentations->unresolved : 0;
    if (number == 0 || !same_note(&presentations->note, event))
        return number_next(presentations);
    presentations->held = 0;
    presentations->unresolved = 0;
    return number;
}

static uint64_t outcome_unknown(struct presentations *presentations)
{
    if (presentations->held != 0) {
        presentations->unresolved = presentations->held;
        presentations->held = 0;
    }
    return presentations->unresolved;
}

uint64_t presentation_assign(struct presentations *presentations, const cfoil_event *event)
{
    switch (event->kind) {
    case CFOIL_KIND_HELD:
        return held_begin(presentations, event);
    case CFOIL_KIND_STACKED:
    case CFOIL_KIND_RETURNED:
        return outcome(presentations, event);
    case CFOIL_KIND_REJECTED:
        return number_next(presentations);
    case CFOIL_KIND_DEVICE:
        return event->condition == CFOIL_CONDITION_OUTCOME_UNKNOWN ? outcome_unknown(presentations) : 0;
    default:
        return 0;
    }
}
