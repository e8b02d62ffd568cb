/*
 * The catalogue of one language: texts under keys.
 */
#include "packs/fields.h"
#include "packs/pack_data.h"

static const struct field messages_fields[] = {
    FIELDS_OF_EVERY_PACK,
    {"language", FIELD_TEXT, true, 2, 16},
    {"source", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"messages", FIELD_OBJECT, true, 1, 500},
};

int32_t pack_messages_read(struct reader *reader, const cJSON *tree, struct pack_messages *messages)
{
    int32_t result = reader_object_check(reader, tree, messages_fields, FIELD_COUNT(messages_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "id");
    if (result != CFOIL_OK)
        return result;
    messages->language = member_text(tree, "language");
    messages->texts = member(tree, "messages");
    messages->count = (uint32_t)cJSON_GetArraySize(messages->texts);
    reader_enter(reader, "messages");
    result = reader_texts_check(reader, messages->texts, TEXT_LONG_MAX);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}
