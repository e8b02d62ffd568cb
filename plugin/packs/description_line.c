/*
 * How the messages of a described device stand on the line: frames or text lines, their check, and their numbers.
 */
#include "packs/description_parts.h"

#include <stdio.h>
#include <string.h>

/* ---- Words and hexadecimal digits ---- */

int32_t description_word_read(struct reader *reader, const cJSON *object, const char *key, const char *const words[],
                              int32_t *index)
{
    const cJSON *value = member(object, key);
    if (value == NULL)
        return CFOIL_OK;
    char list[200] = "";
    size_t length = 0;
    for (int32_t i = 0; words[i] != NULL; i++) {
        if (strcmp(words[i], value->valuestring) == 0) {
            *index = i;
            return CFOIL_OK;
        }
        length += (size_t)snprintf(list + length, sizeof list - length, "%s%s", i == 0 ? "" : ", ", words[i]);
    }
    return reader_fault_at(reader, key, "must be one of: %s", list);
}

int32_t description_digit_of(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    if (digit >= 'A' && digit <= 'F')
        return digit - 'A' + 10;
    return digit >= 'a' && digit <= 'f' ? digit - 'a' + 10 : -1;
}

/* "02 10 FF" into bytes; false = not of that form, or too many. */
static bool hex_parse(const char *text, uint32_t maximum, uint8_t *bytes, uint32_t *length)
{
    for (*length = 0; *length < maximum; text++) {
        int32_t high = description_digit_of(text[0]);
        int32_t low = high < 0 ? -1 : description_digit_of(text[1]);
        if (low < 0)
            return false;
        bytes[(*length)++] = (uint8_t)(high << 4 | low);
        text += 2;
        if (*text == '\0')
            return true;
        if (*text != ' ')
            return false;
    }
    return false;
}

int32_t description_hex_read(struct reader *reader, const cJSON *object, const char *key, uint32_t minimum,
                             uint32_t maximum, uint8_t *bytes, uint32_t *length)
{
    const cJSON *value = member(object, key);
    *length = 0;
    if (value == NULL)
        return CFOIL_OK;
    if (!hex_parse(value->valuestring, maximum, bytes, length) || *length < minimum)
        return reader_fault_at(reader, key, "must be %u to %u pairs of hexadecimal digits such as \"02 FF\"",
                               (unsigned)minimum, (unsigned)maximum);
    return CFOIL_OK;
}

int32_t description_hex_number_read(struct reader *reader, const cJSON *object, const char *key, uint32_t bytes,
                                    uint32_t *number)
{
    uint8_t digits[4] = {0};
    uint32_t length;
    if (member(object, key) == NULL)
        return CFOIL_OK;
    int32_t result = description_hex_read(reader, object, key, bytes, bytes, digits, &length);
    if (result != CFOIL_OK)
        return result;
    *number = 0;
    for (uint32_t i = 0; i < length; i++)
        *number = *number << 8 | digits[i];
    return CFOIL_OK;
}

/* ---- Numbers in a message ---- */

static bool mask_whole(uint32_t mask, uint32_t shift)
{
    uint32_t ones = mask >> shift;
    return (ones & (ones + 1)) == 0;
}

static int32_t mask_read(struct reader *reader, const cJSON *object, struct described_number *number)
{
    number->mask = UINT32_MAX >> (32 - 8 * number->bytes);
    int32_t result = description_hex_number_read(reader, object, "mask", number->bytes, &number->mask);
    if (result != CFOIL_OK)
        return result;
    if (number->mask == 0)
        return reader_fault_at(reader, "mask", "has no bit");
    while ((number->mask >> number->shift & 1) == 0)
        number->shift++;
    return mask_whole(number->mask, number->shift)
               ? CFOIL_OK
               : reader_fault_at(reader, "mask", "its bits must stand side by side");
}

static int32_t field_read(struct reader *reader, const cJSON *object, const struct description *description,
                          struct described_number *number)
{
    if (!description->text_lines)
        return reader_fault_at(reader, "field", "only lines have fields; name a place with 'at'");
    static const char *const others[] = {"at", "bytes", "order", "mask"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        if (member(object, others[i]) != NULL)
            return reader_fault_at(reader, others[i], "does not go with 'field'");
    }
    number->field = (uint32_t)member_integer(object, "field");
    number->mask = UINT32_MAX;
    return CFOIL_OK;
}

