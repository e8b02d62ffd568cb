/*
 * Can any text make the reader of the ccTalk simulator's scripts, or the device that acts a script out, go wrong?
 */
int simulator_main(int count, char **arguments);
#define main simulator_main /* the simulator's parts are joined there */
#include "../simulators/cctalk/main.c"
#undef main

#include "script_try.h"

static size_t request_make(struct script_play *play, uint8_t bytes[REQUEST_MOST])
{
    static const uint8_t headers[] = {254, 253, 245, 246, 244, 241, 192, 242, 4,   249, 230, 231,
                                      228, 227, 232, 159, 159, 159, 159, 157, 156, 154, 154, 153,
                                      152, 145, 1,   2,   3,   0,   255, 195, 194, 193};
    const struct settings *settings = play->script.settings;
    size_t data = play_random(play, 3);
    if (play_random(play, 16) == 0)
        data = play_random(play, 256);
    bytes[0] = play_random(play, 16) == 0 ? (uint8_t)play_random(play, 256) : (uint8_t)settings->address;
    bytes[1] = (uint8_t)data;
    bytes[2] = 1;
    bytes[3] = headers[play_random(play, sizeof headers)];
    for (size_t i = 0; i < data; i++)
        bytes[4 + i] = (uint8_t)(play_random(play, 2) == 0 ? 255 : play_random(play, 256));
    size_t length = data + 5;
    if (settings->crc) {
        unsigned crc = 0;
        for (size_t i = 0; i + 1 < length; i++) {
            for (unsigned bit = i == 2 ? 8 : 0; bit < 8; bit++) {
                bool high = ((crc >> 15) ^ ((unsigned)bytes[i] >> (7 - bit) & 1U)) != 0;
                crc = (crc << 1 ^ (high ? 0x1021U : 0)) & 0xFFFFU;
            }
        }
        bytes[2] = (uint8_t)(crc & 0xFFU);
        bytes[length - 1] = (uint8_t)(crc >> 8);
        return length;
    }
    unsigned sum = 0;
    for (size_t i = 0; i + 1 < length; i++)
        sum += bytes[i];
    bytes[length - 1] = (uint8_t)(0x100U - (sum & 0xFFU));
    return length;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    return script_try(&cctalk_language, sizeof(struct simulator), data, size);
}
