/*
 * The host's side of the framed word carrier (docs/word-carrier.md) as a state machine: bytes and times go in, bytes
 * and blocks of words come out. It does no input or output and knows no clock.
 */
#ifndef TRANSPORT_CARRIER_FRAMED_H
#define TRANSPORT_CARRIER_FRAMED_H

#include "transport/carrier_packet.h"

#define FRAMED_BLOCK_MAX   PACKET_PAYLOAD_MAX /* bytes of one block: 40 words, low byte first */
#define FRAMED_WAITING_MAX 8u
#define FRAMED_COLLECT_MAX (3u * PACKET_FRAME_MAX)

/* Why the controller can be used no more: the port must be opened anew. */
enum framed_trouble {
    FRAMED_FINE = 0,
    FRAMED_RESTARTED, /* the controller began anew: what it held may be lost */
    FRAMED_SILENT,    /* it acknowledged nothing */
    FRAMED_FULL,      /* more blocks than may wait */
    FRAMED_ASTRAY,    /* both sides disagree about the number of the next packet */
    FRAMED_VERSION    /* it speaks another version */
};

/* What is worth a line in the log. */
enum framed_notice {
    FRAMED_NOTICE_NONE = 0,
    FRAMED_NOTICE_BROKEN_OFF, /* FAULT 1 */
    FRAMED_NOTICE_FRAMING,    /* FAULT 2 */
    FRAMED_NOTICE_RESTARTED,  /* FAULT 3 before any block: nobody here knows of anything that could be lost */
    FRAMED_NOTICE_FORGOTTEN,  /* FAULT 4: with the session before went blocks that nobody here has seen */
    FRAMED_NOTICE_UNKNOWN,    /* another FAULT */
    FRAMED_NOTICE_DAMAGED     /* a packet was dropped */
};

struct framed_block {
    uint32_t length;
    uint8_t bytes[FRAMED_BLOCK_MAX];
};

struct framed {
    enum framed_trouble trouble;
    enum framed_notice notice; /* the last one that nobody has fetched */
    uint32_t session;
    bool running;         /* the controller's HELLO has come */
    bool at_work;         /* it has answered something else since: it knows of our HELLO */
    bool hello_due;       /* its HELLO is to be answered */
    bool block_delivered; /* in this session */
    uint8_t other_session[4];
    uint64_t hello_us; /* no HELLO before this time */
    struct packet_reader reader;

    /* To the controller: the first block is under way when `tries` is not 0. */
    uint8_t number;
    uint32_t tries;
    uint64_t again_us;
    uint32_t waiting_first;
    uint32_t waiting_count;
    struct framed_block waiting[FRAMED_WAITING_MAX];

    /* From the controller. */
    uint8_t other_number; /* of the last packet that was used, 0 = none */
    bool acknowledge_due;
    bool block_ready;
    uint32_t strays;
    struct framed_block block;
};

void framed_begin(struct framed *framed, uint32_t session, uint64_t now_us);
void framed_receive(struct framed *framed, const uint8_t *bytes, uint32_t length, uint64_t now_us);

/* One block for the bus, an even number of bytes up to FRAMED_BLOCK_MAX. */
void framed_send(struct framed *framed, const uint8_t *bytes, uint32_t length);

/* The block that has come, 0 = none. Its packet is acknowledged at the next framed_collect(): call that when what the
 * block says is safe. `capacity` must be FRAMED_BLOCK_MAX or more. */
uint32_t framed_block_take(struct framed *framed, uint8_t *bytes);

/* What is to be written to the line now. */
uint32_t framed_collect(struct framed *framed, uint64_t now_us, uint8_t bytes[FRAMED_COLLECT_MAX]);

/* When something is to be collected or taken; UINT64_MAX = only after bytes have come. */
uint64_t framed_deadline(const struct framed *framed);

/* Has the controller not yet acknowledged all that it was sent? */
bool framed_busy(const struct framed *framed);

#endif
