/*
 * The contact-pulse adapter: its table, its time, and the output that inhibits the device.
 */
#include "pulse.h"

#include "session.h"

#include <stdio.h>

/* ---- What the host wants and is told ---- */

/* HOLD asks for notes that wait for a decision. This device holds none: it gets none. */
bool pulse_accepting(const struct session *session)
{
    return session->accept_wanted == CFOIL_ACCEPT_ALL && session->ready && !session->stuck && !session->quit;
}

static void state_tell(const struct session *session, int32_t state, int32_t result, const char *text)
{
    session->host->state(session->host->user, state, result, text);
}

/* Outputs that inhibit nothing stay on: they often feed the contact. */
static void output_send(const struct session *session)
{
    unsigned byte = CFOIL_LINE_DTR | CFOIL_LINE_RTS;
    bool high = pulse_accepting(session) != session->settings.inhibit_high;
    if (!high)
        byte &= ~(unsigned)session->settings.inhibit;
    uint8_t output = (uint8_t)byte;
    session->host->send(session->host->user, &output, 1);
}

void pulse_ready_tell(const struct session *session)
{
    if (session->stuck)
        state_tell(session, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT,
                   "The contact stays closed: look at device and wiring.");
    else if (pulse_accepting(session))
        state_tell(session, CFOIL_LANE_ACCEPTING, CFOIL_OK, "Notes are taken.");
    else if (session->accept_wanted == CFOIL_ACCEPT_HOLD)
        state_tell(session, CFOIL_LANE_IDLE, CFOIL_OK, "No notes are taken: a pulse device cannot hold them.");
    else
        state_tell(session, CFOIL_LANE_IDLE, CFOIL_OK, "No notes are taken.");
    output_send(session);
}

static void identity_tell(const struct session *session)
{
    char text[160];
    snprintf(
        text, sizeof text,
        "Pulse contact on %s%s. It tells stacked notes only: no refusals, no reasons, no escrow; a pulse that is lost "
        "leaves no trace.",
        session->settings.line_name, session->settings.inhibit == INHIBIT_NONE ? ", not inhibited" : "");
    pulse_condition_tell(session, CFOIL_CONDITION_IDENTIFIED, text);
}

/* ---- What is due by time ---- */

static uint64_t earlier(uint64_t one, uint64_t other)
{
    return one < other ? one : other;
}

/* How long the contact has been closed, or never at rest. A release that is not debounced yet counts already. */
static uint64_t busy_for_us(const struct session *session)
{
    const struct contact *contact = &session->contact;
    if (contact->level)
        return (contact->raw ? session->now_us : contact->raw_us) - contact->level_us;
    return contact->unsettled ? session->now_us - contact->unsettled_us : 0;
}

static void stuck_check(struct session *session)
{
    uint64_t busy_us = busy_for_us(session);
    if (busy_us > session->settings.pulse_max_us)
        pulse_train_spoil(session, "the contact stayed closed too long");
    if (busy_us < session->settings.pulse_max_us + STUCK_US || session->stuck)
        return;
    session->stuck = true;
    pulse_condition_tell(session, CFOIL_CONDITION_FAULT, "The contact stays closed: look at device and wiring.");
    pulse_ready_tell(session);
}

/* When the contact has been open and at rest for a whole gap; UINT64_MAX = not before it moves. */
static uint64_t quiet_at(const struct contact *contact, uint64_t gap_us)
{
    bool resting = contact->known && !contact->level && !pulse_contact_pending(contact);
    return resting ? contact->raw_us + gap_us : UINT64_MAX;
}

/* Is there anything that ends with the next quiet gap? */
static bool quiet_awaited(const struct session *session)
{
    return session->train.under_way || !session->ready; /* who is stuck is in a train */
}

static void quiet_take(struct session *session)
{
    bool first = !session->ready;
    bool cleared = session->stuck;
    if (session->train.under_way)
        pulse_train_end(session);
    session->ready = true;
    session->stuck = false;
    session->silent = false;
    if (cleared)
        pulse_condition_tell(session, CFOIL_CONDITION_FAULT_CLEARED, "The contact is open again.");
    if (first)
        identity_tell(session);
    if (first || cleared)
        pulse_ready_tell(session);
}

