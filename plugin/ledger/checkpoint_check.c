/*
 * Checking signed checkpoints and changes of keys. See checkpoint.h.
 */
#include "ledger/checkpoint.h"

#include "ledger/hex.h"
#include "ledger/key.h"

#include <sodium/crypto_sign.h>
#include <string.h>

static bool signature_right(const cJSON *body, const char *name, const uint8_t *message, size_t length,
                            const uint8_t key[KEY_SIZE])
{
    uint8_t signature[KEY_SIGNATURE_SIZE];
    return hex_read(body, name, signature, sizeof signature) &&
           crypto_sign_verify_detached(signature, message, length, key) == 0;
}

/* Does the body name the entry before its own? */
static bool place_right(const cJSON *body, const struct signed_place *place)
{
    uint8_t hash[CHAIN_HASH_SIZE];
    const cJSON *number = cJSON_GetObjectItemCaseSensitive(body, "entry");
    return cJSON_IsNumber(number) && number->valuedouble == (double)place->number &&
           hex_read(body, "hash", hash, sizeof hash) && memcmp(hash, place->hash, sizeof hash) == 0;
}

static const char *checkpoint_fault(const struct checkpoint_state *state, const cJSON *body,
                                    const struct signed_place *place)
{
    uint8_t key[KEY_SIZE];
    uint8_t message[SIGNED_PLACE_SIZE];
    if (!place_right(body, place))
        return "is a checkpoint of another place";
    if (!hex_read(body, "signing_public", key, sizeof key) || !state->has_key ||
        memcmp(key, state->key, sizeof key) != 0)
        return "is a checkpoint by a key that is not the store's";
    signed_place_bytes(place, message);
    return signature_right(body, "signature", message, sizeof message, state->key)
               ? NULL
               : "is a checkpoint whose signature is not right";
}

static const char *change_fault(struct checkpoint_state *state, const cJSON *body, const struct signed_place *place)
{
    uint8_t key[KEY_SIZE];
    uint8_t box_check[KEY_SIZE];
    uint8_t before[KEY_SIZE];
    uint8_t message[SIGNED_CHANGE_SIZE];
    bool replaces = hex_read(body, "replaces", before, sizeof before);
    if (!place_right(body, place) || !hex_read(body, "signing_public", key, sizeof key) ||
        !hex_read(body, "box_check", box_check, sizeof box_check))
        return "names a key, but not as this library writes it";
    if (replaces != state->has_key || (replaces && memcmp(before, state->key, sizeof before) != 0))
        return "names a key that does not follow the store's key before";
    signed_change_bytes(place, key, box_check, replaces ? before : NULL, message);
    if (!signature_right(body, "signature", message, sizeof message, key) ||
        (replaces && !signature_right(body, "signature_before", message, sizeof message, before)))
        return "names a key, and a signature of it is not right";
    state->has_key = true;
    memcpy(state->key, key, sizeof key);
    return NULL;
}

static const char *signed_fault(struct checkpoint_state *state, bool change, const cJSON *body,
                                const struct signed_place *place)
{
    const char *fault = change ? change_fault(state, body, place) : checkpoint_fault(state, body, place);
    if (fault != NULL)
        return fault;
    state->checkpoints += change ? 0 : 1;
    state->until = place->number;
    if (state->trusted != NULL && memcmp(state->trusted, state->key, KEY_SIZE) == 0)
        state->trusted_seen = true;
    return NULL;
}

int32_t checkpoint_entry_check(struct checkpoint_state *state, const char *kind, const char *body,
                               const struct signed_place *place, const char **fault)
{
    cJSON *parsed;
    *fault = NULL;
    bool change = strcmp(kind, LEDGER_KIND_KEY) == 0;
    if (!change && strcmp(kind, LEDGER_KIND_CHECKPOINT) != 0)
        return CFOIL_OK;
    int32_t result = ledger_body_parse(body, &parsed);
    if (result != CFOIL_OK)
        return result;
    *fault = signed_fault(state, change, parsed, place);
    cJSON_Delete(parsed);
    return CFOIL_OK;
}
