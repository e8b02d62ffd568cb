/*
 * The key file. See key_file.h.
 */
#include "ledger/key_file.h"

#include "ledger/hex.h"
#include "ledger/secret_file.h"
#include "model/error.h"
#include "model/json_scan.h"
#include "model/text.h"
#include "os/os.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <sodium/crypto_hash_sha256.h>
#include <sodium/crypto_sign.h>
#include <sodium/randombytes.h>
#include <sodium/utils.h>
#include <stdio.h>
#include <string.h>

#define AREA       "ledger"
#define SCHEMA     "counterfoil.keyfile/1"
#define HEX_SIZE   (2 * KEY_SIZE + 1)
#define PAIR_BYTES 260u /* of one pair in the file, the rest of the line included */
#define FILE_BYTES (KEY_PAIRS_MAX * PAIR_BYTES + 400u)

_Static_assert(crypto_sign_SEEDBYTES == KEY_SIZE && crypto_sign_PUBLICKEYBYTES == KEY_SIZE, "Ed25519 sizes");

void key_id_make(const uint8_t bytes[KEY_SIZE], char id[KEY_ID_SIZE])
{
    text_hex(bytes, (KEY_ID_SIZE - 1) / 2, id);
}

/* ---- A ring in memory ---- */

struct key_ring *key_ring_make(const struct memory *memory)
{
    return memory_allocate(memory, sizeof(struct key_ring));
}

void key_ring_free(const struct memory *memory, struct key_ring *ring)
{
    if (ring == NULL)
        return;
    sodium_memzero(ring, sizeof *ring);
    memory_release(memory, ring);
}

/* What the ledger keeps of a box key, so that the right one can be told: a hash of a random key of 256 bits tells nothing
 * about it. */
static void box_check_make(struct key_pair *pair)
{
    static const char label[] = "counterfoil.box-key/1"; /* its ending byte counts */
    crypto_hash_sha256_state state;
    crypto_hash_sha256_init(&state);
    crypto_hash_sha256_update(&state, (const unsigned char *)label, sizeof label);
    crypto_hash_sha256_update(&state, pair->box, sizeof pair->box);
    crypto_hash_sha256_final(&state, pair->box_check);
    sodium_memzero(&state, sizeof state);
}

static void public_make(const uint8_t seed[KEY_SIZE], uint8_t public_key[KEY_SIZE])
{
    unsigned char secret[crypto_sign_SECRETKEYBYTES];
    (void)crypto_sign_seed_keypair(public_key, secret, seed); /* it cannot fail */
    sodium_memzero(secret, sizeof secret);
}

int32_t key_ring_add(struct key_ring *ring, cfoil_error_info *error)
{
    if (ring->count == KEY_PAIRS_MAX)
        return error_set(error, CFOIL_E_LEDGER_KEY, 0, AREA, "The key file is full (%u keys): go on with a new ledger.",
                         KEY_PAIRS_MAX);
    struct key_pair *pair = &ring->pairs[ring->count++];
    pair->signs = true;
    randombytes_buf(pair->signing_seed, sizeof pair->signing_seed);
    randombytes_buf(pair->box, sizeof pair->box);
    public_make(pair->signing_seed, pair->signing_public);
    box_check_make(pair);
    return CFOIL_OK;
}

/* ---- From JSON ---- */

static int32_t wrong_set(cfoil_error_info *error, const char *what)
{
    return error_set(error, CFOIL_E_LEDGER_KEY, 0, AREA,
                     "The key file beside the ledger %s: put the right one back from its copy.", what);
}

