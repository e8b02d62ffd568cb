/*
 * How do the bytes of a described device read? See described_wire.h.
 */
#include "described_wire.h"

#include <stdlib.h>
#include <string.h>

/* A place counted from the end is below 0. -1 = outside. */
static int64_t place_of(int32_t at, uint32_t length)
{
    int64_t place = at < 0 ? (int64_t)length + at : at;
    return place < 0 || place >= (int64_t)length ? -1 : place;
}

/* ---- Checks ---- */

static uint32_t bits_turn(uint32_t value, uint32_t width)
{
    uint32_t turned = 0;
    for (uint32_t i = 0; i < width; i++)
        turned |= (value >> i & 1) << (width - 1 - i);
    return turned;
}

/* Bit by bit, with the register's highest bit leaving first. */
static uint32_t crc_step(const struct described_check *check, uint32_t value, uint8_t byte)
{
    uint32_t top = (uint32_t)1 << (check->width - 1);
    if (check->reflect_in)
        byte = (uint8_t)bits_turn(byte, 8);
    for (int bit = 7; bit >= 0; bit--) {
        bool leaves = ((value & top) != 0) != ((byte >> bit & 1) != 0);
        value = (value << 1 ^ (leaves ? check->polynomial : 0)) & (top | (top - 1));
    }
    return value;
}

static bool check_owns(const struct described_check *check, uint32_t place, uint32_t length)
{
    for (uint32_t i = 0; i < check->count; i++) {
        if (place_of(check->at[i], length) == (int64_t)place)
            return true;
    }
    return false;
}

static uint32_t check_of(const struct described_check *check, const uint8_t *bytes, uint32_t length)
{
    uint32_t value = check->kind == DESCRIBED_CHECK_CRC ? check->initial : 0;
    int64_t from = place_of(check->from, length);
    int64_t to = place_of(check->to, length);
    for (int64_t i = from; i >= 0 && i <= to; i++) {
        if (check_owns(check, (uint32_t)i, length))
            continue;
        if (check->kind == DESCRIBED_CHECK_CRC)
            value = crc_step(check, value, bytes[i]);
        else
            value = check->kind == DESCRIBED_CHECK_SUM ? value + bytes[i] : value ^ bytes[i];
    }
    if (check->kind == DESCRIBED_CHECK_CRC)
        return (check->reflect_out ? bits_turn(value, check->width) : value) ^ check->xor_out;
    if (check->complement != DESCRIBED_COMPLEMENT_NONE)
        value = ~value + (check->complement == DESCRIBED_COMPLEMENT_TWOS ? 1 : 0);
    return value;
}

/* False = a byte of the check is not what it should be, or not there. */
static bool check_good(const struct described_check *check, const uint8_t *bytes, uint32_t length)
{
    uint32_t value = check->kind == DESCRIBED_CHECK_NONE ? 0 : check_of(check, bytes, length);
    for (uint32_t i = 0; check->kind != DESCRIBED_CHECK_NONE && i < check->count; i++) {
        int64_t place = place_of(check->at[i], length);
        if (place < 0 || bytes[place] != (value >> (8 * i) & 0xFF))
            return false;
    }
    return true;
}

/* ---- Splitting ---- */

static enum split line_split(const struct description *description, const uint8_t *raw, uint32_t length,
                             struct message *message, uint32_t *used)
{
    static const char *const ends[] = {"\r", "\n", "\r\n"};
    const char *end = ends[description->lines.end];
    uint32_t end_length = (uint32_t)strlen(end);
    for (*used = end_length; *used <= length; (*used)++) {
        if (memcmp(raw + *used - end_length, end, end_length) != 0)
            continue;
        message->length = *used - end_length;
        bool good = message->length <= description->lines.length_max;
        for (uint32_t i = 0; good && i < message->length; i++)
            good = raw[i] >= 0x20 && raw[i] <= 0x7E;
        if (good)
            memcpy(message->bytes, raw, message->length);
        return good ? SPLIT_DONE : SPLIT_DAMAGED;
    }
    *used = length;
    return length > description->lines.length_max + end_length ? SPLIT_DAMAGED : SPLIT_MORE;
}

