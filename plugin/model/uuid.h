/*
 * Record ids: UUID version 7 of RFC 9562, which sort by time.
 */
#ifndef MODEL_UUID_H
#define MODEL_UUID_H

#include <stdint.h>

#define UUID_TEXT_SIZE 37

/* Writes the lower-case text form. Only 74 bits of `random` are used. */
void uuid_v7_text(int64_t time_utc_ms, const uint8_t random[10], char text[UUID_TEXT_SIZE]);

#endif
