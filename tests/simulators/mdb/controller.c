/* What does the bus microcontroller do? Rules of docs/word-carrier.md; limits on the bus: MDB/ICP, section 3, from
 * memory. */
#include "controller.h"

#include <string.h>

enum { VERSION = 1, REPEAT_MS = 100, REPEATS_NOTED = 21, HELLO_MS = 500, HELLO_BYTES = 1 + SESSION_BYTES };
enum { RESPONSE_MS = 5, BETWEEN_BYTES_MS = 1, NUMBER_MOST = 255, BUS_ACK = 0x00 };
enum { FAULT_BROKE_OFF = 1, FAULT_FRAMING = 2, FAULT_RESTARTED = 3, FAULT_FORGOTTEN = 4 };
enum { HELLO_ASKS = 0, HELLO_ANSWERS = 1, FIRST_SESSION = 0x53494D00 };

void controller_start(struct controller *controller, struct bus *bus, struct carrier *carrier)
{
    memset(controller, 0, sizeof *controller);
    controller->bus = bus;
    controller->carrier = carrier;
    controller->settings = bus->settings;
    controller->truth = bus->truth;
    controller->session = FIRST_SESSION;
}

static uint8_t number_after(uint8_t number)
{
    return number == NUMBER_MOST ? 1 : (uint8_t)(number + 1);
}

/* ---- To the host ---- */

static void hello_send(struct controller *controller, uint8_t number, int64_t now_ms)
{
    struct packet hello = {.kind = PACKET_HELLO, .number = number, .length = HELLO_BYTES};
    hello.payload[0] = VERSION;
    for (int i = 0; i < SESSION_BYTES; i++)
        hello.payload[1 + i] = (uint8_t)(controller->session >> (8 * i) & 0xFFU);
    carrier_send(controller->carrier, &hello, now_ms);
}

static void acknowledge_send(struct controller *controller, uint8_t number, int64_t now_ms)
{
    const struct packet packet = {.kind = PACKET_ACKNOWLEDGE, .payload = {number}, .length = 1};
    carrier_send(controller->carrier, &packet, now_ms);
}

/* One packet at a time; the same one again after 100 ms, as long as the session lasts. */
static void kept_send(struct controller *controller, int64_t now_ms)
{
    if (!controller->established || controller->kept_count == 0)
        return;
    const struct kept *kept = &controller->kept[0];
    bool again = controller->attempts > 0;
    if (now_ms < (again ? controller->due_ms : kept->ready_ms))
        return;
    if (!again)
        controller->number = number_after(controller->number);
    struct packet packet = {.kind = kept->kind, .number = controller->number, .length = kept->length};
    memcpy(packet.payload, kept->payload, kept->length);
    carrier_send(controller->carrier, &packet, now_ms);
    controller->attempts++;
    controller->due_ms = now_ms + REPEAT_MS;
    if (controller->attempts == REPEATS_NOTED)
        truth_say(controller->truth, now_ms, "repeated_in_vain", "number", controller->number);
}

/* False if the memory is full. */
static bool keep(struct controller *controller, const struct kept *kept)
{
    if (controller->kept_count == KEPT_MOST)
        return false;
    controller->kept[controller->kept_count++] = *kept;
    return true;
}

static void fault_keep(struct controller *controller, uint8_t what, int64_t now_ms)
{
    keep(controller, &(struct kept){.kind = PACKET_FAULT, .payload = {what}, .length = 1, .ready_ms = now_ms});
    truth_say(controller->truth, now_ms, "controller_fault", "number", what);
}

/* What was under way is gone. Blocks with poll events are said, because money may be in them. True if the validator
 * had got its ACK for a block that the host has not. */
