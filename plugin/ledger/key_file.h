/*
 * The key file beside a ledger: the store's secret keys as JSON, checked strictly (docs/ledger.md, "Keys").
 */
#ifndef LEDGER_KEY_FILE_H
#define LEDGER_KEY_FILE_H

#include "ledger/file.h"
#include "model/memory.h"

#include <counterfoil/counterfoil.h>

#define KEY_SIZE      32u /* Ed25519 seed and public key (RFC 8032, section 5.1.5), XChaCha20-Poly1305 key */
#define KEY_ID_SIZE   17u /* the first 8 bytes in hexadecimal digits, ended */
#define KEY_PAIRS_MAX 128u

/* What belongs together: the key that signs and the key that seals. */
struct key_pair {
    uint8_t signing_public[KEY_SIZE];
    bool signs; /* false: replaced, its secret part was removed from the file */
    uint8_t signing_seed[KEY_SIZE];
    uint8_t box[KEY_SIZE];
    uint8_t box_check[KEY_SIZE]; /* names the box key without telling it */
};

/* Oldest first. Wipe it when it is done with: key_ring_wipe(). */
struct key_ring {
    uint32_t count;
    uint32_t active; /* the place of the pair in use; key_ring_open() finds it */
    struct key_pair pairs[KEY_PAIRS_MAX];
};

/* How a key is named: its first 8 bytes (of a public key, or of `box_check`) in hexadecimal digits. */
void key_id_make(const uint8_t bytes[KEY_SIZE], char id[KEY_ID_SIZE]);

/* Makes a ring of no keys. NULL = no memory. */
struct key_ring *key_ring_make(const struct memory *memory);
void key_ring_free(const struct memory *memory, struct key_ring *ring); /* wipes it; NULL is harmless */

/* Adds a new random pair. libsodium must have been started. */
int32_t key_ring_add(struct key_ring *ring, cfoil_error_info *error);

/* Reads the text of a key file. CFOIL_E_LEDGER_KEY, CFOIL_E_MEMORY. */
int32_t key_ring_parse(const char *text, size_t length, struct key_ring *ring, cfoil_error_info *error);

/* Reads PATH.key. *found = false: there is none, which is no error here. CFOIL_E_LEDGER_KEY (not readable, or not what the
 * format asks for), CFOIL_E_LEDGER_RIGHTS, CFOIL_E_MEMORY. No answer tells a byte of a secret. */
int32_t key_file_read(const struct memory *memory, const char *path, enum file_rights allowed, struct key_ring *ring,
                      bool *found, cfoil_error_info *error);

/* Writes PATH.key whole, flushed: in the place of the one that is there, or only when there is none. CFOIL_E_LEDGER_KEY,
 * CFOIL_E_LEDGER_FULL, CFOIL_E_MEMORY. */
int32_t key_file_write(const struct memory *memory, const char *path, const struct key_ring *ring, bool replace,
                       cfoil_error_info *error);

#endif
