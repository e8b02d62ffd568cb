/*
 * The export of a ledger. See export.h; the formats are described in docs/exchange.md.
 */
#include "ledger/export.h"

#include "ledger/body.h"
#include "ledger/chain.h"
#include "ledger/entry_json.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "os/os.h"

#include <string.h>

#define AREA "ledger"

/* The period of an export: ?1 and ?2, 0 = open on that side. */
#define PERIOD " (?1 = 0 OR time_utc_ms >= ?1) AND (?2 = 0 OR time_utc_ms < ?2)"

/* ---- The sink ---- */

void sink_flush(struct sink *sink)
{
    if (sink->used > 0 && !sink->refused)
        sink->refused = sink->options->write(sink->options->user, sink->bytes, sink->used) != CFOIL_OK;
    sink->used = 0;
}

void sink_write(struct sink *sink, const char *bytes, size_t length)
{
    while (length > 0 && !sink->refused) {
        size_t room = sizeof sink->bytes - sink->used;
        size_t piece = length < room ? length : room;
        memcpy(sink->bytes + sink->used, bytes, piece);
        sink->used += piece;
        bytes += piece;
        length -= piece;
        if (sink->used == sizeof sink->bytes)
            sink_flush(sink);
    }
}

/* ---- The first line ---- */

static int hash_read(sqlite3_stmt *row, int column, char hex[2 * CHAIN_HASH_SIZE + 1])
{
    const uint8_t *bytes = sqlite3_column_blob(row, column);
    hex[0] = '\0';
    if (bytes != NULL && sqlite3_column_bytes(row, column) == CHAIN_HASH_SIZE)
        text_hex(bytes, CHAIN_HASH_SIZE, hex);
    return SQLITE_ROW;
}

/* What stands in the first line. */
struct summary {
    char identity[2 * CHAIN_HASH_SIZE + 1]; /* the hash of entry 1 */
    char store[65];
    int64_t head;
    char head_hash[2 * CHAIN_HASH_SIZE + 1];
    int64_t entries, first, last; /* of the period */
};

static int identity_read(sqlite3_stmt *row, struct summary *summary)
{
    const char *text = (const char *)sqlite3_column_text(row, 1);
    cJSON *body = NULL;
    (void)hash_read(row, 0, summary->identity);
    if (text == NULL || ledger_body_parse(text, &body) != CFOIL_OK)
        return SQLITE_NOMEM;
    text_copy(summary->store, sizeof summary->store,
              cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, "store")));
    cJSON_Delete(body);
    return SQLITE_ROW;
}

static int head_read(sqlite3_stmt *row, struct summary *summary)
{
    summary->head = sqlite3_column_int64(row, 0);
    return hash_read(row, 1, summary->head_hash);
}

static int period_read(sqlite3_stmt *row, struct summary *summary)
{
    summary->entries = sqlite3_column_int64(row, 0);
    summary->first = sqlite3_column_int64(row, 1);
    summary->last = sqlite3_column_int64(row, 2);
    return SQLITE_ROW;
}

/* A ledger that lacks its first entry or its head is exported as it is: verifying tells what is missing. */
static int summary_read(sqlite3 *reader, const cfoil_export_options *options, struct summary *summary)
{
    static const struct {
        const char *sql;
        int (*read)(sqlite3_stmt *row, struct summary *summary);
    } parts[] = {
        {"SELECT hash, body FROM entry WHERE number = 1 AND ?1 + ?2 IS NOT NULL", identity_read},
        {"SELECT number, hash FROM head WHERE id = 1 AND ?1 + ?2 IS NOT NULL", head_read},
        {"SELECT count(*), min(number), max(number) FROM entry WHERE" PERIOD, period_read},
    };
    memset(summary, 0, sizeof *summary);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        sqlite3_stmt *row;
        struct row_value values[] = {row_number(options->from_utc_ms), row_number(options->until_utc_ms)};
        int code = rows_begin(reader, parts[i].sql, values, 2, &row);
        if (code == SQLITE_OK)
            code = sqlite3_step(row);
        if (code == SQLITE_ROW)
            code = parts[i].read(row, summary);
        (void)sqlite3_finalize(row);
        if (code != SQLITE_ROW && code != SQLITE_DONE)
            return code;
    }
    return SQLITE_OK;
}

