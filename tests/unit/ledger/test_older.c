/*
 * Ledgers of versions 1 and 2: read as they are, brought to version 3 with a copy beside them, or left as they are.
 */
#include "version_2.h"

#include "ledger/index.h"
#include "ledger/keep.h"
#include "ledger/rollup.h"
#include "model/text.h"

#include <sys/resource.h>

static void older_make(struct world *world)
{
    world_folder_make(world);
    version_1_make(world->path);
}

static void copy_path(const struct world *world, char *path, size_t size)
{
    snprintf(path, size, "%s.before-3", world->path);
}

/* Asks another file than the ledger. */
static int64_t file_query(const char *path, const char *sql)
{
    struct world other = {.ledger = NULL};
    text_copy(other.path, sizeof other.path, path);
    return world_query(&other, sql);
}

static void reading_changes_nothing(void **state)
{
    (void)state;
    struct world world;
    char copy[330];
    bool refused = false;
    older_make(&world);
    copy_path(&world, copy, sizeof copy);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.entries, VERSION_1_ENTRIES);
    assert_int_equal(check.intact, 1);
    assert_int_equal(ledger_serial_refused(world.ledger, "EUR", "VA0436214792", &refused, NULL), CFOIL_OK);
    assert_true(refused);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);
    assert_int_not_equal(access(copy, F_OK), 0);
    world_close(&world);
}

/* What version 2 added is empty, or refused, while an older file is only read. */
static void reading_knows_nothing_of_custody(void **state)
{
    (void)state;
    struct world world;
    cJSON *object;
    char *text;
    cfoil_tender tender = CFOIL_TENDER_INIT;
    struct serial_known known;
    cfoil_reconcile_options count = CFOIL_RECONCILE_OPTIONS_INIT;
    older_make(&world);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    assert_int_equal(keep_list(world.ledger, CFOIL_LIST_CUSTODY, NULL, &object, NULL), CFOIL_OK);
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItem(object, "items")), 0);
    cJSON_Delete(object);
    assert_int_equal(keep_tender_check(world.ledger, "S2", &tender, NULL), CFOIL_OK);
    assert_int_equal(tender.verdict, CFOIL_TENDER_FREE);
    assert_int_equal(keep_case_load(world.ledger, "x", &text, NULL), CFOIL_E_MISSING_CASE);
    assert_int_equal(keep_serial_look(world.ledger, "EUR", "VA0436214792", 5000, "x", &known, NULL), CFOIL_OK);
    assert_true(known.refused && !known.open);
    count.envelopes = "[]";
    assert_int_equal(keep_reconcile(world.ledger, &count, &object, NULL), CFOIL_E_LEDGER_READ_ONLY);
    assert_int_equal(keep_case_remove(world.ledger, "x", NULL), CFOIL_E_LEDGER_READ_ONLY);
    world_close(&world);
}

static void writing_moves_it_on_and_keeps_a_copy(void **state)
{
    (void)state;
    struct world world;
    char copy[330];
    struct stat status;
    older_make(&world);
    copy_path(&world, copy, sizeof copy);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_OK);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 3);
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.entries, VERSION_1_ENTRIES + 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'format' AND number = 6"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM case_index"), 4);
    assert_int_equal(world_query(&world, "SELECT value_minor FROM case_index WHERE sale = 'S3' AND disposition = 3"),
                     2000);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody WHERE state = 'with_customer'"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody WHERE state = 'sealed' AND envelope = 'E 7'"),
                     1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody WHERE state = 'set_aside'"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody"), 3);

    assert_int_equal(stat(copy, &status), 0);
    assert_int_equal(status.st_mode & 0777, 0600);
    assert_int_equal(file_query(copy, "PRAGMA user_version"), 1);
    assert_int_equal(file_query(copy, "SELECT count(*) FROM entry"), VERSION_1_ENTRIES);
    world_reopen(&world);
    assert_int_equal(world_verify(&world).entries, VERSION_1_ENTRIES + 1);
    world_close(&world);
}

/* The process may end between the copy and the new tables. */
static void a_copy_of_the_same_ledger_is_kept(void **state)
{
    (void)state;
    struct world world;
    char copy[330];
    older_make(&world);
    copy_path(&world, copy, sizeof copy);
    version_1_make(copy);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_OK);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 3);
    world_close(&world);
}

static void another_file_of_that_name_is_left_alone(void **state)
{
    (void)state;
    struct world world;
    char copy[330];
    older_make(&world);
    copy_path(&world, copy, sizeof copy);
    FILE *other = fopen(copy, "wb");
    assert_non_null(other);
    fputs("notes of the shop", other);
    fclose(other);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_BACKUP);
    assert_non_null(strstr(world.error.text, "till.ledger.before-3 is there already"));
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);

    assert_int_equal(unlink(copy), 0);
    version_1_make(copy);
    struct world another = {.ledger = NULL};
    text_copy(another.path, sizeof another.path, copy);
    world_tamper(&another, "UPDATE head SET hash = zeroblob(32)");
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_E_LEDGER_BACKUP);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);
    world_close(&world);
}

