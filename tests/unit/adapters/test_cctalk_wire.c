/*
 * Do ccTalk frames survive building and parsing at every length, and is nothing damaged or incomplete taken for a frame?
 */
#include "cctalk/wire.h"

#include "test.h"

#include <stdlib.h>

static const enum cctalk_check checks[] = {CCTALK_CHECK_SUM, CCTALK_CHECK_CRC};
enum { CHECKS = sizeof checks / sizeof checks[0] };

/* A fixed sequence of numbers that look random, the same in every run. */
static uint32_t random_next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

static struct cctalk_frame frame_make(uint32_t *seed, unsigned length)
{
    struct cctalk_frame frame = {.destination = (uint8_t)random_next(seed),
                                 .source = (uint8_t)random_next(seed),
                                 .header = (uint8_t)random_next(seed),
                                 .length = (uint8_t)length};
    for (unsigned i = 0; i < length && i < CCTALK_DATA_MAX; i++)
        frame.data[i] = (uint8_t)random_next(seed);
    return frame;
}

/* Parses a copy in a block of just that size, so that a sanitizer sees one byte read too far. */
static enum cctalk_found parse_exact(enum cctalk_check check, const uint8_t *bytes, uint32_t length,
                                     struct cctalk_frame *frame, uint32_t *used)
{
    uint8_t *copy = malloc(length > 0 ? length : 1);
    assert_non_null(copy);
    memcpy(copy, bytes, length);
    *used = 99;
    enum cctalk_found found = cctalk_frame_parse(check, copy, length, frame, used);
    free(copy);
    if (found != CCTALK_FRAME)
        assert_int_equal(*used, 0);
    return found;
}

static void assert_same_frame(enum cctalk_check check, const struct cctalk_frame *left,
                              const struct cctalk_frame *right)
{
    assert_int_equal(left->destination, right->destination);
    assert_int_equal(left->header, right->header);
    assert_int_equal(left->length, right->length);
    assert_int_equal(left->source, check == CCTALK_CHECK_CRC ? 0 : right->source);
    assert_memory_equal(left->data, right->data, right->length);
}

static void every_length_comes_back(void **state)
{
    (void)state;
    uint32_t seed = 1;
    for (int c = 0; c < CHECKS; c++) {
        for (unsigned length = 0; length <= CCTALK_DATA_MAX; length++) {
            struct cctalk_frame frame = frame_make(&seed, length);
            uint8_t bytes[CCTALK_FRAME_MAX + 1];
            memset(bytes, 0xA5, sizeof bytes);
            uint32_t built = cctalk_frame_build(checks[c], &frame, bytes);
            assert_int_equal(built, length + CCTALK_FRAME_MIN);
            assert_int_equal(bytes[built], 0xA5);
            struct cctalk_frame found;
            uint32_t used;
            assert_int_equal(parse_exact(checks[c], bytes, built, &found, &used), CCTALK_FRAME);
            assert_int_equal(used, built);
            assert_same_frame(checks[c], &found, &frame);
            /* What follows the frame does not matter. */
            assert_int_equal(parse_exact(checks[c], bytes, built + 1, &found, &used), CCTALK_FRAME);
            assert_int_equal(used, built);
        }
    }
}

static void every_cut_needs_more(void **state)
{
    (void)state;
    uint32_t seed = 2;
    for (int c = 0; c < CHECKS; c++) {
        for (unsigned length = 0; length <= CCTALK_DATA_MAX; length += length < 16 ? 1 : 59) {
            struct cctalk_frame frame = frame_make(&seed, length);
            uint8_t bytes[CCTALK_FRAME_MAX];
            uint32_t built = cctalk_frame_build(checks[c], &frame, bytes);
            for (uint32_t cut = 0; cut < built; cut++) {
                struct cctalk_frame found;
                uint32_t used;
                assert_int_equal(parse_exact(checks[c], bytes, cut, &found, &used), CCTALK_NEED_MORE);
            }
        }
    }
}

static void the_longest_frame_has_257_bytes(void **state)
{
    (void)state;
    for (int c = 0; c < CHECKS; c++) {
        struct cctalk_frame frame = {.destination = 255, .source = 255, .header = 255, .length = CCTALK_DATA_MAX};
        memset(frame.data, 0xFF, sizeof frame.data);
        uint8_t bytes[CCTALK_FRAME_MAX];
        assert_int_equal(cctalk_frame_build(checks[c], &frame, bytes), 257);
        struct cctalk_frame found;
        uint32_t used;
        assert_int_equal(parse_exact(checks[c], bytes, 256, &found, &used), CCTALK_NEED_MORE);
        assert_int_equal(parse_exact(checks[c], bytes, 257, &found, &used), CCTALK_FRAME);
        assert_int_equal(used, 257);
        assert_same_frame(checks[c], &found, &frame);
    }
}

