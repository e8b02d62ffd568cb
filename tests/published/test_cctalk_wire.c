/*
 * Do our ccTalk frames equal, byte for byte, the sequences printed in technical manuals and those that follow from the
 * stated rules? Every sequence is built and parsed; the source stands beside each.
 */
#include "cctalk/wire.h"

#include "test.h"

#include <stdlib.h>

/* Manuals of ccTalk devices and a general article; makers are not named. Page or section stands with each row. */
#define ARTICLE       "general encyclopaedia article on ccTalk, example packet"
#define MANUAL(where) "protocol manual of a coin validator, 12-2005, " where
#define CHAPTER(what) "technical manuals of a coin selector, v1.1 and later, chapter 6, " what
#define COMPUTED                                                                                                       \
    "computed from the stated rule (all bytes add up to 0 modulo 256); device address 40 and the meaning of the "      \
    "headers are from memory of the Generic Specification"
#define COMPUTED_CRC                                                                                                   \
    "computed from the stated rule (CRC of destination, length, header, data; low byte in the source's place); byte "  \
    "order from memory of the Generic Specification"
#define REMEMBERED_CRC COMPUTED_CRC "; the value also agrees with an example of that specification, from memory"

/* Bytes and data are in decimal, as in the manuals. */
struct example {
    const char *bytes;
    uint8_t destination;
    uint8_t source;
    uint8_t header;
    const char *data;
    const char *published_by;
};

static const struct example published_sums[] = {
    /* request equipment category */
    {"2 0 1 245 8", 2, 1, 245, "", ARTICLE},
    /* reply "Coin Acceptor" */
    {"1 13 2 0 67 111 105 110 32 65 99 99 101 112 116 111 114 22", 1, 2, 0,
     "67 111 105 110 32 65 99 99 101 112 116 111 114", ARTICLE},
    /* ACK from device 2 */
    {"1 0 2 0 253", 1, 2, 0, "", MANUAL("p. 12")},
    /* address poll, sent to all */
    {"0 0 1 253 2", 0, 1, 253, "", MANUAL("p. 20") "; " CHAPTER("section 6.5.3.1")},
    /* address random, and its ACK */
    {"3 0 1 250 2", 3, 1, 250, "", MANUAL("p. 24")},
    {"1 0 3 0 252", 1, 3, 0, "", MANUAL("p. 24")},
    /* self-check: fault 2 with extra byte 3; then no fault */
    {"2 0 1 232 21", 2, 1, 232, "", MANUAL("p. 35")},
    {"1 2 2 0 2 3 246", 1, 2, 0, "2 3", MANUAL("p. 35")},
    {"1 1 2 0 0 252", 1, 2, 0, "0", MANUAL("p. 35")},
    /* buffered events of a coin device: counter 6, then five pairs */
    {"2 0 1 229 24", 2, 1, 229, "", MANUAL("p. 40")},
    {"1 11 2 0 6 6 4 0 20 0 23 6 4 13 2 158", 1, 2, 0, "6 6 4 0 20 0 23 6 4 13 2", MANUAL("p. 40")},
    /* enable all 16 types */
    {"2 2 1 231 255 255 22", 2, 1, 231, "255 255", CHAPTER("p. 41")},
    {"1 0 2 0 253", 1, 2, 0, "", CHAPTER("p. 41")},
    /* reset device */
    {"2 0 1 1 252", 2, 1, 1, "", CHAPTER("p. 35")},
    {"1 0 2 0 253", 1, 2, 0, "", CHAPTER("p. 35")},
    /* inhibit status: types 1 to 6 on */
    {"1 2 2 0 63 0 188", 1, 2, 0, "63 0", CHAPTER("p. 41")},
};