static bool pair_read(const cJSON *object, struct key_pair *pair)
{
    uint8_t own[KEY_SIZE];
    const cJSON *seed = cJSON_GetObjectItemCaseSensitive(object, "signing_secret");
    if (!cJSON_IsObject(object) || cJSON_GetArraySize(object) != 3 ||
        !hex_read(object, "signing_public", pair->signing_public, KEY_SIZE) ||
        !hex_read(object, "box_secret", pair->box, KEY_SIZE))
        return false;
    box_check_make(pair);
    pair->signs = !cJSON_IsNull(seed);
    if (!pair->signs)
        return seed != NULL;
    if (!hex_read(object, "signing_secret", pair->signing_seed, KEY_SIZE))
        return false;
    public_make(pair->signing_seed, own);
    return memcmp(own, pair->signing_public, KEY_SIZE) == 0;
}

static bool ring_read(const cJSON *object, struct key_ring *ring)
{
    const char *schema = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, "schema"));
    const cJSON *keys = cJSON_GetObjectItemCaseSensitive(object, "keys");
    const cJSON *note = cJSON_GetObjectItemCaseSensitive(object, "note");
    bool shaped = cJSON_GetArraySize(object) == 3 && cJSON_IsString(note) && cJSON_IsArray(keys);
    if (!shaped || schema == NULL || strcmp(schema, SCHEMA) != 0)
        return false;
    const cJSON *each;
    cJSON_ArrayForEach(each, keys)
    {
        if (ring->count == KEY_PAIRS_MAX || !pair_read(each, &ring->pairs[ring->count]))
            return false;
        ring->count++;
    }
    return ring->count > 0;
}

/* cJSON copies each text once, into blocks that go back to the C heap. */
static void texts_wipe(cJSON *item)
{
    for (; item != NULL; item = item->next) {
        if (item->valuestring != NULL)
            sodium_memzero(item->valuestring, strlen(item->valuestring));
        texts_wipe(item->child);
    }
}

int32_t key_ring_parse(const char *text, size_t length, struct key_ring *ring, cfoil_error_info *error)
{
    struct json_fault fault;
    ring->count = 0;
    ring->active = 0;
    if (!json_scan(text, length, &fault))
        return wrong_set(error, "is not well-formed");
    cJSON *object = cJSON_ParseWithLength(text, length);
    if (object == NULL)
        return error_memory_set(error, AREA);
    bool good = ring_read(object, ring);
    texts_wipe(object);
    cJSON_Delete(object);
    return good ? CFOIL_OK : wrong_set(error, "is not one that this library wrote, or was altered");
}

/* ---- To JSON ---- */

static const char head[] = "{\"schema\":\"" SCHEMA
                           "\",\"note\":\"Secret. Whoever has this file can sign for this store and"
                           " read what it sealed: keep one copy apart from the ledger.\",\"keys\":[";

/* Straight into one buffer that is wiped: nothing here goes through a heap that keeps what was freed. */
static size_t text_make(const struct key_ring *ring, char *text, size_t size)
{
    char public_key[HEX_SIZE];
    char secret[HEX_SIZE];
    char box[HEX_SIZE];
    size_t used = (size_t)snprintf(text, size, "%s", head);
    for (uint32_t i = 0; i < ring->count; i++) {
        const struct key_pair *pair = &ring->pairs[i];
        const char *quote = pair->signs ? "\"" : "";
        text_hex(pair->signing_public, KEY_SIZE, public_key);
        text_hex(pair->signing_seed, KEY_SIZE, secret);
        text_hex(pair->box, KEY_SIZE, box);
        used += (size_t)snprintf(text + used, size - used,
                                 "%s\n{\"signing_public\":\"%s\",\"signing_secret\":%s%s%s,\"box_secret\":\"%s\"}",
                                 i > 0 ? "," : "", public_key, quote, pair->signs ? secret : "null", quote, box);
    }
    used += (size_t)snprintf(text + used, size - used, "]}\n");
    sodium_memzero(secret, sizeof secret);
    sodium_memzero(box, sizeof box);
    return used;
}

/* ---- The file ---- */

struct paths {
    char *real;
    char *own; /* under which it is written first */
};

