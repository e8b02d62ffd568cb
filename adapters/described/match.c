/*
 * Reading a message by its description. See match.h.
 */
#include "match.h"

#include "check.h"

#include <stdio.h>
#include <string.h>

/* ---- Fields and numbers ---- */

/* Field 1 is what stands before the first separator. */
static bool field_find(const struct described_view *view, uint32_t field, const uint8_t **text, uint32_t *length)
{
    uint32_t begin = 0;
    for (uint32_t number = 1;; number++) {
        uint32_t end = begin;
        while (end < view->length && (view->separator == 0 || view->bytes[end] != (uint8_t)view->separator))
            end++;
        if (number == field) {
            *text = view->bytes + begin;
            *length = end - begin;
            return true;
        }
        if (end == view->length)
            return false;
        begin = end + 1;
    }
}

static bool digits_read(const uint8_t *text, uint32_t length, uint32_t *value)
{
    if (length == 0 || length > 9) /* nine digits fit into 32 bits */
        return false;
    *value = 0;
    for (uint32_t i = 0; i < length; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *value = *value * 10 + (uint32_t)(text[i] - '0');
    }
    return true;
}

bool described_number_read(const struct described_number *number, const struct described_view *view, uint32_t *value)
{
    if (number->field != 0) {
        const uint8_t *text;
        uint32_t length;
        return field_find(view, number->field, &text, &length) && digits_read(text, length, value);
    }
    uint32_t at;
    if (!place_find(number->at, view->length, &at) || number->bytes > view->length - at)
        return false;
    uint32_t together = 0;
    for (uint32_t i = 0; i < number->bytes; i++)
        together = together << 8 | view->bytes[number->big_endian ? at + i : at + number->bytes - 1 - i];
    *value = (together & number->mask) >> number->shift;
    return true;
}

/* ---- Conditions ---- */

static bool condition_fits(const struct described_condition *condition, const struct described_view *view)
{
    uint32_t at;
    const uint8_t *text;
    uint32_t value;
    switch (condition->test) {
    case DESCRIBED_TEST_BYTES:
        return place_find(condition->at, view->length, &at) && condition->length <= view->length - at &&
               memcmp(view->bytes + at, condition->bytes, condition->length) == 0;
    case DESCRIBED_TEST_BITS:
        if (!place_find(condition->at, view->length, &at))
            return false;
        value = view->bytes[at] & condition->mask;
        break;
    case DESCRIBED_TEST_LENGTH:
        value = view->length;
        break;
    case DESCRIBED_TEST_FIELD:
        return field_find(view, condition->field, &text, &value) && value == condition->length &&
               memcmp(text, condition->bytes, value) == 0;
    default:
        if (!field_find(view, condition->field, &text, &at) || !digits_read(text, at, &value))
            return false;
        break;
    }
    return value >= condition->low && value <= condition->high;
}

bool described_fits(const struct described_conditions *conditions, const struct described_view *view)
{
    for (uint32_t i = 0; i < conditions->count; i++) {
        if (!condition_fits(&conditions->items[i], view))
            return false;
    }
    return true;
}

/* ---- Notes ---- */

static bool name_read(const struct described_rule *rule, const struct described_view *view, const uint8_t **text,
                      uint32_t *length)
{
    if (rule->note_number.field != 0)
        return field_find(view, rule->note_number.field, text, length);
    uint32_t at;
    if (!place_find(rule->note_number.at, view->length, &at) || rule->note_length > view->length - at)
        return false;
    *text = view->bytes + at;
    *length = rule->note_length;
    return true;
}

