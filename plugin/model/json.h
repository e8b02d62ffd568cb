/*
 * Thin helpers over cJSON for the exporters: integers of 64 bits, canonical text, one failure flag.
 */
#ifndef MODEL_JSON_H
#define MODEL_JSON_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Each adds to an object (or, with key NULL, to an array) and returns false when there is no memory. A NULL `parent`
 * is answered false, so that calls can be chained with && or collected. */
bool json_text_add(cJSON *parent, const char *key, const char *text); /* NULL text adds null */
bool json_integer_add(cJSON *parent, const char *key, int64_t value);
bool json_number_add(cJSON *parent, const char *key, double value);
bool json_flag_add(cJSON *parent, const char *key, bool value);
bool json_null_add(cJSON *parent, const char *key);
cJSON *json_object_add(cJSON *parent, const char *key);
cJSON *json_array_add(cJSON *parent, const char *key);

/* One line, keys in the order they were added; the caller frees with cJSON_free(). NULL = no memory. */
char *json_line(const cJSON *value);

/* The canonical form of RFC 8785 for what we write: keys sorted, integers only. Sorts `value` in place; the caller
 * frees the text with cJSON_free(). NULL = no memory. */
char *json_canonical(cJSON *value);

/* Prints, hands to the caller's buffer, frees the text. CFOIL_E_MEMORY, or as text_export(). */
int32_t json_export(const cJSON *value, char *buffer, size_t capacity, size_t *needed);

#endif
