/*
 * Which bytes are signed: a place in the chain, and a change of keys (docs/ledger.md, "Checkpoints").
 */
#ifndef LEDGER_SIGNED_PLACE_H
#define LEDGER_SIGNED_PLACE_H

#include "ledger/chain.h"
#include "ledger/key_file.h"

/* What a signature vouches for: the newest entry, and when. */
struct signed_place {
    int64_t number;
    int64_t time_utc_ms;
    uint8_t hash[CHAIN_HASH_SIZE];
};

#define SIGNED_PLACE_SIZE  (25u + 8u + 8u + 32u)
#define SIGNED_CHANGE_SIZE (18u + 8u + 8u + 32u + 4u * 32u)

void signed_place_bytes(const struct signed_place *place, uint8_t bytes[SIGNED_PLACE_SIZE]);

/* `before` is the public key that is replaced, NULL = this is the first one; `by` who does it, NULL = nobody was named. */
void signed_change_bytes(const struct signed_place *place, const uint8_t public_key[KEY_SIZE],
                         const uint8_t box_check[KEY_SIZE], const uint8_t *before, const char *by,
                         uint8_t bytes[SIGNED_CHANGE_SIZE]);

#endif
