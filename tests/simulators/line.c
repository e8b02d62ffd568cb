/* Which bytes go over the line? Message structure, checksum and CRC, receiver time-out and local echo: ccTalk generic
 * specification, part 1, as restated by published device manuals. The faults are our own. */
#include "line.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { HOST_ADDRESS = 1, FRAME_EXTRA = 5, INTER_BYTE_TIMEOUT_MS = 50, ADDRESS_POLL = 253, ADDRESS_POLL_STEP_MS = 4 };

#ifndef MSG_NOSIGNAL
#define MSG_NOSIGNAL 0 /* where it is missing, the socket option SO_NOSIGPIPE does the same */
#endif

/* An answer on its way out, while the faults work on it. */
struct outgoing {
    uint8_t bytes[CHUNK_BYTES];
    size_t length;
    size_t start; /* where the answer itself begins, behind garbage, echo or a stale answer */
    size_t split; /* not 0: pause before this byte */
    long delay_ms, pause_ms;
    bool intact, mute;
};

void line_start(struct line *line, struct device *device, const struct settings *settings, const struct truth *truth)
{
    memset(line, 0, sizeof *line);
    line->device = device;
    line->settings = settings;
    line->truth = truth;
}

void line_clear(struct line *line)
{
    line->received_count = 0;
    line->chunk_count = 0;
}

bool line_fault_add(struct line *line, const struct fault *fault)
{
    if (line->fault_count == LINE_FAULTS)
        return false;
    line->faults[line->fault_count++] = *fault;
    return true;
}

/* A small linear congruential generator, so that a seed gives the same faults on every machine. */
static unsigned long fault_random(struct fault *fault, unsigned long below)
{
    fault->random = (fault->random * 1103515245UL + 12345UL) & 0x7FFFFFFFUL;
    return (fault->random >> 8) % below;
}

static bool fault_strikes(struct fault *fault, int header)
{
    if (fault->header >= 0 && fault->header != header)
        return false;
    fault->matched++;
    if (fault->times > 0 && fault->used >= fault->times)
        return false;
    if (fault->every > 0 && fault->matched % fault->every != 0)
        return false;
    if (fault->reply > 0 && fault->matched != fault->reply)
        return false;
    if (fault->chance > 0 && fault_random(fault, 100) >= (unsigned long)fault->chance)
        return false;
    fault->used++;
    return true;
}

/* A position inside the answer itself, from `least` on. */
static size_t fault_position(struct fault *fault, const struct outgoing *out, size_t least)
{
    size_t length = out->length - out->start;
    size_t position = fault->byte >= 0 ? (size_t)fault->byte : least + fault_random(fault, length - least);
    if (position >= length)
        position = length - 1;
    return out->start + position;
}

static void outgoing_insert(struct outgoing *out, size_t position, const uint8_t *bytes, size_t count)
{
    if (count > sizeof out->bytes - out->length)
        return;
    memmove(out->bytes + position + count, out->bytes + position, out->length - position);
    memcpy(out->bytes + position, bytes, count);
    out->length += count;
}

/* Puts bytes before the answer. */
static void outgoing_lead(struct outgoing *out, const uint8_t *bytes, size_t count)
{
    size_t before = out->length;
    outgoing_insert(out, 0, bytes, count);
    out->start += out->length - before;
    if (out->split > 0)
        out->split += out->length - before;
}

static void outgoing_remove(struct outgoing *out, size_t position)
{
    memmove(out->bytes + position, out->bytes + position + 1, out->length - position - 1);
    out->length--;
}

static void garbage_lead(struct fault *fault, struct outgoing *out)
{
    uint8_t bytes[64];
    for (long i = 0; i < fault->value; i++)
        bytes[i] = (uint8_t)fault_random(fault, 256);
    outgoing_lead(out, bytes, (size_t)fault->value);
}

static void fault_apply(struct line *line, struct fault *fault, struct outgoing *out)
{
    bool shifts = fault->kind == FAULT_CUT || fault->kind == FAULT_PAUSE; /* some byte must come first */
    size_t position = fault_position(fault, out, shifts ? 1 : 0);
    switch (fault->kind) {
    case FAULT_LOST:
        outgoing_remove(out, position);
        break;
    case FAULT_DOUBLED:
        outgoing_insert(out, position, &out->bytes[position], 1);
        break;
    case FAULT_FLIP:
        out->bytes[position] ^= (uint8_t)(1U << fault_random(fault, 8));
        break;
    case FAULT_CUT:
        out->length = position;
        break;
    case FAULT_LATE:
        out->delay_ms += fault->value;
        break;
    case FAULT_PAUSE:
        out->split = position;
        out->pause_ms = fault->value;
        break;
    case FAULT_STALE:
        outgoing_lead(out, line->previous, line->previous_length);
        break;
    case FAULT_GARBAGE:
        garbage_lead(fault, out);
        break;
    case FAULT_ECHO:
        outgoing_lead(out, line->received, line->received_count);
        break;
    case FAULT_SILENCE:
    case FAULT_DEAF:
        out->mute = true;
        break;
    }
    out->intact = false;
}

