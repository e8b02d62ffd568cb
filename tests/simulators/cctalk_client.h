/* How does a test talk ccTalk to the simulator? Bytes in and out, and what most tests begin with. */
#ifndef SIMULATOR_CCTALK_CLIENT_H
#define SIMULATOR_CCTALK_CLIENT_H

#include "harness.h"

/* Bytes are written as in the fact sheets: decimal, with blanks. */
size_t bytes_parse(const char *text, uint8_t bytes[BYTES_MOST]);
void say(const struct run *run, const char *text);
void hear(const struct run *run, const char *text);
void exchange(const struct run *run, const char *request, const char *answer);

#define POLL         "40 0 1 254 217"
#define ACK          "1 0 40 0 215"
#define EVENTS       "40 0 1 159 56"
#define ENABLE_TYPES "40 2 1 231 255 255 240"
#define MASTER_OPEN  "40 1 1 228 1 241"
#define FAST         "device start_ms 0\ndevice move_ms 0\n"
#define NOTES                                                                                                          \
    FAST "note 1 GB0005A\nnote 2 GB0010A\nnote 3 GB0020A\nnote 4 GB0050A\n"                                            \
         "country GB 100 2\n"

/* Answers stay in order: if the next one heard is that of the simple poll, the request met with silence. */
void expect_silence(const struct run *run, const char *request);
/* Polls events until the counter shows this value, then compares the whole answer. */
void expect_events(const struct run *run, const char *answer);
/* After a restart the device is silent for a while; asks again until it answers. */
void expect_restart(const struct run *run);
void enable(const struct run *run);

#endif
