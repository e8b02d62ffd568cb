/*
 * Reading a pack's JSON tree strictly. See reader.h.
 */
#include "packs/reader.h"

#include "model/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- Faults ---- */

/* The end of a long file name says more than its beginning. */
static const char *file_shown(const char *file)
{
    const char *slash = strrchr(file, '/');
    return strlen(file) > 60 && slash != NULL ? slash + 1 : file;
}

#define WHAT_SIZE 512

static int32_t fault_tell(const struct reader *reader, const char *what)
{
    char file[80];
    char path[120];
    text_copy(file, sizeof file, file_shown(reader->file));
    json_path_print(&reader->path, path, sizeof path);
    int32_t line = json_line_find(reader->text, reader->length, &reader->path);
    error_set(reader->error, CFOIL_E_DATA_SCHEMA, 0, "packs", "%s: %s: line %d: %s", file, path, (int)line, what);
    if (reader->error != NULL)
        reader->error->line = line;
    return CFOIL_E_DATA_SCHEMA;
}

int32_t reader_fault(const struct reader *reader, const char *format, ...)
{
    char what[WHAT_SIZE];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    return fault_tell(reader, what);
}

int32_t reader_fault_at(struct reader *reader, const char *key, const char *format, ...)
{
    char what[WHAT_SIZE];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    reader_enter(reader, key);
    return fault_tell(reader, what);
}

int32_t reader_memory_fault(const struct reader *reader)
{
    return error_memory_set(reader->error, "packs");
}

/* ---- The path: never deeper than what json_scan() has let pass ---- */

void reader_enter(struct reader *reader, const char *key)
{
    reader->path.steps[reader->path.depth++] = (struct json_step){.key = key};
}

void reader_enter_element(struct reader *reader, uint32_t index)
{
    reader->path.steps[reader->path.depth++] = (struct json_step){.index = index};
}

void reader_leave(struct reader *reader)
{
    reader->path.depth--;
}

/* ---- Values against the table ---- */

static int32_t text_check(const struct reader *reader, const cJSON *value, const struct field *field)
{
    if (!cJSON_IsString(value))
        return reader_fault(reader, "must be a text");
    if (text_acceptable(value->valuestring, (size_t)field->minimum, (size_t)field->maximum))
        return CFOIL_OK;
    if (strlen(value->valuestring) < (size_t)field->minimum)
        return reader_fault(reader, "the text is too short; at least %d bytes", (int)field->minimum);
    if (strlen(value->valuestring) > (size_t)field->maximum)
        return reader_fault(reader, "the text is too long; at most %d bytes", (int)field->maximum);
    return reader_fault(reader, "the text holds a control character");
}

static int32_t integer_check(const struct reader *reader, const cJSON *value, const struct field *field)
{
    if (!cJSON_IsNumber(value))
        return reader_fault(reader, "must be a whole number");
    double number = value->valuedouble;
    /* The range first: it keeps the conversion below defined. Every limit is far inside what a double holds exactly. */
    if (!(number >= (double)field->minimum && number <= (double)field->maximum))
        return reader_fault(reader, "must be a whole number from %lld to %lld", (long long)field->minimum,
                            (long long)field->maximum);
    if ((double)(int64_t)number < number || (double)(int64_t)number > number)
        return reader_fault(reader, "must be a whole number");
    return CFOIL_OK;
}

static int32_t fraction_check(const struct reader *reader, const cJSON *value)
{
    if (!cJSON_IsNumber(value) || !(value->valuedouble >= 0.0 && value->valuedouble <= 1.0))
        return reader_fault(reader, "must be a number from 0 to 1");
    return CFOIL_OK;
}

static int32_t container_check(const struct reader *reader, const cJSON *value, const struct field *field)
{
    bool object = field->kind == FIELD_OBJECT;
    if (object ? !cJSON_IsObject(value) : !cJSON_IsArray(value))
        return reader_fault(reader, object ? "must be an object { }" : "must be a list [ ]");
    int count = cJSON_GetArraySize(value);
    if (count < field->minimum || count > field->maximum)
        return reader_fault(reader, "has %d entries; %d to %d are allowed", count, (int)field->minimum,
                            (int)field->maximum);
    return CFOIL_OK;
}