/* Takes the escapes out, up to an end mark or the bytes' end. Begin and end marks are kept; *used raw bytes. */
static void escapes_take(const struct described_frame *frame, const uint8_t *raw, uint32_t length,
                         struct message *message, uint32_t *used)
{
    uint32_t at = 0;
    message->length = 0;
    while (at < length && message->length < sizeof message->bytes) {
        bool inside = message->length >= frame->begin_length;
        bool escaped = inside && frame->has_escape && raw[at] == frame->escape && at + 1 < length;
        bool ends = inside && frame->end_length > 0 && length - at >= frame->end_length &&
                    memcmp(raw + at, frame->end, frame->end_length) == 0;
        if (ends && frame->fixed_length == 0 && !frame->has_length) {
            memcpy(message->bytes + message->length, frame->end, frame->end_length);
            message->length += frame->end_length;
            *used = at + frame->end_length;
            return;
        }
        message->bytes[message->length++] = escaped ? raw[at + 1] ^ frame->escape_xor : raw[at];
        at += escaped ? 2 : 1;
        *used = at;
        uint32_t counted = 0;
        struct description only = {.frame = *frame};
        bool told = frame->has_length &&
                    message_number(&only, &frame->length, message->bytes, message->length, &counted);
        if (message->length == (frame->fixed_length != 0 ? frame->fixed_length
                                : told                   ? counted + frame->not_counted
                                                         : 0))
            return;
    }
    *used = 0; /* it goes on */
}

static enum split frame_split(const struct description *description, const uint8_t *raw, uint32_t length,
                              struct message *message, uint32_t *used)
{
    const struct described_frame *frame = &description->frame;
    uint32_t both = length < frame->begin_length ? length : frame->begin_length;
    if (memcmp(raw, frame->begin, both) != 0) {
        *used = 1;
        return SPLIT_DAMAGED;
    }
    escapes_take(frame, raw, length, message, used);
    if (*used == 0) {
        *used = length;
        return message->length == sizeof message->bytes ? SPLIT_DAMAGED : SPLIT_MORE;
    }
    bool ends = message->length >= frame->end_length &&
                memcmp(message->bytes + message->length - frame->end_length, frame->end, frame->end_length) == 0;
    return ends && check_good(&description->check, message->bytes, message->length) ? SPLIT_DONE : SPLIT_DAMAGED;
}

enum split message_split(const struct description *description, const uint8_t *raw, uint32_t length,
                         struct message *message, uint32_t *used)
{
    *used = 0;
    if (length == 0)
        return SPLIT_MORE;
    return description->text_lines ? line_split(description, raw, length, message, used)
                                   : frame_split(description, raw, length, message, used);
}

/* ---- Making ---- */

static void number_put(const struct described_number *number, uint32_t value, uint8_t *bytes, uint32_t length)
{
    int64_t place = place_of(number->at, length);
    for (uint32_t i = 0; place >= 0 && i < number->bytes && (uint32_t)place + i < length; i++) {
        uint32_t rank = number->big_endian ? number->bytes - 1 - i : i;
        uint8_t mask = (uint8_t)(number->mask >> (8 * rank));
        uint8_t bits = (uint8_t)(value << number->shift >> (8 * rank));
        bytes[place + i] = (uint8_t)((bytes[place + i] & ~mask) | (bits & mask));
    }
}

static uint32_t line_make(const struct description *description, const struct described_bytes *send, uint32_t sequence,
                          uint8_t raw[DESCRIBED_FRAME_MAX])
{
    static const char *const ends[] = {"\r", "\n", "\r\n"};
    char text[DESCRIBED_SEND_MAX + 1];
    memcpy(text, send->bytes, send->length);
    text[send->length] = '\0';
    char *place = strstr(text, "{sequence}");
    int length;
    if (place != NULL)
        length = snprintf((char *)raw, DESCRIBED_FRAME_MAX, "%.*s%u%s%s", (int)(place - text), text, (unsigned)sequence,
                          place + strlen("{sequence}"), ends[description->lines.end]);
    else
        length = snprintf((char *)raw, DESCRIBED_FRAME_MAX, "%s%s", text, ends[description->lines.end]);
    return (uint32_t)length;
}

