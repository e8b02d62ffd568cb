/*
 * The host's side of the framed word carrier on a virtual clock: on a line that loses, doubles, flips, cuts and delays
 * bytes, does every block arrive once and in order, and is a restart of the other side never passed over?
 */
#include "test.h"

#include "transport/carrier_framed.h"

#define MS(milliseconds) ((uint64_t)(milliseconds)*1000)

/* ---- A bench: the host's side, and packets made by hand ---- */

struct bench {
    struct framed framed;
    struct packet_reader reader; /* of what the host sends */
    uint64_t now_us;
    uint32_t count;
    struct packet sent[64]; /* since forgotten */
};

static void collect(struct bench *bench)
{
    uint8_t bytes[FRAMED_COLLECT_MAX];
    uint32_t length = framed_collect(&bench->framed, bench->now_us, bytes);
    assert_true(length <= sizeof bytes);
    for (uint32_t i = 0; i < length; i++) {
        enum packet_found found = packet_take(&bench->reader, bytes[i], &bench->sent[bench->count]);
        assert_int_not_equal(found, PACKET_DAMAGED);
        bench->count += found == PACKET_GOOD;
    }
}

static void give(struct bench *bench, uint8_t kind, uint8_t number, const uint8_t *payload, uint8_t length)
{
    struct packet packet = {.kind = kind, .number = number, .length = length};
    uint8_t frame[PACKET_FRAME_MAX];
    memcpy(packet.payload, payload, length);
    framed_receive(&bench->framed, frame, packet_build(&packet, frame), bench->now_us);
}

static void give_byte(struct bench *bench, uint8_t kind, uint8_t number, uint8_t byte)
{
    give(bench, kind, number, &byte, 1);
}

static const uint8_t hello[] = {1, 0xA, 0xB, 0xC, 0xD};
static const uint8_t other_hello[] = {1, 0xA, 0xB, 0xC, 0xE};
static const uint8_t block[] = {0x82, 0x00, 0x82, 0x01};

static void prepare(struct bench *bench)
{
    memset(bench, 0, sizeof *bench);
    bench->now_us = MS(1000);
    framed_begin(&bench->framed, 0x01020304, bench->now_us);
}

static void begin(struct bench *bench)
{
    prepare(bench);
    collect(bench);
    give(bench, PACKET_HELLO, 1, hello, sizeof hello);
    assert_true(bench->framed.running);
    bench->count = 0;
}

static void expect(const struct bench *bench, uint32_t place, uint8_t kind, uint8_t number)
{
    assert_true(place < bench->count);
    assert_int_equal(bench->sent[place].kind, kind);
    assert_int_equal(bench->sent[place].number, number);
}

static void expect_acknowledge(const struct bench *bench, uint32_t place, uint8_t number)
{
    expect(bench, place, PACKET_ACKNOWLEDGE, 0);
    assert_int_equal(bench->sent[place].length, 1);
    assert_int_equal(bench->sent[place].payload[0], number);
}

/* ---- HELLO ---- */

static void test_hello(void **state)
{
    (void)state;
    struct bench bench;
    prepare(&bench);
    assert_int_equal(framed_deadline(&bench.framed), bench.now_us);
    collect(&bench);
    expect(&bench, 0, PACKET_HELLO, 0);
    static const uint8_t payload[] = {1, 4, 3, 2, 1};
    assert_int_equal(bench.sent[0].length, 5);
    assert_memory_equal(bench.sent[0].payload, payload, 5);
    /* Rule 2: again every 500 ms until the controller's has come. */
    assert_int_equal(framed_deadline(&bench.framed), bench.now_us + MS(500));
    bench.now_us += MS(499);
    collect(&bench);
    assert_int_equal(bench.count, 1);
    bench.now_us += MS(1);
    collect(&bench);
    assert_int_equal(bench.count, 2);
    /* Nothing else counts before it, and a HELLO of the wrong length is none. */
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    give(&bench, PACKET_HELLO, 0, hello, 4);
    assert_false(bench.framed.running);
    give(&bench, PACKET_HELLO, 1, hello, sizeof hello);
    assert_true(bench.framed.running);
    assert_int_equal(framed_deadline(&bench.framed), UINT64_MAX);
    bench.now_us += MS(10000);
    collect(&bench);
    assert_int_equal(bench.count, 2);
}