static const struct example computed_sums[] = {
    /* simple poll, ACK, NAK, BUSY */
    {"40 0 1 254 217", 40, 1, 254, "", COMPUTED},
    {"1 0 40 0 215", 1, 40, 0, "", COMPUTED},
    {"1 0 40 5 210", 1, 40, 5, "", COMPUTED},
    {"1 0 40 6 209", 1, 40, 6, "", COMPUTED},
    /* category "Bill Validator" */
    {"40 0 1 245 226", 40, 1, 245, "", COMPUTED},
    {"1 14 40 0 66 105 108 108 32 86 97 108 105 100 97 116 111 114 128", 1, 40, 0,
     "66 105 108 108 32 86 97 108 105 100 97 116 111 114", COMPUTED},
    /* serial number 0x123456 */
    {"40 0 1 242 229", 40, 1, 242, "", COMPUTED},
    {"1 3 40 0 86 52 18 56", 1, 40, 0, "86 52 18", COMPUTED},
    /* comms revision 1.4.7 */
    {"40 0 1 4 211", 40, 1, 4, "", COMPUTED},
    {"1 3 40 0 1 4 7 200", 1, 40, 0, "1 4 7", COMPUTED},
    /* polling priority 200 ms */
    {"40 0 1 249 222", 40, 1, 249, "", COMPUTED},
    {"1 2 40 0 2 20 191", 1, 40, 0, "2 20", COMPUTED},
    /* self-check: no fault; stacker fault 38 */
    {"40 0 1 232 239", 40, 1, 232, "", COMPUTED},
    {"1 1 40 0 0 214", 1, 40, 0, "0", COMPUTED},
    {"1 1 40 0 38 176", 1, 40, 0, "38", COMPUTED},
    /* bill id of type 1 = "GB0005A" */
    {"40 1 1 157 1 56", 40, 1, 157, "1", COMPUTED},
    {"1 7 40 0 71 66 48 48 48 53 65 65", 1, 40, 0, "71 66 48 48 48 53 65", COMPUTED},
    /* scaling of GB = 100, 2 */
    {"40 2 1 156 71 66 176", 40, 1, 156, "71 66", COMPUTED},
    {"1 3 40 0 100 0 2 110", 1, 40, 0, "100 0 2", COMPUTED},
    /* positions of GB = types 1 to 4 */
    {"40 2 1 155 71 66 177", 40, 1, 155, "71 66", COMPUTED},
    {"1 2 40 0 15 0 198", 1, 40, 0, "15 0", COMPUTED},
    /* operating mode: stacker and escrow; read back */
    {"40 1 1 153 3 58", 40, 1, 153, "3", COMPUTED},
    {"40 0 1 152 63", 40, 1, 152, "", COMPUTED},
    {"1 1 40 0 3 211", 1, 40, 0, "3", COMPUTED},
    /* enable all types; read back */
    {"40 2 1 231 255 255 240", 40, 1, 231, "255 255", COMPUTED},
    {"40 0 1 230 241", 40, 1, 230, "", COMPUTED},
    {"1 2 40 0 255 255 215", 1, 40, 0, "255 255", COMPUTED},
    /* accept; stop */
    {"40 1 1 228 1 241", 40, 1, 228, "1", COMPUTED},
    {"40 1 1 228 0 242", 40, 1, 228, "0", COMPUTED},
    /* buffered events: just reset; type 2 in escrow; stack it; credited; failed validation; wrap of the counter */
    {"40 0 1 159 56", 40, 1, 159, "", COMPUTED},
    {"1 11 40 0 0 0 0 0 0 0 0 0 0 0 0 204", 1, 40, 0, "0 0 0 0 0 0 0 0 0 0 0", COMPUTED},
    {"1 11 40 0 1 2 1 0 0 0 0 0 0 0 0 200", 1, 40, 0, "1 2 1 0 0 0 0 0 0 0 0", COMPUTED},
    {"40 1 1 154 1 59", 40, 1, 154, "1", COMPUTED},
    {"1 11 40 0 2 2 0 2 1 0 0 0 0 0 0 197", 1, 40, 0, "2 2 0 2 1 0 0 0 0 0 0", COMPUTED},
    {"1 11 40 0 3 0 2 2 0 2 1 0 0 0 0 194", 1, 40, 0, "3 0 2 2 0 2 1 0 0 0 0", COMPUTED},
    {"1 11 40 0 1 3 0 3 1 0 2 2 0 2 1 189", 1, 40, 0, "1 3 0 3 1 0 2 2 0 2 1", COMPUTED},
    /* return the bill; hold it longer */
    {"40 1 1 154 0 60", 40, 1, 154, "0", COMPUTED},
    {"40 1 1 154 255 61", 40, 1, 154, "255", COMPUTED},
    /* answers to route: escrow empty; failed */
    {"1 1 40 0 254 216", 1, 40, 0, "254", COMPUTED},
    {"1 1 40 0 255 215", 1, 40, 0, "255", COMPUTED},
    /* reset */
    {"40 0 1 1 214", 40, 1, 1, "", COMPUTED},
};

