/*
 * Writing signed checkpoints. See checkpoint.h.
 */
#include "ledger/checkpoint.h"

#include "ledger/body.h"
#include "ledger/hex.h"
#include "ledger/key.h"
#include "model/error.h"
#include "model/json.h"
#include "os/os.h"

#include <string.h>

#define AREA "ledger"

char *checkpoint_body_make(const struct signed_place *place, const uint8_t key[KEY_SIZE], const uint8_t *signature)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.checkpoint/1") &&
                json_integer_add(object, "entry", place->number) &&
                hex_add(object, "hash", place->hash, sizeof place->hash) &&
                hex_add(object, "signing_public", key, KEY_SIZE) &&
                hex_add(object, "signature", signature, KEY_SIGNATURE_SIZE);
    char *body = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return body;
}

static int32_t signed_append(struct ledger *ledger, const struct key_pair *pair, cfoil_error_info *error)
{
    uint8_t message[SIGNED_PLACE_SIZE];
    uint8_t signature[KEY_SIGNATURE_SIZE];
    struct signed_place place = {.time_utc_ms = os_time_utc_ms()};
    int32_t result = append_head_read(ledger, &place.number, place.hash, error);
    if (result != CFOIL_OK)
        return result;
    signed_place_bytes(&place, message);
    key_sign(pair, message, sizeof message, signature);
    char *body = checkpoint_body_make(&place, pair->signing_public, signature);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_CHECKPOINT, .time_utc_ms = place.time_utc_ms, .body = body};
    result = append_inside(ledger, &item, NULL, error);
    cJSON_free(body);
    return result;
}

static int32_t checkpoint_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    int32_t result;
    struct key_ring *ring = key_ring_open(ledger, true, &result, error);
    if (ring == NULL)
        return result;
    result = signed_append(ledger, &ring->pairs[ring->active], error);
    if (result == CFOIL_OK)
        result = append_newest_read(ledger, user, error);
    key_ring_free(&ledger->memory, ring);
    if (result == CFOIL_OK)
        ledger->checkpoint_due = false;
    return result;
}

int32_t checkpoint_write(struct ledger *ledger, struct signed_receipt *receipt, cfoil_error_info *error)
{
    return ledger_transact(ledger, checkpoint_run, receipt, error);
}

/* ---- By itself ---- */

static int32_t order_run(struct ledger *ledger, const char *sql, cfoil_error_info *error)
{
    return store_result(ledger->store.database, sqlite3_exec(ledger->store.database, sql, NULL, NULL, NULL), error);
}

int32_t checkpoint_due_write(struct ledger *ledger, cfoil_error_info *error)
{
    if (!ledger->checkpoint_due)
        return CFOIL_OK;
    int32_t result = order_run(ledger, "SAVEPOINT checkpoint", error);
    if (result != CFOIL_OK)
        return result;
    if (checkpoint_run(ledger, NULL, error) == CFOIL_OK)
        return order_run(ledger, "RELEASE checkpoint", error);
    /* After some failures SQLite has ended the whole transaction: going back fails then, and so does the caller. */
    result = order_run(ledger, "ROLLBACK TO checkpoint; RELEASE checkpoint", error);
    if (result == CFOIL_OK && error != NULL)
        memset((char *)error + sizeof error->struct_size, 0, sizeof *error - sizeof error->struct_size);
    return result;
}

static int32_t last_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    bool known = false;
    int32_t result = key_known(ledger, &known, error);
    return result == CFOIL_OK && known ? checkpoint_run(ledger, user, error) : result;
}

void checkpoint_last_write(struct ledger *ledger)
{
    if (ledger->unsigned_entries && ledger->checkpoint_every > 0)
        (void)ledger_transact(ledger, last_run, NULL, NULL);
}
