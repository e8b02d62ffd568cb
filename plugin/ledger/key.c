/*
 * The keys of a store. See key.h.
 */
#include "ledger/key.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/crypto_start.h"
#include "ledger/hex.h"
#include "ledger/rows.h"
#include "ledger/signed_place.h"
#include "model/error.h"
#include "model/json.h"
#include "os/os.h"

#include <sodium/crypto_aead_xchacha20poly1305.h>
#include <sodium/crypto_sign.h>
#include <sodium/randombytes.h>
#include <sodium/utils.h>
#include <string.h>

#define AREA "ledger"
#define TAG  crypto_aead_xchacha20poly1305_ietf_ABYTES
#define ID   8u /* bytes of a box key's name before what it sealed */

_Static_assert(crypto_sign_BYTES == KEY_SIGNATURE_SIZE, "Ed25519 signature");
_Static_assert(crypto_aead_xchacha20poly1305_ietf_NPUBBYTES == KEY_NONCE_SIZE, "nonce");
_Static_assert(crypto_aead_xchacha20poly1305_ietf_KEYBYTES == KEY_SIZE, "box key");
_Static_assert(ID + TAG == KEY_SEALED_EXTRA, "what sealing adds");

/* ---- What the ledger knows ---- */

struct known_key {
    bool there;
    uint8_t public_key[KEY_SIZE];
    uint8_t box_check[KEY_SIZE];
};

static void known_take(struct known_key *known, sqlite3_stmt *row)
{
    const void *bytes = sqlite3_column_blob(row, 1);
    bool signing = sqlite3_column_int(row, 0) != 0;
    if (signing)
        known->there = true;
    if (bytes != NULL && sqlite3_column_bytes(row, 1) == (int)KEY_SIZE)
        memcpy(signing ? known->public_key : known->box_check, bytes, KEY_SIZE);
}

/* The keys in use, by the table that is made from the entries. */
static int32_t known_read(struct ledger *ledger, struct known_key *known, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    memset(known, 0, sizeof *known);
    if (ledger->store.version < 2)
        return CFOIL_OK;
    int code = rows_begin(ledger->store.database, "SELECT kind = 'signing', public_key FROM key WHERE until_utc_ms = 0",
                          NULL, 0, &row);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    while ((code = sqlite3_step(row)) == SQLITE_ROW)
        known_take(known, row);
    (void)sqlite3_finalize(row);
    return code == SQLITE_DONE ? CFOIL_OK : store_error(ledger->store.database, code, error);
}

int32_t key_known(struct ledger *ledger, bool *known, cfoil_error_info *error)
{
    struct known_key key;
    int32_t result = known_read(ledger, &key, error);
    *known = key.there;
    return result;
}

/* Does the ledger hold this public key, as the one that signs or one that was replaced? */
static int32_t pair_recorded(struct ledger *ledger, const struct key_pair *pair, bool *recorded,
                             cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_bytes(pair->signing_public, (int)KEY_SIZE)};
    *recorded = false;
    int code = rows_begin(ledger->store.database, "SELECT 1 FROM key WHERE kind = 'signing' AND public_key = ?1",
                          values, 1, &row);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    code = sqlite3_step(row);
    *recorded = code == SQLITE_ROW;
    (void)sqlite3_finalize(row);
    return code == SQLITE_ROW || code == SQLITE_DONE ? CFOIL_OK : store_error(ledger->store.database, code, error);
}

/* The full path, as SQLite found it when the ledger was opened: a program may change its folder later. */
static const char *path_of(const struct ledger *ledger)
{
    return sqlite3_db_filename(ledger->store.database, "main");
}

static int32_t ring_write(struct ledger *ledger, const struct key_ring *ring, bool replace, cfoil_error_info *error)
{
    return key_file_write(&ledger->memory, path_of(ledger), ring, replace, error);
}

/* ---- The entry of a key ---- */

