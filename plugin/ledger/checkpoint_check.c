/*
 * Checking signed checkpoints and changes of keys. See checkpoint.h.
 */
#include "ledger/checkpoint.h"

#include "ledger/hex.h"
#include "ledger/key.h"

#include <sodium/crypto_sign.h>
#include <string.h>

/* Takes the body apart into what is signed. What it says beyond that is looked at by writing it again: whoever has no key
 * shall not be able to change one byte of a signed entry, also of those that no signature covers. */
struct signed_body {
    uint8_t key[KEY_SIZE];
    uint8_t signature[KEY_SIGNATURE_SIZE];
    bool replaces; /* only of a change of keys, from here on */
    uint8_t box_check[KEY_SIZE];
    uint8_t before[KEY_SIZE];
    uint8_t signature_before[KEY_SIGNATURE_SIZE];
    const char *by;
};

static bool signature_right(const uint8_t *signature, const uint8_t *message, size_t length,
                            const uint8_t key[KEY_SIZE])
{
    return crypto_sign_verify_detached(signature, message, length, key) == 0;
}

/* Is the text what we would have written? */
static int32_t body_compare(char *written, const char *text, const char *wrong, const char **fault)
{
    if (written == NULL)
        return CFOIL_E_MEMORY;
    *fault = strcmp(written, text) == 0 ? NULL : wrong;
    cJSON_free(written);
    return CFOIL_OK;
}

static int32_t checkpoint_look(const struct checkpoint_state *state, const cJSON *body, const char *text,
                               const struct signed_place *place, const char **fault)
{
    struct signed_body said = {.by = NULL};
    uint8_t message[SIGNED_PLACE_SIZE];
    if (!hex_read(body, "signing_public", said.key, sizeof said.key) ||
        !hex_read(body, "signature", said.signature, sizeof said.signature)) {
        *fault = "is a checkpoint, but not as this library writes it";
        return CFOIL_OK;
    }
    int32_t result = body_compare(checkpoint_body_make(place, said.key, said.signature), text,
                                  "is a checkpoint of another place", fault);
    if (result != CFOIL_OK || *fault != NULL)
        return result;
    signed_place_bytes(place, message);
    if (!state->has_key || memcmp(said.key, state->key, sizeof said.key) != 0)
        *fault = "is a checkpoint by a key that is not the store's";
    else if (!signature_right(said.signature, message, sizeof message, state->key))
        *fault = "is a checkpoint whose signature is not right";
    return CFOIL_OK;
}

static bool change_read(const cJSON *body, struct signed_body *said)
{
    said->replaces = hex_read(body, "replaces", said->before, sizeof said->before);
    said->by = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, "by"));
    return hex_read(body, "signing_public", said->key, sizeof said->key) &&
           hex_read(body, "box_check", said->box_check, sizeof said->box_check) &&
           hex_read(body, "signature", said->signature, sizeof said->signature) &&
           (!said->replaces ||
            hex_read(body, "signature_before", said->signature_before, sizeof said->signature_before));
}

static const char *change_fault(const struct checkpoint_state *state, const struct signed_body *said,
                                const struct signed_place *place)
{
    uint8_t message[SIGNED_CHANGE_SIZE];
    if (said->replaces != state->has_key ||
        (said->replaces && memcmp(said->before, state->key, sizeof said->before) != 0))
        return "names a key that does not follow the store's key before";
    signed_change_bytes(place, said->key, said->box_check, said->replaces ? said->before : NULL, said->by, message);
    if (!signature_right(said->signature, message, sizeof message, said->key) ||
        (said->replaces && !signature_right(said->signature_before, message, sizeof message, said->before)))
        return "names a key, and a signature of it is not right";
    return NULL;
}

static int32_t change_look(struct checkpoint_state *state, const cJSON *body, const char *text,
                           const struct signed_place *place, const char **fault)
{
    struct signed_body said;
    if (!change_read(body, &said)) {
        *fault = "names a key, but not as this library writes it";
        return CFOIL_OK;
    }
    struct key_change_body change = {.place = place,
                                     .key = said.key,
                                     .box_check = said.box_check,
                                     .signature = said.signature,
                                     .replaces = said.replaces ? said.before : NULL,
                                     .signature_before = said.signature_before,
                                     .by = said.by};
    int32_t result = body_compare(key_change_body_make(&change), text, "names a key, but not as this library writes it",
                                  fault);
    if (result == CFOIL_OK && *fault == NULL)
        *fault = change_fault(state, &said, place);
    if (result != CFOIL_OK || *fault != NULL)
        return result;
    state->has_key = true;
    memcpy(state->key, said.key, sizeof said.key);
    return CFOIL_OK;
}

static void good_note(struct checkpoint_state *state, bool change, const struct signed_place *place)
{
    state->checkpoints += change ? 0 : 1;
    state->until = place->number;
    if (state->trusted != NULL && memcmp(state->trusted, state->key, KEY_SIZE) == 0)
        state->trusted_seen = true;
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
    result = change ? change_look(state, parsed, body, place, fault)
                    : checkpoint_look(state, parsed, body, place, fault);
    if (result == CFOIL_OK && *fault == NULL)
        good_note(state, change, place);
    cJSON_Delete(parsed);
    return result;
}
