/*
 * The look-up tables hold nothing that the entries do not: made again, they are the same, row by row.
 */
#include "world.h"

#include "ledger/append.h"
#include "ledger/checkpoint.h"
#include "ledger/keep.h"
#include "ledger/key.h"
#include "ledger/rebuild.h"

/* Every table that docs/ledger.md calls made from entries. */
static const char *const tables[] = {"case_index", "custody", "setting", "key", "refused_serial"};
enum { TABLES = sizeof tables / sizeof tables[0] };

static void case_add(struct world *world, int number, int32_t disposition, const char *envelope)
{
    char case_id[40];
    char body[300];
    char serial[20];
    snprintf(case_id, sizeof case_id, "01900000-0000-7000-8000-%012d", number);
    snprintf(serial, sizeof serial, "VA%010d", number % 7);
    snprintf(body, sizeof body,
             "{\"currency\":\"EUR\",\"envelope\":%s,\"lane\":\"1\",\"sale\":\"S%d\",\"serial\":\"%s\","
             "\"value_minor\":5000}",
             envelope, number, serial);
    bool refused = disposition == CFOIL_DISPOSITION_NOT_TAKEN || disposition == CFOIL_DISPOSITION_SET_ASIDE;
    struct ledger_item item = {.kind = LEDGER_KIND_CASE,
                               .time_utc_ms = INT64_C(1764000000000) + number,
                               .body = body,
                               .case_id = case_id,
                               .disposition = disposition,
                               .currency = refused ? "EUR" : NULL,
                               .serial = refused ? serial : NULL};
    assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
}

static void step_add(struct world *world, int number, int32_t move)
{
    char case_id[40];
    snprintf(case_id, sizeof case_id, "01900000-0000-7000-8000-%012d", number);
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.envelope = move == CFOIL_CUSTODY_SEAL ? "E 77" : NULL;
    options.place = "safe";
    options.why = "as told";
    options.currency = "EUR";
    options.value_minor = 2000;
    options.serial = "VA0436214792";
    struct custody_order order = {
        .options = &options, .case_id = case_id, .actor = {"07", false}, .now_utc_ms = INT64_C(1764000005000)};
    assert_int_equal(keep_move(world->ledger, &order, NULL, &world->error), CFOIL_OK);
}

static void history_make(struct world *world)
{
    struct actor actor = {"01", false};
    world_open(world);
    for (int i = 1; i <= 20; i++)
        case_add(world, i, 1 + i % 4, i % 3 == 0 ? "\"E 7\"" : "null");
    for (int i = 2; i <= 20; i += 4) /* these are set aside */
        step_add(world, i, CFOIL_CUSTODY_CARRY);
    step_add(world, 6, CFOIL_CUSTODY_SEAL);
    step_add(world, 100, CFOIL_CUSTODY_FIND);
    step_add(world, 100, CFOIL_CUSTODY_LOSE);
    assert_int_equal(access_setting_set(world->ledger, &actor, "two_persons", "yes", NULL, NULL), CFOIL_OK);
    assert_int_equal(access_setting_set(world->ledger, &actor, "two_persons", "no", NULL, NULL), CFOIL_OK);
    assert_int_equal(checkpoint_write(world->ledger, NULL, NULL), CFOIL_OK);
    assert_int_equal(key_change(world->ledger, &actor, NULL, NULL), CFOIL_OK);
}

static int64_t differences(struct world *world, const char *table)
{
    char sql[300];
    snprintf(sql, sizeof sql,
             "SELECT (SELECT count(*) FROM (SELECT * FROM %s EXCEPT SELECT * FROM kept_%s)) +"
             " (SELECT count(*) FROM (SELECT * FROM kept_%s EXCEPT SELECT * FROM %s))",
             table, table, table, table);
    return world_query(world, sql);
}

static void tables_keep(struct world *world)
{
    char sql[100];
    for (int i = 0; i < TABLES; i++) {
        snprintf(sql, sizeof sql, "CREATE TABLE kept_%s AS SELECT * FROM %s", tables[i], tables[i]);
        world_tamper(world, sql);
    }
}

static void made_again_they_are_the_same(void **state)
{
    (void)state;
    struct world world;
    char sql[200];
    history_make(&world);
    tables_keep(&world);
    for (int i = 0; i < TABLES; i++) {
        snprintf(sql, sizeof sql, "SELECT count(*) > 0 FROM %s", tables[i]);
        assert_int_equal(world_query(&world, sql), 1);
        snprintf(sql, sizeof sql, "DELETE FROM %s", tables[i]);
        world_tamper(&world, sql);
    }
    world_tamper(&world, "INSERT INTO custody SELECT * FROM kept_custody LIMIT 1;"
                         "UPDATE custody SET case_id = 'x', state = 'genuine';"
                         "INSERT INTO setting VALUES('two_persons', 'yes', 1);"
                         "INSERT INTO key VALUES('x', 'signing', zeroblob(32), 1, 0)");
    for (int i = 0; i < TABLES; i++)
        assert_int_not_equal(differences(&world, tables[i]), 0);
    int64_t entries = world_query(&world, "SELECT count(*) FROM entry");
    assert_int_equal(ledger_rebuild(world.ledger, &world.error), CFOIL_OK);
    for (int i = 0; i < TABLES; i++)
        assert_int_equal(differences(&world, tables[i]), 0);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), entries);
    assert_int_equal(world_verify(&world).intact, 1);
    assert_int_equal(checkpoint_write(world.ledger, NULL, NULL), CFOIL_OK); /* the key is known again */
    world_close(&world);
}

static void what_cannot_be_finished_changes_nothing(void **state)
{
    (void)state;
    struct world world;
    history_make(&world);
    tables_keep(&world);
    world_tamper(&world,
                 "CREATE TRIGGER no_more BEFORE INSERT ON refused_serial BEGIN SELECT RAISE(ABORT, 'full'); END");
    assert_int_not_equal(ledger_rebuild(world.ledger, &world.error), CFOIL_OK);
    for (int i = 0; i < TABLES; i++)
        assert_int_equal(differences(&world, tables[i]), 0);
    ledger_release(world.ledger);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    assert_int_equal(ledger_rebuild(world.ledger, &world.error), CFOIL_E_LEDGER_READ_ONLY);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(made_again_they_are_the_same),
        cmocka_unit_test(what_cannot_be_finished_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
