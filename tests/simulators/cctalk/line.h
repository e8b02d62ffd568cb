/* Which bytes go over the line? Frames and checksums of the simulated device, and the faults put on its answers. */
#ifndef SIMULATOR_CCTALK_LINE_H
#define SIMULATOR_CCTALK_LINE_H

#include "device.h"

#include "common/outbox.h"

enum { FRAME_MOST = 257 };

struct line {
    struct device *device;
    const struct settings *settings;
    const struct truth *truth;
    uint8_t received[FRAME_MOST];
    size_t received_count;
    int64_t received_ms;
    struct outbox outbox;
    uint8_t previous[FRAME_MOST]; /* the answer before this one, for stale answers */
    size_t previous_length;
    struct faults faults;
    long requests[256], answered[256];
};

void line_start(struct line *line, struct device *device, const struct settings *settings, const struct truth *truth);
/* Takes the bytes a client sent, up to the end of one message, and queues the answer; gives how many it took. */
size_t line_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms);
/* Forgets half-received and half-sent bytes, as when the cable is pulled. */
void line_clear(struct line *line);

#endif
