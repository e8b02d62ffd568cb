/*
 * The bytes that are signed. See signed_place.h.
 */
#include "ledger/signed_place.h"

#include <string.h>

/* Each label sets its message apart from every other that the same key signs; the ending byte counts. */
static const char place_label[] = "counterfoil.checkpoint/1";
static const char change_label[] = "counterfoil.key/1";

_Static_assert(sizeof place_label + 8 + 8 + CHAIN_HASH_SIZE == SIGNED_PLACE_SIZE, "size of a signed place");
_Static_assert(sizeof change_label + 8 + 8 + CHAIN_HASH_SIZE + 4 * KEY_SIZE == SIGNED_CHANGE_SIZE,
               "size of a signed change");

static uint8_t *integer_put(uint8_t *at, uint64_t value)
{
    for (int i = 0; i < 8; i++)
        *at++ = (uint8_t)(value >> (56 - 8 * i));
    return at;
}

static uint8_t *bytes_put(uint8_t *at, const void *bytes, size_t length)
{
    memcpy(at, bytes, length);
    return at + length;
}

static uint8_t *place_put(uint8_t *at, const struct signed_place *place)
{
    at = integer_put(at, (uint64_t)place->number);
    at = integer_put(at, (uint64_t)place->time_utc_ms);
    return bytes_put(at, place->hash, sizeof place->hash);
}

void signed_place_bytes(const struct signed_place *place, uint8_t bytes[SIGNED_PLACE_SIZE])
{
    (void)place_put(bytes_put(bytes, place_label, sizeof place_label), place);
}

void signed_change_bytes(const struct signed_place *place, const uint8_t public_key[KEY_SIZE],
                         const uint8_t box_check[KEY_SIZE], const uint8_t *before, const char *by,
                         uint8_t bytes[SIGNED_CHANGE_SIZE])
{
    static const uint8_t none[KEY_SIZE];
    uint8_t *at = place_put(bytes_put(bytes, change_label, sizeof change_label), place);
    at = bytes_put(at, public_key, KEY_SIZE);
    at = bytes_put(at, box_check, KEY_SIZE);
    at = bytes_put(at, before != NULL ? before : none, KEY_SIZE);
    at = bytes_put(at, none, KEY_SIZE) -
         KEY_SIZE; /* `by` with zero bytes behind it: a staff code has at most 32 bytes */
    size_t length = by != NULL ? strlen(by) : 0;
    if (length > 0)
        (void)bytes_put(at, by, length < KEY_SIZE ? length : KEY_SIZE);
}
