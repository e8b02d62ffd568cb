/*
 * A copy of the ledger's file beside it. See backup.h.
 */
#include "ledger/backup.h"

#include "ledger/file.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define AREA "ledger"

/* Where a ledger ends. */
struct end {
    int64_t number;
    uint8_t hash[32];
};

static int end_read(sqlite3 *database, struct end *end)
{
    sqlite3_stmt *statement = NULL;
    memset(end, 0, sizeof *end);
    int code = sqlite3_prepare_v2(database, "SELECT number, hash FROM head WHERE id = 1", -1, &statement, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        const void *hash = sqlite3_column_blob(statement, 1);
        end->number = sqlite3_column_int64(statement, 0);
        if (hash != NULL && sqlite3_column_bytes(statement, 1) == (int)sizeof end->hash)
            memcpy(end->hash, hash, sizeof end->hash);
    }
    (void)sqlite3_finalize(statement);
    return code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_OK : code;
}

/* Does the copy that is there already end as this ledger does? What cannot be read is another file. */
static int same_end(sqlite3 *source, const char *copy_path, bool *same)
{
    struct end ours;
    struct end theirs;
    sqlite3 *copy = NULL;
    *same = false;
    int code = end_read(source, &ours);
    if (code != SQLITE_OK)
        return code;
    int looked = sqlite3_open_v2(copy_path, &copy, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL);
    if (looked == SQLITE_OK)
        looked = end_read(copy, &theirs);
    (void)sqlite3_close(copy);
    if (looked == SQLITE_OK)
        *same = ours.number > 0 && ours.number == theirs.number &&
                memcmp(ours.hash, theirs.hash, sizeof ours.hash) == 0;
    return (looked & 0xff) == SQLITE_NOMEM ? looked : SQLITE_OK;
}

/* Copies all pages; SQLite flushes the copy when it is whole. */
static int pages_copy(sqlite3 *source, const char *copy_path)
{
    sqlite3 *copy = NULL;
    int code = sqlite3_open_v2(copy_path, &copy, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_exec(copy, "PRAGMA synchronous=FULL; PRAGMA fullfsync=ON", NULL, NULL, NULL);
    if (code == SQLITE_OK) {
        sqlite3_backup *backup = sqlite3_backup_init(copy, "main", source, "main");
        code = backup == NULL ? sqlite3_extended_errcode(copy) : sqlite3_backup_step(backup, -1);
        int finished = sqlite3_backup_finish(backup);
        code = code == SQLITE_DONE ? finished : code;
    }
    int closed = sqlite3_close(copy);
    return code == SQLITE_OK ? closed : code;
}

static int32_t exists_set(cfoil_error_info *error, const char *copy_path)
{
    const char *name = strrchr(copy_path, '/');
    return error_set(error, CFOIL_E_LEDGER_BACKUP, 0, AREA,
                     "%.120s is there already and is no copy of this ledger: move it to another place, then try again.",
                     name != NULL ? name + 1 : copy_path);
}

static int32_t made_set(cfoil_error_info *error, int problem)
{
    if (problem == ENOMEM)
        return error_memory_set(error, AREA);
    return error_set(error, problem == ENOSPC ? CFOIL_E_LEDGER_FULL : CFOIL_E_LEDGER_BACKUP, problem, AREA,
                     "No copy of the ledger can be made beside it: check the rights and the space of its folder.");
}

/* The copy is made under a name of its own, so that the real name never stands for half a copy. */
static int32_t copy_make(sqlite3 *source, const char *own_path, const char *copy_path, cfoil_error_info *error)
{
    int problem = file_empty_make(own_path);
    if (problem != 0)
        return made_set(error, problem);
    int code = pages_copy(source, own_path);
    int32_t result = code == SQLITE_OK ? CFOIL_OK : store_error(NULL, code, error);
    if (result == CFOIL_OK) {
        problem = file_name_move(own_path, copy_path);
        result = problem == 0 ? CFOIL_OK : problem == EEXIST ? exists_set(error, copy_path) : made_set(error, problem);
    }
    if (result != CFOIL_OK)
        file_remove(own_path);
    return result;
}

static int32_t copy_ensure(const struct store *store, const char *own_path, const char *copy_path,
                           cfoil_error_info *error)
{
    sqlite3 *source;
    int32_t result = store_reader_open(store, &source, error);
    if (result != CFOIL_OK)
        return result;
    bool same = false;
    int code = file_exists(copy_path) ? same_end(source, copy_path, &same) : SQLITE_OK;
    if (code != SQLITE_OK)
        result = store_error(source, code, error);
    else if (file_exists(copy_path))
        result = same ? CFOIL_OK : exists_set(error, copy_path);
    else
        result = copy_make(source, own_path, copy_path, error);
    (void)sqlite3_close(source);
    return result;
}

int32_t backup_make(const struct memory *memory, const struct store *store, const char *path, const char *ending,
                    cfoil_error_info *error)
{
    uint8_t random[8];
    char hex[2 * sizeof random + 1];
    if (!os_random(random, sizeof random))
        return error_set(error, CFOIL_E_SYSTEM_OS, 0, AREA, "The system gave no random bytes: try again.");
    text_hex(random, sizeof random, hex);
    size_t size = strlen(path) + strlen(ending) + 1 + sizeof hex;
    char *copy_path = memory_allocate(memory, size);
    char *own_path = memory_allocate(memory, size);
    int32_t result = CFOIL_E_MEMORY;
    if (copy_path != NULL && own_path != NULL) {
        (void)snprintf(copy_path, size, "%s%s", path, ending);
        (void)snprintf(own_path, size, "%s%s.%s", path, ending, hex);
        result = copy_ensure(store, own_path, copy_path, error);
    } else {
        result = error_memory_set(error, AREA);
    }
    memory_release(memory, own_path);
    memory_release(memory, copy_path);
    return result;
}
