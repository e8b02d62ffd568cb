/*
 * One command carried to its answer: damage, RET, control bytes and time-outs.
 *
 * Section 2 and 6 of MDB/ICP 4.3: a data answer must be acknowledged; a damaged one is asked for again with RET; an
 * answer that was not acknowledged is kept by the peripheral and sent again at the next POLL. So a command is sent once
 * only, and whoever asked repeats it at a later slot if it must.
 */
#include "session.h"

#include <string.h>

enum { ANY = 0xFF };

/* Which data lengths answer a command; 0, 0 = ACK only. */
struct answer_form {
    uint8_t command;
    uint8_t expansion; /* second byte, ANY = whatever it is */
    bool ack;
    uint8_t shortest;
    uint8_t longest;
};

static const struct answer_form forms[] = {
    {COMMAND_SETUP, ANY, false, MDB_SETUP_MIN, MDB_SETUP_MAX},
    {COMMAND_POLL, ANY, true, 1, LENGTH_POLL_MAX},
    {COMMAND_STACKER, ANY, false, LENGTH_STACKER, LENGTH_STACKER},
    {COMMAND_EXPANSION, EXPANSION_IDENTITY, false, LENGTH_IDENTITY, LENGTH_IDENTITY},
    {COMMAND_EXPANSION, EXPANSION_IDENTITY_OPTIONS, false, LENGTH_IDENTITY_OPTIONS, LENGTH_IDENTITY_OPTIONS},
    {COMMAND_EXPANSION, EXPANSION_RECYCLER_SETUP, false, LENGTH_RECYCLER_SETUP, LENGTH_RECYCLER_SETUP},
    {COMMAND_EXPANSION, EXPANSION_RECYCLER_COUNT, false, LENGTH_RECYCLER_COUNT, LENGTH_RECYCLER_COUNT},
    {ANY, ANY, true, 0, 0}, /* all others are commands without data to answer */
};

static const struct answer_form *form_find(const uint8_t *command)
{
    const struct answer_form *form = forms;
    while (form->command != ANY &&
           (form->command != command[0] || (form->expansion != ANY && form->expansion != command[1])))
        form++;
    return form;
}

static void send(const struct session *session, const uint8_t *wire, uint32_t length)
{
    session->host->send(session->host->user, wire, length);
}

static void control_send(const struct session *session, uint16_t control)
{
    uint8_t wire[MDB_WIRE_MAX];
    send(session, wire, mdb_word_build(control, wire));
}

void mdb_exchange_begin(struct session *session, enum purpose purpose, const uint8_t *command, uint32_t length)
{
    struct exchange *exchange = &session->exchange;
    uint8_t wire[MDB_WIRE_MAX];
    uint32_t bytes = mdb_command_build(command, length, wire);
    memset(exchange->command, 0, sizeof exchange->command);
    memcpy(exchange->command, command, length);
    exchange->under_way = true;
    exchange->done = false;
    exchange->draining = false;
    exchange->purpose = purpose;
    exchange->rets_left = RET_MAX;
    exchange->words.half = false; /* whatever came before belongs to no command */
    mdb_reader_clear(&exchange->reader);
    exchange->deadline_us = session->now_us + (length + 1) * CHARACTER_US + session->settings.answer_us;
    exchange->limit_us = exchange->deadline_us + BABBLE_US;
    send(session, wire, bytes);
}

static void noise_count(struct session *session)
{
    if (session->now_us - session->noise_begin_us > NOISE_PERIOD_US) {
        session->noise_begin_us = session->now_us;
        session->noise = 0;
    }
    session->noise++;
    if (session->noise == NOISE_LIMIT)
        mdb_condition_tell(session, CFOIL_CONDITION_LINE_NOISY, "line",
                           "Damaged messages on the bus: check the cable and what runs beside it.");
}

static void drain(struct session *session)
{
    session->exchange.draining = true;
    session->exchange.deadline_us = session->now_us + QUIET_US;
}

static void outcome_set(struct session *session, enum outcome outcome)
{
    session->exchange.done = true;
    session->exchange.outcome = outcome;
    session->answered_us = session->now_us;
}

static void block_take(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    const struct answer_form *form = form_find(exchange->command);
    uint8_t length = exchange->reader.length;
    if (length < form->shortest || length > form->longest) {
        drain(session); /* the answer to another command, come late: RET brings the one that is due */
        return;
    }
    control_send(session, MDB_CONTROL_ACK);
    outcome_set(session, OUTCOME_DATA);
}

/* ---- Answers that come late ---- */

