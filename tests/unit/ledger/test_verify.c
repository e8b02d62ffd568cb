/*
 * Does the check of the chain find every alteration, removal, addition and exchange, and name the first bad entry?
 */
#include "world.h"

#include "ledger/chain.h"
#include "model/text.h"

#include <fcntl.h>

enum { ENTRIES = 8 };

static void tampered_open(struct world *world)
{
    world_open(world);
    world_fill(world, ENTRIES);
    world_unlock_entries(world);
}

static void expect_bad(struct world *world, int64_t number)
{
    cfoil_ledger_check check = world_verify(world);
    if (check.intact != 0 || check.first_bad != number)
        fail_msg("first bad %lld instead of %lld: %s", (long long)check.first_bad, (long long)number, check.text);
}

static void an_untouched_ledger_is_intact(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, ENTRIES);
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.entries, ENTRIES);
    assert_int_equal(check.first_bad, 0);
    assert_string_equal(check.text, "All 8 entries are in their places and unaltered.");
    char *text;
    assert_int_equal(ledger_entry_text(world.ledger, 0, &text, NULL), CFOIL_OK);
    assert_int_equal(strlen(check.head), 64);
    assert_non_null(strstr(text, check.head));
    free(text);
    world_close(&world);
}

static void the_file_itself_forbids_changes(void **state)
{
    (void)state;
    static const char *const orders[] = {
        "UPDATE entry SET body = '{}' WHERE number = 3",
        "DELETE FROM entry WHERE number = 8",
        "INSERT OR REPLACE INTO entry SELECT 3, 0, 'device', NULL, 0, previous, hash, '{}' FROM entry WHERE number=3",
        "INSERT OR REPLACE INTO entry SELECT 9, 0, 'case', case_id, 1, previous, hash, '{}' FROM entry WHERE number=3",
    };
    struct world world;
    world_open(&world);
    world_fill(&world, ENTRIES);
    sqlite3 *other;
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++)
        assert_int_equal(sqlite3_exec(other, orders[i], NULL, NULL, NULL), SQLITE_CONSTRAINT);
    sqlite3_close(other);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void flip(struct world *world, int number, const char *column, const char *change)
{
    char sql[400];
    world_tamper(world, "CREATE TABLE kept AS SELECT * FROM entry");
    snprintf(sql, sizeof sql, "UPDATE entry SET %s = %s WHERE number = %d", column, change, number);
    world_tamper(world, sql);
    expect_bad(world, number);
    snprintf(sql, sizeof sql,
             "UPDATE entry SET %s = (SELECT %s FROM kept WHERE number = %d) WHERE number = %d; DROP TABLE kept", column,
             column, number, number);
    world_tamper(world, sql);
}

struct cell {
    const char *column;
    int number;
    int type;
    int length;
    uint8_t bytes[100];
};