/* The source is not carried: a parsed frame says 0. */
static const struct example crcs[] = {
    /* reset device; ACK to the host */
    {"40 0 70 1 63", 40, 0, 1, "", REMEMBERED_CRC},
    {"1 0 48 0 55", 1, 0, 0, "", REMEMBERED_CRC},
    /* simple poll; read events; accept; stack; events with counter 2, pairs 2,0 and 2,1 */
    {"40 0 182 254 33", 40, 0, 254, "", COMPUTED_CRC},
    {"40 0 49 159 93", 40, 0, 159, "", COMPUTED_CRC},
    {"40 1 234 228 1 73", 40, 0, 228, "1", COMPUTED_CRC},
    {"40 1 188 154 1 98", 40, 0, 154, "1", COMPUTED_CRC},
    {"1 11 96 0 2 2 0 2 1 0 0 0 0 0 0 246", 1, 0, 0, "2 2 0 2 1 0 0 0 0 0 0", COMPUTED_CRC},
};

static const struct {
    enum cctalk_check check;
    const struct example *rows;
    size_t count;
} tables[] = {
    {CCTALK_CHECK_SUM, published_sums, sizeof published_sums / sizeof published_sums[0]},
    {CCTALK_CHECK_SUM, computed_sums, sizeof computed_sums / sizeof computed_sums[0]},
    {CCTALK_CHECK_CRC, crcs, sizeof crcs / sizeof crcs[0]},
};

typedef void example_check(enum cctalk_check check, const struct example *example);

static void each_example(example_check *run)
{
    for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++) {
        for (size_t row = 0; row < tables[t].count; row++)
            run(tables[t].check, &tables[t].rows[row]);
    }
}

/* "40 0 1" -> 40, 0, 1; returns how many. */
static uint32_t numbers_read(const char *text, uint8_t bytes[CCTALK_FRAME_MAX])
{
    uint32_t count = 0;
    char *rest = NULL;
    for (unsigned long number = strtoul(text, &rest, 10); rest != text; number = strtoul(text, &rest, 10)) {
        assert_in_range(number, 0, 255);
        assert_true(count < CCTALK_FRAME_MAX);
        bytes[count++] = (uint8_t)number;
        text = rest;
    }
    assert_int_equal(*text, '\0');
    return count;
}

static void example_builds(enum cctalk_check check, const struct example *example)
{
    uint8_t expected[CCTALK_FRAME_MAX];
    uint32_t expected_length = numbers_read(example->bytes, expected);
    struct cctalk_frame frame = {
        .destination = example->destination, .source = example->source, .header = example->header};
    uint8_t bytes[CCTALK_FRAME_MAX];
    frame.length = (uint8_t)numbers_read(example->data, bytes);
    memcpy(frame.data, bytes, frame.length);
    uint32_t length = cctalk_frame_build(check, &frame, bytes);
    if (length != expected_length || memcmp(bytes, expected, length) != 0)
        fail_msg("built otherwise than %s (%s)", example->bytes, example->published_by);
}

static void example_parses(enum cctalk_check check, const struct example *example)
{
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint8_t data[CCTALK_FRAME_MAX];
    uint32_t length = numbers_read(example->bytes, bytes);
    uint32_t data_length = numbers_read(example->data, data);
    struct cctalk_frame frame;
    uint32_t used = 0;
    if (cctalk_frame_parse(check, bytes, length, &frame, &used) != CCTALK_FRAME)
        fail_msg("not taken for a frame: %s (%s)", example->bytes, example->published_by);
    assert_int_equal(used, length);
    assert_int_equal(frame.destination, example->destination);
    assert_int_equal(frame.source, example->source);
    assert_int_equal(frame.header, example->header);
    assert_int_equal(frame.length, data_length);
    assert_memory_equal(frame.data, data, data_length);
}

/* Source: the receiver waits for the bytes that the length byte promises; protocol manual of a coin validator, 12-2005,
 * p. 12 (a partial message is kept until 50 ms of silence). */