static void too_long_is_not_built(void **state)
{
    (void)state;
    uint32_t seed = 3;
    for (int c = 0; c < CHECKS; c++) {
        for (unsigned length = CCTALK_DATA_MAX + 1; length <= 255; length++) {
            struct cctalk_frame frame = frame_make(&seed, length);
            uint8_t bytes[CCTALK_FRAME_MAX] = {7, 7, 7};
            assert_int_equal(cctalk_frame_build(checks[c], &frame, bytes), 0);
            assert_int_equal(bytes[0], 7);
            assert_int_equal(bytes[1], 7);
        }
    }
}

/* As soon as the length byte is there, without waiting for 258 bytes that never come. */
static void too_long_is_damaged_at_once(void **state)
{
    (void)state;
    for (int c = 0; c < CHECKS; c++) {
        for (unsigned length = CCTALK_DATA_MAX + 1; length <= 255; length++) {
            const uint8_t bytes[300] = {1, (uint8_t)length};
            struct cctalk_frame found;
            uint32_t used;
            assert_int_equal(parse_exact(checks[c], bytes, 1, &found, &used), CCTALK_NEED_MORE);
            assert_int_equal(parse_exact(checks[c], bytes, 2, &found, &used), CCTALK_DAMAGED);
            assert_int_equal(parse_exact(checks[c], bytes, sizeof bytes, &found, &used), CCTALK_DAMAGED);
        }
    }
}

/* A sum that comes out as 0 needs the check byte 0, not 256. */
static void a_check_byte_may_be_zero(void **state)
{
    (void)state;
    const struct cctalk_frame frame = {.destination = 40, .source = 1, .header = 215};
    uint8_t bytes[CCTALK_FRAME_MAX];
    assert_int_equal(cctalk_frame_build(CCTALK_CHECK_SUM, &frame, bytes), 5);
    assert_int_equal(bytes[4], 0);
    struct cctalk_frame found;
    uint32_t used;
    assert_int_equal(parse_exact(CCTALK_CHECK_SUM, bytes, 5, &found, &used), CCTALK_FRAME);
    /* Nothing but zeros is a frame too in both forms: the check cannot tell a dead line that reads as zeros. */
    const uint8_t zeros[5] = {0};
    assert_int_equal(parse_exact(CCTALK_CHECK_SUM, zeros, 5, &found, &used), CCTALK_FRAME);
    assert_int_equal(parse_exact(CCTALK_CHECK_CRC, zeros, 5, &found, &used), CCTALK_FRAME);
    assert_int_equal(found.destination, 0); /* and is not for the host, which is 1 */
}

static void the_crc_form_does_not_carry_the_source(void **state)
{
    (void)state;
    struct cctalk_frame frame = {.destination = 40, .source = 1, .header = 254};
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint8_t other[CCTALK_FRAME_MAX];
    uint32_t length = cctalk_frame_build(CCTALK_CHECK_CRC, &frame, bytes);
    frame.source = 77;
    assert_int_equal(cctalk_frame_build(CCTALK_CHECK_CRC, &frame, other), length);
    assert_memory_equal(bytes, other, length);
}

/* 16 bytes: the answer with buffered events, the frame that money depends on. */
static uint32_t events_make(enum cctalk_check check, uint8_t bytes[CCTALK_FRAME_MAX])
{
    const struct cctalk_frame frame = {
        .destination = 1, .source = 40, .header = 0, .length = 11, .data = {3, 0, 2, 2, 0, 2, 1, 0, 0, 0, 0}};
    return cctalk_frame_build(check, &frame, bytes);
}

static void bit_flip(uint8_t *bytes, unsigned bit)
{
    bytes[bit / 8] = (uint8_t)(bytes[bit / 8] ^ (1u << bit % 8));
}

static void no_single_flipped_bit_is_accepted(void **state)
{
    (void)state;
    for (int c = 0; c < CHECKS; c++) {
        for (unsigned bit = 0; bit < 16 * 8; bit++) {
            uint8_t bytes[CCTALK_FRAME_MAX];
            assert_int_equal(events_make(checks[c], bytes), 16);
            bit_flip(bytes, bit);
            struct cctalk_frame found;
            uint32_t used;
            enum cctalk_found result = parse_exact(checks[c], bytes, 16, &found, &used);
            /* A changed length byte may promise more; everything else is seen at once. */
            assert_int_not_equal(result, CCTALK_FRAME);
            if (bit / 8 != 1)
                assert_int_equal(result, CCTALK_DAMAGED);
        }
    }
}

/* The same over many frames, where a changed length byte may by chance give a shorter frame, but never this one. */
static void no_flipped_bit_gives_a_frame_of_the_same_length(void **state)
{
    (void)state;
    uint32_t seed = 4;
    for (int c = 0; c < CHECKS; c++) {
        for (int round = 0; round < 200; round++) {
            struct cctalk_frame frame = frame_make(&seed, random_next(&seed) % 24);
            uint8_t bytes[CCTALK_FRAME_MAX];
            uint32_t length = cctalk_frame_build(checks[c], &frame, bytes);
            for (unsigned bit = 0; bit < length * 8; bit++) {
                bit_flip(bytes, bit);
                struct cctalk_frame found;
                uint32_t used;
                enum cctalk_found result = parse_exact(checks[c], bytes, length, &found, &used);
                assert_false(result == CCTALK_FRAME && used == length);
                bit_flip(bytes, bit);
            }
        }
    }
}

