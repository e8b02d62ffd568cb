/*
 * ccTalk frames: building and recognising them in both check forms. See wire.h.
 */
#include "wire.h"

#include <string.h>

/* Places in a frame: Generic Specification Part 1, message structure. In the
 * CRC form the low byte of the CRC takes the place of the source and the high
 * byte that of the checksum. */
enum { PLACE_DESTINATION = 0, PLACE_LENGTH = 1, PLACE_SOURCE = 2, PLACE_HEADER = 3, PLACE_DATA = 4 };

uint16_t cctalk_crc(uint16_t crc, const uint8_t *bytes, uint32_t length)
{
    for (uint32_t i = 0; i < length; i++) {
        /* One byte at a time without a table: the polynomial 0x1021 has its terms 5
     * and 12 apart. */
        uint8_t x = (uint8_t)((crc >> 8) ^ bytes[i]);
        x = (uint8_t)(x ^ (x >> 4));
        crc = (uint16_t)((crc << 8) ^ (uint16_t)(x << 12) ^ (uint16_t)(x << 5) ^ x);
    }
    return crc;
}

static uint8_t sum_of(const uint8_t *bytes, uint32_t length)
{
    uint32_t sum = 0;
    for (uint32_t i = 0; i < length; i++)
        sum += bytes[i];
    return (uint8_t)sum;
}

/* The CRC covers destination, length, header and data, and skips its own two
 * bytes. */
static uint16_t crc_of_frame(const uint8_t *bytes, uint32_t data_length)
{
    uint16_t crc = cctalk_crc(0, bytes, 2);
    return cctalk_crc(crc, bytes + PLACE_HEADER, 1 + data_length);
}

uint32_t cctalk_frame_build(enum cctalk_check check, const struct cctalk_frame *frame, uint8_t bytes[CCTALK_FRAME_MAX])
{
    if (frame->length > CCTALK_DATA_MAX)
        return 0;
    uint32_t last = PLACE_DATA + frame->length;
    bytes[PLACE_DESTINATION] = frame->destination;
    bytes[PLACE_LENGTH] = frame->length;
    bytes[PLACE_SOURCE] = frame->source;
    bytes[PLACE_HEADER] = frame->header;
    memcpy(bytes + PLACE_DATA, frame->data, frame->length);
    if (check == CCTALK_CHECK_CRC) {
        uint16_t crc = crc_of_frame(bytes, frame->length);
        bytes[PLACE_SOURCE] = (uint8_t)(crc & 0xFF);
        bytes[last] = (uint8_t)(crc >> 8);
    } else {
        bytes[last] = (uint8_t)(0x100 - sum_of(bytes, last));
    }
    return last + 1;
}

/* Copies the data and returns its sum. Both in one pass: two passes took more than twice as long for the short frames of
 * a poll (measured with tests/bench/bench_frame.c). */
static uint32_t data_take(const uint8_t *data, uint32_t length, uint8_t *taken)
{
    uint32_t sum = 0;
    for (uint32_t i = 0; i < length; i++) {
        uint8_t byte = data[i]; /* read once: for all the compiler knows, `taken` overlaps `data` */
        taken[i] = byte;
        sum += byte;
    }
    return sum;
}

static int check_fits(enum cctalk_check check, const uint8_t *bytes, uint32_t data_length, uint32_t data_sum)
{
    uint32_t last = PLACE_DATA + data_length;
    if (check == CCTALK_CHECK_CRC) {
        uint16_t crc = crc_of_frame(bytes, data_length);
        return bytes[PLACE_SOURCE] == (crc & 0xFF) && bytes[last] == (crc >> 8);
    }
    uint32_t others = (uint32_t)bytes[PLACE_DESTINATION] + bytes[PLACE_LENGTH] + bytes[PLACE_SOURCE] +
                      bytes[PLACE_HEADER] + bytes[last];
    return ((others + data_sum) & 0xFF) == 0;
}

enum cctalk_found cctalk_frame_parse(enum cctalk_check check, const uint8_t *bytes, uint32_t length,
                                     struct cctalk_frame *frame, uint32_t *used)
{
    *used = 0;
    if (length <= PLACE_LENGTH)
        return CCTALK_NEED_MORE;
    uint32_t data_length = bytes[PLACE_LENGTH];
    if (data_length > CCTALK_DATA_MAX)
        return CCTALK_DAMAGED;
    if (length < CCTALK_FRAME_MIN + data_length)
        return CCTALK_NEED_MORE;
    uint32_t data_sum = data_take(bytes + PLACE_DATA, data_length, frame->data);
    if (!check_fits(check, bytes, data_length, data_sum))
        return CCTALK_DAMAGED;
    frame->destination = bytes[PLACE_DESTINATION];
    frame->length = (uint8_t)data_length;
    frame->source = check == CCTALK_CHECK_CRC ? 0 : bytes[PLACE_SOURCE];
    frame->header = bytes[PLACE_HEADER];
    *used = CCTALK_FRAME_MIN + data_length;
    return CCTALK_FRAME;
}
