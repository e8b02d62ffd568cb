/* Which bytes go over the line? Message structure, checksum and CRC, receiver time-out and local echo: ccTalk generic
 * specification, part 1, as restated by published device manuals. The faults are our own. */
#include "line.h"

#include <string.h>

enum { HOST_ADDRESS = 1, FRAME_EXTRA = 5, INTER_BYTE_TIMEOUT_MS = 50, ADDRESS_POLL = 253, ADDRESS_POLL_STEP_MS = 4 };

static void chunk_sent(void *user, const struct chunk *chunk)
{
    struct line *line = user;
    if (chunk->command >= 0)
        line->answered[chunk->command]++;
    if (chunk->command == 159 && chunk->intact)
        line->device->events_read = chunk->events;
}

void line_start(struct line *line, struct device *device, const struct settings *settings, const struct truth *truth)
{
    memset(line, 0, sizeof *line);
    line->device = device;
    line->settings = settings;
    line->truth = truth;
    line->outbox.sent = chunk_sent;
    line->outbox.user = line;
}

void line_clear(struct line *line)
{
    line->received_count = 0;
    outbox_clear(&line->outbox);
}

static bool deaf(const struct fault *fault)
{
    return fault->kind->effect == EFFECT_OWN && fault->kind->own == OWN_DEAF;
}

static void fault_put(struct line *line, struct fault *fault, struct outgoing *out)
{
    fault_apply(fault, out);
    if (fault->kind->own == OWN_STALE)
        outgoing_lead_bytes(out, line->previous, line->previous_length);
    else if (fault->kind->own == OWN_ECHO)
        outgoing_lead_bytes(out, line->received, line->received_count);
}

static void fault_log(const struct line *line, const struct fault *fault, int header, int64_t now_ms)
{
    truth_begin(line->truth, now_ms, "fault");
    truth_text(line->truth, "kind", fault->kind->word);
    truth_number(line->truth, "header", header);
    truth_end(line->truth);
}

/* Polynomial 0x1021, start value 0, not reflected, over all bytes but the two CRC bytes themselves. */
static unsigned crc_byte(unsigned crc, uint8_t byte)
{
    crc ^= (unsigned)byte << 8;
    for (int bit = 0; bit < 8; bit++)
        crc = (crc & 0x8000U) != 0 ? (crc << 1 ^ 0x1021U) & 0xFFFFU : crc << 1;
    return crc;
}

static unsigned frame_crc(const uint8_t *frame, size_t length)
{
    unsigned crc = crc_byte(crc_byte(0, frame[0]), frame[1]);
    for (size_t i = 3; i < length - 1; i++)
        crc = crc_byte(crc, frame[i]);
    return crc;
}

static uint8_t bytes_sum(const uint8_t *bytes, size_t length)
{
    unsigned sum = 0;
    for (size_t i = 0; i < length; i++)
        sum += bytes[i];
    return (uint8_t)(sum & 0xFFU);
}

static bool frame_good(const struct line *line, const uint8_t *frame, size_t length)
{
    if (line->settings->crc)
        return frame_crc(frame, length) == (frame[2] | (unsigned)frame[length - 1] << 8);
    return bytes_sum(frame, length) == 0;
}

/* Gives the length. */
static size_t frame_build(const struct line *line, const struct reply *reply, uint8_t frame[FRAME_MOST])
{
    /* With a CRC the request does not say who sent it, so the answer goes to address 1. */
    frame[0] = line->settings->crc ? HOST_ADDRESS : line->received[2];
    frame[1] = (uint8_t)reply->length;
    frame[2] = (uint8_t)line->settings->address;
    frame[3] = (uint8_t)reply->header;
    memcpy(frame + 4, reply->data, reply->length);
    size_t length = reply->length + FRAME_EXTRA;
    uint8_t *last = &frame[length - 1];
    if (line->settings->crc) {
        unsigned crc = frame_crc(frame, length);
        frame[2] = (uint8_t)(crc & 0xFFU);
        *last = (uint8_t)(crc >> 8);
    } else {
        *last = (uint8_t)(0x100U - bytes_sum(frame, length - 1));
    }
    return length;
}

