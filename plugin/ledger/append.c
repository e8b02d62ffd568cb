/*
 * Appending: all items and the device's memory in one durable transaction, or nothing. See ledger.h.
 */
#include "ledger/append.h"

#include "ledger/body.h"
#include "ledger/chain.h"
#include "ledger/checkpoint.h"
#include "ledger/index.h"
#include "ledger/rollup.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <string.h>

#define AREA              "ledger"
#define DEVICE_MEMORY_MAX 64

struct head {
    int64_t number;
    uint8_t hash[CHAIN_HASH_SIZE];
};

static int32_t failure(struct ledger *ledger, int code, cfoil_error_info *error)
{
    return store_error(ledger->store.database, code, error);
}

/* Runs a statement that gives no rows. `code` is what binding its values answered, all answers joined by `|`: any but
 * SQLITE_OK is a failure, and binding fails in one way only (no memory, or a text longer than SQLite takes). */
static int32_t statement_run(struct ledger *ledger, enum statement which, int code, cfoil_error_info *error)
{
    sqlite3_stmt *statement = ledger->statements[which];
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    int32_t result = code == SQLITE_DONE ? CFOIL_OK : failure(ledger, code, error);
    (void)sqlite3_reset(statement);
    return result;
}

/* ---- The head ---- */

/* Read inside the transaction, since other processes append too. */
static int32_t head_read(struct ledger *ledger, struct head *head, cfoil_error_info *error)
{
    sqlite3_stmt *statement = ledger->statements[STATEMENT_HEAD_READ];
    int code = sqlite3_step(statement);
    int32_t result = CFOIL_OK;
    if (code == SQLITE_ROW) {
        head->number = sqlite3_column_int64(statement, 0);
        const void *hash = sqlite3_column_blob(statement, 1);
        if (hash != NULL && sqlite3_column_bytes(statement, 1) == CHAIN_HASH_SIZE)
            memcpy(head->hash, hash, CHAIN_HASH_SIZE);
        else
            code = SQLITE_DONE;
    }
    if (code == SQLITE_DONE)
        result = error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA,
                           "The ledger has lost its head: verify it, keep it, and go on with a new file.");
    else if (code != SQLITE_ROW)
        result = failure(ledger, code, error);
    (void)sqlite3_reset(statement);
    return result;
}

static int32_t head_write(struct ledger *ledger, const struct head *head, cfoil_error_info *error)
{
    sqlite3_stmt *statement = ledger->statements[STATEMENT_HEAD_WRITE];
    int code = sqlite3_bind_int64(statement, 1, head->number);
    code |= sqlite3_bind_blob(statement, 2, head->hash, CHAIN_HASH_SIZE, SQLITE_STATIC);
    return statement_run(ledger, STATEMENT_HEAD_WRITE, code, error);
}

/* ---- One entry ---- */

static bool disposition_refuses(int32_t disposition)
{
    return disposition == CFOIL_DISPOSITION_NOT_TAKEN || disposition == CFOIL_DISPOSITION_SET_ASIDE;
}

static int32_t case_check(struct ledger *ledger, const struct ledger_item *item, cfoil_error_info *error)
{
    if (item->case_id == NULL)
        return CFOIL_OK;
    sqlite3_stmt *find = ledger->statements[STATEMENT_CASE_FIND];
    (void)sqlite3_bind_text(find, 1, item->case_id, -1, SQLITE_STATIC);
    int code = sqlite3_step(find);
    int32_t ended = code == SQLITE_ROW ? sqlite3_column_int(find, 0) : CFOIL_DISPOSITION_NONE;
    (void)sqlite3_reset(find);
    if (code == SQLITE_DONE)
        return CFOIL_OK;
    if (code != SQLITE_ROW)
        return failure(ledger, code, error);
    if (disposition_refuses(ended) && item->disposition == CFOIL_DISPOSITION_TAKEN)
        return error_set(error, CFOIL_E_RULE_REFUSED, 0, AREA,
                         "The note of this case was refused: do not take it, ask for another note.");
    return error_set(error, CFOIL_E_STATE_CASE_ENDED, 0, AREA,
                     "This case has its disposition already: open a new case for a new note.");
}

/* A NULL case id binds as NULL. */
static int entry_bind(sqlite3_stmt *statement, const struct chain_entry *entry, const uint8_t *previous,
                      const uint8_t *hash)
{
    int code = sqlite3_bind_int64(statement, 1 + COLUMN_NUMBER, entry->number);
    code |= sqlite3_bind_int64(statement, 1 + COLUMN_TIME, entry->time_utc_ms);
    code |= sqlite3_bind_text(statement, 1 + COLUMN_KIND, entry->kind.bytes, -1, SQLITE_STATIC);
    code |= sqlite3_bind_text(statement, 1 + COLUMN_CASE, entry->case_id.bytes, -1, SQLITE_STATIC);
    code |= sqlite3_bind_int(statement, 1 + COLUMN_DISPOSITION, entry->disposition);
    code |= sqlite3_bind_blob(statement, 1 + COLUMN_PREVIOUS, previous, CHAIN_HASH_SIZE, SQLITE_STATIC);
    code |= sqlite3_bind_blob(statement, 1 + COLUMN_HASH, hash, CHAIN_HASH_SIZE, SQLITE_STATIC);
    code |= sqlite3_bind_text(statement, 1 + COLUMN_BODY, entry->body.bytes, -1, SQLITE_STATIC);
    return code;
}

