/*
 * Durable refusals a second against bare SQLite INSERTs of the same bytes at the same durability, in alternating
 * rounds.
 */
#include "bench.h"

#include <counterfoil/counterfoil.h>
#include <sqlite3.h>
#include <string.h>
#include <unistd.h>

enum { ROUNDS = 10, APPENDS = 200 };

static char folder[64] = "/tmp/counterfoil-bench-XXXXXX";

static void run(sqlite3 *database, const char *sql)
{
    if (sqlite3_exec(database, sql, NULL, NULL, NULL) != SQLITE_OK)
        bench_fail(sql);
}

static sqlite3_stmt *bare_open(sqlite3 **database)
{
    char path[128];
    snprintf(path, sizeof path, "%s/bare", folder);
    sqlite3_stmt *insert;
    if (sqlite3_open(path, database) != SQLITE_OK)
        bench_fail("sqlite3_open");
    run(*database, "PRAGMA journal_mode=WAL");
    run(*database, "PRAGMA synchronous=FULL");
    run(*database, "CREATE TABLE entry(number INTEGER PRIMARY KEY, body TEXT)");
    if (sqlite3_prepare_v2(*database, "INSERT INTO entry(body) VALUES(?)", -1, &insert, NULL) != SQLITE_OK)
        bench_fail("sqlite3_prepare_v2");
    return insert;
}

static uint64_t bare_round(sqlite3_stmt *insert, const char *body)
{
    uint64_t begin = bench_now_ns();
    for (int i = 0; i < APPENDS; i++) {
        sqlite3_bind_text(insert, 1, body, -1, SQLITE_STATIC);
        if (sqlite3_step(insert) != SQLITE_DONE)
            bench_fail("INSERT");
        sqlite3_reset(insert);
    }
    return bench_now_ns() - begin;
}

static cfoil_case *case_make(cfoil_context *context, cfoil_ledger *ledger)
{
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.ledger = ledger;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.lane = "lane 1";
    cfoil_case *doubt;
    if (cfoil_case_open(context, &options, &doubt) != CFOIL_OK)
        bench_fail("cfoil_case_open");
    return doubt;
}

/* Opening a case and its guidance are not part of the figure; the refusal call is. */
static uint64_t our_round(cfoil_context *context, cfoil_ledger *ledger)
{
    cfoil_disposition_options end = CFOIL_DISPOSITION_OPTIONS_INIT;
    end.disposition = CFOIL_DISPOSITION_NOT_TAKEN;
    uint64_t spent = 0;
    for (int i = 0; i < APPENDS; i++) {
        cfoil_case *doubt = case_make(context, ledger);
        uint64_t begin = bench_now_ns();
        if (cfoil_case_dispose(doubt, &end, NULL) != CFOIL_OK)
            bench_fail("cfoil_case_dispose");
        spent += bench_now_ns() - begin;
        cfoil_case_close(doubt);
    }
    return spent;
}

static void files_remove(const char *name)
{
    static const char *const endings[] = {"", "-wal", "-shm", ".key"};
    for (int i = 0; i < 4; i++) {
        char path[160];
        snprintf(path, sizeof path, "%s/%s%s", folder, name, endings[i]);
        unlink(path);
    }
}

int main(void)
{
    if (mkdtemp(folder) == NULL)
        bench_fail("mkdtemp");
    char path[128];
    snprintf(path, sizeof path, "%s/ledger", folder);
    cfoil_context *context;
    cfoil_ledger *ledger;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    if (cfoil_context_open(NULL, &context) != CFOIL_OK || cfoil_ledger_open(context, &options, &ledger) != CFOIL_OK)
        bench_fail("opening the ledger");
    cfoil_case *sample = case_make(context, ledger);
    static char body[65536];
    if (cfoil_case_json(sample, body, sizeof body, NULL) != CFOIL_OK)
        bench_fail("cfoil_case_json");
    sqlite3 *database;
    sqlite3_stmt *insert = bare_open(&database);
    uint64_t bare = 0;
    uint64_t ours = 0;
    for (int round = 0; round < ROUNDS; round++) {
        bare += bare_round(insert, body);
        ours += our_round(context, ledger);
    }
    double bare_rate = ROUNDS * APPENDS * 1e9 / (double)bare;
    double our_rate = ROUNDS * APPENDS * 1e9 / (double)ours;
    printf("ledger  bare INSERT %8.0f/s  refusal %8.0f/s  ratio %.2f  (record of %zu bytes)\n", bare_rate, our_rate,
           our_rate / bare_rate, strlen(body));
    sqlite3_finalize(insert);
    sqlite3_close(database);
    cfoil_context_close(context);
    files_remove("bare");
    files_remove("ledger");
    rmdir(folder);
    return 0;
}
