/*
 * Checks over the bytes of a message. See check.h.
 *
 * The parameters of a CRC are those by which catalogues of such checks name them: width, polynomial with its highest term
 * left out, initial value, whether each byte and the result are taken bit 0 first, and what the result is XORed with.
 */
#include "check.h"

bool place_find(int32_t at, uint32_t length, uint32_t *index)
{
    int64_t place = at < 0 ? (int64_t)length + at : at;
    if (place < 0 || place >= (int64_t)length)
        return false;
    *index = (uint32_t)place;
    return true;
}

static uint32_t bits_reverse(uint32_t value, uint32_t width)
{
    uint32_t reversed = 0;
    for (uint32_t i = 0; i < width; i++) {
        reversed = reversed << 1 | (value & 1);
        value >>= 1;
    }
    return reversed;
}

static uint32_t width_mask(uint32_t width)
{
    return (uint32_t)((UINT64_C(1) << width) - 1);
}

void check_begin(const struct described_check *check, struct check_progress *progress)
{
    progress->value = check->kind == DESCRIBED_CHECK_CRC ? check->initial : 0;
}

static uint32_t crc_add(const struct described_check *check, uint32_t value, uint8_t byte)
{
    uint32_t top = 1u << (check->width - 1);
    uint32_t in = check->reflect_in ? bits_reverse(byte, 8) : byte;
    value ^= in << (check->width - 8); /* the loader lets no width below 8 pass */
    for (int bit = 0; bit < 8; bit++)
        value = (value & top) != 0 ? value << 1 ^ check->polynomial : value << 1;
    return value & width_mask(check->width);
}

void check_add(const struct described_check *check, struct check_progress *progress, uint8_t byte)
{
    if (check->kind == DESCRIBED_CHECK_CRC)
        progress->value = crc_add(check, progress->value, byte);
    else if (check->kind == DESCRIBED_CHECK_XOR)
        progress->value ^= byte;
    else
        progress->value += byte;
}

uint32_t check_end(const struct described_check *check, const struct check_progress *progress)
{
    uint32_t value = progress->value;
    if (check->kind == DESCRIBED_CHECK_CRC)
        value = (check->reflect_out ? bits_reverse(value, check->width) : value) ^ check->xor_out;
    if (check->complement == DESCRIBED_COMPLEMENT_ONES)
        value = ~value;
    else if (check->complement == DESCRIBED_COMPLEMENT_TWOS)
        value = ~value + 1;
    return value & width_mask(check->width);
}

static bool is_own(const uint32_t *own, uint32_t count, uint32_t index)
{
    for (uint32_t i = 0; i < count; i++) {
        if (own[i] == index)
            return true;
    }
    return false;
}

/* The value that belongs into the message, and the places it belongs to. */
static bool value_compute(const struct described_check *check, const uint8_t *bytes, uint32_t length, uint32_t own[4],
                          uint32_t *value)
{
    uint32_t from;
    uint32_t to;
    if (!place_find(check->from, length, &from) || !place_find(check->to, length, &to))
        return false;
    for (uint32_t i = 0; i < check->count; i++) {
        if (!place_find(check->at[i], length, &own[i]))
            return false;
    }
    struct check_progress progress;
    check_begin(check, &progress);
    for (uint32_t i = from; i <= to; i++) {
        if (!is_own(own, check->count, i))
            check_add(check, &progress, bytes[i]);
    }
    *value = check_end(check, &progress);
    return true;
}

bool check_put(const struct described_check *check, uint8_t *bytes, uint32_t length)
{
    uint32_t own[4];
    uint32_t value;
    if (check->kind == DESCRIBED_CHECK_NONE)
        return true;
    if (!value_compute(check, bytes, length, own, &value))
        return false;
    for (uint32_t i = 0; i < check->count; i++)
        bytes[own[i]] = (uint8_t)(value >> (8 * i));
    return true;
}

bool check_fits(const struct described_check *check, const uint8_t *bytes, uint32_t length)
{
    uint32_t own[4];
    uint32_t value;
    if (check->kind == DESCRIBED_CHECK_NONE)
        return true;
    if (!value_compute(check, bytes, length, own, &value))
        return false;
    for (uint32_t i = 0; i < check->count; i++) {
        if (bytes[own[i]] != (uint8_t)(value >> (8 * i)))
            return false;
    }
    return true;
}
