/*
 * The look-up tables, made from entries. See index.h.
 */
#include "ledger/index.h"

#include "ledger/custody.h"
#include "ledger/hex.h"
#include "ledger/key_file.h"
#include "ledger/rows.h"

#include <string.h>

/* ---- What a body says ---- */

/* "" when it says nothing. */
static const char *text_in(const cJSON *body, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, key));
    return text != NULL ? text : "";
}

static int64_t number_in(const cJSON *body, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(body, key);
    bool whole = cJSON_IsNumber(item) && item->valuedouble > -9.0e15 && item->valuedouble < 9.0e15;
    return whole ? (int64_t)item->valuedouble : 0;
}

/* ---- A case that ended, or one that began without a customer ---- */

static int case_write(sqlite3 *database, const struct index_entry *entry, const char *case_id, const cJSON *body)
{
    struct row_value values[] = {
        row_text(case_id),
        row_number(entry->number),
        row_text(text_in(body, "sale")),
        row_text(text_in(body, "lane")),
        row_text(text_in(body, "currency")),
        row_number(number_in(body, "value_minor")),
        row_text(text_in(body, "serial")),
        row_number(entry->disposition),
    };
    return rows_run(database,
                    "INSERT OR REPLACE INTO case_index(case_id, entry, sale, lane, currency, value_minor, serial,"
                    " disposition) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                    values, (int)(sizeof values / sizeof values[0]));
}

/* ---- Where a note is ---- */

static int custody_write(sqlite3 *database, const struct index_entry *entry, const char *case_id, const char *state,
                         const cJSON *body)
{
    struct row_value values[] = {
        row_text(case_id),
        row_text(state),
        row_number(entry->time_utc_ms),
        row_number(entry->number),
        row_text(text_in(body, "envelope")),
        row_text(text_in(body, "place")),
        row_text(text_in(body, "holder")),
    };
    return rows_run(database,
                    "INSERT OR REPLACE INTO custody(case_id, state, since_utc_ms, entry, envelope, place, holder)"
                    " VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                    values, (int)(sizeof values / sizeof values[0]));
}

/* ---- Cases of another ledger ---- */

/* Notes of another store are in its hands, not in ours: they stand in a table of their own, where serial numbers are
 * looked up but nothing is counted, moved or held against a sale. */
static const cJSON *origin_of(const cJSON *body)
{
    const cJSON *origin = cJSON_GetObjectItemCaseSensitive(body, "origin");
    return cJSON_IsObject(origin) ? origin : NULL;
}

static int elsewhere_write(sqlite3 *database, const struct index_entry *entry, const char *case_id, const char *state,
                           const cJSON *body)
{
    const cJSON *origin = origin_of(body);
    struct row_value source[] = {row_text(text_in(origin, "ledger")), row_text(text_in(origin, "store"))};
    int code = rows_run(database, "INSERT OR IGNORE INTO source(ledger, store) VALUES(?1, ?2)", source, 2);
    struct row_value values[] = {
        source[0],
        source[1],
        row_text(case_id),
        row_number(entry->number),
        row_text(text_in(body, "lane")),
        row_text(text_in(body, "currency")),
        row_number(number_in(body, "value_minor")),
        row_text(text_in(body, "serial")),
        row_number(entry->disposition),
        row_text(state),
    };
    return code != SQLITE_OK
               ? code
               : rows_run(database,
                          "INSERT OR REPLACE INTO case_elsewhere(case_id, entry, source, lane, currency, value_minor,"
                          " serial, disposition, state) SELECT ?3, ?4, id, ?5, ?6, ?7, ?8, ?9, ?10 FROM source"
                          " WHERE ledger = ?1 AND store = ?2",
                          values, (int)(sizeof values / sizeof values[0]));
}

static int elsewhere_move(sqlite3 *database, const struct index_entry *entry, const char *case_id, const char *state,
                          const cJSON *body)
{
    struct row_value values[] = {row_text(case_id), row_text(state)};
    if (strcmp(text_in(body, "move"), custody_move_name(CFOIL_CUSTODY_FIND)) == 0)
        return elsewhere_write(database, entry, case_id, state, body);
    return rows_run(database, "UPDATE case_elsewhere SET state = ?2 WHERE case_id = ?1", values, 2);
}

/* ---- A case, and a step of custody ---- */

static int case_add(sqlite3 *database, const struct index_entry *entry, const cJSON *body)
{
    if (entry->case_id == NULL)
        return SQLITE_OK;
    if (origin_of(body) != NULL) {
        const char *there = custody_state_of_disposition(entry->disposition, text_in(body, "envelope"));
        return elsewhere_write(database, entry, entry->case_id, there != NULL ? there : "", body);
    }
    struct row_value values[] = {row_text(entry->case_id)};
    int code = case_write(database, entry, entry->case_id, body);
    if (code == SQLITE_OK)
        code = rows_run(database, "DELETE FROM open_case WHERE case_id = ?1", values, 1);
    const char *state = custody_state_of_disposition(entry->disposition, text_in(body, "envelope"));
    if (code == SQLITE_OK && state != NULL)
        code = custody_write(database, entry, entry->case_id, state, body);
    return code;
}

static int custody_add(sqlite3 *database, const struct index_entry *entry, const cJSON *body)
{
    const char *case_id = text_in(body, "case");
    const char *state = text_in(body, "state");
    if (case_id[0] == '\0' || state[0] == '\0')
        return SQLITE_OK;
    if (origin_of(body) != NULL)
        return elsewhere_move(database, entry, case_id, state, body);
    int code = SQLITE_OK;
    if (strcmp(text_in(body, "move"), custody_move_name(CFOIL_CUSTODY_FIND)) == 0)
        code = case_write(database, entry, case_id, body);
    return code == SQLITE_OK ? custody_write(database, entry, case_id, state, body) : code;
}

/* ---- Rules of the store ---- */

static int setting_add(sqlite3 *database, const struct index_entry *entry, const cJSON *body)
{
    struct row_value values[] = {row_text(text_in(body, "name")), row_text(text_in(body, "value")),
                                 row_number(entry->number)};
    return rows_run(database, "INSERT OR REPLACE INTO setting(name, value, entry) VALUES(?1, ?2, ?3)", values, 3);
}

/* ---- The store's keys ---- */

static int key_row_add(sqlite3 *database, const struct index_entry *entry, const char *kind, const uint8_t *bytes)
{
    char id[KEY_ID_SIZE];
    key_id_make(bytes, id);
    struct row_value values[] = {row_text(kind), row_number(entry->time_utc_ms), row_text(id),
                                 row_bytes(bytes, (int)KEY_SIZE)};
    int code = rows_run(database, "UPDATE key SET until_utc_ms = ?2 WHERE kind = ?1 AND until_utc_ms = 0", values, 2);
    return code != SQLITE_OK ? code
                             : rows_run(database,
                                        "INSERT OR REPLACE INTO key(id, kind, public_key, since_utc_ms, until_utc_ms)"
                                        " VALUES(?3, ?1, ?4, ?2, 0)",
                                        values, 4);
}

static int key_add(sqlite3 *database, const struct index_entry *entry, const cJSON *body)
{
    uint8_t bytes[KEY_SIZE];
    int code = SQLITE_OK;
    if (hex_read(body, "signing_public", bytes, sizeof bytes))
        code = key_row_add(database, entry, "signing", bytes);
    if (code == SQLITE_OK && hex_read(body, "box_check", bytes, sizeof bytes))
        code = key_row_add(database, entry, "box", bytes);
    return code;
}

/* ---- One entry, and all ---- */

int index_entry_add(sqlite3 *database, const struct index_entry *entry)
{
    static const struct {
        const char *kind;
        int (*add)(sqlite3 *database, const struct index_entry *entry, const cJSON *body);
    } kinds[] = {{LEDGER_KIND_CASE, case_add},
                 {LEDGER_KIND_CUSTODY, custody_add},
                 {LEDGER_KIND_SETTING, setting_add},
                 {LEDGER_KIND_KEY, key_add}};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(entry->kind, kinds[i].kind) != 0)
            continue;
        cJSON *body;
        if (ledger_body_parse(entry->body, &body) != CFOIL_OK)
            return SQLITE_NOMEM;
        int code = kinds[i].add(database, entry, body);
        cJSON_Delete(body);
        return code;
    }
    return SQLITE_OK;
}

