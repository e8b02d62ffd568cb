/*
 * Is every entry in its place and unaltered? Recomputes the whole chain. See ledger.h.
 */
#include "ledger/ledger.h"

#include "ledger/body.h"
#include "ledger/chain.h"
#include "ledger/checkpoint.h"
#include "ledger/hex.h"
#include "model/error.h"
#include "model/text.h"

#include <stdio.h>
#include <string.h>

#define AREA "ledger"

struct chain_check {
    int64_t expected; /* number that the next entry must have */
    uint8_t hash[CHAIN_HASH_SIZE];
    cfoil_ledger_check *told;
    struct checkpoint_state state;
    int32_t problem; /* CFOIL_E_MEMORY, when a signed entry could not be looked at */
    uint8_t trusted[KEY_SIZE];
    uint8_t noted[CHAIN_HASH_SIZE];
};

/* ---- Naming what is wrong ---- */

/* Only the first fault counts: what comes after it hangs on it. */
static bool fault_found(const struct chain_check *check)
{
    return check->told->text[0] != '\0';
}

static void fault_set(struct chain_check *check, int64_t number, const char *what)
{
    cfoil_ledger_check *told = check->told;
    if (fault_found(check))
        return;
    told->first_bad = number;
    (void)snprintf(told->text, sizeof told->text,
                   "Entry %lld %s. Keep the file as it is; what stands from there on needs other proof.",
                   (long long)number, what);
}

/* ---- One entry ---- */

static struct chain_text text_of(sqlite3_stmt *row, enum column column)
{
    struct chain_text text = {NULL, 0};
    if (sqlite3_column_type(row, (int)column) == SQLITE_NULL)
        return text;
    const void *bytes = sqlite3_column_blob(row, (int)column);
    text.bytes = bytes != NULL ? bytes : "";
    text.length = (size_t)sqlite3_column_bytes(row, (int)column);
    return text;
}

/* Another storage class can carry the same bytes, but we never wrote it. */
static bool types_right(sqlite3_stmt *row)
{
    int case_type = sqlite3_column_type(row, COLUMN_CASE);
    return sqlite3_column_type(row, COLUMN_TIME) == SQLITE_INTEGER &&
           sqlite3_column_type(row, COLUMN_KIND) == SQLITE_TEXT &&
           (case_type == SQLITE_NULL || case_type == SQLITE_TEXT) &&
           sqlite3_column_type(row, COLUMN_DISPOSITION) == SQLITE_INTEGER &&
           sqlite3_column_type(row, COLUMN_BODY) == SQLITE_TEXT &&
           sqlite3_column_type(row, COLUMN_PREVIOUS) == SQLITE_BLOB &&
           sqlite3_column_bytes(row, COLUMN_PREVIOUS) == CHAIN_HASH_SIZE &&
           sqlite3_column_type(row, COLUMN_HASH) == SQLITE_BLOB &&
           sqlite3_column_bytes(row, COLUMN_HASH) == CHAIN_HASH_SIZE;
}

/* Does the entry hash to what it says? `own` receives that hash. */
static bool hash_right(sqlite3_stmt *row, uint8_t own[CHAIN_HASH_SIZE])
{
    int64_t disposition = sqlite3_column_int64(row, COLUMN_DISPOSITION);
    if (!types_right(row) || disposition != (int32_t)disposition)
        return false;
    struct chain_entry entry = {
        .number = sqlite3_column_int64(row, COLUMN_NUMBER),
        .time_utc_ms = sqlite3_column_int64(row, COLUMN_TIME),
        .disposition = (int32_t)disposition,
        .kind = text_of(row, COLUMN_KIND),
        .case_id = text_of(row, COLUMN_CASE),
        .body = text_of(row, COLUMN_BODY),
    };
    chain_hash(sqlite3_column_blob(row, COLUMN_PREVIOUS), &entry, own);
    return memcmp(own, sqlite3_column_blob(row, COLUMN_HASH), CHAIN_HASH_SIZE) == 0;
}

/* A signed entry is of no case, and its text ends where it seems to. */
static bool plain_right(sqlite3_stmt *row, const char *body)
{
    return sqlite3_column_type(row, COLUMN_CASE) == SQLITE_NULL && sqlite3_column_int(row, COLUMN_DISPOSITION) == 0 &&
           body != NULL && strlen(body) == (size_t)sqlite3_column_bytes(row, COLUMN_BODY);
}

