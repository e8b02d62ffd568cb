/*
 * Signed checkpoints: at which moment did the store's key vouch for the chain as far as it went?
 */
#ifndef LEDGER_CHECKPOINT_H
#define LEDGER_CHECKPOINT_H

#include "ledger/append.h"
#include "ledger/signed_place.h"

#define CHECKPOINT_ENTRIES_DEFAULT 500 /* our own choice, no source: some at a busy till each day */

/* Adds a checkpoint over the newest entry, and the store's key when there is none yet. `receipt` may be NULL. As
 * key_ring_open(). */
int32_t checkpoint_write(struct ledger *ledger, struct signed_receipt *receipt, cfoil_error_info *error);

/* Inside a transaction that has added entries: adds a checkpoint when it is due. Trouble with the key is no reason to
 * lose entries: then nothing is added, and it stays due. */
int32_t checkpoint_due_write(struct ledger *ledger, cfoil_error_info *error);

/* Before the ledger is closed: vouches for what this handle added, if the store has a key. */
void checkpoint_last_write(struct ledger *ledger);

/* ---- Checking ---- */

/* What was seen of keys and checkpoints up to an entry. */
struct checkpoint_state {
    bool has_key;
    uint8_t key[KEY_SIZE];  /* the public key that signs now */
    int64_t until;          /* the last entry that a signature vouches for, 0 = none */
    int64_t checkpoints;    /* good ones */
    const uint8_t *trusted; /* a public key that the caller knows, NULL = none */
    bool trusted_seen;
};

/* The body of a checkpoint, to be freed with cJSON_free(). NULL = no memory. */
char *checkpoint_body_make(const struct signed_place *place, const uint8_t key[KEY_SIZE], const uint8_t *signature);

/* Looks at one entry whose hash is right; `place` is the entry before it, with this one's time. *fault is a static text of
 * what is wrong, NULL = nothing. CFOIL_OK or CFOIL_E_MEMORY. */
int32_t checkpoint_entry_check(struct checkpoint_state *state, const char *kind, const char *body,
                               const struct signed_place *place, const char **fault);

#endif
