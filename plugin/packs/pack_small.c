/*
 * The two small kinds of pack: the rules of a jurisdiction, and the message catalogue.
 */
#include "model/names.h"
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <string.h>

/* ---- Jurisdiction ---- */

static const struct field jurisdiction_fields[] = {
    FIELDS_OF_EVERY_PACK,
    FIELDS_OF_A_FACT,
    {"title", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    {"as_of", FIELD_TEXT, true, 10, 10},
    {"dispositions", FIELD_ARRAY, true, 1, 4},
    {"ask_another", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"set_aside", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"tell_whom", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"write_down", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"never", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"caution", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"sources", FIELD_OBJECT, true, 1, 100},
};

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
    jurisdiction->ask_another = member_text(tree, "ask_another");
    jurisdiction->set_aside = member_text(tree, "set_aside");
    jurisdiction->tell_whom = member_text(tree, "tell_whom");
    jurisdiction->write_down = member_text(tree, "write_down");
    jurisdiction->never = member_text(tree, "never");
    jurisdiction->caution = member_text(tree, "caution");
    result = dispositions_read(reader, member(tree, "dispositions"), jurisdiction);
    if (result == CFOIL_OK)
        result = reader_source(reader, tree, "source", &jurisdiction->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, tree, "confidence", &jurisdiction->confidence);
    if (result == CFOIL_OK)
        result = reader_date(reader, tree, "as_of", &jurisdiction->date);
    return result;
}

/* ---- Messages ---- */

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
