/*
 * Does verifying find every alteration of a ledger, and name the first bad entry? Each byte of each entry is flipped, each
 * entry deleted, exchanged, doubled, put in and cut off: as somebody does who knows nothing of the chain, and as somebody
 * who makes the chain again but has no key.
 *
 *     tamper_ledger            every byte, every bit of numbers; prints the figures that docs/ledger.md quotes
 *     tamper_ledger --short    some bytes of each entry, every other alteration; part of the test run
 */
#include "ledger/append.h"
#include "ledger/chain.h"
#include "ledger/checkpoint.h"
#include "ledger/hex.h"
#include "ledger/keep.h"
#include "ledger/key.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { ROWS_MAX = 80, BODY_MAX = 2000 };

struct row {
    int64_t number, time_utc_ms, disposition;
    char kind[32];
    int kind_length;
    char case_id[64];
    int case_length; /* -1 = NULL */
    char body[BODY_MAX];
    int body_length;
    uint8_t previous[32], hash[32];
};

static struct {
    char folder[200], path[300];
    struct ledger *ledger;
    sqlite3 *other;
    sqlite3_stmt *add, *head;
    struct row rows[ROWS_MAX]; /* as the library wrote them */
    int count;
    char noted[68]; /* the last entry, as a shop writes it down */
    struct row changed[ROWS_MAX + 1];
    int changed_count;
    long stride;
} world;

static struct {
    const char *name;
    long tried, found, named, needs_note;
} tally[16];
static int tallies;

static void demand(bool condition, const char *what)
{
    if (condition)
        return;
    fprintf(stderr, "tamper_ledger: %s\n", what);
    exit(1);
}

/* ---- A ledger with everything in it ---- */

static void body_append(const char *kind, const char *body, const char *case_id, int32_t disposition)
{
    static int64_t time_utc_ms = INT64_C(1764000000000);
    struct ledger_item item = {.kind = kind, .time_utc_ms = time_utc_ms++, .body = body};
    item.case_id = case_id;
    item.disposition = disposition;
    demand(ledger_append(world.ledger, &item, 1, NULL, NULL, NULL) == CFOIL_OK, "cannot append");
}

static void move_append(const char *case_id, int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.envelope = move == CFOIL_CUSTODY_SEAL ? "E 7" : NULL;
    options.holder = CFOIL_HOLDER_BANK;
    options.receipt = "R 1";
    options.place = "safe";
    struct custody_order order = {
        .options = &options, .case_id = case_id, .actor = {"07", false}, .now_utc_ms = INT64_C(1764000005000)};
    demand(keep_move(world.ledger, &order, NULL, NULL) == CFOIL_OK, "cannot move");
}

static void history_make(void)
{
    static const char *const cases[] = {"01900000-0000-7000-8000-000000000001", "01900000-0000-7000-8000-000000000002",
                                        "01900000-0000-7000-8000-000000000003"};
    static const char kept[] = "{\"currency\":\"EUR\",\"envelope\":null,\"lane\":\"1\",\"sale\":\"S1\",\"serial\":null,"
                               "\"value_minor\":5000}";
    struct actor actor = {"01", false};
    for (int round = 0; round < 3; round++) {
        body_append(LEDGER_KIND_PRESENTATION,
                    "{\"kind\":\"rejected\",\"lane\":\"1\",\"presentation\":1,\"reason\":\"authenticity\",\"seq\":1}",
                    NULL, 0);
        body_append(LEDGER_KIND_DEVICE, "{\"kind\":\"device\",\"lane\":\"1\",\"seq\":2}", NULL, 0);
        body_append(LEDGER_KIND_CASE, kept, cases[round], CFOIL_DISPOSITION_SET_ASIDE);
        move_append(cases[round], CFOIL_CUSTODY_SEAL);
        demand(checkpoint_write(world.ledger, NULL, NULL) == CFOIL_OK, "cannot sign");
        move_append(cases[round], CFOIL_CUSTODY_HAND_OVER);
    }
    demand(access_setting_set(world.ledger, &actor, "two_persons", "yes", NULL, NULL) == CFOIL_OK, "cannot set");
    demand(key_change(world.ledger, &actor, NULL, NULL) == CFOIL_OK, "cannot change the key");
    body_append(LEDGER_KIND_DEVICE, "{\"kind\":\"device\",\"lane\":\"2\",\"seq\":1}", NULL, 0);
    demand(checkpoint_write(world.ledger, NULL, NULL) == CFOIL_OK, "cannot sign");
}

static int bytes_take(sqlite3_stmt *row, int column, char *target, int capacity)
{
    int length = sqlite3_column_bytes(row, column);
    if (sqlite3_column_type(row, column) == SQLITE_NULL)
        return -1;
    demand(length < capacity, "an entry is longer than this program takes");
    if (length > 0)
        memcpy(target, sqlite3_column_blob(row, column), (size_t)length);
    return length;
}

