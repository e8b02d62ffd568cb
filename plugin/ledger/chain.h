/*
 * The hash chain: which bytes of an entry are hashed, and how an entry hangs on the one before (docs/ledger.md).
 */
#ifndef LEDGER_CHAIN_H
#define LEDGER_CHAIN_H

#include <stddef.h>
#include <stdint.h>

#define CHAIN_HASH_SIZE 32

/* A text by its bytes, so that a zero byte put into the file by other hands is hashed too. */
struct chain_text {
    const char *bytes; /* NULL = no text, which is not the same as an empty one */
    size_t length;
};

struct chain_entry {
    int64_t number;
    int64_t time_utc_ms;
    int32_t disposition;
    struct chain_text kind;
    struct chain_text case_id;
    struct chain_text body;
};

struct chain_text chain_text_of(const char *text); /* NULL stays NULL */

void chain_hash(const uint8_t previous[CHAIN_HASH_SIZE], const struct chain_entry *entry,
                uint8_t hash[CHAIN_HASH_SIZE]);

#endif
