/*
 * The ledger's SQLite file. See store.h.
 */
#include "ledger/store.h"

#include "ledger/file.h"
#include "ledger/schema.h"
#include "model/error.h"
#include "os/os.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define AREA            "ledger"
#define BUSY_DEFAULT_MS 5000

/* ---- SQLite's answers in our codes ---- */

static const struct {
    int code; /* SQLite's primary result code */
    int32_t result;
    const char *text;
} answers[] = {
    {SQLITE_BUSY, CFOIL_E_LEDGER_BUSY, "Another program holds the ledger: try again."},
    {SQLITE_LOCKED, CFOIL_E_LEDGER_BUSY, "Another program holds the ledger: try again."},
    {SQLITE_PROTOCOL, CFOIL_E_LEDGER_BUSY, "Another program holds the ledger: try again."},
    {SQLITE_FULL, CFOIL_E_LEDGER_FULL, "There is no room for the ledger: free some space on its disk, then try again."},
    {SQLITE_READONLY, CFOIL_E_LEDGER_READ_ONLY, "The ledger cannot be written: allow writing to its file and folder."},
    {SQLITE_CORRUPT, CFOIL_E_LEDGER_DAMAGED, "The ledger's file is damaged: keep it, and go on with a restored copy."},
    {SQLITE_NOTADB, CFOIL_E_LEDGER_DAMAGED, "The file is not a ledger, or is damaged: name another file."},
    {SQLITE_CONSTRAINT, CFOIL_E_LEDGER_DAMAGED,
     "The ledger's newest entries are not what its head says: verify it, and go on with a new file."},
    {SQLITE_CANTOPEN, CFOIL_E_LEDGER_OPEN, "The ledger cannot be opened: check its path and the rights on its folder."},
};

/* SQLite knows a full disk by ENOSPC alone; a used-up quota or file size limit is the same trouble to the shop. */
static bool system_says_full(int os_code)
{
#if defined(EDQUOT)
    if (os_code == EDQUOT)
        return true;
#endif
    return os_code == ENOSPC || os_code == EFBIG;
}

static int last_code(sqlite3_file *file)
{
    int os_code = 0;
    if (file != NULL && file->pMethods != NULL)
        (void)file->pMethods->xFileControl(file, SQLITE_FCNTL_LAST_ERRNO, &os_code);
    return os_code;
}

static sqlite3_file *file_of(sqlite3 *database, int which)
{
    sqlite3_file *file = NULL;
    (void)sqlite3_file_control(database, "main", which, &file);
    return file;
}

/* The system's number behind SQLite's answer, 0 = none. A failing commit leaves it with the files only. */
static int system_code(sqlite3 *database, int primary)
{
    if (database == NULL || (primary != SQLITE_IOERR && primary != SQLITE_CANTOPEN && primary != SQLITE_FULL))
        return 0;
    int os_code = sqlite3_system_errno(database);
    if (os_code == 0)
        os_code = last_code(file_of(database, SQLITE_FCNTL_JOURNAL_POINTER));
    if (os_code == 0)
        os_code = last_code(file_of(database, SQLITE_FCNTL_FILE_POINTER));
    return os_code;
}

int32_t store_error(sqlite3 *database, int code, cfoil_error_info *error)
{
    int primary = code & 0xff;
    int os_code = system_code(database, primary);
    if (primary == SQLITE_NOMEM || code == SQLITE_IOERR_NOMEM)
        return error_memory_set(error, AREA);
    if (primary == SQLITE_IOERR && system_says_full(os_code))
        primary = SQLITE_FULL;
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        if (answers[i].code == primary)
            return error_set(error, answers[i].result, os_code, AREA, "%s", answers[i].text);
    }
    return error_set(error, CFOIL_E_LEDGER_FAILED, os_code, AREA,
                     "The ledger could not be used (SQLite %d, %s): try again, then check the disk.", code,
                     sqlite3_errstr(code));
}

