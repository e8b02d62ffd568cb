/*
 * Reading the sums: the kept ones where they answer the question, the entries where not. See rollup.h.
 */
#include "ledger/rollup_count.h"

#include "ledger/body.h"
#include "ledger/rollup_keep.h"
#include "ledger/rows.h"
#include "model/error.h"

#include <string.h>

#define AREA     "ledger"
#define HOUR_MAX (INT64_MAX / ROLLUP_HOUR_MS)

/* Hours of one level, from one that is included to one that is not. */
struct stretch {
    enum rollup_level level;
    int64_t from;
    int64_t until;
};

/* ---- Which cells ---- */

static bool whole_hours(const struct rollup_query *query)
{
    return query->from_utc_ms % ROLLUP_HOUR_MS == 0 && query->until_utc_ms % ROLLUP_HOUR_MS == 0;
}

/* Whole days in the middle, and the hours before and after them. Some may be empty. */
static int stretches_make(const struct rollup_query *query, struct stretch stretches[3])
{
    int64_t from = query->from_utc_ms != 0 ? query->from_utc_ms / ROLLUP_HOUR_MS : -HOUR_MAX;
    int64_t until = query->until_utc_ms != 0 ? query->until_utc_ms / ROLLUP_HOUR_MS : HOUR_MAX;
    int64_t first_day = rollup_day_begin(from) == from ? from : rollup_day_begin(from) + 24;
    int64_t last_day = rollup_day_begin(until);
    if (query->from_utc_ms == 0)
        first_day = -HOUR_MAX;
    if (query->until_utc_ms == 0)
        last_day = HOUR_MAX;
    if (!query->days || first_day >= last_day) {
        stretches[0] = (struct stretch){ROLLUP_LEVEL_HOUR, from, until};
        return 1;
    }
    stretches[0] = (struct stretch){ROLLUP_LEVEL_HOUR, from, first_day};
    stretches[1] = (struct stretch){ROLLUP_LEVEL_DAY, first_day, last_day};
    stretches[2] = (struct stretch){ROLLUP_LEVEL_HOUR, last_day, until};
    return 3;
}

/* ---- Cells from the file ---- */

static int cell_read(sqlite3_stmt *row, struct rollup_cell *cell)
{
    struct rollup_key *key = &cell->key;
    key->hour = sqlite3_column_int64(row, 1);
    key->source = sqlite3_column_int64(row, 2);
    int code = row_text_read(row, 3, key->lane, sizeof key->lane);
    code |= row_text_read(row, 4, key->currency, sizeof key->currency);
    key->value_minor = sqlite3_column_int64(row, 5);
    code |= row_text_read(row, 6, key->type, sizeof key->type);
    key->reason = sqlite3_column_int(row, 7);
    key->channels = (uint32_t)sqlite3_column_int64(row, 8);
    key->condition = sqlite3_column_int(row, 9);
    key->disposition = sqlite3_column_int(row, 10);
    key->advice = sqlite3_column_int(row, 11);
    key->move = sqlite3_column_int(row, 12);
    for (int i = 0; i < ROLLUP_COUNTS; i++)
        cell->counts[i] = sqlite3_column_int64(row, 13 + i);
    return code;
}

/* SQLITE_DONE when all were visited, SQLITE_ROW when the visitor has enough. */
static int stretch_visit(sqlite3 *reader, const struct stretch *stretch, const char *lane, rollup_visit visit,
                         void *user)
{
    sqlite3_stmt *rows;
    struct row_value values[] = {row_number((int64_t)stretch->level), row_number(stretch->from),
                                 row_number(stretch->until), row_text(lane), row_number(lane == NULL)};
    int code = rows_begin(reader,
                          "SELECT " ROLLUP_KEY_COLUMNS ", " ROLLUP_COUNT_COLUMNS " FROM rollup"
                          " WHERE level = ?1 AND hour >= ?2 AND hour < ?3 AND (?5 OR lane = ?4)",
                          values, 5, &rows);
    if (code != SQLITE_OK)
        return code;
    bool more = true;
    while (more && (code = sqlite3_step(rows)) == SQLITE_ROW) {
        struct rollup_cell cell;
        int read = cell_read(rows, &cell);
        if (read != SQLITE_OK) {
            code = read;
            break;
        }
        more = visit(user, &cell);
    }
    (void)sqlite3_finalize(rows);
    return code;
}

/* Do the sums cover every entry? */
static int covered_read(sqlite3 *reader, bool *covered)
{
    int64_t same = 0;
    int code = store_integer_read(reader,
                                  "SELECT (SELECT entry FROM rollup_head WHERE id = 1) IS"
                                  " (SELECT number FROM head WHERE id = 1)",
                                  &same);
    *covered = same != 0;
    return code;
}

static int stretches_visit(sqlite3 *reader, const struct rollup_query *query, rollup_visit visit, void *user,
                           bool *kept)
{
    struct stretch stretches[3];
    int count = stretches_make(query, stretches);
    int code = covered_read(reader, kept);
    if (code != SQLITE_OK || !*kept)
        return code == SQLITE_OK ? SQLITE_DONE : code;
    code = SQLITE_DONE;
    for (int i = 0; i < count && code == SQLITE_DONE; i++)
        code = stretch_visit(reader, &stretches[i], query->lane, visit, user);
    return code;
}

int32_t rollup_kept_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                          bool *kept, cfoil_error_info *error)
{
    sqlite3 *reader;
    *kept = false;
    if (ledger->store.version < 3 || !whole_hours(query))
        return CFOIL_OK;
    int32_t result = store_reader_open(&ledger->store, &reader, error);
    if (result != CFOIL_OK)
        return result;
    int code = stretches_visit(reader, query, visit, user, kept);
    result = code == SQLITE_DONE || code == SQLITE_ROW ? CFOIL_OK : store_error(reader, code, error);
    (void)sqlite3_close(reader);
    return result;
}

/* ---- Cells from the entries ---- */

struct counting {
    struct rollup_sums *sums;
    bool memory_failed;
};

static bool entry_count(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    struct counting *counting = user;
    (void)number;
    counting->memory_failed = !rollup_sums_count(counting->sums, kind, time_utc_ms, body);
    return !counting->memory_failed;
}

struct lane_visit {
    const char *lane; /* NULL = all */
    rollup_visit visit;
    void *user;
};

static bool lane_cell_visit(void *user, const struct rollup_cell *cell)
{
    const struct lane_visit *only = user;
    return (only->lane != NULL && strcmp(only->lane, cell->key.lane) != 0) || only->visit(only->user, cell);
}

int32_t rollup_counted_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                             cfoil_error_info *error)
{
    struct counting counting = {.sums = rollup_sums_create(&ledger->memory, NULL, NULL)};
    struct lane_visit only = {query->lane, visit, user};
    if (counting.sums == NULL)
        return error_memory_set(error, AREA);
    int32_t result = ledger_walk(ledger, query->from_utc_ms, query->until_utc_ms, entry_count, &counting, error);
    if (result == CFOIL_OK && counting.memory_failed)
        result = error_memory_set(error, AREA);
    if (result == CFOIL_OK)
        (void)rollup_sums_visit(counting.sums, lane_cell_visit, &only);
    rollup_sums_free(counting.sums);
    return result;
}

int32_t rollup_cells(struct ledger *ledger, const struct rollup_query *query, rollup_visit visit, void *user,
                     cfoil_error_info *error)
{
    bool kept;
    int32_t result = rollup_kept_cells(ledger, query, visit, user, &kept, error);
    return result != CFOIL_OK || kept ? result : rollup_counted_cells(ledger, query, visit, user, error);
}
