/*
 * What has the host's side of the framed word carrier to do now? See carrier_framed.h; the rules are those of
 * docs/word-carrier.md.
 */
#include "transport/carrier_framed.h"

#include <string.h>

#define HELLO_US        UINT64_C(500000)
#define AGAIN_US        UINT64_C(100000)
#define REPEATS_MAX     20u
#define VERSION         1u
#define HELLO_LENGTH    5u
#define STRAYS_MAX      3u /* our own: a stray old packet is no reason to begin anew, a controller that insists is */
#define FAULT_BROKE_OFF 1u
#define FAULT_FRAMING   2u
#define FAULT_RESTARTED 3u
#define FAULT_FORGOTTEN 4u

enum { HELLO_ASKS = 0, HELLO_ANSWERS = 1 }; /* the number of a HELLO */

static uint8_t number_after(uint8_t number)
{
    return number == 255 ? 1 : (uint8_t)(number + 1);
}

void framed_begin(struct framed *framed, uint32_t session, uint64_t now_us)
{
    memset(framed, 0, sizeof *framed);
    framed->session = session;
    framed->hello_us = now_us;
}

/* ---- From the controller ---- */

static void hello_take(struct framed *framed, const struct packet *packet, uint64_t now_us)
{
    if (packet->length != HELLO_LENGTH)
        return;
    if (packet->payload[0] != VERSION) {
        framed->trouble = FRAMED_VERSION;
        return;
    }
    bool same = memcmp(framed->other_session, packet->payload + 1, sizeof framed->other_session) == 0;
    bool asks = packet->number == HELLO_ASKS;
    if (!framed->running) {
        framed->running = true;
        framed->hello_due = asks;
        memcpy(framed->other_session, packet->payload + 1, sizeof framed->other_session);
    } else if (!same) {
        framed->trouble = FRAMED_RESTARTED;
    } else if (asks && !framed->at_work && now_us >= framed->hello_us) {
        framed->hello_due = true; /* it asks again: ours got lost. Once it is at work, this is only a late copy */
    }
}

static void acknowledge_take(struct framed *framed, const struct packet *packet)
{
    if (packet->length != 1 || framed->tries == 0 || packet->payload[0] != framed->number)
        return;
    framed->at_work = true;
    framed->tries = 0;
    framed->waiting_first = (framed->waiting_first + 1) % FRAMED_WAITING_MAX;
    framed->waiting_count--;
}

static void fault_take(struct framed *framed, uint8_t fault)
{
    if (fault == FAULT_RESTARTED && framed->block_delivered)
        framed->trouble = FRAMED_RESTARTED;
    framed->notice = fault == FAULT_BROKE_OFF   ? FRAMED_NOTICE_BROKEN_OFF
                     : fault == FAULT_FRAMING   ? FRAMED_NOTICE_FRAMING
                     : fault == FAULT_RESTARTED ? FRAMED_NOTICE_RESTARTED
                     : fault == FAULT_FORGOTTEN ? FRAMED_NOTICE_FORGOTTEN
                                                : FRAMED_NOTICE_UNKNOWN;
    framed->acknowledge_due = true;
}

static void block_take(struct framed *framed, const struct packet *packet)
{
    framed->block.length = packet->length;
    memcpy(framed->block.bytes, packet->payload, packet->length);
    framed->block_ready = true;
    framed->acknowledge_due = false; /* not before the block is safe */
}

static bool numbered_valid(const struct packet *packet)
{
    if (packet->kind == PACKET_FAULT)
        return packet->length == 1;
    return packet->length > 0 && packet->length % 2 == 0;
}

/* A number that is neither the last nor the next is not answered: nothing may seem safe that is not. */
static void stray_take(struct framed *framed)
{
    if (++framed->strays >= STRAYS_MAX)
        framed->trouble = FRAMED_ASTRAY;
}

static void numbered_take(struct framed *framed, const struct packet *packet)
{
    if (packet->number != 0 && packet->number == framed->other_number) {
        framed->acknowledge_due = !framed->block_ready; /* used already: our ACKNOWLEDGE got lost or is on its way */
        return;
    }
    if (framed->block_ready)
        return; /* nobody sends a next one before the last was acknowledged */
    if (packet->number != number_after(framed->other_number) || !numbered_valid(packet)) {
        stray_take(framed);
        return;
    }
    framed->strays = 0;
    framed->at_work = true;
    framed->other_number = packet->number;
    if (packet->kind == PACKET_FAULT)
        fault_take(framed, packet->payload[0]);
    else
        block_take(framed, packet);
}