static bool marks_anything(const struct described_frame *frame, uint8_t byte)
{
    return byte == frame->escape || (frame->begin_length == 1 && byte == frame->begin[0]) ||
           (frame->end_length == 1 && byte == frame->end[0]);
}

uint32_t message_make(const struct description *description, const struct described_bytes *send, uint32_t sequence,
                      uint8_t raw[DESCRIBED_FRAME_MAX])
{
    const struct described_frame *frame = &description->frame;
    const struct described_check *check = &description->check;
    uint8_t bytes[DESCRIBED_SEND_MAX];
    uint32_t length = send->length;
    uint32_t made = 0;
    if (description->text_lines)
        return line_make(description, send, sequence, raw);
    memcpy(bytes, send->bytes, length);
    if (frame->has_length)
        number_put(&frame->length, length - frame->not_counted, bytes, length);
    if (description->driver != DESCRIBED_DRIVER_NONE)
        number_put(&description->sequence.number, sequence, bytes, length);
    uint32_t value = check->kind == DESCRIBED_CHECK_NONE ? 0 : check_of(check, bytes, length);
    for (uint32_t i = 0; i < check->count; i++) {
        int64_t place = place_of(check->at[i], length);
        if (place >= 0)
            bytes[place] = (uint8_t)(value >> (8 * i));
    }
    for (uint32_t i = 0; i < length; i++) {
        bool inside = i >= frame->begin_length && i + frame->end_length < length;
        bool escaped = frame->has_escape && inside && marks_anything(frame, bytes[i]);
        if (escaped)
            raw[made++] = frame->escape;
        raw[made++] = escaped ? bytes[i] ^ frame->escape_xor : bytes[i];
    }
    return made;
}

bool message_spoil(const struct description *description, uint8_t *raw, uint32_t length)
{
    const struct described_frame *frame = &description->frame;
    struct message message;
    if (description->check.kind == DESCRIBED_CHECK_NONE)
        return false;
    /* One bit of an inner byte, of the last ones first, such that no mark comes or goes: whom the message is for and how
     * long it is stays as it was. */
    for (uint32_t i = length - frame->end_length; i-- > frame->begin_length;) {
        raw[i] ^= 0x40;
        uint32_t used;
        bool whole = message_split(description, raw, length, &message, &used) == SPLIT_DAMAGED && used == length;
        bool plain = !frame->has_escape || (!marks_anything(frame, raw[i]) && !marks_anything(frame, raw[i] ^ 0x40));
        if (whole && plain)
            return true;
        raw[i] ^= 0x40;
    }
    return false;
}

/* ---- Reading ---- */

/* The text of a field, counted from 1; NULL = there is none. */
static const char *field_of(const struct description *description, uint32_t field, const uint8_t *bytes,
                            uint32_t length, uint32_t *field_length)
{
    const char *text = (const char *)bytes;
    const char *end = text + length;
    char separator = description->lines.separator;
    for (uint32_t i = 1; i < field; i++) {
        const char *next = separator == '\0' ? NULL : memchr(text, separator, (size_t)(end - text));
        if (next == NULL)
            return NULL;
        text = next + 1;
    }
    const char *stop = separator == '\0' ? NULL : memchr(text, separator, (size_t)(end - text));
    *field_length = (uint32_t)((stop == NULL ? end : stop) - text);
    return text;
}

