/*
 * Packets of the word carrier, and parity as a mode bit: are bytes taken for exactly what docs/word-carrier.md says?
 */
#include "test.h"

#include "transport/carrier_packet.h"
#include "transport/carrier_parity.h"

/* ---- Framing ---- */

/* RFC 1662 appendix C.2: the check over content and check together is always the same, F0B8 before the inversion. */
static void test_check(void **state)
{
    (void)state;
    /* docs/word-carrier.md; the customary check value of this 16-bit FCS (from memory). */
    assert_int_equal(packet_check((const uint8_t *)"123456789", 9), 0x906E);
    uint8_t bytes[11] = "123456789";
    bytes[9] = 0x6E;
    bytes[10] = 0x90;
    assert_int_equal(packet_check(bytes, 11), 0xF0B8 ^ 0xFFFF);
    assert_int_equal(packet_check(bytes, 0), 0);
}

static enum packet_found feed(struct packet_reader *reader, const uint8_t *bytes, uint32_t length,
                              struct packet *packet)
{
    enum packet_found found = PACKET_NONE;
    for (uint32_t i = 0; i < length; i++) {
        assert_int_equal(found, PACKET_NONE);
        found = packet_take(reader, bytes[i], packet);
    }
    return found;
}

static void test_known_frame(void **state)
{
    (void)state;
    struct packet packet = {.kind = PACKET_ACKNOWLEDGE, .length = 1, .payload = {0x7E}};
    uint8_t frame[PACKET_FRAME_MAX];
    uint32_t length = packet_build(&packet, frame);
    static const uint8_t content[] = {0x02, 0x00, 0x7E};
    uint16_t check = packet_check(content, sizeof content);
    /* The payload 7E is stuffed (RFC 1662 section 4.2: 7E becomes 7D 5E). */
    static const uint8_t begin[] = {0x7E, 0x02, 0x00, 0x7D, 0x5E};
    assert_true(length >= 8);
    assert_memory_equal(frame, begin, sizeof begin);
    assert_int_equal(frame[length - 1], 0x7E);
    assert_true(check != 0);
    struct packet_reader reader = {0};
    struct packet found;
    assert_int_equal(feed(&reader, frame, length, &found), PACKET_GOOD);
    assert_int_equal(found.kind, PACKET_ACKNOWLEDGE);
    assert_int_equal(found.length, 1);
    assert_int_equal(found.payload[0], 0x7E);
}

/* Every payload length and byte comes back; the flag between two packets may be shared; bytes outside mean nothing. */
static void test_round_trip(void **state)
{
    (void)state;
    struct packet_reader reader = {0};
    struct packet found;
    uint8_t frame[PACKET_FRAME_MAX];
    static const uint8_t noise[] = {0x11, 0x7D, 0x00};
    assert_int_equal(feed(&reader, noise, sizeof noise, &found), PACKET_NONE);
    for (uint32_t length = 0; length <= PACKET_PAYLOAD_MAX; length++) {
        struct packet packet = {.kind = PACKET_BLOCK, .number = (uint8_t)length, .length = (uint8_t)length};
        for (uint32_t i = 0; i < length; i++)
            packet.payload[i] = (uint8_t)(0x7A + i * 3 + length);
        uint32_t bytes = packet_build(&packet, frame);
        uint32_t shared = length % 2 == 1 ? 1 : 0; /* the flag before is the one that ended the last */
        assert_int_equal(feed(&reader, frame + shared, bytes - shared, &found), PACKET_GOOD);
        assert_int_equal(found.number, length);
        assert_int_equal(found.length, length);
        assert_memory_equal(found.payload, packet.payload, length);
    }
    /* The longest: every byte stuffed but the check. */
    struct packet packet = {.kind = 0x7E, .number = 0x7D, .length = PACKET_PAYLOAD_MAX};
    memset(packet.payload, 0x7E, sizeof packet.payload);
    uint32_t bytes = packet_build(&packet, frame);
    assert_in_range(bytes, 2 * 82 + 4, PACKET_FRAME_MAX);
    assert_int_equal(feed(&reader, frame, bytes, &found), PACKET_GOOD);
    assert_int_equal(found.length, PACKET_PAYLOAD_MAX);
}

