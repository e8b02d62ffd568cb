/*
 * What a report over years costs: its figures from the sums that the ledger keeps, against the same figures by SQL over the
 * entries in the sqlite3 shell, in one run. The figures must be equal.
 *   bench_growth [PRESENTATIONS [DAYS]]    10 million over three years when not given
 *   bench_growth --short                   the figures only, of a few
 */
#include "bench.h"
#include "events.h"

#include "ledger/ledger.h"
#include "ledger/rollup.h"
#include "model/names.h"
#include "model/text.h"

#include <sqlite3.h>
#include <sys/resource.h>
#include <unistd.h>

enum { AT_ONCE = 100000, FIGURES_MAX = 4096 };

static char folder[100];
static char path[160];
static uint64_t count = 10000000;
static uint32_t days = 1095;

/* The report's figures of a lane: how many notes of which value it stacked, how many insertions it refused and why. */
static const char sql[] = "SELECT json_extract(body, '$.lane'), coalesce(json_extract(body, '$.currency'), ''),"
                          " coalesce(json_extract(body, '$.value_minor'), 0),"
                          " coalesce(json_extract(body, '$.reason'), 'none'),"
                          " sum(json_extract(body, '$.kind') = 'stacked'),"
                          " sum(json_extract(body, '$.kind') = 'rejected')"
                          " FROM entry WHERE kind = 'presentation' GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4";

/* ---- The ledger ---- */

static void run(sqlite3 *database, const char *text)
{
    if (sqlite3_exec(database, text, NULL, NULL, NULL) != SQLITE_OK)
        bench_fail(text);
}

/* The keys of an event history become those of an entry's body. */
static void body_make(const struct event_line *line, char *body, size_t size)
{
    const char *lane = strstr(line->text, "\"lane\"");
    snprintf(body, size, "{%.*s", (int)strcspn(lane, "\n"), lane);
}

/* Straight into the file: ten million signed and hashed entries are another benchmark's (bench_import). */
static void entries_insert(void)
{
    static char body[EVENT_LINE_SIZE];
    sqlite3 *database;
    sqlite3_stmt *insert;
    if (sqlite3_open(path, &database) != SQLITE_OK)
        bench_fail("sqlite3_open");
    run(database, "PRAGMA synchronous=OFF; DROP TRIGGER entry_not_replaced");
    if (sqlite3_prepare_v2(database,
                           "INSERT INTO entry VALUES(?1, ?2, 'presentation', NULL, 0, zeroblob(32), zeroblob(32), ?3)",
                           -1, &insert, NULL) != SQLITE_OK)
        bench_fail("sqlite3_prepare_v2");
    run(database, "BEGIN");
    for (uint64_t i = 0; i < count; i++) {
        struct event_line line;
        event_line_make(i, count, days, &line);
        body_make(&line, body, sizeof body);
        sqlite3_bind_int64(insert, 1, (sqlite3_int64)i + 2);
        sqlite3_bind_int64(insert, 2, line.time_utc_ms);
        sqlite3_bind_text(insert, 3, body, -1, SQLITE_STATIC);
        if (sqlite3_step(insert) != SQLITE_DONE)
            bench_fail("INSERT");
        sqlite3_reset(insert);
        if (i % AT_ONCE == AT_ONCE - 1)
            run(database, "COMMIT; BEGIN");
    }
    run(database, "UPDATE head SET number = (SELECT max(number) FROM entry), entries = (SELECT max(number) FROM entry);"
                  " COMMIT; PRAGMA wal_checkpoint(TRUNCATE)");
    sqlite3_finalize(insert);
    sqlite3_close(database);
}