bool message_number(const struct description *description, const struct described_number *number, const uint8_t *bytes,
                    uint32_t length, uint32_t *value)
{
    *value = 0;
    if (number->field > 0) {
        uint32_t count;
        const char *text = field_of(description, number->field, bytes, length, &count);
        bool good = text != NULL && count > 0 && count <= 9;
        for (uint32_t i = 0; good && i < count; i++) {
            good = text[i] >= '0' && text[i] <= '9';
            *value = *value * 10 + (uint32_t)(text[i] - '0');
        }
        return good;
    }
    int64_t place = place_of(number->at, length);
    if (place < 0 || (uint32_t)place + number->bytes > length)
        return false;
    for (uint32_t i = 0; i < number->bytes; i++) {
        uint32_t rank = number->big_endian ? number->bytes - 1 - i : i;
        *value |= (uint32_t)bytes[place + i] << (8 * rank);
    }
    *value = (*value & number->mask) >> number->shift;
    return true;
}

static bool condition_fits(const struct description *description, const struct described_condition *condition,
                           const uint8_t *bytes, uint32_t length)
{
    int64_t place = place_of(condition->at, length);
    uint32_t count = 0;
    struct described_number number = {.field = condition->field};
    switch (condition->test) {
    case DESCRIBED_TEST_BYTES:
        return place >= 0 && (uint32_t)place + condition->length <= length &&
               memcmp(bytes + place, condition->bytes, condition->length) == 0;
    case DESCRIBED_TEST_BITS:
        count = place < 0 ? 0 : bytes[place] & condition->mask;
        return place >= 0 && count >= condition->low && count <= condition->high;
    case DESCRIBED_TEST_LENGTH:
        return length >= condition->low && length <= condition->high;
    case DESCRIBED_TEST_FIELD: {
        const char *text = field_of(description, condition->field, bytes, length, &count);
        return text != NULL && count == condition->length && memcmp(text, condition->bytes, count) == 0;
    }
    default:
        return message_number(description, &number, bytes, length, &count) && count >= condition->low &&
               count <= condition->high;
    }
}

bool message_fits(const struct description *description, const struct described_conditions *conditions,
                  const uint8_t *bytes, uint32_t length)
{
    for (uint32_t i = 0; i < conditions->count; i++) {
        if (!condition_fits(description, &conditions->items[i], bytes, length))
            return false;
    }
    return true;
}

const struct described_rule *message_rule(const struct description *description, const uint8_t *bytes, uint32_t length,
                                          int32_t kind)
{
    const struct described_rule *first = NULL;
    for (uint32_t i = 0; i < description->rule_count; i++) {
        const struct described_rule *rule = &description->rules[i];
        if (!message_fits(description, &rule->when, bytes, length))
            continue;
        if (rule->kind == kind)
            return rule;
        first = first == NULL ? rule : first;
        if (!rule->go_on)
            break;
    }
    return first;
}

const struct described_note *message_note(const struct description *description, const struct described_rule *rule,
                                          const uint8_t *bytes, uint32_t length)
{
    const char *name = NULL;
    uint32_t count = rule->note_length;
    uint32_t type = 0;
    int64_t place = place_of(rule->note_number.at, length);
    if (rule->note_by == DESCRIBED_NOTE_FIXED)
        return &description->notes[rule->note_index];
    if (rule->note_by == DESCRIBED_NOTE_TYPE && !message_number(description, &rule->note_number, bytes, length, &type))
        return NULL;
    if (rule->note_by == DESCRIBED_NOTE_NAME && rule->note_number.field > 0)
        name = field_of(description, rule->note_number.field, bytes, length, &count);
    else if (rule->note_by == DESCRIBED_NOTE_NAME && place >= 0 && (uint32_t)place + count <= length)
        name = (const char *)bytes + place;
    for (uint32_t i = 0; i < description->note_count; i++) {
        const struct described_note *note = &description->notes[i];
        bool named = name != NULL && strlen(note->name) == count && memcmp(note->name, name, count) == 0;
        if (named || (rule->note_by == DESCRIBED_NOTE_TYPE && note->type == (int32_t)type))
            return note;
    }
    return NULL;
}
