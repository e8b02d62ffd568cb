/*
 * A bus controller of docs/word-carrier.md, played by the test's own thread at the other end of a TCP transport.
 */
#ifndef UNIT_TRANSPORT_CONTROLLER_H
#define UNIT_TRANSPORT_CONTROLLER_H

#include "unit/transport/loopback.h"

#include "transport/carrier_packet.h"

static inline void controller_send(struct loopback *loopback, uint8_t kind, uint8_t number, const void *payload,
                                   uint8_t length)
{
    struct packet packet = {.kind = kind, .number = number, .length = length};
    uint8_t frame[PACKET_FRAME_MAX];
    memcpy(packet.payload, payload, length);
    loopback_send(loopback, frame, packet_build(&packet, frame));
}

static inline void controller_acknowledge(struct loopback *loopback, uint8_t number)
{
    controller_send(loopback, PACKET_ACKNOWLEDGE, 0, &number, 1);
}

static inline void controller_hello(struct loopback *loopback, uint8_t session)
{
    const uint8_t payload[] = {1, session, 0, 0, 0};
    controller_send(loopback, PACKET_HELLO, 1, payload, sizeof payload); /* in answer to the host's */
}

/* The next packet; bounded. */
static inline struct packet controller_hear(struct loopback *loopback)
{
    struct packet_reader reader = {0};
    struct packet packet;
    for (;;) {
        uint8_t byte;
        assert_true(loopback_readable(loopback->peer, LOOPBACK_WAIT_MS));
        assert_int_equal(recv(loopback->peer, &byte, 1, 0), 1);
        enum packet_found found = packet_take(&reader, byte, &packet);
        assert_int_not_equal(found, PACKET_DAMAGED);
        if (found == PACKET_GOOD)
            return packet;
    }
}

static inline void controller_expect(struct loopback *loopback, uint8_t kind, uint8_t number, const void *payload,
                                     uint8_t length)
{
    struct packet packet = controller_hear(loopback);
    while (packet.kind == kind && packet.number != number && kind == PACKET_SEND)
        packet = controller_hear(loopback); /* a repetition: this thread was slow */
    assert_int_equal(packet.kind, kind);
    assert_int_equal(packet.number, number);
    assert_int_equal(packet.length, length);
    assert_memory_equal(packet.payload, payload, length);
}

static inline void controller_expect_acknowledge(struct loopback *loopback, uint8_t number)
{
    controller_expect(loopback, PACKET_ACKNOWLEDGE, 0, &number, 1);
}

/* From the connection to a session. */
static inline void controller_begin(struct loopback *loopback, uint8_t session)
{
    loopback_accept(loopback);
    assert_int_equal(controller_hear(loopback).kind, PACKET_HELLO);
    controller_hello(loopback, session);
}

#endif
