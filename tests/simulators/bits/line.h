/* Which bytes go over the line of the validator with status bits? Frames, escapes, CRC, toggle, and their faults. */
#ifndef SIMULATOR_BITS_LINE_H
#define SIMULATOR_BITS_LINE_H

#include "validator.h"

#include "common/outbox.h"

enum { FRAME_MOST = 64, WIRE_MOST = 2 * FRAME_MOST };

struct line {
    struct validator *validator;
    const struct settings *settings;
    const struct truth *truth;
    struct outbox outbox;
    struct faults faults;
    uint8_t received[FRAME_MOST]; /* what stands between begin and end, without escapes */
    size_t received_count;
    bool inside, escaped;
    int64_t received_ms;
    int toggle; /* of the request answered last, -1: none */
    uint8_t answer[WIRE_MOST], previous[WIRE_MOST];
    size_t answer_length, previous_length;
    long requests[COMMANDS], answered[COMMANDS];
};

void line_start(struct line *line, struct validator *validator, const struct settings *settings,
                const struct truth *truth);
/* Takes the bytes a client sent, up to the end of one message, and queues the answer; gives how many it took. */
size_t line_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms);
/* Forgets half-received and half-sent bytes. */
void line_clear(struct line *line);

#endif
