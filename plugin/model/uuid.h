/*
 * Record ids: UUIDs of RFC 9562, of version 7 (random, they sort by time) and of version 8 (derived from what they name).
 */
#ifndef MODEL_UUID_H
#define MODEL_UUID_H

#include <stdbool.h>
#include <stdint.h>

#define UUID_TEXT_SIZE 37

/* Writes the lower-case text form. Only 74 bits of `random` are used. */
void uuid_v7_text(int64_t time_utc_ms, const uint8_t random[10], char text[UUID_TEXT_SIZE]);

/* Sets the bits of version and variant among 16 bytes. */
void uuid_mark(uint8_t bytes[16], int version);

/* Writes the lower-case text form of 16 bytes. */
void uuid_text(const uint8_t bytes[16], char text[UUID_TEXT_SIZE]);

/* The bytes of a text form, capital letters allowed. False when it is none, or of no variant or version of RFC 9562. */
bool uuid_read(const char *text, uint8_t bytes[16]);

#endif
