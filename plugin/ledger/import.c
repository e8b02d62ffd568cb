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

struct import;

/* Lines that are taken together. While one batch is written, the next one is read. */
struct batch {
    struct import *import;
    struct import_record *records; /* `count` of them */
    struct ledger_item *items;
    const struct import_record **origins; /* of each item */
    uint32_t count;
    int64_t lines; /* number of its last line */
    int64_t taken, there, left_out;
    struct os_thread *writer; /* NULL = nothing is being written */
    int32_t result;           /* of writing it */
    int64_t bad_line;
    cfoil_error_info error;
};

enum { BATCHES = 2 };

struct import {
    struct ledger *ledger;
    const cfoil_import_options *options;
    const struct actor *actor;
    cfoil_import_result *told;
    struct import_lines lines;
    struct import_source source; /* entries 0 = an event history */
    char own[65];                /* the identity of this ledger */
    struct import_fault fault;   /* of reading */
    uint32_t batch_lines;
    struct batch batches[BATCHES];
    bool ended;
};

/* ---- What went wrong ---- */

/* A fault of a line; 0 = of none. */
static int32_t fault_told(const struct import_fault *fault, int64_t line, int64_t *bad_line, cfoil_error_info *error)
{
    if (fault->result == CFOIL_E_MEMORY)
        return error_memory_set(error, AREA);
    *bad_line = line;
    if (line == 0)
        return error_set(error, fault->result, 0, AREA, "%s.", fault->text);
    int32_t result = error_set(error, fault->result, 0, AREA, "Line %lld: %s. Nothing of its batch was taken.",
                               (long long)line, fault->text);
    if (error != NULL && line <= INT32_MAX)
        error->line = (int32_t)line;
    return result;
}

static int32_t record_fault(struct batch *batch, const struct import_record *record, int32_t result, const char *text,
                            cfoil_error_info *error)
{
    struct import_fault fault;
    (void)import_bad(&fault, result, text);
    return fault_told(&fault, record->line, &batch->bad_line, error);
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
    int64_t number = result == CFOIL_E_STATE_STOPPED ? 0 : line->number;
    return result == CFOIL_OK ? result : fault_told(&import->fault, number, &import->told->bad_line, error);
}

