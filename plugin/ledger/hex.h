/*
 * Bytes that stand in JSON as hexadecimal digits, as text_hex() writes them.
 */
#ifndef LEDGER_HEX_H
#define LEDGER_HEX_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Exactly `size` bytes in lower-case digits, nothing else. */
bool hex_text_read(const char *text, uint8_t *bytes, size_t size); /* NULL is answered false */
bool hex_read(const cJSON *object, const char *name, uint8_t *bytes, size_t size);

/* Adds them to an object. `size` is at most 64. */
bool hex_add(cJSON *object, const char *name, const uint8_t *bytes, size_t size);

#endif
