/*
 * The import: lines in batches, each batch in one transaction, each record once. See import.h and docs/exchange.md.
 */
#include "ledger/import_lines.h"

#include "ledger/append.h"
#include "ledger/body.h"
#include "ledger/hex.h"
#include "ledger/rows.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "os/os.h"

#include <stdio.h>
#include <string.h>

#define AREA "import"
/* A batch ends earlier when its bodies are this large together. */
#define BATCH_BYTES_MAX ((size_t)16 * 1024 * 1024)

struct import {
    struct ledger *ledger;
    const cfoil_import_options *options;
    const struct actor *actor;
    cfoil_import_result *told;
    struct import_lines lines;
    struct import_source source; /* entries 0 = an event history */
    char own[65];                /* the identity of this ledger */
    struct import_fault fault;
    int64_t fault_line; /* 0 = the fault is none of a line */
    uint32_t batch;
    struct import_record *records; /* of the batch, `count` of them */
    struct ledger_item *items;
    const struct import_record **sources_of; /* which record an item is */
    uint32_t count;
    int64_t left_out; /* of the batch */
    int64_t taken, there;
    bool ended;
};

/* ---- What went wrong ---- */

static int32_t fault_told(struct import *import, cfoil_error_info *error)
{
    const char *text = import->fault.text;
    if (import->fault.result == CFOIL_E_MEMORY)
        return error_memory_set(error, AREA);
    import->told->bad_line = import->fault_line;
    if (import->fault_line == 0)
        return error_set(error, import->fault.result, 0, AREA, "%s.", text);
    int32_t result = error_set(error, import->fault.result, 0, AREA, "Line %lld: %s. Nothing of its batch was taken.",
                               (long long)import->fault_line, text);
    if (error != NULL && import->fault_line <= INT32_MAX)
        error->line = (int32_t)import->fault_line;
    return result;
}

static int32_t fault_set(struct import *import, int64_t line, int32_t result, const char *text, cfoil_error_info *error)
{
    (void)import_bad(&import->fault, result, text);
    import->fault_line = line;
    return fault_told(import, error);
}

/* ---- This ledger ---- */

static int32_t own_read(struct import *import, cfoil_error_info *error)
{
    sqlite3_stmt *row;
    os_mutex_lock(import->ledger->mutex);
    sqlite3 *database = import->ledger->store.database;
    int code = rows_begin(database, "SELECT hash FROM entry WHERE number = 1", NULL, 0, &row);
    if (code == SQLITE_OK)
        code = sqlite3_step(row);
    const uint8_t *hash = code == SQLITE_ROW ? sqlite3_column_blob(row, 0) : NULL;
    if (hash != NULL && sqlite3_column_bytes(row, 0) == CHAIN_HASH_SIZE)
        text_hex(hash, CHAIN_HASH_SIZE, import->own);
    (void)sqlite3_finalize(row);
    int32_t result = code == SQLITE_ROW || code == SQLITE_DONE ? CFOIL_OK : store_error(database, code, error);
    os_mutex_unlock(import->ledger->mutex);
    return result;
}

/* ---- The first line, and the chain of a whole ledger ---- */

static int32_t line_next(struct import *import, struct import_line *line, cfoil_error_info *error)
{
    int32_t result = import_lines_next(&import->lines, line, &import->fault);
    import->fault_line = result == CFOIL_E_STATE_STOPPED ? 0 : line->number;
    return result == CFOIL_OK ? result : fault_told(import, error);
}

static int32_t verdict_told(struct import *import, enum import_verdict verdict, int64_t line, cfoil_error_info *error)
{
    import->fault_line = line;
    if (verdict == IMPORT_MEMORY)
        return error_memory_set(error, AREA);
    return verdict == IMPORT_BAD ? fault_told(import, error) : CFOIL_OK;
}

/* *whole = the first line begins the export of a ledger. */
static int32_t heading_read(struct import *import, bool *whole, cfoil_error_info *error)
{
    struct import_line line;
    enum import_verdict verdict;
    int32_t result = line_next(import, &line, error);
    *whole = false;
    if (result != CFOIL_OK || line.text == NULL)
        return result;
    cJSON *object = import_line_parse(&line, &verdict, &import->fault);
    if (object == NULL)
        return verdict_told(import, verdict, 1, error);
    *whole = import_heading_is(object);
    verdict = *whole ? import_heading_read(object, &import->source, &import->fault) : IMPORT_TAKE;
    cJSON_Delete(object);
    return verdict_told(import, verdict, 1, error);
}

