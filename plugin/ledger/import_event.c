/*
 * A line of an event history: is it a whole, strict event, and what becomes its entry? See import.h.
 */
#include "ledger/import.h"

#include "model/json.h"
#include "model/json_scan.h"
#include "model/names.h"
#include "model/text.h"
#include "model/uuid.h"

#include <stdio.h>
#include <string.h>

#define LANE_MAX  32
#define STORE_MAX 64

enum import_verdict import_bad(struct import_fault *fault, int32_t result, const char *text)
{
    fault->result = result;
    text_copy(fault->text, sizeof fault->text, text);
    return IMPORT_BAD;
}

cJSON *import_line_parse(const struct import_line *line, enum import_verdict *verdict, struct import_fault *fault)
{
    struct json_fault found;
    if (!json_scan(line->text, line->length, &found)) {
        *verdict = import_bad(fault, found.result, found.what);
        return NULL;
    }
    cJSON *object = cJSON_ParseWithLength(line->text, line->length);
    *verdict = IMPORT_MEMORY;
    if (object != NULL && !cJSON_IsObject(object)) {
        *verdict = import_bad(fault, CFOIL_E_DATA_SCHEMA, "the line must be a JSON object");
        cJSON_Delete(object);
        return NULL;
    }
    return object;
}

/* ---- Kinds of values ---- */

/* A whole number that a double holds exactly. */
static bool number_whole(double number)
{
    return number >= -9007199254740992.0 && number <= 9007199254740992.0 && (double)(int64_t)number == number;
}

static bool is_count(const cJSON *value)
{
    return cJSON_IsNumber(value) && value->valuedouble >= 0 && number_whole(value->valuedouble);
}

static bool is_whole(const cJSON *value)
{
    return cJSON_IsNumber(value) && number_whole(value->valuedouble);
}

static bool is_count_or_null(const cJSON *value)
{
    return cJSON_IsNull(value) || is_count(value);
}

static bool is_text(const cJSON *value)
{
    return cJSON_IsString(value) != 0;
}

static bool is_text_or_null(const cJSON *value)
{
    return cJSON_IsNull(value) || is_text(value);
}

static bool is_flag(const cJSON *value)
{
    return cJSON_IsBool(value) != 0;
}

static bool is_schema(const cJSON *value)
{
    return is_text(value) && strcmp(value->valuestring, "counterfoil.event/1") == 0;
}

static bool is_kind(const cJSON *value)
{
    return is_text(value) && name_kind_find(value->valuestring) >= 0;
}

static bool is_time(const cJSON *value)
{
    int64_t time_utc_ms;
    return is_text(value) && text_time_read(value->valuestring, &time_utc_ms);
}

static bool is_lane(const cJSON *value)
{
    return is_text(value) && text_acceptable(value->valuestring, 1, LANE_MAX);
}

static bool is_store(const cJSON *value)
{
    return is_text(value) && text_acceptable(value->valuestring, 1, STORE_MAX);
}

static bool is_record(const cJSON *value)
{
    uint8_t id[16];
    return is_text(value) && uuid_read(value->valuestring, id);
}

/* ISO 4217: three capital letters. */
static bool is_currency_or_null(const cJSON *value)
{
    if (cJSON_IsNull(value))
        return true;
    bool good = is_text(value) && strlen(value->valuestring) == 3;
    for (int i = 0; good && i < 3; i++)
        good = value->valuestring[i] >= 'A' && value->valuestring[i] <= 'Z';
    return good;
}

static bool is_reason(const cJSON *value)
{
    return is_text(value) && name_reason_find(value->valuestring) > CFOIL_REASON_NONE;
}

static bool is_reason_or_null(const cJSON *value)
{
    return cJSON_IsNull(value) || is_reason(value);
}

static bool is_condition(const cJSON *value)
{
    return is_text(value) && name_condition_find(value->valuestring) > CFOIL_CONDITION_NONE;
}

static bool all_are(const cJSON *list, bool (*good)(const cJSON *value))
{
    const cJSON *element;
    if (!cJSON_IsArray(list))
        return false;
    cJSON_ArrayForEach(element, list)
    {
        if (!good(element))
            return false;
    }
    return true;
}

static bool is_reasons(const cJSON *value)
{
    return all_are(value, is_reason);
}

static bool is_finding(const cJSON *value)
{
    const cJSON *channel = cJSON_GetObjectItemCaseSensitive(value, "channel");
    return is_text(channel) && name_channel_find(channel->valuestring) >= 0 &&
           is_text(cJSON_GetObjectItemCaseSensitive(value, "strength")) &&
           is_text(cJSON_GetObjectItemCaseSensitive(value, "origin"));
}

static bool is_findings(const cJSON *value)
{
    return all_are(value, is_finding);
}

static bool is_hex(const cJSON *value)
{
    if (!is_text(value) || strlen(value->valuestring) % 2 != 0)
        return false;
    return strspn(value->valuestring, "0123456789abcdef") == strlen(value->valuestring);
}