/* x^16 + x^12 + x^5 + 1 sees any two flipped bits in frames this short; the two CRC bytes are apart, so it is tried. */
static void the_crc_sees_two_flipped_bits(void **state)
{
    (void)state;
    uint8_t bytes[CCTALK_FRAME_MAX];
    assert_int_equal(events_make(CCTALK_CHECK_CRC, bytes), 16);
    for (unsigned first = 0; first < 16 * 8; first++) {
        for (unsigned second = 0; second < first; second++) {
            bit_flip(bytes, first);
            bit_flip(bytes, second);
            struct cctalk_frame found;
            uint32_t used;
            enum cctalk_found result = parse_exact(CCTALK_CHECK_CRC, bytes, 16, &found, &used);
            assert_false(result == CCTALK_FRAME && used == 16);
            bit_flip(bytes, first);
            bit_flip(bytes, second);
        }
    }
}

/* A limit of the sum form that no parser can mend: it does not see two bytes that changed places. The CRC form does. */
static void only_the_crc_sees_swapped_bytes(void **state)
{
    (void)state;
    for (int c = 0; c < CHECKS; c++) {
        uint8_t bytes[CCTALK_FRAME_MAX];
        assert_int_equal(events_make(checks[c], bytes), 16);
        uint8_t kept = bytes[7];
        bytes[7] = bytes[8];
        bytes[8] = kept;
        struct cctalk_frame found;
        uint32_t used;
        assert_int_equal(parse_exact(checks[c], bytes, 16, &found, &used),
                         checks[c] == CCTALK_CHECK_SUM ? CCTALK_FRAME : CCTALK_DAMAGED);
    }
}

/* Each byte of the CRC by itself: a fitting low byte does not excuse the high one. */
static void both_crc_bytes_count(void **state)
{
    (void)state;
    static const uint8_t places[] = {2, 15};
    for (size_t i = 0; i < sizeof places; i++) {
        uint8_t bytes[CCTALK_FRAME_MAX];
        assert_int_equal(events_make(CCTALK_CHECK_CRC, bytes), 16);
        uint8_t right = bytes[places[i]];
        for (unsigned value = 0; value < 256; value++) {
            bytes[places[i]] = (uint8_t)value;
            struct cctalk_frame found;
            uint32_t used;
            assert_int_equal(parse_exact(CCTALK_CHECK_CRC, bytes, 16, &found, &used),
                             value == right ? CCTALK_FRAME : CCTALK_DAMAGED);
        }
    }
}

static void frames_in_a_row_are_found_one_by_one(void **state)
{
    (void)state;
    uint32_t seed = 5;
    for (int c = 0; c < CHECKS; c++) {
        uint8_t line[8 * CCTALK_FRAME_MAX];
        struct cctalk_frame frames[8];
        uint32_t length = 0;
        for (unsigned i = 0; i < 8; i++) {
            frames[i] = frame_make(&seed, i * 36);
            length += cctalk_frame_build(checks[c], &frames[i], line + length);
        }
        uint32_t place = 0;
        for (unsigned i = 0; i < 8; i++) {
            struct cctalk_frame found;
            uint32_t used;
            assert_int_equal(parse_exact(checks[c], line + place, length - place, &found, &used), CCTALK_FRAME);
            assert_same_frame(checks[c], &found, &frames[i]);
            place += used;
        }
        assert_int_equal(place, length);
    }
}

static void the_crc_may_be_taken_in_pieces(void **state)
{
    (void)state;
    uint32_t seed = 6;
    uint8_t bytes[64];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (uint8_t)random_next(&seed);
    uint16_t whole = cctalk_crc(0, bytes, sizeof bytes);
    for (uint32_t cut = 0; cut <= sizeof bytes; cut++)
        assert_int_equal(cctalk_crc(cctalk_crc(0, bytes, cut), bytes + cut, (uint32_t)sizeof bytes - cut), whole);
    assert_int_equal(cctalk_crc(0x1234, bytes, 0), 0x1234);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_length_comes_back),
        cmocka_unit_test(every_cut_needs_more),
        cmocka_unit_test(the_longest_frame_has_257_bytes),
        cmocka_unit_test(too_long_is_not_built),
        cmocka_unit_test(too_long_is_damaged_at_once),
        cmocka_unit_test(a_check_byte_may_be_zero),
        cmocka_unit_test(the_crc_form_does_not_carry_the_source),
        cmocka_unit_test(no_single_flipped_bit_is_accepted),
        cmocka_unit_test(no_flipped_bit_gives_a_frame_of_the_same_length),
        cmocka_unit_test(the_crc_sees_two_flipped_bits),
        cmocka_unit_test(only_the_crc_sees_swapped_bytes),
        cmocka_unit_test(both_crc_bytes_count),
        cmocka_unit_test(frames_in_a_row_are_found_one_by_one),
        cmocka_unit_test(the_crc_may_be_taken_in_pieces),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
