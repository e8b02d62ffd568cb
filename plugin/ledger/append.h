/*
 * Appending entries inside a transaction: for a new ledger's first entry, and for work that reads before it appends.
 */
#ifndef LEDGER_APPEND_H
#define LEDGER_APPEND_H

#include "ledger/chain.h"
#include "ledger/ledger.h"

/* Adds entry 1, which hangs on 32 zero bytes. */
int32_t append_first(struct ledger *ledger, const struct ledger_item *item, cfoil_error_info *error);

/* Runs `work` inside one durable transaction that holds the write lock from its beginning: what it reads stays true until
 * it has appended. CFOIL_OK commits, anything else leaves nothing done. `work` must not use the locking calls of
 * ledger.h. A ledger that is open for reading answers CFOIL_E_LEDGER_READ_ONLY. */
typedef int32_t (*ledger_work)(struct ledger *ledger, void *user, cfoil_error_info *error);
int32_t ledger_transact(struct ledger *ledger, ledger_work work, void *user, cfoil_error_info *error);

/* Adds one entry inside such work. `receipt` may be NULL. */
int32_t append_inside(struct ledger *ledger, const struct ledger_item *item, struct ledger_receipt *receipt,
                      cfoil_error_info *error);

/* Adds several. When one is refused, *added tells how many were added before it, and the work must fail. */
int32_t append_all_inside(struct ledger *ledger, const struct ledger_item *items, uint32_t count, uint32_t *added,
                          cfoil_error_info *error);

/* What was signed, for the caller: the newest entry, inside the work that has added it. NULL is harmless. */
struct signed_receipt {
    struct ledger_receipt entry;
    int64_t time_utc_ms;
};
int32_t append_newest_read(struct ledger *ledger, struct signed_receipt *receipt, cfoil_error_info *error);

/* Where the chain ends, inside such work or with the ledger's lock held. */
int32_t append_head_read(struct ledger *ledger, int64_t *number, uint8_t hash[CHAIN_HASH_SIZE],
                         cfoil_error_info *error);

#endif
