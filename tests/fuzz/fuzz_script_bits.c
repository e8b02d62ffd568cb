/*
 * Can any text make the reader of the status-bit simulator's scripts, or the device that acts a script out, go wrong?
 */
int simulator_main(int count, char **arguments);
#define main simulator_main /* the simulator's parts are joined there */
#include "../simulators/bits/main.c"
#undef main

#include "script_try.h"

enum { BEGIN = 0x7E, END = 0x7F, ESCAPE = 0x7D, ESCAPE_XOR = 0x20 }; /* the invented frame of bits/line.c */

static unsigned crc_add(unsigned crc, uint8_t byte)
{
    for (unsigned bit = 0; bit < 8; bit++) {
        bool high = ((crc >> 15) ^ ((unsigned)byte >> (7 - bit) & 1U)) != 0;
        crc = (crc << 1 ^ (high ? 0x1021U : 0)) & 0xFFFFU;
    }
    return crc;
}

static size_t byte_put(uint8_t *bytes, size_t length, uint8_t byte)
{
    bool escaped = byte == BEGIN || byte == END || byte == ESCAPE;
    if (escaped)
        bytes[length++] = ESCAPE;
    bytes[length++] = escaped ? byte ^ ESCAPE_XOR : byte;
    return length;
}

/* Identity or poll with either toggle and any wishes; now and then something else. */
static size_t request_make(struct script_play *play, uint8_t bytes[REQUEST_MOST])
{
    static const uint8_t kinds[] = {0x10, 0x11, 0x10, 0x11, 0x40, 0x41};
    uint8_t body[80] = {kinds[play_random(play, sizeof kinds)], (uint8_t)play_random(play, 8)};
    size_t count = body[0] < 0x40 ? 2 : 1;
    if (play_random(play, 12) == 0) {
        count = play_random(play, sizeof body);
        for (size_t i = 0; i < count; i++)
            body[i] = (uint8_t)play_random(play, 256);
    }
    unsigned crc = 0xFFFF;
    size_t length = 0;
    bytes[length++] = BEGIN;
    for (size_t i = 0; i < count; i++) {
        crc = crc_add(crc, body[i]);
        length = byte_put(bytes, length, body[i]);
    }
    length = byte_put(bytes, length, (uint8_t)(crc >> 8));
    length = byte_put(bytes, length, (uint8_t)(crc & 0xFFU));
    bytes[length++] = END;
    return length;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    return script_try(&bits_language, sizeof(struct simulator), data, size);
}