/* The controller asks on: our HELLO got lost. It is answered, but not in a circle, and not while it is at work. */
static void test_hello_again(void **state)
{
    (void)state;
    struct bench bench;
    begin(&bench);
    give(&bench, PACKET_HELLO, 0, hello, sizeof hello);
    collect(&bench);
    assert_int_equal(bench.count, 0);
    bench.now_us += MS(500);
    give(&bench, PACKET_HELLO, 0, hello, sizeof hello);
    assert_int_equal(framed_deadline(&bench.framed), 0);
    collect(&bench);
    expect(&bench, 0, PACKET_HELLO, 1);
    give(&bench, PACKET_HELLO, 0, hello, sizeof hello);
    collect(&bench);
    assert_int_equal(bench.count, 1);
    framed_send(&bench.framed, block, 2);
    collect(&bench);
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 1);
    bench.now_us += MS(500);
    give(&bench, PACKET_HELLO, 0, hello, sizeof hello);
    collect(&bench);
    assert_int_equal(bench.count, 2);
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
}

/* A controller that restarted asks before it has heard of us: answered at once. An answer is never answered, however
 * often it comes: no circle. */
static void test_hello_answered_once(void **state)
{
    (void)state;
    struct bench bench;
    prepare(&bench);
    collect(&bench);
    expect(&bench, 0, PACKET_HELLO, 0);
    give(&bench, PACKET_HELLO, 0, hello, sizeof hello);
    collect(&bench);
    expect(&bench, 1, PACKET_HELLO, 1);
    for (int i = 0; i < 10; i++) {
        bench.now_us += MS(500);
        give(&bench, PACKET_HELLO, 1, hello, sizeof hello);
        collect(&bench);
    }
    assert_int_equal(bench.count, 2);
    give(&bench, PACKET_HELLO, 1, other_hello, sizeof other_hello);
    assert_int_equal(bench.framed.trouble, FRAMED_RESTARTED);
}

static void test_version(void **state)
{
    (void)state;
    struct bench bench;
    static const uint8_t newer[] = {2, 0xA, 0xB, 0xC, 0xD};
    prepare(&bench);
    give(&bench, PACKET_HELLO, 0, newer, sizeof newer);
    assert_int_equal(bench.framed.trouble, FRAMED_VERSION);
    collect(&bench);
    assert_int_equal(bench.count, 0);
}

/* ---- Restart ---- */

static void test_restart_by_hello(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t bytes[FRAMED_BLOCK_MAX];
    begin(&bench);
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    give(&bench, PACKET_HELLO, 0, other_hello, sizeof other_hello);
    assert_int_equal(bench.framed.trouble, FRAMED_RESTARTED);
    assert_int_equal(framed_deadline(&bench.framed), 0);
    give(&bench, PACKET_BLOCK, 2, block, sizeof block);
    /* What came before is still handed on. */
    assert_int_equal(framed_block_take(&bench.framed, bytes), sizeof block);
    assert_int_equal(framed_block_take(&bench.framed, bytes), 0);
    collect(&bench);
    assert_int_equal(bench.count, 0);
}