/* Is what it signs right? Looked at only when the entry itself is. */
static void signed_check(struct chain_check *check, sqlite3_stmt *row)
{
    const char *fault = NULL;
    struct signed_place place = {.number = check->expected - 1, .time_utc_ms = sqlite3_column_int64(row, COLUMN_TIME)};
    memcpy(place.hash, check->hash, sizeof place.hash);
    const char *kind = (const char *)sqlite3_column_text(row, COLUMN_KIND);
    const char *body = (const char *)sqlite3_column_text(row, COLUMN_BODY);
    int64_t signed_before = check->state.until;
    if (kind == NULL || body == NULL || checkpoint_entry_check(&check->state, kind, body, &place, &fault) != CFOIL_OK)
        check->problem = CFOIL_E_MEMORY;
    if (fault != NULL)
        fault_set(check, check->expected, fault);
    bool is_signed = check->state.until != signed_before;
    if (is_signed && !plain_right(row, body))
        fault_set(check, check->expected, "is signed, and says more than such an entry does");
}

/* Is it the entry that the caller has noted? */
static void noted_check(struct chain_check *check, int64_t number, const uint8_t own[CHAIN_HASH_SIZE])
{
    if (check->told->noted_hash != NULL && number == check->told->noted_entry &&
        memcmp(own, check->noted, CHAIN_HASH_SIZE) != 0)
        fault_set(check, number, "is not the one that was noted: this ledger was made again, or is another one");
}

static void entry_check(struct chain_check *check, sqlite3_stmt *row)
{
    int64_t number = sqlite3_column_int64(row, COLUMN_NUMBER);
    uint8_t own[CHAIN_HASH_SIZE];
    if (number > check->expected)
        fault_set(check, check->expected, "is missing");
    else if (number < check->expected)
        fault_set(check, check->expected, "has a foreign entry before it");
    else if (!hash_right(row, own))
        fault_set(check, number, "was altered or moved");
    else if (memcmp(sqlite3_column_blob(row, COLUMN_PREVIOUS), check->hash, CHAIN_HASH_SIZE) != 0)
        fault_set(check, number, "does not follow the one before it: entries were exchanged or removed there");
    else
        signed_check(check, row);
    if (!fault_found(check))
        noted_check(check, number, own);
    if (fault_found(check))
        return;
    memcpy(check->hash, own, CHAIN_HASH_SIZE);
    check->expected++;
}

/* ---- The head ---- */

/* The head tells how far the ledger once went, so that entries cut off at the end are missed. */
static void head_check(struct chain_check *check, sqlite3_stmt *head)
{
    int64_t last = check->expected - 1;
    int64_t number = sqlite3_column_int64(head, 0);
    const void *hash = sqlite3_column_blob(head, 1);
    bool sized = hash != NULL && sqlite3_column_bytes(head, 1) == CHAIN_HASH_SIZE;
    if (number > last)
        fault_set(check, check->expected, "is missing: entries were removed at the end");
    else if (number < last)
        fault_set(check, number < 0 ? 1 : number + 1, "was added by other hands");
    else if (sqlite3_column_int64(head, 2) != number || !sized || memcmp(hash, check->hash, CHAIN_HASH_SIZE) != 0)
        fault_set(check, last, "is not the one that the ledger's head names");
}

/* ---- What the caller knows from elsewhere ---- */

/* Whoever makes a ledger again can make it as long as wanted, but not with the store's key. */
static void foreknown_check(struct chain_check *check)
{
    const cfoil_ledger_check *told = check->told;
    if (told->noted_hash != NULL && told->noted_entry >= check->expected)
        fault_set(check, check->expected, "is missing: the ledger ends before the entry that was noted");
    if (told->trusted_key != NULL && !check->state.trusted_seen)
        fault_set(check, 1, "begins a ledger in which the trusted key has signed nothing: another one, or made again");
}

static int32_t foreknown_read(struct chain_check *check, cfoil_error_info *error)
{
    const cfoil_ledger_check *told = check->told;
    if (told->trusted_key != NULL) {
        if (!hex_text_read(told->trusted_key, check->trusted, sizeof check->trusted))
            return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                             "A public key is 64 hexadecimal digits in lower case.");
        check->state.trusted = check->trusted;
    }
    if (told->noted_hash == NULL)
        return CFOIL_OK;
    if (told->noted_entry < 1)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "Give the number of the noted entry, 1 or more.");
    return hex_text_read(told->noted_hash, check->noted, sizeof check->noted)
               ? CFOIL_OK
               : error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                           "The hash of an entry is 64 hexadecimal digits in lower case.");
}

