/*
 * A running device: polling, routing held notes, watching the settings, and what the host commands.
 */
#include "session.h"

/* ---- What is due ---- */

static bool begin(struct session *session, enum purpose purpose, uint8_t header, const uint8_t *data, uint8_t length)
{
    cctalk_exchange_begin(session, purpose, header, data, length, TRIES);
    return true;
}

static bool quit_begin(struct session *session)
{
    static const uint8_t closed[] = {0};
    if (session->quit_done)
        return false;
    session->quit_done = true;
    cctalk_exchange_begin(session, PURPOSE_QUIT, HEADER_MASTER_WRITE, closed, 1, 1);
    return true;
}

static bool route_begin(struct session *session)
{
    struct held *held = &session->held;
    uint8_t code = held->state == HELD_STACKING ? ROUTE_STACK : ROUTE_RETURN;
    if (held->route_us > session->now_us)
        return false;
    if (session->now_us - session->polled_us > POLL_OVERDUE_US) /* is it still the same note? */
        return begin(session, PURPOSE_EVENTS, HEADER_EVENTS, NULL, 0);
    if (held->route_tries_left == 0) {
        say_log(session->host, CFOIL_LOG_ERROR, "route_failed", "The device does not move the held note.");
        cctalk_outcome_unknown_tell(session);
        cctalk_memory_store(session);
        return false;
    }
    held->route_tries_left--;
    held->route_us = UINT64_MAX;
    /* One try only: after a lost answer the events are looked at before anything is sent again. */
    cctalk_exchange_begin(session, PURPOSE_ROUTE, HEADER_ROUTE, &code, 1, 1);
    return true;
}

static bool extend_begin(struct session *session)
{
    static const uint8_t code[] = {ROUTE_EXTEND};
    struct held *held = &session->held;
    if (held->state != HELD_WAITING || session->now_us < held->extend_us || session->now_us >= held->until_us)
        return false;
    held->extend_us = session->now_us + EXTEND_US;
    cctalk_exchange_begin(session, PURPOSE_ROUTE, HEADER_ROUTE, code, 1, 1);
    return true;
}

static void doubt_begin(struct session *session)
{
    switch (session->doubt) {
    case DOUBT_TYPES:
        begin(session, PURPOSE_TYPES, HEADER_TYPES_READ, NULL, 0);
        break;
    case DOUBT_MASTER:
        begin(session, PURPOSE_MASTER, HEADER_MASTER_READ, NULL, 0);
        break;
    default:
        begin(session, PURPOSE_EVENTS, HEADER_EVENTS, NULL, 0);
        break;
    }
}

static bool self_check_begin(struct session *session)
{
    if (!session->fault || !session->self_check_known || session->now_us < session->self_check_us)
        return false;
    session->self_check_us = session->now_us + SELF_CHECK_US;
    return begin(session, PURPOSE_SELF_CHECK, HEADER_SELF_CHECK, NULL, 0);
}

static bool watch_begin(struct session *session)
{
    if (session->watch_half)
        return begin(session, PURPOSE_MASTER, HEADER_MASTER_READ, NULL, 0);
    if (session->now_us < session->watch_us)
        return false;
    session->watch_us = session->now_us + WATCH_US;
    return begin(session, PURPOSE_TYPES, HEADER_TYPES_READ, NULL, 0);
}

static void outcome_overdue_check(struct session *session)
{
    if (session->now_us < session->held.outcome_us)
        return;
    say_log(session->host, CFOIL_LOG_WARNING, "outcome_overdue", "The device took the command but tells no outcome.");
    cctalk_outcome_unknown_tell(session);
    cctalk_memory_store(session);
}

static uint64_t earlier(uint64_t left, uint64_t right)
{
    return left < right ? left : right;
}

/* When something will be due, nothing being due now. */
static uint64_t due_next(const struct session *session)
{
    const struct held *held = &session->held;
    uint64_t due = earlier(session->poll_us, session->watch_us);
    due = earlier(due, earlier(held->route_us, held->outcome_us));
    if (held->state == HELD_WAITING && held->extend_us < held->until_us && session->now_us < held->until_us)
        due = earlier(due, held->extend_us);
    if (session->fault && session->self_check_known)
        due = earlier(due, session->self_check_us);
    return due;
}

uint64_t cctalk_run_due(const struct session *session)
{
    bool urgent = session->quit || session->doubt != DOUBT_NONE || session->candidate_known || session->watch_half ||
                  !session->configured || session->accept_now != cctalk_accept_effective(session);
    return urgent ? session->now_us : due_next(session);
}