static void silence_check(struct session *session)
{
    if (session->contact.known || session->silent || session->now_us < session->open_us + SILENT_US)
        return;
    session->silent = true;
    state_tell(session, CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT, "The port tells no state of its lines.");
}

/* In a train, looks that are further apart than the shortest pulse may miss one. */
static uint64_t tick_us(const struct session *session)
{
    uint64_t half_us = session->settings.pulse_min_us / 2;
    return half_us > TICK_SHORTEST_US ? half_us : TICK_SHORTEST_US;
}

static void lateness_check(struct session *session)
{
    if (session->train.under_way && session->now_us - session->looked_us > session->settings.pulse_min_us)
        pulse_train_spoil(session, "this computer was too busy to see every pulse");
}

static uint64_t next_us(const struct session *session)
{
    const struct contact *contact = &session->contact;
    if (!contact->known)
        return session->silent ? UINT64_MAX : session->open_us + SILENT_US;
    uint64_t due_us = UINT64_MAX;
    if (session->train.under_way && !session->stuck)
        due_us = session->now_us + tick_us(session);
    if (pulse_contact_pending(contact))
        due_us = earlier(due_us, contact->raw_us + session->settings.debounce_us);
    if (quiet_awaited(session))
        due_us = earlier(due_us, quiet_at(contact, session->settings.gap_max_us));
    return due_us;
}

/* ---- The calls ---- */

static int32_t adapter_open(void *state, const cfoil_adapter_start *start)
{
    struct session *session = state;
    int32_t result = pulse_settings_read(&session->settings, start);
    if (result != CFOIL_OK)
        return result;
    session->host = start->host;
    session->now_us = start->now_us;
    session->looked_us = start->now_us;
    session->open_us = start->now_us;
    session->accept_wanted = start->accept;
    output_send(session); /* inhibited until the line was quiet */
    state_tell(session, CFOIL_LANE_STARTING, CFOIL_OK, "Waiting until the line is quiet.");
    return CFOIL_OK;
}

static uint64_t adapter_step(void *state, const cfoil_adapter_input *input)
{
    struct session *session = state;
    session->now_us = input->now_us;
    lateness_check(session);
    session->looked_us = session->now_us;
    pulse_contact_settle(session);
    stuck_check(session);
    if (quiet_awaited(session) && session->now_us >= quiet_at(&session->contact, session->settings.gap_max_us))
        quiet_take(session);
    for (uint32_t i = 0; i < input->length; i++)
        pulse_contact_see(session, input->bytes[i]);
    silence_check(session);
    return next_us(session);
}

static int32_t accept_take(struct session *session, int32_t accept)
{
    if (accept < CFOIL_ACCEPT_NONE || accept > CFOIL_ACCEPT_ALL)
        return CFOIL_E_ARGUMENT_RANGE;
    session->accept_wanted = accept;
    if (session->ready)
        pulse_ready_tell(session);
    return CFOIL_OK;
}

static int32_t adapter_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct session *session = state;
    session->now_us = now_us;
    switch (command) {
    case CFOIL_COMMAND_ACCEPT:
        return accept_take(session, argument);
    case CFOIL_COMMAND_STACK:
    case CFOIL_COMMAND_RETURN:
    case CFOIL_COMMAND_HOLD:
        return CFOIL_E_STATE_NO_NOTE; /* it holds none */
    case CFOIL_COMMAND_QUIT:
        session->quit = true;
        output_send(session);
        return CFOIL_OK;
    default:
        return CFOIL_E_ARGUMENT_RANGE;
    }
}

/* Pulses that nobody will count. */
static void adapter_close(void *state)
{
    const struct session *session = state;
    if (session->train.under_way)
        pulse_condition_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT,
                             "The lane was closed or the port lost in the middle of pulses: count the box.");
}

const cfoil_adapter pulse_adapter = {
    .struct_size = (uint32_t)sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "pulse",
    .name = "Contact pulses on a modem-control line",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL, /* no real device has been tried yet */
    .capabilities = CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_LINES,
    .frame_max = 1,
    .state_size = (uint32_t)sizeof(struct session),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE}, /* no characters are used */
    .answer_max_ms = 10000,
    .open = adapter_open,
    .step = adapter_step,
    .command = adapter_command,
    .close = adapter_close,
};
