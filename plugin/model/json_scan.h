/*
 * Is a text strict JSON (RFC 8259), and on which line does a value stand? Runs before cJSON, which is laxer and keeps
 * no line numbers.
 */
#ifndef MODEL_JSON_SCAN_H
#define MODEL_JSON_SCAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define JSON_DEPTH_MAX  32u   /* objects and arrays inside each other */
#define JSON_KEY_MAX    128u  /* bytes of one key as written */
#define JSON_KEYS_MAX   1024u /* keys of all objects that are open at once; bounds the search for a key twice */
#define JSON_NUMBER_MAX 32u   /* characters of one number; cJSON cuts longer ones */

struct json_fault {
    int32_t result;   /* CFOIL_E_DATA_SYNTAX or CFOIL_E_DATA_SIZE */
    int32_t line;     /* 1.. */
    const char *what; /* static text */
};

/* One step from a value to a value inside it. */
struct json_step {
    const char *key; /* NULL = an element of an array */
    uint32_t index;
};

struct json_path {
    uint32_t depth;
    struct json_step steps[JSON_DEPTH_MAX + 1];
};

/* False fills *fault with the first fault. `length` must be below 4 GiB. */
bool json_scan(const char *text, size_t length, struct json_fault *fault);

/* The line on which the value (of an object's member: its key) begins, in a text that json_scan() has passed. Of a path
 * that leads nowhere, the line of its last part that is there. */
int32_t json_line_find(const char *text, size_t length, const struct json_path *path);

/* Where the value of a key of the outermost object stands, in a text that json_scan() has passed. False when there is no
 * such key. */
bool json_member_find(const char *text, size_t length, const char *key, const char **value, size_t *value_length);

/* "notes[3].checks[1].box", cut to fit; "top level" for the whole text. Control characters become '?'. */
void json_path_print(const struct json_path *path, char *target, size_t capacity);

#endif
