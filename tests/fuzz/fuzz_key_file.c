/*
 * Any bytes as a key file: refused with a reason that tells nothing of them, or keys that sign.
 */
#include "fuzz.h"

#include "ledger/key_file.h"

#include <sodium/crypto_sign.h>

static const struct key_ring *ring_read(const char *text, size_t length)
{
    static struct key_ring ring;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = key_ring_parse(text, length, &ring, &error);
    demand(result == CFOIL_OK || result == CFOIL_E_LEDGER_KEY);
    demand((result == CFOIL_OK) == (error.text[0] == '\0'));
    return result == CFOIL_OK ? &ring : NULL;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct key_ring *ring = ring_read((const char *)data, size);
    if (ring == NULL)
        return 0;
    demand(ring->count > 0 && ring->count <= KEY_PAIRS_MAX);
    for (uint32_t i = 0; i < ring->count; i++) {
        unsigned char own[crypto_sign_PUBLICKEYBYTES];
        unsigned char secret[crypto_sign_SECRETKEYBYTES];
        if (!ring->pairs[i].signs)
            continue;
        crypto_sign_seed_keypair(own, secret, ring->pairs[i].signing_seed);
        demand(memcmp(own, ring->pairs[i].signing_public, sizeof own) == 0);
    }
    return 0;
}