/* ---- The whole ---- */

/* Reads rows and gives each to `use`. Answers SQLite's code, SQLITE_DONE when all were read. */
static int rows_check(sqlite3 *reader, const char *sql, struct chain_check *check, int64_t *count,
                      void (*use)(struct chain_check *check, sqlite3_stmt *row))
{
    sqlite3_stmt *rows = NULL;
    int code = sqlite3_prepare_v2(reader, sql, -1, &rows, NULL);
    if (code != SQLITE_OK)
        return code;
    for (*count = 0; (code = sqlite3_step(rows)) == SQLITE_ROW; ++*count) {
        if (!fault_found(check))
            use(check, rows);
    }
    (void)sqlite3_finalize(rows);
    return code;
}

static int chain_check_run(sqlite3 *reader, struct chain_check *check)
{
    int64_t heads = 0;
    int code = rows_check(reader, "SELECT " COLUMNS " FROM entry ORDER BY number", check, &check->told->entries,
                          entry_check);
    if (code == SQLITE_DONE && check->told->entries == 0)
        fault_set(check, 1, "is missing: every ledger begins with one");
    if (code == SQLITE_DONE)
        code = rows_check(reader, "SELECT number, hash, entries FROM head", check, &heads, head_check);
    if (code == SQLITE_DONE && heads != 1)
        fault_set(check, check->expected, "may be missing: the ledger's head, which names the newest entry, is gone");
    if (code == SQLITE_DONE)
        foreknown_check(check);
    return code;
}

/* The file could not be read to its end: where, and why. Answers the result code. */
static int32_t unreadable(struct chain_check *check, sqlite3 *reader, int code, cfoil_error_info *error)
{
    int32_t result = store_error(reader, code, error);
    if (result != CFOIL_E_LEDGER_DAMAGED && result != CFOIL_E_LEDGER_FAILED)
        return result;
    fault_set(check, check->expected, "cannot be read");
    return error_set(error, CFOIL_E_LEDGER_DAMAGED, 0, AREA, "%s", check->told->text);
}

static void found_tell(const struct chain_check *chain)
{
    cfoil_ledger_check *told = chain->told;
    if (chain->expected > 1)
        text_hex(chain->hash, sizeof chain->hash, told->head);
    if (chain->state.has_key)
        text_hex(chain->state.key, sizeof chain->state.key, told->key);
    told->signed_until = chain->state.until;
    told->checkpoints = chain->state.checkpoints;
}

static void intact_tell(cfoil_ledger_check *told)
{
    char tail[80] = "";
    if (told->signed_until > 0)
        (void)snprintf(tail, sizeof tail, " Signed up to entry %lld.", (long long)told->signed_until);
    (void)snprintf(told->text, sizeof told->text, "All %lld entries are in their places and unaltered.%s",
                   (long long)told->entries, tail);
}

int32_t ledger_verify(struct ledger *ledger, cfoil_ledger_check *check, cfoil_error_info *error)
{
    struct chain_check chain = {.expected = 1, .told = check};
    check->intact = 0;
    check->entries = 0;
    check->first_bad = 0;
    check->head[0] = '\0';
    check->text[0] = '\0';
    check->signed_until = 0;
    check->checkpoints = 0;
    check->key[0] = '\0';
    sqlite3 *reader;
    int32_t result = foreknown_read(&chain, error);
    if (result == CFOIL_OK)
        result = store_reader_open(&ledger->store, &reader, error);
    if (result != CFOIL_OK)
        return result;
    int code = chain_check_run(reader, &chain);
    if (code != SQLITE_DONE)
        result = unreadable(&chain, reader, code, error);
    (void)sqlite3_close(reader);
    if (result == CFOIL_OK && chain.problem != CFOIL_OK)
        result = error_memory_set(error, AREA);
    found_tell(&chain);
    if (result != CFOIL_OK || fault_found(&chain))
        return result;
    check->intact = 1;
    intact_tell(check);
    return CFOIL_OK;
}