static void example_cut_needs_more(enum cctalk_check check, const struct example *example)
{
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint32_t length = numbers_read(example->bytes, bytes);
    for (uint32_t cut = 0; cut < length; cut++) {
        struct cctalk_frame frame;
        uint32_t used = 99;
        assert_int_equal(cctalk_frame_parse(check, bytes, cut, &frame, &used), CCTALK_NEED_MORE);
        assert_int_equal(used, 0);
    }
}

/* A device uses one form or the other; none of these sequences may pass for the other form. */
static void example_is_damaged_in_the_other_form(enum cctalk_check check, const struct example *example)
{
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint32_t length = numbers_read(example->bytes, bytes);
    enum cctalk_check other = check == CCTALK_CHECK_SUM ? CCTALK_CHECK_CRC : CCTALK_CHECK_SUM;
    struct cctalk_frame frame;
    uint32_t used = 99;
    assert_int_equal(cctalk_frame_parse(other, bytes, length, &frame, &used), CCTALK_DAMAGED);
    assert_int_equal(used, 0);
}

static void examples_are_built_byte_for_byte(void **state)
{
    (void)state;
    each_example(example_builds);
}

static void examples_are_parsed(void **state)
{
    (void)state;
    each_example(example_parses);
}

static void every_cut_of_an_example_needs_more(void **state)
{
    (void)state;
    each_example(example_cut_needs_more);
}

static void no_example_passes_for_the_other_form(void **state)
{
    (void)state;
    each_example(example_is_damaged_in_the_other_form);
}

/* Source: protocol manual of a coin validator, 12-2005, p. 32, which prints this reply with a wrong checksum: the sum is
 * 9, and 240 would be right (computed from the stated rule). */
static void a_misprinted_reply_is_damaged(void **state)
{
    (void)state;
    uint8_t bytes[CCTALK_FRAME_MAX];
    uint32_t length = numbers_read("1 1 2 0 12 249", bytes);
    struct cctalk_frame frame;
    uint32_t used = 99;
    assert_int_equal(cctalk_frame_parse(CCTALK_CHECK_SUM, bytes, length, &frame, &used), CCTALK_DAMAGED);
    assert_int_equal(used, 0);
    bytes[5] = 240;
    assert_int_equal(cctalk_frame_parse(CCTALK_CHECK_SUM, bytes, length, &frame, &used), CCTALK_FRAME);
    assert_int_equal(used, 6);
}

/* Source: protocol manual of a coin validator, 12-2005, p. 20, and technical manual of a coin selector, section
 * 6.5.3.1: the answer to an address poll is the bare address byte, which is no frame. */
static void a_bare_address_is_not_a_frame(void **state)
{
    (void)state;
    static const uint8_t addresses[] = {2, 250};
    for (size_t i = 0; i < sizeof addresses; i++) {
        struct cctalk_frame frame;
        uint32_t used = 99;
        assert_int_equal(cctalk_frame_parse(CCTALK_CHECK_SUM, &addresses[i], 1, &frame, &used), CCTALK_NEED_MORE);
        assert_int_equal(used, 0);
    }
}

/* Source: hopper manual of the maker of the coin selector, section 1.4 (252 bytes of data at most); that 253 to 255 are
 * not allowed is also in a second published text. */
static void data_is_at_most_252_bytes(void **state)
{
    (void)state;
    assert_int_equal(CCTALK_DATA_MAX, 252);
    assert_int_equal(CCTALK_FRAME_MIN, 5);
    assert_int_equal(CCTALK_FRAME_MAX, 257);
    for (unsigned length = 253; length <= 255; length++) {
        struct cctalk_frame frame = {.destination = 40, .source = 1, .header = 254, .length = (uint8_t)length};
        uint8_t bytes[300] = {40, (uint8_t)length, 1, 254};
        uint32_t used = 99;
        assert_int_equal(cctalk_frame_build(CCTALK_CHECK_SUM, &frame, bytes), 0);
        assert_int_equal(cctalk_frame_parse(CCTALK_CHECK_SUM, bytes, sizeof bytes, &frame, &used), CCTALK_DAMAGED);
    }
}

/* The same CRC written in another way, straight from its definition: a 16-bit register into which the message is
 * shifted bit by bit, highest bit first, followed by 16 zero bits; where a one leaves the register, the polynomial
 * x^16 + x^12 + x^5 + 1 is taken off. Initial value 0, nothing reflected, nothing inverted.
 * Source: technical manual of a coin selector, chapter 6 (polynomial and initial value). */
