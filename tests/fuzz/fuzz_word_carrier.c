/*
 * Can any bytes from a bus controller make the word carrier read past them, hand a block on twice, or acknowledge what
 * nobody took?
 */
#include "fuzz.h"

#include "transport/carrier_framed.h"

/* What is taken for a packet comes back when it is built again. */
static void packet_is_checked(const struct packet *packet)
{
    uint8_t frame[PACKET_FRAME_MAX];
    struct packet_reader reader = {0};
    struct packet found;
    demand(packet->length <= PACKET_PAYLOAD_MAX);
    uint32_t length = packet_build(packet, frame);
    demand(length <= sizeof frame);
    for (uint32_t i = 0; i + 1 < length; i++)
        demand(packet_take(&reader, frame[i], &found) == PACKET_NONE);
    demand(packet_take(&reader, frame[length - 1], &found) == PACKET_GOOD);
    demand(found.kind == packet->kind && found.number == packet->number && found.length == packet->length);
    demand(memcmp(found.payload, packet->payload, packet->length) == 0);
}

static void bytes_are_read(const uint8_t *bytes, size_t size)
{
    struct packet_reader reader = {0};
    struct packet packet;
    for (size_t i = 0; i < size; i++) {
        if (packet_take(&reader, bytes[i], &packet) == PACKET_GOOD)
            packet_is_checked(&packet);
        demand(reader.length <= PACKET_CONTENT_MAX);
    }
}

/* The first bytes of the input are packets without their framing, so that the fuzzer gets past the check. */
static size_t packet_cut(const uint8_t *bytes, size_t size, struct packet *packet)
{
    size_t length = size < 3 ? 0 : bytes[2] % (PACKET_PAYLOAD_MAX + 1);
    if (size < 3 + length)
        return 0;
    memset(packet, 0, sizeof *packet);
    packet->kind = bytes[0];
    packet->number = bytes[1];
    packet->length = (uint8_t)length;
    memcpy(packet->payload, bytes + 3, length);
    return 3 + length;
}

struct judge {
    struct framed framed;
    uint64_t now_us;
    uint8_t taken; /* number of the last block that was taken */
    uint8_t fault; /* number of the last FAULT */
};

/* Only what was taken is acknowledged. */
static void sent_is_checked(const struct judge *judge, const uint8_t *bytes, uint32_t length)
{
    struct packet_reader reader = {0};
    struct packet packet;
    for (uint32_t i = 0; i < length; i++) {
        enum packet_found found = packet_take(&reader, bytes[i], &packet);
        demand(found != PACKET_DAMAGED);
        if (found == PACKET_GOOD && packet.kind == PACKET_ACKNOWLEDGE)
            demand(packet.payload[0] == judge->taken || packet.payload[0] == judge->fault);
    }
}

static void packet_is_given(struct judge *judge, const struct packet *packet)
{
    uint8_t frame[PACKET_FRAME_MAX];
    uint8_t bytes[FRAMED_COLLECT_MAX];
    struct framed *framed = &judge->framed;
    uint8_t before = framed->other_number;
    framed_receive(framed, frame, packet_build(packet, frame), judge->now_us);
    uint32_t length = framed_block_take(framed, bytes);
    demand(length % 2 == 0 && length <= FRAMED_BLOCK_MAX);
    if (length > 0) {
        demand(packet->kind == PACKET_BLOCK && packet->number == framed->other_number && packet->number != before);
        demand(length == packet->length && memcmp(bytes, packet->payload, length) == 0);
        judge->taken = packet->number;
    } else if (packet->kind == PACKET_FAULT && framed->other_number != before) {
        judge->fault = packet->number;
    }
    if (packet->kind == 0x55)
        framed_send(framed, packet->payload, packet->length & 0x7Eu);
    length = framed_collect(framed, judge->now_us, bytes);
    demand(length <= FRAMED_COLLECT_MAX);
    sent_is_checked(judge, bytes, length);
    demand(framed->waiting_count <= FRAMED_WAITING_MAX);
    judge->now_us += packet->number * UINT64_C(1000);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size > 65536)
        return 0;
    uint8_t *bytes = bytes_copy(data, size);
    bytes_are_read(bytes, size);
    struct judge judge = {.now_us = 1};
    framed_begin(&judge.framed, 1, 1);
    struct packet packet;
    for (size_t place = 0, used; (used = packet_cut(bytes + place, size - place, &packet)) > 0; place += used)
        packet_is_given(&judge, &packet);
    struct framed raw;
    framed_begin(&raw, 1, 1);
    framed_receive(&raw, bytes, (uint32_t)size, 1);
    free(bytes);
    return 0;
}
