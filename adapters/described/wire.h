/*
 * Messages as they stand on the line: building them, and finding them in what was received.
 */
#ifndef DESCRIBED_WIRE_H
#define DESCRIBED_WIRE_H

#include "description.h"

struct described_message {
    uint32_t length;
    uint8_t bytes[DESCRIBED_MESSAGE_MAX]; /* without escapes; a line without its end */
};

enum described_found {
    DESCRIBED_NEED_MORE, /* the beginning of a message */
    DESCRIBED_MESSAGE,
    DESCRIBED_DAMAGED /* no message begins here; *used bytes may be dropped */
};

/* Looks for a message at the beginning of `raw`. */
enum described_found described_message_take(const struct description *description, const uint8_t *raw, uint32_t length,
                                            struct described_message *message, uint32_t *used);

/* Fills in length, sequence and check, escapes, and returns the bytes on the line. A line's "{sequence}" becomes the
 * decimal number. */
uint32_t described_message_build(const struct description *description, const struct described_bytes *send,
                                 uint32_t sequence, uint8_t raw[DESCRIBED_FRAME_MAX]);

#endif
