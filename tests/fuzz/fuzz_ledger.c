/*
 * Any kinds and bodies in a ledger's file that other hands have changed: each entry and each report still comes out as
 * well-formed JSON, and the check of the chain finds the change.
 */
#include "fuzz.h"

#include "ledger/ledger.h"
#include "model/text.h"
#include "statistics/statistics.h"

#include <sqlite3.h>
#include <stdio.h>
#include <unistd.h>

enum { ENTRIES = 4 }; /* the first is the ledger's own */

static struct {
    char folder[64];
    char path[96];
    struct ledger *ledger;
    sqlite3 *other;
    sqlite3_stmt *change;
} world;

static const char kept_body[] = "{\"kind\":\"stacked\",\"presentation\":1,\"seq\":1}";

static void world_remove(void)
{
    static const char *const endings[] = {"", "-wal", "-shm"};
    char path[128];
    (void)sqlite3_finalize(world.change);
    (void)sqlite3_close(world.other);
    ledger_release(world.ledger);
    for (int i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s%s", world.path, endings[i]);
        (void)unlink(path);
    }
    (void)rmdir(world.folder);
}

static void world_make(void)
{
    const char *base = getenv("TMPDIR");
    snprintf(world.folder, sizeof world.folder, "%.40s/counterfoil-XXXXXX", base != NULL ? base : "/tmp");
    demand(mkdtemp(world.folder) != NULL);
    snprintf(world.path, sizeof world.path, "%s/till.ledger", world.folder);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world.path;
    demand(ledger_open(&memory_heap, &options, &world.ledger, NULL) == CFOIL_OK);
    struct ledger_item item = {
        .kind = LEDGER_KIND_PRESENTATION, .time_utc_ms = INT64_C(1764000000000), .body = kept_body};
    for (int i = 2; i <= ENTRIES; i++)
        demand(ledger_append(world.ledger, &item, 1, NULL, NULL, NULL) == CFOIL_OK);
    demand(sqlite3_open(world.path, &world.other) == SQLITE_OK);
    demand(sqlite3_exec(world.other, "PRAGMA synchronous = OFF; DROP TRIGGER entry_not_changed", NULL, NULL, NULL) ==
           SQLITE_OK);
    demand(sqlite3_prepare_v2(world.other, "UPDATE entry SET kind = ?2, body = ?3 WHERE number = ?1", -1, &world.change,
                              NULL) == SQLITE_OK);
    (void)atexit(world_remove);
}

/* One row of the input: a letter for the kind, a digit for the type in the file, and the body. True when the row is now
 * another one than before. */
static bool row_change(int64_t number, const char *row, size_t length)
{
    static const struct {
        char letter;
        const char *kind;
    } kinds[] = {{'p', LEDGER_KIND_PRESENTATION}, {'d', LEDGER_KIND_DEVICE}, {'c', LEDGER_KIND_CASE}};
    const char *kind = NULL;
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        kind = length > 0 && row[0] == kinds[i].letter ? kinds[i].kind : kind;
    const char *body = length > 2 ? row + 2 : "";
    int body_length = length > 2 ? (int)length - 2 : 0;
    bool blob = length > 1 && row[1] == '1';
    if (kind != NULL)
        sqlite3_bind_text(world.change, 2, kind, -1, SQLITE_STATIC);
    else
        sqlite3_bind_text(world.change, 2, body, body_length < 12 ? body_length : 12, SQLITE_STATIC);
    if (blob)
        sqlite3_bind_blob(world.change, 3, body, body_length, SQLITE_STATIC);
    else
        sqlite3_bind_text(world.change, 3, body, body_length, SQLITE_STATIC);
    sqlite3_bind_int64(world.change, 1, number);
    demand(sqlite3_step(world.change) == SQLITE_DONE);
    sqlite3_reset(world.change);
    bool same_kind = kind != NULL && strcmp(kind, LEDGER_KIND_PRESENTATION) == 0;
    bool same_body = !blob && (size_t)body_length == strlen(kept_body) &&
                     memcmp(body, kept_body, strlen(kept_body)) == 0;
    return !same_kind || !same_body;
}

static void json_is_whole(char *text)
{
    cJSON *tree = cJSON_ParseWithOpts(text, NULL, 1);
    demand(tree != NULL && strchr(text, '\n') == NULL && text_utf8_valid(text, strlen(text)));
    cJSON_Delete(tree);
    cJSON_free(text);
}

static void entries_read(void)
{
    for (int64_t number = 0; number <= ENTRIES; number++) {
        char *text;
        demand(ledger_entry_text(world.ledger, number, &text, NULL) == CFOIL_OK);
        json_is_whole(text);
    }
}

/* Nothing in it moves the cursor of a terminal. */
static void plain_is_plain(char *text)
{
    demand(text_utf8_valid(text, strlen(text)));
    for (const char *at = text; *at != '\0'; at++)
        demand(*at == '\n' || ((unsigned char)*at >= ' ' && *at != 0x7F));
    cJSON_free(text);
}

static void report_read(int32_t format)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    char *text;
    options.format = format;
    demand(report_text(world.ledger, &options, &text, NULL) == CFOIL_OK);
    if (format == CFOIL_FORMAT_JSON)
        json_is_whole(text);
    else
        plain_is_plain(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (world.ledger == NULL)
        world_make();
    char *text = text_copied(data, size);
    const char *row = text;
    bool changed = false;
    for (int64_t number = 2; number <= ENTRIES; number++) {
        const char *end = memchr(row, '\n', (size_t)(text + size - row));
        size_t length = (size_t)((end != NULL ? end : text + size) - row);
        changed = row_change(number, row, length) || changed;
        row += length + (end != NULL);
    }
    entries_read();
    report_read(CFOIL_FORMAT_JSON);
    report_read(CFOIL_FORMAT_TEXT);
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    demand(ledger_verify(world.ledger, &check, NULL) == CFOIL_OK);
    demand((check.intact == 0) == changed);
    free(text);
    return 0;
}
