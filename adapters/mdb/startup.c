/*
 * From an open port to a device that is known, configured as the host wants, and about to be polled.
 *
 * The order is that of MDB/ICP section 6 for controllers designed after July 2000 (from memory). Until something has
 * answered POLL at the address of bill validators, nothing else is sent.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

void mdb_startup_begin(struct session *session, enum stage stage)
{
    session->stage = stage;
    session->wait_us = session->now_us;
    session->failures = 0;
    session->candidate_known = false;
}

/* Start-up cannot go on: from the beginning again, in a while. */
static void again(struct session *session, const char *text)
{
    mdb_startup_begin(session, STAGE_PROBE);
    session->resumable = false;
    session->wait_us = session->now_us + AGAIN_US;
    say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "%s", text);
}

void mdb_lost_check(struct session *session)
{
    bool silent = session->now_us - session->answered_us > session->settings.silence_us;
    bool deaf = session->stage == STAGE_RUN && session->now_us - session->polled_us > session->settings.silence_us;
    if (session->lost || (!silent && !deaf))
        return;
    session->lost = true;
    session->resumable = session->stage == STAGE_RUN;
    session->revive_us = session->now_us + REVIVE_US;
    mdb_startup_begin(session, STAGE_PROBE);
    say_state(session->host, CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT,
              "No answer; the validator may be off, or the bus may not be connected.");
}

/* ---- What is sent ---- */

static enum stage stage_after(const struct session *session, enum stage stage)
{
    bool high = session->settings.security_high;
    switch (stage) {
    case STAGE_IDENTITY:
        return session->setup.level >= 2 ? STAGE_OPTIONS : high ? STAGE_SECURITY : STAGE_RECOVER;
    case STAGE_OPTIONS:
        return session->recycler ? STAGE_RECYCLER_SETUP : high ? STAGE_SECURITY : STAGE_RECOVER;
    case STAGE_RECYCLER_COUNT:
        return high ? STAGE_SECURITY : STAGE_RECOVER;
    default:
        return stage + 1;
    }
}

static bool optional(const struct session *session, enum stage stage)
{
    return (stage >= STAGE_IDENTITY && stage <= STAGE_SECURITY) ||
           (stage == STAGE_STACKER && !session->settings.count_used);
}

static void request_send(struct session *session)
{
    uint8_t command[MDB_DATA_MAX] = {COMMAND_POLL};
    uint32_t length = 1;
    switch (session->stage) {
    case STAGE_RESET:
        command[0] = COMMAND_RESET;
        break;
    case STAGE_SETUP:
        command[0] = COMMAND_SETUP;
        break;
    case STAGE_STACKER:
        command[0] = COMMAND_STACKER;
        break;
    case STAGE_IDENTITY:
        command[0] = COMMAND_EXPANSION;
        command[1] = session->setup.level >= 2 ? EXPANSION_IDENTITY_OPTIONS : EXPANSION_IDENTITY;
        length = 2;
        break;
    case STAGE_OPTIONS:
        command[0] = COMMAND_EXPANSION;
        command[1] = EXPANSION_OPTIONS;
        length = 6; /* four bytes of zero: no option */
        break;
    case STAGE_RECYCLER_SETUP:
        command[0] = COMMAND_EXPANSION;
        command[1] = EXPANSION_RECYCLER_SETUP;
        length = 2;
        break;
    case STAGE_RECYCLER_COUNT:
        command[0] = COMMAND_EXPANSION;
        command[1] = EXPANSION_RECYCLER_COUNT;
        length = 2;
        break;
    case STAGE_SECURITY:
        command[0] = COMMAND_SECURITY;
        command[1] = 0xFF; /* all types at high security */
        command[2] = 0xFF;
        length = 3;
        break;
    default:
        break; /* STAGE_PROBE and STAGE_AWAIT poll */
    }
    mdb_exchange_begin(session, PURPOSE_START, command, length);
}

/* Holds the bus for the time of a reset; nothing answers a break. */
static void break_send(struct session *session)
{
    uint8_t wire[MDB_WIRE_MAX];
    uint32_t length = mdb_word_build(CFOIL_WORD_BREAK, wire);
    session->host->send(session->host->user, wire, length);
    session->wait_us = session->now_us + BREAK_US;
}

/* A device that was there and does not answer any more. */
static void revive(struct session *session)
{
    static const uint8_t command[] = {COMMAND_RESET};
    mdb_held_doubt(session); /* whatever the device does with it now */
    session->resumable = false;
    session->revive_us = session->now_us + REVIVE_US;
    if (session->settings.bus_reset)
        break_send(session);
    else
        mdb_exchange_begin(session, PURPOSE_REVIVE, command, sizeof command);
}