static int32_t end_check(struct import *import, cfoil_error_info *error)
{
    return verdict_told(import, import_end_check(&import->source, &import->fault), import->lines.number, error);
}

/* A whole ledger is taken only when its whole chain is intact: read once for that, before anything is taken. */
static int32_t chain_check(struct import *import, cfoil_error_info *error)
{
    struct import_line line;
    int32_t result;
    while ((result = line_next(import, &line, error)) == CFOIL_OK && line.text != NULL) {
        enum import_verdict verdict = import_entry_read(&line, &import->source, import->own, NULL, &import->fault);
        result = verdict_told(import, verdict, line.number, error);
        if (result != CFOIL_OK)
            return result;
    }
    return result == CFOIL_OK ? end_check(import, error) : result;
}

static int32_t source_prepare(struct import *import, cfoil_error_info *error)
{
    bool whole;
    int32_t result = heading_read(import, &whole, error);
    if (result == CFOIL_OK && whole)
        result = chain_check(import, error);
    import_lines_rewind(&import->lines);
    /* The second reading follows the chain again: the lines must be the same ones. */
    return result == CFOIL_OK && whole ? heading_read(import, &whole, error) : result;
}

/* ---- A batch: first read, then taken ---- */

static void records_free(struct import *import)
{
    for (uint32_t i = 0; i < import->count; i++)
        cJSON_free(import->records[i].body);
    import->count = 0;
}

/* Adds what a line gives to the batch. */
static int32_t line_take(struct import *import, const struct import_line *line, size_t *bytes, cfoil_error_info *error)
{
    struct import_record *record = &import->records[import->count];
    memset(record, 0, sizeof *record);
    record->line = line->number;
    bool history = import->source.entries == 0;
    enum import_verdict verdict = history
                                      ? import_event_read(line, record, &import->fault)
                                      : import_entry_read(line, &import->source, import->own, record, &import->fault);
    if (verdict == IMPORT_TAKE || verdict == IMPORT_OWN)
        import->count++;
    else
        cJSON_free(record->body);
    import->left_out += verdict == IMPORT_LEAVE;
    *bytes += line->length;
    return verdict_told(import, verdict, line->number, error);
}

static int32_t batch_read(struct import *import, cfoil_error_info *error)
{
    size_t bytes = 0;
    struct import_line line;
    int32_t result = CFOIL_OK;
    import->left_out = 0;
    while (result == CFOIL_OK && import->count < import->batch && bytes < BATCH_BYTES_MAX && !import->ended) {
        result = line_next(import, &line, error);
        import->ended = result == CFOIL_OK && line.text == NULL;
        if (result == CFOIL_OK && !import->ended)
            result = line_take(import, &line, &bytes, error);
    }
    if (result == CFOIL_OK && import->ended && import->source.entries != 0)
        result = end_check(import, error);
    return result;
}

/* An entry that this ledger recorded itself: it must be there as it is. */
static int32_t own_check(struct import *import, const struct import_record *record, cfoil_error_info *error)
{
    sqlite3 *database = import->ledger->store.database;
    sqlite3_stmt *row;
    struct row_value values[] = {row_number(record->own_number), row_bytes(record->own_hash, CHAIN_HASH_SIZE)};
    int code = rows_begin(database, "SELECT 1 FROM entry WHERE number = ?1 AND hash = ?2", values, 2, &row);
    if (code != SQLITE_OK)
        return store_error(database, code, error);
    code = sqlite3_step(row);
    (void)sqlite3_finalize(row);
    if (code == SQLITE_DONE)
        return fault_set(import, record->line, CFOIL_E_DATA_CHAIN,
                         "this ledger has another entry there: the export is of a copy that went on by itself", error);
    return code == SQLITE_ROW ? CFOIL_OK : store_error(database, code, error);
}

