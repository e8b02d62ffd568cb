/*
 * One request carried to its answer, and the messages of a device that talks by itself. What a message means is not known
 * here.
 *
 * In what came damaged no message is searched for: one found in the middle of it could be anything. Of a polled device
 * the line is left to fall silent and the request is sent again. After a request that was sent more than once the next
 * one waits until no late answer can come any more: it would be taken for the wrong one's.
 */
#include "session.h"

#include <string.h>

uint64_t described_earlier(uint64_t left, uint64_t right)
{
    return left < right ? left : right;
}

struct described_view described_view_of(const struct session *session, const struct described_message *message)
{
    return (struct described_view){message->bytes, message->length, session->description->lines.separator};
}

/* ---- Sending ---- */

static void send_now(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    exchange->draining = false;
    exchange->deadline_us = session->now_us + exchange->what->answer_us;
    exchange->limit_us = exchange->deadline_us + NOISE_LIMIT_US;
    if (session->description->polled)
        session->received_length = 0; /* whatever came before belongs to no request */
    session->host->send(session->host->user, exchange->sent, exchange->sent_length);
}

void described_exchange_begin(struct session *session, enum purpose purpose, const struct described_exchange *what,
                              const struct described_bytes *send, uint32_t tries)
{
    struct exchange *exchange = &session->exchange;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    exchange->sent_length = described_message_build(session->description, send, session->sequence, raw);
    memcpy(exchange->sent, raw, exchange->sent_length);
    exchange->under_way = true;
    exchange->purpose = purpose;
    exchange->what = what;
    exchange->tries_left = tries - 1;
    exchange->out_of_step = false;
    exchange->other = false;
    send_now(session);
}

/* ---- Noise ---- */

void described_noise_count(struct session *session)
{
    if (session->now_us - session->noise_begin_us > NOISE_PERIOD_US) {
        session->noise_begin_us = session->now_us;
        session->noise = 0;
    }
    session->noise++;
    if (session->noise == NOISE_LIMIT)
        described_condition_tell(session, CFOIL_CONDITION_LINE_NOISY, "line",
                                 "Damaged messages on the line: check the cable and what runs beside it.");
}

/* A message of a talking device was damaged. Nobody can ask for it again: without a count it may have been money. */
static void damage_take(struct session *session)
{
    const struct description *description = session->description;
    if (session->now_us - session->damage_us > description->byte_gap_us)
        described_noise_count(session); /* what follows at once is of the same damage */
    session->damage_us = session->now_us;
    bool repeats = description->acknowledge.length > 0 || description->driver == DESCRIBED_DRIVER_DEVICE;
    if (repeats || session->damage_told || !session->based)
        return;
    session->damage_told = true; /* once until a message comes whole again */
    described_lost_tell(session, 0, CFOIL_CONDITION_LINE_NOISY,
                        "A message of the device came damaged: what it told is not known. Count by hand.");
}

/* The beginning of a message whose rest does not come. */
static void gap_check(struct session *session)
{
    if (session->received_length == 0 && !session->skipping)
        return;
    if (session->now_us - session->received_us <= session->description->byte_gap_us)
        return;
    if (session->received_length > 0) {
        damage_take(session);
        session->skipping = session->description->text_lines;
    } else if (!session->description->text_lines) {
        session->skipping = false;
    }
    session->received_length = 0;
}

/* ---- Receiving ---- */

static void received_drop(struct session *session, uint32_t count)
{
    session->received_length -= count;
    memmove(session->received, session->received + count, session->received_length);
}

/* Bytes that nobody asked for: an answer that came too late, or noise. The line is left to fall silent first. */
static void stray_take(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    uint64_t quiet_us = session->now_us + (exchange->out_of_step ? QUIET_US : session->description->byte_gap_us);
    quiet_us = described_earlier(quiet_us, exchange->finished_us + QUIET_LIMIT_US);
    if (quiet_us > exchange->earliest_us)
        exchange->earliest_us = quiet_us;
}

/* True = the bytes are of no use. */
static bool polled_refuse(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    if (!exchange->under_way || exchange->what->silent) {
        stray_take(session);
        return true;
    }
    if (!exchange->draining)
        return false;
    exchange->deadline_us = described_earlier(session->now_us + session->description->byte_gap_us, exchange->limit_us);
    return true;
}

