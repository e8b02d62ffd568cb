/*
 * Text helpers that every part needs: UTF-8 check, bounded copy, handing a text to a caller's buffer, time as text.
 */
#ifndef MODEL_TEXT_H
#define MODEL_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Well-formed UTF-8 (RFC 3629) without NUL inside `length` bytes. */
bool text_utf8_valid(const char *text, size_t length);

/* Not NULL, minimum..maximum bytes long, well-formed UTF-8, no control characters. */
bool text_acceptable(const char *text, size_t minimum, size_t maximum);

/* Copies as much as fits, cut at a character boundary, always ended. NULL counts as "". */
void text_copy(char *target, size_t capacity, const char *text);

/* The (buffer, capacity, needed) rule of counterfoil.h for a text of `length` bytes: CFOIL_OK,
 * CFOIL_E_ARGUMENT_BUFFER, or CFOIL_E_ARGUMENT_NULL when buffer is NULL and capacity is not 0. */
int32_t text_export(const char *text, size_t length, char *buffer, size_t capacity, size_t *needed);

/* "2026-11-25T06:30:00.123Z" (RFC 3339, 24 characters); times outside the years 1970..9999 give "". */
#define TEXT_TIME_SIZE 32
void text_time(int64_t time_utc_ms, char target[TEXT_TIME_SIZE]);

/* Reads what text_time() writes, and nothing else; false leaves *time_utc_ms as it is. */
bool text_time_read(const char *text, int64_t *time_utc_ms);

/* Lower-case hexadecimal digits, ended; target holds 2 * length + 1 bytes. */
void text_hex(const uint8_t *bytes, size_t length, char *target);

#endif