/* Is the record new? Then it stands in the table now, with the number that its entry will have. */
static int record_add(sqlite3_stmt *add, const struct import_record *record, int64_t number, bool *fresh)
{
    int code = sqlite3_bind_blob(add, 1, record->id, sizeof record->id, SQLITE_STATIC);
    code |= sqlite3_bind_int64(add, 2, number);
    if (code == SQLITE_OK)
        code = sqlite3_step(add);
    (void)sqlite3_reset(add);
    *fresh = sqlite3_changes(sqlite3_db_handle(add)) > 0;
    return code == SQLITE_DONE ? SQLITE_OK : code;
}

static void item_fill(struct ledger_item *item, const struct import_record *record)
{
    *item = (struct ledger_item){
        .kind = record->kind,
        .time_utc_ms = record->time_utc_ms,
        .body = record->body,
        .case_id = record->case_id[0] != '\0' ? record->case_id : NULL,
        .disposition = record->disposition,
        .currency = record->serial[0] != '\0' ? record->currency : NULL,
        .serial = record->serial[0] != '\0' ? record->serial : NULL,
    };
}

/* Which records are new: their items, `*count` of them. */
static int32_t items_choose(struct import *import, sqlite3_stmt *add, int64_t head, uint32_t *count,
                            cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    *count = 0;
    import->there = 0;
    for (uint32_t i = 0; result == CFOIL_OK && i < import->count; i++) {
        const struct import_record *record = &import->records[i];
        bool fresh = false;
        if (record->body == NULL) {
            result = own_check(import, record, error);
        } else {
            int code = record_add(add, record, head + 1 + *count, &fresh);
            result = store_result(import->ledger->store.database, code, error);
        }
        import->there += !fresh;
        if (!fresh)
            continue;
        import->sources_of[*count] = record;
        item_fill(&import->items[(*count)++], record);
    }
    return result;
}

/* The entry that tells of the import. */
static int32_t told_append(struct import *import, int64_t first, uint32_t count, cfoil_error_info *error)
{
    bool history = import->source.entries == 0;
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.import/1") &&
                json_text_add(object, "by", import->actor->staff) &&
                json_text_add(object, "ledger", history ? NULL : import->source.identity) &&
                json_text_add(object, "store", history ? NULL : import->source.store) &&
                json_integer_add(object, "records", count) && json_integer_add(object, "first", first) &&
                json_integer_add(object, "last", first + count - 1);
    char *body = good ? json_canonical(object) : NULL;
    cJSON_Delete(object);
    if (body == NULL)
        return error_memory_set(error, AREA);
    struct ledger_item item = {.kind = LEDGER_KIND_IMPORT, .time_utc_ms = os_time_utc_ms(), .body = body};
    int32_t result = append_inside(import->ledger, &item, NULL, error);
    cJSON_free(body);
    return result;
}

static int32_t items_append(struct import *import, int64_t head, uint32_t count, cfoil_error_info *error)
{
    uint32_t added = 0;
    if (count == 0)
        return CFOIL_OK;
    int32_t result = append_all_inside(import->ledger, import->items, count, &added, error);
    if (result == CFOIL_E_STATE_CASE_ENDED || result == CFOIL_E_RULE_REFUSED)
        return fault_set(import, import->sources_of[added]->line, result,
                         "this ledger holds another end of the same case", error);
    return result == CFOIL_OK ? told_append(import, head + 1, count, error) : result;
}

static int32_t batch_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct import *import = user;
    uint8_t hash[CHAIN_HASH_SIZE];
    int64_t head = 0;
    uint32_t count = 0;
    sqlite3_stmt *add = NULL;
    int32_t result = access_check(ledger, import->actor, ROLES_SUPERVISE, error);
    if (result == CFOIL_OK)
        result = append_head_read(ledger, &head, hash, error);
    if (result != CFOIL_OK)
        return result;
    int code = rows_begin(ledger->store.database, "INSERT OR IGNORE INTO record(id, entry) VALUES(?1, ?2)", NULL, 0,
                          &add);
    if (code != SQLITE_OK)
        return store_error(ledger->store.database, code, error);
    result = items_choose(import, add, head, &count, error);
    (void)sqlite3_finalize(add);
    if (result == CFOIL_OK)
        result = items_append(import, head, count, error);
    import->taken = count;
    /* A dry run goes all the way and takes everything back. */
    return result == CFOIL_OK && import->options->dry_run != 0 ? CFOIL_E_STATE_STOPPED : result;
}

