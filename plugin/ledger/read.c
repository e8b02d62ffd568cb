/*
 * Reading entries: one as JSON, or a period in order. See ledger.h.
 */
#include "ledger/ledger.h"

#include "ledger/body.h"
#include "ledger/chain.h"
#include "ledger/entry_json.h"
#include "model/error.h"
#include "model/json.h"
#include "model/json_scan.h"
#include "model/names.h"
#include "model/text.h"
#include "os/os.h"

#include <stdio.h>
#include <string.h>

#define AREA "ledger"

/* ---- One entry as JSON ---- */

int32_t ledger_body_parse(const char *body, cJSON **parsed)
{
    struct json_fault fault;
    size_t length = strlen(body);
    *parsed = NULL;
    /* We write one line each; cJSON alone would let pass what no other reader of JSON takes. */
    if (strchr(body, '\n') != NULL || strchr(body, '\r') != NULL || !json_scan(body, length, &fault))
        return CFOIL_OK;
    *parsed = cJSON_ParseWithLength(body, length);
    return *parsed != NULL ? CFOIL_OK : CFOIL_E_MEMORY; /* what json_scan() has passed, it refuses for nothing else */
}

/* A text from the file; one that is not UTF-8 any more is shown with '?' for what is not ASCII. NULL: SQLite had no
 * memory. */
static bool text_shown_add(cJSON *object, const char *key, const char *text)
{
    if (text == NULL)
        return false;
    size_t length = strlen(text);
    if (text_utf8_valid(text, length))
        return json_text_add(object, key, text);
    char *shown = cJSON_malloc(length + 1);
    if (shown == NULL)
        return false;
    for (size_t i = 0; i <= length; i++)
        shown[i] = (text[i] & 0x80) != 0 ? '?' : text[i];
    bool good = json_text_add(object, key, shown);
    cJSON_free(shown);
    return good;
}

/* The body as it stands in the file. One that other hands have made unreadable is shown as text. */
static bool body_add(cJSON *object, const char *body)
{
    cJSON *parsed;
    if (ledger_body_parse(body, &parsed) != CFOIL_OK)
        return false;
    if (parsed == NULL)
        return text_shown_add(object, "body", body);
    cJSON_Delete(parsed);
    cJSON *raw = cJSON_CreateRaw(body);
    if (raw != NULL && cJSON_AddItemToObject(object, "body", raw))
        return true;
    cJSON_Delete(raw);
    return false;
}

static bool hash_add(cJSON *object, const char *key, sqlite3_stmt *row, enum column column)
{
    char hex[2 * CHAIN_HASH_SIZE + 1] = "";
    const uint8_t *bytes = sqlite3_column_blob(row, (int)column);
    if (bytes != NULL && sqlite3_column_bytes(row, (int)column) == CHAIN_HASH_SIZE)
        text_hex(bytes, CHAIN_HASH_SIZE, hex);
    return json_text_add(object, key, hex);
}

static const char *text_of(sqlite3_stmt *row, enum column column)
{
    return (const char *)sqlite3_column_text(row, (int)column);
}

/* The case's id and disposition are hashed, so whoever recomputes the hash must see them. */
static bool case_add(cJSON *object, sqlite3_stmt *row)
{
    if (sqlite3_column_type(row, COLUMN_CASE) == SQLITE_NULL)
        return true;
    return text_shown_add(object, "case_id", text_of(row, COLUMN_CASE)) &&
           json_text_add(object, "disposition", name_disposition(sqlite3_column_int(row, COLUMN_DISPOSITION)));
}

char *entry_row_json(sqlite3_stmt *row)
{
    char time[TEXT_TIME_SIZE];
    text_time(sqlite3_column_int64(row, COLUMN_TIME), time);
    const char *body = text_of(row, COLUMN_BODY);
    cJSON *object = cJSON_CreateObject();
    bool good = body != NULL && json_text_add(object, "schema", "counterfoil.entry/1") &&
                json_integer_add(object, "entry", sqlite3_column_int64(row, COLUMN_NUMBER)) &&
                json_text_add(object, "time", time) && text_shown_add(object, "kind", text_of(row, COLUMN_KIND)) &&
                case_add(object, row) && body_add(object, body) && hash_add(object, "previous", row, COLUMN_PREVIOUS) &&
                hash_add(object, "hash", row, COLUMN_HASH);
    char *text = good ? json_line(object) : NULL;
    cJSON_Delete(object);
    return text;
}

