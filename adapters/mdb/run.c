/*
 * A running device: polling, routing held notes, reading the counts, and what the host commands.
 */
#include "session.h"

/* ---- Which notes are taken ---- */

int32_t mdb_accept_effective(const struct session *session)
{
    if (session->blocked || session->fault || session->quit || session->setup.valued_count == 0)
        return CFOIL_ACCEPT_NONE;
    /* Without escrow nothing can be held, and without a count only escrow proves a credit. */
    bool escrow_needed = session->accept_wanted == CFOIL_ACCEPT_HOLD || !session->settings.count_used;
    return escrow_needed && !session->setup.escrow ? CFOIL_ACCEPT_NONE : session->accept_wanted;
}

static bool stacks_at_once(const struct session *session, int32_t accept)
{
    return accept == CFOIL_ACCEPT_ALL && session->settings.count_used;
}

void mdb_types_begin(struct session *session, enum purpose purpose)
{
    uint16_t mask = 0;
    int32_t accept = mdb_accept_effective(session);
    for (uint32_t type = 0; type < MDB_TYPES; type++) {
        if (accept != CFOIL_ACCEPT_NONE && session->setup.notes[type].valued)
            mask = (uint16_t)(mask | 1u << type);
    }
    uint16_t escrow = stacks_at_once(session, accept) ? 0 : mask;
    uint8_t command[] = {COMMAND_BILL_TYPE, (uint8_t)(mask >> 8), (uint8_t)(mask & 0xFF), (uint8_t)(escrow >> 8),
                         (uint8_t)(escrow & 0xFF)};
    session->accept_target = accept;
    if (stacks_at_once(session, accept))
        session->free_us = UINT64_MAX; /* already before the answer, which may be lost */
    mdb_exchange_begin(session, purpose, command, sizeof command);
}

void mdb_types_taken(struct session *session)
{
    session->accept_now = session->accept_target;
    session->types_wrong = false;
    session->config_us = session->now_us;
    if (session->free_us == UINT64_MAX && !stacks_at_once(session, session->accept_now))
        session->free_us = session->now_us + FREE_US;
    if (session->stage != STAGE_RUN) {
        session->stage = STAGE_RUN;
        session->poll_us = session->now_us;
        session->watch_us = session->now_us + WATCH_US;
    }
    session->told = false;
    mdb_ready_tell(session);
}

static const char *notes_text(const struct session *session)
{
    switch (session->setup.source) {
    case MDB_CURRENCY_MISSING:
        return "The validator does not tell its currency in a form we know: set currency=XXX.";
    case MDB_CURRENCY_DIFFERENT:
        return "The setting currency contradicts what the validator says: correct one of them.";
    default:
        return "The validator tells no note of known value.";
    }
}

void mdb_ready_tell(struct session *session)
{
    if (session->told)
        return;
    session->told = true;
    if (!session->settings.count_used && !session->unused_told) {
        session->unused_told = true;
        mdb_condition_tell(session, CFOIL_CONDITION_NONE, "stacker count",
                           "The stacker count is not used: each credit rests on our own stack command alone.");
    }
    if (session->fault)
        say_state(session->host, CFOIL_LANE_FAULT, CFOIL_E_DEVICE_FAULT,
                  "The validator reports a fault: see the events.");
    else if (session->disabled)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_E_DEVICE_REFUSED, "The validator says that it is disabled.");
    else if (session->accept_now != CFOIL_ACCEPT_NONE)
        say_state(session->host, CFOIL_LANE_ACCEPTING, CFOIL_OK, "Ready and accepting notes.");
    else if (session->setup.valued_count == 0)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_E_DEVICE_NOTES, "%s", notes_text(session));
    else if (session->blocked)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_OK,
                  "Stopped taking notes until the host says so: see the events.");
    else if (session->accept_wanted != CFOIL_ACCEPT_NONE && !session->setup.escrow)
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_E_DEVICE_REFUSED,
                  "The validator has no escrow: it can hold no note, and prove none without a stacker count.");
    else
        say_state(session->host, CFOIL_LANE_IDLE, CFOIL_OK, "Ready; no notes are accepted.");
}

/* ---- What is due ---- */

