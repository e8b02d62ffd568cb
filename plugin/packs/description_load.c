/*
 * From the file of a device description to its struct: scan, parse, and read what the format asks for. All or nothing.
 */
#include "packs/description_parts.h"
#include "packs/pack_data.h"

#include <string.h>

#define SCHEMA "counterfoil.device/1"

static const struct field description_fields[] = {
    FIELDS_OF_EVERY_PACK,
    {"name", FIELD_TEXT, true, 1, 64},
    {"source", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"confidence", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"maturity", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"line", FIELD_OBJECT, true, 4, 4},
    {"frame", FIELD_OBJECT, false, 1, 10},
    {"lines", FIELD_OBJECT, false, 1, 10},
    {"times", FIELD_OBJECT, false, 1, 10},
    {"echo", FIELD_FLAG, false, 0, 0},
    {"sequence", FIELD_OBJECT, false, 1, 12},
    {"start", FIELD_ARRAY, false, 1, DESCRIBED_START_MAX},
    {"poll", FIELD_OBJECT, false, 1, 10},
    {"acknowledge", FIELD_OBJECT, false, 1, 10},
    {"accept", FIELD_OBJECT, false, 2, 3},
    {"held", FIELD_OBJECT, false, 2, 4},
    {"self_check", FIELD_OBJECT, false, 1, 10},
    {"watch", FIELD_OBJECT, false, 1, 10},
    {"raw_text", FIELD_TEXT, false, 1, DESCRIBED_RAW_TEXT_MAX},
    {"buffer", FIELD_OBJECT, false, 1, 10},
    {"notes", FIELD_ARRAY, false, 1, DESCRIBED_NOTES_MAX},
    {"rules", FIELD_ARRAY, true, 1, DESCRIBED_RULES_MAX},
};

static const struct field line_fields[] = {
    {"baud", FIELD_INTEGER, true, 300, 4000000},
    {"data_bits", FIELD_INTEGER, true, 5, 8},
    {"parity", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"stop_bits", FIELD_INTEGER, true, 1, 2},
};

static const struct field time_fields[] = {
    {"answer_ms", FIELD_INTEGER, false, 5, 10000},    {"byte_gap_ms", FIELD_INTEGER, false, 1, 5000},
    {"pause_ms", FIELD_INTEGER, false, 0, 5000},      {"silence_ms", FIELD_INTEGER, false, 500, 60000},
    {"outcome_ms", FIELD_INTEGER, false, 500, 60000}, {"hold_ms", FIELD_INTEGER, false, 1000, 600000},
};

static int32_t serial_line_read(struct reader *reader, const cJSON *tree, cfoil_line *line)
{
    static const char *const parities[] = {"none", "even", "odd", "mark", "space", NULL};
    const cJSON *object = member(tree, "line");
    reader_enter(reader, "line");
    int32_t result = reader_object_check(reader, object, line_fields, FIELD_COUNT(line_fields));
    if (result == CFOIL_OK)
        result = description_word_read(reader, object, "parity", parities, &line->parity);
    if (result != CFOIL_OK)
        return result;
    line->baud = (uint32_t)member_integer(object, "baud");
    line->data_bits = (uint32_t)member_integer(object, "data_bits");
    line->stop_bits = (uint32_t)member_integer(object, "stop_bits");
    reader_leave(reader);
    return CFOIL_OK;
}

static uint64_t time_of(const cJSON *times, const char *key, uint64_t otherwise_ms)
{
    const cJSON *value = times != NULL ? member(times, key) : NULL;
    return 1000 * (value != NULL ? (uint64_t)value->valuedouble : otherwise_ms);
}

static int32_t times_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const cJSON *times = member(tree, "times");
    if (times != NULL) {
        reader_enter(reader, "times");
        int32_t result = reader_object_check(reader, times, time_fields, FIELD_COUNT(time_fields));
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    description->byte_gap_us = time_of(times, "byte_gap_ms", description->text_lines ? 500 : 50);
    description->pause_us = time_of(times, "pause_ms", 5);
    description->silence_us = time_of(times, "silence_ms", description->polled ? 10000 : 0);
    description->outcome_us = time_of(times, "outcome_ms", 10000);
    description->hold_us = time_of(times, "hold_ms", 30000);
    /* Each exchange has its own time for an answer; this is what it has when it says nothing. */
    description->poll.answer_us = time_of(times, "answer_ms", 100);
    return CFOIL_OK;
}

