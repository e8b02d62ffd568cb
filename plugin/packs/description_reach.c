/*
 * Can every rule of a description fit some message that no rule before it takes away, and does some rule name every note?
 * What cannot happen is a mistake of the author, and mistakes about money are not to be found out at the till.
 */
#include "packs/description_parts.h"

#include <string.h>

/* The values that a byte may have: one bit each. */
struct values {
    uint32_t bits[8];
};

static void values_fill(struct values *values)
{
    memset(values, 0xFF, sizeof *values);
}

static bool values_empty(const struct values *values)
{
    static const struct values none;
    return memcmp(values, &none, sizeof none) == 0;
}

static bool values_has(const struct values *values, uint32_t value)
{
    return (values->bits[value / 32] >> (value % 32) & 1) != 0;
}

/* Length of every message that the rules look at; 0 = they differ. */
static uint32_t length_known(const struct description *description)
{
    return description->buffer.known ? description->buffer.entry_bytes : description->frame.fixed_length;
}

/* One name for one byte: counted from the beginning where the length is known. */
static int32_t place_of(const struct description *description, int32_t at)
{
    uint32_t length = length_known(description);
    return at < 0 && length != 0 ? at + (int32_t)length : at;
}

static bool bits_allow(const struct described_condition *condition, uint32_t value)
{
    uint32_t masked = value & condition->mask;
    return masked >= condition->low && masked <= condition->high;
}

/* Takes away the values that the condition does not allow at that place. */
static void values_narrow(const struct description *description, const struct described_condition *condition,
                          int32_t place, struct values *values)
{
    int32_t at = place_of(description, condition->at);
    if (condition->test == DESCRIBED_TEST_BYTES) {
        int32_t index = place - at;
        if (index < 0 || index >= (int32_t)condition->length || (at < 0) != (place < 0))
            return;
        uint32_t value = condition->bytes[index];
        bool there = values_has(values, value);
        memset(values, 0, sizeof *values);
        values->bits[value / 32] = there ? 1u << (value % 32) : 0;
    } else if (condition->test == DESCRIBED_TEST_BITS && at == place) {
        for (uint32_t value = 0; value < 256; value++) {
            if (!bits_allow(condition, value))
                values->bits[value / 32] &= ~(1u << (value % 32));
        }
    }
}

static void values_find(const struct description *description, const struct described_conditions *conditions,
                        int32_t place, struct values *values)
{
    values_fill(values);
    for (uint32_t i = 0; i < conditions->count; i++)
        values_narrow(description, &conditions->items[i], place, values);
}

/* ---- One rule alone ---- */

static bool inside(const struct description *description, int32_t at, uint32_t bytes)
{
    uint32_t length = length_known(description);
    int64_t place = place_of(description, at);
    if (length == 0)
        return at >= 0 || at + (int64_t)bytes <= 0;
    return place >= 0 && place + bytes <= (int64_t)length;
}

static bool ranges_meet(const struct described_condition *left, const struct described_condition *right)
{
    return left->low <= right->high && right->low <= left->high;
}

/* Do two conditions about lengths or fields contradict each other? */
static bool contradict(const struct described_condition *left, const struct described_condition *right)
{
    if (left->test != right->test || left->field != right->field)
        return false;
    if (left->test == DESCRIBED_TEST_FIELD)
        return left->length != right->length || memcmp(left->bytes, right->bytes, left->length) != 0;
    bool numbers = left->test == DESCRIBED_TEST_LENGTH || left->test == DESCRIBED_TEST_FIELD_NUMBER;
    return numbers && !ranges_meet(left, right);
}

/* False = the condition and those beside it allow no message at all. */
static bool condition_possible(const struct description *description, const struct described_conditions *conditions,
                               const struct described_condition *condition)
{
    uint32_t length = length_known(description);
    struct values values;
    if (condition->test == DESCRIBED_TEST_LENGTH && length != 0)
        return condition->low <= length && length <= condition->high;
    for (uint32_t i = 0; i < conditions->count; i++) {
        if (contradict(condition, &conditions->items[i]))
            return false;
    }
    if (condition->test != DESCRIBED_TEST_BYTES && condition->test != DESCRIBED_TEST_BITS)
        return true;
    uint32_t bytes = condition->test == DESCRIBED_TEST_BYTES ? condition->length : 1;
    if (!inside(description, condition->at, bytes))
        return false;
    for (uint32_t i = 0; i < bytes; i++) {
        values_find(description, conditions, place_of(description, condition->at) + (int32_t)i, &values);
        if (values_empty(&values))
            return false;
    }
    return true;
}

