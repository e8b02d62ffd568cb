/*
 * The rules of a jurisdiction: what may be done with a note in doubt there, and in which words.
 */
#include "model/names.h"
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <stddef.h>
#include <string.h>

static const struct field jurisdiction_fields[] = {
    FIELDS_OF_EVERY_PACK,
    FIELDS_OF_A_FACT,
    {"title", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    {"as_of", FIELD_TEXT, true, 10, 10},
    {"dispositions", FIELD_ARRAY, true, 1, 4},
    {"ask_another", FIELD_ANY, true, 0, 0},
    {"set_aside", FIELD_ANY, true, 0, 0},
    {"tell_whom", FIELD_ANY, true, 0, 0},
    {"write_down", FIELD_ANY, true, 0, 0},
    {"never", FIELD_ANY, true, 0, 0},
    {"caution", FIELD_ANY, true, 0, 0},
    {"found_later", FIELD_ANY, true, 0, 0},
    {"deadline", FIELD_ANY, true, 0, 0},
    {"customer", FIELD_ANY, false, 0, 0},
    {"pieces_at_once", FIELD_ANY, false, 0, 0},
    {"days_kept", FIELD_ANY, false, 0, 0},
    {"law", FIELD_ARRAY, false, 0, 40},
    {"sources", FIELD_OBJECT, true, 1, 100},
};

static const struct field rule_fields[] = {
    FIELDS_OF_A_FACT,
    {"text", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
};

static const struct field limit_fields[] = {
    FIELDS_OF_A_FACT,
    {"text", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"number", FIELD_INTEGER, false, 1, 36500},
};

/* Where each text stands in the file and in the struct. */
static const struct {
    const char *key;
    size_t offset;
} rules[] = {
    {"ask_another", offsetof(struct pack_jurisdiction, ask_another)},
    {"set_aside", offsetof(struct pack_jurisdiction, set_aside)},
    {"tell_whom", offsetof(struct pack_jurisdiction, tell_whom)},
    {"write_down", offsetof(struct pack_jurisdiction, write_down)},
    {"never", offsetof(struct pack_jurisdiction, never)},
    {"caution", offsetof(struct pack_jurisdiction, caution)},
    {"found_later", offsetof(struct pack_jurisdiction, found_later)},
    {"deadline", offsetof(struct pack_jurisdiction, deadline)},
};

/* ---- Texts with their sources ---- */

/* Text and source of an object whose keys are checked. */
static int32_t rule_take(struct reader *reader, const cJSON *object, struct pack_rule *rule)
{
    rule->text = member_text(object, "text");
    int32_t result = reader_pattern_check(reader, "en", rule->text, NULL, 0, NULL);
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &rule->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &rule->confidence);
    return result;
}

static int32_t rule_object_read(struct reader *reader, const cJSON *object, struct pack_rule *rule)
{
    int32_t result = reader_object_check(reader, object, rule_fields, FIELD_COUNT(rule_fields));
    return result == CFOIL_OK ? rule_take(reader, object, rule) : result;
}

/* A limit that is not there is "". */
static int32_t limit_read(struct reader *reader, const cJSON *tree, const char *key, struct pack_limit *limit)
{
    const cJSON *object = member(tree, key);
    *limit = (struct pack_limit){{"", "", CONFIDENCE_PRACTICE}, 0};
    if (object == NULL)
        return CFOIL_OK;
    reader_enter(reader, key);
    int32_t result = reader_object_check(reader, object, limit_fields, FIELD_COUNT(limit_fields));
    if (result == CFOIL_OK)
        result = rule_take(reader, object, &limit->rule);
    if (result != CFOIL_OK)
        return result;
    limit->number = (uint32_t)member_integer(object, "number");
    reader_leave(reader);
    return CFOIL_OK;
}

/* A plain text has the source of the whole pack. */
static int32_t rule_read(struct reader *reader, const cJSON *tree, const char *key,
                         const struct pack_jurisdiction *jurisdiction, struct pack_rule *rule)
{
    static const struct field plain[] = {{"", FIELD_TEXT, true, 1, TEXT_LONG_MAX}};
    const cJSON *value = member(tree, key);
    *rule = (struct pack_rule){"", jurisdiction->source, jurisdiction->confidence};
    reader_enter(reader, key);
    int32_t result = cJSON_IsObject(value) ? rule_object_read(reader, value, rule)
                                           : reader_value_check(reader, value, plain);
    if (result == CFOIL_OK && cJSON_IsString(value)) {
        rule->text = value->valuestring;
        result = reader_pattern_check(reader, "en", rule->text, NULL, 0, NULL);
    }
    if (result != CFOIL_OK)
        return result;
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t rules_read(struct reader *reader, const cJSON *tree, struct pack_jurisdiction *jurisdiction)
{
    int32_t result = CFOIL_OK;
    for (size_t i = 0; result == CFOIL_OK && i < sizeof rules / sizeof rules[0]; i++) {
        unsigned char *base = (unsigned char *)jurisdiction;
        result = rule_read(reader, tree, rules[i].key, jurisdiction,
                           (struct pack_rule *)(void *)(base + rules[i].offset));
    }
    jurisdiction->customer.text = "";
    if (result == CFOIL_OK && member(tree, "customer") != NULL)
        result = rule_read(reader, tree, "customer", jurisdiction, &jurisdiction->customer);
    if (result == CFOIL_OK)
        result = limit_read(reader, tree, "pieces_at_once", &jurisdiction->pieces);
    if (result == CFOIL_OK)
        result = limit_read(reader, tree, "days_kept", &jurisdiction->days_kept);
    return result;
}

int32_t facts_read(struct reader *reader, const cJSON *tree, const char *key, const struct pack_rule **facts,
                   uint32_t *count)
{
    const cJSON *list = member(tree, key);
    struct pack_rule *fact = reader_array_make(reader, list, sizeof *fact, count);
    if (fact == NULL)
        return reader_memory_fault(reader);
    *facts = fact;
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, key);
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index++);
        int32_t result = rule_object_read(reader, item, fact++);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The whole ---- */

static int32_t dispositions_read(struct reader *reader, const cJSON *list, struct pack_jurisdiction *jurisdiction)
{
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "dispositions");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t disposition = cJSON_IsString(item) ? name_disposition_find(item->valuestring) : -1;
        if (disposition <= CFOIL_DISPOSITION_NONE)
            return reader_fault(reader, "must be taken, not_taken, set_aside or abandoned");
        uint32_t bit = 1u << disposition;
        if ((jurisdiction->dispositions & bit) != 0)
            return reader_fault(reader, "stands twice in the list");
        jurisdiction->dispositions |= bit;
        if (index++ == 0)
            jurisdiction->first_disposition = disposition;
        reader_leave(reader);
    }
    /* Whatever the place: a note can stay with the customer, and a case can lead to nothing. */
    uint32_t always = 1u << CFOIL_DISPOSITION_NOT_TAKEN | 1u << CFOIL_DISPOSITION_ABANDONED;
    if ((jurisdiction->dispositions & always) != always)
        return reader_fault(reader, "not_taken and abandoned must be in the list");
    reader_leave(reader);
    return CFOIL_OK;
}