static int32_t verdict_told(struct import *import, enum import_verdict verdict, int64_t line, cfoil_error_info *error)
{
    if (verdict == IMPORT_MEMORY)
        return error_memory_set(error, AREA);
    return verdict == IMPORT_BAD ? fault_told(&import->fault, line, &import->told->bad_line, error) : CFOIL_OK;
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

static void records_free(struct batch *batch)
{
    for (uint32_t i = 0; i < batch->count; i++)
        cJSON_free(batch->records[i].body);
    batch->count = 0;
}

/* Adds what a line gives to the batch. */
static int32_t line_take(struct batch *batch, const struct import_line *line, size_t *bytes, cfoil_error_info *error)
{
    struct import *import = batch->import;
    struct import_record *record = &batch->records[batch->count];
    memset(record, 0, sizeof *record);
    record->line = line->number;
    bool history = import->source.entries == 0;
    enum import_verdict verdict = history
                                      ? import_event_read(line, record, &import->fault)
                                      : import_entry_read(line, &import->source, import->own, record, &import->fault);
    if (verdict == IMPORT_TAKE || verdict == IMPORT_OWN)
        batch->count++;
    else
        cJSON_free(record->body);
    batch->left_out += verdict == IMPORT_LEAVE;
    *bytes += line->length;
    return verdict_told(import, verdict, line->number, error);
}

static int32_t batch_read(struct batch *batch, cfoil_error_info *error)
{
    struct import *import = batch->import;
    size_t bytes = 0;
    struct import_line line;
    int32_t result = CFOIL_OK;
    batch->left_out = batch->taken = batch->there = batch->bad_line = 0;
    while (result == CFOIL_OK && batch->count < import->batch_lines && bytes < BATCH_BYTES_MAX && !import->ended) {
        result = line_next(import, &line, error);
        import->ended = result == CFOIL_OK && line.text == NULL;
        if (result == CFOIL_OK && !import->ended)
            result = line_take(batch, &line, &bytes, error);
    }
    batch->lines = import->lines.number;
    if (result == CFOIL_OK && import->ended && import->source.entries != 0)
        result = end_check(import, error);
    return result;
}

/* An entry that this ledger recorded itself: it must be there as it is. */
static int32_t own_check(struct batch *batch, const struct import_record *record, cfoil_error_info *error)
{
    sqlite3 *database = batch->import->ledger->store.database;
    sqlite3_stmt *row;
    struct row_value values[] = {row_number(record->own_number), row_bytes(record->own_hash, CHAIN_HASH_SIZE)};
    int code = rows_begin(database, "SELECT 1 FROM entry WHERE number = ?1 AND hash = ?2", values, 2, &row);
    if (code != SQLITE_OK)
        return store_error(database, code, error);
    code = sqlite3_step(row);
    (void)sqlite3_finalize(row);
    if (code == SQLITE_DONE)
        return record_fault(batch, record, CFOIL_E_DATA_CHAIN,
                            "this ledger has another entry there: the export is of a copy that went on by itself",
                            error);
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
static int32_t items_choose(struct batch *batch, sqlite3_stmt *add, int64_t head, uint32_t *count,
                            cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    *count = 0;
    batch->there = 0;
    for (uint32_t i = 0; result == CFOIL_OK && i < batch->count; i++) {
        const struct import_record *record = &batch->records[i];
        bool fresh = false;
        if (record->body == NULL) {
            result = own_check(batch, record, error);
        } else {
            int code = record_add(add, record, head + 1 + *count, &fresh);
            result = store_result(batch->import->ledger->store.database, code, error);
        }
        batch->there += !fresh;
        if (!fresh)
            continue;
        batch->origins[*count] = record;
        item_fill(&batch->items[(*count)++], record);
    }
    return result;
}

/* The entry that tells of the import. */
static int32_t told_append(const struct import *import, int64_t first, uint32_t count, cfoil_error_info *error)
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

static int32_t items_append(struct batch *batch, int64_t head, uint32_t count, cfoil_error_info *error)
{
    const struct import *import = batch->import;
    uint32_t added = 0;
    if (count == 0)
        return CFOIL_OK;
    int32_t result = append_all_inside(import->ledger, batch->items, count, &added, error);
    if (result == CFOIL_E_STATE_CASE_ENDED || result == CFOIL_E_RULE_REFUSED)
        return record_fault(batch, batch->origins[added], result, "this ledger holds another end of the same case",
                            error);
    return result == CFOIL_OK ? told_append(import, head + 1, count, error) : result;
}

static int32_t batch_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    struct batch *batch = user;
    const struct import *import = batch->import;
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
    result = items_choose(batch, add, head, &count, error);
    (void)sqlite3_finalize(add);
    if (result == CFOIL_OK)
        result = items_append(batch, head, count, error);
    batch->taken = count;
    /* A dry run goes all the way and takes everything back. */
    return result == CFOIL_OK && import->options->dry_run != 0 ? CFOIL_E_STATE_STOPPED : result;
}

/* ---- Reading and writing at once ---- */

static void batch_write(void *user)
{
    struct batch *batch = user;
    const struct import *import = batch->import;
    batch->error = (cfoil_error_info)CFOIL_ERROR_INFO_INIT;
    batch->result = ledger_transact(import->ledger, batch_run, batch, &batch->error);
    if (batch->result == CFOIL_E_STATE_STOPPED && import->options->dry_run != 0)
        batch->result = CFOIL_OK;
}

/* Without a thread it is written here and now. */
static void batch_write_begin(struct batch *batch)
{
    batch->writer = os_thread_start(&batch->import->ledger->memory, "import", batch_write, batch);
    if (batch->writer == NULL)
        batch_write(batch);
}

/* Waits until the batch is written, and tells what came of it. */
static int32_t batch_write_end(struct batch *batch, cfoil_error_info *error)
{
    cfoil_import_result *told = batch->import->told;
    if (batch->writer != NULL)
        os_thread_join(&batch->import->ledger->memory, batch->writer);
    batch->writer = NULL;
    records_free(batch);
    if (batch->result != CFOIL_OK) {
        told->bad_line = batch->bad_line;
        if (error != NULL)
            *error = batch->error;
        return batch->result;
    }
    told->taken += batch->taken;
    told->there += batch->there;
    told->left_out += batch->left_out;
    told->lines = batch->lines;
    return CFOIL_OK;
}

/* ---- The whole ---- */

/* Each batch is read while the one before it is written; what was wrong first is told. */
static int32_t batches_run(struct import *import, cfoil_error_info *error)
{
    struct batch *writing = NULL;
    int32_t result = own_read(import, error);
    if (result == CFOIL_OK)
        result = source_prepare(import, error);
    for (int i = 0; result == CFOIL_OK && !import->ended; i = 1 - i) {
        struct batch *batch = &import->batches[i];
        result = batch_read(batch, error);
        int32_t written = writing != NULL ? batch_write_end(writing, error) : CFOIL_OK;
        writing = NULL;
        if (written != CFOIL_OK)
            result = written;
        if (result != CFOIL_OK) {
            records_free(batch);
        } else {
            batch_write_begin(batch);
            writing = batch;
        }
    }
    return writing != NULL ? batch_write_end(writing, error) : result;
}

static void summary_set(const struct import *import)
{
    cfoil_import_result *told = import->told;
    (void)snprintf(told->text, sizeof told->text,
                   "%s %lld of %lld lines; %lld were there already, %lld stay with their ledger.",
                   import->options->dry_run != 0 ? "Would take" : "Took", (long long)told->taken,
                   (long long)told->lines, (long long)told->there, (long long)told->left_out);
}

static bool batches_make(struct import *import)
{
    const struct memory *memory = &import->ledger->memory;
    size_t lines = import->batch_lines;
    bool good = true;
    for (int i = 0; good && i < BATCHES; i++) {
        struct batch *batch = &import->batches[i];
        batch->import = import;
        batch->records = memory_allocate(memory, lines * sizeof batch->records[0]);
        batch->items = memory_allocate(memory, lines * sizeof batch->items[0]);
        batch->origins = memory_allocate(memory, lines * sizeof batch->origins[0]);
        good = batch->records != NULL && batch->items != NULL && batch->origins != NULL;
    }
    return good;
}

static void import_free(struct import *import)
{
    const struct memory *memory = &import->ledger->memory;
    for (int i = 0; i < BATCHES; i++) {
        memory_release(memory, import->batches[i].origins);
        memory_release(memory, import->batches[i].items);
        memory_release(memory, import->batches[i].records);
    }
    if (import->lines.memory != NULL)
        import_lines_end(&import->lines);
    memory_release(memory, import);
}

int32_t ledger_import(struct ledger *ledger, const cfoil_import_options *options, const struct actor *actor,
                      cfoil_import_result *told, cfoil_error_info *error)
{
    const struct memory *memory = &ledger->memory;
    told->lines = told->taken = told->there = told->left_out = told->bad_line = 0;
    told->text[0] = '\0';
    if (ledger->read_only)
        return store_error(NULL, SQLITE_READONLY, error);
    struct import *import = memory_allocate(memory, sizeof *import);
    if (import == NULL)
        return error_memory_set(error, AREA);
    import->ledger = ledger;
    import->options = options;
    import->actor = actor;
    import->told = told;
    import->batch_lines = options->batch != 0 ? options->batch : IMPORT_BATCH_DEFAULT;
    bool good = batches_make(import) && import_lines_begin(&import->lines, memory, options);
    int32_t result = good ? batches_run(import, error) : error_memory_set(error, AREA);
    summary_set(import);
    import_free(import);
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