static void test_restart_by_fault(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t bytes[FRAMED_BLOCK_MAX];
    begin(&bench);
    /* Before any block: the reader begins anew itself. */
    give_byte(&bench, PACKET_FAULT, 1, 3);
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
    assert_int_equal(bench.framed.notice, FRAMED_NOTICE_RESTARTED);
    collect(&bench);
    expect_acknowledge(&bench, 0, 1);
    give(&bench, PACKET_BLOCK, 2, block, sizeof block);
    assert_int_equal(framed_block_take(&bench.framed, bytes), sizeof block);
    collect(&bench);
    expect_acknowledge(&bench, 1, 2);
    give_byte(&bench, PACKET_FAULT, 3, 3);
    assert_int_equal(bench.framed.trouble, FRAMED_RESTARTED);
}

static void test_faults(void **state)
{
    (void)state;
    static const enum framed_notice notices[] = {FRAMED_NOTICE_UNKNOWN,   FRAMED_NOTICE_BROKEN_OFF,
                                                 FRAMED_NOTICE_FRAMING,   FRAMED_NOTICE_RESTARTED,
                                                 FRAMED_NOTICE_FORGOTTEN, FRAMED_NOTICE_UNKNOWN};
    struct bench bench;
    begin(&bench);
    for (uint8_t fault = 0; fault < 6; fault++) {
        give_byte(&bench, PACKET_FAULT, (uint8_t)(fault + 1), fault);
        assert_int_equal(bench.framed.notice, notices[fault]);
        collect(&bench);
        expect_acknowledge(&bench, fault, (uint8_t)(fault + 1));
    }
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
    static const uint8_t damaged[] = {0x7E, 1, 2, 3, 4, 5, 0x7E};
    framed_receive(&bench.framed, damaged, sizeof damaged, bench.now_us);
    assert_int_equal(bench.framed.notice, FRAMED_NOTICE_DAMAGED);
    collect(&bench);
    assert_int_equal(bench.count, 6); /* rule 3: without an answer */
}

/* ---- Blocks from the controller ---- */

static void test_block_is_acknowledged_when_taken(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t bytes[FRAMED_BLOCK_MAX];
    begin(&bench);
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    assert_int_equal(framed_deadline(&bench.framed), 0);
    collect(&bench);
    give(&bench, PACKET_BLOCK, 1, block, sizeof block); /* it repeats, and a next one may not come yet */
    give(&bench, PACKET_BLOCK, 2, block, 2);
    collect(&bench);
    assert_int_equal(bench.count, 0);
    assert_int_equal(framed_block_take(&bench.framed, bytes), sizeof block);
    assert_memory_equal(bytes, block, sizeof block);
    assert_int_equal(framed_deadline(&bench.framed), 0);
    collect(&bench);
    expect_acknowledge(&bench, 0, 1);
    /* Rule 1: the one seen last is acknowledged again and not used twice. */
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    assert_int_equal(framed_block_take(&bench.framed, bytes), 0);
    collect(&bench);
    expect_acknowledge(&bench, 1, 1);
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    give(&bench, PACKET_BLOCK, 2, block, 2); /* at once after the repetition */
    assert_int_equal(framed_block_take(&bench.framed, bytes), 2);
    collect(&bench);
    assert_int_equal(bench.count, 3);
    expect_acknowledge(&bench, 2, 2);
}

static void test_numbers_wrap(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t bytes[FRAMED_BLOCK_MAX];
    begin(&bench);
    uint8_t number = 0;
    for (int i = 0; i < 600; i++) {
        number = number == 255 ? 1 : (uint8_t)(number + 1);
        bench.count = 0;
        give(&bench, PACKET_BLOCK, number, block, sizeof block);
        assert_int_equal(framed_block_take(&bench.framed, bytes), sizeof block);
        framed_send(&bench.framed, block, 2);
        collect(&bench);
        expect_acknowledge(&bench, 0, number);
        expect(&bench, 1, PACKET_SEND, number);
        give_byte(&bench, PACKET_ACKNOWLEDGE, 0, number);
        assert_false(framed_busy(&bench.framed));
    }
}