static int32_t serial_add(struct ledger *ledger, const struct ledger_item *item, int64_t number,
                          cfoil_error_info *error)
{
    if (item->serial == NULL || item->currency == NULL)
        return CFOIL_OK;
    sqlite3_stmt *statement = ledger->statements[STATEMENT_SERIAL_ADD];
    int code = sqlite3_bind_text(statement, 1, item->currency, -1, SQLITE_STATIC);
    code |= sqlite3_bind_text(statement, 2, item->serial, -1, SQLITE_STATIC);
    code |= sqlite3_bind_int64(statement, 3, number);
    return statement_run(ledger, STATEMENT_SERIAL_ADD, code, error);
}

/* Presentations and the device's words, which are most of the entries, have no place in the look-up tables. */
static int32_t index_add(struct ledger *ledger, const struct ledger_item *item, int64_t number, cfoil_error_info *error)
{
    struct index_entry entry = {number, item->time_utc_ms, item->kind, item->case_id, item->disposition, item->body};
    int code = index_entry_add(ledger->store.database, &entry);
    return code == SQLITE_OK ? CFOIL_OK : failure(ledger, code, error);
}

/* Adds one entry behind the head, which moves on. */
static int32_t entry_add(struct ledger *ledger, const struct ledger_item *item, struct head *head,
                         cfoil_error_info *error)
{
    int32_t result = case_check(ledger, item, error);
    if (result != CFOIL_OK)
        return result;
    struct chain_entry entry = {
        .number = head->number + 1,
        .time_utc_ms = item->time_utc_ms,
        .disposition = item->disposition,
        .kind = chain_text_of(item->kind),
        .case_id = chain_text_of(item->case_id),
        .body = chain_text_of(item->body),
    };
    struct head next = {.number = entry.number};
    chain_hash(head->hash, &entry, next.hash);
    int code = entry_bind(ledger->statements[STATEMENT_ENTRY_ADD], &entry, head->hash, next.hash);
    result = statement_run(ledger, STATEMENT_ENTRY_ADD, code, error);
    if (result == CFOIL_OK)
        result = serial_add(ledger, item, entry.number, error);
    if (result == CFOIL_OK)
        result = index_add(ledger, item, entry.number, error);
    if (result == CFOIL_OK) {
        *head = next;
        ledger->appended = true;
    }
    return result;
}

/* The sums go with the entries: both are there, or neither. */
static int32_t sums_advance(struct ledger *ledger, cfoil_error_info *error)
{
    int code = ledger->appended ? rollup_advance(ledger) : SQLITE_OK;
    ledger->appended = false;
    return code == SQLITE_OK ? CFOIL_OK : failure(ledger, code, error);
}

int32_t append_first(struct ledger *ledger, const struct ledger_item *item, cfoil_error_info *error)
{
    struct head head = {0};
    int32_t result = entry_add(ledger, item, &head, error);
    if (result == CFOIL_OK)
        result = head_write(ledger, &head, error);
    int code = result == CFOIL_OK ? rollup_begin(ledger) : SQLITE_OK;
    return code == SQLITE_OK ? result : failure(ledger, code, error);
}

/* ---- The transaction ---- */

/* A checkpoint is due after each so many entries of the whole ledger, whichever process adds them. */
static void checkpoint_count(struct ledger *ledger, const char *kind, int64_t before, int64_t after)
{
    int64_t every = ledger->checkpoint_every;
    ledger->unsigned_entries = strcmp(kind, LEDGER_KIND_CHECKPOINT) != 0;
    if (every > 0 && ledger->unsigned_entries && before / every != after / every)
        ledger->checkpoint_due = true;
}

/* *added = how many there are, also when the next one is refused. */
static int32_t items_add(struct ledger *ledger, const struct ledger_item *items, uint32_t count,
                         struct ledger_receipt *receipts, uint32_t *added, cfoil_error_info *error)
{
    struct head head = {0};
    int32_t result = head_read(ledger, &head, error);
    *added = 0;
    for (uint32_t i = 0; result == CFOIL_OK && i < count; i++) {
        result = entry_add(ledger, &items[i], &head, error);
        *added += result == CFOIL_OK;
        if (receipts != NULL && result == CFOIL_OK) {
            receipts[i].number = head.number;
            text_hex(head.hash, sizeof head.hash, receipts[i].hash);
        }
    }
    if (result == CFOIL_OK)
        result = head_write(ledger, &head, error);
    if (result == CFOIL_OK)
        checkpoint_count(ledger, items[count - 1].kind, head.number - count, head.number);
    return result;
}

