/*
 * Refused and kept notes with what the entries say of them: what papers are made of. See keep.h.
 */
#include "ledger/keep.h"

#include "ledger/body.h"
#include "ledger/columns.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/names.h"
#include "model/text.h"

#include <string.h>

#define AREA "ledger"

/* The hand-over is the newest such step between the case's entry and that of the present state. */
#define NOTES                                                                                                          \
    "WITH note AS (SELECT case_id, state, envelope, place, currency, value_minor, serial, lane, sale, disposition,"    \
    " case_index.entry AS begin, CASE WHEN state IN ('handed_over', 'genuine', 'not_genuine') THEN"                    \
    " (SELECT max(number) FROM entry WHERE kind = 'custody' AND number BETWEEN case_index.entry AND custody.entry"     \
    " AND instr(body, '\"case\":\"' || case_index.case_id || '\"') > 0 AND instr(body, '\"move\":\"hand_over\"') > "   \
    "0) END AS "                                                                                                       \
    "given"                                                                                                            \
    " FROM case_index LEFT JOIN custody USING(case_id))"                                                               \
    " SELECT note.case_id, state, envelope, place, currency, value_minor, serial, lane, sale, note.disposition,"       \
    " begun.time_utc_ms, begun.body, handed.body FROM note JOIN entry AS begun ON begun.number = begin"                \
    " LEFT JOIN entry AS handed ON handed.number = given WHERE "
#define IN_PERIOD(time) time " >= ?2 AND (?3 = 0 OR " time " < ?3)"
#define IN_ORDER        " ORDER BY begin"

static const struct {
    const char *sql;
    int values; /* ?1 the case, ?2 and ?3 the period */
} notes_of[] = {
    [KEEP_NOTES_OF_CASE] = {NOTES "note.case_id = ?1", 1},
    [KEEP_NOTES_HELD] = {NOTES "state IN ('set_aside', 'found', 'sealed')" IN_ORDER, 0},
    [KEEP_NOTES_HANDED_OVER] = {NOTES IN_PERIOD("handed.time_utc_ms") IN_ORDER, 3},
    [KEEP_NOTES_REFUSED] = {NOTES "state IS NOT NULL AND " IN_PERIOD("begun.time_utc_ms") IN_ORDER, 3},
};

static bool note_add(cJSON *item, sqlite3_stmt *row)
{
    int32_t disposition = sqlite3_column_int(row, 9);
    const char *ended = disposition == CFOIL_DISPOSITION_NONE ? NULL : name_disposition(disposition);
    return column_text_add(item, "case_id", row, 0) && column_text_add(item, "state", row, 1) &&
           column_text_add(item, "envelope", row, 2) && column_text_add(item, "place", row, 3) &&
           column_text_add(item, "currency", row, 4) && column_number_add(item, "value_minor", row, 5) &&
           column_text_add(item, "serial", row, 6) && column_text_add(item, "lane", row, 7) &&
           column_text_add(item, "sale", row, 8) && json_text_add(item, "disposition", ended) &&
           column_number_add(item, "begun_utc_ms", row, 10) && column_body_add(item, "body", row, 11) &&
           column_body_add(item, "hand_over", row, 12);
}

int32_t keep_notes(struct ledger *ledger, const struct keep_notes_wish *wish, cJSON **notes, cfoil_error_info *error)
{
    struct row_value values[] = {row_text(wish->case_id), row_number(wish->from_utc_ms),
                                 row_number(wish->until_utc_ms)};
    cJSON *made = cJSON_CreateArray();
    sqlite3 *reader = NULL;
    sqlite3_stmt *rows = NULL;
    *notes = NULL;
    int32_t result = made != NULL ? CFOIL_OK : error_memory_set(error, AREA);
    if (result == CFOIL_OK && ledger->store.version >= 2)
        result = store_reader_open(&ledger->store, &reader, error);
    if (reader != NULL) {
        int code = rows_begin(reader, notes_of[wish->of].sql, values, notes_of[wish->of].values, &rows);
        if (code == SQLITE_OK)
            code = columns_list(rows, note_add, made);
        result = code == SQLITE_DONE ? CFOIL_OK : store_error(reader, code, error);
    }
    (void)sqlite3_finalize(rows);
    (void)sqlite3_close(reader);
    if (result == CFOIL_OK)
        *notes = made;
    else
        cJSON_Delete(made);
    return result;
}

int32_t keep_store_name(struct ledger *ledger, char *name, size_t capacity, cfoil_error_info *error)
{
    char *text;
    cJSON *entry = NULL;
    text_copy(name, capacity, "");
    int32_t result = ledger_entry_text(ledger, 1, &text, error);
    if (result != CFOIL_OK)
        return result;
    result = ledger_body_parse(text, &entry);
    const cJSON *body = cJSON_GetObjectItemCaseSensitive(entry, "body");
    const char *store = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, "store"));
    text_copy(name, capacity, store);
    cJSON_Delete(entry);
    cJSON_free(text);
    return result == CFOIL_OK ? CFOIL_OK : error_memory_set(error, AREA);
}