/* A number out of step, and a block that is none, are not acknowledged; one of them is nothing, several are trouble. */
static void test_strays(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t bytes[FRAMED_BLOCK_MAX];
    begin(&bench);
    give(&bench, PACKET_BLOCK, 0, block, sizeof block);
    give(&bench, PACKET_BLOCK, 2, block, sizeof block);
    assert_int_equal(framed_block_take(&bench.framed, bytes), 0);
    give(&bench, PACKET_BLOCK, 1, block, sizeof block);
    assert_int_equal(framed_block_take(&bench.framed, bytes), sizeof block);
    collect(&bench);
    assert_int_equal(bench.count, 1);
    give(&bench, PACKET_BLOCK, 2, block, 3); /* half a word */
    give(&bench, PACKET_BLOCK, 2, block, 0);
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
    give(&bench, PACKET_FAULT, 2, block, 2);
    assert_int_equal(bench.framed.trouble, FRAMED_ASTRAY);
    collect(&bench);
    assert_int_equal(bench.count, 1);
}

/* Kinds that are the host's own, or that nobody has, are dropped. */
static void test_unknown_kinds(void **state)
{
    (void)state;
    struct bench bench;
    begin(&bench);
    give(&bench, PACKET_SEND, 1, block, sizeof block);
    give(&bench, 0x77, 1, block, sizeof block);
    collect(&bench);
    assert_int_equal(bench.count, 0);
    assert_int_equal(framed_deadline(&bench.framed), UINT64_MAX);
}

/* ---- Blocks to the controller ---- */

static void test_repetition(void **state)
{
    (void)state;
    struct bench bench;
    begin(&bench);
    framed_send(&bench.framed, block, 2);
    framed_send(&bench.framed, block + 2, 2);
    assert_int_equal(framed_deadline(&bench.framed), 0);
    collect(&bench);
    collect(&bench);
    assert_int_equal(bench.count, 1);
    assert_int_equal(framed_deadline(&bench.framed), bench.now_us + MS(100));
    bench.now_us += MS(100);
    collect(&bench);
    expect(&bench, 1, PACKET_SEND, 1);
    assert_memory_equal(bench.sent[1].payload, block, 2);
    /* Not ours, or no ACKNOWLEDGE at all. */
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 2);
    give(&bench, PACKET_ACKNOWLEDGE, 0, block, 2);
    collect(&bench);
    assert_int_equal(bench.count, 2);
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 1);
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 1); /* a late copy */
    collect(&bench);
    expect(&bench, 2, PACKET_SEND, 2);
    assert_memory_equal(bench.sent[2].payload, block + 2, 2);
    assert_true(framed_busy(&bench.framed));
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 1);
    assert_true(framed_busy(&bench.framed));
    give_byte(&bench, PACKET_ACKNOWLEDGE, 0, 2);
    assert_false(framed_busy(&bench.framed));
}

static void test_silence(void **state)
{
    (void)state;
    struct bench bench;
    begin(&bench);
    framed_send(&bench.framed, block, 2);
    for (int i = 0; i < 21; i++) {
        collect(&bench);
        assert_int_equal(bench.count, i + 1);
        bench.now_us = framed_deadline(&bench.framed);
    }
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
    collect(&bench); /* rule 1: up to 20 times again */
    assert_int_equal(bench.count, 21);
    assert_int_equal(bench.framed.trouble, FRAMED_SILENT);
}

static void test_full(void **state)
{
    (void)state;
    struct bench bench;
    begin(&bench);
    for (uint32_t i = 0; i < FRAMED_WAITING_MAX; i++)
        framed_send(&bench.framed, block, 2);
    assert_int_equal(bench.framed.trouble, FRAMED_FINE);
    framed_send(&bench.framed, block, 2);
    assert_int_equal(bench.framed.trouble, FRAMED_FULL);
}

/* ---- A whole conversation over a bad line, against a controller written from the page ---- */

#define LINE_MAX    65536u
#define MESSAGE_MAX 400u

