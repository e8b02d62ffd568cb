/*
 * Can any text make the reader of the MDB simulator's scripts, or the device and the controller that act a script out, go
 * wrong?
 */
int simulator_main(int count, char **arguments);
#define main simulator_main /* the simulator's parts are joined there */
#include "../simulators/mdb/main.c"
#undef main

#include "script_try.h"

/* What the host's controller would make of the next packet; HELLO first, then mostly blocks for the bus in order. */
struct host {
    struct carrier carrier;
    bool greeted;
    uint8_t number;
};

static struct host host;

static const uint8_t commands[][4] = {{1, 0x30}, {1, 0x31},    {3, 0x32, 0, 0}, {1, 0x33}, {1, 0x33},    {1, 0x33},
                                      {1, 0x33}, {2, 0x35, 1}, {2, 0x35, 0},    {1, 0x36}, {2, 0x37, 0}, {2, 0x37, 2}};

/* One block: its bytes with the check behind them, the mode bit on the first. */
static void block_make(struct script_play *play, struct packet *packet)
{
    const uint8_t *command = commands[play_random(play, sizeof commands / sizeof commands[0])];
    uint8_t bytes[8] = {0x34, 0xFF, 0xFF, 0xFF, 0xFF};
    size_t length = 5;
    if (play_random(play, 6) != 0) {
        length = command[0];
        memcpy(bytes, command + 1, length);
    }
    unsigned sum = 0;
    for (size_t i = 0; i < length; i++)
        sum += bytes[i];
    bytes[length++] = (uint8_t)(sum & 0xFFU);
    for (size_t i = 0; i < length; i++) {
        packet->payload[2 * i] = bytes[i];
        packet->payload[2 * i + 1] = i == 0 ? 1 : 0;
    }
    packet->length = 2 * length;
}

static void packet_make(struct script_play *play, struct packet *packet)
{
    *packet = (struct packet){.kind = PACKET_HELLO, .payload = {1, 2, 3, 4, 5}, .length = 5};
    uint32_t choice = play_random(play, 24);
    if (!host.greeted || choice == 0) {
        host.greeted = true;
        host.number = 0;
        packet->payload[1] = (uint8_t)play_random(play, 4);
    } else if (choice < 8) {
        *packet = (struct packet){.kind = PACKET_ACKNOWLEDGE, .length = 1};
        packet->payload[0] = (uint8_t)play_random(play, 12);
    } else if (choice < 22) {
        host.number = host.number == 255 ? 1 : (uint8_t)(host.number + 1);
        *packet = (struct packet){.kind = PACKET_SEND, .number = host.number};
        block_make(play, packet);
    } else {
        packet->kind = (uint8_t)(PACKET_SEND + play_random(play, 3));
        packet->number = (uint8_t)play_random(play, 256);
        packet->length = play_random(play, PAYLOAD_MOST + 1);
        for (size_t i = 0; i < packet->length; i++)
            packet->payload[i] = (uint8_t)play_random(play, 256);
    }
}

static size_t request_make(struct script_play *play, uint8_t bytes[REQUEST_MOST])
{
    struct packet packet;
    packet_make(play, &packet);
    carrier_start(&host.carrier, &play->truth);
    carrier_send(&host.carrier, &packet, 0);
    size_t length = host.carrier.outbox.chunks[0].length;
    demand(host.carrier.outbox.count == 1 && length <= REQUEST_MOST);
    memcpy(bytes, host.carrier.outbox.chunks[0].bytes, length);
    return length;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    memset(&host, 0, sizeof host);
    return script_try(&mdb_language, sizeof(struct simulator), data, size);
}