static uint16_t shift_register_crc(const uint8_t *bytes, size_t length)
{
    uint32_t shifted = 0;
    for (size_t bit = 0; bit < 8 * length + 16; bit++) {
        uint32_t next = bit < 8 * length ? (uint32_t)bytes[bit / 8] >> (7 - bit % 8) & 1u : 0u;
        shifted = shifted << 1 | next;
        if ((shifted & 0x10000u) != 0)
            shifted ^= 1u << 16 | 1u << 12 | 1u << 5 | 1u;
    }
    return (uint16_t)shifted;
}

/* Source: check value of "123456789" for the family often called CRC-16/XMODEM; from memory. */
static void crc_has_the_check_value(void **state)
{
    (void)state;
    static const uint8_t digits[] = "123456789";
    assert_int_equal(cctalk_crc(0, digits, 9), 0x31C3);
    assert_int_equal(shift_register_crc(digits, 9), 0x31C3);
}

/* Source: computed from the stated rule; the first two also from memory of the Generic Specification. */
static void crc_of_the_examples(void **state)
{
    (void)state;
    static const struct {
        uint16_t crc;
        const char *covered;
    } rows[] = {
        {0x3F46, "40 0 1"},
        {0x3730, "1 0 0"},
        {0x21B6, "40 0 254"},
        {0x5D31, "40 0 159"},
        {0x49EA, "40 1 228 1"},
        {0x62BC, "40 1 154 1"},
        {0xF660, "1 11 0 2 2 0 2 1 0 0 0 0 0 0"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t bytes[CCTALK_FRAME_MAX];
        uint32_t length = numbers_read(rows[i].covered, bytes);
        assert_int_equal(cctalk_crc(0, bytes, length), rows[i].crc);
        assert_int_equal(shift_register_crc(bytes, length), rows[i].crc);
    }
}

/* A fixed sequence of numbers that look random, the same in every run. */
static uint32_t random_next(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

static void crc_agrees_with_the_shift_register(void **state)
{
    (void)state;
    uint32_t seed = 20240607;
    uint8_t bytes[300];
    for (int round = 0; round < 4000; round++) {
        uint32_t length = random_next(&seed) % (sizeof bytes + 1);
        for (uint32_t i = 0; i < length; i++)
            bytes[i] = (uint8_t)random_next(&seed);
        assert_int_equal(cctalk_crc(0, bytes, length), shift_register_crc(bytes, length));
    }
    for (unsigned value = 0; value < 0x10000; value++) {
        uint8_t pair[2] = {(uint8_t)(value >> 8), (uint8_t)value};
        assert_int_equal(cctalk_crc(0, pair, 2), shift_register_crc(pair, 2));
    }
}

/* The texts and numbers inside some examples. Sources as in the tables above. */
static void example_data_reads_as_said(void **state)
{
    (void)state;
    static const struct {
        const char *data;
        const char *text;
    } texts[] = {
        {"67 111 105 110 32 65 99 99 101 112 116 111 114", "Coin Acceptor"},
        {"66 105 108 108 32 86 97 108 105 100 97 116 111 114", "Bill Validator"},
        {"71 66 48 48 48 53 65", "GB0005A"},
        {"86 52 18", "\x56\x34\x12"}, /* 0x123456, low byte first */
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        uint8_t bytes[CCTALK_FRAME_MAX];
        assert_int_equal(numbers_read(texts[i].data, bytes), strlen(texts[i].text));
        assert_memory_equal(bytes, texts[i].text, strlen(texts[i].text));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(examples_are_built_byte_for_byte),
        cmocka_unit_test(examples_are_parsed),
        cmocka_unit_test(every_cut_of_an_example_needs_more),
        cmocka_unit_test(no_example_passes_for_the_other_form),
        cmocka_unit_test(a_misprinted_reply_is_damaged),
        cmocka_unit_test(a_bare_address_is_not_a_frame),
        cmocka_unit_test(data_is_at_most_252_bytes),
        cmocka_unit_test(crc_has_the_check_value),
        cmocka_unit_test(crc_of_the_examples),
        cmocka_unit_test(crc_agrees_with_the_shift_register),
        cmocka_unit_test(example_data_reads_as_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