static void cell_read(sqlite3 *other, struct cell *cell)
{
    char sql[100];
    sqlite3_stmt *statement;
    snprintf(sql, sizeof sql, "SELECT %s FROM entry WHERE number = %d", cell->column, cell->number);
    assert_int_equal(sqlite3_prepare_v2(other, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    cell->type = sqlite3_column_type(statement, 0);
    cell->length = sqlite3_column_bytes(statement, 0);
    assert_in_range(cell->length, 1, sizeof cell->bytes);
    memcpy(cell->bytes, sqlite3_column_blob(statement, 0), (size_t)cell->length);
    sqlite3_finalize(statement);
}

static void cell_write(sqlite3 *other, const struct cell *cell)
{
    char sql[100];
    sqlite3_stmt *statement;
    snprintf(sql, sizeof sql, "UPDATE entry SET %s = ?1 WHERE number = %d", cell->column, cell->number);
    assert_int_equal(sqlite3_prepare_v2(other, sql, -1, &statement, NULL), SQLITE_OK);
    int code = cell->type == SQLITE_BLOB
                   ? sqlite3_bind_blob(statement, 1, cell->bytes, cell->length, SQLITE_STATIC)
                   : sqlite3_bind_text(statement, 1, (const char *)cell->bytes, cell->length, SQLITE_STATIC);
    assert_int_equal(code, SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_DONE);
    sqlite3_finalize(statement);
}

static void every_flipped_byte_is_found(void **state)
{
    (void)state;
    static const char *const columns[] = {"hash", "previous", "kind", "body"};
    struct world world;
    tampered_open(&world);
    sqlite3 *other;
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "PRAGMA synchronous=OFF", NULL, NULL, NULL), SQLITE_OK);
    for (int number = 1; number <= ENTRIES; number++) {
        for (int column = 0; column < 4; column++) {
            struct cell cell = {.column = columns[column], .number = number};
            cell_read(other, &cell);
            for (int at = 0; at < cell.length; at++) {
                uint8_t bit = (uint8_t)(1u << (at % 7));
                cell.bytes[at] ^= bit;
                cell_write(other, &cell);
                expect_bad(&world, number);
                cell.bytes[at] ^= bit;
            }
            cell_write(other, &cell);
        }
    }
    sqlite3_close(other);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void every_other_change_is_found(void **state)
{
    (void)state;
    static const struct {
        const char *column;
        const char *change;
    } changes[] = {
        {"time_utc_ms", "time_utc_ms + 1"},
        {"time_utc_ms", "time_utc_ms - 4294967296"},
        {"time_utc_ms", "CAST(time_utc_ms AS BLOB)"},
        {"time_utc_ms", "time_utc_ms + 0.5"},
        {"disposition", "1"},
        {"disposition", "disposition + 4294967296"},
        {"disposition", "x'02'"},
        {"case_id", "'another'"},
        {"case_id", "coalesce(case_id || ' ', '')"},
        {"case_id", "CAST(coalesce(case_id, '') AS BLOB)"},
        {"kind", "CAST(kind AS BLOB)"},
        {"kind", "kind || char(0)"},
        {"body", "CAST(body AS BLOB)"},
        {"body", "body || ' '"},
        {"body", "''"},
        {"body", "body || char(0) || 'more'"},
        {"previous", "substr(previous, 1, 31)"},
        {"previous", "hex(previous)"},
        {"hash", "substr(hash, 1, 31)"},
        {"hash", "hex(hash)"},
        {"hash", "x''"},
    };
    struct world world;
    tampered_open(&world);
    for (int number = 1; number <= ENTRIES; number++) {
        for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++)
            flip(&world, number, changes[i].column, changes[i].change);
    }
    flip(&world, 3, "case_id", "NULL");
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void every_removed_entry_is_found(void **state)
{
    (void)state;
    struct world world;
    tampered_open(&world);
    world_tamper(&world, "CREATE TABLE kept AS SELECT * FROM entry");
    for (int number = 1; number <= ENTRIES; number++) {
        char sql[200];
        snprintf(sql, sizeof sql, "DELETE FROM entry WHERE number = %d", number);
        world_tamper(&world, sql);
        expect_bad(&world, number);
        /* the later ones moved up, so that no number is missing */
        snprintf(sql, sizeof sql, "UPDATE entry SET number = number - 1 WHERE number > %d", number);
        world_tamper(&world, sql);
        expect_bad(&world, number);
        world_tamper(&world, "DELETE FROM entry; INSERT INTO entry SELECT * FROM kept");
    }
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void every_pair_exchanged_is_found(void **state)
{
    (void)state;
    struct world world;
    tampered_open(&world);
    for (int one = 1; one < ENTRIES; one++) {
        for (int other = one + 1; other <= ENTRIES; other++) {
            char sql[300];
            snprintf(sql, sizeof sql,
                     "UPDATE entry SET number = 99 WHERE number = %d; UPDATE entry SET number = %d WHERE number = %d;"
                     "UPDATE entry SET number = %d WHERE number = 99",
                     one, one, other, other);
            world_tamper(&world, sql);
            expect_bad(&world, one);
            world_tamper(&world, sql);
        }
    }
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void every_cut_at_the_end_is_found(void **state)
{
    (void)state;
    struct world world;
    tampered_open(&world);
    for (int number = ENTRIES; number >= 1; number--) {
        char sql[100];
        snprintf(sql, sizeof sql, "DELETE FROM entry WHERE number >= %d", number);
        world_tamper(&world, sql);
        expect_bad(&world, number);
        assert_int_equal(world_verify(&world).entries, number - 1);
    }
    /* even with a head that says so */
    world_tamper(&world, "UPDATE head SET number = 0, entries = 0, hash = zeroblob(32)");
    expect_bad(&world, 1);
    world_close(&world);
}

static void a_head_that_is_wrong_is_found(void **state)
{
    (void)state;
    static const struct {
        const char *sql;
        int64_t bad;
    } rows[] = {
        {"UPDATE head SET number = 9", 9},          {"UPDATE head SET number = 7", 8},
        {"UPDATE head SET number = -5", 1},         {"UPDATE head SET entries = 7", 8},
        {"UPDATE head SET hash = zeroblob(32)", 8}, {"UPDATE head SET hash = zeroblob(31)", 8},
        {"UPDATE head SET hash = x''", 8},          {"DELETE FROM head", 9},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct world world;
        tampered_open(&world);
        world_tamper(&world, rows[i].sql);
        expect_bad(&world, rows[i].bad);
        world_close(&world);
    }
}

static void a_foreign_entry_is_found(void **state)
{
    (void)state;
    static const int numbers[] = {0, -7, 9, 20};
    static const int bad[] = {1, 1, 9, 9};
    for (int i = 0; i < 4; i++) {
        struct world world;
        tampered_open(&world);
        char sql[200];
        snprintf(
            sql, sizeof sql,
            "INSERT INTO entry SELECT %d, time_utc_ms, kind, NULL, 0, hash, hash, body FROM entry WHERE number = 8",
            numbers[i]);
        world_tamper(&world, sql);
        expect_bad(&world, bad[i]);
        world_close(&world);
    }
}

/* Gives entry `number` a hash that fits its own content, as somebody who knows the format could. */
static void entry_rehash(struct world *world, int64_t number, const char *body)
{
    uint8_t previous[CHAIN_HASH_SIZE] = {1};
    uint8_t hash[CHAIN_HASH_SIZE];
    char hex[2 * CHAIN_HASH_SIZE + 1];
    char sql[400];
    struct chain_entry entry = {.number = number, .kind = chain_text_of("device"), .body = chain_text_of(body)};
    chain_hash(previous, &entry, hash);
    text_hex(hash, sizeof hash, hex);
    snprintf(sql, sizeof sql,
             "UPDATE entry SET time_utc_ms = 0, kind = 'device', case_id = NULL, disposition = 0, body = '%s',"
             " previous = x'01' || zeroblob(31), hash = x'%s' WHERE number = %lld",
             body, hex, (long long)number);
    world_tamper(world, sql);
    world_tamper(world, "UPDATE entry SET previous = CAST(previous AS BLOB)");
}

static void a_self_consistent_stranger_is_found(void **state)
{
    (void)state;
    for (int number = 1; number <= ENTRIES; number++) {
        struct world world;
        tampered_open(&world);
        entry_rehash(&world, number, number == 4 ? "" : "{}");
        expect_bad(&world, number);
        assert_int_equal(strlen(world_verify(&world).head), number == 1 ? 0 : 64);
        world_close(&world);
    }
}

static void nothing_is_appended_behind_a_lost_head(void **state)
{
    (void)state;
    static const char *const orders[] = {"DELETE FROM head", "UPDATE head SET hash = 'x'", "UPDATE head SET hash = x''",
                                         "UPDATE head SET number = 4"};
    for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
        struct world world;
        tampered_open(&world);
        world_tamper(&world, orders[i]);
        assert_int_equal(world_append(&world, item_make("device", "{}"), NULL), CFOIL_E_LEDGER_DAMAGED);
        assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), ENTRIES);
        world_close(&world);
    }
}