/* Bytes on their way, in order. */
struct line {
    uint32_t first;
    uint32_t count;
    struct {
        uint64_t at_us;
        uint8_t byte;
    } items[LINE_MAX];
    uint64_t last_us;
};

struct controller {
    struct packet_reader reader;
    bool running;
    uint8_t session[4];
    uint8_t host_number;
    uint8_t number;
    uint32_t tries;
    uint64_t again_us;
    uint32_t sent; /* blocks acknowledged by the host */
    uint32_t used; /* blocks of the host given to the bus */
};

static struct world {
    uint64_t seed;
    uint32_t damage; /* per mille of the packets */
    uint64_t now_us;
    struct framed framed;
    struct controller controller;
    struct line to_host;
    struct line to_controller;
    uint32_t taken; /* blocks that the host has taken */
    uint32_t put;   /* blocks that the host has put in */
} world;

static uint32_t chance(uint32_t below)
{
    world.seed = world.seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(world.seed >> 33) % below;
}

static void byte_put(struct line *line, uint8_t byte)
{
    assert_true(line->count < LINE_MAX);
    uint32_t place = (line->first + line->count++) % LINE_MAX;
    line->last_us = (line->last_us > world.now_us ? line->last_us : world.now_us) + 87; /* 115200 baud */
    line->items[place].at_us = line->last_us;
    line->items[place].byte = byte;
}

/* One of: lost, doubled, a bit flipped, cut short, late, noise before. */
static void frame_put(struct line *line, const uint8_t *frame, uint32_t length)
{
    uint32_t harm = chance(1000) < world.damage ? 1 + chance(6) : 0;
    uint32_t from = harm == 4 ? chance(length) : length;
    uint32_t flipped = harm == 3 ? chance(length) : length;
    if (harm == 1)
        return;
    if (harm == 5)
        line->last_us = (line->last_us > world.now_us ? line->last_us : world.now_us) + MS(chance(400));
    for (uint32_t noise = harm == 6 ? chance(20) : 0; noise > 0; noise--)
        byte_put(line, (uint8_t)chance(256));
    for (int copy = harm == 2 ? 0 : 1; copy < 2; copy++) {
        for (uint32_t i = 0; i < length && i < from; i++)
            byte_put(line, (uint8_t)(i == flipped ? frame[i] ^ (1u << chance(8)) : frame[i]));
    }
}

static bool byte_get(struct line *line, uint8_t *byte)
{
    if (line->count == 0 || line->items[line->first].at_us > world.now_us)
        return false;
    *byte = line->items[line->first].byte;
    line->first = (line->first + 1) % LINE_MAX;
    line->count--;
    return true;
}

static void controller_put(uint8_t kind, uint8_t number, const uint8_t *payload, uint8_t length)
{
    struct packet packet = {.kind = kind, .number = number, .length = length};
    uint8_t frame[PACKET_FRAME_MAX];
    memcpy(packet.payload, payload, length);
    frame_put(&world.to_host, frame, packet_build(&packet, frame));
}

static void message_make(uint32_t index, uint8_t bytes[4])
{
    bytes[0] = (uint8_t)index;
    bytes[1] = 0;
    bytes[2] = (uint8_t)(index >> 8);
    bytes[3] = 1;
}

static void controller_take(const struct packet *packet)
{
    struct controller *controller = &world.controller;
    static const uint8_t mine[] = {1, 9, 8, 7, 6};
    if (packet->kind == PACKET_HELLO && !controller->running) {
        controller->running = true;
        controller_put(PACKET_HELLO, 1, mine, sizeof mine);
    } else if (packet->kind == PACKET_HELLO && controller->number == 0 && controller->host_number == 0) {
        controller_put(PACKET_HELLO, 1, mine, sizeof mine); /* the host has not heard ours */
    } else if (packet->kind == PACKET_ACKNOWLEDGE && controller->tries > 0 &&
               packet->payload[0] == controller->number) {
        controller->tries = 0;
        controller->sent++;
    } else if (packet->kind == PACKET_SEND && controller->running) {
        bool again = packet->number == controller->host_number;
        if (!again) {
            uint8_t expected[4];
            message_make(controller->used, expected);
            assert_int_equal(packet->number, controller->host_number == 255 ? 1 : controller->host_number + 1);
            assert_memory_equal(packet->payload, expected, 4);
            controller->used++;
            controller->host_number = packet->number;
        }
        controller_put(PACKET_ACKNOWLEDGE, 0, &packet->number, 1);
    }
}