/* The row that a bound statement finds. `what` names it for the error. */
static int32_t entry_find(struct ledger *ledger, sqlite3_stmt *find, const char *what, char **text,
                          cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    int code = sqlite3_step(find);
    if (code == SQLITE_ROW) {
        *text = entry_row_json(find);
        if (*text == NULL)
            result = error_memory_set(error, AREA);
    } else if (code == SQLITE_DONE) {
        result = error_set(error, CFOIL_E_MISSING_ENTRY, 0, AREA, "The ledger has no %.80s.", what);
    } else {
        result = store_error(ledger->store.database, code, error);
    }
    (void)sqlite3_reset(find);
    return result;
}

int32_t ledger_entry_text(struct ledger *ledger, int64_t number, char **text, cfoil_error_info *error)
{
    char what[40];
    (void)snprintf(what, sizeof what, "entry %lld", (long long)number);
    *text = NULL;
    os_mutex_lock(ledger->mutex);
    sqlite3_stmt *find = ledger->statements[STATEMENT_ENTRY_READ];
    (void)sqlite3_bind_int64(find, 1, number);
    int32_t result = entry_find(ledger, find, what, text, error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

int32_t ledger_case_text(struct ledger *ledger, const char *case_id, char **text, cfoil_error_info *error)
{
    char what[80];
    (void)snprintf(what, sizeof what, "case %.64s", case_id);
    *text = NULL;
    os_mutex_lock(ledger->mutex);
    sqlite3_stmt *find = ledger->statements[STATEMENT_CASE_READ];
    (void)sqlite3_bind_text(find, 1, case_id, -1, SQLITE_STATIC);
    int32_t result = entry_find(ledger, find, what, text, error);
    (void)sqlite3_clear_bindings(find); /* the text is the caller's */
    os_mutex_unlock(ledger->mutex);
    return result;
}

/* ---- A period ---- */

/* Hands over one entry: 1 = go on, 0 = the visitor has enough, -1 = no memory. */
static int entry_visit(sqlite3_stmt *row, ledger_visit visit, void *user)
{
    const char *kind = text_of(row, 1);
    const char *body = text_of(row, 3);
    if (kind == NULL || body == NULL)
        return -1;
    return visit(user, sqlite3_column_int64(row, 0), kind, sqlite3_column_int64(row, 2), body) ? 1 : 0;
}

static int32_t rows_walk(sqlite3 *reader, sqlite3_stmt *rows, ledger_visit visit, void *user, cfoil_error_info *error)
{
    int code = SQLITE_DONE;
    int more = 1;
    while (more == 1 && (code = sqlite3_step(rows)) == SQLITE_ROW)
        more = entry_visit(rows, visit, user);
    if (more < 0)
        return error_memory_set(error, AREA);
    return code == SQLITE_ROW || code == SQLITE_DONE ? CFOIL_OK : store_error(reader, code, error);
}

/* Walks the rows of a query with the two numbers ?1 and ?2. */
static int32_t entries_walk(struct ledger *ledger, const char *sql, int64_t first, int64_t second, ledger_visit visit,
                            void *user, cfoil_error_info *error)
{
    sqlite3 *reader;
    int32_t result = store_reader_open(&ledger->store, &reader, error);
    if (result != CFOIL_OK)
        return result;
    sqlite3_stmt *rows = NULL;
    int code = sqlite3_prepare_v2(reader, sql, -1, &rows, NULL);
    if (code == SQLITE_OK) {
        (void)sqlite3_bind_int64(rows, 1, first);
        (void)sqlite3_bind_int64(rows, 2, second);
    }
    result = code == SQLITE_OK ? rows_walk(reader, rows, visit, user, error) : store_error(reader, code, error);
    (void)sqlite3_finalize(rows);
    (void)sqlite3_close(reader);
    return result;
}

int32_t ledger_walk(struct ledger *ledger, int64_t from_utc_ms, int64_t until_utc_ms, ledger_visit visit, void *user,
                    cfoil_error_info *error)
{
    return entries_walk(ledger,
                        "SELECT number, kind, time_utc_ms, body FROM entry"
                        " WHERE (?1 = 0 OR time_utc_ms >= ?1) AND (?2 = 0 OR time_utc_ms < ?2)"
                        " ORDER BY number",
                        from_utc_ms, until_utc_ms, visit, user, error);
}

int32_t ledger_walk_newest(struct ledger *ledger, uint32_t entries, ledger_visit visit, void *user,
                           cfoil_error_info *error)
{
    return entries_walk(ledger,
                        "SELECT number, kind, time_utc_ms, body FROM entry"
                        " WHERE number > (SELECT max(number) FROM entry) - ?1 AND number > ?2"
                        " ORDER BY number",
                        entries, 0, visit, user, error);
}
