/* Which bytes go over the line? Frames and checksums of the simulated device, and the faults put on its answers. */
#ifndef SIMULATOR_LINE_H
#define SIMULATOR_LINE_H

#include "device.h"

enum { FRAME_MOST = 257, CHUNK_BYTES = 1024, CHUNKS = 32, LINE_FAULTS = 16 };

/* Bytes waiting for their time. The last chunk of an undamaged answer carries what it tells the host. */
struct chunk {
    int64_t due_ms;
    size_t length, sent;
    int header; /* the command it answers, -1: none */
    bool intact;
    uint64_t events; /* device->events_made at that time */
    uint8_t bytes[CHUNK_BYTES];
};

struct line {
    struct device *device;
    const struct settings *settings;
    const struct truth *truth;
    uint8_t received[FRAME_MOST];
    size_t received_count;
    int64_t received_ms;
    struct chunk chunks[CHUNKS];
    size_t chunk_count;
    uint8_t previous[FRAME_MOST]; /* the answer before this one, for stale answers */
    size_t previous_length;
    struct fault faults[LINE_FAULTS];
    size_t fault_count;
    long requests[256], answered[256];
};

void line_start(struct line *line, struct device *device, const struct settings *settings, const struct truth *truth);
/* Takes the bytes a client sent, up to the end of one message, and queues the answer; gives how many it took. */
size_t line_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms);
/* Forgets half-received and half-sent bytes, as when the cable is pulled. */
void line_clear(struct line *line);
/* Sends what is due; false if the client is gone. *sent: whether anything went out. */
bool line_send(struct line *line, int descriptor, bool *sent, int64_t now_ms);
int64_t line_deadline(const struct line *line);
/* False if too many faults are active. */
bool line_fault_add(struct line *line, const struct fault *fault);

#endif