void key_sign(const struct key_pair *pair, const uint8_t *message, size_t length, uint8_t signature[KEY_SIGNATURE_SIZE])
{
    unsigned char public_key[crypto_sign_PUBLICKEYBYTES];
    unsigned char secret[crypto_sign_SECRETKEYBYTES];
    (void)crypto_sign_seed_keypair(public_key, secret, pair->signing_seed);
    (void)crypto_sign_detached(signature, NULL, message, length, secret); /* neither can fail */
    sodium_memzero(secret, sizeof secret);
}

struct key_entry {
    struct signed_place place;
    const struct key_pair *pair;
    const struct key_pair *before; /* NULL = the first key */
    const char *by;                /* NULL = nobody was named */
};

char *key_change_body_make(const struct key_change_body *change)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.key/1") && json_text_add(object, "by", change->by) &&
                json_integer_add(object, "entry", change->place->number) &&
                hex_add(object, "hash", change->place->hash, sizeof change->place->hash) &&
                hex_add(object, "signing_public", change->key, KEY_SIZE) &&
                hex_add(object, "box_check", change->box_check, KEY_SIZE) &&
                hex_add(object, "signature", change->signature, KEY_SIGNATURE_SIZE) &&
                (change->replaces != NULL
                     ? hex_add(object, "replaces", change->replaces, KEY_SIZE) &&
                           hex_add(object, "signature_before", change->signature_before, KEY_SIGNATURE_SIZE)
                     : json_null_add(object, "replaces") && json_null_add(object, "signature_before"));
    char *body = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return body;
}

static char *entry_body(const struct key_entry *entry)
{
    uint8_t message[SIGNED_CHANGE_SIZE];
    uint8_t own[KEY_SIGNATURE_SIZE];
    uint8_t old[KEY_SIGNATURE_SIZE];
    const uint8_t *replaces = entry->before != NULL ? entry->before->signing_public : NULL;
    signed_change_bytes(&entry->place, entry->pair->signing_public, entry->pair->box_check, replaces, entry->by,
                        message);
    key_sign(entry->pair, message, sizeof message, own);
    if (entry->before != NULL)
        key_sign(entry->before, message, sizeof message, old);
    struct key_change_body change = {.place = &entry->place,
                                     .key = entry->pair->signing_public,
                                     .box_check = entry->pair->box_check,
                                     .signature = own,
                                     .replaces = replaces,
                                     .signature_before = old,
                                     .by = entry->by};
    return key_change_body_make(&change);
}

static int32_t entry_append(struct ledger *ledger, struct key_entry *entry, cfoil_error_info *error)
{
    entry->place.time_utc_ms = os_time_utc_ms();
    int32_t result = append_head_read(ledger, &entry->place.number, entry->place.hash, error);
    char *body = result == CFOIL_OK ? entry_body(entry) : NULL;
    if (result == CFOIL_OK && body == NULL)
        result = error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_KEY, .time_utc_ms = entry->place.time_utc_ms, .body = body};
    if (result == CFOIL_OK)
        result = append_inside(ledger, &item, NULL, error);
    cJSON_free(body);
    return result;
}

/* ---- Opening the ring ---- */

/* The place of a public key, `count` = it is not there. */
static uint32_t pair_find(const struct key_ring *ring, const uint8_t public_key[KEY_SIZE])
{
    uint32_t i = 0;
    while (i < ring->count && memcmp(ring->pairs[i].signing_public, public_key, KEY_SIZE) != 0)
        i++;
    return i;
}

/* The first key of a ledger: from a file that is there already (its entry was cut off, or a new ledger took the place of
 * an older one), or a new one. The file is on the disk before the entry: no ledger names a key that nobody has. */
static int32_t first_make(struct ledger *ledger, struct key_ring *ring, bool found, cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    if (!found || !ring->pairs[ring->count - 1].signs) {
        result = key_ring_add(ring, error);
        if (result == CFOIL_OK)
            result = ring_write(ledger, ring, found, error);
    }
    ring->active = ring->count - 1;
    if (result != CFOIL_OK)
        return result;
    struct key_entry entry = {.pair = &ring->pairs[ring->active]};
    return entry_append(ledger, &entry, error);
}

static int32_t missing_set(cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_LEDGER_KEY_MISSING, 0, AREA,
                     "The ledger's key file (its name and .key) is not there: put it back from its copy.");
}