static int row_add(sqlite3 *database, sqlite3_stmt *row)
{
    struct index_entry entry = {
        .number = sqlite3_column_int64(row, 0),
        .time_utc_ms = sqlite3_column_int64(row, 1),
        .kind = (const char *)sqlite3_column_text(row, 2),
        .case_id = (const char *)sqlite3_column_text(row, 3),
        .disposition = sqlite3_column_int(row, 4),
        .body = (const char *)sqlite3_column_text(row, 5),
    };
    bool lost = entry.case_id == NULL && sqlite3_column_type(row, 3) != SQLITE_NULL;
    if (lost || entry.kind == NULL || entry.body == NULL)
        return SQLITE_NOMEM;
    return index_entry_add(database, &entry);
}

int index_make(sqlite3 *database)
{
    sqlite3_stmt *rows = NULL;
    int code = sqlite3_exec(
        database,
        "DELETE FROM case_index; DELETE FROM case_elsewhere; DELETE FROM custody; DELETE FROM setting;"
        " DELETE FROM key",
        NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = rows_begin(database,
                          "SELECT number, time_utc_ms, kind, case_id, disposition, body FROM entry"
                          " WHERE kind IN ('" LEDGER_KIND_CASE "', '" LEDGER_KIND_CUSTODY "', '" LEDGER_KIND_SETTING
                          "', '" LEDGER_KIND_KEY "') ORDER BY number",
                          NULL, 0, &rows);
    if (code != SQLITE_OK)
        return code;
    while ((code = sqlite3_step(rows)) == SQLITE_ROW) {
        code = row_add(database, rows);
        if (code != SQLITE_OK)
            break;
    }
    (void)sqlite3_finalize(rows);
    return code == SQLITE_DONE ? SQLITE_OK : code;
}
