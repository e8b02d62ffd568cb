/*
 * The texts of one language: messages under keys, and what stands for the English texts of the packs.
 */
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <stdlib.h>
#include <string.h>

static const struct field messages_fields[] = {
    FIELDS_OF_EVERY_PACK,
    {"language", FIELD_TEXT, true, 2, 16},
    {"source", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"native_review", FIELD_ANY, true, 0, 0},
    {"messages", FIELD_OBJECT, false, 1, 500},
    {"texts", FIELD_ARRAY, false, 1, 4000},
};

static const struct field translation_fields[] = {
    {"en", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"to", FIELD_TEXT, true, 1, TEXT_TRANSLATED_MAX},
};

/* Which message has which of them, pack_language_check.c compares with English. */
const struct message_name pack_message_names[PACK_MESSAGE_NAME_COUNT] = {
    {"across", false}, {"amount", false}, {"confidence", false}, {"currency", false}, {"down", false},
    {"first", false},  {"how", false},    {"line", false},       {"means", false},    {"name", false},
    {"names", false},  {"number", true},  {"number_max", true},  {"review", false},   {"second", false},
    {"sense", false},  {"side", false},   {"source", false},     {"title", false},
};

/* ---- Messages ---- */

static int32_t message_list_read(struct reader *reader, const cJSON *list, struct pack_messages *messages)
{
    messages->messages = list;
    messages->message_count = (uint32_t)cJSON_GetArraySize(list);
    reader_enter(reader, "messages");
    int32_t result = reader_texts_check(reader, list, TEXT_TRANSLATED_MAX);
    const cJSON *item;
    cJSON_ArrayForEach(item, list)
    {
        if (result != CFOIL_OK)
            return result;
        reader_enter(reader, item->string);
        result = reader_pattern_check(reader, messages->language, item->valuestring, pack_message_names,
                                      PACK_MESSAGE_NAME_COUNT, NULL);
        if (result == CFOIL_OK)
            reader_leave(reader);
    }
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Translations ---- */

/* The translation must hold the same names as the English text: one that is left out would be missed by the cashier. */
static int32_t translation_read(struct reader *reader, const cJSON *object, const char *language,
                                struct pack_translation *translation)
{
    int32_t result = reader_object_check(reader, object, translation_fields, FIELD_COUNT(translation_fields));
    if (result != CFOIL_OK)
        return result;
    translation->english = member_text(object, "en");
    translation->text = member_text(object, "to");
    uint32_t wanted = 0;
    uint32_t used = 0;
    result = reader_pattern_check(reader, "en", translation->english, pack_text_names, PACK_TEXT_NAME_COUNT, &wanted);
    if (result == CFOIL_OK)
        result = reader_pattern_check(reader, language, translation->text, pack_text_names, PACK_TEXT_NAME_COUNT,
                                      &used);
    if (result == CFOIL_OK && wanted != used)
        result = reader_fault_at(reader, "to", "must have the same names in braces as the English text");
    return result;
}

static int translations_compare(const void *first, const void *second)
{
    const struct pack_translation *a = first;
    const struct pack_translation *b = second;
    return strcmp(a->english, b->english);
}

static int32_t translations_read(struct reader *reader, const cJSON *list, struct pack_messages *messages)
{
    struct pack_translation *made = reader_array_make(reader, list, sizeof *made, &messages->translation_count);
    if (made == NULL)
        return reader_memory_fault(reader);
    messages->translations = made;
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "texts");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = translation_read(reader, item, messages->language, &made[index]);
        if (result != CFOIL_OK)
            return result;
        index++;
        reader_leave(reader);
    }
    qsort(made, messages->translation_count, sizeof *made, translations_compare);
    for (uint32_t i = 1; i < messages->translation_count; i++) {
        if (strcmp(made[i - 1].english, made[i].english) == 0)
            return reader_fault(reader, "the English text '%.80s' stands twice", made[i].english);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The whole ---- */

/* The day on which a native speaker reviewed the texts, or false. */
static int32_t review_read(struct reader *reader, const cJSON *tree, struct pack_messages *messages)
{
    const cJSON *review = member(tree, "native_review");
    messages->native_review = "";
    if (cJSON_IsFalse(review))
        return CFOIL_OK;
    if (!cJSON_IsString(review))
        return reader_fault_at(reader, "native_review", "must be false, or the day of the review");
    return reader_date(reader, tree, "native_review", &messages->native_review);
}

int32_t pack_messages_read(struct reader *reader, const cJSON *tree, struct pack_messages *messages)
{
    int32_t result = reader_object_check(reader, tree, messages_fields, FIELD_COUNT(messages_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "id");
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "language");
    if (result != CFOIL_OK)
        return result;
    messages->language = member_text(tree, "language");
    if (member(tree, "messages") == NULL && member(tree, "texts") == NULL)
        return reader_fault(reader, "messages or texts must be there");
    result = review_read(reader, tree, messages);
    if (result == CFOIL_OK)
        result = message_list_read(reader, member(tree, "messages"), messages);
    if (result == CFOIL_OK)
        result = translations_read(reader, member(tree, "texts"), messages);
    return result;
}
