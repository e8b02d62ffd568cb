/*
 * A history of events through the import, against bare SQLite INSERTs of the same bytes in transactions of the same size.
 *   bench_import [EVENTS]      a million when not given
 */
#include "bench.h"
#include "events.h"

#include <counterfoil/counterfoil.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <unistd.h>

enum { BATCH = 4096, DAYS = 90 };

static char folder[100];
static uint64_t count = 1000000;

static void path_make(char path[160], const char *name)
{
    snprintf(path, 160, "%s/%s", folder, name);
}

static uint64_t history_write(const char *path)
{
    FILE *file = fopen(path, "wb");
    uint64_t bytes = 0;
    if (file == NULL)
        bench_fail("fopen");
    for (uint64_t i = 0; i < count; i++) {
        struct event_line line;
        event_line_make(i, count, DAYS, &line);
        if (fwrite(line.text, 1, line.length, file) != line.length)
            bench_fail("fwrite");
        bytes += line.length;
    }
    if (fclose(file) != 0)
        bench_fail("fclose");
    return bytes;
}

static int32_t file_read(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length)
{
    ssize_t got = pread(*(int *)user, buffer, capacity, (off_t)offset);
    *length = got > 0 ? (size_t)got : 0;
    return got >= 0 ? CFOIL_OK : CFOIL_E_DATA_FILE;
}

struct spent {
    uint64_t all_ns;
    uint64_t processor_ns;
};

static struct spent spent_since(struct spent begin)
{
    return (struct spent){bench_now_ns() - begin.all_ns, bench_processor_ns() - begin.processor_ns};
}

static struct spent now(void)
{
    return (struct spent){bench_now_ns(), bench_processor_ns()};
}

static struct spent import_run(int file)
{
    char path[160];
    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    cfoil_import_options import = CFOIL_IMPORT_OPTIONS_INIT;
    cfoil_import_result told = CFOIL_IMPORT_RESULT_INIT;
    path_make(path, "ledger");
    options.path = path;
    if (cfoil_context_open(NULL, &context) != CFOIL_OK || cfoil_ledger_open(context, &options, &ledger) != CFOIL_OK)
        bench_fail("opening the ledger");
    import.read = file_read;
    import.user = &file;
    import.staff = "bench";
    import.batch = BATCH;
    struct spent begin = now();
    if (cfoil_ledger_import(ledger, &import, &told) != CFOIL_OK || told.taken != (int64_t)count)
        bench_fail(told.text);
    struct spent spent = spent_since(begin);
    cfoil_context_close(context);
    return spent;
}

static void run(sqlite3 *database, const char *sql)
{
    if (sqlite3_exec(database, sql, NULL, NULL, NULL) != SQLITE_OK)
        bench_fail(sql);
}

static struct spent bare_run(const char *history)
{
    char path[160];
    static char line[EVENT_LINE_SIZE];
    sqlite3 *database;
    sqlite3_stmt *insert;
    FILE *file = fopen(history, "rb");
    path_make(path, "bare");
    if (file == NULL || sqlite3_open(path, &database) != SQLITE_OK)
        bench_fail("sqlite3_open");
    run(database, "PRAGMA journal_mode=WAL");
    run(database, "PRAGMA synchronous=FULL");
    run(database, "CREATE TABLE entry(number INTEGER PRIMARY KEY, body TEXT)");
    if (sqlite3_prepare_v2(database, "INSERT INTO entry(body) VALUES(?)", -1, &insert, NULL) != SQLITE_OK)
        bench_fail("sqlite3_prepare_v2");
    struct spent begin = now();
    run(database, "BEGIN IMMEDIATE");
    for (uint64_t i = 0; fgets(line, sizeof line, file) != NULL; i++) {
        sqlite3_bind_text(insert, 1, line, -1, SQLITE_STATIC);
        if (sqlite3_step(insert) != SQLITE_DONE)
            bench_fail("INSERT");
        sqlite3_reset(insert);
        if (i % BATCH == BATCH - 1)
            run(database, "COMMIT; BEGIN IMMEDIATE");
    }
    run(database, "COMMIT");
    struct spent spent = spent_since(begin);
    fclose(file);
    sqlite3_finalize(insert);
    sqlite3_close(database);
    return spent;
}

static void files_remove(void)
{
    static const char *const names[] = {"history",    "ledger", "ledger-wal", "ledger-shm",
                                        "ledger.key", "bare",   "bare-wal",   "bare-shm"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[160];
        path_make(path, names[i]);
        unlink(path);
    }
    rmdir(folder);
}

int main(int argc, char **argv)
{
    char history[160];
    if (argc > 1)
        count = strtoull(argv[1], NULL, 10);
    if (count == 0 || !bench_folder_make(folder, sizeof folder))
        bench_fail("mkdtemp");
    path_make(history, "history");
    uint64_t bytes = history_write(history);
    int file = open(history, O_RDONLY);
    struct spent bare = bare_run(history);
    struct spent ours = import_run(file);
    printf("import  %" PRIu64 " events of %.0f bytes: %.1f s (processor %.1f s), bare INSERT of the same bytes %.1f s"
           " (processor %.1f s), ratio %.1f\n",
           count, (double)bytes / (double)count, (double)ours.all_ns / 1e9, (double)ours.processor_ns / 1e9,
           (double)bare.all_ns / 1e9, (double)bare.processor_ns / 1e9,
           (double)ours.processor_ns / (double)bare.processor_ns);
    close(file);
    files_remove();
    return 0;
}