static void test_damage(void **state)
{
    (void)state;
    struct packet packet = {.kind = PACKET_BLOCK, .number = 5, .length = 4, .payload = {1, 2, 3, 4}};
    uint8_t frame[PACKET_FRAME_MAX];
    uint32_t length = packet_build(&packet, frame);
    struct packet found;
    /* Any flipped bit is seen, or it moved a flag. */
    for (uint32_t place = 1; place + 1 < length; place++) {
        for (int bit = 0; bit < 8; bit++) {
            uint8_t damaged[PACKET_FRAME_MAX];
            memcpy(damaged, frame, length);
            damaged[place] ^= (uint8_t)(1 << bit);
            struct packet_reader reader = {0};
            for (uint32_t i = 0; i < length; i++)
                assert_int_not_equal(packet_take(&reader, damaged[i], &found), PACKET_GOOD);
        }
    }
    static const struct {
        uint8_t bytes[6];
        uint32_t length;
        enum packet_found found;
    } cases[] = {
        {{0x7E, 0x7E, 0x7E}, 3, PACKET_NONE},             /* empty packets */
        {{0x7E, 1, 0, 0x7E}, 4, PACKET_DAMAGED},          /* too short for a check */
        {{0x7E, 0x7D, 0x7E}, 3, PACKET_DAMAGED},          /* broken off (RFC 1662 section 4.3) */
        {{0x7E, 1, 2, 3, 0x7D, 0x7E}, 6, PACKET_DAMAGED}, /* the same, later */
        {{0x7E, 0x7D, 0x7D, 0x7D, 0x7D, 0x7E}, 6, PACKET_DAMAGED},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct packet_reader reader = {0};
        assert_int_equal(feed(&reader, cases[i].bytes, cases[i].length, &found), cases[i].found);
    }
    /* Too long, and the next one is good again. */
    struct packet_reader reader = {0};
    assert_int_equal(packet_take(&reader, 0x7E, &found), PACKET_NONE);
    for (int i = 0; i < 300; i++)
        assert_int_equal(packet_take(&reader, (uint8_t)(i & 0x3F), &found), PACKET_NONE);
    assert_int_equal(packet_take(&reader, 0x7E, &found), PACKET_DAMAGED);
    assert_int_equal(feed(&reader, frame + 1, length - 1, &found), PACKET_GOOD);
}

/* ---- Parity ---- */

struct parity_case {
    bool asked;
    uint8_t bytes[8];
    uint32_t length;
    uint16_t words[4];
    uint32_t count;
};

/* POSIX termios, PARMRK: a marked character is FF 00 x, a good FF is FF FF, a break is FF 00 00. */
static void test_parity_take(void **state)
{
    (void)state;
    static const struct parity_case cases[] = {
        {true, {0x82, 0xFF, 0x00, 0x82}, 4, {0x082, 0x182}, 2},
        {true, {0xFF, 0x00, 0x00}, 3, {0x100}, 1},                           /* the ACK that was asked for */
        {false, {0xFF, 0x00, 0x00}, 3, {0x8000}, 1},                         /* nobody was asked: a break */
        {true, {0xFF, 0x00, 0x00, 0xFF, 0x00, 0x00}, 6, {0x100, 0x8000}, 2}, /* an answer ends once */
        {true, {0xFF, 0xFF, 0x01, 0xFF, 0x00, 0xFF}, 6, {0x0FF, 0x001, 0x1FF}, 3},
        {false, {0xFF, 0x12, 0x00}, 3, {0x012, 0x000}, 2}, /* no driver sends this */
        {false, {0xFF, 0x00, 0x55}, 3, {0x155}, 1},
        {true, {0xFF, 0x00}, 2, {0}, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct parity_reader reader = {.asked = cases[i].asked};
        uint32_t count = 0;
        for (uint32_t j = 0; j < cases[i].length; j++) {
            uint16_t word;
            if (parity_take(&reader, cases[i].bytes[j], &word)) {
                assert_true(count < cases[i].count);
                assert_int_equal(word, cases[i].words[count++]);
            }
        }
        assert_int_equal(count, cases[i].count);
    }
}

/* Every word comes back through what a driver makes of it. */
static void test_parity_all(void **state)
{
    (void)state;
    for (uint32_t sent = 0; sent < 0x200; sent++) {
        struct parity_reader reader = {.asked = true};
        uint8_t byte = (uint8_t)(sent & 0xFF);
        uint16_t word = 0xEEEE;
        if (sent >= 0x100) {
            assert_false(parity_take(&reader, 0xFF, &word));
            assert_false(parity_take(&reader, 0x00, &word));
        } else if (byte == 0xFF) {
            assert_false(parity_take(&reader, 0xFF, &word));
        }
        assert_true(parity_take(&reader, byte, &word));
        assert_int_equal(word, sent);
    }
}

static void test_parity_run(void **state)
{
    (void)state;
    static const uint16_t words[] = {0x133, 0x033, 0x044, 0x8000, 0x130, 0x131};
    assert_int_equal(parity_run(words, 6), 1);
    assert_int_equal(parity_run(words + 1, 5), 2);
    assert_int_equal(parity_run(words + 3, 3), 0);
    assert_int_equal(parity_run(words + 4, 2), 2);
    assert_int_equal(parity_run(words + 1, 1), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check),      cmocka_unit_test(test_known_frame), cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_damage),     cmocka_unit_test(test_parity_take), cmocka_unit_test(test_parity_all),
        cmocka_unit_test(test_parity_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
