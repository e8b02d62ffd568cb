/*
 * A running device: polling, moving held notes, and what the host commands.
 */
#include "session.h"

/* ---- What is due ---- */

static bool begin(struct session *session, enum purpose purpose, const struct described_exchange *what)
{
    described_exchange_begin(session, purpose, what, &what->send, what->tries);
    return true;
}

void described_poll_begin(struct session *session)
{
    const struct description *description = session->description;
    bool accepting = session->stage == STAGE_RUN && described_accept_effective(session) != CFOIL_ACCEPT_NONE;
    const struct described_bytes *send = accepting && description->poll_accepting.length > 0
                                             ? &description->poll_accepting
                                             : &description->poll.send;
    described_exchange_begin(session, PURPOSE_POLL, &description->poll, send, description->poll.tries);
}

/* The last word: no more notes, if one message says so. */
static bool quit_begin(struct session *session)
{
    const struct described_exchanges *list = &session->description->accept[CFOIL_ACCEPT_NONE];
    if (session->quit_done)
        return false;
    session->quit_done = true;
    if (list->count == 1)
        described_exchange_begin(session, PURPOSE_QUIT, &list->items[0], &list->items[0].send, 1);
    else if (session->description->poll_accepting.length > 0)
        described_exchange_begin(session, PURPOSE_QUIT, &session->description->poll, &session->description->poll.send,
                                 1);
    return session->exchange.under_way;
}

static bool route_begin(struct session *session)
{
    struct held *held = &session->held;
    const struct description *description = session->description;
    if (held->route_us > session->now_us)
        return false;
    if (description->polled && session->now_us - session->polled_us > OVERDUE_US &&
        session->poll_us <= session->now_us) {
        described_poll_begin(session); /* is it still the same note? */
        return true;
    }
    if (held->route_tries_left == 0) {
        described_log(session, CFOIL_LOG_ERROR, "route_failed", "The device does not move the held note.");
        described_outcome_unknown_tell(session);
        described_memory_store(session);
        return false;
    }
    held->route_tries_left--;
    held->route_us = UINT64_MAX;
    const struct described_exchange *what = held->state == HELD_STACKING ? &description->stack
                                                                         : &description->give_back;
    described_exchange_begin(session, PURPOSE_ROUTE, what, &what->send, what->tries);
    return true;
}

static bool hold_begin(struct session *session)
{
    struct held *held = &session->held;
    if (held->state != HELD_WAITING)
        return false;
    if (session->now_us >= held->until_us) {
        held->state = HELD_RETURNING; /* nobody has decided in time: the note is the customer's */
        held->route_us = session->now_us;
        return route_begin(session);
    }
    if (session->description->hold.send.length == 0 || session->now_us < held->extend_us)
        return false;
    held->extend_us = session->now_us + session->description->hold_every_us;
    return begin(session, PURPOSE_HOLD, &session->description->hold);
}

static bool self_check_begin(struct session *session)
{
    const struct description *description = session->description;
    if (!session->fault || description->self_check.send.length == 0 || session->now_us < session->self_check_us)
        return false;
    session->self_check_us = session->now_us + description->self_check_us;
    return begin(session, PURPOSE_SELF_CHECK, &description->self_check);
}

static bool watch_begin(struct session *session)
{
    const struct described_exchange *watch = &session->description->watch;
    if (watch->send.length == 0 || !session->set || session->now_us < session->watch_us)
        return false;
    session->watch_us = session->now_us + session->description->watch_us;
    return begin(session, PURPOSE_WATCH, watch);
}

static void outcome_overdue_check(struct session *session)
{
    if (session->now_us < session->held.outcome_us)
        return;
    described_log(session, CFOIL_LOG_WARNING, "outcome_overdue", "The device tells no outcome of the held note.");
    described_outcome_unknown_tell(session);
    described_memory_store(session);
}

/* When something will be due, nothing being due now. */
static uint64_t due_next(const struct session *session)
{
    const struct description *description = session->description;
    const struct held *held = &session->held;
    uint64_t due = described_earlier(held->route_us, held->outcome_us);
    if (description->polled)
        due = described_earlier(due, session->poll_us);
    else if (description->silence_us > 0 && !session->lost)
        due = described_earlier(due, session->answered_us + description->silence_us + 1);
    if (held->state == HELD_WAITING)
        due = described_earlier(due, held->until_us);
    if (held->state == HELD_WAITING && description->hold.send.length > 0)
        due = described_earlier(due, held->extend_us);
    if (session->fault && description->self_check.send.length > 0)
        due = described_earlier(due, session->self_check_us);
    if (session->set && description->watch.send.length > 0)
        due = described_earlier(due, session->watch_us);
    return due;
}

static bool poll_due(const struct session *session)
{
    return session->description->polled && (session->candidate_known || session->poll_us <= session->now_us);
}

uint64_t described_run_next(struct session *session)
{
    if (session->quit)
        return quit_begin(session) ? session->now_us : UINT64_MAX;
    outcome_overdue_check(session);
    if (session->doubt == DOUBT_WATCH) {
        begin(session, PURPOSE_WATCH, &session->description->watch);
        return session->now_us;
    }
    if (session->candidate_known) {
        described_poll_begin(session); /* confirm what was read, before all else */
        return session->now_us;
    }
    if (route_begin(session))
        return session->now_us;
    if (!session->configured || session->accept_now != described_accept_effective(session)) {
        described_configure_begin(session);
        session->wait_us = session->now_us;
        return described_startup_next(session);
    }
    if (poll_due(session))
        described_poll_begin(session);
    else if (!self_check_begin(session) && !hold_begin(session) && !watch_begin(session))
        return due_next(session);
    return session->now_us;
}