void mdb_revive_answer(struct session *session, enum outcome outcome)
{
    if (outcome == OUTCOME_ACK)
        session->wait_us = session->now_us; /* ask at once */
}

static void await_begin(struct session *session)
{
    mdb_startup_begin(session, STAGE_AWAIT);
    session->await_us = session->now_us + AWAIT_US;
}

uint64_t mdb_startup_next(struct session *session)
{
    if (session->now_us < session->wait_us)
        return session->wait_us;
    switch (session->stage) {
    case STAGE_PROBE:
        if (session->lost && session->proved && session->now_us >= session->revive_us)
            revive(session);
        else
            request_send(session);
        break;
    case STAGE_BREAK:
        mdb_held_doubt(session);
        await_begin(session);
        break_send(session);
        session->await_us += BREAK_US;
        break;
    case STAGE_RECOVER:
        if (!session->recycler)
            session->counters[COUNTER_RECYCLER].known = false; /* known in another life, not read in this one */
        mdb_counts_recover(session);
        mdb_startup_begin(session, STAGE_TYPES);
        break;
    case STAGE_TYPES:
        mdb_types_begin(session, PURPOSE_START);
        break;
    case STAGE_RESET:
        mdb_held_doubt(session);
        session->reset_sent = true;
        request_send(session);
        break;
    default:
        request_send(session);
        break;
    }
    return session->now_us;
}

/* ---- What comes back ---- */

static void probe_take(struct session *session)
{
    session->proved = true;
    session->lost = false;
    session->reset_sent = false;
    if (session->resumable && !session->reset_seen) {
        session->resumable = false;
        session->stage = STAGE_RUN; /* the line was gone, the device was not: nothing has changed */
        session->poll_us = session->now_us + session->settings.poll_us;
        session->told = false;
        mdb_ready_tell(session);
        return;
    }
    session->resumable = false;
    say_state(session->host, CFOIL_LANE_STARTING, CFOIL_OK, "Starting up the validator.");
    if (session->reset_seen)
        mdb_startup_begin(session, STAGE_SETUP); /* it has just been reset */
    else
        mdb_startup_begin(session, session->settings.bus_reset ? STAGE_BREAK : STAGE_RESET);
}

static void await_take(struct session *session, bool answered)
{
    if (answered && session->reset_seen) {
        mdb_startup_begin(session, STAGE_SETUP);
        return;
    }
    session->wait_us = session->now_us + session->settings.poll_us;
    if (session->now_us < session->await_us)
        return;
    say_log(session->host, CFOIL_LOG_NOTICE, "reset_unseen", "The validator does not say that it was reset.");
    mdb_startup_begin(session, session->reset_sent ? STAGE_SETUP : STAGE_RESET);
}

static void setup_take(struct session *session)
{
    const struct mdb_reader *answer = &session->exchange.reader;
    mdb_setup_read(&session->setup, answer->bytes, answer->length, session->settings.currency);
    mdb_startup_begin(session, STAGE_STACKER);
}

/* The count is believed when two answers agree. False = ask again. */
static bool stacker_take(struct session *session)
{
    const uint8_t *data = session->exchange.reader.bytes;
    uint32_t read = (uint32_t)(data[0] << 8 | data[1]);
    if (!session->candidate_known || session->candidate != read) {
        session->candidate_known = true;
        session->candidate = read;
        return false;
    }
    mdb_full_take(session, (read & 0x8000) != 0);
    session->counters[COUNTER_STACKER].now = read & 0x7FFF;
    return true;
}

/* Letters and digits only, so that a device cannot put anything else on a screen or into a key. */
static uint32_t plain_copy(char *target, uint32_t length, const uint8_t *bytes, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        bool plain = (bytes[i] >= '0' && bytes[i] <= '9') || (bytes[i] >= 'A' && bytes[i] <= 'Z') ||
                     (bytes[i] >= 'a' && bytes[i] <= 'z') || bytes[i] == '-';
        if (plain)
            target[length++] = (char)bytes[i];
    }
    target[length] = '\0';
    return length;
}

/* Is there anything in a serial number besides zeros? */
static bool serial_told(const uint8_t *serial, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        if (serial[i] > '0' && serial[i] <= 'z')
            return true;
    }
    return false;
}

static void identity_tell(const struct session *session, const uint8_t *data, bool answered)
{
    char model[16] = "";
    char text[160];
    enum { MODEL = 15, MODEL_LENGTH = 12, VERSION = 27 };
    if (answered)
        plain_copy(model, 0, data + MODEL, MODEL_LENGTH);
    snprintf(text, sizeof text, "Bill validator %s %s, version %02X%02X, level %u, %s, %u note types%s.",
             session->key[0] != '\0' ? session->key + strlen("mdb/") : "without serial number", model,
             answered ? data[VERSION] : 0, answered ? data[VERSION + 1] : 0, session->setup.level,
             session->setup.currency[0] != '\0' ? session->setup.currency : "currency not known",
             session->setup.valued_count, session->setup.escrow ? ", escrow" : "");
    mdb_condition_tell(session, CFOIL_CONDITION_IDENTIFIED, "", text);
}

