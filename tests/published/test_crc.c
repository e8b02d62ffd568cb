/*
 * CRC results against published check values, and against an independent implementation that divides bit by bit.
 *
 * Check values: the result of each algorithm over the nine ASCII digits "123456789", as the widely used catalogues of
 * parametrised CRC algorithms list it together with its parameters. Names, parameters and values here are from memory of
 * such a catalogue; CRC-32/ISO-HDLC is also that of RFC 1952 section 8 and ISO 3309, CRC-24/OPENPGP that of RFC 4880
 * section 6.1 (parameters).
 */
#include "described/check.h"
#include "test.h"

#include <stdio.h>

struct row {
    const char *name;
    struct described_check check;
    uint32_t result;
};

#define CRC(bits, polynomial_, initial_, in, out, xor_)                                                                \
    {                                                                                                                  \
        .kind = DESCRIBED_CHECK_CRC, .width = (bits), .polynomial = (polynomial_), .initial = (initial_),              \
        .reflect_in = (in), .reflect_out = (out), .xor_out = (xor_)                                                    \
    }

static const struct row rows[] = {
    {"CRC-8/SMBUS", CRC(8, 0x07, 0x00, false, false, 0x00), 0xF4},
    {"CRC-16/ARC", CRC(16, 0x8005, 0x0000, true, true, 0x0000), 0xBB3D},
    {"CRC-16/XMODEM", CRC(16, 0x1021, 0x0000, false, false, 0x0000), 0x31C3},
    {"CRC-16/IBM-3740", CRC(16, 0x1021, 0xFFFF, false, false, 0x0000), 0x29B1},
    {"CRC-16/KERMIT", CRC(16, 0x1021, 0x0000, true, true, 0x0000), 0x2189},
    {"CRC-16/MODBUS", CRC(16, 0x8005, 0xFFFF, true, true, 0x0000), 0x4B37},
    {"CRC-16/IBM-SDLC", CRC(16, 0x1021, 0xFFFF, true, true, 0xFFFF), 0x906E},
    {"CRC-24/OPENPGP", CRC(24, 0x864CFB, 0xB704CE, false, false, 0x000000), 0x21CF02},
    {"CRC-32/ISO-HDLC", CRC(32, 0x04C11DB7, 0xFFFFFFFF, true, true, 0xFFFFFFFF), 0xCBF43926},
    {"CRC-32/BZIP2", CRC(32, 0x04C11DB7, 0xFFFFFFFF, false, false, 0xFFFFFFFF), 0xFC891918},
};

static uint32_t compute(const struct described_check *check, const uint8_t *bytes, uint32_t length)
{
    struct check_progress progress;
    check_begin(check, &progress);
    for (uint32_t i = 0; i < length; i++)
        check_add(check, &progress, bytes[i]);
    return check_end(check, &progress);
}

static void published_check_values_come_out(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint32_t result = compute(&rows[i].check, (const uint8_t *)"123456789", 9);
        if (result != rows[i].result)
            print_error("%s: %X instead of %X\n", rows[i].name, (unsigned)result, (unsigned)rows[i].result);
        assert_int_equal(result, rows[i].result);
    }
}

/* ---- The same by long division of polynomials, one bit of the message at a time ---- */

static uint32_t message_bit(const struct described_check *check, const uint8_t *bytes, uint32_t index)
{
    uint32_t place = index % 8;
    return (uint32_t)bytes[index / 8] >> (check->reflect_in ? place : 7 - place) & 1;
}

/* The initial value is what was divided before the message began. */
static uint32_t divide(const struct described_check *check, const uint8_t *bytes, uint32_t length)
{
    uint64_t top = UINT64_C(1) << check->width;
    uint64_t divisor = top | check->polynomial;
    uint64_t rest = 0;
    for (uint32_t i = 0; i < 8 * length + check->width; i++) {
        uint32_t bit = i < 8 * length ? message_bit(check, bytes, i) : 0;
        if (i < check->width)
            bit ^= check->initial >> (check->width - 1 - i) & 1;
        rest = rest << 1 | bit;
        if ((rest & top) != 0)
            rest ^= divisor;
    }
    uint32_t result = 0;
    for (uint32_t i = 0; i < check->width; i++) {
        uint32_t bit = (uint32_t)(rest >> (check->reflect_out ? i : check->width - 1 - i)) & 1;
        result = result << 1 | bit;
    }
    return result ^ check->xor_out;
}

static uint32_t seed = 1;

static uint32_t random_next(void)
{
    seed = seed * 1664525u + 1013904223u;
    return seed >> 8;
}

static void any_parameters_agree_with_long_division(void **state)
{
    (void)state;
    uint8_t bytes[64];
    for (int round = 0; round < 20000; round++) {
        uint32_t width = 8 + random_next() % 25;
        uint32_t mask = UINT32_MAX >> (32 - width);
        struct described_check check = CRC(width, (random_next() << 12 ^ random_next()) & mask, random_next() & mask,
                                           random_next() % 2 == 0, random_next() % 2 == 0, random_next() & mask);
        check.polynomial |= 1;
        uint32_t length = (width + 7) / 8 + random_next() % 32; /* the division puts the initial value over them */
        for (uint32_t i = 0; i < length; i++)
            bytes[i] = (uint8_t)random_next();
        assert_int_equal(compute(&check, bytes, length), divide(&check, bytes, length));
    }
}

/* RFC 1952 section 8 prints this very computation for its CRC; here with a table made as it says. */
static void crc_32_agrees_with_the_table_of_rfc_1952(void **state)
{
    (void)state;
    static uint32_t table[256];
    for (uint32_t n = 0; n < 256; n++) {
        uint32_t c = n;
        for (int k = 0; k < 8; k++)
            c = (c & 1) != 0 ? UINT32_C(0xEDB88320) ^ c >> 1 : c >> 1;
        table[n] = c;
    }
    const struct described_check check = CRC(32, 0x04C11DB7, 0xFFFFFFFF, true, true, 0xFFFFFFFF);
    uint8_t bytes[300];
    uint32_t c = UINT32_MAX;
    for (uint32_t i = 0; i < sizeof bytes; i++) {
        bytes[i] = (uint8_t)random_next();
        c = table[(c ^ bytes[i]) & 0xFF] ^ c >> 8;
    }
    assert_int_equal(compute(&check, bytes, sizeof bytes), c ^ UINT32_MAX);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_check_values_come_out),
        cmocka_unit_test(any_parameters_agree_with_long_division),
        cmocka_unit_test(crc_32_agrees_with_the_table_of_rfc_1952),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