static bool kept_forget(struct controller *controller, int64_t now_ms)
{
    bool owed = false;
    for (size_t i = 0; i < controller->kept_count; i++) {
        const struct kept *kept = &controller->kept[i];
        owed = owed || kept->acknowledged;
        if (!kept->events)
            continue;
        truth_begin(controller->truth, now_ms, "forgotten");
        truth_bytes(controller->truth, "words", kept->payload, kept->length);
        truth_end(controller->truth);
    }
    controller->kept_count = 0;
    controller->attempts = 0;
    controller->number = 0;
    controller->host_number = 0;
    return owed;
}

bool controller_has_events(const struct controller *controller)
{
    for (size_t i = 0; i < controller->kept_count; i++) {
        if (controller->kept[i].events)
            return true;
    }
    return false;
}

/* ---- The bus ---- */

/* Of the first block; 0: no word with mode bit 1 came within 1 ms after the one before. */
static size_t block_length(const struct outgoing *out)
{
    bool broken = out->split > 0 && out->pause_ms > BETWEEN_BYTES_MS;
    size_t length = broken && out->split < out->length ? out->split : out->length;
    for (size_t i = 0; i < length; i++) {
        if ((out->units[i] & MODE_BIT) != 0)
            return i + 1;
    }
    return 0;
}

static bool data_good(const uint16_t *words, size_t count)
{
    unsigned sum = 0;
    for (size_t i = 0; i + 1 < count; i++)
        sum += words[i];
    return count > 1 && (sum & 0xFFU) == (words[count - 1] & 0xFFU);
}

/* Rule 4: into memory first, then ACK on the bus, and only for a whole block of data. */
static void block_take(struct controller *controller, const struct hearing *hearing, const uint16_t *words,
                       size_t count, int64_t now_ms)
{
    if (count > PAYLOAD_MOST / 2)
        return;
    bool good = data_good(words, count);
    struct kept kept = {.kind = PACKET_BLOCK, .length = 2 * count, .ready_ms = now_ms};
    if (hearing->out.delay_ms > RESPONSE_MS)
        kept.ready_ms += hearing->out.delay_ms;
    kept.acknowledged = good;
    kept.events = good && hearing->events && hearing->current;
    for (size_t i = 0; i < count; i++) {
        kept.payload[2 * i] = (uint8_t)(words[i] & 0xFFU);
        kept.payload[2 * i + 1] = (uint8_t)(words[i] >> 8);
    }
    if (keep(controller, &kept) && good)
        bus_acknowledge(controller->bus, hearing, now_ms);
}

static void answer_take(struct controller *controller, const struct hearing *hearing, int64_t now_ms)
{
    const struct outgoing *out = &hearing->out;
    bool strays = controller->settings->passes_strays;
    if (out->length == 0)
        return;
    if (out->delay_ms > RESPONSE_MS && !strays) {
        truth_say(controller->truth, now_ms, "too_late", "ms", out->delay_ms);
        return;
    }
    size_t length = hearing->framing ? 0 : block_length(out);
    if (length == 0) {
        fault_keep(controller, hearing->framing ? FAULT_FRAMING : FAULT_BROKE_OFF, now_ms);
        return;
    }
    block_take(controller, hearing, out->units, length, now_ms);
    struct hearing stray = *hearing;
    stray.current = stray.events = false;
    for (size_t i = length, start = length; strays && i < out->length; i++) {
        if ((out->units[i] & MODE_BIT) == 0)
            continue;
        block_take(controller, &stray, out->units + start, i + 1 - start, now_ms);
        start = i + 1;
    }
}

/* ACK words of the host are not repeated on the bus. */
static void words_send(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    uint16_t words[WORDS_MOST];
    size_t count = packet->length / 2;
    if (packet->length % 2 != 0 || count == 0)
        return;
    for (size_t i = 0; i < count; i++)
        words[i] = (uint16_t)(packet->payload[2 * i] | packet->payload[2 * i + 1] << 8);
    if (count == 1 && words[0] == BUS_ACK)
        return;
    struct hearing hearing;
    bus_exchange(controller->bus, words, count, &hearing, now_ms);
    answer_take(controller, &hearing, now_ms);
}

