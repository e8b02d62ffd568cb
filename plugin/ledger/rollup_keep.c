/*
 * The sums in the ledger's file: brought up to the newest entry inside the transaction that appends it. See rollup.h.
 */
#include "ledger/rollup_count.h"

#include "ledger/body.h"
#include "ledger/rollup_keep.h"
#include "ledger/rows.h"

#include <string.h>

enum rollup_statement {
    ROLLUP_HEAD_READ,
    ROLLUP_HEAD_WRITE,
    ROLLUP_ENTRIES,
    ROLLUP_SOURCES,
    ROLLUP_SOURCE_ADD,
    ROLLUP_LANE_READ,
    ROLLUP_LANE_WRITE,
    ROLLUP_CELL_ADD,
    ROLLUP_STATEMENTS
};

#define ENTRIES_AT_ONCE  50000
#define TEXT_OF_(number) #number
#define TEXT_OF(number)  TEXT_OF_(number)

static const char *const texts[ROLLUP_STATEMENTS] = {
    [ROLLUP_HEAD_READ] = "SELECT entry FROM rollup_head WHERE id = 1",
    [ROLLUP_HEAD_WRITE] = "INSERT OR REPLACE INTO rollup_head(id, entry) VALUES(1, ?1)",
    [ROLLUP_ENTRIES] = "SELECT number, kind, time_utc_ms, body FROM entry WHERE number > ?1 ORDER BY number"
                       " LIMIT " TEXT_OF(ENTRIES_AT_ONCE),
    [ROLLUP_SOURCES] = "SELECT id, ledger, store FROM source ORDER BY id",
    [ROLLUP_SOURCE_ADD] = "INSERT OR IGNORE INTO source(id, ledger, store) VALUES(?1, ?2, ?3)",
    [ROLLUP_LANE_READ] = "SELECT sequence, held, held_hour, held_currency, held_value_minor, held_type, held_reason,"
                         " held_channels, refused_utc_ms, refused_hour, refused_currency, refused_value_minor,"
                         " refused_type, refused_reason, refused_channels FROM rollup_lane"
                         " WHERE source = ?1 AND lane = ?2",
    [ROLLUP_LANE_WRITE] = "INSERT OR REPLACE INTO rollup_lane(source, lane, sequence, held, held_hour, held_currency,"
                          " held_value_minor, held_type, held_reason, held_channels, refused_utc_ms, refused_hour,"
                          " refused_currency, refused_value_minor, refused_type, refused_reason, refused_channels)"
                          " VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
    [ROLLUP_CELL_ADD] =
        "INSERT INTO rollup(" ROLLUP_KEY_COLUMNS ", " ROLLUP_COUNT_COLUMNS ")"
        " VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, "
        "?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30) ON CONFLICT(" ROLLUP_KEY_COLUMNS
        ") DO UPDATE SET held = held + "
        "excluded.held, stacked = stacked + excluded.stacked, returned = returned + excluded.returned, "
        "rejected = rejected + excluded.rejected, accepted_first = accepted_first + "
        "excluded.accepted_first, accepted_retry = accepted_retry + excluded.accepted_retry, "
        "rejected_first = rejected_first + excluded.rejected_first, rejected_retry = rejected_retry + "
        "excluded.rejected_retry, recovered = recovered + excluded.recovered, conditions = conditions + "
        "excluded.conditions, losses = losses + excluded.losses, losses_uncounted = losses_uncounted + "
        "excluded.losses_uncounted, events_lost = events_lost + excluded.events_lost, connections_lost = "
        "connections_lost + excluded.connections_lost, cases = cases + excluded.cases, overrides = "
        "overrides + excluded.overrides, steps = steps + excluded.steps",
};

struct rollup_statements {
    sqlite3_stmt *made[ROLLUP_STATEMENTS];
};

/* ---- Statements ---- */

void rollup_statements_free(struct rollup_statements *statements, const struct memory *memory)
{
    for (int i = 0; statements != NULL && i < ROLLUP_STATEMENTS; i++)
        (void)sqlite3_finalize(statements->made[i]);
    memory_release(memory, statements);
}