int32_t pack_jurisdiction_read(struct reader *reader, const cJSON *tree, struct pack_jurisdiction *jurisdiction)
{
    int32_t result = reader_object_check(reader, tree, jurisdiction_fields, FIELD_COUNT(jurisdiction_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "id");
    if (result == CFOIL_OK)
        result = reader_sources_read(reader, tree);
    if (result != CFOIL_OK)
        return result;
    jurisdiction->id = member_text(tree, "id");
    jurisdiction->title = member_text(tree, "title");
    result = dispositions_read(reader, member(tree, "dispositions"), jurisdiction);
    if (result == CFOIL_OK)
        result = reader_source(reader, tree, "source", &jurisdiction->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, tree, "confidence", &jurisdiction->confidence);
    if (result == CFOIL_OK)
        result = reader_date(reader, tree, "as_of", &jurisdiction->date);
    if (result == CFOIL_OK)
        result = rules_read(reader, tree, jurisdiction);
    if (result == CFOIL_OK)
        result = facts_read(reader, tree, "law", &jurisdiction->law, &jurisdiction->law_count);
    return result;
}

/* ---- Looking up ---- */

/* What stands in `name` up to its end or the word ".source". */
static size_t name_length(const char *name, bool *source)
{
    static const char ending[] = ".source";
    size_t length = strlen(name);
    size_t after = sizeof ending - 1;
    *source = length > after && strcmp(name + length - after, ending) == 0;
    return *source ? length - after : length;
}

static const struct pack_rule *law_find(const struct pack_jurisdiction *jurisdiction, const char *name, size_t length)
{
    static const char beginning[] = "law.";
    size_t before = sizeof beginning - 1;
    uint32_t number = 0;
    if (length <= before || length > before + 2 || strncmp(name, beginning, before) != 0)
        return NULL;
    for (size_t i = before; i < length; i++) {
        if (name[i] < '0' || name[i] > '9')
            return NULL;
        number = number * 10 + (uint32_t)(name[i] - '0');
    }
    return number >= 1 && number <= jurisdiction->law_count ? &jurisdiction->law[number - 1] : NULL;
}

static const struct pack_rule *rule_find(const struct pack_jurisdiction *jurisdiction, const char *name, size_t length)
{
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
        if (strlen(rules[i].key) == length && strncmp(rules[i].key, name, length) == 0)
            return (const struct pack_rule *)(const void *)((const unsigned char *)jurisdiction + rules[i].offset);
    }
    return law_find(jurisdiction, name, length);
}

struct pack_phrase pack_phrase_of_jurisdiction(const struct pack_set *set, const char *language,
                                               const struct pack_jurisdiction *jurisdiction, const char *name)
{
    if (strcmp(name, "title") == 0)
        return pack_phrase_of_text(set, language, jurisdiction->title);
    if (strcmp(name, "date") == 0)
        return (struct pack_phrase){jurisdiction->date, "en"};
    if (strcmp(name, "source") == 0)
        return (struct pack_phrase){jurisdiction->source, "en"};
    bool source;
    size_t length = name_length(name, &source);
    const struct pack_rule *rule = rule_find(jurisdiction, name, length);
    if (rule == NULL)
        return (struct pack_phrase){NULL, "en"};
    return source ? (struct pack_phrase){rule->source, "en"} : pack_phrase_of_text(set, language, rule->text);
}