uint32_t described_receive(struct session *session, const uint8_t *bytes, uint32_t length)
{
    bool polled = session->description->polled;
    bool late = session->now_us - session->received_us > session->description->byte_gap_us;
    if (!polled)
        gap_check(session);
    session->received_us = session->now_us;
    if (polled && polled_refuse(session))
        return length;
    if (polled && late)
        session->received_length = 0; /* the rest of a message that broke off */
    uint32_t room = (uint32_t)sizeof session->received - session->received_length;
    uint32_t taken = length < room ? length : room;
    memcpy(session->received + session->received_length, bytes, taken);
    session->received_length += taken;
    return polled ? length : taken;
}

/* ---- A device that is asked ---- */

static void drain(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    exchange->draining = true;
    session->received_length = 0;
    exchange->deadline_us = described_earlier(session->now_us + session->description->byte_gap_us, exchange->limit_us);
}

/* Does the message answer this very request? */
static bool sequence_fits(const struct session *session, const struct described_message *message)
{
    if (session->description->driver != DESCRIBED_DRIVER_HOST)
        return true;
    struct described_view view = described_view_of(session, message);
    uint32_t value;
    return described_number_read(&session->description->sequence.number, &view, &value) && value == session->sequence;
}

static bool answer_fits(const struct session *session, const struct described_message *message)
{
    struct described_view view = described_view_of(session, message);
    return sequence_fits(session, message) && described_fits(&session->exchange.what->expect, &view);
}

enum taken { TAKEN_NOTHING, TAKEN_MORE, TAKEN_OUTCOME };

static enum taken answer_take(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    if (session->received_length > 0) {
        described_noise_count(session);
        drain(session); /* more follows although one answer was asked for: which of them is it? */
        return TAKEN_NOTHING;
    }
    if (!answer_fits(session, &exchange->answer)) {
        exchange->other = true;
        drain(session);
        return TAKEN_NOTHING;
    }
    *outcome = OUTCOME_ANSWER;
    return TAKEN_OUTCOME;
}

/* What was sent comes back first on a line that both directions share. */
static bool echo_drop(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    if (!session->description->echo || session->received_length < exchange->sent_length ||
        memcmp(session->received, exchange->sent, exchange->sent_length) != 0)
        return false;
    received_drop(session, exchange->sent_length);
    return true;
}

/* Takes one message from the bytes received. */
static enum taken message_take(struct session *session, enum outcome *outcome)
{
    uint32_t used;
    if (echo_drop(session))
        return TAKEN_MORE;
    switch (described_message_take(session->description, session->received, session->received_length,
                                   &session->exchange.answer, &used)) {
    case DESCRIBED_NEED_MORE:
        return TAKEN_NOTHING;
    case DESCRIBED_DAMAGED:
        described_noise_count(session);
        drain(session);
        return TAKEN_NOTHING;
    default:
        break;
    }
    received_drop(session, used);
    return session->exchange.answer.length == 0 ? TAKEN_MORE
                                                : answer_take(session, outcome); /* empty lines say nothing */
}

static bool finish(struct session *session, enum outcome outcome)
{
    struct exchange *exchange = &session->exchange;
    const struct description *description = session->description;
    exchange->under_way = false;
    exchange->finished_us = session->now_us;
    exchange->earliest_us = session->now_us + description->pause_us;
    if (exchange->other || (outcome == OUTCOME_ANSWER && !exchange->what->silent))
        session->answered_us = session->now_us;
    if (outcome == OUTCOME_ANSWER) {
        if (!exchange->what->silent && !exchange->what->events)
            described_answer_count(session, &exchange->answer);
        if (description->driver == DESCRIBED_DRIVER_HOST)
            session->sequence = described_count_next(&description->sequence, session->sequence);
    } else {
        exchange->out_of_step = true;
    }
    if (description->polled) {
        session->received_length = 0;
        if (exchange->out_of_step && !session->quit)
            exchange->earliest_us = session->now_us + QUIET_US;
    }
    return true;
}