/* The next entry of its own counts what it finds uncounted. */
static struct ledger *ledger_make(void)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    struct ledger *ledger;
    snprintf(path, sizeof path, "%s/ledger", folder);
    options.path = path;
    if (ledger_open(&memory_heap, &options, &ledger, NULL) != CFOIL_OK)
        bench_fail("ledger_open");
    entries_insert();
    struct ledger_item item = {.kind = LEDGER_KIND_DEVICE,
                               .time_utc_ms = EVENT_BEGIN_MS,
                               .body = "{\"kind\":\"device\",\"lane\":\"lane 01\"}"};
    uint64_t begin = bench_now_ns();
    if (ledger_append(ledger, &item, 1, NULL, NULL, NULL) != CFOIL_OK)
        bench_fail("counting the entries");
    printf("growth  %" PRIu64 " presentations of %u days: counted once in %.1f s\n", count, days,
           (double)(bench_now_ns() - begin) / 1e9);
    return ledger;
}

/* ---- The figures, from cells and from rows ---- */

struct figure {
    char name[160]; /* lane|currency|value|reason */
    int64_t stacked;
    int64_t rejected;
};

struct figures {
    struct figure all[FIGURES_MAX];
    size_t count;
    uint64_t cells;
};

static struct figures from_cells, from_rows;

static struct figure *figure_find(struct figures *figures, const char *name)
{
    for (size_t i = 0; i < figures->count; i++) {
        if (strcmp(figures->all[i].name, name) == 0)
            return &figures->all[i];
    }
    if (figures->count == FIGURES_MAX)
        bench_fail("too many figures");
    struct figure *figure = &figures->all[figures->count++];
    text_copy(figure->name, sizeof figure->name, name);
    return figure;
}

/* Cells come lane by lane in each day: a small table by hash of the key is enough. */
static struct figure *figure_of(struct figures *figures, const struct rollup_key *key)
{
    static struct figure *known[65536];
    static struct rollup_key keys[65536];
    uint64_t place = (uint64_t)key->value_minor * 31 + (uint64_t)key->reason * 7 + (unsigned char)key->currency[0];
    for (const char *at = key->lane; *at != '\0'; at++)
        place = place * 33 + (unsigned char)*at;
    place &= 65535;
    const struct rollup_key *other = &keys[place];
    bool same = known[place] != NULL && other->value_minor == key->value_minor && other->reason == key->reason &&
                strcmp(other->lane, key->lane) == 0 && strcmp(other->currency, key->currency) == 0;
    if (!same) {
        char name[160];
        snprintf(name, sizeof name, "%s|%s|%" PRId64 "|%s", key->lane, key->currency, key->value_minor,
                 name_reason(key->reason));
        known[place] = figure_find(figures, name);
        keys[place] = *key;
    }
    return known[place];
}

static bool cell_add(void *user, const struct rollup_cell *cell)
{
    struct figures *figures = user;
    figures->cells++;
    if (cell->counts[ROLLUP_STACKED] + cell->counts[ROLLUP_REJECTED] == 0)
        return true;
    struct figure *figure = figure_of(figures, &cell->key);
    figure->stacked += cell->counts[ROLLUP_STACKED];
    figure->rejected += cell->counts[ROLLUP_REJECTED];
    return true;
}

struct spent {
    uint64_t all_ns;
    uint64_t processor_ns;
};

static struct spent cells_read(struct ledger *ledger)
{
    struct rollup_query query = {.days = true};
    bool kept;
    struct spent begin = {bench_now_ns(), bench_processor_ns()};
    if (rollup_kept_cells(ledger, &query, cell_add, &from_cells, &kept, NULL) != CFOIL_OK || !kept)
        bench_fail("reading the sums");
    return (struct spent){bench_now_ns() - begin.all_ns, bench_processor_ns() - begin.processor_ns};
}

/* "lane|currency|value|reason|stacked|rejected" */
static void row_add(const char *row)
{
    const char *last = strrchr(row, '|');
    const char *before = last;
    while (before > row && before[-1] != '|')
        before--;
    char name[160];
    snprintf(name, sizeof name, "%.*s", (int)(before - 1 - row), row);
    struct figure *figure = figure_find(&from_rows, name);
    figure->stacked = strtoll(before, NULL, 10);
    figure->rejected = strtoll(last + 1, NULL, 10);
}

