/*
 * The hash chain. See chain.h.
 */
#include "ledger/chain.h"

#include <sodium/crypto_hash_sha256.h>
#include <string.h>

/* Sets these bytes apart from everything else that may be hashed, and names their layout. The ending byte counts. */
static const char layout[] = "counterfoil.chain/1";

struct chain_text chain_text_of(const char *text)
{
    struct chain_text result = {text, text != NULL ? strlen(text) : 0};
    return result;
}

static void integer_hash(crypto_hash_sha256_state *state, uint64_t value)
{
    unsigned char bytes[8];
    for (int i = 0; i < 8; i++)
        bytes[i] = (unsigned char)(value >> (56 - 8 * i));
    crypto_hash_sha256_update(state, bytes, sizeof bytes);
}

/* The length goes before the bytes, so that no other split of the same bytes gives the same hash. */
static void text_hash(crypto_hash_sha256_state *state, struct chain_text text)
{
    unsigned char present = text.bytes != NULL;
    crypto_hash_sha256_update(state, &present, 1);
    if (text.bytes == NULL)
        return;
    integer_hash(state, text.length);
    crypto_hash_sha256_update(state, (const unsigned char *)text.bytes, text.length);
}

void chain_hash(const uint8_t previous[CHAIN_HASH_SIZE], const struct chain_entry *entry, uint8_t hash[CHAIN_HASH_SIZE])
{
    crypto_hash_sha256_state state;
    crypto_hash_sha256_init(&state);
    crypto_hash_sha256_update(&state, (const unsigned char *)layout, sizeof layout);
    crypto_hash_sha256_update(&state, previous, CHAIN_HASH_SIZE);
    integer_hash(&state, (uint64_t)entry->number);
    integer_hash(&state, (uint64_t)entry->time_utc_ms);
    integer_hash(&state, (uint64_t)(int64_t)entry->disposition);
    text_hash(&state, entry->kind);
    text_hash(&state, entry->case_id);
    text_hash(&state, entry->body);
    crypto_hash_sha256_final(&state, hash);
}