int32_t description_number_read(struct reader *reader, const cJSON *object, const struct description *description,
                                struct described_number *number)
{
    static const char *const orders[] = {"little", "big", NULL};
    int32_t order = 0;
    if (member(object, "field") != NULL)
        return field_read(reader, object, description, number);
    if (member(object, "at") == NULL)
        return reader_fault(reader, "the key 'at' is missing");
    number->at = (int32_t)member_integer(object, "at");
    number->bytes = member(object, "bytes") != NULL ? (uint32_t)member_integer(object, "bytes") : 1;
    if (number->at < 0 && (int64_t)number->at + number->bytes > 0)
        return reader_fault_at(reader, "at", "reaches beyond the end of the message");
    if (number->bytes > 1 && member(object, "order") == NULL)
        return reader_fault(reader, "several bytes need 'order': little (least significant first) or big");
    int32_t result = description_word_read(reader, object, "order", orders, &order);
    number->big_endian = order == 1;
    return result == CFOIL_OK ? mask_read(reader, object, number) : result;
}

/* first, last and reset, of which the caller's table of keys has made sure that they are numbers. */
int32_t description_count_read(struct reader *reader, const cJSON *object, const struct description *description,
                               struct described_count *count)
{
    int32_t result = description_number_read(reader, object, description, &count->number);
    if (result != CFOIL_OK)
        return result;
    uint32_t most = count->number.mask >> count->number.shift;
    if (count->number.field != 0 && member(object, "last") == NULL)
        return reader_fault(reader, "the key 'last' is missing: after which number does it begin again?");
    count->known = true;
    count->first = (uint32_t)member_integer(object, "first");
    count->last = member(object, "last") != NULL ? (uint32_t)member_integer(object, "last") : most;
    count->has_reset = member(object, "reset") != NULL;
    count->reset = (uint32_t)member_integer(object, "reset");
    if (count->last <= count->first || count->last > most)
        return reader_fault_at(reader, member(object, "last") != NULL ? "last" : "at",
                               "must be larger than 'first' and fit into its place");
    if (count->last - count->first > INT32_MAX)
        return reader_fault(reader, "counts too far; give a smaller 'last'");
    if (count->has_reset && (count->reset > most || (count->reset >= count->first && count->reset <= count->last)))
        return reader_fault_at(reader, "reset", "must fit into its place and lie outside of first..last");
    return CFOIL_OK;
}

/* ---- Check ---- */

static const struct field check_fields[] = {
    {"kind", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"bits", FIELD_INTEGER, false, 8, 32},
    {"complement", FIELD_TEXT, false, 1, 10},
    {"polynomial", FIELD_TEXT, false, 2, 11},
    {"initial", FIELD_TEXT, false, 2, 11},
    {"reflect_in", FIELD_FLAG, false, 0, 0},
    {"reflect_out", FIELD_FLAG, false, 0, 0},
    {"xor_out", FIELD_TEXT, false, 2, 11},
    {"from", FIELD_INTEGER, true, -DESCRIBED_MESSAGE_MAX, DESCRIBED_MESSAGE_MAX - 1},
    {"to", FIELD_INTEGER, true, -DESCRIBED_MESSAGE_MAX, DESCRIBED_MESSAGE_MAX - 1},
    {"at", FIELD_ARRAY, true, 1, 4},
};

static int32_t crc_read(struct reader *reader, const cJSON *object, struct described_check *check)
{
    static const char *const needed[] = {"polynomial", "initial", "reflect_in", "reflect_out", "xor_out"};
    uint32_t bytes = (check->width + 7) / 8;
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++) {
        bool there = member(object, needed[i]) != NULL;
        if (check->kind == DESCRIBED_CHECK_CRC && !there)
            return reader_fault(reader, "the key '%s' is missing", needed[i]);
        if (check->kind != DESCRIBED_CHECK_CRC && there)
            return reader_fault_at(reader, needed[i], "goes with a crc only");
    }
    int32_t result = description_hex_number_read(reader, object, "polynomial", bytes, &check->polynomial);
    if (result == CFOIL_OK)
        result = description_hex_number_read(reader, object, "initial", bytes, &check->initial);
    if (result == CFOIL_OK)
        result = description_hex_number_read(reader, object, "xor_out", bytes, &check->xor_out);
    if (result != CFOIL_OK)
        return result;
    uint32_t beyond = ~(UINT32_MAX >> (32 - check->width));
    if (((check->polynomial | check->initial | check->xor_out) & beyond) != 0)
        return reader_fault_at(reader, "bits", "polynomial, initial or xor_out have more bits than that");
    if (check->kind == DESCRIBED_CHECK_CRC && (check->polynomial & 1) == 0)
        return reader_fault_at(reader, "polynomial", "must be odd; write it without its highest term, not reversed");
    check->reflect_in = cJSON_IsTrue(member(object, "reflect_in"));
    check->reflect_out = cJSON_IsTrue(member(object, "reflect_out"));
    return CFOIL_OK;
}