static int32_t id_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    const char *id = member_text(tree, "id");
    if (strlen(id) > 16 || strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-") != strlen(id))
        return reader_fault_at(reader, "id", "must be 1 to 16 of a-z, 0-9 and '-': the adapter gets this id");
    memcpy(description->id, id, strlen(id) + 1);
    memcpy(description->name, member_text(tree, "name"), strlen(member_text(tree, "name")) + 1);
    return CFOIL_OK;
}

/* What the description is, before what it tells. */
static int32_t head_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    static const char *const maturities[] = {"experimental", "replay_verified", "hardware_verified", NULL};
    enum confidence confidence;
    const char *reviewed;
    int32_t maturity = 0;
    int32_t result = id_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = reader_date(reader, tree, "reviewed", &reviewed);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, tree, "confidence", &confidence);
    if (result == CFOIL_OK)
        result = description_word_read(reader, tree, "maturity", maturities, &maturity);
    description->maturity = CFOIL_MATURITY_EXPERIMENTAL + maturity;
    return result;
}

static int32_t tree_read(struct reader *reader, const cJSON *tree, struct description *description)
{
    if (!cJSON_IsObject(tree))
        return reader_fault(reader, "a description must be an object { }");
    const cJSON *schema = member(tree, "schema");
    if (schema == NULL)
        return reader_fault(reader, "the key 'schema' is missing");
    if (!cJSON_IsString(schema) || strcmp(schema->valuestring, SCHEMA) != 0)
        return reader_fault_at(reader, "schema", "must be " SCHEMA);
    int32_t result = reader_object_check(reader, tree, description_fields, FIELD_COUNT(description_fields));
    if (result == CFOIL_OK)
        result = head_read(reader, tree, description);
    if (result != CFOIL_OK)
        return result;
    description->polled = member(tree, "poll") != NULL;
    description->echo = cJSON_IsTrue(member(tree, "echo"));
    if (description->echo && !description->polled)
        return reader_fault_at(reader, "echo", "only a device that is asked has an echo; it needs 'poll'");
    result = serial_line_read(reader, tree, &description->line);
    if (result == CFOIL_OK)
        result = description_line_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = times_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = description_sequence_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = description_talk_read(reader, tree, description);
    if (result == CFOIL_OK)
        result = description_rules_read(reader, tree, description);
    return result == CFOIL_OK ? description_reach_check(reader, description) : result;
}

int32_t description_parse(const struct memory *memory, const char *file, const char *text, size_t length,
                          struct description **description, cfoil_error_info *error)
{
    *description = NULL;
    int32_t result = pack_text_scan(file, text, length, error);
    if (result != CFOIL_OK)
        return result;
    struct description *made = memory_allocate(memory, sizeof *made);
    cJSON *tree = cJSON_ParseWithLength(text, length);
    struct reader reader = {.file = file, .text = text, .length = length, .error = error};
    /* What json_scan() has passed, cJSON refuses for lack of memory only. */
    result = made == NULL || tree == NULL ? reader_memory_fault(&reader) : tree_read(&reader, tree, made);
    cJSON_Delete(tree);
    if (result != CFOIL_OK) {
        memory_release(memory, made);
        return result;
    }
    *description = made;
    return CFOIL_OK;
}

int32_t description_load(const struct memory *memory, const char *path, struct description **description,
                         cfoil_error_info *error)
{
    char *text;
    size_t length;
    *description = NULL;
    int32_t result = pack_file_read(memory, path, &text, &length, error);
    if (result != CFOIL_OK)
        return result;
    result = description_parse(memory, path, text, length, description, error);
    memory_release(memory, text);
    return result;
}
