/*
 * Messages on the line. See wire.h.
 */
#include "wire.h"

#include "check.h"

#include <stdio.h>
#include <string.h>

/* ---- Receiving lines ---- */

static uint8_t line_last(const struct description *description)
{
    return description->lines.end == DESCRIBED_END_CR ? '\r' : '\n';
}

static enum described_found line_take(const struct description *description, const uint8_t *raw, uint32_t length,
                                      struct described_message *message, uint32_t *used)
{
    uint32_t most = description->lines.length_max + 2;
    uint32_t end = 0;
    while (end < length && end < most && raw[end] != line_last(description))
        end++;
    *used = end;
    if (end == most)
        return DESCRIBED_DAMAGED;
    if (end == length)
        return DESCRIBED_NEED_MORE;
    *used = end + 1;
    bool both = description->lines.end == DESCRIBED_END_CRLF;
    if (both && (end == 0 || raw[end - 1] != '\r'))
        return DESCRIBED_DAMAGED;
    message->length = both ? end - 1 : end;
    if (message->length > description->lines.length_max)
        return DESCRIBED_DAMAGED;
    for (uint32_t i = 0; i < message->length; i++) {
        if (raw[i] < ' ' || raw[i] > '~')
            return DESCRIBED_DAMAGED;
        message->bytes[i] = raw[i];
    }
    return DESCRIBED_MESSAGE;
}

/* ---- Receiving frames ---- */

/* How much of a mark stands at the beginning of `raw`. */
enum mark { MARK_NOT, MARK_PART, MARK_WHOLE };

static enum mark mark_look(const uint8_t *mark, uint32_t mark_length, const uint8_t *raw, uint32_t length)
{
    uint32_t both = length < mark_length ? length : mark_length;
    if (mark_length == 0 || memcmp(mark, raw, both) != 0)
        return MARK_NOT;
    return both == mark_length ? MARK_WHOLE : MARK_PART;
}

static uint32_t number_put_together(const struct described_number *number, const uint8_t *bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < number->bytes; i++)
        value = value << 8 | bytes[number->big_endian ? i : number->bytes - 1 - i];
    return (value & number->mask) >> number->shift;
}

/* The length of the whole message as far as it is known: 0 = not yet. */
static uint32_t total_find(const struct described_frame *frame, const struct described_message *message)
{
    if (frame->fixed_length != 0)
        return frame->fixed_length;
    uint32_t at = (uint32_t)frame->length.at;
    if (!frame->has_length || message->length < at + frame->length.bytes)
        return 0;
    uint32_t counted = number_put_together(&frame->length, message->bytes + at);
    uint32_t total = counted > DESCRIBED_MESSAGE_MAX ? DESCRIBED_MESSAGE_MAX + 1 : counted + frame->not_counted;
    /* A length that the bytes so far exceed is impossible. */
    return total < message->length + frame->end_length ? DESCRIBED_MESSAGE_MAX + 1 : total;
}

struct taking {
    const struct described_frame *frame;
    const uint8_t *raw;
    uint32_t length;
    uint32_t at; /* in raw */
    struct described_message *message;
};

static void byte_keep(struct taking *taking, uint8_t byte, uint32_t raw_bytes)
{
    taking->message->bytes[taking->message->length++] = byte;
    taking->at += raw_bytes;
}

static void mark_keep(struct taking *taking, const uint8_t *mark, uint32_t length)
{
    for (uint32_t i = 0; i < length; i++)
        byte_keep(taking, mark[i], 1);
}

/* The end mark where it must stand now. */
static enum described_found end_take(struct taking *taking)
{
    const struct described_frame *frame = taking->frame;
    if (frame->end_length == 0)
        return DESCRIBED_MESSAGE;
    switch (mark_look(frame->end, frame->end_length, taking->raw + taking->at, taking->length - taking->at)) {
    case MARK_WHOLE:
        mark_keep(taking, frame->end, frame->end_length);
        return DESCRIBED_MESSAGE;
    case MARK_PART:
        return DESCRIBED_NEED_MORE;
    default:
        return DESCRIBED_DAMAGED;
    }
}

/* One byte of the message, escaped or not. */
static enum described_found body_take(struct taking *taking)
{
    const struct described_frame *frame = taking->frame;
    const uint8_t *raw = taking->raw + taking->at;
    uint32_t left = taking->length - taking->at;
    if (!frame->has_escape) {
        byte_keep(taking, raw[0], 1);
        return DESCRIBED_MESSAGE;
    }
    enum mark begin = mark_look(frame->begin, frame->begin_length, raw, left);
    if (begin == MARK_WHOLE)
        return DESCRIBED_DAMAGED; /* another message begins in the middle of this one */
    if (raw[0] != frame->escape) {
        byte_keep(taking, raw[0], 1);
        return DESCRIBED_MESSAGE;
    }
    if (left < 2)
        return DESCRIBED_NEED_MORE;
    byte_keep(taking, raw[1] ^ frame->escape_xor, 2);
    return DESCRIBED_MESSAGE;
}