static void rows_take(void)
{
    sqlite3_stmt *rows;
    demand(sqlite3_prepare_v2(world.other,
                              "SELECT number, time_utc_ms, disposition, kind, case_id, body, previous, hash FROM entry"
                              " ORDER BY number",
                              -1, &rows, NULL) == SQLITE_OK,
           "cannot read");
    while (sqlite3_step(rows) == SQLITE_ROW) {
        demand(world.count < ROWS_MAX, "too many entries");
        struct row *row = &world.rows[world.count++];
        row->number = sqlite3_column_int64(rows, 0);
        row->time_utc_ms = sqlite3_column_int64(rows, 1);
        row->disposition = sqlite3_column_int64(rows, 2);
        row->kind_length = bytes_take(rows, 3, row->kind, sizeof row->kind);
        row->case_length = bytes_take(rows, 4, row->case_id, sizeof row->case_id);
        row->body_length = bytes_take(rows, 5, row->body, sizeof row->body);
        memcpy(row->previous, sqlite3_column_blob(rows, 6), 32);
        memcpy(row->hash, sqlite3_column_blob(rows, 7), 32);
    }
    sqlite3_finalize(rows);
}

static void world_open(void)
{
    const char *base = getenv("TMPDIR");
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    snprintf(world.folder, sizeof world.folder, "%.100s/counterfoil-tamper-XXXXXX", base != NULL ? base : "/tmp");
    demand(mkdtemp(world.folder) != NULL, "no folder");
    snprintf(world.path, sizeof world.path, "%s/ledger", world.folder);
    options.path = world.path;
    options.checkpoint_entries = -1;
    demand(ledger_open(&memory_heap, &options, &world.ledger, NULL) == CFOIL_OK, "no ledger");
    history_make();
    demand(sqlite3_open(world.path, &world.other) == SQLITE_OK, "no second hand");
    demand(sqlite3_exec(world.other,
                        "PRAGMA synchronous = OFF; DROP TRIGGER entry_not_changed; DROP TRIGGER entry_not_removed;"
                        "DROP TRIGGER entry_not_replaced; DROP INDEX entry_case",
                        NULL, NULL, NULL) == SQLITE_OK,
           "cannot take the guards away");
    rows_take();
    demand(sqlite3_prepare_v2(world.other,
                              "INSERT INTO entry(number, time_utc_ms, disposition, kind, case_id, body,"
                              " previous, hash) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                              -1, &world.add, NULL) == SQLITE_OK &&
               sqlite3_prepare_v2(world.other, "UPDATE head SET number = ?1, entries = ?1, hash = ?2", -1, &world.head,
                                  NULL) == SQLITE_OK,
           "cannot prepare");
}

static void world_close(void)
{
    sqlite3_finalize(world.add);
    sqlite3_finalize(world.head);
    sqlite3_close(world.other);
    ledger_release(world.ledger);
    DIR *folder = opendir(world.folder);
    for (struct dirent *file; folder != NULL && (file = readdir(folder)) != NULL;) {
        char path[600];
        snprintf(path, sizeof path, "%s/%s", world.folder, file->d_name);
        if (file->d_name[0] != '.')
            unlink(path);
    }
    closedir(folder);
    rmdir(world.folder);
}

/* ---- Putting an altered ledger into the file ---- */

static void row_write(const struct row *row)
{
    sqlite3_bind_int64(world.add, 1, row->number);
    sqlite3_bind_int64(world.add, 2, row->time_utc_ms);
    sqlite3_bind_int64(world.add, 3, row->disposition);
    sqlite3_bind_text(world.add, 4, row->kind, row->kind_length, SQLITE_STATIC);
    if (row->case_length < 0)
        sqlite3_bind_null(world.add, 5);
    else
        sqlite3_bind_text(world.add, 5, row->case_id, row->case_length, SQLITE_STATIC);
    sqlite3_bind_text(world.add, 6, row->body, row->body_length, SQLITE_STATIC);
    sqlite3_bind_blob(world.add, 7, row->previous, 32, SQLITE_STATIC);
    sqlite3_bind_blob(world.add, 8, row->hash, 32, SQLITE_STATIC);
    demand(sqlite3_step(world.add) == SQLITE_DONE, "cannot write an entry");
    sqlite3_reset(world.add);
}

/* `head_too`: the head names the last entry that there is now. */
static void rows_write(bool head_too)
{
    demand(sqlite3_exec(world.other, "BEGIN; DELETE FROM entry", NULL, NULL, NULL) == SQLITE_OK, "cannot empty");
    for (int i = 0; i < world.changed_count; i++)
        row_write(&world.changed[i]);
    const struct row *last = head_too ? &world.changed[world.changed_count - 1] : &world.rows[world.count - 1];
    sqlite3_bind_int64(world.head, 1, last->number);
    sqlite3_bind_blob(world.head, 2, last->hash, 32, SQLITE_STATIC);
    demand(sqlite3_step(world.head) == SQLITE_DONE, "cannot write the head");
    sqlite3_reset(world.head);
    demand(sqlite3_exec(world.other, "COMMIT", NULL, NULL, NULL) == SQLITE_OK, "cannot commit");
}

static void rows_restore(void)
{
    memcpy(world.changed, world.rows, sizeof world.rows);
    world.changed_count = world.count;
}

/* What somebody can do who knows docs/ledger.md and has no key. */
static void rows_rehash(void)
{
    uint8_t previous[32] = {0};
    for (int i = 0; i < world.changed_count; i++) {
        struct row *row = &world.changed[i];
        row->number = i + 1;
        struct chain_entry entry = {
            .number = row->number,
            .time_utc_ms = row->time_utc_ms,
            .disposition = (int32_t)row->disposition,
            .kind = {row->kind, (size_t)row->kind_length},
            .case_id = {row->case_length < 0 ? NULL : row->case_id,
                        row->case_length < 0 ? 0 : (size_t)row->case_length},
            .body = {row->body, (size_t)row->body_length},
        };
        memcpy(row->previous, previous, 32);
        chain_hash(previous, &entry, row->hash);
        memcpy(previous, row->hash, 32);
    }
}

/* ---- Trying ---- */

static void tally_begin(const char *name)
{
    memset(&tally[tallies], 0, sizeof tally[0]);
    tally[tallies++].name = name;
}

static cfoil_ledger_check looked(bool noted)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    if (noted) {
        check.noted_hash = world.noted;
        check.noted_entry = world.count;
    }
    demand(ledger_verify(world.ledger, &check, NULL) == CFOIL_OK, "cannot verify");
    return check;
}

