/*
 * Which bytes on the line are a packet of the word carrier? See carrier_packet.h.
 */
#include "transport/carrier_packet.h"

#include <string.h>

/* RFC 1662 section 4.2: octet stuffing. */
#define FLAG       0x7Eu
#define ESCAPE     0x7Du
#define ESCAPE_XOR 0x20u

#define HEAD_LENGTH  2u
#define CHECK_LENGTH 2u

/* RFC 1662 appendix C.2, computed bit by bit: x^16 + x^12 + x^5 + 1 reflected, begun with FFFF, inverted at the end. */
uint16_t packet_check(const uint8_t *bytes, uint32_t length)
{
    uint32_t value = 0xFFFF;
    for (uint32_t i = 0; i < length; i++) {
        value ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            value = (value & 1u) != 0 ? value >> 1 ^ 0x8408u : value >> 1;
    }
    return (uint16_t)(value ^ 0xFFFFu);
}

static uint32_t byte_stuff(uint8_t byte, uint8_t *frame)
{
    if (byte != FLAG && byte != ESCAPE) {
        frame[0] = byte;
        return 1;
    }
    frame[0] = ESCAPE;
    frame[1] = (uint8_t)(byte ^ ESCAPE_XOR);
    return 2;
}

uint32_t packet_build(const struct packet *packet, uint8_t frame[PACKET_FRAME_MAX])
{
    uint8_t content[PACKET_CONTENT_MAX];
    uint32_t length = HEAD_LENGTH + packet->length;
    content[0] = packet->kind;
    content[1] = packet->number;
    memcpy(content + HEAD_LENGTH, packet->payload, packet->length);
    uint16_t check = packet_check(content, length);
    content[length++] = (uint8_t)(check & 0xFFu);
    content[length++] = (uint8_t)(check >> 8);
    uint32_t filled = 0;
    frame[filled++] = FLAG;
    for (uint32_t i = 0; i < length; i++)
        filled += byte_stuff(content[i], frame + filled);
    frame[filled++] = FLAG;
    return filled;
}

static enum packet_found content_judge(const struct packet_reader *reader, struct packet *packet)
{
    /* A flag straight after an escape breaks a packet off (RFC 1662 section 4.3). */
    if (reader->spoilt || reader->escaped || reader->length < HEAD_LENGTH + CHECK_LENGTH)
        return PACKET_DAMAGED;
    const uint8_t *content = reader->content;
    uint32_t length = reader->length - CHECK_LENGTH;
    if (packet_check(content, length) != (content[length] | content[length + 1] << 8))
        return PACKET_DAMAGED;
    packet->kind = content[0];
    packet->number = content[1];
    packet->length = (uint8_t)(length - HEAD_LENGTH);
    memcpy(packet->payload, content + HEAD_LENGTH, packet->length);
    return PACKET_GOOD;
}

/* A flag ends one packet and begins the next; between two flags in a row there is none. */
static enum packet_found flag_take(struct packet_reader *reader, struct packet *packet)
{
    bool empty = reader->length == 0 && !reader->escaped;
    enum packet_found found = reader->inside && !empty ? content_judge(reader, packet) : PACKET_NONE;
    *reader = (struct packet_reader){.inside = true};
    return found;
}

enum packet_found packet_take(struct packet_reader *reader, uint8_t byte, struct packet *packet)
{
    if (byte == FLAG)
        return flag_take(reader, packet);
    if (!reader->inside || reader->spoilt)
        return PACKET_NONE;
    if (byte == ESCAPE && !reader->escaped) {
        reader->escaped = true;
        return PACKET_NONE;
    }
    if (reader->length == PACKET_CONTENT_MAX) {
        reader->spoilt = true;
        return PACKET_NONE;
    }
    reader->content[reader->length++] = (uint8_t)(reader->escaped ? byte ^ ESCAPE_XOR : byte);
    reader->escaped = false;
    return PACKET_NONE;
}