static int32_t check_places_read(struct reader *reader, const cJSON *object, struct described_check *check)
{
    const cJSON *place;
    reader_enter(reader, "at");
    cJSON_ArrayForEach(place, member(object, "at"))
    {
        reader_enter_element(reader, check->count);
        double at = cJSON_IsNumber(place) ? place->valuedouble : 0.5;
        if (!(at >= -DESCRIBED_MESSAGE_MAX && at < DESCRIBED_MESSAGE_MAX) || (double)(int32_t)at < at ||
            (double)(int32_t)at > at)
            return reader_fault(reader, "must be the place of a byte, such as -1 for the last one");
        check->at[check->count++] = (int32_t)at;
        for (uint32_t i = 0; i + 1 < check->count; i++) {
            if (check->at[i] == (int32_t)at)
                return reader_fault(reader, "stands twice in the list");
        }
        reader_leave(reader);
    }
    if (check->count != (check->width + 7) / 8)
        return reader_fault(reader, "must name %u places, that of the least significant byte first",
                            (unsigned)(check->width + 7) / 8);
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t check_width_read(struct reader *reader, const cJSON *object, struct described_check *check)
{
    check->width = member(object, "bits") != NULL ? (uint32_t)member_integer(object, "bits") : 8;
    if (check->kind == DESCRIBED_CHECK_XOR && check->width != 8)
        return reader_fault_at(reader, "bits", "an xor has 8");
    if (check->kind == DESCRIBED_CHECK_SUM && check->width != 8 && check->width != 16)
        return reader_fault_at(reader, "bits", "a sum has 8 or 16");
    if (member(object, "complement") != NULL && check->kind == DESCRIBED_CHECK_CRC)
        return reader_fault_at(reader, "complement", "goes with sum and xor only; a crc has xor_out");
    return CFOIL_OK;
}

static int32_t check_read(struct reader *reader, const cJSON *frame, struct described_check *check)
{
    static const char *const kinds[] = {"none", "sum", "xor", "crc", NULL};
    static const char *const complements[] = {"none", "ones", "twos", NULL};
    const cJSON *object = member(frame, "check");
    if (object == NULL)
        return CFOIL_OK;
    int32_t kind = 0;
    int32_t complement = 0;
    reader_enter(reader, "check");
    int32_t result = reader_object_check(reader, object, check_fields, FIELD_COUNT(check_fields));
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "kind", kinds + 1, &kind);
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "complement", complements, &complement);
    if (result != CFOIL_OK)
        return result;
    check->kind = (enum described_check_kind)(kind + 1);
    check->complement = (enum described_complement)complement;
    check->from = (int32_t)member_integer(object, "from");
    check->to = (int32_t)member_integer(object, "to");
    result = check_width_read(reader, object, check);
    if (result == CFOIL_OK)
        result = crc_read(reader, object, check);
    if (result == CFOIL_OK)
        result = check_places_read(reader, object, check);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Frames ---- */

static const struct field frame_fields[] = {
    {"begin", FIELD_TEXT, false, 2, 11},
    {"end", FIELD_TEXT, false, 2, 5},
    {"fixed_length", FIELD_INTEGER, false, 1, DESCRIBED_MESSAGE_MAX},
    {"length", FIELD_OBJECT, false, 1, 10},
    {"escape", FIELD_OBJECT, false, 2, 2},
    {"check", FIELD_OBJECT, false, 1, 20},
};
static const struct field length_fields[] = {
    FIELDS_OF_A_NUMBER,
    {"not_counted", FIELD_INTEGER, true, 0, 100},
};
static const struct field escape_fields[] = {
    {"byte", FIELD_TEXT, true, 2, 2},
    {"xor", FIELD_TEXT, true, 2, 2},
};

