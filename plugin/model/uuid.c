/*
 * Record ids: UUIDs of RFC 9562. See uuid.h.
 */
#include "model/uuid.h"

#include "model/text.h"

#include <string.h>

/* 8-4-4-4-12, section 4. */
static const uint8_t groups[5] = {8, 4, 4, 4, 12};

void uuid_mark(uint8_t bytes[16], int version)
{
    bytes[6] = (uint8_t)((bytes[6] & 0x0F) | (version << 4)); /* section 4.2 */
    bytes[8] = (uint8_t)((bytes[8] & 0x3F) | 0x80);           /* variant 10, section 4.1 */
}

void uuid_text(const uint8_t bytes[16], char text[UUID_TEXT_SIZE])
{
    char hex[33];
    const char *from = hex;
    text_hex(bytes, 16, hex);
    for (int i = 0; i < 5; i++) {
        memcpy(text, from, groups[i]);
        from += groups[i];
        text += groups[i];
        *text++ = i < 4 ? '-' : '\0';
    }
}

void uuid_v7_text(int64_t time_utc_ms, const uint8_t random[10], char text[UUID_TEXT_SIZE])
{
    uint8_t bytes[16];
    /* RFC 9562 section 5.7: 48 bits of Unix milliseconds, big-endian. */
    for (int i = 0; i < 6; i++)
        bytes[i] = (uint8_t)((uint64_t)time_utc_ms >> (40 - 8 * i));
    memcpy(bytes + 6, random, 10);
    uuid_mark(bytes, 7);
    uuid_text(bytes, text);
}

static int digit_value(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    if (digit >= 'a' && digit <= 'f')
        return digit - 'a' + 10;
    return digit >= 'A' && digit <= 'F' ? digit - 'A' + 10 : -1;
}

bool uuid_read(const char *text, uint8_t bytes[16])
{
    int at = 0;
    for (int i = 0; i < 5; i++) {
        for (int k = 0; k < groups[i]; k += 2, text += 2) {
            int high = digit_value(text[0]);
            int low = high >= 0 ? digit_value(text[1]) : -1;
            if (low < 0)
                return false;
            bytes[at++] = (uint8_t)(high << 4 | low);
        }
        if (*text++ != (i < 4 ? '-' : '\0'))
            return false;
    }
    int version = bytes[6] >> 4;
    return version >= 1 && version <= 8 && (bytes[8] & 0xC0) == 0x80;
}
