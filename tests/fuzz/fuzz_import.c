/*
 * Any bytes as an event history or as another ledger's export: refused with a line and nothing taken of the batch, or
 * taken; what was taken is strict JSON, counted, and there already when the same comes again. The chain stays intact.
 */
#include "fuzz.h"

#include "ledger/import.h"
#include "ledger/rollup.h"

#include <sqlite3.h>
#include <stdio.h>
#include <unistd.h>

static struct {
    char folder[64];
    char path[96];
    struct ledger *ledger;
    sqlite3 *other;
} world;

static void world_remove(void)
{
    static const char *const endings[] = {"", "-wal", "-shm", ".key"};
    char path[128];
    (void)sqlite3_close(world.other);
    ledger_release(world.ledger);
    for (int i = 0; i < 4; i++) {
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
    demand(sqlite3_open(world.path, &world.other) == SQLITE_OK);
    (void)atexit(world_remove);
}

struct input {
    const uint8_t *bytes;
    size_t length;
    size_t piece;
};

static int32_t input_read(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length)
{
    const struct input *input = user;
    demand(offset <= input->length);
    size_t left = input->length - (size_t)offset;
    size_t most = input->piece < capacity ? input->piece : capacity;
    *length = left < most ? left : most;
    if (*length > 0)
        memcpy(buffer, input->bytes + offset, *length);
    return CFOIL_OK;
}

static int32_t import_try(struct input *input, cfoil_import_result *told)
{
    cfoil_import_options options = CFOIL_IMPORT_OPTIONS_INIT;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct actor actor = {"fuzz", false};
    options.read = input_read;
    options.user = input;
    options.batch = 3;
    int32_t result = ledger_import(world.ledger, &options, &actor, told, &error);
    demand((result == CFOIL_OK) == (told->bad_line == 0));
    demand(result == CFOIL_OK || (error.text[0] != '\0' && error.line == told->bad_line));
    return result;
}

static int64_t number_of(const char *sql)
{
    sqlite3_stmt *row;
    demand(sqlite3_prepare_v2(world.other, sql, -1, &row, NULL) == SQLITE_OK);
    demand(sqlite3_step(row) == SQLITE_ROW);
    int64_t number = sqlite3_column_int64(row, 0);
    sqlite3_finalize(row);
    return number;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    cfoil_import_result told = CFOIL_IMPORT_RESULT_INIT;
    cfoil_import_result again = CFOIL_IMPORT_RESULT_INIT;
    if (world.ledger == NULL)
        world_make();
    uint8_t *bytes = bytes_copy(data, size);
    struct input input = {bytes, size, size % 97 + 1};
    int64_t before = number_of("SELECT count(*) FROM record");
    int32_t result = import_try(&input, &told);
    demand(number_of("SELECT count(*) FROM record") == before + told.taken);
    demand(import_try(&input, &again) == result);
    demand(again.taken == 0 && again.bad_line == told.bad_line && again.lines == told.lines);
    demand(number_of("SELECT count(*) FROM record") == before + told.taken);
    demand(number_of("SELECT count(*) FROM record JOIN entry ON entry.number = record.entry") == before + told.taken);
    demand(number_of("SELECT (SELECT entry FROM rollup_head) = (SELECT number FROM head)") == 1);
    if (told.taken > 0) {
        cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
        demand(number_of("SELECT min(json_valid(body)) FROM entry") == 1);
        demand(ledger_verify(world.ledger, &check, NULL) == CFOIL_OK && check.intact == 1);
    }
    free(bytes);
    return 0;
}