int32_t store_result(sqlite3 *database, int code, cfoil_error_info *error)
{
    return code == SQLITE_OK ? CFOIL_OK : store_error(database, code, error);
}

/* While opening, what has no better name is 'cannot be opened'. */
static int32_t open_error(sqlite3 *database, int code, cfoil_error_info *error)
{
    int32_t result = store_error(database, code, error);
    if (result != CFOIL_E_LEDGER_FAILED)
        return result;
    return error_set(error, CFOIL_E_LEDGER_OPEN, system_code(database, code & 0xff), AREA,
                     "The ledger cannot be opened (SQLite %d, %s): check its path and the disk.", code,
                     sqlite3_errstr(code));
}

/* ---- Connections ---- */

/* A URI in which every byte but letters and digits is escaped (SQLite, "URI Filenames"): no path can be taken for
 * something else. */
static char *uri_make(const struct memory *memory, const char *path, const char *parameters)
{
    static const char digits[] = "0123456789ABCDEF";
    size_t size = strlen("file:") + 3 * strlen(path) + strlen(parameters) + 1;
    char *uri = memory_allocate(memory, size);
    if (uri == NULL)
        return NULL;
    char *at = uri + snprintf(uri, size, "file:");
    for (; *path != '\0'; path++) {
        unsigned char byte = (unsigned char)*path;
        bool plain = (byte >= 'a' && byte <= 'z') || (byte >= 'A' && byte <= 'Z') || (byte >= '0' && byte <= '9');
        if (plain) {
            *at++ = *path;
            continue;
        }
        *at++ = '%';
        *at++ = digits[byte >> 4];
        *at++ = digits[byte & 15];
    }
    memcpy(at, parameters, strlen(parameters) + 1);
    return uri;
}

