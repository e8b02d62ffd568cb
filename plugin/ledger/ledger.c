/*
 * The life of a ledger handle and the short look-ups on its connection. See ledger.h.
 */
#include "ledger/ledger.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/checkpoint.h"
#include "ledger/person.h"
#include "ledger/rollup.h"
#include "ledger/schema.h"
#include "model/error.h"
#include "model/json.h"
#include "os/os.h"

#include <string.h>

#define AREA "ledger"

static const char *const statement_texts[STATEMENT_COUNT] = {
    [STATEMENT_BEGIN] = "BEGIN IMMEDIATE",
    [STATEMENT_COMMIT] = "COMMIT",
    [STATEMENT_ROLLBACK] = "ROLLBACK",
    [STATEMENT_HEAD_READ] = "SELECT number, hash FROM head WHERE id = 1",
    [STATEMENT_HEAD_WRITE] = "INSERT INTO head(id, number, hash, entries) VALUES(1, ?1, ?2, ?1)"
                             " ON CONFLICT(id) DO UPDATE SET number = ?1, hash = ?2, entries = ?1",
    [STATEMENT_CASE_FIND] = "SELECT disposition FROM entry WHERE case_id = ?1",
    [STATEMENT_ENTRY_ADD] = "INSERT INTO entry(" COLUMNS ") VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [STATEMENT_ENTRY_READ] = "SELECT " COLUMNS " FROM entry"
                             " WHERE number = CASE ?1 WHEN 0 THEN (SELECT max(number) FROM entry) ELSE ?1 END",
    [STATEMENT_CASE_READ] = "SELECT " COLUMNS " FROM entry WHERE case_id = ?1",
    [STATEMENT_SERIAL_ADD] = "INSERT OR IGNORE INTO refused_serial(currency, serial, entry) VALUES(?1, ?2, ?3)",
    [STATEMENT_SERIAL_FIND] = "SELECT 1 FROM refused_serial WHERE currency = ?1 AND serial = ?2",
    [STATEMENT_DEVICE_WRITE] = "INSERT INTO device(device, bytes) VALUES(?1, ?2)"
                               " ON CONFLICT(device) DO UPDATE SET bytes = ?2",
    [STATEMENT_DEVICE_READ] = "SELECT bytes FROM device WHERE device = ?1",
};

/* ---- Open and close ---- */

static int32_t statements_make(struct ledger *ledger, cfoil_error_info *error)
{
    for (int i = 0; i < STATEMENT_COUNT; i++) {
        int code = sqlite3_prepare_v3(ledger->store.database, statement_texts[i], -1, SQLITE_PREPARE_PERSISTENT,
                                      &ledger->statements[i], NULL);
        if ((code & 0xff) == SQLITE_ERROR)
            return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA,
                             "The ledger lacks one of its tables: keep the file, and go on with a restored copy.");
        if (code != SQLITE_OK)
            return store_error(ledger->store.database, code, error);
    }
    return CFOIL_OK;
}

/* The body of entry 1. NULL = no memory. */
static char *opened_body(const char *store)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.opened/1") &&
                json_integer_add(object, "format", STORE_VERSION) &&
                json_text_add(object, "store", store != NULL ? store : "");
    char *text = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    return text;
}

/* Tables and entry 1 come in one transaction: a ledger has both or neither. */
static int32_t fresh_fill(struct ledger *ledger, const char *store, cfoil_error_info *error)
{
    char *body = opened_body(store);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_OPENED, .time_utc_ms = os_time_utc_ms(), .body = body};
    int code = sqlite3_exec(ledger->store.database, "BEGIN IMMEDIATE", NULL, NULL, NULL);
    int32_t result = code == SQLITE_OK ? CFOIL_OK : store_error(ledger->store.database, code, error);
    bool made = false;
    if (result == CFOIL_OK)
        result = store_tables_make(&ledger->store, &made, error);
    if (result == CFOIL_OK)
        result = statements_make(ledger, error);
    if (result == CFOIL_OK && made)
        result = append_first(ledger, &item, error);
    if (result == CFOIL_OK) {
        code = sqlite3_exec(ledger->store.database, "COMMIT", NULL, NULL, NULL);
        result = code == SQLITE_OK ? CFOIL_OK : store_error(ledger->store.database, code, error);
    }
    ledger->store.version = STORE_VERSION;
    cJSON_free(body);
    return result; /* closing the connection takes back what was not committed */
}