/* ---- From the host ---- */

static void session_begin(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    bool owed = kept_forget(controller, now_ms);
    memcpy(controller->host_session, packet->payload + 1, SESSION_BYTES);
    controller->established = true;
    controller->running = false;
    controller->asking = false;
    truth_say(controller->truth, now_ms, "session", NULL, 0);
    if (controller->restarted)
        fault_keep(controller, FAULT_RESTARTED, now_ms);
    if (owed)
        fault_keep(controller, FAULT_FORGOTTEN, now_ms);
    controller->restarted = false;
}

/* An answer is never answered, and counts only when it was asked for. The same session number again, from a host that
 * is at work, is a late copy; from one that is not, our HELLO got lost. */
static void hello_take(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    if (packet->length != HELLO_BYTES || packet->payload[0] != VERSION)
        return;
    bool asks = packet->number == HELLO_ASKS;
    if (!asks && !controller->asking)
        return;
    bool same = controller->established && memcmp(controller->host_session, packet->payload + 1, SESSION_BYTES) == 0;
    if (same && controller->running)
        return;
    if (asks)
        hello_send(controller, HELLO_ANSWERS, now_ms);
    if (!same)
        session_begin(controller, packet, now_ms);
}

static void acknowledge_take(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    bool ours = packet->length == 1 && controller->attempts > 0 && packet->payload[0] == controller->number;
    if (!ours)
        return;
    controller->kept_count--;
    memmove(&controller->kept[0], &controller->kept[1], controller->kept_count * sizeof controller->kept[0]);
    controller->attempts = 0;
    kept_send(controller, now_ms);
}

static void send_take(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    if (!controller->established)
        return;
    bool again = packet->number == controller->host_number && packet->number != 0;
    if (!again && packet->number != number_after(controller->host_number)) {
        truth_say(controller->truth, now_ms, "wrong_number", "number", packet->number);
        return;
    }
    controller->running = true;
    controller->host_number = packet->number;
    acknowledge_send(controller, packet->number, now_ms);
    if (!again)
        words_send(controller, packet, now_ms);
    kept_send(controller, now_ms);
}

void controller_receive(struct controller *controller, const struct packet *packet, int64_t now_ms)
{
    if (now_ms < controller->off_until_ms)
        return;
    if (packet->kind == PACKET_HELLO)
        hello_take(controller, packet, now_ms);
    else if (packet->kind == PACKET_ACKNOWLEDGE)
        acknowledge_take(controller, packet, now_ms);
    else if (packet->kind == PACKET_SEND)
        send_take(controller, packet, now_ms);
}

/* ---- Time ---- */

void controller_advance(struct controller *controller, int64_t now_ms)
{
    if (now_ms < controller->off_until_ms)
        return;
    if (controller->asking && now_ms >= controller->hello_due_ms) {
        hello_send(controller, HELLO_ASKS, now_ms);
        controller->hello_due_ms = now_ms + HELLO_MS;
    }
    kept_send(controller, now_ms);
}

int64_t controller_deadline(const struct controller *controller, int64_t now_ms)
{
    if (now_ms < controller->off_until_ms)
        return controller->off_until_ms;
    if (controller->asking)
        return controller->hello_due_ms;
    if (!controller->established || controller->kept_count == 0)
        return INT64_MAX;
    return controller->attempts > 0 ? controller->due_ms : controller->kept[0].ready_ms;
}

void controller_restart(struct controller *controller, long off_ms, int64_t now_ms)
{
    truth_say(controller->truth, now_ms, "controller_restarted", "kept", (long)controller->kept_count);
    (void)kept_forget(controller, now_ms); /* FAULT 3 will tell */
    carrier_clear(controller->carrier);
    controller->session++;
    controller->established = controller->running = false;
    controller->asking = controller->restarted = true;
    controller->off_until_ms = now_ms + off_ms;
    controller->hello_due_ms = controller->off_until_ms;
}