/* What is known of counterfoil.event/1 (docs/abi.md), and what an import adds. */
static const struct event_key {
    const char *key;
    bool (*good)(const cJSON *value);
    bool required;
} event_keys[] = {
    {"schema", is_schema, true},
    {"record", is_record, true},
    {"lane", is_lane, true},
    {"store", is_store, false},
    {"kind", is_kind, true},
    {"time", is_time, true},
    {"seq", is_count, true},
    {"presentation", is_count, false},
    {"currency", is_currency_or_null, false},
    {"value_minor", is_count_or_null, false},
    {"note_type", is_whole, false},
    {"note_name", is_text, false},
    {"reason", is_reason_or_null, false},
    {"reasons_possible", is_reasons, false},
    {"findings", is_findings, false},
    {"raw", is_text_or_null, false},
    {"raw_hex", is_hex, false},
    {"lane_state", is_text, false},
    {"condition", is_condition, false},
    {"lost_count", is_count_or_null, false},
    {"result", is_whole, false},
    {"while_away", is_flag, false},
    {"entry", is_count, false},
    {"text", is_text, false},
};

#define EVENT_KEY_COUNT (sizeof event_keys / sizeof event_keys[0])

/* ---- The event as a whole ---- */

/* Canonical JSON has one form for whole numbers only (docs/ledger.md). */
static bool numbers_whole(const cJSON *value)
{
    if (cJSON_IsNumber(value))
        return number_whole(value->valuedouble);
    for (const cJSON *child = value->child; child != NULL; child = child->next) {
        if (!numbers_whole(child))
            return false;
    }
    return true;
}

static enum import_verdict key_bad(struct import_fault *fault, const char *key, bool there)
{
    char text[120];
    (void)snprintf(text, sizeof text, "\"%.40s\" %s", key,
                   there ? "is not what an event may hold there" : "is missing, and an event to import needs it");
    return import_bad(fault, CFOIL_E_DATA_SCHEMA, text);
}

/* The place of a key in the table, or EVENT_KEY_COUNT. */
static size_t key_place(const char *key)
{
    size_t place = 0;
    while (place < EVENT_KEY_COUNT && (key[0] != event_keys[place].key[0] || strcmp(key, event_keys[place].key) != 0))
        place++;
    return place;
}

static enum import_verdict keys_check(const cJSON *object, struct import_fault *fault)
{
    bool there[EVENT_KEY_COUNT] = {false};
    const cJSON *value;
    cJSON_ArrayForEach(value, object)
    {
        size_t place = key_place(value->string);
        if (place == EVENT_KEY_COUNT)
            continue; /* new keys may come at any time */
        if (!event_keys[place].good(value))
            return key_bad(fault, value->string, true);
        there[place] = true;
    }
    for (size_t i = 0; i < EVENT_KEY_COUNT; i++) {
        if (event_keys[i].required && !there[i])
            return key_bad(fault, event_keys[i].key, false);
    }
    return IMPORT_TAKE;
}

static bool is_null(const cJSON *object, const char *key)
{
    const cJSON *value = cJSON_GetObjectItemCaseSensitive(object, key);
    return value == NULL || cJSON_IsNull(value);
}

static enum import_verdict event_check(const cJSON *object, struct import_fault *fault)
{
    enum import_verdict verdict = keys_check(object, fault);
    if (verdict != IMPORT_TAKE)
        return verdict;
    if (cJSON_GetObjectItemCaseSensitive(object, "origin") != NULL)
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "\"origin\" is written by the import only");
    if (is_null(object, "currency") != is_null(object, "value_minor"))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "a currency needs a value, and a value a currency");
    if (!numbers_whole(object))
        return import_bad(fault, CFOIL_E_DATA_SCHEMA, "a number is not whole, or above 2^53");
    return IMPORT_TAKE;
}

/* ---- Its entry ---- */

static const char *entry_kind(const cJSON *object)
{
    switch (name_kind_find(cJSON_GetObjectItemCaseSensitive(object, "kind")->valuestring)) {
    case CFOIL_KIND_HELD:
    case CFOIL_KIND_STACKED:
    case CFOIL_KIND_RETURNED:
    case CFOIL_KIND_REJECTED:
        return LEDGER_KIND_PRESENTATION;
    default:
        return LEDGER_KIND_DEVICE;
    }
}

/* What names the line goes into "origin"; the number of an entry elsewhere says nothing here. */
static bool origin_set(cJSON *object, const uint8_t id[16])
{
    char text[UUID_TEXT_SIZE];
    uuid_text(id, text);
    cJSON *store = cJSON_DetachItemFromObjectCaseSensitive(object, "store");
    cJSON_DeleteItemFromObjectCaseSensitive(object, "record");
    cJSON_DeleteItemFromObjectCaseSensitive(object, "entry");
    cJSON *origin = json_object_add(object, "origin");
    bool good = json_text_add(origin, "record", text) &&
                (store == NULL || json_text_add(origin, "store", store->valuestring));
    cJSON_Delete(store);
    return good;
}

static enum import_verdict record_fill(cJSON *object, struct import_record *record)
{
    (void)uuid_read(cJSON_GetObjectItemCaseSensitive(object, "record")->valuestring, record->id);
    (void)text_time_read(cJSON_GetObjectItemCaseSensitive(object, "time")->valuestring, &record->time_utc_ms);
    record->kind = entry_kind(object);
    record->body = origin_set(object, record->id) ? json_canonical(object) : NULL;
    return record->body != NULL ? IMPORT_TAKE : IMPORT_MEMORY;
}

enum import_verdict import_event_read(const struct import_line *line, struct import_record *record,
                                      struct import_fault *fault)
{
    enum import_verdict verdict;
    cJSON *object = import_line_parse(line, &verdict, fault);
    if (object == NULL)
        return verdict;
    verdict = event_check(object, fault);
    if (verdict == IMPORT_TAKE)
        verdict = record_fill(object, record);
    cJSON_Delete(object);
    return verdict;
}