static int32_t conditions_check(struct reader *reader, const struct description *description, uint32_t index)
{
    const struct described_conditions *conditions = &description->rules[index].when;
    reader_enter(reader, "when");
    for (uint32_t i = 0; i < conditions->count; i++) {
        reader_enter_element(reader, i);
        if (!condition_possible(description, conditions, &conditions->items[i]))
            return reader_fault(reader, "this can never be so: look at its place, its values and the other conditions");
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Rules hidden by others ---- */

static bool digits_within(const struct described_condition *text, const struct described_condition *range)
{
    uint64_t value = 0;
    for (uint32_t i = 0; i < text->length; i++) {
        if (text->bytes[i] < '0' || text->bytes[i] > '9' || i >= 9)
            return false;
        value = value * 10 + (uint64_t)(text->bytes[i] - '0');
    }
    return text->length > 0 && value >= range->low && value <= range->high;
}

/* Whenever `given` is so, is `wanted`? For lengths and fields. */
static bool implies(const struct described_condition *given, const struct described_condition *wanted)
{
    if (given->field != wanted->field)
        return false;
    if (wanted->test == DESCRIBED_TEST_FIELD_NUMBER && given->test == DESCRIBED_TEST_FIELD)
        return digits_within(given, wanted);
    if (given->test != wanted->test)
        return false;
    if (given->test == DESCRIBED_TEST_FIELD)
        return given->length == wanted->length && memcmp(given->bytes, wanted->bytes, given->length) == 0;
    return given->low >= wanted->low && given->high <= wanted->high;
}

static bool byte_implied(const struct description *description, const struct described_conditions *given,
                         const struct described_condition *wanted, uint32_t offset)
{
    struct values allowed;
    struct values values;
    int32_t place = place_of(description, wanted->at) + (int32_t)offset;
    values_fill(&allowed);
    values_narrow(description, wanted, place, &allowed);
    values_find(description, given, place, &values);
    for (uint32_t i = 0; i < 8; i++) {
        if ((values.bits[i] & ~allowed.bits[i]) != 0)
            return false;
    }
    return true;
}

static bool condition_implied(const struct description *description, const struct described_conditions *given,
                              const struct described_condition *wanted)
{
    bool bytes = wanted->test == DESCRIBED_TEST_BYTES;
    if (bytes || wanted->test == DESCRIBED_TEST_BITS) {
        bool all = true;
        for (uint32_t i = 0; i < (bytes ? wanted->length : 1) && all; i++)
            all = byte_implied(description, given, wanted, i);
        return all;
    }
    if (wanted->test == DESCRIBED_TEST_LENGTH && length_known(description) != 0)
        return true;
    for (uint32_t i = 0; i < given->count; i++) {
        if (implies(&given->items[i], wanted))
            return true;
    }
    return false;
}

/* Does the rule before take every message that this one fits? */
static bool hides(const struct description *description, const struct described_rule *before,
                  const struct described_rule *rule)
{
    if (before->go_on)
        return false;
    for (uint32_t i = 0; i < before->when.count; i++) {
        if (!condition_implied(description, &rule->when, &before->when.items[i]))
            return false;
    }
    return true;
}

static int32_t hidden_check(struct reader *reader, const struct description *description, uint32_t index)
{
    for (uint32_t i = 0; i < index; i++) {
        if (hides(description, &description->rules[i], &description->rules[index]))
            return reader_fault(reader, "can never be reached: rules[%u] takes all that it fits", (unsigned)i);
    }
    return CFOIL_OK;
}

/* ---- Notes ---- */

static int32_t note_place_check(struct reader *reader, const struct description *description,
                                const struct described_rule *rule)
{
    bool looks = rule->note_by == DESCRIBED_NOTE_TYPE || rule->note_by == DESCRIBED_NOTE_NAME;
    uint32_t bytes = rule->note_by == DESCRIBED_NOTE_NAME ? rule->note_length : rule->note_number.bytes;
    if (!looks || rule->note_number.field != 0 || inside(description, rule->note_number.at, bytes))
        return CFOIL_OK;
    reader_enter(reader, "note");
    return reader_fault_at(reader, "at", "lies outside of what the rule looks at");
}

/* Could the rule name the note of that index? */
static bool names(const struct description *description, const struct described_rule *rule, uint32_t index)
{
    const struct described_number *number = &rule->note_number;
    const struct described_note *note = &description->notes[index];
    struct values values;
    switch (rule->note_by) {
    case DESCRIBED_NOTE_NONE:
        return false;
    case DESCRIBED_NOTE_FIXED:
        return rule->note_index == index;
    case DESCRIBED_NOTE_NAME:
        return number->field != 0 || strlen(note->name) == rule->note_length;
    default:
        break;
    }
    if (number->field != 0)
        return true;
    if ((uint32_t)note->type > number->mask >> number->shift)
        return false;
    if (number->bytes > 1)
        return true;
    values_find(description, &rule->when, place_of(description, number->at), &values);
    for (uint32_t value = 0; value < 256; value++) {
        if (values_has(&values, value) && (value & number->mask) >> number->shift == (uint32_t)note->type)
            return true;
    }
    return false;
}

static int32_t notes_check(struct reader *reader, const struct description *description)
{
    for (uint32_t index = 0; index < description->note_count; index++) {
        bool named = false;
        for (uint32_t i = 0; i < description->rule_count && !named; i++)
            named = names(description, &description->rules[i], index);
        if (named)
            continue;
        reader_enter(reader, "notes");
        reader_enter_element(reader, index);
        return reader_fault(reader, "no rule can name this note; take it out, or add the rule");
    }
    return CFOIL_OK;
}

int32_t description_reach_check(struct reader *reader, const struct description *description)
{
    reader_enter(reader, "rules");
    for (uint32_t i = 0; i < description->rule_count; i++) {
        reader_enter_element(reader, i);
        int32_t result = conditions_check(reader, description, i);
        if (result == CFOIL_OK)
            result = note_place_check(reader, description, &description->rules[i]);
        if (result == CFOIL_OK)
            result = hidden_check(reader, description, i);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return notes_check(reader, description);
}
