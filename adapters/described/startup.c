/*
 * From an open port to a device that is known, configured as the host wants, and about to be polled.
 *
 * Until the device has proved to be of the described kind only the steps up to the proof are sent, which the description
 * promises to be harmless.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

int32_t described_accept_effective(const struct session *session)
{
    const struct description *description = session->description;
    if (session->blocked || session->fault || session->quit)
        return CFOIL_ACCEPT_NONE;
    if (session->accept_wanted == CFOIL_ACCEPT_HOLD && description->stack.send.length == 0)
        return CFOIL_ACCEPT_NONE; /* it cannot hold, and nobody has said that it may stack */
    return session->accept_wanted;
}

void described_startup_begin(struct session *session)
{
    session->stage = STAGE_START;
    session->step = 0;
    session->wait_us = session->now_us;
    session->configured = false;
    session->candidate_known = false;
    session->rereads = 0;
    session->doubt = DOUBT_NONE;
}

void described_configure_begin(struct session *session)
{
    session->stage = STAGE_CONFIGURE;
    session->step = 0;
    session->accept_target = described_accept_effective(session);
}

/* Start-up cannot go on: from the beginning again, in a while. */
static void again(struct session *session, const char *text)
{
    described_startup_begin(session);
    session->wait_us = session->now_us + AGAIN_US;
    described_log(session, CFOIL_LOG_NOTICE, "start_again", text);
}

void described_lost_check(struct session *session)
{
    uint64_t silence_us = session->description->silence_us;
    bool silent = session->now_us - session->answered_us > silence_us;
    bool deaf = session->description->polled && session->stage >= STAGE_CONFIGURE &&
                session->now_us - session->polled_us > silence_us;
    if (session->lost || silence_us == 0 || (!silent && !deaf))
        return;
    session->lost = true;
    described_startup_begin(session);
    session->wait_us = session->now_us + AGAIN_US;
}

/* ---- Telling the state ---- */

struct told {
    int32_t state;
    int32_t result;
    const char *text;
};

static struct told state_find(const struct session *session)
{
    const struct description *description = session->description;
    if (session->stage == STAGE_ENDED)
        return (struct told){CFOIL_LANE_ENDED, CFOIL_E_DEVICE_WRONG,
                             "The device is not of the described kind; nothing more is sent to it."};
    if (session->lost)
        return (struct told){CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT,
                             "No answer; the device may be off, or not the one that is described."};
    if (session->fault && session->stage >= STAGE_CONFIGURE)
        return (struct told){CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT, session->fault_text};
    if (session->stage != STAGE_RUN || !session->configured)
        return (struct told){CFOIL_LANE_STARTING, CFOIL_OK, "Starting the device up."};
    if (session->accept_now != CFOIL_ACCEPT_NONE)
        return (struct told){CFOIL_LANE_ACCEPTING, CFOIL_OK, "Ready and accepting notes."};
    if (session->blocked)
        return (struct told){CFOIL_LANE_IDLE, CFOIL_OK, "Stopped taking notes until the host says so: see the events."};
    if (session->accept_wanted == CFOIL_ACCEPT_HOLD && description->stack.send.length == 0)
        return (struct told){CFOIL_LANE_IDLE, CFOIL_OK, "The device cannot hold notes: accept all or none."};
    return (struct told){CFOIL_LANE_IDLE, CFOIL_OK, "Ready; no notes are accepted."};
}

/* Setting the device anew while it runs is no news. */
void described_state_refresh(struct session *session)
{
    struct told told = state_find(session);
    bool ready = session->state_told == CFOIL_LANE_IDLE || session->state_told == CFOIL_LANE_ACCEPTING ||
                 session->state_told == CFOIL_LANE_FAULT;
    if (told.state == CFOIL_LANE_STARTING && ready && session->stage >= STAGE_CONFIGURE)
        return;
    described_state(session, told.state, told.result, told.text);
}

/* ---- What is sent ---- */

