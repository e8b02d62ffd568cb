/*
 * Conditions of a device description: what an answer, a message or an entry must look like.
 */
#include "packs/description_parts.h"

#include <string.h>

static const struct field condition_fields[] = {
    {"at", FIELD_INTEGER, false, -DESCRIBED_MESSAGE_MAX, DESCRIBED_MESSAGE_MAX - 1},
    {"field", FIELD_INTEGER, false, 1, 40},
    {"length", FIELD_INTEGER, false, 1, DESCRIBED_MESSAGE_MAX},
    {"equals", FIELD_TEXT, false, 2, 3 * DESCRIBED_BYTES_MAX - 1},
    {"mask", FIELD_TEXT, false, 2, 2},
    {"text", FIELD_TEXT, false, 0, DESCRIBED_BYTES_MAX},
    {"from", FIELD_INTEGER, false, 0, 999999999},
    {"to", FIELD_INTEGER, false, 0, 999999999},
};

static bool has(const cJSON *object, const char *key)
{
    return member(object, key) != NULL;
}

static int32_t range_read(struct reader *reader, const cJSON *object, struct described_condition *condition)
{
    if (!has(object, "from") || !has(object, "to"))
        return reader_fault(reader, "give what is looked for: equals, text, or from and to");
    condition->low = (uint32_t)member_integer(object, "from");
    condition->high = (uint32_t)member_integer(object, "to");
    return condition->low <= condition->high ? CFOIL_OK
                                             : reader_fault_at(reader, "to", "must not be smaller than 'from'");
}

static int32_t text_take(struct reader *reader, const cJSON *object, struct described_condition *condition)
{
    const char *text = member_text(object, "text");
    condition->length = (uint32_t)strlen(text);
    if (condition->length == 0 && condition->test == DESCRIBED_TEST_BYTES)
        return reader_fault_at(reader, "text", "is empty");
    memcpy(condition->bytes, text, condition->length);
    return CFOIL_OK;
}

static int32_t field_condition_read(struct reader *reader, const cJSON *object, const struct description *description,
                                    bool entries, struct described_condition *condition)
{
    if (!description->text_lines || entries)
        return reader_fault_at(reader, "field", "only lines have fields; name a place with 'at'");
    condition->field = (uint32_t)member_integer(object, "field");
    condition->test = has(object, "text") ? DESCRIBED_TEST_FIELD : DESCRIBED_TEST_FIELD_NUMBER;
    return has(object, "text") ? text_take(reader, object, condition) : range_read(reader, object, condition);
}

static int32_t masked_read(struct reader *reader, const cJSON *object, struct described_condition *condition)
{
    condition->test = DESCRIBED_TEST_BITS;
    condition->mask = 0xFF;
    int32_t result = description_hex_number_read(reader, object, "mask", 1, &condition->mask);
    if (result != CFOIL_OK)
        return result;
    if (!has(object, "equals"))
        return range_read(reader, object, condition);
    result = description_hex_number_read(reader, object, "equals", 1, &condition->low);
    condition->high = condition->low;
    return result;
}

static int32_t place_condition_read(struct reader *reader, const cJSON *object, struct described_condition *condition)
{
    condition->at = (int32_t)member_integer(object, "at");
    condition->test = DESCRIBED_TEST_BYTES;
    if (has(object, "text"))
        return text_take(reader, object, condition);
    if (has(object, "mask") || !has(object, "equals"))
        return masked_read(reader, object, condition);
    return description_hex_read(reader, object, "equals", 1, DESCRIBED_BYTES_MAX, condition->bytes, &condition->length);
}

/* No two ways of telling one thing, of which one would be left out silently. */
static int32_t condition_shape_check(struct reader *reader, const cJSON *object)
{
    int places = has(object, "at") + has(object, "field") + has(object, "length");
    bool range = has(object, "from") || has(object, "to");
    int values = has(object, "equals") + has(object, "text") + range;
    if (places != 1)
        return reader_fault(reader, "look at one thing: at, field or length");
    if (has(object, "length"))
        return values == 0 && !has(object, "mask") ? CFOIL_OK : reader_fault(reader, "length stands alone");
    if (values != 1)
        return reader_fault(reader, "give what is looked for: equals, text, or from and to");
    if (has(object, "mask") && (has(object, "text") || has(object, "field")))
        return reader_fault_at(reader, "mask", "goes with 'at' and 'equals', or 'from' and 'to'");
    if (has(object, "equals") && has(object, "field"))
        return reader_fault_at(reader, "equals", "a field is compared with 'text', or 'from' and 'to'");
    return CFOIL_OK;
}

static int32_t condition_read(struct reader *reader, const cJSON *object, const struct description *description,
                              bool entries, struct described_condition *condition)
{
    int32_t result = reader_object_check(reader, object, condition_fields, FIELD_COUNT(condition_fields));
    if (result == CFOIL_OK)
        result = condition_shape_check(reader, object);
    if (result != CFOIL_OK)
        return result;
    if (has(object, "field"))
        return field_condition_read(reader, object, description, entries, condition);
    if (has(object, "at"))
        return place_condition_read(reader, object, condition);
    if (entries)
        return reader_fault_at(reader, "length", "all entries of the buffer have the same");
    condition->test = DESCRIBED_TEST_LENGTH;
    condition->low = (uint32_t)member_integer(object, "length");
    condition->high = condition->low;
    return CFOIL_OK;
}

int32_t description_conditions_read(struct reader *reader, const cJSON *object, const char *key,
                                    const struct description *description, bool entries,
                                    struct described_conditions *conditions)
{
    const cJSON *item;
    reader_enter(reader, key);
    cJSON_ArrayForEach(item, member(object, key))
    {
        reader_enter_element(reader, conditions->count);
        int32_t result = condition_read(reader, item, description, entries, &conditions->items[conditions->count]);
        if (result != CFOIL_OK)
            return result;
        conditions->count++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}
