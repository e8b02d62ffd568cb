/*
 * One request carried to its answer: echo, damage, time-outs and retries. What an answer means is not known here.
 *
 * A device that gets a damaged request stays silent (published device manual: there is no NAK for damage), so silence
 * means 'send again'. Bytes that do not make a frame are never searched for one inside: a frame found in the middle of a
 * damaged answer could be anything. The line is left to fall silent and the request is repeated. After a request that was
 * sent more than once the next one waits until no late answer can come any more: it would be taken for the wrong one's.
 */
#include "session.h"

#include <string.h>

/* Is a reply of this length an answer to the request? A late answer to another request mostly has another length. */
static bool length_fits(uint8_t header, uint8_t length)
{
    switch (header) {
    case HEADER_SIMPLE_POLL:
    case HEADER_MASTER_WRITE:
    case HEADER_TYPES_WRITE:
    case HEADER_MODE_WRITE:
        return length == 0;
    case HEADER_EVENTS:
        return length == 11;
    case HEADER_SCALING:
        return length == 3;
    case HEADER_POLLING_PRIORITY:
    case HEADER_TYPES_READ:
        return length == 2;
    case HEADER_MASTER_READ:
    case HEADER_MODE_READ:
        return length == 1;
    case HEADER_SELF_CHECK:
        return length == 1 || length == 2;
    case HEADER_ROUTE:
        return length <= 1;
    case HEADER_SERIAL:
        return length == 3 || length == 4;
    default:
        return true; /* texts of free length */
    }
}

static uint64_t earlier(uint64_t left, uint64_t right)
{
    return left < right ? left : right;
}

static uint64_t later(uint64_t left, uint64_t right)
{
    return left > right ? left : right;
}

static uint64_t answer_time(const struct session *session)
{
    uint64_t answer_us = session->settings.answer_us;
    switch (session->exchange.header) {
    case HEADER_SELF_CHECK:
    case HEADER_TYPES_WRITE:
    case HEADER_MODE_WRITE:
        return later(answer_us, SLOW_ANSWER_US);
    case HEADER_ROUTE:
        return later(answer_us, ROUTE_ANSWER_US);
    default:
        return answer_us;
    }
}

static void send_now(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    struct cctalk_frame frame = {.destination = session->address,
                                 .source = ADDRESS_HOST,
                                 .header = exchange->header,
                                 .length = exchange->length};
    memcpy(frame.data, exchange->data, exchange->length);
    uint8_t bytes[CCTALK_FRAME_MAX];
    exchange->sent_length = cctalk_frame_build(session->check, &frame, bytes);
    memcpy(exchange->sent, bytes, exchange->sent_length);
    exchange->received_length = 0; /* whatever came before belongs to no request */
    exchange->draining = false;
    exchange->deadline_us = session->now_us + answer_time(session);
    exchange->limit_us = exchange->deadline_us + NOISE_LIMIT_US;
    session->host->send(session->host->user, exchange->sent, exchange->sent_length);
}

void cctalk_exchange_begin(struct session *session, enum purpose purpose, uint8_t header, const uint8_t *data,
                           uint8_t length, uint32_t tries)
{
    struct exchange *exchange = &session->exchange;
    exchange->under_way = true;
    exchange->purpose = purpose;
    exchange->header = header;
    exchange->length = length;
    if (length > 0)
        memcpy(exchange->data, data, length);
    exchange->tries_left = tries - 1;
    exchange->out_of_step = false;
    send_now(session);
}

static void noise_count(struct session *session)
{
    if (session->now_us - session->noise_begin_us > NOISE_PERIOD_US) {
        session->noise_begin_us = session->now_us;
        session->noise = 0;
    }
    session->noise++;
    if (session->noise == NOISE_LIMIT)
        cctalk_condition_tell(session, CFOIL_CONDITION_LINE_NOISY, "line",
                              "Damaged messages on the line: check the cable and what runs beside it.");
}

/* Bytes that nobody asked for: an answer that came too late, or noise. The line is left to fall silent first. */
static void stray_take(struct session *session)
{
    struct exchange *exchange = &session->exchange;
    uint64_t quiet_us = session->now_us + (exchange->out_of_step ? QUIET_US : BYTE_GAP_US);
    quiet_us = earlier(quiet_us, exchange->finished_us + QUIET_LIMIT_US);
    exchange->earliest_us = later(quiet_us, exchange->earliest_us);
}