uint64_t cctalk_run_next(struct session *session)
{
    if (session->quit)
        return quit_begin(session) ? session->now_us : UINT64_MAX;
    if (session->doubt != DOUBT_NONE) {
        doubt_begin(session);
        return session->now_us;
    }
    outcome_overdue_check(session);
    if (session->candidate_known) {
        begin(session, PURPOSE_EVENTS, HEADER_EVENTS, NULL, 0); /* confirm what was read, before all else */
        return session->now_us;
    }
    if (route_begin(session))
        return session->now_us;
    if (!session->configured || session->accept_now != cctalk_accept_effective(session)) {
        session->stage = STAGE_CLOSE;
        return cctalk_startup_next(session);
    }
    if (session->poll_us <= session->now_us)
        begin(session, PURPOSE_EVENTS, HEADER_EVENTS, NULL, 0);
    else if (!self_check_begin(session) && !extend_begin(session) && !watch_begin(session))
        return due_next(session);
    return session->now_us;
}

/* ---- What comes back ---- */

static void route_answer(struct session *session, enum outcome outcome)
{
    struct held *held = &session->held;
    const struct cctalk_frame *answer = &session->exchange.answer;
    session->poll_us = session->now_us; /* whatever it was, the events tell the truth */
    if (session->exchange.data[0] == ROUTE_EXTEND)
        return;
    bool moved = outcome == OUTCOME_ANSWER && (answer->length == 0 || answer->data[0] == ROUTE_ANSWER_EMPTY);
    if (moved) {
        /* ACK is no proof of stacking, and 'escrow is empty' after a repeat means: it has left already. */
        held->outcome_us = session->now_us + OUTCOME_LIMIT_US;
        return;
    }
    held->route_us = session->now_us + ROUTE_AGAIN_US; /* unless the events say meanwhile that it has moved */
}

static void self_check_answer(struct session *session)
{
    const struct cctalk_frame *answer = &session->exchange.answer;
    if (answer->data[0] != 0) {
        cctalk_fault_tell(session, answer->data, answer->length);
        return;
    }
    cctalk_fault_clear(session, "self-check 0");
}

/* The inhibits are not as we set them: a reset that the counter does not show, or somebody else's doing. */
static void watch_miss(struct session *session)
{
    session->watch_misses++;
    session->watch_us = session->now_us; /* once more, in case that was an answer to something else, but first: */
    session->poll_us = session->now_us;  /* does the counter tell of a reset? */
    if (session->watch_misses < MISSES)
        return;
    session->watch_misses = 0;
    session->watch_us = session->now_us + WATCH_US;
    if (cctalk_reset_proved(session)) {
        /* All types inhibited as after a reset, and the counter reads what it read before, by chance. */
        cctalk_restart_take(session, BASE_STANDS);
        cctalk_startup_begin(session, STAGE_CATEGORY);
        say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "The validator restarted; starting it up again.");
        return;
    }
    say_log(session->host, CFOIL_LOG_WARNING, "setting_changed", "The device's inhibits changed; setting them again.");
    session->configured = false;
}

static void types_answer(struct session *session)
{
    session->types_found = cctalk_number_read(session->exchange.answer.data);
    if (session->doubt == DOUBT_TYPES)
        session->doubt = DOUBT_MASTER;
    else
        session->watch_half = true;
}

static void master_answer(struct session *session)
{
    bool open = (session->exchange.answer.data[0] & 1) != 0;
    session->watch_half = false;
    if (session->doubt == DOUBT_MASTER)
        session->doubt = DOUBT_READ;
    else if (!cctalk_types_fit(session) || open != (session->accept_now != CFOIL_ACCEPT_NONE))
        watch_miss(session);
    else
        session->watch_misses = 0;
}

/* No answer to a request whose answer we can do without for now. */
static void failure_answer(struct session *session)
{
    session->poll_us = session->now_us + session->settings.poll_us;
    session->doubt = DOUBT_NONE; /* the next answers to 159 bring it back */
    session->candidate_known = false;
    session->watch_half = false;
    cctalk_lost_check(session);
}

void cctalk_run_answer(struct session *session, enum outcome outcome)
{
    enum purpose purpose = session->exchange.purpose;
    if (purpose == PURPOSE_ROUTE) {
        route_answer(session, outcome);
        return;
    }
    if (outcome != OUTCOME_ANSWER) {
        failure_answer(session);
        return;
    }
    switch (purpose) {
    case PURPOSE_EVENTS:
        cctalk_events_answer(session);
        break;
    case PURPOSE_SELF_CHECK:
        self_check_answer(session);
        break;
    case PURPOSE_TYPES:
        types_answer(session);
        break;
    case PURPOSE_MASTER:
        master_answer(session);
        break;
    default:
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
    session->blocked = false;
    if (session->fault && !session->self_check_known) {
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
    session->quit = true;
    exchange->deadline_us = earlier(exchange->deadline_us, session->now_us + session->settings.answer_us);
    exchange->earliest_us = earlier(exchange->earliest_us, session->now_us + BYTE_GAP_US);
    return CFOIL_OK;
}

int32_t cctalk_command(struct session *session, int32_t command, int32_t argument)
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