static void packet_use(struct framed *framed, const struct packet *packet, uint64_t now_us)
{
    if (packet->kind == PACKET_HELLO)
        hello_take(framed, packet, now_us);
    else if (!framed->running)
        return; /* of a session that we know nothing of */
    else if (packet->kind == PACKET_ACKNOWLEDGE)
        acknowledge_take(framed, packet);
    else if (packet->kind == PACKET_BLOCK || packet->kind == PACKET_FAULT)
        numbered_take(framed, packet);
}

void framed_receive(struct framed *framed, const uint8_t *bytes, uint32_t length, uint64_t now_us)
{
    for (uint32_t i = 0; i < length && framed->trouble == FRAMED_FINE; i++) {
        struct packet packet;
        enum packet_found found = packet_take(&framed->reader, bytes[i], &packet);
        if (found == PACKET_GOOD)
            packet_use(framed, &packet, now_us);
        else if (found == PACKET_DAMAGED)
            framed->notice = FRAMED_NOTICE_DAMAGED;
    }
}

uint32_t framed_block_take(struct framed *framed, uint8_t *bytes)
{
    if (!framed->block_ready)
        return 0;
    memcpy(bytes, framed->block.bytes, framed->block.length);
    framed->block_ready = false;
    framed->block_delivered = true;
    framed->acknowledge_due = true;
    return framed->block.length;
}

/* ---- To the controller ---- */

void framed_send(struct framed *framed, const uint8_t *bytes, uint32_t length)
{
    if (framed->waiting_count == FRAMED_WAITING_MAX) {
        framed->trouble = FRAMED_FULL;
        return;
    }
    uint32_t place = (framed->waiting_first + framed->waiting_count++) % FRAMED_WAITING_MAX;
    framed->waiting[place].length = length;
    memcpy(framed->waiting[place].bytes, bytes, length);
}

static uint32_t hello_put(struct framed *framed, uint64_t now_us, uint8_t *bytes)
{
    struct packet packet = {.kind = PACKET_HELLO, .length = HELLO_LENGTH, .payload = {VERSION}};
    packet.number = framed->running ? HELLO_ANSWERS : HELLO_ASKS;
    for (uint32_t i = 0; i < 4; i++)
        packet.payload[1 + i] = (uint8_t)(framed->session >> (8 * i));
    framed->hello_due = false;
    framed->hello_us = now_us + HELLO_US;
    return packet_build(&packet, bytes);
}

static uint32_t acknowledge_put(struct framed *framed, uint8_t *bytes)
{
    const struct packet packet = {.kind = PACKET_ACKNOWLEDGE, .length = 1, .payload = {framed->other_number}};
    framed->acknowledge_due = false;
    return packet_build(&packet, bytes);
}

static bool block_due(const struct framed *framed, uint64_t now_us)
{
    return framed->waiting_count > 0 && (framed->tries == 0 || now_us >= framed->again_us);
}

static uint32_t block_put(struct framed *framed, uint64_t now_us, uint8_t *bytes)
{
    if (framed->tries > REPEATS_MAX) {
        framed->trouble = FRAMED_SILENT;
        return 0;
    }
    if (framed->tries++ == 0)
        framed->number = number_after(framed->number);
    framed->again_us = now_us + AGAIN_US;
    const struct framed_block *block = &framed->waiting[framed->waiting_first];
    struct packet packet = {.kind = PACKET_SEND, .number = framed->number, .length = (uint8_t)block->length};
    memcpy(packet.payload, block->bytes, block->length);
    return packet_build(&packet, bytes);
}

uint32_t framed_collect(struct framed *framed, uint64_t now_us, uint8_t bytes[FRAMED_COLLECT_MAX])
{
    uint32_t length = 0;
    if (framed->trouble != FRAMED_FINE)
        return 0;
    if (framed->hello_due || (!framed->running && now_us >= framed->hello_us))
        length += hello_put(framed, now_us, bytes);
    if (framed->acknowledge_due)
        length += acknowledge_put(framed, bytes + length);
    if (framed->running && block_due(framed, now_us))
        length += block_put(framed, now_us, bytes + length);
    return length;
}

uint64_t framed_deadline(const struct framed *framed)
{
    if (framed->trouble != FRAMED_FINE || framed->hello_due || framed->acknowledge_due || framed->block_ready)
        return 0;
    if (!framed->running)
        return framed->hello_us;
    if (framed->waiting_count == 0)
        return UINT64_MAX;
    return framed->tries == 0 ? 0 : framed->again_us;
}

bool framed_busy(const struct framed *framed)
{
    return framed->waiting_count > 0;
}
