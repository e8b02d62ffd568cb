/* Which bytes carry a packet? Flags, octet stuffing and 16-bit FCS: RFC 1662, sections 4.2 and 4.3 and appendix C.2;
 * kinds and lengths: docs/word-carrier.md. */
#include "carrier.h"

#include "bus.h"

#include <string.h>

enum { FLAG = 0x7E, ESCAPE = 0x7D, ESCAPE_XOR = 0x20, FCS_BYTES = 2, HEAD_BYTES = 2 };

/* RFC 1662 appendix C.2: x^16 + x^12 + x^5 + 1, reflected; value at the start FFFF, and F0B8 over content and FCS. */
enum { FCS_POLYNOMIAL = 0x8408, FCS_START = 0xFFFF, FCS_GOOD = 0xF0B8 };

void carrier_start(struct carrier *carrier, const struct truth *truth)
{
    memset(carrier, 0, sizeof *carrier);
    carrier->truth = truth;
}

void carrier_clear(struct carrier *carrier)
{
    outbox_clear(&carrier->outbox);
    carrier->inside = false;
    carrier->raw_length = 0;
}

static unsigned fcs(const uint8_t *bytes, size_t count)
{
    unsigned value = FCS_START;
    for (size_t i = 0; i < count; i++) {
        value ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            value = (value & 1U) != 0 ? value >> 1 ^ FCS_POLYNOMIAL : value >> 1;
    }
    return value;
}

static size_t content_build(const struct packet *packet, uint8_t content[CONTENT_MOST])
{
    content[0] = packet->kind;
    content[1] = packet->number;
    memcpy(content + HEAD_BYTES, packet->payload, packet->length);
    size_t length = HEAD_BYTES + packet->length;
    unsigned check = fcs(content, length) ^ 0xFFFFU;
    content[length] = (uint8_t)(check & 0xFFU);
    content[length + 1] = (uint8_t)(check >> 8);
    return length + FCS_BYTES;
}

static size_t frame_build(const struct packet *packet, uint8_t frame[FRAME_MOST])
{
    uint8_t content[CONTENT_MOST];
    size_t count = content_build(packet, content);
    size_t length = 0;
    frame[length++] = FLAG;
    for (size_t i = 0; i < count; i++) {
        bool stuffed = content[i] == FLAG || content[i] == ESCAPE;
        if (stuffed)
            frame[length++] = ESCAPE;
        frame[length++] = stuffed ? content[i] ^ ESCAPE_XOR : content[i];
    }
    frame[length++] = FLAG;
    return length;
}

static void faults_put(struct carrier *carrier, int where, int kind, struct outgoing *out, int64_t now_ms)
{
    for (size_t i = 0; i < carrier->faults.count; i++) {
        struct fault *fault = &carrier->faults.fault[i];
        if (fault->kind->where != where || !fault_strikes(fault, kind))
            continue;
        fault_log(carrier->truth, fault, packet_name(kind), now_ms);
        if (!outgoing_worth(out))
            continue;
        fault_apply(fault, out);
        if (fault->kind->own == OWN_STALE)
            outgoing_lead_bytes(out, carrier->previous, carrier->previous_length);
    }
}

void carrier_send(struct carrier *carrier, const struct packet *packet, int64_t now_ms)
{
    uint8_t frame[FRAME_MOST];
    size_t length = frame_build(packet, frame);
    struct outgoing out = {.bits = 8, .intact = true};
    outgoing_lead_bytes(&out, frame, length);
    out.start = 0;
    faults_put(carrier, FROM_CONTROLLER, packet->kind, &out, now_ms);
    memcpy(carrier->previous, frame, length);
    carrier->previous_length = length;
    if (!out.mute)
        outbox_answer(&carrier->outbox, &out, now_ms);
}

/* Damages what lies between two flags, as if it had come so. */
static void raw_damage(struct carrier *carrier, int64_t now_ms)
{
    struct outgoing out = {.bits = 8, .intact = true};
    outgoing_lead_bytes(&out, carrier->raw, carrier->raw_length);
    out.start = 0;
    faults_put(carrier, TO_CONTROLLER, carrier->raw[0], &out, now_ms);
    if (out.mute)
        out.length = 0;
    carrier->too_long = out.length > RAW_MOST;
    carrier->raw_length = carrier->too_long ? 0 : out.length;
    for (size_t i = 0; i < carrier->raw_length; i++)
        carrier->raw[i] = (uint8_t)out.units[i];
}

/* Gives the length, or 0 if an escape has nothing to escape. */
static size_t raw_unstuff(const struct carrier *carrier, uint8_t content[RAW_MOST])
{
    size_t length = 0;
    for (size_t i = 0; i < carrier->raw_length; i++) {
        bool escaped = carrier->raw[i] == ESCAPE;
        if (escaped && ++i == carrier->raw_length)
            return 0;
        content[length++] = escaped ? carrier->raw[i] ^ ESCAPE_XOR : carrier->raw[i];
    }
    return length;
}

static bool kind_known(uint8_t kind)
{
    return kind == PACKET_HELLO || kind == PACKET_ACKNOWLEDGE || kind == PACKET_SEND || kind == PACKET_BLOCK ||
           kind == PACKET_FAULT;
}

static bool packet_read(const struct carrier *carrier, struct packet *packet)
{
    uint8_t content[RAW_MOST];
    size_t length = raw_unstuff(carrier, content);
    if (length < HEAD_BYTES + FCS_BYTES || length > CONTENT_MOST || fcs(content, length) != FCS_GOOD)
        return false;
    packet->kind = content[0];
    packet->number = content[1];
    packet->length = length - HEAD_BYTES - FCS_BYTES;
    memcpy(packet->payload, content + HEAD_BYTES, packet->length);
    return kind_known(packet->kind);
}

/* A flag ends a packet and begins the next. Bytes before the first flag mean nothing. */
bool carrier_receive(struct carrier *carrier, uint8_t byte, struct packet *packet, int64_t now_ms)
{
    if (byte != FLAG) {
        bool room = carrier->raw_length < RAW_MOST;
        if (carrier->inside && room)
            carrier->raw[carrier->raw_length++] = byte;
        carrier->too_long = carrier->too_long || !room;
        return false;
    }
    bool good = false;
    if (carrier->inside && !carrier->too_long && carrier->raw_length > 0) {
        raw_damage(carrier, now_ms);
        good = packet_read(carrier, packet);
        if (!good)
            truth_say(carrier->truth, now_ms, "packet_dropped", "bytes", (long)carrier->raw_length);
    }
    carrier->inside = true;
    carrier->too_long = false;
    carrier->raw_length = 0;
    return good;
}