static void quit_begin(struct session *session)
{
    session->quit_done = true;
    mdb_types_begin(session, PURPOSE_QUIT);
}

static bool escrow_begin(struct session *session)
{
    struct held *held = &session->held;
    bool stack = held->state == HELD_STACKING;
    if (held->escrow_us > session->now_us)
        return false;
    if (held->tries_left == 0) {
        say_log(session->host, CFOIL_LOG_ERROR, "escrow_failed", "The validator does not move the held note.");
        mdb_held_doubt(session);
        return false;
    }
    held->tries_left--;
    held->escrow_us = UINT64_MAX;
    held->permit = stack;
    uint8_t command[] = {COMMAND_ESCROW, stack ? ESCROW_STACK : ESCROW_RETURN};
    mdb_exchange_begin(session, PURPOSE_ESCROW, command, sizeof command);
    return true;
}

/* Nobody has decided in time, or the device has not told what became of the note. */
static void held_time_check(struct session *session)
{
    struct held *held = &session->held;
    if (held->state == HELD_WAITING && session->now_us >= held->until_us) {
        say_log(session->host, CFOIL_LOG_NOTICE, "hold_over",
                "Nobody decided about the held note in time: it goes back.");
        held->state = HELD_RETURNING;
        held->escrow_us = session->now_us;
    }
    if (session->now_us < held->outcome_us)
        return;
    say_log(session->host, CFOIL_LOG_WARNING, "outcome_overdue",
            "The validator does not tell what became of the held note.");
    mdb_held_doubt(session);
}

static bool types_differ(const struct session *session)
{
    return session->types_wrong || session->accept_now != mdb_accept_effective(session);
}

/* 09 although it was told to take notes: told again, from time to time. A full or open device has better reasons. */
static void disabled_check(struct session *session)
{
    bool reasons = session->fault || session->full || session->level_us[0x08] != 0 || session->held.state != HELD_NONE;
    if (session->level_us[0x09] == 0 || session->accept_now == CFOIL_ACCEPT_NONE || reasons ||
        session->now_us - session->config_us < LEVEL_US || session->types_wrong)
        return;
    session->types_wrong = true;
    if (session->disabled) {
        session->types_us = session->config_us + DISABLED_US;
        return;
    }
    session->disabled = true;
    session->told = false;
    session->types_us = session->now_us;
    say_log(session->host, CFOIL_LOG_WARNING, "disabled", "The validator says that it is disabled; enabling it again.");
}

static bool count_begin(struct session *session)
{
    static const uint8_t command[] = {COMMAND_STACKER};
    if (session->now_us >= session->watch_us) {
        session->watch_us = session->now_us + WATCH_US;
        session->count_wanted = true;
    }
    if (!session->count_wanted)
        return false;
    session->count_wanted = false;
    mdb_exchange_begin(session, PURPOSE_COUNT, command, sizeof command);
    return true;
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
    due = earlier(due, earlier(held->escrow_us, held->outcome_us));
    if (held->state == HELD_WAITING)
        due = earlier(due, held->until_us);
    if (types_differ(session))
        due = earlier(due, session->types_us);
    return due;
}

uint64_t mdb_run_next(struct session *session)
{
    static const uint8_t poll[] = {COMMAND_POLL};
    if (session->quit) {
        if (session->quit_done || !session->proved)
            return UINT64_MAX;
        quit_begin(session);
        return session->now_us;
    }
    held_time_check(session);
    disabled_check(session);
    mdb_ready_tell(session);
    if (escrow_begin(session) || count_begin(session))
        return session->now_us;
    if (types_differ(session) && session->now_us >= session->types_us)
        mdb_types_begin(session, PURPOSE_TYPES);
    else if (session->now_us >= session->poll_us)
        mdb_exchange_begin(session, PURPOSE_POLL, poll, sizeof poll);
    else
        return due_next(session);
    return session->now_us;
}

/* ---- What comes back ---- */