/* Our own lock keeps threads apart, so SQLite's is not needed. */
static int connection_open(const char *uri, int flags, uint32_t busy_ms, sqlite3 **database)
{
    int code = sqlite3_open_v2(uri, database, flags | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE,
                               NULL);
    if (code == SQLITE_OK)
        code = sqlite3_busy_timeout(*database, (int)busy_ms);
    if (code == SQLITE_OK)
        code = sqlite3_db_config(*database, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    /* A file that others could write must not call functions by its triggers and views. */
    if (code == SQLITE_OK)
        code = sqlite3_db_config(*database, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    return code;
}

int store_integer_read(sqlite3 *database, const char *sql, int64_t *value)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(database, sql, -1, &statement, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    *value = code == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
    (void)sqlite3_finalize(statement);
    return code == SQLITE_ROW ? SQLITE_OK : code;
}

/* ---- Is it ours? ---- */

static int32_t foreign_set(cfoil_error_info *error)
{
    return error_set(error, CFOIL_E_LEDGER_OPEN, 0, AREA,
                     "The file is another program's database, not a ledger: name another file.");
}

static int32_t version_check(int64_t version, cfoil_error_info *error)
{
    if (version <= STORE_VERSION)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_LEDGER_NEWER, 0, AREA,
                     "The ledger is of version %lld, this library knows up to %d: update the library.",
                     (long long)version, STORE_VERSION);
}

static uint32_t number_at(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

/* Looks at the header ("Database File Format", section 1.3) without a lock, a journal or a recovery, so that a foreign
 * file stays untouched in every way. Our first page carries our number from its first write on. */
static int32_t header_check(sqlite3 *database, cfoil_error_info *error)
{
    static const char magic[16] = "SQLite format 3";
    uint8_t header[100] = {0};
    sqlite3_int64 size = 0;
    sqlite3_file *file = file_of(database, SQLITE_FCNTL_FILE_POINTER);
    int code = file->pMethods->xFileSize(file, &size);
    if (code == SQLITE_OK && size == 0)
        return CFOIL_OK;
    if (code == SQLITE_OK)
        code = file->pMethods->xRead(file, header, (int)sizeof header, 0);
    if (code != SQLITE_OK && code != SQLITE_IOERR_SHORT_READ)
        return open_error(database, code, error);
    if (memcmp(header, magic, sizeof magic) != 0)
        return open_error(database, SQLITE_NOTADB, error);
    if (number_at(header + 68) != STORE_APPLICATION)
        return foreign_set(error);
    return version_check((int32_t)number_at(header + 60), error);
}

/* The same, in the words of SQLite, which knows what the write-ahead log adds. */
static int32_t identity_check(struct store *store, bool *fresh, cfoil_error_info *error)
{
    sqlite3 *database = store->database;
    int64_t pages;
    int64_t application = 0;
    store->version = 0;
    int code = store_integer_read(database, "PRAGMA page_count", &pages);
    *fresh = pages == 0;
    if (code == SQLITE_OK && *fresh)
        return CFOIL_OK;
    if (code == SQLITE_OK)
        code = store_integer_read(database, "PRAGMA application_id", &application);
    if (code == SQLITE_OK)
        code = store_integer_read(database, "PRAGMA user_version", &store->version);
    if (code != SQLITE_OK)
        return open_error(database, code, error);
    if (application != STORE_APPLICATION)
        return foreign_set(error);
    *fresh = store->version <= 0;
    return version_check(store->version, error);
}

static int32_t ours_open(struct store *store, int flags, bool *fresh, cfoil_error_info *error)
{
    int code = connection_open(store->uri, flags, store->busy_ms, &store->database);
    if (code != SQLITE_OK)
        return open_error(store->database, code, error);
    int32_t result = header_check(store->database, error);
    return result == CFOIL_OK ? identity_check(store, fresh, error) : result;
}

/* ---- Opening for writing ---- */

static int mode_set(sqlite3 *database)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(database, "PRAGMA journal_mode=WAL", -1, &statement, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        const unsigned char *mode = sqlite3_column_text(statement, 0);
        code = mode == NULL ? SQLITE_NOMEM : strcmp((const char *)mode, "wal") == 0 ? SQLITE_OK : SQLITE_CANTOPEN;
    }
    (void)sqlite3_finalize(statement);
    return code;
}

/* SQLite does not wait by itself when two processes set the mode of a new file at the same moment. */
static int mode_set_until(sqlite3 *database, uint32_t busy_ms)
{
    uint64_t until_us = os_monotonic_us() + (uint64_t)busy_ms * 1000;
    int code = mode_set(database);
    while ((code & 0xff) == SQLITE_BUSY && os_monotonic_us() < until_us) {
        (void)os_wait(-1, NULL, os_monotonic_us() + 1000);
        code = mode_set(database);
    }
    return code;
}

static int32_t writing_begin(struct store *store, bool fresh, cfoil_error_info *error)
{
    sqlite3 *database = store->database;
    if (sqlite3_db_readonly(database, "main") == 1)
        return store_error(database, SQLITE_READONLY, error);
    char sql[64];
    (void)snprintf(sql, sizeof sql, "PRAGMA application_id=%d", STORE_APPLICATION);
    int code = fresh ? sqlite3_exec(database, sql, NULL, NULL, NULL) : SQLITE_OK;
    if (code == SQLITE_OK)
        code = mode_set_until(database, store->busy_ms);
    /* Each commit reaches the disk before it returns; macOS needs its own call for that. What is deleted is overwritten
     * (builds differ in what they do by default): erased personal data must not stay in free places of the file. */
    if (code == SQLITE_OK)
        code = sqlite3_exec(database, "PRAGMA synchronous=FULL; PRAGMA fullfsync=ON; PRAGMA secure_delete=ON", NULL,
                            NULL, NULL);
    return code == SQLITE_OK ? CFOIL_OK : open_error(database, code, error);
}

static int32_t file_make(const struct memory *memory, const char *path, cfoil_error_info *error)
{
    int problem = file_exists(path) ? 0 : file_private_make(memory, path);
    if (problem == 0)
        return CFOIL_OK;
    if (problem == ENOMEM)
        return error_memory_set(error, AREA);
    return error_set(error, system_says_full(problem) ? CFOIL_E_LEDGER_FULL : CFOIL_E_LEDGER_OPEN, problem, AREA,
                     "The ledger's file cannot be made: check its path, and the rights and space of its folder.");
}

/* A ledger holds serial numbers and staff codes, and who may write it may rewrite it. Only for writing: the rights of a
 * file that others can read already are not made better by refusing to read it. */
static int32_t rights_check(const cfoil_ledger_options *options, cfoil_error_info *error)
{
    if ((int32_t)file_rights_read(options->path) <= options->rights)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_LEDGER_RIGHTS, 0, AREA,
                     "Others than its owner have rights on the ledger: chmod 600 FILE, or allow them when opening.");
}