static bool paths_make(const struct memory *memory, const char *path, struct paths *paths)
{
    uint8_t random[8];
    char hex[2 * sizeof random + 1];
    randombytes_buf(random, sizeof random);
    text_hex(random, sizeof random, hex);
    size_t size = strlen(path) + sizeof ".key." + sizeof hex;
    paths->real = memory_allocate(memory, size);
    paths->own = memory_allocate(memory, size);
    if (paths->real == NULL || paths->own == NULL)
        return false;
    (void)snprintf(paths->real, size, "%s.key", path);
    (void)snprintf(paths->own, size, "%s.key.%s", path, hex);
    return true;
}

static void paths_free(const struct memory *memory, struct paths *paths)
{
    memory_release(memory, paths->real);
    memory_release(memory, paths->own);
}

static int32_t answer_set(enum secret_answer answer, int os_code, cfoil_error_info *error)
{
    switch (answer) {
    case SECRET_NOT_PLAIN:
        return wrong_set(error, "is a link or no ordinary file");
    case SECRET_OTHERS_OWNER:
        return error_set(error, CFOIL_E_LEDGER_RIGHTS, 0, AREA,
                         "The key file beside the ledger belongs to another account: give it to the ledger's owner.");
    case SECRET_RIGHTS:
        return error_set(error, CFOIL_E_LEDGER_RIGHTS, 0, AREA,
                         "Others than its owner have rights on the key file beside the ledger: chmod 600 FILE.key.");
    case SECRET_TOO_LARGE:
        return wrong_set(error, "is too large");
    default:
        return error_set(error, CFOIL_E_LEDGER_KEY, os_code, AREA,
                         "The key file beside the ledger cannot be read: check its rights and the disk.");
    }
}

int32_t key_file_read(const struct memory *memory, const char *path, enum file_rights allowed, struct key_ring *ring,
                      bool *found, cfoil_error_info *error)
{
    struct paths paths = {NULL, NULL};
    size_t length = 0;
    int os_code = 0;
    int32_t result = CFOIL_OK;
    char *text = memory_allocate(memory, FILE_BYTES);
    *found = false;
    if (text == NULL || !paths_make(memory, path, &paths)) {
        result = error_memory_set(error, AREA);
    } else {
        enum secret_answer answer = secret_file_read(paths.real, path, allowed, text, FILE_BYTES, &length, &os_code);
        *found = answer == SECRET_READ;
        if (*found)
            result = key_ring_parse(text, length, ring, error);
        else if (answer != SECRET_MISSING)
            result = answer_set(answer, os_code, error);
    }
    if (text != NULL)
        sodium_memzero(text, FILE_BYTES);
    memory_release(memory, text);
    paths_free(memory, &paths);
    return result;
}

static int32_t write_answer(int problem, cfoil_error_info *error)
{
    if (problem == 0)
        return CFOIL_OK;
    bool full = problem == ENOSPC || problem == EFBIG;
    return error_set(error, full ? CFOIL_E_LEDGER_FULL : CFOIL_E_LEDGER_KEY, problem, AREA,
                     "The key file beside the ledger cannot be written: check the rights and the space of its folder.");
}

int32_t key_file_write(const struct memory *memory, const char *path, const struct key_ring *ring, bool replace,
                       cfoil_error_info *error)
{
    struct paths paths = {NULL, NULL};
    int32_t result = CFOIL_E_MEMORY;
    char *text = memory_allocate(memory, FILE_BYTES);
    if (text != NULL && paths_make(memory, path, &paths)) {
        size_t length = text_make(ring, text, FILE_BYTES);
        result = write_answer(secret_file_write(paths.own, paths.real, text, length, replace), error);
    } else {
        result = error_memory_set(error, AREA);
    }
    if (text != NULL)
        sodium_memzero(text, FILE_BYTES);
    memory_release(memory, text);
    paths_free(memory, &paths);
    return result;
}
