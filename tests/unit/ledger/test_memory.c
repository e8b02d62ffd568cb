/*
 * Does every call of the ledger survive every failing allocation, SQLite's and cJSON's included, with nothing half done?
 */
#include "world.h"

#include "scarce_heap.h"

struct trial {
    struct world world;
    int64_t entries; /* on record before the call */
    char *text;
};

static void trial_begin(struct trial *trial)
{
    memset(trial, 0, sizeof *trial);
    world_folder_make(&trial->world);
    assert_int_equal(world_try(&trial->world, &heap_memory, 0), CFOIL_OK);
    world_fill(&trial->world, 4);
    struct ledger_device_memory device = {"d", (const uint8_t *)"bytes", 5};
    assert_int_equal(ledger_append(trial->world.ledger, NULL, 0, &device, NULL, NULL), CFOIL_OK);
    trial->entries = 4;
}

static void trial_end(struct trial *trial)
{
    ledger_release(trial->world.ledger);
    trial->world.ledger = NULL;
    assert_int_equal(heap.blocks, 0);
    world_close(&trial->world);
}

static void expect_named(int32_t result)
{
    if (result != CFOIL_OK && result != CFOIL_E_MEMORY)
        fail_msg("result %#x", (unsigned)result);
}

static void expect_entries(struct trial *trial)
{
    cfoil_ledger_check check = world_verify(&trial->world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.entries, trial->entries);
}

/* ---- Appending ---- */

static int32_t append_call(void *user)
{
    struct trial *trial = user;
    static int number;
    char case_id[40];
    snprintf(case_id, sizeof case_id, "trial %d", ++number);
    char body[9000]; /* more than a page, so that SQLite needs memory for it */
    memset(body, 'x', sizeof body);
    memcpy(body, "{\"a\":\"", 6);
    memcpy(body + sizeof body - 3, "\"}", 3);
    struct ledger_item items[2] = {item_make(LEDGER_KIND_DEVICE, body),
                                   case_make(case_id, CFOIL_DISPOSITION_SET_ASIDE)};
    items[1].currency = "EUR";
    items[1].serial = case_id;
    struct ledger_device_memory device = {"d", (const uint8_t *)"other", 5};
    struct ledger_receipt receipts[2];
    return ledger_append(trial->world.ledger, items, 2, &device, receipts, &trial->world.error);
}

static void append_check(void *user, int32_t result)
{
    struct trial *trial = user;
    expect_named(result);
    trial->entries += result == CFOIL_OK ? 2 : 0;
    expect_entries(trial);
}

static void appending_is_whole_or_not_at_all(void **state)
{
    (void)state;
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial;
        trial_begin(&trial);
        assert_true(heap_fail_each(for_ever != 0, 1, append_call, append_check, &trial) > 0);
        trial_end(&trial);
    }
}

/* A fresh connection has no pages and no statements' memory yet: more can fail. */
static void first_append_check(void *user, int32_t result)
{
    struct trial *trial = user;
    append_check(user, result);
    ledger_release(trial->world.ledger);
    assert_int_equal(world_try(&trial->world, &heap_memory, 0), CFOIL_OK);
    expect_entries(trial);
}

static void the_first_append_of_a_connection(void **state)
{
    (void)state;
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial;
        trial_begin(&trial);
        ledger_release(trial.world.ledger);
        assert_int_equal(world_try(&trial.world, &heap_memory, 0), CFOIL_OK);
        assert_true(heap_fail_each(for_ever != 0, 1, append_call, first_append_check, &trial) > 5);
        trial_end(&trial);
    }
}

/* ---- Opening ---- */

static int32_t open_new_call(void *user)
{
    struct trial *trial = user;
    return world_try(&trial->world, &heap_memory, 0);
}

static void open_new_check(void *user, int32_t result)
{
    struct trial *trial = user;
    expect_named(result);
    if (result != CFOIL_OK) {
        assert_int_equal(heap.blocks, 0);
        assert_int_equal(open_new_call(trial), CFOIL_OK); /* what was begun is finished */
    }
    expect_entries(trial);
    ledger_release(trial->world.ledger);
    trial->world.ledger = NULL;
    assert_int_equal(unlink(trial->world.path), 0);
}

static void making_a_ledger(void **state)
{
    (void)state;
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial = {.entries = 1};
        world_folder_make(&trial.world);
        assert_true(heap_fail_each(for_ever != 0, for_ever != 0 ? 13 : 1, open_new_call, open_new_check, &trial) > 50);
        trial_end(&trial);
    }
}

static int32_t open_again_call(void *user)
{
    struct trial *trial = user;
    return world_try(&trial->world, &heap_memory, 0);
}

