/*
 * The forms of a currency's serial numbers, as a pack describes them.
 */
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <string.h>

static const struct field serial_fields[] = {
    FIELDS_OF_A_FACT,
    {"series", FIELD_TEXT, false, 1, TEXT_ID_MAX}, /* missing: several series have this form */
    {"form", FIELD_TEXT, true, 1, 31},
    {"letters_not_used", FIELD_TEXT, false, 1, 26},
    {"hint", FIELD_TEXT, false, 1, TEXT_LONG_MAX},
    {"prefix_means", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"prefixes", FIELD_ARRAY, false, 0, 16},
    {"checksum", FIELD_OBJECT, false, 0, 8},
    {"repeats", FIELD_FLAG, false, 0, 0},
};

static const struct field checksum_fields[] = {
    FIELDS_OF_A_FACT,
    {"letter_a", FIELD_INTEGER, true, 0, 1000},
    {"modulus", FIELD_INTEGER, true, 2, 1000},
    {"remainder", FIELD_INTEGER, true, 0, 999},
};

static const struct field prefix_fields[] = {
    FIELDS_OF_A_FACT,
    {"kept_free", FIELD_FLAG, false, 0, 0},
    {"names", FIELD_OBJECT, true, 1, 200},
};

const struct serial_prefix *serial_prefix_find(const struct serial_rule *rule, const char *serial)
{
    for (uint32_t i = 0; i < rule->prefix_count; i++) {
        const char *letters = rule->prefixes[i].letters;
        if (strncmp(letters, serial, strlen(letters)) == 0)
            return &rule->prefixes[i];
    }
    return NULL;
}

/* ---- Prefixes: groups of one source each ---- */

static int32_t prefix_group_read(struct reader *reader, const cJSON *group, struct serial_rule *rule,
                                 struct serial_prefix *prefixes)
{
    int32_t result = reader_object_check(reader, group, prefix_fields, FIELD_COUNT(prefix_fields));
    const char *source;
    enum confidence confidence;
    if (result == CFOIL_OK)
        result = reader_source(reader, group, "source", &source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, group, "confidence", &confidence);
    if (result != CFOIL_OK)
        return result;
    reader_enter(reader, "names");
    result = reader_texts_check(reader, member(group, "names"), 72);
    if (result != CFOIL_OK)
        return result;
    const cJSON *item;
    cJSON_ArrayForEach(item, member(group, "names"))
    {
        if (serial_prefix_find(rule, item->string) != NULL)
            return reader_fault_at(reader, item->string, "this prefix stands twice");
        prefixes[rule->prefix_count++] = (struct serial_prefix){
            .letters = item->string,
            .name = item->valuestring,
            .kept_free = cJSON_IsTrue(member(group, "kept_free")),
        };
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static size_t prefixes_count(const cJSON *groups)
{
    size_t count = 0;
    const cJSON *group;
    cJSON_ArrayForEach(group, groups)
    {
        count += (size_t)cJSON_GetArraySize(member(group, "names"));
    }
    return count;
}

static int32_t prefixes_read(struct reader *reader, const cJSON *groups, struct serial_rule *rule)
{
    struct serial_prefix *prefixes = arena_allocate(reader->arena, prefixes_count(groups) * sizeof *prefixes);
    if (prefixes == NULL)
        return reader_memory_fault(reader);
    rule->prefixes = prefixes;
    uint32_t index = 0;
    const cJSON *group;
    reader_enter(reader, "prefixes");
    cJSON_ArrayForEach(group, groups)
    {
        reader_enter_element(reader, index++);
        int32_t result = prefix_group_read(reader, group, rule, prefixes);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Check figure ---- */

static int32_t checksum_read(struct reader *reader, const cJSON *object, struct serial_rule *rule)
{
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, "checksum");
    int32_t result = reader_object_check(reader, object, checksum_fields, FIELD_COUNT(checksum_fields));
    const char *source;
    enum confidence confidence;
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &confidence);
    if (result != CFOIL_OK)
        return result;
    rule->has_checksum = true;
    rule->letter_a = (uint32_t)member_integer(object, "letter_a");
    rule->modulus = (uint32_t)member_integer(object, "modulus");
    rule->remainder = (uint32_t)member_integer(object, "remainder");
    if (rule->remainder >= rule->modulus)
        return reader_fault_at(reader, "remainder", "must be smaller than the modulus");
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The rules ---- */

static int32_t letters_check(struct reader *reader, const char *letters)
{
    if (strspn(letters, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != strlen(letters))
        return reader_fault_at(reader, "letters_not_used", "may hold capital letters A to Z only");
    return CFOIL_OK;
}

static int32_t rule_read(struct reader *reader, const cJSON *object, const struct pack_currency *currency,
                         struct serial_rule *rule)
{
    int32_t result = reader_object_check(reader, object, serial_fields, FIELD_COUNT(serial_fields));
    if (result != CFOIL_OK)
        return result;
    rule->series = member_text(object, "series");
    rule->form = member_text(object, "form");
    rule->letters_not_used = member_text(object, "letters_not_used");
    rule->hint = member_text(object, "hint");
    rule->prefix_means = member_text(object, "prefix_means");
    rule->repeats = cJSON_IsTrue(member(object, "repeats"));
    if (rule->series[0] != '\0' && pack_series_find(currency, rule->series) == NULL)
        return reader_fault_at(reader, "series", "there is no series '%s' in this pack", rule->series);
    if (strspn(rule->form, "LD*") != strlen(rule->form))
        return reader_fault_at(reader, "form", "may hold L for a letter, D for a digit and * for a star only");
    if ((member(object, "prefixes") != NULL) != (rule->prefix_means[0] != '\0'))
        return reader_fault(reader, "prefixes and prefix_means belong together");
    result = letters_check(reader, rule->letters_not_used);
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &rule->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &rule->confidence);
    if (result == CFOIL_OK)
        result = prefixes_read(reader, member(object, "prefixes"), rule);
    if (result == CFOIL_OK)
        result = checksum_read(reader, member(object, "checksum"), rule);
    return result;
}

int32_t serials_read(struct reader *reader, const cJSON *list, struct pack_currency *currency)
{
    currency->serials = reader_array_make(reader, list, sizeof *currency->serials, &currency->serial_count);
    if (currency->serials == NULL)
        return reader_memory_fault(reader);
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "serials");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = rule_read(reader, item, currency, &currency->serials[index]);
        if (result != CFOIL_OK)
            return result;
        index++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}