static bool time_add(cJSON *object, const char *key, int64_t time_utc_ms)
{
    char time[TEXT_TIME_SIZE];
    text_time(time_utc_ms, time);
    return json_text_add(object, key, time_utc_ms != 0 ? time : NULL);
}

static char *summary_json(const struct summary *summary, const struct ledger *ledger,
                          const cfoil_export_options *options)
{
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.export/1") &&
                json_text_add(object, "ledger", summary->identity[0] != '\0' ? summary->identity : NULL) &&
                json_text_add(object, "store", summary->store) &&
                json_integer_add(object, "format", ledger->store.version) &&
                time_add(object, "time", os_time_utc_ms()) && time_add(object, "from", options->from_utc_ms) &&
                time_add(object, "until", options->until_utc_ms) &&
                json_integer_add(object, "entries", summary->entries) &&
                json_integer_add(object, "first", summary->first) && json_integer_add(object, "last", summary->last);
    cJSON *head = good ? json_object_add(object, "head") : NULL;
    good = json_integer_add(head, "entry", summary->head) && json_text_add(head, "hash", summary->head_hash);
    char *text = good ? json_line(object) : NULL;
    cJSON_Delete(object);
    return text;
}

/* ---- The lines ---- */

/* Takes over the text. */
static bool line_write(struct sink *sink, char *text)
{
    if (text == NULL)
        return false;
    sink_write(sink, text, strlen(text));
    sink_write(sink, "\n", 1);
    cJSON_free(text);
    return true;
}

static int heading_write(struct ledger *ledger, sqlite3 *reader, struct sink *sink)
{
    const cfoil_export_options *options = sink->options;
    struct summary summary;
    if (options->format == CFOIL_EXPORT_CSV) {
        csv_heading_write(sink, options->table);
        return SQLITE_OK;
    }
    int code = summary_read(reader, options, &summary);
    if (code == SQLITE_OK && !line_write(sink, summary_json(&summary, ledger, options)))
        code = SQLITE_NOMEM;
    return code;
}

static int entries_write(sqlite3_stmt *rows, struct sink *sink)
{
    int code = SQLITE_DONE;
    while (!sink->refused && (code = sqlite3_step(rows)) == SQLITE_ROW) {
        bool good = sink->options->format == CFOIL_EXPORT_CSV ? csv_row_write(sink, sink->options->table, rows)
                                                              : line_write(sink, entry_row_json(rows));
        if (!good)
            return SQLITE_NOMEM;
    }
    return sink->refused || code == SQLITE_DONE ? SQLITE_OK : code;
}

static int export_run(struct ledger *ledger, sqlite3 *reader, struct sink *sink)
{
    const cfoil_export_options *options = sink->options;
    bool table = options->format == CFOIL_EXPORT_CSV;
    struct row_value values[] = {row_number(options->from_utc_ms), row_number(options->until_utc_ms),
                                 row_text(table ? csv_table_kind(options->table) : "")};
    sqlite3_stmt *rows = NULL;
    int code = heading_write(ledger, reader, sink);
    if (code == SQLITE_OK)
        code = rows_begin(reader,
                          "SELECT " COLUMNS " FROM entry WHERE" PERIOD " AND (?3 = '' OR kind = ?3) ORDER BY number",
                          values, 3, &rows);
    if (code == SQLITE_OK)
        code = entries_write(rows, sink);
    (void)sqlite3_finalize(rows);
    if (code == SQLITE_OK)
        sink_flush(sink);
    return code;
}

int32_t ledger_export(struct ledger *ledger, const cfoil_export_options *options, cfoil_error_info *error)
{
    struct sink *sink = memory_allocate(&ledger->memory, sizeof *sink);
    sqlite3 *reader;
    if (sink == NULL)
        return error_memory_set(error, AREA);
    sink->options = options;
    int32_t result = store_reader_open(&ledger->store, &reader, error);
    if (result == CFOIL_OK) {
        int code = export_run(ledger, reader, sink);
        result = code == SQLITE_OK ? CFOIL_OK : store_error(reader, code, error);
        (void)sqlite3_close(reader);
    }
    if (result == CFOIL_OK && sink->refused)
        result = error_set(error, CFOIL_E_STATE_STOPPED, 0, AREA,
                           "The export ended early: the function that takes it did not go on.");
    memory_release(&ledger->memory, sink);
    return result;
}