static bool active_right(struct key_ring *ring, const struct known_key *known)
{
    ring->active = pair_find(ring, known->public_key);
    return ring->active < ring->count && ring->pairs[ring->active].signs &&
           memcmp(ring->pairs[ring->active].box_check, known->box_check, KEY_SIZE) == 0;
}

static int32_t active_find(struct ledger *ledger, struct key_ring *ring, bool make, cfoil_error_info *error)
{
    struct known_key known;
    bool found = false;
    int32_t result = known_read(ledger, &known, error);
    if (result == CFOIL_OK)
        result = key_file_read(&ledger->memory, path_of(ledger), (enum file_rights)ledger->rights, ring, &found, error);
    if (result != CFOIL_OK)
        return result;
    if (!known.there)
        return make ? first_make(ledger, ring, found, error)
                    : error_set(error, CFOIL_E_LEDGER_KEY_MISSING, 0, AREA, "This ledger has no key yet: make one.");
    if (!found)
        return missing_set(error);
    if (active_right(ring, &known))
        return CFOIL_OK;
    return error_set(error, CFOIL_E_LEDGER_KEY, 0, AREA,
                     "The key file beside the ledger is another ledger's, or of another time: put the right one back.");
}

struct key_ring *key_ring_open(struct ledger *ledger, bool make, int32_t *result, cfoil_error_info *error)
{
    *result = crypto_start(error);
    if (*result != CFOIL_OK)
        return NULL;
    struct key_ring *ring = key_ring_make(&ledger->memory);
    *result = ring != NULL ? active_find(ledger, ring, make, error) : error_memory_set(error, AREA);
    if (*result == CFOIL_OK)
        return ring;
    key_ring_free(&ledger->memory, ring);
    return NULL;
}

/* ---- Changing keys ---- */

/* Leaves in the ring what the ledger knows, without the signing secrets of replaced keys. *changed tells. */
static int32_t ring_tidy(struct ledger *ledger, struct key_ring *ring, bool *changed, cfoil_error_info *error)
{
    const struct key_pair *from = ring->pairs;
    uint32_t count = ring->count;
    uint32_t active = ring->active;
    int32_t result = CFOIL_OK;
    *changed = false;
    ring->count = 0;
    for (uint32_t i = 0; i < count && result == CFOIL_OK; i++) {
        bool recorded;
        result = pair_recorded(ledger, &from[i], &recorded, error);
        if (!recorded) {
            *changed = true; /* a change that was cut off before its entry stood */
            continue;
        }
        struct key_pair *to = &ring->pairs[ring->count];
        if (to != &from[i])
            *to = from[i];
        if (i == active)
            ring->active = ring->count;
        else if (to->signs)
            *changed = true;
        to->signs = i == active;
        ring->count++;
    }
    return result;
}

struct key_order {
    const struct actor *actor;
    struct signed_receipt *receipt;
};

/* The file holds both keys before the entry stands, and until the next step: whatever is cut off, the key that the ledger
 * names is there. */
static int32_t pair_exchange(struct ledger *ledger, struct key_ring *ring, const char *by, cfoil_error_info *error)
{
    bool changed;
    int32_t result = ring_tidy(ledger, ring, &changed, error);
    if (result == CFOIL_OK)
        result = key_ring_add(ring, error);
    if (result == CFOIL_OK)
        result = ring_write(ledger, ring, true, error);
    if (result != CFOIL_OK)
        return result;
    struct key_entry entry = {.pair = &ring->pairs[ring->count - 1], .before = &ring->pairs[ring->active], .by = by};
    return entry_append(ledger, &entry, error);
}

static int32_t change_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct key_order *order = user;
    bool known = false;
    int32_t result = access_check(ledger, order->actor, ROLES_SUPERVISE, error);
    if (result == CFOIL_OK)
        result = key_known(ledger, &known, error);
    if (result != CFOIL_OK)
        return result;
    struct key_ring *ring = key_ring_open(ledger, true, &result, error);
    if (ring == NULL)
        return result;
    if (known) /* else the first one was made just now */
        result = pair_exchange(ledger, ring, order->actor->staff, error);
    if (result == CFOIL_OK)
        result = append_newest_read(ledger, order->receipt, error);
    key_ring_free(&ledger->memory, ring);
    return result;
}