/* The list that sets the device as wanted; a device that stacks by itself or not at all has fewer lists. */
static const struct described_exchanges *list_find(const struct session *session)
{
    const struct description *description = session->description;
    const struct described_exchanges *list = &description->accept[session->accept_target];
    if (list->known || session->accept_target == CFOIL_ACCEPT_NONE)
        return list;
    return &description->accept[session->accept_target == CFOIL_ACCEPT_ALL ? CFOIL_ACCEPT_HOLD : CFOIL_ACCEPT_ALL];
}

static void configured_take(struct session *session)
{
    session->configured = true;
    session->set = session->set || session->accept_target != CFOIL_ACCEPT_NONE;
    session->watch_us = session->now_us + session->description->watch_us;
    session->config_failures = 0;
    session->accept_now = session->accept_target;
    session->stage = STAGE_RUN;
    described_memory_store(session);
}

static void step_send(struct session *session)
{
    const struct description *description = session->description;
    const struct described_exchange *what = &description->start[session->step];
    enum purpose purpose = PURPOSE_START;
    if (session->stage == STAGE_SELF_CHECK) {
        what = &description->self_check;
        purpose = PURPOSE_SELF_CHECK;
    } else if (session->stage == STAGE_WATCH) {
        what = &description->watch;
        purpose = PURPOSE_WATCH;
    } else if (session->stage == STAGE_CONFIGURE) {
        what = &list_find(session)->items[session->step];
        purpose = PURPOSE_CONFIGURE;
    }
    described_exchange_begin(session, purpose, what, &what->send, what->tries);
}

/* Stages that have nothing to send lead on at once. */
static void stage_settle(struct session *session)
{
    const struct description *description = session->description;
    if (session->stage == STAGE_START && session->step == description->start_count)
        session->stage = STAGE_SELF_CHECK;
    if (session->stage == STAGE_SELF_CHECK && description->self_check.send.length == 0)
        session->stage = STAGE_WATCH;
    if (session->stage == STAGE_WATCH)
        described_memory_load(session);
    if (session->stage == STAGE_WATCH && (description->watch.send.length == 0 || !session->set))
        session->stage = STAGE_COUNTER;
    if (session->stage == STAGE_COUNTER && !description->buffer.known)
        described_configure_begin(session);
    if (session->stage == STAGE_CONFIGURE && session->step == list_find(session)->count)
        configured_take(session);
}

uint64_t described_startup_next(struct session *session)
{
    if (session->now_us < session->wait_us)
        return session->wait_us;
    stage_settle(session);
    if (session->stage == STAGE_RUN)
        return described_run_next(session);
    bool overdue = session->stage == STAGE_CONFIGURE && session->now_us - session->polled_us > OVERDUE_US;
    if (session->stage == STAGE_COUNTER || (overdue && session->description->buffer.known))
        described_poll_begin(session);
    else
        step_send(session);
    return session->now_us;
}

/* ---- What comes back ---- */

/* Another device, or one that tells who it is at last: what we knew is not about it. */
static void device_forget(struct session *session)
{
    if (described_held_active(session))
        described_outcome_unknown_tell(session);
    described_held_end(session);
    session->last_known = false;
    session->set = false;
    session->fault = false;
}

static uint32_t identity_put(const struct session *session, const struct described_exchange *what, char *text,
                             uint32_t capacity)
{
    const struct described_message *answer = &session->exchange.answer;
    struct described_view view = described_view_of(session, answer);
    uint32_t number;
    uint32_t length = 0;
    text[0] = '\0';
    if (what->identity.bytes > 0) {
        if (described_number_read(&what->identity, &view, &number))
            length = (uint32_t)snprintf(text, capacity, "%lu", (unsigned long)number);
        return length;
    }
    int64_t to = what->identity_to < 0 ? (int64_t)answer->length + what->identity_to : what->identity_to;
    for (int64_t i = what->identity.at; i <= to && i < (int64_t)answer->length && length + 1 < capacity; i++) {
        uint8_t byte = answer->bytes[i];
        if (byte > ' ' && byte <= '~') /* what may stand in the name of a device */
            text[length++] = (char)byte;
    }
    text[length] = '\0';
    return length;
}