/* Of programs that were waited for. */
static uint64_t children_processor_ns(void)
{
    struct rusage usage;
    getrusage(RUSAGE_CHILDREN, &usage);
    return ((uint64_t)usage.ru_utime.tv_sec + (uint64_t)usage.ru_stime.tv_sec) * 1000000000u +
           ((uint64_t)usage.ru_utime.tv_usec + (uint64_t)usage.ru_stime.tv_usec) * 1000u;
}

static struct spent shell_read(void)
{
    char command[1200];
    char row[256];
    snprintf(command, sizeof command, "sqlite3 -readonly -batch -list '%s' \"%s\"", path, sql);
    struct spent begin = {bench_now_ns(), children_processor_ns()};
    FILE *rows = popen(command, "r");
    if (rows == NULL)
        bench_fail("the sqlite3 shell");
    while (fgets(row, sizeof row, rows) != NULL) {
        row[strcspn(row, "\n")] = '\0';
        row_add(row);
    }
    if (pclose(rows) != 0)
        bench_fail("the sqlite3 shell");
    return (struct spent){bench_now_ns() - begin.all_ns, children_processor_ns() - begin.processor_ns};
}

static int row_take(void *user, int columns, char **values, char **names)
{
    char row[256];
    (void)user;
    (void)columns;
    (void)names;
    snprintf(row, sizeof row, "%s|%s|%s|%s|%s|%s", values[0], values[1], values[2], values[3], values[4], values[5]);
    row_add(row);
    return 0;
}

static void rows_read(void)
{
    sqlite3 *database;
    if (sqlite3_open(path, &database) != SQLITE_OK || sqlite3_exec(database, sql, row_take, NULL, NULL) != SQLITE_OK)
        bench_fail("the query");
    sqlite3_close(database);
}

static void figures_same(void)
{
    if (from_cells.count != from_rows.count || from_rows.count == 0)
        bench_fail("figures missing: the comparison");
    for (size_t i = 0; i < from_rows.count; i++) {
        const struct figure *one = &from_rows.all[i];
        const struct figure *other = figure_find(&from_cells, one->name);
        if (one->stacked != other->stacked || one->rejected != other->rejected)
            bench_fail(one->name);
    }
    printf("growth  %zu figures are equal\n", from_rows.count);
}

static void files_remove(void)
{
    static const char *const endings[] = {"", "-wal", "-shm", ".key"};
    for (int i = 0; i < 4; i++) {
        char name[200];
        snprintf(name, sizeof name, "%s%s", path, endings[i]);
        unlink(name);
    }
    rmdir(folder);
}

int main(int argc, char **argv)
{
    bool brief = argc > 1 && strcmp(argv[1], "--short") == 0;
    if (brief) {
        count = 100000;
        days = 30;
    } else if (argc > 1) {
        count = strtoull(argv[1], NULL, 10);
        days = argc > 2 ? (uint32_t)strtoul(argv[2], NULL, 10) : days;
    }
    if (!bench_folder_make(folder, sizeof folder))
        bench_fail("mkdtemp");
    setvbuf(stdout, NULL, _IOLBF, 0);
    struct ledger *ledger = ledger_make();
    struct spent ours = cells_read(ledger);
    struct spent theirs = {0, 0};
    if (brief)
        rows_read();
    else
        theirs = shell_read();
    figures_same();
    if (!brief)
        printf("growth  figures from %" PRIu64 " sums %.2f s (processor %.2f s), by SQL over the entries %.1f s"
               " (processor %.1f s), ratio of processor time %.4f\n",
               from_cells.cells, (double)ours.all_ns / 1e9, (double)ours.processor_ns / 1e9,
               (double)theirs.all_ns / 1e9, (double)theirs.processor_ns / 1e9,
               (double)ours.processor_ns / (double)theirs.processor_ns);
    ledger_release(ledger);
    files_remove();
    return 0;
}