static int32_t device_write(struct ledger *ledger, const struct ledger_device_memory *device, cfoil_error_info *error)
{
    if (device == NULL)
        return CFOIL_OK;
    sqlite3_stmt *statement = ledger->statements[STATEMENT_DEVICE_WRITE];
    int code = sqlite3_bind_text(statement, 1, device->device, -1, SQLITE_STATIC);
    code |= device->length > 0 ? sqlite3_bind_blob(statement, 2, device->bytes, (int)device->length, SQLITE_STATIC)
                               : sqlite3_bind_zeroblob(statement, 2, 0);
    return statement_run(ledger, STATEMENT_DEVICE_WRITE, code, error);
}

/* Everything that one ledger_append() adds. */
struct addition {
    const struct ledger_item *items;
    uint32_t count;
    const struct ledger_device_memory *device;
    struct ledger_receipt *receipts;
};

static int32_t addition_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    const struct addition *addition = user;
    uint32_t added;
    int32_t result = CFOIL_OK;
    if (addition->count > 0)
        result = items_add(ledger, addition->items, addition->count, addition->receipts, &added, error);
    return result == CFOIL_OK ? device_write(ledger, addition->device, error) : result;
}

static int32_t work_locked(struct ledger *ledger, ledger_work work, void *user, cfoil_error_info *error)
{
    /* IMMEDIATE: who waits for another process waits here, before anything was read. */
    int32_t result = statement_run(ledger, STATEMENT_BEGIN, SQLITE_OK, error);
    if (result != CFOIL_OK)
        return result;
    ledger->appended = false;
    result = work(ledger, user, error);
    if (result == CFOIL_OK)
        result = checkpoint_due_write(ledger, error);
    if (result == CFOIL_OK)
        result = sums_advance(ledger, error);
    if (result == CFOIL_OK)
        result = statement_run(ledger, STATEMENT_COMMIT, SQLITE_OK, error);
    /* SQLite ends a transaction by itself after some failures; its own trouble in doing so changes nothing. */
    if (result != CFOIL_OK && sqlite3_get_autocommit(ledger->store.database) == 0)
        (void)statement_run(ledger, STATEMENT_ROLLBACK, SQLITE_OK, NULL);
    return result;
}

int32_t ledger_transact(struct ledger *ledger, ledger_work work, void *user, cfoil_error_info *error)
{
    if (ledger->read_only)
        return store_error(NULL, SQLITE_READONLY, error);
    os_mutex_lock(ledger->mutex);
    int32_t result = work_locked(ledger, work, user, error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

int32_t append_inside(struct ledger *ledger, const struct ledger_item *item, struct ledger_receipt *receipt,
                      cfoil_error_info *error)
{
    uint32_t added;
    return items_add(ledger, item, 1, receipt, &added, error);
}

int32_t append_all_inside(struct ledger *ledger, const struct ledger_item *items, uint32_t count, uint32_t *added,
                          cfoil_error_info *error)
{
    return items_add(ledger, items, count, NULL, added, error);
}

int32_t append_head_read(struct ledger *ledger, int64_t *number, uint8_t hash[CHAIN_HASH_SIZE], cfoil_error_info *error)
{
    struct head head = {0};
    int32_t result = head_read(ledger, &head, error);
    *number = head.number;
    memcpy(hash, head.hash, CHAIN_HASH_SIZE);
    return result;
}

int32_t append_newest_read(struct ledger *ledger, struct signed_receipt *receipt, cfoil_error_info *error)
{
    struct head head = {0};
    if (receipt == NULL)
        return CFOIL_OK;
    int32_t result = head_read(ledger, &head, error);
    if (result != CFOIL_OK)
        return result;
    receipt->entry.number = head.number;
    text_hex(head.hash, sizeof head.hash, receipt->entry.hash);
    int code = store_integer_read(ledger->store.database,
                                  "SELECT time_utc_ms FROM entry WHERE number = (SELECT number FROM head)",
                                  &receipt->time_utc_ms);
    return code == SQLITE_OK ? CFOIL_OK : failure(ledger, code, error);
}

int32_t ledger_append(struct ledger *ledger, const struct ledger_item *items, uint32_t count,
                      const struct ledger_device_memory *device_memory, struct ledger_receipt *receipts,
                      cfoil_error_info *error)
{
    if (count == 0 && device_memory == NULL)
        return CFOIL_OK;
    if (device_memory != NULL && device_memory->length > DEVICE_MEMORY_MAX)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "A device's memory must be at most %d bytes.",
                         DEVICE_MEMORY_MAX);
    struct addition addition = {items, count, device_memory, receipts};
    int32_t result = ledger_transact(ledger, addition_run, &addition, error);
    if (result != CFOIL_OK && receipts != NULL)
        memset(receipts, 0, count * sizeof receipts[0]);
    return result;
}