int32_t described_note_find(const struct description *description, const struct described_rule *rule,
                            const struct described_view *view)
{
    uint32_t type = 0;
    const uint8_t *text = NULL;
    uint32_t length = 0;
    if (rule->note_by == DESCRIBED_NOTE_NONE)
        return -1;
    if (rule->note_by == DESCRIBED_NOTE_FIXED)
        return (int32_t)rule->note_index;
    bool by_type = rule->note_by == DESCRIBED_NOTE_TYPE;
    bool read = by_type ? described_number_read(&rule->note_number, view, &type)
                        : name_read(rule, view, &text, &length);
    for (uint32_t i = 0; read && i < description->note_count; i++) {
        const struct described_note *note = &description->notes[i];
        if (by_type ? (uint32_t)note->type == type
                    : strlen(note->name) == length && memcmp(note->name, text, length) == 0)
            return (int32_t)i;
    }
    return -1;
}

/* ---- Raw text ---- */

struct writing {
    char *text;
    uint32_t capacity;
    uint32_t length;
};

static void put(struct writing *writing, const char *text, uint32_t length)
{
    uint32_t room = writing->capacity - 1 - writing->length;
    uint32_t taken = length < room ? length : room;
    memcpy(writing->text + writing->length, text, taken);
    writing->length += taken;
    writing->text[writing->length] = '\0';
}

static void byte_put(struct writing *writing, uint8_t byte, bool hexadecimal)
{
    char text[8];
    int length = snprintf(text, sizeof text, hexadecimal ? "%02X" : "%u", byte);
    put(writing, text, (uint32_t)length);
}

/* What is asked for between braces; the loader has checked its form. */
static void part_put(struct writing *writing, const char *part, const struct described_view *view)
{
    bool hexadecimal = part[0] == 'x';
    const char *digits = hexadecimal || part[0] == 'f' ? part + 1 : part;
    bool from_end = digits[0] == '-';
    int32_t number = 0;
    for (const char *digit = from_end ? digits + 1 : digits; *digit >= '0' && *digit <= '9'; digit++)
        number = number * 10 + (*digit - '0');
    const uint8_t *text = view->bytes;
    uint32_t length = view->length;
    uint32_t at;
    bool all = part[0] == 'l'; /* else a field, which field_find() points at, or one byte */
    if (all || (part[0] == 'f' && field_find(view, (uint32_t)number, &text, &length)))
        put(writing, (const char *)text, length);
    else if (part[0] != 'f' && place_find(from_end ? -number : number, view->length, &at))
        byte_put(writing, view->bytes[at], hexadecimal);
}

void described_raw_text_make(const char *form, const struct described_view *view, char *text, uint32_t capacity)
{
    struct writing writing = {text, capacity, 0};
    text[0] = '\0';
    while (*form != '\0') {
        size_t plain = strcspn(form, "{");
        put(&writing, form, (uint32_t)plain);
        form += plain;
        if (*form == '\0')
            return;
        part_put(&writing, form + 1, view);
        form = strchr(form, '}') + 1;
    }
}

void described_raw_text_plain(const struct described_view *view, bool line, char *text, uint32_t capacity)
{
    struct writing writing = {text, capacity, 0};
    text[0] = '\0';
    if (line) {
        put(&writing, (const char *)view->bytes, view->length);
        return;
    }
    for (uint32_t i = 0; i < view->length && 3 * i + 3 < capacity; i++) {
        if (i > 0)
            put(&writing, " ", 1);
        byte_put(&writing, view->bytes[i], true);
    }
}

/* ---- Counting ---- */

bool described_count_valid(const struct described_count *count, uint32_t value)
{
    return (value >= count->first && value <= count->last) || (count->has_reset && value == count->reset);
}

static bool is_reset(const struct described_count *count, uint32_t value)
{
    return count->has_reset && value == count->reset;
}

/* 0 = the reset value, else 1.. */
static uint32_t index_of(const struct described_count *count, uint32_t value)
{
    return is_reset(count, value) ? 0 : value - count->first + 1;
}

uint32_t described_steps_between(const struct described_count *count, uint32_t before, uint32_t now)
{
    uint32_t from = index_of(count, before);
    uint32_t to = index_of(count, now);
    return to >= from ? to - from : count->last - count->first + 1 - from + to;
}

uint32_t described_count_next(const struct described_count *count, uint32_t value)
{
    return is_reset(count, value) || value >= count->last ? count->first : value + 1;
}
