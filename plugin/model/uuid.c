/*
 * Record ids: UUID version 7 of RFC 9562. See uuid.h.
 */
#include "model/uuid.h"

#include "model/text.h"

#include <string.h>

void uuid_v7_text(int64_t time_utc_ms, const uint8_t random[10], char text[UUID_TEXT_SIZE])
{
    uint8_t bytes[16];
    /* RFC 9562 section 5.7: 48 bits of Unix milliseconds, big-endian. */
    for (int i = 0; i < 6; i++)
        bytes[i] = (uint8_t)((uint64_t)time_utc_ms >> (40 - 8 * i));
    memcpy(bytes + 6, random, 10);
    bytes[6] = (uint8_t)((bytes[6] & 0x0F) | 0x70); /* version 7, section 4.2 */
    bytes[8] = (uint8_t)((bytes[8] & 0x3F) | 0x80); /* variant 10, section 4.1 */
    char hex[33];
    text_hex(bytes, sizeof bytes, hex);
    /* 8-4-4-4-12, section 4. */
    static const uint8_t groups[5] = {8, 4, 4, 4, 12};
    const char *from = hex;
    char *to = text;
    for (int i = 0; i < 5; i++) {
        memcpy(to, from, groups[i]);
        from += groups[i];
        to += groups[i];
        *to++ = i < 4 ? '-' : '\0';
    }
}
