/*
 * PINs: how one is kept (Argon2id, as libsodium's crypto_pwhash_str() does it) and how long wrong ones lock it.
 */
#ifndef LEDGER_PIN_H
#define LEDGER_PIN_H

#include <counterfoil/counterfoil.h>
#include <stdbool.h>

#define PIN_HASH_SIZE  128 /* crypto_pwhash_STRBYTES */
#define PIN_LENGTH_MIN 4u
#define PIN_LENGTH_MAX 64u

/* Makes the text that is kept; it takes about 64 MiB and a tenth of a second. CFOIL_OK, CFOIL_E_MEMORY. */
int32_t pin_hash(const char *pin, char hash[PIN_HASH_SIZE], cfoil_error_info *error);

/* Takes the same time for every PIN, right or wrong, and for a NULL hash (nobody has that code), which is never right.
 * CFOIL_OK, CFOIL_E_RULE_PIN, CFOIL_E_MEMORY. */
int32_t pin_check(const char *hash, const char *pin, cfoil_error_info *error);

/* For how long the code is locked after so many wrong PINs one after the other: two are free, then half a minute, and
 * twice as long each time up to an hour. */
int64_t pin_lock_ms(int64_t failures);

#endif
