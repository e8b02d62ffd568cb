/*
 * Packets of the framed word carrier (docs/word-carrier.md): framing, stuffing and check. What they mean is not here.
 */
#ifndef TRANSPORT_CARRIER_PACKET_H
#define TRANSPORT_CARRIER_PACKET_H

#include <stdbool.h>
#include <stdint.h>

#define PACKET_PAYLOAD_MAX 80u
#define PACKET_CONTENT_MAX (PACKET_PAYLOAD_MAX + 4u)      /* kind, number, payload, check */
#define PACKET_FRAME_MAX   (2u * PACKET_CONTENT_MAX + 2u) /* every byte stuffed, and two flags */

enum packet_kind {
    PACKET_HELLO = 0x01,
    PACKET_ACKNOWLEDGE = 0x02,
    PACKET_SEND = 0x10,  /* host */
    PACKET_BLOCK = 0x11, /* controller */
    PACKET_FAULT = 0x12  /* controller */
};

struct packet {
    uint8_t kind; /* PACKET_*, or one that the page does not have */
    uint8_t number;
    uint8_t length; /* of the payload */
    uint8_t payload[PACKET_PAYLOAD_MAX];
};

/* Flags and stuffing included. Returns the number of bytes. */
uint32_t packet_build(const struct packet *packet, uint8_t frame[PACKET_FRAME_MAX]);

/* A packet while it comes in; begins zeroed. */
struct packet_reader {
    bool inside;  /* after a flag */
    bool escaped; /* the next byte was stuffed */
    bool spoilt;  /* too long: ignored up to the next flag */
    uint32_t length;
    uint8_t content[PACKET_CONTENT_MAX];
};

enum packet_found {
    PACKET_NONE,   /* nothing is complete */
    PACKET_GOOD,   /* `packet` is complete, and its check is right */
    PACKET_DAMAGED /* what ended here is no packet: wrong check, too short or too long, broken off */
};

enum packet_found packet_take(struct packet_reader *reader, uint8_t byte, struct packet *packet);

/* The 16-bit FCS of RFC 1662 appendix C.2. */
uint16_t packet_check(const uint8_t *bytes, uint32_t length);

#endif
