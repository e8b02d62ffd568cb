/*
 * Can any text make the reader of the text-line simulator's scripts, or the device that acts a script out, go wrong?
 */
int simulator_main(int count, char **arguments);
#define main simulator_main /* the simulator's parts are joined there */
#include "../simulators/lines/main.c"
#undef main

#include "script_try.h"

/* Bytes of any kind. */
static size_t request_make(struct script_play *play, uint8_t bytes[REQUEST_MOST])
{
    size_t length = 1 + play_random(play, 6);
    for (size_t i = 0; i < length; i++)
        bytes[i] = (uint8_t)play_random(play, 256);
    return length;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    return script_try(&lines_language, sizeof(struct detector), data, size);
}