static void identity_take(struct session *session, bool answered)
{
    enum { MAKER = 3, SERIAL = 12, OPTIONS_LAST = 32 };
    const uint8_t *data = session->exchange.reader.bytes;
    char key[sizeof session->key] = "";
    if (answered && serial_told(data + MAKER, SERIAL)) {
        memcpy(key, "mdb/", sizeof "mdb/");
        plain_copy(key, (uint32_t)strlen(key), data, MAKER + SERIAL);
    }
    session->recycler = answered && session->exchange.reader.length > OPTIONS_LAST &&
                        (data[OPTIONS_LAST] & OPTION_RECYCLER) != 0;
    bool other = answered && strcmp(key, session->key) != 0;
    if (other && session->recovered) {
        mdb_held_doubt(session);
        session->held.state = HELD_NONE;
        session->held.permit = false;
        mdb_claims_abandon(session); /* what we knew is not about this device */
        session->counters[COUNTER_STACKER].now = session->candidate & 0x7FFF;
        session->stored_length = 0;
        session->recovered = false;
    }
    if (answered)
        memcpy(session->key, key, sizeof key);
    if (!session->recovered) {
        mdb_memory_load(session);
        identity_tell(session, data, answered);
    }
}

static void recycler_setup_take(const struct session *session)
{
    const uint8_t *data = session->exchange.reader.bytes;
    say_log(session->host, CFOIL_LOG_NOTICE, "recycler",
            "The recycler can hold the types of mask %02X%02X; it is not used.", data[0], data[1]);
}

static void recycler_count_take(struct session *session, bool answered)
{
    session->recycler = answered;
    if (answered)
        session->counters[COUNTER_RECYCLER].now = mdb_recycler_count(session->exchange.reader.bytes);
}

/* An optional stage is over, with an answer or without. */
static void stage_end(struct session *session, bool answered)
{
    enum stage stage = session->stage;
    if (stage == STAGE_IDENTITY)
        identity_take(session, answered);
    if (stage == STAGE_RECYCLER_SETUP && answered)
        recycler_setup_take(session);
    if (stage == STAGE_RECYCLER_COUNT)
        recycler_count_take(session, answered);
    mdb_startup_begin(session, stage_after(session, stage));
}

static void failure_take(struct session *session)
{
    mdb_lost_check(session);
    if (session->lost) {
        session->wait_us = session->now_us + PROBE_US;
        return;
    }
    session->failures++;
    session->wait_us = session->now_us + session->settings.poll_us; /* again at the next slot */
    if (session->stage == STAGE_PROBE)
        session->wait_us = session->now_us + PROBE_US;
    else if (optional(session, session->stage) && session->failures >= TRIES_OPTIONAL)
        stage_end(session, false);
    else if (session->stage == STAGE_STACKER && session->failures >= TRIES)
        again(session, "The validator does not tell its stacker count; trying again. See setting stacker_count.");
    else if (session->failures >= TRIES)
        again(session, "The validator does not answer as it should; trying again.");
}

static void poll_answer_take(struct session *session, bool data)
{
    const struct mdb_reader *answer = &session->exchange.reader;
    mdb_poll_take(session, answer->bytes, data ? answer->length : 0);
}

void mdb_startup_answer(struct session *session, enum outcome outcome)
{
    bool answered = outcome == OUTCOME_ACK || outcome == OUTCOME_DATA;
    if (answered && (session->stage == STAGE_PROBE || session->stage == STAGE_AWAIT))
        poll_answer_take(session, outcome == OUTCOME_DATA);
    if (session->stage == STAGE_AWAIT) {
        await_take(session, answered);
        if (!answered)
            mdb_lost_check(session);
        return;
    }
    if (!answered) {
        failure_take(session);
        return;
    }
    switch (session->stage) {
    case STAGE_PROBE:
        probe_take(session);
        break;
    case STAGE_RESET:
        await_begin(session);
        break;
    case STAGE_SETUP:
        setup_take(session);
        break;
    case STAGE_STACKER:
        if (stacker_take(session))
            stage_end(session, true);
        else if (++session->failures > TRIES)
            again(session, "The validator's stacker count is never the same twice; trying again.");
        break;
    case STAGE_TYPES:
        mdb_types_taken(session);
        break;
    default:
        stage_end(session, true);
        break;
    }
}