static int32_t writing_open(const struct memory *memory, const cfoil_ledger_options *options, struct store *store,
                            bool *fresh, cfoil_error_info *error)
{
    int32_t result = file_make(memory, options->path, error);
    if (result != CFOIL_OK)
        return result;
    store->uri = uri_make(memory, options->path, "");
    if (store->uri == NULL)
        return error_memory_set(error, AREA);
    result = ours_open(store, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, fresh, error);
    if (result == CFOIL_OK)
        result = rights_check(options, error);
    return result == CFOIL_OK ? writing_begin(store, *fresh, error) : result;
}

/* ---- Opening for reading ---- */

/* Reading a ledger whose folder cannot be written: SQLite needs its index of the write-ahead log there. Without such a
 * log nobody has the ledger open, and the file alone is the whole truth. */
static int32_t log_absent(const struct memory *memory, const char *path, bool *absent, cfoil_error_info *error)
{
    size_t size = strlen(path) + sizeof "-wal";
    char *log = memory_allocate(memory, size);
    if (log == NULL)
        return error_memory_set(error, AREA);
    (void)snprintf(log, size, "%s-wal", path);
    *absent = !file_exists(log);
    memory_release(memory, log);
    return CFOIL_OK;
}

static int32_t reading_try(const struct memory *memory, const char *path, const char *parameters, struct store *store,
                           bool *fresh, cfoil_error_info *error)
{
    store->uri = uri_make(memory, path, parameters);
    return store->uri == NULL ? error_memory_set(error, AREA) : ours_open(store, SQLITE_OPEN_READONLY, fresh, error);
}

static int32_t reading_open(const struct memory *memory, const cfoil_ledger_options *options, struct store *store,
                            bool *fresh, cfoil_error_info *error)
{
    int32_t result = reading_try(memory, options->path, "", store, fresh, error);
    if (result != CFOIL_E_LEDGER_OPEN && result != CFOIL_E_LEDGER_READ_ONLY)
        return result;
    bool absent = false;
    int32_t looked = log_absent(memory, options->path, &absent, error);
    if (looked != CFOIL_OK || !absent)
        return looked != CFOIL_OK ? looked : result;
    store_close(memory, store);
    return reading_try(memory, options->path, "?immutable=1", store, fresh, error);
}

/* ---- The calls ---- */

int32_t store_open(const struct memory *memory, const cfoil_ledger_options *options, struct store *store, bool *fresh,
                   cfoil_error_info *error)
{
    memset(store, 0, sizeof *store);
    store->busy_ms = options->busy_ms != 0 ? options->busy_ms : BUSY_DEFAULT_MS;
    *fresh = true;
    /* SQLite's name for a store in memory, which would not be durable. */
    if (strcmp(options->path, ":memory:") == 0)
        return error_set(error, CFOIL_E_LEDGER_OPEN, 0, AREA, "A ledger must be a file on a disk: name one.");
    int32_t result = options->read_only != 0 ? reading_open(memory, options, store, fresh, error)
                                             : writing_open(memory, options, store, fresh, error);
    if (result == CFOIL_OK && options->read_only != 0 && *fresh)
        result = error_set(error, CFOIL_E_LEDGER_OPEN, 0, AREA,
                           "The ledger holds nothing yet: open it for writing first.");
    if (result != CFOIL_OK)
        store_close(memory, store);
    return result;
}