static void controller_advance(void)
{
    struct controller *controller = &world.controller;
    uint8_t bytes[4];
    /* It has heard a SEND: so its HELLO has arrived. */
    if (controller->host_number == 0 || controller->sent == MESSAGE_MAX)
        return;
    if (controller->tries > 0 && world.now_us < controller->again_us)
        return;
    if (controller->tries++ == 0)
        controller->number = controller->number == 255 ? 1 : (uint8_t)(controller->number + 1);
    assert_true(controller->tries <= 21);
    controller->again_us = world.now_us + MS(100);
    message_make(controller->sent, bytes);
    controller_put(PACKET_BLOCK, controller->number, bytes, 4);
}

static void host_advance(void)
{
    uint8_t bytes[FRAMED_COLLECT_MAX];
    uint8_t byte;
    while (byte_get(&world.to_host, &byte))
        framed_receive(&world.framed, &byte, 1, world.now_us);
    uint32_t length = framed_block_take(&world.framed, bytes);
    if (length > 0) {
        uint8_t expected[4];
        message_make(world.taken++, expected);
        assert_int_equal(length, 4);
        assert_memory_equal(bytes, expected, 4);
    }
    if (world.framed.running && world.put < MESSAGE_MAX && !framed_busy(&world.framed)) {
        message_make(world.put++, bytes);
        framed_send(&world.framed, bytes, 4);
    }
    length = framed_collect(&world.framed, world.now_us, bytes);
    if (length > 0)
        frame_put(&world.to_controller, bytes, length);
}

static bool world_done(void)
{
    return world.put == MESSAGE_MAX && !framed_busy(&world.framed) && world.controller.sent == MESSAGE_MAX;
}

static void conversation(uint64_t seed, uint32_t damage)
{
    memset(&world, 0, sizeof world);
    world.seed = seed;
    world.damage = damage;
    framed_begin(&world.framed, 77, 0);
    while (!world_done()) {
        assert_true(world.now_us < MS(3600000));
        world.now_us += MS(1);
        uint8_t byte;
        struct packet packet;
        while (byte_get(&world.to_controller, &byte)) {
            if (packet_take(&world.controller.reader, byte, &packet) == PACKET_GOOD)
                controller_take(&packet);
        }
        controller_advance();
        host_advance();
        assert_int_equal(world.framed.trouble, FRAMED_FINE);
    }
    /* Nothing lost, nothing twice. */
    assert_int_equal(world.taken, MESSAGE_MAX);
    assert_int_equal(world.controller.used, MESSAGE_MAX);
}

static void test_conversations(void **state)
{
    (void)state;
    conversation(1, 0);
    for (uint64_t seed = 2; seed < 12; seed++)
        conversation(seed, 50 + 25 * (uint32_t)seed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hello),
        cmocka_unit_test(test_hello_again),
        cmocka_unit_test(test_hello_answered_once),
        cmocka_unit_test(test_version),
        cmocka_unit_test(test_restart_by_hello),
        cmocka_unit_test(test_restart_by_fault),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_block_is_acknowledged_when_taken),
        cmocka_unit_test(test_numbers_wrap),
        cmocka_unit_test(test_strays),
        cmocka_unit_test(test_unknown_kinds),
        cmocka_unit_test(test_repetition),
        cmocka_unit_test(test_silence),
        cmocka_unit_test(test_full),
        cmocka_unit_test(test_conversations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