static int32_t length_read(struct reader *reader, const cJSON *object, const struct description *description,
                           struct described_frame *frame)
{
    const cJSON *length = member(object, "length");
    if (length == NULL)
        return CFOIL_OK;
    reader_enter(reader, "length");
    int32_t result = reader_object_check(reader, length, length_fields, FIELD_COUNT(length_fields));
    if (result == CFOIL_OK)
        result = description_number_read(reader, length, description, &frame->length);
    if (result != CFOIL_OK)
        return result;
    if (frame->length.at < 0)
        return reader_fault_at(reader, "at", "must be counted from the beginning of the message");
    frame->has_length = true;
    frame->not_counted = (uint32_t)member_integer(length, "not_counted");
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t escape_read(struct reader *reader, const cJSON *object, struct described_frame *frame)
{
    const cJSON *escape = member(object, "escape");
    uint32_t length;
    if (escape == NULL)
        return CFOIL_OK;
    reader_enter(reader, "escape");
    int32_t result = reader_object_check(reader, escape, escape_fields, FIELD_COUNT(escape_fields));
    if (result == CFOIL_OK)
        result = description_hex_read(reader, escape, "byte", 1, 1, &frame->escape, &length);
    if (result == CFOIL_OK)
        result = description_hex_read(reader, escape, "xor", 1, 1, &frame->escape_xor, &length);
    if (result != CFOIL_OK)
        return result;
    frame->has_escape = true;
    bool escaped_begin = frame->begin_length == 1 || (frame->begin_length == 2 && frame->begin[0] == frame->escape);
    bool escaped_end = frame->end_length <= 1 || frame->end[0] == frame->escape;
    if (!escaped_begin || !escaped_end)
        return reader_fault(reader,
                            "begin and end must be one byte each, or two of which the first is the escape byte");
    if (frame->begin_length == 1 && frame->begin[0] == frame->escape)
        return reader_fault_at(reader, "byte", "must differ from the begin byte");
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t frame_read(struct reader *reader, const cJSON *object, struct description *description)
{
    struct described_frame *frame = &description->frame;
    reader_enter(reader, "frame");
    int32_t result = reader_object_check(reader, object, frame_fields, FIELD_COUNT(frame_fields));
    if (result == CFOIL_OK)
        result = description_hex_read(reader, object, "begin", 1, 4, frame->begin, &frame->begin_length);
    if (result == CFOIL_OK)
        result = description_hex_read(reader, object, "end", 1, 2, frame->end, &frame->end_length);
    if (result == CFOIL_OK)
        result = length_read(reader, object, description, frame);
    if (result == CFOIL_OK)
        result = escape_read(reader, object, frame);
    if (result == CFOIL_OK)
        result = check_read(reader, object, &description->check);
    if (result != CFOIL_OK)
        return result;
    frame->fixed_length = (uint32_t)member_integer(object, "fixed_length");
    if (frame->fixed_length != 0 && frame->has_length)
        return reader_fault(reader, "give either fixed_length or length, not both");
    if (frame->fixed_length == 0 && !frame->has_length && frame->end_length == 0)
        return reader_fault(reader, "how does a message end? give fixed_length, length or end");
    if (frame->fixed_length != 0 && frame->fixed_length < frame->begin_length + frame->end_length + 1)
        return reader_fault_at(reader, "fixed_length", "leaves no byte between begin and end");
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Lines ---- */

static const struct field lines_fields[] = {
    {"end", FIELD_TEXT, true, 1, 4},
    {"length_max", FIELD_INTEGER, true, 1, 500},
    {"separator", FIELD_TEXT, false, 1, 1},
};

static int32_t lines_read(struct reader *reader, const cJSON *object, struct description *description)
{
    static const char *const ends[] = {"CR", "LF", "CRLF", NULL};
    int32_t end = 0;
    reader_enter(reader, "lines");
    description->text_lines = true;
    int32_t result = reader_object_check(reader, object, lines_fields, FIELD_COUNT(lines_fields));
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "end", ends, &end);
    if (result != CFOIL_OK)
        return result;
    description->lines.end = (enum described_line_end)end;
    description->lines.length_max = (uint32_t)member_integer(object, "length_max");
    description->lines.separator = member_text(object, "separator")[0];
    reader_leave(reader);
    return CFOIL_OK;
}

int32_t description_line_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const cJSON *frame = member(tree, "frame");
    const cJSON *lines = member(tree, "lines");
    if ((frame == NULL) == (lines == NULL))
        return reader_fault(reader, "give either 'frame' (bytes) or 'lines' (text)");
    return frame != NULL ? frame_read(reader, frame, description) : lines_read(reader, lines, description);
}

/* ---- Sequence ---- */

static const struct field sequence_fields[] = {
    FIELDS_OF_A_NUMBER,
    {"driven_by", FIELD_TEXT, true, 1, 10},
    {"first", FIELD_INTEGER, false, 0, UINT32_MAX},
    {"last", FIELD_INTEGER, false, 0, UINT32_MAX},
    {"reset", FIELD_INTEGER, false, 0, UINT32_MAX},
};

int32_t description_sequence_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    static const char *const drivers[] = {"host", "device", NULL};
    const cJSON *object = member(tree, "sequence");
    int32_t driver = 0;
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "sequence");
    int32_t result = reader_object_check(reader, object, sequence_fields, FIELD_COUNT(sequence_fields));
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "driven_by", drivers, &driver);
    if (result == CFOIL_OK)
        result = description_count_read(reader, object, description, &description->sequence);
    if (result != CFOIL_OK)
        return result;
    description->driver = driver == 0 ? DESCRIBED_DRIVER_HOST : DESCRIBED_DRIVER_DEVICE;
    if (driver == 0 && !description->polled)
        return reader_fault_at(reader, "driven_by", "the host drives it only for a device that is asked ('poll')");
    if (driver == 0 && description->sequence.has_reset)
        return reader_fault_at(reader, "reset", "goes with a sequence that the device drives");
    if (description->text_lines && description->sequence.number.field == 0)
        return reader_fault(reader, "a line tells it in a field: give 'field'");
    reader_leave(reader);
    return CFOIL_OK;
}