static bool request_unheard(struct line *line, int header, int64_t now_ms)
{
    bool unheard = false;
    for (size_t i = 0; i < line->faults.count; i++) {
        struct fault *fault = &line->faults.fault[i];
        if (!deaf(fault) || !fault_strikes(fault, header))
            continue;
        fault_log(line, fault, header, now_ms);
        unheard = true;
    }
    return unheard;
}

static void answer_send(struct line *line, const struct reply *reply, int header, int64_t now_ms)
{
    uint8_t whole[FRAME_MOST];
    size_t length = frame_build(line, reply, whole);
    struct outgoing out = {.bits = 8, .intact = true, .delay_ms = line->settings->reply_ms};
    outgoing_lead_bytes(&out, whole, length);
    out.start = 0;
    for (size_t i = 0; i < line->faults.count; i++) {
        struct fault *fault = &line->faults.fault[i];
        if (deaf(fault) || !fault_strikes(fault, header))
            continue;
        fault_log(line, fault, header, now_ms);
        if (outgoing_worth(&out))
            fault_put(line, fault, &out);
    }
    memcpy(line->previous, whole, length);
    line->previous_length = length;
    struct chunk *last = out.mute ? NULL : outbox_answer(&line->outbox, &out, now_ms);
    if (last == NULL)
        return;
    last->command = header;
    last->intact = out.intact;
    last->events = line->device->events_made;
}

/* Address poll: the bare address byte, 4 ms x address after the request. */
static void address_send(struct line *line, int64_t now_ms)
{
    uint8_t address = (uint8_t)line->settings->address;
    outbox_add(&line->outbox, now_ms + (int64_t)ADDRESS_POLL_STEP_MS * address, &address, 1);
}

static void count_up(uint8_t *counter)
{
    if (*counter < 255)
        (*counter)++;
}

static void frame_handle(struct line *line, int64_t now_ms)
{
    const uint8_t *frame = line->received;
    size_t length = line->received_count;
    bool for_us = frame[0] == line->settings->address || frame[0] == 0;
    if (!for_us) {
        for (size_t i = 0; i < length; i++)
            count_up(&line->device->ignored);
        return;
    }
    if (!frame_good(line, frame, length)) {
        count_up(&line->device->bad_checksums);
        return;
    }
    int header = frame[3];
    line->requests[header]++;
    if (request_unheard(line, header, now_ms))
        return;
    if (header == ADDRESS_POLL) {
        address_send(line, now_ms);
        return;
    }
    struct request request = {.header = frame[3], .data = frame + 4, .length = length - FRAME_EXTRA};
    struct reply reply;
    device_answer(line->device, &request, &reply, now_ms);
    if (reply.header != REPLY_SILENT)
        answer_send(line, &reply, header, now_ms);
}

/* True when the byte ended a message. */
static bool byte_receive(struct line *line, uint8_t byte, int64_t now_ms)
{
    line->received[line->received_count++] = byte;
    if (line->received_count == 2 && byte > DATA_MOST) { /* no message is that long */
        count_up(&line->device->ignored);
        line->received_count = 0;
    }
    if (line->received_count < FRAME_EXTRA || line->received_count < (size_t)line->received[1] + FRAME_EXTRA)
        return false;
    frame_handle(line, now_ms);
    line->received_count = 0;
    return true;
}

static size_t message_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    for (size_t i = 0; i < count; i++) {
        if (now_ms < line->device->quiet_until_ms)
            line->received_count = 0;
        else if (byte_receive(line, bytes[i], now_ms))
            return i + 1;
    }
    return count;
}

size_t line_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    if (line->received_count > 0 && now_ms - line->received_ms > INTER_BYTE_TIMEOUT_MS) {
        count_up(&line->device->timeouts);
        line->received_count = 0;
    }
    line->received_ms = now_ms;
    struct chunk *echo = NULL;
    if (line->settings->echo) /* host and device share one wire: the host hears itself, even if the device is off */
        echo = outbox_add(&line->outbox, now_ms, bytes, count);
    size_t used = message_receive(line, bytes, count, now_ms);
    if (echo != NULL)
        echo->length = used;
    return used;
}
