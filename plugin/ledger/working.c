/*
 * Cases that have not ended, and what the cases of a sale mean for its end. See keep.h.
 */
#include "ledger/keep.h"

#include "ledger/body.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define AREA         "ledger"
#define SAVE_BUSY_MS 250 /* an answer does not wait longer than this for another process */

/* ---- Saving without waiting for the disk ---- */

/* SQLite flushes the write-ahead log at each commit with FULL, and only at checkpoints with NORMAL: the file stays whole
 * either way ("PRAGMA synchronous"). Nothing else runs meanwhile, and every way out sets FULL again. */
static int unflushed_run(sqlite3 *database, const char *sql, const struct row_value *values, int count)
{
    int code = sqlite3_exec(database, "PRAGMA synchronous=NORMAL", NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = rows_run(database, sql, values, count);
    int full = sqlite3_exec(database, "PRAGMA synchronous=FULL", NULL, NULL, NULL);
    return code == SQLITE_OK ? full : code;
}

static int32_t unflushed_locked(struct ledger *ledger, const char *sql, const struct row_value *values, int count,
                                cfoil_error_info *error)
{
    if (ledger->read_only)
        return store_error(NULL, SQLITE_READONLY, error);
    uint32_t busy_ms = ledger->store.busy_ms < SAVE_BUSY_MS ? ledger->store.busy_ms : SAVE_BUSY_MS;
    os_mutex_lock(ledger->mutex);
    (void)sqlite3_busy_timeout(ledger->store.database, (int)busy_ms);
    int32_t result = store_result(ledger->store.database, unflushed_run(ledger->store.database, sql, values, count),
                                  error);
    (void)sqlite3_busy_timeout(ledger->store.database, (int)ledger->store.busy_ms);
    os_mutex_unlock(ledger->mutex);
    return result;
}

int32_t keep_case_save(struct ledger *ledger, const struct working_case *working, cfoil_error_info *error)
{
    struct row_value values[] = {
        row_text(working->case_id), row_text(working->lane),      row_text(working->sale),  row_text(working->currency),
        row_text(working->serial),  row_number(os_time_utc_ms()), row_text(working->state),
    };
    /* A case that ended meanwhile, in another process that took it over, does not come back. */
    return unflushed_locked(ledger,
                            "INSERT OR REPLACE INTO open_case(case_id, lane, sale, currency, serial, updated_utc_ms,"
                            " state) SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7"
                            " WHERE NOT EXISTS(SELECT 1 FROM entry WHERE case_id = ?1)",
                            values, (int)(sizeof values / sizeof values[0]), error);
}

int32_t keep_case_remove(struct ledger *ledger, const char *case_id, cfoil_error_info *error)
{
    struct row_value values[] = {row_text(case_id)};
    return unflushed_locked(ledger, "DELETE FROM open_case WHERE case_id = ?1", values, 1, error);
}

/* ---- Looking ---- */

/* Begins a query on the newer tables with the lock held. SQLITE_DONE: an older file, which has no such rows. */
static int query_begin(struct ledger *ledger, const char *sql, const struct row_value *values, int count,
                       sqlite3_stmt **row)
{
    *row = NULL;
    if (ledger->store.version < 2)
        return SQLITE_DONE;
    int code = rows_begin(ledger->store.database, sql, values, count, row);
    return code == SQLITE_OK ? sqlite3_step(*row) : code;
}

static int text_take(sqlite3_stmt *row, char **text)
{
    const unsigned char *state = sqlite3_column_text(row, 0);
    *text = state != NULL ? sqlite3_mprintf("%s", state) : NULL;
    return *text != NULL ? SQLITE_ROW : SQLITE_NOMEM;
}

static int32_t case_missing(struct ledger *ledger, const char *case_id, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(case_id)};
    int code = query_begin(ledger, "SELECT 1 FROM case_index WHERE case_id = ?1", values, 1, &row);
    (void)sqlite3_finalize(row);
    if (code == SQLITE_ROW)
        return error_set(error, CFOIL_E_STATE_CASE_ENDED, 0, AREA,
                         "This case has its disposition already: open a new case for a new note.");
    if (code == SQLITE_DONE)
        return error_set(error, CFOIL_E_MISSING_CASE, 0, AREA, "The ledger has no case %.64s that is open.", case_id);
    return store_result(ledger->store.database, code, error);
}