/* ---- Rubbish on the disk ---- */

static void page_exchange(const char *path, off_t page, uint8_t bytes[4096])
{
    uint8_t before[4096];
    int file = open(path, O_RDWR);
    assert_int_equal(pread(file, before, sizeof before, page * 4096), sizeof before);
    assert_int_equal(pwrite(file, bytes, sizeof before, page * 4096), sizeof before);
    close(file);
    memcpy(bytes, before, sizeof before);
}

/* True when the damage was noticed. An entry that is not as it was must not pass for intact. */
static bool damage_told(struct world *world, const cfoil_ledger_check *before)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    int32_t result = world_try(world, &memory_heap, 0);
    if (result != CFOIL_OK) {
        assert_true(result == CFOIL_E_LEDGER_DAMAGED || result == CFOIL_E_LEDGER_OPEN);
        return true;
    }
    result = ledger_verify(world->ledger, &check, &world->error);
    assert_true(result == CFOIL_OK || result == CFOIL_E_LEDGER_DAMAGED);
    ledger_release(world->ledger);
    world->ledger = NULL;
    if (check.intact == 1)
        assert_string_equal(check.head, before->head);
    else
        assert_true(check.text[0] != '\0' && check.first_bad >= 1);
    return check.intact != 1;
}

static void rubbish_in_the_file_is_reported(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    char body[3000];
    memset(body, 'x', sizeof body);
    memcpy(body, "{\"a\":\"", 6);
    memcpy(body + sizeof body - 3, "\"}", 3);
    for (int i = 0; i < 30; i++)
        assert_int_equal(world_append(&world, item_make("device", body), NULL), CFOIL_OK);
    cfoil_ledger_check before = world_verify(&world);
    ledger_release(world.ledger);
    world.ledger = NULL;
    struct stat file;
    assert_int_equal(stat(world.path, &file), 0);
    int told = 0;
    for (off_t page = 0; page < file.st_size / 4096; page++) {
        uint8_t bytes[4096];
        memset(bytes, 0x5a, sizeof bytes);
        page_exchange(world.path, page, bytes);
        told += damage_told(&world, &before);
        page_exchange(world.path, page, bytes);
    }
    assert_true(told > 20);
    world_reopen(&world);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_untouched_ledger_is_intact),
        cmocka_unit_test(the_file_itself_forbids_changes),
        cmocka_unit_test(every_flipped_byte_is_found),
        cmocka_unit_test(every_other_change_is_found),
        cmocka_unit_test(every_removed_entry_is_found),
        cmocka_unit_test(every_pair_exchanged_is_found),
        cmocka_unit_test(every_cut_at_the_end_is_found),
        cmocka_unit_test(a_head_that_is_wrong_is_found),
        cmocka_unit_test(a_foreign_entry_is_found),
        cmocka_unit_test(a_self_consistent_stranger_is_found),
        cmocka_unit_test(nothing_is_appended_behind_a_lost_head),
        cmocka_unit_test(rubbish_in_the_file_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
