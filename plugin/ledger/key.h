/*
 * The keys of a store: signing where the chain stands, and sealing what others must not read (docs/ledger.md, "Keys").
 *
 * The secret parts are in the file NAME.key beside the ledger, the public parts in the chain (entries of kind `key`). The
 * first call that needs a key makes both; a lost key file is never replaced by itself.
 */
#ifndef LEDGER_KEY_H
#define LEDGER_KEY_H

#include "ledger/access.h"
#include "ledger/append.h"
#include "ledger/key_file.h"
#include "ledger/signed_place.h"

#define KEY_SIGNATURE_SIZE 64u /* Ed25519 (RFC 8032, section 5.1.6) */
#define KEY_NONCE_SIZE     24u /* XChaCha20-Poly1305 */
#define KEY_SEALED_EXTRA   24u /* the key's id (8) and the tag (16) go with what was sealed */

/* All calls but key_change() are for work inside ledger_transact() or with the ledger's lock held. Answers besides those
 * of the store: CFOIL_E_LEDGER_KEY_MISSING (the ledger knows a key and the file is not there), CFOIL_E_LEDGER_KEY (the
 * file is not this ledger's, or cannot be used), CFOIL_E_LEDGER_RIGHTS (others have rights on it). */

/* ---- Sealing ---- */

/* Seals bytes so that only the key file opens them. `context` is bound to them without being part of them (for example
 * the case's id): the same context is needed to open. Makes the key when there is none. `sealed` takes
 * length + KEY_SEALED_EXTRA bytes. */
int32_t key_seal(struct ledger *ledger, const char *context, const uint8_t *plain, size_t length,
                 uint8_t nonce[KEY_NONCE_SIZE], uint8_t *sealed, cfoil_error_info *error);

/* Opens what any of the store's keys has sealed, also one that was replaced. `plain` takes length - KEY_SEALED_EXTRA
 * bytes; wipe them when they are done with. CFOIL_E_LEDGER_DAMAGED: altered, or another context. */
int32_t key_open(struct ledger *ledger, const char *context, const uint8_t nonce[KEY_NONCE_SIZE], const uint8_t *sealed,
                 size_t length, uint8_t *plain, cfoil_error_info *error);

/* ---- Signing ---- */

/* The keys as the file holds them now, checked against the ledger. `make`: makes and records the key when there is none
 * (only inside a transaction). Free the ring with key_ring_free(). NULL: *result tells why. */
struct key_ring *key_ring_open(struct ledger *ledger, bool make, int32_t *result, cfoil_error_info *error);

/* Does the ledger know a key? */
int32_t key_known(struct ledger *ledger, bool *known, cfoil_error_info *error);

/* The body of the entry that names a key, to be freed with cJSON_free(). NULL = no memory. */
struct key_change_body {
    const struct signed_place *place;
    const uint8_t *key, *box_check, *signature;
    const uint8_t *replaces, *signature_before; /* NULL = the first key */
    const char *by;                             /* NULL = nobody was named */
};
char *key_change_body_make(const struct key_change_body *change);

void key_sign(const struct key_pair *pair, const uint8_t *message, size_t length,
              uint8_t signature[KEY_SIGNATURE_SIZE]);

/* ---- The keys themselves ---- */

/* A new pair takes the place of the one that signs; the entry that says so is signed by both. The old one goes on opening
 * what it sealed, its signing secret is removed from the file. Makes the first key when there is none. */
int32_t key_change(struct ledger *ledger, const struct actor *actor, struct signed_receipt *receipt,
                   cfoil_error_info *error);

#endif