static void identity_take(struct session *session, const struct described_exchange *what)
{
    char identity[20];
    char key[sizeof session->key] = "";
    char text[160];
    if (identity_put(session, what, identity, sizeof identity) > 0)
        snprintf(key, sizeof key, "%s/%s", session->description->id, identity);
    bool other = !session->identified || strcmp(key, session->key) != 0;
    if (session->identified && other)
        device_forget(session);
    memcpy(session->key, key, sizeof key);
    session->identified = true;
    snprintf(text, sizeof text, "%.64s, %s.", session->description->name,
             key[0] != '\0' ? key : "does not tell which one it is");
    if (other)
        described_condition_tell(session, CFOIL_CONDITION_IDENTIFIED, "", text);
}

static void proof_take(struct session *session)
{
    session->proved = true;
    session->wrong = false;
    session->lost = false;
}

/* A good answer, but not that of the described device: once more, in case it came late, and then hands off. */
static void stranger_take(struct session *session)
{
    if (session->wrong) {
        session->stage = STAGE_ENDED;
        return;
    }
    session->wrong = true;
    again(session, "The device answers as another kind would; asking once more.");
}

static void start_take(struct session *session, enum outcome outcome)
{
    const struct described_exchange *what = &session->description->start[session->step];
    if (outcome == OUTCOME_OTHER && what->proves) {
        stranger_take(session);
        return;
    }
    if (outcome != OUTCOME_ANSWER && !what->optional) {
        again(session, "The device does not answer a step of start-up as it should; trying again.");
        return;
    }
    if (outcome == OUTCOME_ANSWER && what->proves)
        proof_take(session);
    if (outcome == OUTCOME_ANSWER && what->tells_identity)
        identity_take(session, what);
    session->step++;
    if (outcome == OUTCOME_ANSWER && what->events)
        described_message_read(session, &session->exchange.answer);
}

static void self_check_take(struct session *session, enum outcome outcome)
{
    session->stage = STAGE_WATCH;
    if (outcome == OUTCOME_OTHER && !session->fault) {
        described_fault_begin(session, "The self-check of the device tells a fault.");
        described_condition_tell(session, CFOIL_CONDITION_FAULT, "self-check", session->fault_text);
    } else if (outcome == OUTCOME_ANSWER && session->fault) {
        described_fault_clear(session, "self-check");
    }
}

static void configure_take(struct session *session, enum outcome outcome)
{
    const struct described_exchange *what = &list_find(session)->items[session->step];
    if (outcome == OUTCOME_ANSWER || what->optional) {
        session->step++;
        if (outcome == OUTCOME_ANSWER && what->events)
            described_message_read(session, &session->exchange.answer);
        return;
    }
    session->config_failures++;
    described_log(session, CFOIL_LOG_WARNING, "setting_not_taken", "The device did not take a setting.");
    session->step = 0;
    if (session->config_failures < CONFIG_TRIES)
        return;
    session->config_failures = 0;
    again(session, "The device does not take its settings; trying again.");
}

void described_startup_answer(struct session *session, enum outcome outcome)
{
    bool lost = session->lost;
    if (outcome != OUTCOME_ANSWER)
        described_lost_check(session);
    if (session->lost != lost)
        return; /* from the beginning, in a while */
    switch (session->exchange.purpose) {
    case PURPOSE_SELF_CHECK:
        self_check_take(session, outcome);
        break;
    case PURPOSE_WATCH:
        session->reset_seen = outcome == OUTCOME_OTHER;
        session->stage = STAGE_COUNTER;
        break;
    case PURPOSE_CONFIGURE:
        configure_take(session, outcome);
        break;
    default:
        start_take(session, outcome);
        break;
    }
}