static void told(const cfoil_ledger_check *check, int64_t first, int64_t last, bool noted)
{
    tally[tallies - 1].tried++;
    tally[tallies - 1].found += check->intact == 0;
    bool named = check->first_bad >= first && check->first_bad <= last;
    tally[tallies - 1].named += named;
    tally[tallies - 1].needs_note += noted;
    if (check->intact != 0 || !named)
        printf("  %s: not found, or named %lld instead of %lld..%lld: %s\n", tally[tallies - 1].name,
               (long long)check->first_bad, (long long)first, (long long)last, check->text);
}

/* The chain is as it was but for the change: the entry itself is named. */
static void plain_try(int64_t first)
{
    rows_write(false);
    cfoil_ledger_check check = looked(false);
    told(&check, first, first, false);
}

static bool is_signed(const struct row *row)
{
    return strncmp(row->kind, LEDGER_KIND_CHECKPOINT, (size_t)row->kind_length) == 0 ||
           strncmp(row->kind, LEDGER_KIND_KEY, (size_t)row->kind_length) == 0;
}

/* The chain is made again: named is the first signed entry from the change on that the key has not made, at the latest the
 * entry that was noted. */
static void rehashed_try(int from)
{
    int64_t last = world.count;
    rows_rehash();
    rows_write(true);
    for (int i = world.changed_count - 1; i >= from; i--) {
        if (is_signed(&world.changed[i]))
            last = i + 1;
    }
    cfoil_ledger_check check = looked(false);
    bool noted = check.intact != 0;
    if (noted)
        check = looked(true);
    told(&check, from + 1, last, noted);
}

/* ---- Each byte ---- */

static void number_flip(int64_t *number, int bit)
{
    *number = (int64_t)((uint64_t)*number ^ (UINT64_C(1) << bit));
}

/* Alters one byte (of numbers: one bit) of an entry; false = there are no more. */
static bool byte_flip(struct row *row, long place, bool hashes_too)
{
    if (place < 63)
        return number_flip(&row->time_utc_ms, (int)place), true;
    place -= 63;
    if (place < 31)
        return number_flip(&row->disposition, (int)place), true;
    place -= 31;
    if (place < row->kind_length)
        return row->kind[place] = (char)(row->kind[place] ^ 1), true;
    place -= row->kind_length;
    if (place < row->case_length)
        return row->case_id[place] = (char)(row->case_id[place] ^ 1), true;
    place -= row->case_length > 0 ? row->case_length : 0;
    if (place < row->body_length)
        return row->body[place] = (char)(row->body[place] ^ 1), true;
    place -= row->body_length;
    if (hashes_too && place < 32)
        return row->previous[place] ^= 1, true;
    if (hashes_too && place < 64)
        return row->hash[place - 32] ^= 1, true;
    return false;
}