static int32_t batch_take(struct import *import, cfoil_error_info *error)
{
    int32_t result = ledger_transact(import->ledger, batch_run, import, error);
    if (result == CFOIL_E_STATE_STOPPED && import->options->dry_run != 0)
        result = CFOIL_OK;
    if (result != CFOIL_OK)
        return result;
    import->told->taken += import->taken;
    import->told->there += import->there;
    import->told->left_out += import->left_out;
    import->told->lines = import->lines.number;
    return CFOIL_OK;
}

/* ---- The whole ---- */

static int32_t batches_run(struct import *import, cfoil_error_info *error)
{
    int32_t result = own_read(import, error);
    if (result == CFOIL_OK)
        result = source_prepare(import, error);
    while (result == CFOIL_OK && !import->ended) {
        result = batch_read(import, error);
        if (result == CFOIL_OK)
            result = batch_take(import, error);
        records_free(import);
    }
    return result;
}

static void summary_set(const struct import *import)
{
    cfoil_import_result *told = import->told;
    (void)snprintf(told->text, sizeof told->text,
                   "%s %lld of %lld lines; %lld were there already, %lld stay with their ledger.",
                   import->options->dry_run != 0 ? "Would take" : "Took", (long long)told->taken,
                   (long long)told->lines, (long long)told->there, (long long)told->left_out);
}

int32_t ledger_import(struct ledger *ledger, const cfoil_import_options *options, const struct actor *actor,
                      cfoil_import_result *told, cfoil_error_info *error)
{
    const struct memory *memory = &ledger->memory;
    uint32_t batch = options->batch != 0 ? options->batch : IMPORT_BATCH_DEFAULT;
    told->lines = told->taken = told->there = told->left_out = told->bad_line = 0;
    told->text[0] = '\0';
    if (ledger->read_only)
        return store_error(NULL, SQLITE_READONLY, error);
    struct import *import = memory_allocate(memory, sizeof *import);
    if (import != NULL) {
        *import = (struct import){.ledger = ledger, .options = options, .actor = actor, .told = told, .batch = batch};
        import->records = memory_allocate(memory, batch * sizeof import->records[0]);
        import->items = memory_allocate(memory, batch * sizeof import->items[0]);
        import->sources_of = memory_allocate(memory, batch * sizeof import->sources_of[0]);
    }
    bool good = import != NULL && import->records != NULL && import->items != NULL && import->sources_of != NULL &&
                import_lines_begin(&import->lines, memory, options);
    int32_t result = good ? batches_run(import, error) : error_memory_set(error, AREA);
    if (import != NULL) {
        summary_set(import);
        import_lines_end(&import->lines);
        memory_release(memory, import->sources_of);
        memory_release(memory, import->items);
        memory_release(memory, import->records);
        memory_release(memory, import);
    }
    return result;
}

/* ---- The table of records ---- */

static int record_row_add(sqlite3_stmt *row, sqlite3_stmt *add)
{
    const char *text = (const char *)sqlite3_column_text(row, 1);
    struct import_record record;
    cJSON *body;
    bool fresh;
    if (text == NULL || ledger_body_parse(text, &body) != CFOIL_OK)
        return SQLITE_NOMEM;
    bool named = import_record_id_read(body, record.id);
    cJSON_Delete(body);
    return named ? record_add(add, &record, sqlite3_column_int64(row, 0), &fresh) : SQLITE_OK;
}

int import_records_make(struct ledger *ledger)
{
    sqlite3 *database = ledger->store.database;
    sqlite3_stmt *rows = NULL;
    sqlite3_stmt *add = NULL;
    int code = sqlite3_exec(database, "DELETE FROM record", NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = rows_begin(database, "INSERT OR IGNORE INTO record(id, entry) VALUES(?1, ?2)", NULL, 0, &add);
    if (code == SQLITE_OK)
        code = rows_begin(database,
                          "SELECT number, body FROM entry WHERE instr(body, '\"origin\":{') > 0 ORDER BY number", NULL,
                          0, &rows);
    while (code == SQLITE_OK && (code = sqlite3_step(rows)) == SQLITE_ROW)
        code = record_row_add(rows, add);
    (void)sqlite3_finalize(rows);
    (void)sqlite3_finalize(add);
    return code == SQLITE_DONE ? SQLITE_OK : code;
}