/* The queue is kept in the order of time. */
static struct chunk *chunk_add(struct line *line, int64_t due_ms, const uint8_t *bytes, size_t length)
{
    if (line->chunk_count == CHUNKS || length == 0)
        return NULL;
    size_t place = line->chunk_count++;
    for (; place > 0 && line->chunks[place - 1].due_ms > due_ms && line->chunks[place - 1].sent == 0; place--)
        line->chunks[place] = line->chunks[place - 1];
    struct chunk *chunk = &line->chunks[place];
    *chunk = (struct chunk){.due_ms = due_ms, .length = length, .header = -1};
    memcpy(chunk->bytes, bytes, length);
    return chunk;
}

/* Answers never overtake each other. */
static int64_t answer_due(const struct line *line, int64_t now_ms, long delay_ms)
{
    int64_t due = now_ms + delay_ms;
    for (size_t i = 0; i < line->chunk_count; i++) {
        if (line->chunks[i].due_ms > due)
            due = line->chunks[i].due_ms;
    }
    return due;
}

static void outgoing_queue(struct line *line, const struct outgoing *out, int header, int64_t now_ms)
{
    int64_t due = answer_due(line, now_ms, out->delay_ms);
    size_t first = out->split > 0 && out->split < out->length ? out->split : out->length;
    struct chunk *last = chunk_add(line, due, out->bytes, first);
    if (first < out->length)
        last = chunk_add(line, due + out->pause_ms, out->bytes + first, out->length - first);
    if (last == NULL)
        return;
    last->header = header;
    last->intact = out->intact;
    last->events = line->device->events_made;
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

static void frame_build(const struct line *line, const struct reply *reply, struct outgoing *out)
{
    /* With a CRC the request does not say who sent it, so the answer goes to address 1. */
    out->bytes[0] = line->settings->crc ? HOST_ADDRESS : line->received[2];
    out->bytes[1] = (uint8_t)reply->length;
    out->bytes[2] = (uint8_t)line->settings->address;
    out->bytes[3] = (uint8_t)reply->header;
    memcpy(out->bytes + 4, reply->data, reply->length);
    out->length = reply->length + FRAME_EXTRA;
    uint8_t *last = &out->bytes[out->length - 1];
    if (line->settings->crc) {
        unsigned crc = frame_crc(out->bytes, out->length);
        out->bytes[2] = (uint8_t)(crc & 0xFFU);
        *last = (uint8_t)(crc >> 8);
    } else {
        *last = (uint8_t)(0x100U - bytes_sum(out->bytes, out->length - 1));
    }
}

static bool request_unheard(struct line *line, int header, int64_t now_ms)
{
    bool unheard = false;
    for (size_t i = 0; i < line->fault_count; i++) {
        if (line->faults[i].kind != FAULT_DEAF || !fault_strikes(&line->faults[i], header))
            continue;
        truth_fault(line->truth, now_ms, fault_name(FAULT_DEAF), header);
        unheard = true;
    }
    return unheard;
}

static void answer_send(struct line *line, const struct reply *reply, int header, int64_t now_ms)
{
    struct outgoing out = {.intact = true, .delay_ms = line->settings->reply_ms};
    frame_build(line, reply, &out);
    uint8_t whole[FRAME_MOST];
    size_t whole_length = out.length;
    memcpy(whole, out.bytes, whole_length);
    for (size_t i = 0; i < line->fault_count; i++) {
        struct fault *fault = &line->faults[i];
        if (fault->kind == FAULT_DEAF || !fault_strikes(fault, header))
            continue;
        truth_fault(line->truth, now_ms, fault_name(fault->kind), header);
        if (out.length > out.start + 1) /* something must be left to be damaged */
            fault_apply(line, fault, &out);
    }
    memcpy(line->previous, whole, whole_length);
    line->previous_length = whole_length;
    if (!out.mute)
        outgoing_queue(line, &out, header, now_ms);
}

/* Address poll: the bare address byte, 4 ms x address after the request. */
static void address_send(struct line *line, int64_t now_ms)
{
    uint8_t address = (uint8_t)line->settings->address;
    chunk_add(line, now_ms + (int64_t)ADDRESS_POLL_STEP_MS * address, &address, 1);
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
        echo = chunk_add(line, now_ms, bytes, count);
    size_t used = message_receive(line, bytes, count, now_ms);
    if (echo != NULL)
        echo->length = used;
    return used;
}

static void chunk_done(struct line *line)
{
    const struct chunk *chunk = &line->chunks[0];
    if (chunk->header >= 0)
        line->answered[chunk->header]++;
    if (chunk->header == 159 && chunk->intact)
        line->device->events_read = chunk->events;
    line->chunk_count--;
    memmove(&line->chunks[0], &line->chunks[1], line->chunk_count * sizeof line->chunks[0]);
}

bool line_send(struct line *line, int descriptor, bool *sent, int64_t now_ms)
{
    while (line->chunk_count > 0 && line->chunks[0].due_ms <= now_ms) {
        struct chunk *chunk = &line->chunks[0];
        ssize_t count = send(descriptor, chunk->bytes + chunk->sent, chunk->length - chunk->sent, MSG_NOSIGNAL);
        if (count < 0)
            return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR;
        *sent = true;
        chunk->sent += (size_t)count;
        if (chunk->sent == chunk->length)
            chunk_done(line);
    }
    return true;
}

int64_t line_deadline(const struct line *line)
{
    return line->chunk_count > 0 ? line->chunks[0].due_ms : INT64_MAX;
}