/* Removes the signing secrets that nobody needs any more. */
static int32_t tidy_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    bool changed = false;
    int32_t result;
    (void)user;
    struct key_ring *ring = key_ring_open(ledger, false, &result, error);
    if (ring == NULL)
        return result;
    result = ring_tidy(ledger, ring, &changed, error);
    if (result == CFOIL_OK && changed)
        result = ring_write(ledger, ring, true, error);
    key_ring_free(&ledger->memory, ring);
    return result;
}

int32_t key_change(struct ledger *ledger, const struct actor *actor, struct signed_receipt *receipt,
                   cfoil_error_info *error)
{
    struct key_order order = {actor, receipt};
    int32_t result = ledger_transact(ledger, change_run, &order, error);
    if (result == CFOIL_OK)
        (void)ledger_transact(ledger, tidy_run, NULL, NULL); /* the next change does it otherwise */
    return result;
}

/* ---- Sealing ---- */

int32_t key_seal(struct ledger *ledger, const char *context, const uint8_t *plain, size_t length,
                 uint8_t nonce[KEY_NONCE_SIZE], uint8_t *sealed, cfoil_error_info *error)
{
    int32_t result;
    struct key_ring *ring = key_ring_open(ledger, true, &result, error);
    if (ring == NULL)
        return result;
    const struct key_pair *active = &ring->pairs[ring->active];
    randombytes_buf(nonce, KEY_NONCE_SIZE);
    memcpy(sealed, active->box_check, ID);
    (void)crypto_aead_xchacha20poly1305_ietf_encrypt(sealed + ID, NULL, plain, length, (const unsigned char *)context,
                                                     strlen(context), NULL, nonce, active->box); /* cannot fail */
    key_ring_free(&ledger->memory, ring);
    return CFOIL_OK;
}

static const struct key_pair *box_find(const struct key_ring *ring, const uint8_t id[ID])
{
    for (uint32_t i = 0; i < ring->count; i++) {
        if (memcmp(ring->pairs[i].box_check, id, ID) == 0)
            return &ring->pairs[i];
    }
    return NULL;
}

static int32_t box_open(const struct key_ring *ring, const char *context, const uint8_t nonce[KEY_NONCE_SIZE],
                        const uint8_t *sealed, size_t length, uint8_t *plain, cfoil_error_info *error)
{
    const struct key_pair *pair = box_find(ring, sealed);
    if (pair == NULL)
        return error_set(error, CFOIL_E_LEDGER_KEY, 0, AREA,
                         "The key file does not hold the key that sealed this: put the right one back.");
    if (crypto_aead_xchacha20poly1305_ietf_decrypt(plain, NULL, NULL, sealed + ID, length - ID,
                                                   (const unsigned char *)context, strlen(context), nonce,
                                                   pair->box) == 0)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA,
                     "What was sealed was altered, or belongs to another case: it cannot be read.");
}

int32_t key_open(struct ledger *ledger, const char *context, const uint8_t nonce[KEY_NONCE_SIZE], const uint8_t *sealed,
                 size_t length, uint8_t *plain, cfoil_error_info *error)
{
    bool found = false;
    if (length < KEY_SEALED_EXTRA)
        return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA, "What was sealed is cut short: it cannot be read.");
    int32_t result = crypto_start(error);
    if (result != CFOIL_OK)
        return result;
    struct key_ring *ring = key_ring_make(&ledger->memory);
    if (ring == NULL)
        return error_memory_set(error, AREA);
    /* Whether it may sign is of no matter here: the key that sealed is told by its name. */
    result = key_file_read(&ledger->memory, path_of(ledger), (enum file_rights)ledger->rights, ring, &found, error);
    if (result == CFOIL_OK)
        result = found ? box_open(ring, context, nonce, sealed, length, plain, error) : missing_set(error);
    key_ring_free(&ledger->memory, ring);
    return result;
}