/* ---- What comes back ---- */

static void poll_answer(struct session *session)
{
    session->polled_us = session->now_us;
    session->poll_us = session->now_us + session->description->poll_us;
    if (session->description->buffer.known)
        described_buffer_answer(session);
    else
        described_message_read(session, &session->exchange.answer);
}

static void route_answer(struct session *session, enum outcome outcome)
{
    struct held *held = &session->held;
    session->poll_us = session->now_us; /* whatever it was, the device's events tell the truth */
    if (held->state == HELD_STACKING || held->state == HELD_RETURNING) {
        /* An answer is no proof of stacking. */
        if (outcome == OUTCOME_ANSWER)
            held->outcome_us = session->now_us + session->description->outcome_us;
        else
            held->route_us = session->now_us + ROUTE_AGAIN_US; /* unless it is told meanwhile that it has moved */
    }
    if (outcome == OUTCOME_ANSWER && session->exchange.what->events)
        described_message_read(session, &session->exchange.answer);
}

/* No answer to a request whose answer we can do without for now. */
static void failure_answer(struct session *session)
{
    session->poll_us = session->now_us + session->description->poll_us;
    session->candidate_known = false; /* the next answers bring it back */
    session->doubt = DOUBT_NONE;
    described_lost_check(session);
}

/* The device is not set as we set it: a reset that no counter shows. */
static void watch_miss(struct session *session)
{
    session->watch_misses++;
    session->watch_us = session->now_us; /* once more, in case that was an answer to something else, but first: */
    session->poll_us = session->now_us;  /* does the counter tell of a reset? */
    if (session->watch_misses < MISSES)
        return;
    session->watch_misses = 0;
    described_restart_take(session, BASE_STANDS);
    described_startup_begin(session);
}

static void watch_answer(struct session *session, enum outcome outcome)
{
    session->reset_seen = outcome == OUTCOME_OTHER;
    if (outcome == OUTCOME_SILENT) {
        failure_answer(session);
        return;
    }
    if (session->doubt == DOUBT_WATCH)
        session->doubt = DOUBT_READ;
    else if (outcome == OUTCOME_OTHER)
        watch_miss(session);
    else
        session->watch_misses = 0;
}

void described_run_answer(struct session *session, enum outcome outcome)
{
    switch (session->exchange.purpose) {
    case PURPOSE_ROUTE:
        route_answer(session, outcome);
        break;
    case PURPOSE_SELF_CHECK:
        if (outcome == OUTCOME_ANSWER)
            described_fault_clear(session, "self-check");
        break;
    case PURPOSE_WATCH:
        watch_answer(session, outcome);
        break;
    case PURPOSE_POLL:
        if (outcome == OUTCOME_ANSWER)
            poll_answer(session);
        else
            failure_answer(session);
        break;
    default:
        if (outcome == OUTCOME_ANSWER && session->exchange.what->events)
            described_message_read(session, &session->exchange.answer);
        break;
    }
}

/* ---- Commands of the host ---- */

static int32_t accept_command(struct session *session, int32_t accept)
{
    if (accept < CFOIL_ACCEPT_NONE || accept > CFOIL_ACCEPT_ALL)
        return CFOIL_E_ARGUMENT_RANGE;
    session->accept_wanted = accept;
    if (accept == CFOIL_ACCEPT_NONE)
        return CFOIL_OK;
    const struct description *description = session->description;
    bool levels = description->polled && !description->buffer.known;
    session->blocked = false;
    if (session->fault && !levels && description->self_check.send.length == 0) {
        session->fault = false; /* the device cannot say when it is in order again: the host's word counts */
        session->configured = false;
    }
    return CFOIL_OK;
}

static int32_t route_command(struct session *session, enum held_state state)
{
    struct held *held = &session->held;
    /* A note that is on its way to the cash box is never asked back: the two commands could cross. */
    if (held->state == HELD_STACKING || held->state == HELD_RETURNING)
        return CFOIL_E_STATE_NOT_READY;
    if (held->state != HELD_WAITING)
        return CFOIL_E_STATE_NO_NOTE;
    held->state = state;
    held->route_us = session->now_us;
    held->outcome_us = UINT64_MAX;
    held->route_tries_left = ROUTE_TRIES;
    return CFOIL_OK;
}

static int32_t hold_command(struct session *session, int32_t hold_ms)
{
    struct held *held = &session->held;
    if (hold_ms < 0)
        return CFOIL_E_ARGUMENT_RANGE;
    if (held->state != HELD_WAITING)
        return CFOIL_E_STATE_NO_NOTE;
    held->until_us = session->now_us + MS((uint64_t)hold_ms);
    held->extend_us = session->now_us;
    return CFOIL_OK;
}

/* A slow or silent device cannot keep the last word from being said soon. */
static int32_t quit_command(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    uint64_t soon_us = session->now_us + session->description->byte_gap_us;
    session->quit = true;
    exchange->deadline_us = described_earlier(exchange->deadline_us, soon_us);
    exchange->earliest_us = described_earlier(exchange->earliest_us, soon_us);
    return CFOIL_OK;
}

int32_t described_command(struct session *session, int32_t command, int32_t argument)
{
    switch (command) {
    case CFOIL_COMMAND_ACCEPT:
        return accept_command(session, argument);
    case CFOIL_COMMAND_STACK:
        return route_command(session, HELD_STACKING);
    case CFOIL_COMMAND_RETURN:
        return route_command(session, HELD_RETURNING);
    case CFOIL_COMMAND_HOLD:
        return hold_command(session, argument);
    case CFOIL_COMMAND_QUIT:
        return quit_command(session);
    default:
        return CFOIL_E_ARGUMENT_RANGE;
    }
}