/* True = the message is at its end, damaged, or needs more: *found tells which. */
static bool frame_advance(struct taking *taking, enum described_found *found)
{
    const struct described_frame *frame = taking->frame;
    uint32_t total = total_find(frame, taking->message);
    if (total > DESCRIBED_MESSAGE_MAX || taking->message->length + frame->end_length > DESCRIBED_MESSAGE_MAX) {
        *found = DESCRIBED_DAMAGED;
        return true;
    }
    if (total != 0 && taking->message->length + frame->end_length == total) {
        *found = end_take(taking);
        return true;
    }
    *found = DESCRIBED_NEED_MORE;
    if (taking->at >= taking->length)
        return true;
    bool ends_by_mark = frame->fixed_length == 0 && !frame->has_length;
    enum mark end = ends_by_mark ? mark_look(frame->end, frame->end_length, taking->raw + taking->at,
                                             taking->length - taking->at)
                                 : MARK_NOT;
    if (end == MARK_WHOLE) {
        mark_keep(taking, frame->end, frame->end_length);
        *found = DESCRIBED_MESSAGE;
        return true;
    }
    if (end == MARK_PART)
        return true;
    *found = body_take(taking);
    return *found != DESCRIBED_MESSAGE;
}

static enum described_found frame_take(const struct description *description, const uint8_t *raw, uint32_t length,
                                       struct described_message *message, uint32_t *used)
{
    const struct described_frame *frame = &description->frame;
    struct taking taking = {.frame = frame, .raw = raw, .length = length, .message = message};
    message->length = 0;
    *used = 1;
    enum mark begin = mark_look(frame->begin, frame->begin_length, raw, length);
    if (frame->begin_length > 0 && begin != MARK_WHOLE)
        return begin == MARK_PART ? DESCRIBED_NEED_MORE : DESCRIBED_DAMAGED;
    mark_keep(&taking, frame->begin, frame->begin_length);
    enum described_found found;
    while (!frame_advance(&taking, &found))
        continue;
    if (found == DESCRIBED_MESSAGE && !check_fits(&description->check, message->bytes, message->length))
        found = DESCRIBED_DAMAGED;
    if (found == DESCRIBED_MESSAGE)
        *used = taking.at;
    return found;
}

enum described_found described_message_take(const struct description *description, const uint8_t *raw, uint32_t length,
                                            struct described_message *message, uint32_t *used)
{
    *used = 0;
    if (length == 0)
        return DESCRIBED_NEED_MORE;
    return description->text_lines ? line_take(description, raw, length, message, used)
                                   : frame_take(description, raw, length, message, used);
}

/* ---- Sending ---- */

static uint32_t line_build(const struct description *description, const struct described_bytes *send, uint32_t sequence,
                           uint8_t raw[DESCRIBED_FRAME_MAX])
{
    static const char place[] = "{sequence}";
    uint32_t length = 0;
    for (uint32_t i = 0; i < send->length; i++) {
        uint32_t left = send->length - i;
        if (left >= sizeof place - 1 && memcmp(send->bytes + i, place, sizeof place - 1) == 0) {
            char digits[12];
            int count = snprintf(digits, sizeof digits, "%lu", (unsigned long)sequence);
            memcpy(raw + length, digits, (size_t)count);
            length += (uint32_t)count;
            i += (uint32_t)sizeof place - 2;
        } else {
            raw[length++] = send->bytes[i];
        }
    }
    if (description->lines.end != DESCRIBED_END_LF)
        raw[length++] = '\r';
    if (description->lines.end != DESCRIBED_END_CR)
        raw[length++] = '\n';
    return length;
}

static void number_write(const struct described_number *number, uint32_t value, uint8_t *bytes, uint32_t length)
{
    uint32_t at;
    if (!place_find(number->at, length, &at) || at + number->bytes > length)
        return;
    uint32_t bits = value << number->shift & number->mask;
    for (uint32_t i = 0; i < number->bytes; i++) {
        uint32_t index = at + (number->big_endian ? number->bytes - 1 - i : i);
        uint32_t mask = number->mask >> (8 * i) & 0xFF;
        bytes[index] = (uint8_t)((bytes[index] & ~mask) | (bits >> (8 * i) & 0xFF));
    }
}

static bool needs_escape(const struct described_frame *frame, uint8_t byte)
{
    if (byte == frame->escape)
        return true;
    return (frame->begin_length == 1 && byte == frame->begin[0]) || (frame->end_length == 1 && byte == frame->end[0]);
}

static uint32_t escape_put(const struct described_frame *frame, const uint8_t *bytes, uint32_t length,
                           uint8_t raw[DESCRIBED_FRAME_MAX])
{
    uint32_t raw_length = 0;
    for (uint32_t i = 0; i < length; i++) {
        bool inside = i >= frame->begin_length && i < length - frame->end_length;
        if (inside && needs_escape(frame, bytes[i])) {
            raw[raw_length++] = frame->escape;
            raw[raw_length++] = bytes[i] ^ frame->escape_xor;
        } else {
            raw[raw_length++] = bytes[i];
        }
    }
    return raw_length;
}

uint32_t described_message_build(const struct description *description, const struct described_bytes *send,
                                 uint32_t sequence, uint8_t raw[DESCRIBED_FRAME_MAX])
{
    const struct described_frame *frame = &description->frame;
    if (description->text_lines)
        return line_build(description, send, sequence, raw);
    uint8_t bytes[DESCRIBED_SEND_MAX];
    memcpy(bytes, send->bytes, send->length);
    if (frame->has_length)
        number_write(&frame->length, send->length - frame->not_counted, bytes, send->length);
    if (description->driver != DESCRIBED_DRIVER_NONE)
        number_write(&description->sequence.number, sequence, bytes, send->length);
    (void)check_put(&description->check, bytes, send->length); /* the loader has made sure that it has its places */
    if (frame->has_escape)
        return escape_put(frame, bytes, send->length, raw);
    memcpy(raw, bytes, send->length);
    return send->length;
}
