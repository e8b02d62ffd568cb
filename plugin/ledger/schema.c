/*
 * The tables by version. See schema.h.
 */
#include "ledger/schema.h"

#include "ledger/append.h"
#include "ledger/backup.h"
#include "ledger/body.h"
#include "ledger/index.h"
#include "model/error.h"
#include "model/json.h"
#include "os/os.h"

#include <stdio.h>

#define AREA "ledger"

/* Only `staff` and `person` hold what no entry holds; `open_case` holds what has not ended. The rest is for looking up. */
const char schema_tables_2[] =
    "CREATE TABLE open_case(case_id TEXT PRIMARY KEY, lane TEXT NOT NULL, sale TEXT NOT NULL, currency TEXT NOT NULL,"
    " serial TEXT NOT NULL, updated_utc_ms INTEGER NOT NULL, state TEXT NOT NULL);"
    "CREATE INDEX open_case_sale ON open_case(sale);"
    "CREATE INDEX open_case_serial ON open_case(currency, serial) WHERE serial <> '';"
    "CREATE TABLE case_index(case_id TEXT PRIMARY KEY, entry INTEGER NOT NULL, sale TEXT NOT NULL, lane TEXT NOT NULL,"
    " currency TEXT NOT NULL, value_minor INTEGER NOT NULL, serial TEXT NOT NULL, disposition INTEGER NOT NULL)"
    " WITHOUT ROWID;"
    "CREATE INDEX case_index_sale ON case_index(sale) WHERE sale <> '';"
    "CREATE INDEX case_index_serial ON case_index(currency, serial) WHERE serial <> '';"
    "CREATE TABLE custody(case_id TEXT PRIMARY KEY, state TEXT NOT NULL, since_utc_ms INTEGER NOT NULL,"
    " entry INTEGER NOT NULL, envelope TEXT NOT NULL, place TEXT NOT NULL, holder TEXT NOT NULL) WITHOUT ROWID;"
    "CREATE INDEX custody_state ON custody(state);"
    "CREATE INDEX entry_custody ON entry(number) WHERE kind = 'custody';"
    "CREATE TABLE setting(name TEXT PRIMARY KEY, value TEXT NOT NULL, entry INTEGER NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE staff(staff TEXT PRIMARY KEY, role TEXT NOT NULL, pin_hash TEXT NOT NULL,"
    " failures INTEGER NOT NULL, locked_until_utc_ms INTEGER NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE person(case_id TEXT PRIMARY KEY, nonce BLOB NOT NULL, cipher BLOB NOT NULL,"
    " written_utc_ms INTEGER NOT NULL, erase_after_utc_ms INTEGER NOT NULL);"
    "CREATE TABLE key(id TEXT PRIMARY KEY, kind TEXT NOT NULL, public_key BLOB NOT NULL, since_utc_ms INTEGER NOT NULL,"
    " until_utc_ms INTEGER NOT NULL) WITHOUT ROWID;";