/* The time for an answer has passed. */
static bool time_out(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    if (exchange->what->silent) {
        exchange->answer.length = 0;
        *outcome = OUTCOME_ANSWER;
        return finish(session, *outcome);
    }
    if (session->description->polled && session->received_length > 0) {
        uint64_t until_us = described_earlier(session->received_us + session->description->byte_gap_us,
                                              exchange->limit_us);
        if (session->now_us < until_us) {
            exchange->deadline_us = until_us; /* an answer is still coming in */
            return false;
        }
        described_noise_count(session);
    }
    if (exchange->tries_left == 0 || session->quit) {
        *outcome = exchange->other ? OUTCOME_OTHER : OUTCOME_SILENT;
        return finish(session, *outcome);
    }
    exchange->tries_left--;
    exchange->out_of_step = true;
    send_now(session);
    return false;
}

/* ---- A device that talks ---- */

enum told { TOLD_NEWS, TOLD_ANSWER, TOLD_LATE };

static enum told told_what(struct session *session, const struct described_message *message)
{
    struct exchange *exchange = &session->exchange;
    if (exchange->what == NULL || exchange->what->silent || !answer_fits(session, message))
        return TOLD_NEWS;
    if (exchange->under_way) {
        exchange->answer = *message;
        return TOLD_ANSWER;
    }
    /* An answer that nobody waits for any more is no news of the device. */
    return exchange->out_of_step && session->now_us - exchange->finished_us < LATE_US ? TOLD_LATE : TOLD_NEWS;
}

/* What was damaged is dropped, up to where a message can begin again. */
static void damaged_drop(struct session *session, uint32_t used)
{
    const struct description *description = session->description;
    damage_take(session);
    if (description->text_lines) {
        uint8_t last = session->received[used - 1];
        session->skipping = last != '\r' && last != '\n'; /* the end of that line is still to come */
        received_drop(session, used);
        return;
    }
    uint32_t drop = 1;
    const uint8_t *begin = description->frame.begin;
    while (drop < session->received_length && session->received[drop] != begin[0])
        drop++;
    /* Without a mark to begin with, only silence tells where the next message begins. */
    received_drop(session, description->frame.begin_length > 0 ? drop : session->received_length);
    session->skipping = description->frame.begin_length == 0;
}

/* While skipping: false = still inside of what is skipped. */
static bool skipped(struct session *session)
{
    if (!session->skipping)
        return true;
    if (!session->description->text_lines) {
        session->received_length = 0;
        return false;
    }
    uint8_t last = session->description->lines.end == DESCRIBED_END_CR ? '\r' : '\n';
    const uint8_t *end = memchr(session->received, last, session->received_length);
    received_drop(session, end == NULL ? session->received_length : (uint32_t)(end - session->received) + 1);
    session->skipping = end == NULL;
    return end != NULL;
}

static enum taken talk_take(struct session *session)
{
    struct described_message message;
    uint32_t used;
    if (!skipped(session))
        return TAKEN_NOTHING;
    switch (
        described_message_take(session->description, session->received, session->received_length, &message, &used)) {
    case DESCRIBED_NEED_MORE:
        return TAKEN_NOTHING;
    case DESCRIBED_DAMAGED:
        damaged_drop(session, used);
        return TAKEN_MORE;
    default:
        break;
    }
    received_drop(session, used);
    if (message.length == 0)
        return TAKEN_MORE;
    session->damage_told = false;
    session->answered_us = session->now_us;
    enum told told = told_what(session, &message);
    if (told == TOLD_NEWS)
        described_message_read(session, &message);
    return told == TOLD_ANSWER ? TAKEN_OUTCOME : TAKEN_MORE;
}

static bool talk_advance(struct session *session, enum outcome *outcome)
{
    enum taken taken = TAKEN_MORE;
    while (taken == TAKEN_MORE && session->received_length > 0)
        taken = talk_take(session);
    gap_check(session);
    if (taken == TAKEN_OUTCOME) {
        *outcome = OUTCOME_ANSWER;
        return finish(session, *outcome);
    }
    return session->exchange.under_way && session->now_us >= session->exchange.deadline_us ? time_out(session, outcome)
                                                                                           : false;
}

bool described_exchange_advance(struct session *session, enum outcome *outcome)
{
    if (!session->description->polled)
        return talk_advance(session, outcome);
    if (!session->exchange.under_way)
        return false;
    enum taken taken = TAKEN_MORE;
    while (taken == TAKEN_MORE && session->received_length > 0)
        taken = message_take(session, outcome);
    if (taken == TAKEN_OUTCOME)
        return finish(session, *outcome);
    return session->now_us >= session->exchange.deadline_us ? time_out(session, outcome) : false;
}