/* Makes a statement when it is needed first, and keeps it. */
static int statement_get(struct ledger *ledger, enum rollup_statement which, sqlite3_stmt **statement)
{
    if (ledger->rollup == NULL)
        ledger->rollup = memory_allocate(&ledger->memory, sizeof *ledger->rollup);
    *statement = NULL;
    if (ledger->rollup == NULL)
        return SQLITE_NOMEM;
    int code = SQLITE_OK;
    sqlite3_stmt **place = &ledger->rollup->made[which];
    if (*place == NULL)
        code = sqlite3_prepare_v3(ledger->store.database, texts[which], -1, SQLITE_PREPARE_PERSISTENT, place, NULL);
    *statement = *place;
    return code;
}

/* Runs a bound statement that gives no rows. */
static int run(sqlite3_stmt *statement)
{
    int code = sqlite3_step(statement);
    (void)sqlite3_reset(statement);
    return code == SQLITE_DONE || code == SQLITE_ROW ? SQLITE_OK : code;
}

static int text_bind(sqlite3_stmt *statement, int place, const char *text)
{
    return sqlite3_bind_text(statement, place, text, -1, SQLITE_STATIC);
}

/* ---- Lanes ---- */

/* The part of a key that a lane remembers, from seven columns. */
static int lane_key_read(sqlite3_stmt *row, int column, const struct rollup_lane *lane, struct rollup_key *key)
{
    key->source = lane->source;
    memcpy(key->lane, lane->name, sizeof key->lane);
    key->hour = sqlite3_column_int64(row, column);
    int code = row_text_read(row, column + 1, key->currency, sizeof key->currency);
    key->value_minor = sqlite3_column_int64(row, column + 2);
    code |= row_text_read(row, column + 3, key->type, sizeof key->type);
    key->reason = sqlite3_column_int(row, column + 4);
    key->channels = (uint32_t)sqlite3_column_int64(row, column + 5);
    return code;
}

static int lane_key_bind(sqlite3_stmt *statement, int place, const struct rollup_key *key)
{
    int code = sqlite3_bind_int64(statement, place, key->hour);
    code |= text_bind(statement, place + 1, key->currency);
    code |= sqlite3_bind_int64(statement, place + 2, key->value_minor);
    code |= text_bind(statement, place + 3, key->type);
    code |= sqlite3_bind_int(statement, place + 4, key->reason);
    code |= sqlite3_bind_int64(statement, place + 5, key->channels);
    return code;
}

struct advance {
    struct ledger *ledger;
    struct rollup_sums *days;
    int code; /* what loading a lane, or writing a cell, answered */
};

static bool lane_load(void *user, struct rollup_lane *lane)
{
    struct advance *advance = user;
    sqlite3_stmt *row;
    int code = statement_get(advance->ledger, ROLLUP_LANE_READ, &row);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(row, 1, lane->source);
    if (code == SQLITE_OK)
        code = text_bind(row, 2, lane->name);
    if (code == SQLITE_OK)
        code = sqlite3_step(row);
    if (code == SQLITE_ROW) {
        lane->sequence = sqlite3_column_int64(row, 0);
        lane->held = sqlite3_column_int64(row, 1);
        lane->refused_utc_ms = sqlite3_column_int64(row, 8);
        code = lane_key_read(row, 2, lane, &lane->held_key);
        code |= lane_key_read(row, 9, lane, &lane->refused_key);
    } else if (code == SQLITE_DONE) {
        code = SQLITE_OK;
    }
    (void)sqlite3_reset(row);
    advance->code = code;
    return code == SQLITE_OK;
}

static int lane_write(struct ledger *ledger, const struct rollup_lane *lane)
{
    sqlite3_stmt *statement;
    int code = statement_get(ledger, ROLLUP_LANE_WRITE, &statement);
    if (code != SQLITE_OK)
        return code;
    code = sqlite3_bind_int64(statement, 1, lane->source);
    code |= text_bind(statement, 2, lane->name);
    code |= sqlite3_bind_int64(statement, 3, lane->sequence);
    code |= sqlite3_bind_int64(statement, 4, lane->held);
    code |= lane_key_bind(statement, 5, &lane->held_key);
    code |= sqlite3_bind_int64(statement, 11, lane->refused_utc_ms);
    code |= lane_key_bind(statement, 12, &lane->refused_key);
    return code == SQLITE_OK ? run(statement) : code;
}