/* What the entries say, summed up (rollup.h), and where imported ones came from. */
const char schema_tables_3[] =
    "CREATE TABLE source(id INTEGER PRIMARY KEY, ledger TEXT NOT NULL, store TEXT NOT NULL, UNIQUE(ledger, store));"
    "CREATE TABLE record(id BLOB PRIMARY KEY, entry INTEGER NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE case_elsewhere(case_id TEXT PRIMARY KEY, entry INTEGER NOT NULL, source INTEGER NOT NULL,"
    " lane TEXT NOT NULL, currency TEXT NOT NULL, value_minor INTEGER NOT NULL, serial TEXT NOT NULL,"
    " disposition INTEGER NOT NULL, state TEXT NOT NULL) WITHOUT ROWID;"
    "CREATE INDEX case_elsewhere_serial ON case_elsewhere(currency, serial) WHERE serial <> '';"
    "CREATE TABLE rollup(level INTEGER NOT NULL, hour INTEGER NOT NULL, source INTEGER NOT NULL, lane TEXT NOT NULL,"
    " currency TEXT NOT NULL, value_minor INTEGER NOT NULL, type TEXT NOT NULL, reason INTEGER NOT NULL,"
    " channels INTEGER NOT NULL, condition INTEGER NOT NULL, disposition INTEGER NOT NULL, advice INTEGER NOT NULL,"
    " move INTEGER NOT NULL, held INTEGER NOT NULL, stacked INTEGER NOT NULL, returned INTEGER NOT NULL,"
    " rejected INTEGER NOT NULL, accepted_first INTEGER NOT NULL, accepted_retry INTEGER NOT NULL,"
    " rejected_first INTEGER NOT NULL, rejected_retry INTEGER NOT NULL, recovered INTEGER NOT NULL,"
    " conditions INTEGER NOT NULL, losses INTEGER NOT NULL, losses_uncounted INTEGER NOT NULL,"
    " events_lost INTEGER NOT NULL, connections_lost INTEGER NOT NULL, cases INTEGER NOT NULL,"
    " overrides INTEGER NOT NULL, steps INTEGER NOT NULL, PRIMARY KEY(level, hour, source, lane, currency,"
    " value_minor, type, reason, channels, condition, disposition, advice, move)) WITHOUT ROWID;"
    "CREATE TABLE rollup_lane(source INTEGER NOT NULL, lane TEXT NOT NULL, sequence INTEGER NOT NULL,"
    " held INTEGER NOT NULL, held_hour INTEGER NOT NULL, held_currency TEXT NOT NULL,"
    " held_value_minor INTEGER NOT NULL, held_type TEXT NOT NULL, held_reason INTEGER NOT NULL,"
    " held_channels INTEGER NOT NULL, refused_utc_ms INTEGER NOT NULL, refused_hour INTEGER NOT NULL,"
    " refused_currency TEXT NOT NULL, refused_value_minor INTEGER NOT NULL, refused_type TEXT NOT NULL,"
    " refused_reason INTEGER NOT NULL, refused_channels INTEGER NOT NULL, PRIMARY KEY(source, lane)) WITHOUT ROWID;"
    "CREATE TABLE rollup_head(id INTEGER PRIMARY KEY CHECK(id = 1), entry INTEGER NOT NULL);"
    "INSERT INTO rollup_head(id, entry) VALUES(1, 0);";

/* ---- From an older version ---- */

/* The sums are filled when the entry that tells of the change is appended: they count what is not counted yet. */
static int tables_add(sqlite3 *database, int64_t before)
{
    char sql[64];
    int code = before < 2 ? sqlite3_exec(database, schema_tables_2, NULL, NULL, NULL) : SQLITE_OK;
    if (code == SQLITE_OK)
        code = sqlite3_exec(database, schema_tables_3, NULL, NULL, NULL);
    if (code == SQLITE_OK && before < 2)
        code = index_make(database);
    (void)snprintf(sql, sizeof sql, "PRAGMA user_version=%d", STORE_VERSION);
    return code == SQLITE_OK ? sqlite3_exec(database, sql, NULL, NULL, NULL) : code;
}

/* The entry that tells of the change. */
static int32_t told_append(struct ledger *ledger, int64_t before, cfoil_error_info *error)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.format/1") && json_integer_add(object, "before", before) &&
                json_integer_add(object, "format", STORE_VERSION);
    char *body = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_FORMAT, .time_utc_ms = os_time_utc_ms(), .body = body};
    int32_t result = append_inside(ledger, &item, NULL, error);
    cJSON_free(body);
    return result;
}

struct move {
    const char *path;
    int64_t before;
};

static int32_t move_inside(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct move *move = user;
    sqlite3 *database = ledger->store.database;
    int code = store_integer_read(database, "PRAGMA user_version", &move->before);
    if (code != SQLITE_OK)
        return store_error(database, code, error);
    if (move->before >= STORE_VERSION)
        return CFOIL_OK;
    int32_t result = backup_make(&ledger->memory, &ledger->store, move->path, ".before-3", error);
    if (result != CFOIL_OK)
        return result;
    code = tables_add(database, move->before);
    return code == SQLITE_OK ? told_append(ledger, move->before, error) : store_error(database, code, error);
}

int32_t schema_move_on(struct ledger *ledger, const char *path, cfoil_error_info *error)
{
    struct move move = {path, 0};
    int32_t result = ledger_transact(ledger, move_inside, &move, error);
    if (result == CFOIL_OK)
        ledger->store.version = STORE_VERSION;
    return result;
}