int32_t reader_value_check(const struct reader *reader, const cJSON *value, const struct field *field)
{
    switch (field->kind) {
    case FIELD_TEXT:
        return text_check(reader, value, field);
    case FIELD_INTEGER:
        return integer_check(reader, value, field);
    case FIELD_FRACTION:
        return fraction_check(reader, value);
    case FIELD_FLAG:
        return cJSON_IsBool(value) ? CFOIL_OK : reader_fault(reader, "must be true or false");
    case FIELD_OBJECT:
    case FIELD_ARRAY:
        return container_check(reader, value, field);
    default:
        return CFOIL_OK; /* its reader looks at it */
    }
}

static const struct field *field_find(const struct field *fields, size_t count, const char *key)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(fields[i].key, key) == 0)
            return &fields[i];
    }
    return NULL;
}

int32_t reader_object_check(struct reader *reader, const cJSON *object, const struct field *fields, size_t count)
{
    if (!cJSON_IsObject(object))
        return reader_fault(reader, "must be an object { }");
    const cJSON *item;
    cJSON_ArrayForEach(item, object)
    {
        const struct field *field = field_find(fields, count, item->string);
        reader_enter(reader, item->string);
        int32_t result = field == NULL ? reader_fault(reader, "this key is not known here; check its spelling")
                                       : reader_value_check(reader, item, field);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    for (size_t i = 0; i < count; i++) {
        if (fields[i].required && member(object, fields[i].key) == NULL)
            return reader_fault(reader, "the key '%s' is missing", fields[i].key);
    }
    return CFOIL_OK;
}

/* ---- Values of a checked object ---- */

const cJSON *member(const cJSON *object, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

const char *member_text(const cJSON *object, const char *key)
{
    const cJSON *value = member(object, key);
    return value != NULL ? value->valuestring : "";
}

int64_t member_integer(const cJSON *object, const char *key)
{
    const cJSON *value = member(object, key);
    return value != NULL ? (int64_t)value->valuedouble : 0;
}

/* ---- Numbers with decimals ---- */

#define THOUSAND 1000

int32_t thousandths_of(const struct reader *reader, const cJSON *value, int64_t least, int64_t most,
                       int64_t *thousandths)
{
    double scaled = cJSON_IsNumber(value) ? value->valuedouble * THOUSAND : NAN;
    /* The range first: it keeps the conversion defined. Every limit is far inside what a double holds exactly. */
    bool inside = scaled >= (double)least - 0.5 && scaled <= (double)most + 0.5;
    *thousandths = inside ? llround(scaled) : 0;
    if (inside && *thousandths >= least && *thousandths <= most && fabs(scaled - (double)*thousandths) < 1e-3)
        return CFOIL_OK;
    return reader_fault(reader, "must be a number from %.10g to %.10g with at most three decimals",
                        (double)least / THOUSAND, (double)most / THOUSAND);
}

int32_t thousandths_read(struct reader *reader, const cJSON *object, const char *key, int64_t least, int64_t most,
                         int64_t *thousandths)
{
    reader_enter(reader, key);
    int32_t result = thousandths_of(reader, member(object, key), least, most, thousandths);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Words, dates, sources ---- */

static const struct {
    const char *word;
    const char *name;
} confidences[] = {
    [CONFIDENCE_SEVERAL] = {"several", "two or more sources"},
    [CONFIDENCE_ONE] = {"one", "one source"},
    [CONFIDENCE_DERIVED] = {"derived", "worked out from sourced facts"},
    [CONFIDENCE_PRACTICE] = {"practice", "common practice"},
    [CONFIDENCE_MEMORY] = {"memory", "from memory"},
    [CONFIDENCE_ESTIMATE] = {"estimate", "estimate"},
};

const char *confidence_word(enum confidence confidence)
{
    if (confidence < CONFIDENCE_SEVERAL || confidence > CONFIDENCE_ESTIMATE)
        return "unknown";
    return confidences[confidence].word;
}

const char *confidence_name(enum confidence confidence)
{
    if (confidence < CONFIDENCE_SEVERAL || confidence > CONFIDENCE_ESTIMATE)
        return "unknown";
    return confidences[confidence].name;
}

int32_t reader_confidence(struct reader *reader, const cJSON *object, const char *key, enum confidence *confidence)
{
    const char *word = member_text(object, key);
    for (int i = CONFIDENCE_SEVERAL; i <= CONFIDENCE_ESTIMATE; i++) {
        if (strcmp(confidences[i].word, word) == 0) {
            *confidence = (enum confidence)i;
            return CFOIL_OK;
        }
    }
    return reader_fault_at(reader, key, "must be several, one, derived, practice, memory or estimate");
}

static int32_t number_of(const char *digits, size_t length)
{
    int32_t number = 0;
    for (size_t i = 0; i < length; i++) {
        if (digits[i] < '0' || digits[i] > '9')
            return -1;
        number = number * 10 + (digits[i] - '0');
    }
    return number;
}

/* A full date of RFC 3339 section 5.6. */
static bool date_valid(const char *date)
{
    static const int32_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (strlen(date) != 10 || date[4] != '-' || date[7] != '-')
        return false;
    int32_t year = number_of(date, 4);
    int32_t month = number_of(date + 5, 2);
    int32_t day = number_of(date + 8, 2);
    if (year < 1900 || month < 1 || month > 12 || day < 1)
        return false;
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return day <= days[month - 1] + (month == 2 && leap);
}

int32_t reader_date(struct reader *reader, const cJSON *object, const char *key, const char **date)
{
    *date = member_text(object, key);
    if (member(object, key) != NULL && !date_valid(*date))
        return reader_fault_at(reader, key, "must be a date such as 2026-02-28");
    return CFOIL_OK;
}

int32_t reader_id_check(struct reader *reader, const cJSON *object, const char *key)
{
    for (const char *at = member_text(object, key); *at != '\0'; at++) {
        bool letter = (*at >= 'a' && *at <= 'z') || (*at >= 'A' && *at <= 'Z');
        if (!letter && !(*at >= '0' && *at <= '9') && *at != '-' && *at != '.')
            return reader_fault_at(reader, key, "may hold letters, digits, '-' and '.' only");
    }
    return CFOIL_OK;
}

int32_t reader_pattern_check(const struct reader *reader, const char *language, const char *text,
                             const struct message_name *names, size_t count, uint32_t *used)
{
    struct message_fault fault = {0, NULL};
    if (message_check(language, text, names, count, used, &fault))
        return CFOIL_OK;
    return reader_fault(reader, "not a message pattern; after %u bytes: %s", (unsigned)fault.offset, fault.what);
}

int32_t reader_texts_check(struct reader *reader, const cJSON *texts, size_t maximum)
{
    const struct field text = {"", FIELD_TEXT, true, 1, (int64_t)maximum};
    const cJSON *item;
    cJSON_ArrayForEach(item, texts)
    {
        reader_enter(reader, item->string);
        int32_t result = text_acceptable(item->string, 1, TEXT_ID_MAX)
                             ? text_check(reader, item, &text)
                             : reader_fault(reader, "a key has 1 to %d bytes without control characters", TEXT_ID_MAX);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    return CFOIL_OK;
}

int32_t reader_sources_read(struct reader *reader, const cJSON *tree)
{
    reader->sources = member(tree, "sources");
    reader_enter(reader, "sources");
    int32_t result = reader_texts_check(reader, reader->sources, TEXT_LONG_MAX);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* Looks every key of a list up; *length becomes the bytes of the texts joined by "; ". */
static int32_t source_keys_check(struct reader *reader, const cJSON *list, size_t *length)
{
    uint32_t index = 0;
    const cJSON *item;
    *length = 0;
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index++);
        if (!cJSON_IsString(item))
            return reader_fault(reader, "must be the key of a source");
        const cJSON *source = member(reader->sources, item->valuestring);
        if (source == NULL)
            return reader_fault(reader, "'%.40s' is not in the table of sources", item->valuestring);
        *length += strlen(source->valuestring) + 2;
        reader_leave(reader);
    }
    return CFOIL_OK;
}

int32_t reader_source(struct reader *reader, const cJSON *object, const char *key, const char **source)
{
    const cJSON *list = member(object, key);
    size_t length;
    reader_enter(reader, key);
    int32_t result = source_keys_check(reader, list, &length);
    if (result != CFOIL_OK)
        return result;
    reader_leave(reader);
    char *joined = arena_allocate(reader->arena, length + 1);
    if (joined == NULL)
        return reader_memory_fault(reader);
    *source = joined;
    const cJSON *item;
    cJSON_ArrayForEach(item, list)
    {
        const char *text = member_text(reader->sources, item->valuestring);
        joined += snprintf(joined, strlen(text) + 3, "%s%s", text, item->next != NULL ? "; " : "");
    }
    return CFOIL_OK;
}

void *reader_array_make(struct reader *reader, const cJSON *array, size_t size, uint32_t *count)
{
    *count = (uint32_t)cJSON_GetArraySize(array);
    return arena_allocate(reader->arena, *count * size);
}