int32_t keep_case_load(struct ledger *ledger, const char *case_id, char **state, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(case_id)};
    *state = NULL;
    os_mutex_lock(ledger->mutex);
    int code = query_begin(ledger, "SELECT state FROM open_case WHERE case_id = ?1", values, 1, &row);
    if (code == SQLITE_ROW)
        code = text_take(row, state);
    (void)sqlite3_finalize(row);
    int32_t result = CFOIL_OK;
    if (code == SQLITE_DONE)
        result = case_missing(ledger, case_id, error);
    else if (code != SQLITE_ROW)
        result = store_result(ledger->store.database, code, error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

void keep_text_free(char *text)
{
    sqlite3_free(text);
}

/* Is there a row? SQLITE_OK or what went wrong. */
static int row_look(struct ledger *ledger, const char *sql, const struct row_value *values, int count, bool *there)
{
    sqlite3_stmt *row;
    int code = query_begin(ledger, sql, values, count, &row);
    (void)sqlite3_finalize(row);
    *there = code == SQLITE_ROW;
    return code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_OK : code;
}

/* Cases of another ledger, which a file of version 2 that is only read does not have. */
static int serial_elsewhere_look(struct ledger *ledger, const struct row_value *values, bool *refused)
{
    if (ledger->store.version < 3)
        return SQLITE_OK;
    return row_look(ledger,
                    "SELECT 1 FROM case_elsewhere WHERE currency = ?1 AND serial = ?2 AND serial <> ''"
                    " AND value_minor = ?3 AND (disposition IN (2, 3) OR state <> '') AND state <> 'genuine'",
                    values, 3, refused);
}

static int serial_look(struct ledger *ledger, const struct row_value *values, struct serial_known *known)
{
    int code = row_look(ledger,
                        "SELECT 1 FROM case_index LEFT JOIN custody USING(case_id)"
                        " WHERE currency = ?1 AND serial = ?2 AND serial <> '' AND value_minor = ?3"
                        " AND (disposition IN (2, 3) OR state IS NOT NULL) AND coalesce(state, '') <> 'genuine'",
                        values, 3, &known->refused);
    if (code == SQLITE_OK && !known->refused)
        code = serial_elsewhere_look(ledger, values, &known->refused);
    if (code != SQLITE_OK)
        return code;
    return row_look(ledger,
                    "SELECT 1 FROM open_case WHERE currency = ?1 AND serial = ?2 AND serial <> ''"
                    " AND case_id <> ?4 AND instr(state, '\"value_minor\":' || ?3 || ',') > 0",
                    values, 4, &known->open);
}

int32_t keep_serial_look(struct ledger *ledger, const char *currency, const char *serial, int64_t value_minor,
                         const char *case_id, struct serial_known *known, cfoil_error_info *error)
{
    struct row_value values[] = {row_text(currency), row_text(serial), row_number(value_minor), row_text(case_id)};
    *known = (struct serial_known){false, false};
    if (ledger->store.version < 2)
        return ledger_serial_refused(ledger, currency, serial, &known->refused, error);
    os_mutex_lock(ledger->mutex);
    int32_t result = store_result(ledger->store.database, serial_look(ledger, values, known), error);
    os_mutex_unlock(ledger->mutex);
    return result;
}

/* ---- The sale ---- */

/* The newest case comes last and stays; UUIDs of version 7 sort by time. */
static int open_count(sqlite3_stmt *row, cfoil_tender *tender)
{
    tender->open++;
    return row_text_read(row, 0, tender->case_id, sizeof tender->case_id);
}

static int ended_count(sqlite3_stmt *row, cfoil_tender *tender)
{
    char currency[4] = "";
    int32_t disposition = sqlite3_column_int(row, 1);
    tender->taken += disposition == CFOIL_DISPOSITION_TAKEN;
    tender->no_decision += disposition == CFOIL_DISPOSITION_ABANDONED;
    if (disposition != CFOIL_DISPOSITION_NOT_TAKEN && disposition != CFOIL_DISPOSITION_SET_ASIDE)
        return SQLITE_OK;
    int code = row_text_read(row, 2, currency, sizeof currency);
    bool same = tender->refused == 0 || strcmp(tender->currency, currency) == 0;
    tender->refused++;
    tender->refused_minor = same ? tender->refused_minor + sqlite3_column_int64(row, 3) : 0;
    text_copy(tender->currency, sizeof tender->currency, same ? currency : "");
    if (tender->open == 0)
        code |= row_text_read(row, 0, tender->case_id, sizeof tender->case_id);
    return code;
}

static int sale_count(struct ledger *ledger, const char *sql, const char *sale,
                      int (*count)(sqlite3_stmt *row, cfoil_tender *tender), cfoil_tender *tender)
{
    sqlite3_stmt *row;
    struct row_value values[] = {row_text(sale)};
    int code = query_begin(ledger, sql, values, 1, &row);
    while (code == SQLITE_ROW) {
        code = count(row, tender);
        if (code == SQLITE_OK)
            code = sqlite3_step(row);
    }
    (void)sqlite3_finalize(row);
    return code;
}

static void verdict_set(cfoil_tender *tender)
{
    if (tender->open > 0) {
        tender->verdict = CFOIL_TENDER_CASE_OPEN;
        text_copy(tender->text, sizeof tender->text,
                  "A doubtful note of this sale is still being looked at: end that case before the sale.");
    } else if (tender->refused > 0) {
        tender->verdict = CFOIL_TENDER_REFUSED;
        (void)snprintf(tender->text, sizeof tender->text,
                       "Notes of this sale that were refused: %" PRIu32
                       ". Complete it only when it was paid in full without them.",
                       tender->refused);
    } else {
        tender->verdict = CFOIL_TENDER_FREE;
        text_copy(tender->text, sizeof tender->text, "No doubtful note stands against this sale.");
    }
}

int32_t keep_tender_check(struct ledger *ledger, const char *sale, cfoil_tender *tender, cfoil_error_info *error)
{
    uint32_t size = tender->struct_size;
    memset(tender, 0, sizeof *tender);
    tender->struct_size = size;
    os_mutex_lock(ledger->mutex);
    int code = sale_count(ledger, "SELECT case_id FROM open_case WHERE sale = ?1 ORDER BY case_id", sale, open_count,
                          tender);
    if (code == SQLITE_DONE)
        code = sale_count(ledger,
                          "SELECT case_id, disposition, currency, value_minor FROM case_index WHERE sale = ?1"
                          " AND sale <> '' ORDER BY case_id",
                          sale, ended_count, tender);
    int32_t result = code == SQLITE_DONE ? CFOIL_OK : store_result(ledger->store.database, code, error);
    os_mutex_unlock(ledger->mutex);
    if (result == CFOIL_OK)
        verdict_set(tender);
    return result;
}