static void without_room_for_the_copy_nothing_is_done(void **state)
{
    (void)state;
    struct world world;
    older_make(&world);
    assert_int_equal(chmod(world.folder, 0500), 0);
    if (access(world.folder, W_OK) != 0) { /* not the super-user, who may do everything */
        assert_int_not_equal(world_try(&world, &memory_heap, 0), CFOIL_OK);
        assert_int_equal(chmod(world.folder, 0700), 0);
        assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);
    }
    assert_int_equal(chmod(world.folder, 0700), 0);
    world_close(&world);
}

static void every_lack_of_memory_leaves_it_whole(void **state)
{
    (void)state;
    int32_t result = CFOIL_E_MEMORY;
    for (long n = 0; result != CFOIL_OK; n++) {
        struct world world;
        struct scarce scarce = {n, 0};
        struct memory memory = scarce_memory(&scarce);
        older_make(&world);
        result = world_try(&world, &memory, 0);
        if (result != CFOIL_OK) {
            assert_int_equal(result, CFOIL_E_MEMORY);
            assert_int_equal(scarce.blocks, 0);
            assert_int_equal(world_query(&world, "PRAGMA user_version"), 1);
        }
        world_close(&world);
        assert_true(n < 100);
    }
}

/* ---- Version 2 ---- */

static bool case_sum(void *user, const struct rollup_cell *cell)
{
    *(int64_t *)user += cell->counts[ROLLUP_CASES];
    return true;
}

static void a_file_of_version_2_keeps_what_no_entry_gives_back(void **state)
{
    (void)state;
    struct world world;
    char copy[330];
    world_folder_make(&world);
    version_2_make(world.path);
    copy_path(&world, copy, sizeof copy);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_OK);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 3);
    assert_int_equal(world_verify(&world).entries, VERSION_1_ENTRIES + 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'format' AND"
                                         " json_extract(body, '$.before') = 2"),
                     1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM staff WHERE staff = '01' AND role = 'supervisor'"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM case_index"), 4);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody"), 3);
    /* One of the four has a body that cannot be read. */
    assert_int_equal(world_query(&world, "SELECT sum(cases) FROM rollup WHERE level = 0"), 3);
    assert_int_equal(world_query(&world, "SELECT entry FROM rollup_head"), VERSION_1_ENTRIES + 1);
    assert_int_equal(file_query(copy, "PRAGMA user_version"), 2);
    world_close(&world);
}

/* An older file that is only read has no sums: its entries are counted instead. */
static void an_older_file_is_counted_entry_by_entry(void **state)
{
    (void)state;
    for (int version = 1; version <= 2; version++) {
        struct world world;
        struct rollup_query query = {0};
        int64_t cases = 0;
        bool kept = true;
        world_folder_make(&world);
        if (version == 1)
            version_1_make(world.path);
        else
            version_2_make(world.path);
        assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
        assert_int_equal(rollup_kept_cells(world.ledger, &query, case_sum, &cases, &kept, NULL), CFOIL_OK);
        assert_false(kept);
        assert_int_equal(cases, 0);
        assert_int_equal(rollup_cells(world.ledger, &query, case_sum, &cases, NULL), CFOIL_OK);
        assert_int_equal(cases, 3);
        world_close(&world);
    }
}

/* The look-up tables hold nothing that the entries do not. */
static void the_tables_can_be_made_again(void **state)
{
    (void)state;
    struct world world;
    sqlite3 *other;
    older_make(&world);
    assert_int_equal(world_try(&world, &memory_heap, 0), CFOIL_OK);
    world_tamper(&world, "DELETE FROM case_index; UPDATE custody SET state = 'genuine', envelope = ''");
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    assert_int_equal(index_make(other), SQLITE_OK);
    sqlite3_close(other);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM case_index"), 4);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM custody WHERE envelope = 'E 7' AND state = 'sealed'"),
                     1);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reading_changes_nothing),
        cmocka_unit_test(reading_knows_nothing_of_custody),
        cmocka_unit_test(writing_moves_it_on_and_keeps_a_copy),
        cmocka_unit_test(a_copy_of_the_same_ledger_is_kept),
        cmocka_unit_test(another_file_of_that_name_is_left_alone),
        cmocka_unit_test(without_room_for_the_copy_nothing_is_done),
        cmocka_unit_test(every_lack_of_memory_leaves_it_whole),
        cmocka_unit_test(a_file_of_version_2_keeps_what_no_entry_gives_back),
        cmocka_unit_test(an_older_file_is_counted_entry_by_entry),
        cmocka_unit_test(the_tables_can_be_made_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