void cctalk_exchange_receive(struct session *session, const uint8_t *bytes, uint32_t length)
{
    struct exchange *exchange = &session->exchange;
    if (length == 0)
        return;
    bool late = exchange->received_length > 0 && session->now_us - exchange->received_us > BYTE_GAP_US;
    exchange->received_us = session->now_us;
    if (!exchange->under_way) {
        stray_take(session);
        return;
    }
    if (exchange->draining) {
        exchange->deadline_us = earlier(session->now_us + BYTE_GAP_US, exchange->limit_us);
        return;
    }
    if (late)
        exchange->received_length = 0; /* the rest of a message that broke off */
    uint32_t room = (uint32_t)sizeof exchange->received - exchange->received_length;
    uint32_t taken = length < room ? length : room;
    memcpy(exchange->received + exchange->received_length, bytes, taken);
    exchange->received_length += taken;
}

static void received_drop(struct exchange *exchange, uint32_t count)
{
    exchange->received_length -= count;
    memmove(exchange->received, exchange->received + count, exchange->received_length);
}

static void drain(struct session *session)
{
    noise_count(session);
    session->exchange.draining = true;
    session->exchange.received_length = 0;
    session->exchange.deadline_us = earlier(session->now_us + BYTE_GAP_US, session->exchange.limit_us);
}

enum taken { TAKEN_NOTHING, TAKEN_MORE, TAKEN_OUTCOME };

/* A frame for the host from the device asked: an answer, or something that cannot be one. */
static enum taken answer_take(struct session *session, const struct cctalk_frame *frame, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    bool refused = (frame->header == HEADER_REPLY_NAK || frame->header == HEADER_REPLY_BUSY) && frame->length == 0;
    if (exchange->received_length > 0) {
        drain(session); /* more follows although one answer was asked for: which of them is it? */
        return TAKEN_NOTHING;
    }
    if (refused) {
        *outcome = frame->header == HEADER_REPLY_NAK ? OUTCOME_NAK : OUTCOME_BUSY;
        return TAKEN_OUTCOME;
    }
    if (frame->header != HEADER_REPLY_DONE || !length_fits(exchange->header, frame->length)) {
        drain(session);
        return TAKEN_NOTHING;
    }
    exchange->answer = *frame;
    *outcome = OUTCOME_ANSWER;
    return TAKEN_OUTCOME;
}

/* Takes one message from the bytes received. */
static enum taken message_take(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    if (exchange->received_length >= exchange->sent_length &&
        memcmp(exchange->received, exchange->sent, exchange->sent_length) == 0) {
        session->echo = true;
        received_drop(exchange, exchange->sent_length);
        return TAKEN_MORE;
    }
    struct cctalk_frame frame;
    uint32_t used;
    switch (cctalk_frame_parse(session->check, exchange->received, exchange->received_length, &frame, &used)) {
    case CCTALK_NEED_MORE:
        return TAKEN_NOTHING;
    case CCTALK_DAMAGED:
        drain(session);
        return TAKEN_NOTHING;
    default:
        break;
    }
    received_drop(exchange, used);
    bool ours = frame.destination == ADDRESS_HOST &&
                (session->check == CCTALK_CHECK_CRC || frame.source == session->address);
    return ours ? answer_take(session, &frame, outcome) : TAKEN_MORE; /* else another device's talk */
}

static bool finish(struct session *session, enum outcome outcome)
{
    struct exchange *exchange = &session->exchange;
    exchange->under_way = false;
    exchange->received_length = 0;
    exchange->finished_us = session->now_us;
    exchange->earliest_us = session->now_us + GAP_US;
    if (outcome == OUTCOME_BUSY)
        exchange->earliest_us = session->now_us + BUSY_PAUSE_US;
    if (outcome == OUTCOME_SILENT)
        exchange->out_of_step = true;
    else
        session->answered_us = session->now_us;
    if (exchange->out_of_step && !session->quit)
        exchange->earliest_us = session->now_us + QUIET_US;
    return true;
}

/* The time for an answer has passed. */
static bool time_out(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    if (exchange->received_length > 0) {
        uint64_t until_us = earlier(exchange->received_us + BYTE_GAP_US, exchange->limit_us);
        if (session->now_us < until_us) {
            exchange->deadline_us = until_us; /* an answer is still coming in */
            return false;
        }
        noise_count(session);
    }
    if (exchange->tries_left == 0 || session->quit) {
        *outcome = OUTCOME_SILENT;
        return finish(session, *outcome);
    }
    exchange->tries_left--;
    exchange->out_of_step = true;
    send_now(session);
    return false;
}

uint16_t cctalk_number_read(const uint8_t bytes[2])
{
    return (uint16_t)(bytes[0] | bytes[1] << 8);
}

bool cctalk_exchange_advance(struct session *session, enum outcome *outcome)
{
    struct exchange *exchange = &session->exchange;
    enum taken taken = TAKEN_MORE;
    while (taken == TAKEN_MORE && exchange->received_length > 0)
        taken = message_take(session, outcome);
    if (taken == TAKEN_OUTCOME)
        return finish(session, *outcome);
    return session->now_us >= exchange->deadline_us ? time_out(session, outcome) : false;
}
