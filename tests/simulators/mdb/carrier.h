/* Which bytes carry a packet? Framing, checksum and damage of the word carrier (docs/word-carrier.md). */
#ifndef SIMULATOR_MDB_CARRIER_H
#define SIMULATOR_MDB_CARRIER_H

#include "language.h"

#include "common/outbox.h"
#include "common/truth.h"

enum { PAYLOAD_MOST = 80, CONTENT_MOST = PAYLOAD_MOST + 4, RAW_MOST = 2 * CONTENT_MOST, FRAME_MOST = RAW_MOST + 2 };

struct packet {
    uint8_t kind, number;
    uint8_t payload[PAYLOAD_MOST];
    size_t length;
};

struct carrier {
    const struct truth *truth;
    struct outbox outbox;
    struct faults faults; /* those on the bus too: a script adds them here */
    bool inside;          /* after a flag */
    bool too_long;
    uint8_t raw[RAW_MOST];
    size_t raw_length;
    uint8_t previous[FRAME_MOST];
    size_t previous_length;
};

void carrier_start(struct carrier *carrier, const struct truth *truth);
/* Forgets half-received and half-sent bytes. */
void carrier_clear(struct carrier *carrier);
void carrier_send(struct carrier *carrier, const struct packet *packet, int64_t now_ms);
/* True when the byte ended a good packet. */
bool carrier_receive(struct carrier *carrier, uint8_t byte, struct packet *packet, int64_t now_ms);

#endif