void store_close(const struct memory *memory, struct store *store)
{
    (void)sqlite3_close(store->database);
    memory_release(memory, store->uri);
    store->database = NULL;
    store->uri = NULL;
}

static const char tables[] =
    "CREATE TABLE entry(number INTEGER PRIMARY KEY, time_utc_ms INTEGER NOT NULL, kind TEXT NOT NULL, case_id TEXT,"
    " disposition INTEGER NOT NULL, previous BLOB NOT NULL, hash BLOB NOT NULL, body TEXT NOT NULL);"
    "CREATE UNIQUE INDEX entry_case ON entry(case_id) WHERE case_id IS NOT NULL;"
    "CREATE TABLE head(id INTEGER PRIMARY KEY CHECK(id = 1), number INTEGER NOT NULL, hash BLOB NOT NULL,"
    " entries INTEGER NOT NULL);"
    "CREATE TABLE device(device TEXT PRIMARY KEY, bytes BLOB NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE refused_serial(currency TEXT NOT NULL, serial TEXT NOT NULL, entry INTEGER NOT NULL,"
    " PRIMARY KEY(currency, serial)) WITHOUT ROWID;"
    "CREATE TRIGGER entry_not_changed BEFORE UPDATE ON entry BEGIN"
    " SELECT RAISE(ABORT, 'entries are never changed'); END;"
    "CREATE TRIGGER entry_not_removed BEFORE DELETE ON entry BEGIN"
    " SELECT RAISE(ABORT, 'entries are never removed'); END;"
    /* An INSERT OR REPLACE would pass by the trigger before it. */
    "CREATE TRIGGER entry_not_replaced BEFORE INSERT ON entry"
    " WHEN EXISTS(SELECT 1 FROM entry WHERE number = NEW.number)"
    " OR EXISTS(SELECT 1 FROM entry WHERE case_id = NEW.case_id) BEGIN"
    " SELECT RAISE(ABORT, 'entries are never replaced'); END;";

int32_t store_tables_make(const struct store *store, bool *made, cfoil_error_info *error)
{
    int64_t version;
    char sql[64];
    *made = false;
    int code = store_integer_read(store->database, "PRAGMA user_version", &version);
    if (code == SQLITE_OK && version >= STORE_VERSION)
        return CFOIL_OK;
    if (code == SQLITE_OK)
        code = sqlite3_exec(store->database, tables, NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_exec(store->database, schema_tables_2, NULL, NULL, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_exec(store->database, schema_tables_3, NULL, NULL, NULL);
    (void)snprintf(sql, sizeof sql, "PRAGMA user_version=%d", STORE_VERSION);
    if (code == SQLITE_OK)
        code = sqlite3_exec(store->database, sql, NULL, NULL, NULL);
    *made = code == SQLITE_OK;
    return *made ? CFOIL_OK : open_error(store->database, code, error);
}

int32_t store_reader_open(const struct store *store, sqlite3 **reader, cfoil_error_info *error)
{
    *reader = NULL;
    int code = connection_open(store->uri, SQLITE_OPEN_READONLY, store->busy_ms, reader);
    if (code == SQLITE_OK)
        code = sqlite3_exec(*reader, "PRAGMA cell_size_check=ON; BEGIN", NULL, NULL, NULL);
    if (code == SQLITE_OK)
        return CFOIL_OK;
    int32_t result = store_error(*reader, code, error);
    (void)sqlite3_close(*reader);
    *reader = NULL;
    return result;
}