/* ---- Cells ---- */

static int cell_add(sqlite3_stmt *statement, enum rollup_level level, const struct rollup_cell *cell)
{
    const struct rollup_key *key = &cell->key;
    int code = sqlite3_bind_int(statement, 1, (int)level);
    code |= sqlite3_bind_int64(statement, 2, key->hour);
    code |= sqlite3_bind_int64(statement, 3, key->source);
    code |= text_bind(statement, 4, key->lane);
    code |= text_bind(statement, 5, key->currency);
    code |= sqlite3_bind_int64(statement, 6, key->value_minor);
    code |= text_bind(statement, 7, key->type);
    code |= sqlite3_bind_int(statement, 8, key->reason);
    code |= sqlite3_bind_int64(statement, 9, key->channels);
    code |= sqlite3_bind_int(statement, 10, key->condition);
    code |= sqlite3_bind_int(statement, 11, key->disposition);
    code |= sqlite3_bind_int(statement, 12, key->advice);
    code |= sqlite3_bind_int(statement, 13, key->move);
    for (int i = 0; i < ROLLUP_COUNTS; i++)
        code |= sqlite3_bind_int64(statement, 14 + i, cell->counts[i]);
    return code == SQLITE_OK ? run(statement) : code;
}

static bool cell_keep(struct advance *advance, enum rollup_level level, const struct rollup_cell *cell)
{
    sqlite3_stmt *statement;
    advance->code = statement_get(advance->ledger, ROLLUP_CELL_ADD, &statement);
    if (advance->code == SQLITE_OK)
        advance->code = cell_add(statement, level, cell);
    return advance->code == SQLITE_OK;
}

/* Keeps the cell of an hour, and adds it to its day. */
static bool hour_keep(void *user, const struct rollup_cell *cell)
{
    struct advance *advance = user;
    struct rollup_cell day = *cell;
    day.key.hour = rollup_day_begin(cell->key.hour);
    if (!cell_keep(advance, ROLLUP_LEVEL_HOUR, cell))
        return false;
    if (!rollup_sums_cell_add(advance->days, &day))
        advance->code = SQLITE_NOMEM;
    return advance->code == SQLITE_OK;
}

static bool day_keep(void *user, const struct rollup_cell *cell)
{
    return cell_keep(user, ROLLUP_LEVEL_DAY, cell);
}

static int cells_write(struct advance *advance, const struct rollup_sums *sums)
{
    advance->days = rollup_sums_create(&advance->ledger->memory, NULL, NULL);
    advance->code = advance->days != NULL ? SQLITE_OK : SQLITE_NOMEM;
    if (advance->code == SQLITE_OK && rollup_sums_visit(sums, hour_keep, advance))
        (void)rollup_sums_visit(advance->days, day_keep, advance);
    rollup_sums_free(advance->days);
    return advance->code;
}

/* ---- Sources ---- */

static int sources_load(struct ledger *ledger, struct rollup_sums *sums)
{
    sqlite3_stmt *rows;
    int code = statement_get(ledger, ROLLUP_SOURCES, &rows);
    while (code == SQLITE_OK && (code = sqlite3_step(rows)) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(rows, 1);
        const char *store = (const char *)sqlite3_column_text(rows, 2);
        if (name == NULL || store == NULL ||
            !rollup_sums_source_add(sums, sqlite3_column_int64(rows, 0), name, store)) {
            code = SQLITE_NOMEM;
            break;
        }
        code = SQLITE_OK;
    }
    (void)sqlite3_reset(rows);
    return code == SQLITE_DONE ? SQLITE_OK : code;
}