/* A command got no answer in time. Over a carrier that repeats lost packets the answer may be on its way all the same,
 * acknowledged on the bus already, so that the device will not say it again. */
static void late_expect(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    if (session->now_us >= exchange->late_us)
        exchange->late_polls = 0;
    if (exchange->purpose != PURPOSE_POLL) {
        exchange->other_us = session->now_us + LATE_US;
        return;
    }
    exchange->late_polls++;
    exchange->late_us = session->now_us + LATE_US;
}

/* Only while nothing else was asked since, and no data but that of a POLL can be under way. */
static bool late_awaited(const struct session *session)
{
    const struct exchange *exchange = &session->exchange;
    return session->stage == STAGE_RUN && exchange->purpose == PURPOSE_POLL && !exchange->done &&
           exchange->late_polls > 0 && session->now_us < exchange->late_us && session->now_us >= exchange->other_us;
}

/* A peripheral speaks only when it is spoken to (section 2), so this is the answer to a POLL that was given up. */
static void late_take(struct session *session, uint16_t word)
{
    struct exchange *exchange = &session->exchange;
    enum mdb_found found = mdb_reader_take(&exchange->reader, word);
    if (found == MDB_NEED_MORE)
        return;
    exchange->late_polls--;
    if (found == MDB_BLOCK && exchange->reader.length <= LENGTH_POLL_MAX) {
        exchange->under_way = true; /* as if it had never been given up */
        block_take(session);
        return;
    }
    mdb_reader_clear(&exchange->reader);
}

static void word_take(struct session *session, uint16_t word)
{
    struct exchange *exchange = &session->exchange;
    switch (mdb_reader_take(&exchange->reader, word)) {
    case MDB_NEED_MORE:
        exchange->deadline_us = session->now_us + BLOCK_GAP_US;
        break;
    case MDB_BLOCK:
        block_take(session);
        break;
    case MDB_ACK:
        if (form_find(exchange->command)->ack)
            outcome_set(session, OUTCOME_ACK);
        break; /* else it is the late answer to another command: the one that is due may still come */
    case MDB_NAK:
        outcome_set(session, OUTCOME_NAK);
        break;
    default:
        drain(session);
        break;
    }
}

void mdb_exchange_receive(struct session *session, const uint8_t *bytes, uint32_t length)
{
    struct exchange *exchange = &session->exchange;
    for (uint32_t i = 0; i < length; i++) {
        uint16_t word;
        if (!exchange->under_way || exchange->done) {
            /* Nobody was asked, or the answer has come already: a repetition or an answer that came too late. */
            if (exchange->earliest_us < session->now_us + GAP_US && session->now_us < exchange->limit_us)
                exchange->earliest_us = session->now_us + GAP_US;
            if (late_awaited(session) && mdb_words_take(&exchange->words, bytes[i], &word))
                late_take(session, word);
            continue;
        }
        if (exchange->draining)
            exchange->deadline_us = session->now_us + QUIET_US;
        else if (mdb_words_take(&exchange->words, bytes[i], &word))
            word_take(session, word);
        else if (exchange->deadline_us < session->now_us + BLOCK_GAP_US)
            exchange->deadline_us = session->now_us + BLOCK_GAP_US;
    }
}

static bool finish(struct session *session, enum outcome *outcome, enum outcome result, uint64_t pause_us)
{
    session->exchange.under_way = false;
    session->exchange.done = false;
    session->exchange.earliest_us = session->now_us + pause_us;
    *outcome = result;
    return true;
}

/* Damage, and the bus is quiet again: ask for the same once more, or give up. */
static bool repeat(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    noise_count(session);
    if (exchange->rets_left == 0) {
        control_send(session, MDB_CONTROL_NAK);
        return finish(session, outcome, OUTCOME_DAMAGED, STALE_US);
    }
    exchange->rets_left--;
    exchange->draining = false;
    exchange->words.half = false;
    mdb_reader_clear(&exchange->reader);
    exchange->deadline_us = session->now_us + CHARACTER_US + session->settings.answer_us;
    control_send(session, MDB_CONTROL_RET);
    return false;
}

bool mdb_exchange_advance(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    if (exchange->done)
        return finish(session, outcome, exchange->outcome, GAP_US);
    if (session->now_us >= exchange->limit_us)
        return finish(session, outcome, OUTCOME_DAMAGED, STALE_US); /* somebody else talks all the time */
    if (session->now_us < exchange->deadline_us)
        return false;
    if (exchange->draining || exchange->reader.length > 0 || exchange->words.half)
        return repeat(session, outcome);
    late_expect(session);
    return finish(session, outcome, OUTCOME_SILENT, STALE_US);
}
