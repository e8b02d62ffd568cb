/*
 * Reading a pack's JSON tree strictly: tables say which keys an object may hold and what their values may be; every fault
 * is told with file, path and line.
 */
#ifndef PACKS_READER_H
#define PACKS_READER_H

#include "model/error.h"
#include "model/json_scan.h"
#include "packs/arena.h"
#include "packs/message_format.h"
#include "packs/pack.h"

struct reader {
    const char *file;
    const char *text;
    size_t length;
    struct arena *arena;
    const cJSON *sources; /* the pack's table of sources */
    cfoil_error_info *error;
    struct json_path path; /* of the value being read; after a fault it is left as it was */
};

enum field_kind { FIELD_TEXT, FIELD_INTEGER, FIELD_FRACTION, FIELD_FLAG, FIELD_OBJECT, FIELD_ARRAY, FIELD_ANY };

/* What an object may hold. minimum..maximum: bytes of a text, value of an integer, elements of an array or members of an
 * object. A fraction is 0..1. */
struct field {
    const char *key;
    enum field_kind kind;
    bool required;
    int64_t minimum;
    int64_t maximum;
};

/* The text limits of every pack, in bytes. */
#define TEXT_ID_MAX   40
#define TEXT_LINE_MAX 120
#define TEXT_LONG_MAX 240
/* And of what stands for such a text in another language, whose letters may take three bytes each. */
#define TEXT_TRANSLATED_MAX 720

/* Tells a fault at the current path. Returns CFOIL_E_DATA_SCHEMA. */
int32_t reader_fault(const struct reader *reader, const char *format, ...) ERROR_FORMAT(2, 3);
int32_t reader_fault_at(struct reader *reader, const char *key, const char *format, ...) ERROR_FORMAT(3, 4);
int32_t reader_memory_fault(const struct reader *reader);

void reader_enter(struct reader *reader, const char *key);
void reader_enter_element(struct reader *reader, uint32_t index);
void reader_leave(struct reader *reader);

/* Is the value an object with all required keys, no unknown ones, and values as the table says? */
int32_t reader_object_check(struct reader *reader, const cJSON *object, const struct field *fields, size_t count);

/* The same for one value at the present path; the key of the field does not matter. */
int32_t reader_value_check(const struct reader *reader, const cJSON *value, const struct field *field);

/* Values of a checked object. A missing text is "", a missing integer 0. */
const cJSON *member(const cJSON *object, const char *key);
const char *member_text(const cJSON *object, const char *key);
int64_t member_integer(const cJSON *object, const char *key);

/* Each of these reads object[key] and enters the path by itself. */
int32_t reader_confidence(struct reader *reader, const cJSON *object, const char *key, enum confidence *confidence);
int32_t reader_date(struct reader *reader, const cJSON *object, const char *key, const char **date);
int32_t reader_source(struct reader *reader, const cJSON *object, const char *key, const char **source);

/* A number of at most three decimals as whole thousandths, from least to most thousandths: the value at the present path,
 * and object[key]. */
int32_t thousandths_of(const struct reader *reader, const cJSON *value, int64_t least, int64_t most,
                       int64_t *thousandths);
int32_t thousandths_read(struct reader *reader, const cJSON *object, const char *key, int64_t least, int64_t most,
                         int64_t *thousandths);

/* Letters, digits, '-' and '.' only: what may stand in a file name and in JSON. */
int32_t reader_id_check(struct reader *reader, const cJSON *object, const char *key);

/* Is the text at the present path a message pattern of the language with none but these names? */
int32_t reader_pattern_check(const struct reader *reader, const char *language, const char *text,
                             const struct message_name *names, size_t count, uint32_t *used);

/* An object of texts under keys of any name. */
int32_t reader_texts_check(struct reader *reader, const cJSON *texts, size_t maximum);

/* The pack's table of sources, at the key "sources": its texts, and from now on what reader_source() looks up. */
int32_t reader_sources_read(struct reader *reader, const cJSON *tree);

/* A zeroed array for the elements of `array` (NULL = none), each of `size` bytes; *count becomes their number. NULL = no
 * memory: return reader_memory_fault() then. */
void *reader_array_make(struct reader *reader, const cJSON *array, size_t size, uint32_t *count);

#endif