static void poll_answer(struct session *session, enum outcome outcome)
{
    const struct mdb_reader *answer = &session->exchange.reader;
    session->poll_us = session->now_us + session->settings.poll_us;
    if (outcome != OUTCOME_ACK && outcome != OUTCOME_DATA) {
        mdb_lost_check(session);
        return;
    }
    mdb_poll_take(session, answer->bytes, outcome == OUTCOME_DATA ? answer->length : 0);
    if (session->claim_count > 0 || session->settle_us != UINT64_MAX)
        session->count_wanted = true;
    if (!session->reset_seen)
        return;
    mdb_startup_begin(session, STAGE_SETUP); /* a reset: it needs no other */
    say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "The validator restarted; starting it up again.");
}

static void count_answer(struct session *session, enum outcome outcome)
{
    static const uint8_t recycler[] = {COMMAND_EXPANSION, EXPANSION_RECYCLER_COUNT};
    const uint8_t *data = session->exchange.reader.bytes;
    if (outcome != OUTCOME_DATA) {
        mdb_counts_fail(session);
        mdb_lost_check(session);
        return;
    }
    uint32_t read = (uint32_t)(data[0] << 8 | data[1]);
    mdb_full_take(session, (read & 0x8000) != 0);
    if (!session->settings.count_used)
        return;
    mdb_count_take(session, COUNTER_STACKER, read & 0x7FFF);
    if (session->recycler)
        mdb_exchange_begin(session, PURPOSE_RECYCLER, recycler, sizeof recycler);
    else
        mdb_counts_judge(session);
}

static void recycler_answer(struct session *session, enum outcome outcome)
{
    if (outcome != OUTCOME_DATA) {
        mdb_counts_fail(session);
        return;
    }
    mdb_count_take(session, COUNTER_RECYCLER, mdb_recycler_count(session->exchange.reader.bytes));
    mdb_counts_judge(session);
}

static void escrow_answer(struct session *session, enum outcome outcome)
{
    struct held *held = &session->held;
    session->poll_us = session->now_us; /* whatever it was, the next POLL tells more */
    if (outcome == OUTCOME_ACK)
        held->outcome_us = session->now_us + OUTCOME_US; /* received, which is not done */
    else
        held->escrow_us = session->now_us + ESCROW_AGAIN_US; /* unless POLL says meanwhile that it has moved */
}

void mdb_run_answer(struct session *session, enum outcome outcome)
{
    switch (session->exchange.purpose) {
    case PURPOSE_POLL:
        poll_answer(session, outcome);
        break;
    case PURPOSE_COUNT:
        count_answer(session, outcome);
        break;
    case PURPOSE_RECYCLER:
        recycler_answer(session, outcome);
        break;
    case PURPOSE_ESCROW:
        escrow_answer(session, outcome);
        break;
    case PURPOSE_TYPES:
        session->types_us = session->now_us + CONFIG_AGAIN_US;
        if (outcome == OUTCOME_ACK)
            mdb_types_taken(session);
        else
            mdb_lost_check(session);
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
    if (accept != CFOIL_ACCEPT_NONE)
        session->blocked = false;
    session->types_us = session->now_us;
    session->told = session->told && session->stage != STAGE_RUN;
    return CFOIL_OK;
}

static int32_t escrow_command(struct session *session, enum held_state state)
{
    struct held *held = &session->held;
    /* A note that is on its way to the cash box is never asked back: the two commands could cross. */
    if (held->state != HELD_WAITING) {
        bool none = held->state == HELD_NONE || held->state == HELD_LATER || state == HELD_RETURNING;
        return none ? CFOIL_E_STATE_NO_NOTE : CFOIL_E_STATE_NOT_READY;
    }
    held->state = state;
    held->escrow_us = session->now_us;
    held->tries_left = ESCROW_TRIES;
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
    return CFOIL_OK;
}

int32_t mdb_command(struct session *session, int32_t command, int32_t argument)
{
    switch (command) {
    case CFOIL_COMMAND_ACCEPT:
        return accept_command(session, argument);
    case CFOIL_COMMAND_STACK:
        return escrow_command(session, HELD_STACKING);
    case CFOIL_COMMAND_RETURN:
        return escrow_command(session, HELD_RETURNING);
    case CFOIL_COMMAND_HOLD:
        return hold_command(session, argument);
    case CFOIL_COMMAND_QUIT:
        session->quit = true;
        return CFOIL_OK;
    default:
        return CFOIL_E_ARGUMENT_RANGE;
    }
}
