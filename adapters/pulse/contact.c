/*
 * When did the contact close and open? Line states come in, pulses without bounce go out.
 */
#include "session.h"

bool pulse_contact_pending(const struct contact *contact)
{
    return contact->raw != contact->level || contact->unsettled;
}

/* The level that the line has at the beginning is no change. */
static void contact_begin(struct session *session, bool active)
{
    struct contact *contact = &session->contact;
    *contact = (struct contact){
        .known = true, .raw = active, .level = active, .raw_us = session->now_us, .level_us = session->now_us};
    if (active)
        pulse_train_begin(session); /* nobody saw it close */
}

static void level_change(struct session *session)
{
    struct contact *contact = &session->contact;
    uint64_t lasted_us = contact->raw_us - contact->level_us;
    contact->level = contact->raw;
    contact->level_us = contact->raw_us;
    if (contact->level)
        pulse_begin(session, lasted_us);
    else
        pulse_end(session, lasted_us);
}

void pulse_contact_settle(struct session *session)
{
    struct contact *contact = &session->contact;
    if (!pulse_contact_pending(contact) || session->now_us < contact->raw_us + session->settings.debounce_us)
        return;
    contact->unsettled = false;
    if (contact->raw != contact->level)
        level_change(session);
}

void pulse_contact_see(struct session *session, uint8_t lines)
{
    struct contact *contact = &session->contact;
    bool active = ((lines & session->settings.line) != 0) == session->settings.active_high;
    if (!contact->known) {
        contact_begin(session, active);
        return;
    }
    if (active == contact->raw)
        return;
    /* Two changes at one instant: they came together, and nobody knows how far apart they were. */
    if (session->now_us == contact->raw_us)
        pulse_train_spoil(session, "changes of the line came too late to be measured");
    if (!contact->unsettled)
        contact->unsettled_us = session->now_us;
    contact->unsettled = true;
    contact->raw = active;
    contact->raw_us = session->now_us;
    pulse_contact_settle(session);
}