static int32_t open_reading_call(void *user)
{
    struct trial *trial = user;
    return world_try(&trial->world, &heap_memory, 1);
}

static void open_check(void *user, int32_t result)
{
    struct trial *trial = user;
    expect_named(result);
    assert_true(result == CFOIL_OK || heap.blocks == 0);
    ledger_release(trial->world.ledger);
    trial->world.ledger = NULL;
}

static void opening_a_ledger(void **state)
{
    (void)state;
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial;
        trial_begin(&trial);
        ledger_release(trial.world.ledger);
        trial.world.ledger = NULL;
        assert_true(heap_fail_each(for_ever != 0, for_ever != 0 ? 13 : 1, open_again_call, open_check, &trial) > 20);
        assert_true(heap_fail_each(for_ever != 0, for_ever != 0 ? 13 : 1, open_reading_call, open_check, &trial) > 20);
        assert_int_equal(open_again_call(&trial), CFOIL_OK);
        expect_entries(&trial);
        trial_end(&trial);
    }
}

/* ---- Reading ---- */

static int32_t entry_call(void *user)
{
    struct trial *trial = user;
    return ledger_entry_text(trial->world.ledger, 3, &trial->text, &trial->world.error);
}

static void entry_check(void *user, int32_t result)
{
    struct trial *trial = user;
    expect_named(result);
    assert_true((result == CFOIL_OK) == (trial->text != NULL));
    if (trial->text != NULL)
        assert_non_null(strstr(trial->text, "\"body\":{\"kind\":\"rejected\",\"seq\":3}"));
    cJSON_free(trial->text);
    ledger_release(trial->world.ledger);
    assert_int_equal(world_try(&trial->world, &heap_memory, 0), CFOIL_OK);
}

static bool visit(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    (void)number;
    (void)kind;
    (void)time_utc_ms;
    (void)body;
    ++*(int *)user;
    return true;
}

static int32_t walk_call(void *user)
{
    struct trial *trial = user;
    int visits = 0;
    int32_t result = ledger_walk(trial->world.ledger, 0, 0, visit, &visits, &trial->world.error);
    assert_true(result != CFOIL_OK || visits == 4);
    return result;
}

static int32_t verify_call(void *user)
{
    struct trial *trial = user;
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    int32_t result = ledger_verify(trial->world.ledger, &check, &trial->world.error);
    assert_true((result == CFOIL_OK) == (check.intact == 1));
    assert_int_equal(check.first_bad, 0); /* want of memory is no sign against the entries */
    return result;
}

static int32_t look_up_call(void *user)
{
    struct trial *trial = user;
    bool refused = true;
    uint8_t bytes[64];
    uint32_t length = 9;
    int32_t result = ledger_serial_refused(trial->world.ledger, "EUR", "none", &refused, &trial->world.error);
    if (result != CFOIL_OK)
        return result;
    assert_false(refused);
    result = ledger_device_load(trial->world.ledger, "d", bytes, sizeof bytes, &length, &trial->world.error);
    assert_int_equal(length, result == CFOIL_OK ? 5 : 0);
    return result;
}

/* These have a connection of their own each time. */
static void reading_check(void *user, int32_t result)
{
    (void)user;
    expect_named(result);
}

static void look_up_check(void *user, int32_t result)
{
    struct trial *trial = user;
    expect_named(result);
    ledger_release(trial->world.ledger);
    assert_int_equal(world_try(&trial->world, &heap_memory, 0), CFOIL_OK);
}

static void reading_a_ledger(void **state)
{
    (void)state;
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial;
        trial_begin(&trial);
        assert_true(heap_fail_each(for_ever != 0, 1, entry_call, entry_check, &trial) > 20);
        assert_true(heap_fail_each(for_ever != 0, 1, walk_call, reading_check, &trial) > 20);
        assert_true(heap_fail_each(for_ever != 0, 1, verify_call, reading_check, &trial) > 20);
        assert_true(heap_fail_each(for_ever != 0, 1, look_up_call, look_up_check, &trial) > 0);
        trial_end(&trial);
    }
}

int main(void)
{
    /* A thousand openings: on a disk in memory where there is one, for nothing here asks whether the disk keeps its word. */
    if (access("/dev/shm", W_OK) == 0)
        setenv("TMPDIR", "/dev/shm", 0);
    if (!heap_hooks_set())
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(appending_is_whole_or_not_at_all),
        cmocka_unit_test(the_first_append_of_a_connection),
        cmocka_unit_test(making_a_ledger),
        cmocka_unit_test(opening_a_ledger),
        cmocka_unit_test(reading_a_ledger),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