static int source_write(struct ledger *ledger, const struct rollup_source *source)
{
    sqlite3_stmt *statement;
    int code = statement_get(ledger, ROLLUP_SOURCE_ADD, &statement);
    if (code != SQLITE_OK)
        return code;
    code = sqlite3_bind_int64(statement, 1, source->id);
    code |= text_bind(statement, 2, source->ledger);
    code |= text_bind(statement, 3, source->store);
    return code == SQLITE_OK ? run(statement) : code;
}

/* ---- From the entry counted last to the newest ---- */

static int counted_read(struct ledger *ledger, int64_t *counted)
{
    sqlite3_stmt *row;
    int code = statement_get(ledger, ROLLUP_HEAD_READ, &row);
    if (code == SQLITE_OK)
        code = sqlite3_step(row);
    *counted = code == SQLITE_ROW ? sqlite3_column_int64(row, 0) : 0;
    (void)sqlite3_reset(row);
    return code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_OK : code;
}

static int entries_count(struct advance *advance, struct rollup_sums *sums, int64_t *counted)
{
    sqlite3_stmt *rows;
    int code = statement_get(advance->ledger, ROLLUP_ENTRIES, &rows);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(rows, 1, *counted);
    while (code == SQLITE_OK && (code = sqlite3_step(rows)) == SQLITE_ROW) {
        const char *kind = (const char *)sqlite3_column_text(rows, 1);
        const char *body = (const char *)sqlite3_column_text(rows, 3);
        *counted = sqlite3_column_int64(rows, 0);
        bool good = kind != NULL && body != NULL && rollup_sums_count(sums, kind, sqlite3_column_int64(rows, 2), body);
        code = good ? SQLITE_OK : advance->code != SQLITE_OK ? advance->code : SQLITE_NOMEM;
    }
    (void)sqlite3_reset(rows);
    return code == SQLITE_DONE ? SQLITE_OK : code;
}

static int sums_write(struct advance *advance, const struct rollup_sums *sums, int64_t counted)
{
    struct ledger *ledger = advance->ledger;
    int code = SQLITE_OK;
    for (const struct rollup_source *source = rollup_sums_sources(sums); code == SQLITE_OK && source != NULL;
         source = source->next)
        code = source->fresh ? source_write(ledger, source) : SQLITE_OK;
    for (const struct rollup_lane *lane = rollup_sums_lanes(sums); code == SQLITE_OK && lane != NULL; lane = lane->next)
        code = lane_write(ledger, lane);
    if (code == SQLITE_OK)
        code = cells_write(advance, sums);
    sqlite3_stmt *head = NULL;
    if (code == SQLITE_OK)
        code = statement_get(ledger, ROLLUP_HEAD_WRITE, &head);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(head, 1, counted);
    return code == SQLITE_OK ? run(head) : code;
}

/* So many entries at once that their cells need some megabytes, however many there are. */
static int part_advance(struct ledger *ledger, int64_t *counted)
{
    struct advance advance = {ledger, NULL, SQLITE_OK};
    struct rollup_sums *sums = rollup_sums_create(&ledger->memory, lane_load, &advance);
    if (sums == NULL)
        return SQLITE_NOMEM;
    int code = sources_load(ledger, sums);
    if (code == SQLITE_OK)
        code = entries_count(&advance, sums, counted);
    if (code == SQLITE_OK)
        code = sums_write(&advance, sums, *counted);
    rollup_sums_free(sums);
    return code;
}

int rollup_advance(struct ledger *ledger)
{
    int64_t counted = 0;
    int64_t before;
    int code = counted_read(ledger, &counted);
    do {
        before = counted;
        if (code == SQLITE_OK)
            code = part_advance(ledger, &counted);
    } while (code == SQLITE_OK && counted - before >= ENTRIES_AT_ONCE);
    return code;
}

int rollup_begin(struct ledger *ledger)
{
    return sqlite3_exec(ledger->store.database, "UPDATE rollup_head SET entry = 1", NULL, NULL, NULL);
}

int rollup_make(struct ledger *ledger)
{
    int code = sqlite3_exec(ledger->store.database,
                            "DELETE FROM rollup; DELETE FROM rollup_lane; UPDATE rollup_head SET entry = 0", NULL, NULL,
                            NULL);
    return code == SQLITE_OK ? rollup_advance(ledger) : code;
}
