/*
 * Lists for screens: open cases, notes in custody, one case, staff, rules. See keep.h.
 */
#include "ledger/keep.h"

#include "ledger/body.h"
#include "ledger/columns.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/names.h"
#include "model/text.h"
#include "os/os.h"

#include <string.h>

#define AREA "ledger"

/* ---- One row of each list ---- */

static bool open_case_add(cJSON *item, sqlite3_stmt *row)
{
    cJSON *state = NULL;
    const char *text = (const char *)sqlite3_column_text(row, 6);
    bool good = text != NULL && column_text_add(item, "case_id", row, 0) && column_text_add(item, "lane", row, 1) &&
                column_text_add(item, "sale", row, 2) && column_text_add(item, "currency", row, 3) &&
                column_text_add(item, "serial", row, 4) && column_time_add(item, "updated", row, 5) &&
                ledger_body_parse(text, &state) == CFOIL_OK;
    const cJSON *value = cJSON_GetObjectItemCaseSensitive(state, "value_minor");
    if (good && cJSON_IsNumber(value))
        good = json_number_add(item, "value_minor", value->valuedouble);
    cJSON_Delete(state);
    return good;
}

static bool custody_add(cJSON *item, sqlite3_stmt *row)
{
    return column_text_add(item, "case_id", row, 0) && column_text_add(item, "state", row, 1) &&
           column_time_add(item, "since", row, 2) && column_number_add(item, "entry", row, 3) &&
           column_text_add(item, "envelope", row, 4) && column_text_add(item, "place", row, 5) &&
           column_text_add(item, "holder", row, 6) && column_text_add(item, "currency", row, 7) &&
           column_number_add(item, "value_minor", row, 8) && column_text_add(item, "serial", row, 9) &&
           column_text_add(item, "lane", row, 10) && column_text_add(item, "sale", row, 11) &&
           json_text_add(item, "disposition",
                         sqlite3_column_int(row, 12) == CFOIL_DISPOSITION_NONE
                             ? NULL
                             : name_disposition(sqlite3_column_int(row, 12)));
}

static bool entry_add(cJSON *item, sqlite3_stmt *row)
{
    return column_number_add(item, "entry", row, 0) && column_time_add(item, "time", row, 1) &&
           column_text_add(item, "kind", row, 2) && column_body_add(item, "body", row, 3);
}

static bool staff_add(cJSON *item, sqlite3_stmt *row)
{
    return column_text_add(item, "staff", row, 0) && column_text_add(item, "role", row, 1) &&
           column_number_add(item, "failures", row, 2) && column_time_add(item, "locked_until", row, 3);
}

static bool setting_add(cJSON *item, sqlite3_stmt *row)
{
    return column_text_add(item, "name", row, 0) && column_text_add(item, "value", row, 1) &&
           column_number_add(item, "entry", row, 2);
}

static bool key_add(cJSON *item, sqlite3_stmt *row)
{
    return column_text_add(item, "public_key", row, 0) && column_time_add(item, "since", row, 1) &&
           column_time_add(item, "until", row, 2);
}

/* ---- The lists ---- */

static const struct list_kind {
    int32_t list;
    const char *name;
    const char *sql; /* ?1 narrows it, '' = everything */
    bool (*add)(cJSON *item, sqlite3_stmt *row);
} list_kinds[] = {
    {CFOIL_LIST_OPEN_CASES, "open_cases",
     "SELECT case_id, lane, sale, currency, serial, updated_utc_ms, state FROM open_case"
     " WHERE ?1 = '' OR lane = ?1 ORDER BY case_id",
     open_case_add},
    {CFOIL_LIST_CUSTODY, "custody",
     "SELECT case_id, state, since_utc_ms, custody.entry, envelope, place, holder, currency, value_minor, serial, lane,"
     " sale, disposition FROM custody JOIN case_index USING(case_id)"
     " WHERE ?1 = '' OR state = ?1 OR (?1 = 'held' AND state IN ('set_aside', 'found', 'sealed'))"
     " ORDER BY since_utc_ms, custody.entry",
     custody_add},
    /* Custody entries carry the case in their body only. */
    {CFOIL_LIST_CASE, "case",
     "SELECT number, time_utc_ms, kind, body FROM entry WHERE case_id = ?1"
     " UNION ALL SELECT number, time_utc_ms, kind, body FROM entry WHERE kind = 'custody'"
     " AND instr(body, '\"case\":\"' || ?1 || '\"') > 0 ORDER BY number",
     entry_add},
    {CFOIL_LIST_STAFF, "staff",
     "SELECT staff, role, failures, locked_until_utc_ms FROM staff WHERE ?1 = '' OR role = ?1 ORDER BY staff",
     staff_add},
    {CFOIL_LIST_SETTINGS, "settings", "SELECT name, value, entry FROM setting WHERE ?1 = '' OR name = ?1 ORDER BY name",
     setting_add},
    {CFOIL_LIST_KEYS, "keys",
     "SELECT lower(hex(public_key)), since_utc_ms, until_utc_ms FROM key"
     " WHERE kind = 'signing' AND (?1 = '' OR lower(hex(public_key)) = ?1) ORDER BY since_utc_ms, until_utc_ms = 0",
     key_add},
};

static const struct list_kind *list_find(int32_t list)
{
    for (size_t i = 0; i < sizeof list_kinds / sizeof list_kinds[0]; i++) {
        if (list_kinds[i].list == list)
            return &list_kinds[i];
    }
    return NULL;
}

static int32_t list_fill(struct ledger *ledger, const struct list_kind *kind, const char *only, cJSON *items,
                         cfoil_error_info *error)
{
    sqlite3 *reader;
    if (ledger->store.version < 2)
        return CFOIL_OK;
    int32_t result = store_reader_open(&ledger->store, &reader, error);
    if (result != CFOIL_OK)
        return result;
    sqlite3_stmt *rows;
    struct row_value values[] = {row_text(only)};
    int code = rows_begin(reader, kind->sql, values, 1, &rows);
    if (code == SQLITE_OK)
        code = columns_list(rows, kind->add, items);
    result = code == SQLITE_DONE ? CFOIL_OK : store_error(reader, code, error);
    (void)sqlite3_finalize(rows);
    (void)sqlite3_close(reader);
    return result;
}

int32_t keep_list(struct ledger *ledger, int32_t list, const char *only, cJSON **object, cfoil_error_info *error)
{
    *object = NULL;
    const struct list_kind *kind = list_find(list);
    if (kind == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The list must be one of CFOIL_LIST_*.");
    if (list == CFOIL_LIST_CASE && (only == NULL || only[0] == '\0'))
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Name the case whose entries are asked for.");
    cJSON *made = cJSON_CreateObject();
    bool good = json_text_add(made, "schema", "counterfoil.list/1") && json_text_add(made, "list", kind->name);
    cJSON *items = good ? json_array_add(made, "items") : NULL;
    int32_t result = items != NULL ? list_fill(ledger, kind, only, items, error) : error_memory_set(error, AREA);
    if (result == CFOIL_OK)
        *object = made;
    else
        cJSON_Delete(made);
    return result;
}