static int32_t body_open(struct ledger *ledger, const cfoil_ledger_options *options, cfoil_error_info *error)
{
    bool fresh;
    ledger->read_only = options->read_only != 0;
    ledger->rights = options->rights;
    ledger->checkpoint_every = options->checkpoint_entries == 0  ? CHECKPOINT_ENTRIES_DEFAULT
                               : options->checkpoint_entries > 0 ? options->checkpoint_entries
                                                                 : 0;
    ledger->mutex = os_mutex_create(&ledger->memory);
    if (ledger->mutex == NULL)
        return error_memory_set(error, AREA);
    int32_t result = store_open(&ledger->memory, options, &ledger->store, &fresh, error);
    if (result != CFOIL_OK)
        return result;
    if (fresh)
        return fresh_fill(ledger, options->store, error);
    result = statements_make(ledger, error);
    /* An older file is read as it is, and brought to this version before it is written. */
    bool older = !ledger->read_only && ledger->store.version < STORE_VERSION;
    if (result == CFOIL_OK && older)
        result = schema_move_on(ledger, options->path, error);
    /* Personal data whose time is over. A till does not stand still when that fails: the next opening tries again. */
    uint32_t erased;
    if (result == CFOIL_OK)
        (void)person_sweep(ledger, &erased, NULL);
    return result;
}

static void body_free(struct ledger *ledger)
{
    for (int i = 0; i < STATEMENT_COUNT; i++)
        (void)sqlite3_finalize(ledger->statements[i]);
    rollup_statements_free(ledger->rollup, &ledger->memory);
    store_close(&ledger->memory, &ledger->store);
    os_mutex_destroy(&ledger->memory, ledger->mutex);
    struct memory memory = ledger->memory;
    memory_release(&memory, ledger);
}

int32_t ledger_open(const struct memory *memory, const cfoil_ledger_options *options, struct ledger **ledger,
                    cfoil_error_info *error)
{
    *ledger = NULL;
    struct ledger *body = memory_allocate(memory, sizeof *body);
    if (body == NULL)
        return error_memory_set(error, AREA);
    body->memory = *memory;
    atomic_init(&body->references, 1);
    int32_t result = body_open(body, options, error);
    if (result == CFOIL_OK)
        *ledger = body;
    else
        body_free(body);
    return result;
}

struct ledger *ledger_retain(struct ledger *ledger)
{
    atomic_fetch_add(&ledger->references, 1);
    return ledger;
}

void ledger_release(struct ledger *ledger)
{
    if (ledger == NULL || atomic_fetch_sub(&ledger->references, 1) != 1)
        return;
    checkpoint_last_write(ledger);
    body_free(ledger);
}

const struct memory *ledger_memory(const struct ledger *ledger)
{
    return &ledger->memory;
}

/* ---- Look-ups ---- */

int32_t ledger_device_load(struct ledger *ledger, const char *device, uint8_t *bytes, uint32_t capacity,
                           uint32_t *length, cfoil_error_info *error)
{
    *length = 0;
    os_mutex_lock(ledger->mutex);
    sqlite3_stmt *find = ledger->statements[STATEMENT_DEVICE_READ];
    int32_t result = CFOIL_OK;
    (void)sqlite3_bind_text(find, 1, device, -1, SQLITE_STATIC);
    int code = sqlite3_step(find);
    if (code == SQLITE_ROW) {
        const void *stored = sqlite3_column_blob(find, 0);
        int size = sqlite3_column_bytes(find, 0);
        if (stored == NULL && size > 0)
            result = error_memory_set(error, AREA);
        else if ((uint32_t)size > capacity)
            result = error_set(error, CFOIL_E_ARGUMENT_BUFFER, 0, AREA, "The device's memory is %d bytes long.", size);
        else if (size > 0)
            memcpy(bytes, stored, (size_t)size);
        if (result == CFOIL_OK)
            *length = (uint32_t)size;
    } else if (code != SQLITE_DONE) {
        result = store_error(ledger->store.database, code, error);
    }
    (void)sqlite3_reset(find);
    os_mutex_unlock(ledger->mutex);
    return result;
}

int32_t ledger_serial_refused(struct ledger *ledger, const char *currency, const char *serial, bool *refused,
                              cfoil_error_info *error)
{
    os_mutex_lock(ledger->mutex);
    sqlite3_stmt *find = ledger->statements[STATEMENT_SERIAL_FIND];
    (void)sqlite3_bind_text(find, 1, currency, -1, SQLITE_STATIC);
    (void)sqlite3_bind_text(find, 2, serial, -1, SQLITE_STATIC);
    int code = sqlite3_step(find);
    *refused = code == SQLITE_ROW;
    int32_t result = code == SQLITE_ROW || code == SQLITE_DONE ? CFOIL_OK
                                                               : store_error(ledger->store.database, code, error);
    (void)sqlite3_reset(find);
    os_mutex_unlock(ledger->mutex);
    return result;
}