static void bytes_try(bool rehash)
{
    static long offset; /* so that short runs reach other bytes in each entry */
    for (int i = 0; i < world.count; i++) {
        for (long place = world.stride > 1 ? offset++ % world.stride : 0;; place += world.stride) {
            rows_restore();
            if (!byte_flip(&world.changed[i], place, !rehash))
                break;
            if (rehash)
                rehashed_try(i);
            else
                plain_try(i + 1);
        }
    }
}

/* ---- Whole entries ---- */

static void row_remove(int at)
{
    memmove(&world.changed[at], &world.changed[at + 1], sizeof(struct row) * (size_t)(world.changed_count - at - 1));
    world.changed_count--;
}

static void row_insert(int at, const struct row *row)
{
    memmove(&world.changed[at + 1], &world.changed[at], sizeof(struct row) * (size_t)(world.changed_count - at));
    world.changed[at] = *row;
    world.changed_count++;
}

static void numbers_set(void)
{
    for (int i = 0; i < world.changed_count; i++)
        world.changed[i].number = i + 1;
}

static void deletions_try(bool rehash)
{
    for (int i = 0; i < world.count; i++) {
        rows_restore();
        row_remove(i);
        if (rehash) {
            rehashed_try(i);
            continue;
        }
        plain_try(i + 1);
        rows_restore();
        row_remove(i);
        numbers_set(); /* the gap is closed, the hashes stay */
        plain_try(i + 1);
    }
}

static void exchanges_try(bool rehash)
{
    for (int i = 0; i < world.count; i++) {
        for (int j = i + 1; j<world.count; j += world.stride> 1 ? 5 : 1) {
            rows_restore();
            world.changed[i] = world.rows[j];
            world.changed[j] = world.rows[i];
            numbers_set();
            if (rehash)
                rehashed_try(i);
            else
                plain_try(i + 1);
        }
    }
}

static void doubles_try(bool rehash)
{
    for (int i = 0; i < world.count; i++) {
        rows_restore();
        row_insert(i + 1, &world.rows[i]);
        numbers_set();
        if (rehash)
            rehashed_try(i + 1);
        else
            plain_try(i + 2);
    }
}

static void insertions_try(bool rehash)
{
    static const char body[] = "{\"kind\":\"device\",\"lane\":\"1\",\"seq\":9}";
    for (int i = 0; i <= world.count; i++) {
        struct row row = {.time_utc_ms = INT64_C(1764000000000), .case_length = -1};
        row.kind_length = snprintf(row.kind, sizeof row.kind, "%s", LEDGER_KIND_DEVICE);
        row.body_length = snprintf(row.body, sizeof row.body, "%s", body);
        if (rehash && i == world.count)
            break; /* going on at the end is what the ledger does: nothing is altered */
        rows_restore();
        row_insert(i, &row);
        numbers_set();
        if (rehash)
            rehashed_try(i);
        else
            plain_try(i + 1);
    }
}

static void cuts_try(bool rehash)
{
    for (int i = 1; i < world.count; i++) {
        rows_restore();
        world.changed_count = i;
        if (rehash)
            rehashed_try(i);
        else
            plain_try(i + 1);
    }
}

/* ---- The whole ---- */

static int report(void)
{
    int bad = 0;
    printf("%d entries\n%-34s %8s %8s %8s %12s\n", world.count, "alteration", "tried", "found", "named",
           "needs a note");
    for (int i = 0; i < tallies; i++) {
        printf("%-34s %8ld %8ld %8ld %12ld\n", tally[i].name, tally[i].tried, tally[i].found, tally[i].named,
               tally[i].needs_note);
        bad += tally[i].tried == 0 || tally[i].found != tally[i].tried || tally[i].named != tally[i].tried;
    }
    return bad == 0 ? 0 : 1;
}

int main(int argc, char **argv)
{
    static const struct {
        const char *names[2]; /* as it is, chain made again */
        void (*run)(bool rehash);
    } kinds[] = {
        {{"byte flipped", "byte flipped, chain made again"}, bytes_try},
        {{"entry deleted", "entry deleted, chain made again"}, deletions_try},
        {{"entries exchanged", "entries exchanged, made again"}, exchanges_try},
        {{"entry doubled", "entry doubled, chain made again"}, doubles_try},
        {{"entry put in", "entry put in, chain made again"}, insertions_try},
        {{"end cut off", "end cut off, chain made again"}, cuts_try},
    };
    world.stride = argc > 1 && strcmp(argv[1], "--short") == 0 ? 97 : 1;
    world_open();
    snprintf(world.noted, sizeof world.noted, "%s", looked(false).head);
    rows_restore();
    rows_write(true);
    demand(looked(true).intact == 1, "the ledger is not intact to begin with");
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        for (int rehash = 0; rehash < 2; rehash++) {
            tally_begin(kinds[i].names[rehash]);
            kinds[i].run(rehash == 1);
        }
    }
    int code = report();
    world_close();
    return code;
}
