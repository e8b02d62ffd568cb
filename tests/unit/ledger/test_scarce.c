/*
 * The calls about kept notes, lists, keys and older files with each allocation refused in turn, SQLite's and cJSON's
 * included: a clear answer, and a ledger that is whole. Works under sanitizers, too.
 */
#include "version_1.h"

#include "scarce_heap.h"

#include "ledger/append.h"
#include "ledger/checkpoint.h"
#include "ledger/keep.h"
#include "ledger/key.h"
#include "ledger/rebuild.h"
#include "ledger/store.h"
#include "model/json.h"

static struct world world;
static int32_t list_kind;
static uint8_t nonce[KEY_NONCE_SIZE];
static uint8_t sealed[4 + KEY_SEALED_EXTRA];

#define KEPT_CASE "01900000-0000-7000-8000-000000000001"

/* ---- The calls ---- */

static int32_t list_call(void *user)
{
    cJSON *object = NULL;
    (void)user;
    int32_t result = keep_list(world.ledger, list_kind, list_kind == CFOIL_LIST_CASE ? KEPT_CASE : NULL, &object, NULL);
    char *text = result == CFOIL_OK ? json_line(object) : NULL;
    cJSON_free(text);
    cJSON_Delete(object);
    return result;
}

static int32_t reconcile_call(void *user)
{
    cJSON *object = NULL;
    cfoil_reconcile_options options = CFOIL_RECONCILE_OPTIONS_INIT;
    (void)user;
    options.envelopes = "[\"E 1\",\"E 2\",\"E 2\",\"E 9\"]";
    int32_t result = keep_reconcile(world.ledger, &options, &object, NULL);
    cJSON_Delete(object);
    return result;
}

static int32_t looks_call(void *user)
{
    char *state = NULL;
    struct serial_known known;
    cfoil_tender tender = CFOIL_TENDER_INIT;
    (void)user;
    int32_t result = keep_tender_check(world.ledger, "S 1", &tender, NULL);
    if (result == CFOIL_OK)
        result = keep_serial_look(world.ledger, "EUR", "VA0436214792", 5000, "x", &known, NULL);
    if (result == CFOIL_OK)
        result = keep_case_load(world.ledger, "01900000-0000-7000-8000-000000000077", &state, NULL);
    keep_text_free(state);
    return result;
}

static int32_t rebuild_call(void *user)
{
    (void)user;
    return ledger_rebuild(world.ledger, NULL);
}

static int32_t sign_call(void *user)
{
    struct signed_receipt receipt;
    (void)user;
    return checkpoint_write(world.ledger, &receipt, NULL);
}

static int32_t key_call(void *user)
{
    struct actor actor = {"01", false};
    (void)user;
    memset(&world.error, 0, sizeof world.error);
    return key_change(world.ledger, &actor, NULL, &world.error);
}

static int32_t seal_run(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    (void)user;
    return key_seal(ledger, "case", (const uint8_t *)"text", 4, nonce, sealed, error);
}

static int32_t seal_call(void *user)
{
    return ledger_transact(world.ledger, seal_run, user, NULL);
}

static int32_t unseal_call(void *user)
{
    uint8_t plain[4];
    (void)user;
    return key_open(world.ledger, "case", nonce, sealed, sizeof sealed, plain, NULL);
}

static int32_t verify_call(void *user)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    (void)user;
    int32_t result = ledger_verify(world.ledger, &check, NULL);
    assert_true(result != CFOIL_OK || check.intact == 1);
    return result;
}

static int32_t find_call(void *user)
{
    static int number;
    char case_id[40];
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    (void)user;
    snprintf(case_id, sizeof case_id, "found %d", ++number);
    options.move = CFOIL_CUSTODY_FIND;
    options.place = "safe";
    options.currency = "EUR";
    options.value_minor = 2000;
    options.serial = "VA0436214792";
    options.lane = "1";
    struct custody_order order = {
        .options = &options, .case_id = case_id, .actor = {"07", false}, .now_utc_ms = INT64_C(1764000005000)};
    return keep_move(world.ledger, &order, NULL, NULL);
}

static int32_t carry_call(void *user)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    (void)user;
    options.move = CFOIL_CUSTODY_CARRY;
    options.place = "safe, shelf 2";
    options.keeper = "07";
    options.why = "as told";
    struct custody_order order = {
        .options = &options, .case_id = KEPT_CASE, .actor = {"07", false}, .now_utc_ms = INT64_C(1764000005000)};
    return keep_move(world.ledger, &order, NULL, NULL);
}

static int32_t rule_call(void *user)
{
    struct actor actor = {"01", false};
    (void)user;
    return access_setting_set(world.ledger, &actor, "two_persons", "no", NULL, NULL);
}

static int32_t save_call(void *user)
{
    struct working_case working = {
        "01900000-0000-7000-8000-000000000077", "1", "S 1", "EUR", "VA0436214792", "{\"value_minor\":5000}"};
    (void)user;
    return keep_case_save(world.ledger, &working, NULL);
}

/* ---- The world ---- */

static void history_make(void)
{
    world_folder_make(&world);
    assert_int_equal(world_try(&world, &heap_memory, 0), CFOIL_OK);
    for (int i = 1; i <= 3; i++) {
        char case_id[40];
        char body[200];
        snprintf(case_id, sizeof case_id, "01900000-0000-7000-8000-%012d", i);
        snprintf(
            body, sizeof body,
            "{\"currency\":\"EUR\",\"envelope\":\"E %d\",\"lane\":\"1\",\"sale\":\"S 1\",\"serial\":\"VA0436214792\","
            "\"value_minor\":5000}",
            i);
        struct ledger_item item = case_make(case_id, i == 3 ? CFOIL_DISPOSITION_TAKEN : CFOIL_DISPOSITION_SET_ASIDE);
        item.body = body;
        assert_int_equal(world_append(&world, item, NULL), CFOIL_OK);
    }
    assert_int_equal(find_call(NULL), CFOIL_OK);
    assert_int_equal(carry_call(NULL), CFOIL_OK);
    assert_int_equal(rule_call(NULL), CFOIL_OK);
    assert_int_equal(save_call(NULL), CFOIL_OK);
    assert_int_equal(sign_call(NULL), CFOIL_OK);
    assert_int_equal(seal_call(NULL), CFOIL_OK);
}

static void named_check(void *user, int32_t result)
{
    if (result != CFOIL_OK && result != CFOIL_E_MEMORY)
        fail_msg("%s: result %#x %s", (const char *)user, (unsigned)result, world.error.text);
}

static void every_call(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int32_t (*call)(void *user);
    } calls[] = {
        {"reconcile", reconcile_call}, {"looking up", looks_call}, {"rebuild", rebuild_call}, {"sign", sign_call},
        {"seal", seal_call},           {"open", unseal_call},      {"verify", verify_call},   {"find", find_call},
        {"carry", carry_call},         {"rule", rule_call},        {"save", save_call},
    };
    history_make();
    for (list_kind = CFOIL_LIST_OPEN_CASES; list_kind <= CFOIL_LIST_KEYS; list_kind++) {
        char name[] = "list";
        assert_true(heap_fail_each(false, 1, list_call, named_check, name) > 5);
    }
    for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++) {
        char name[40];
        snprintf(name, sizeof name, "%s", calls[i].name);
        assert_true(heap_fail_each(false, 1, calls[i].call, named_check, name) > 3);
        assert_int_equal(calls[i].call(NULL), CFOIL_OK);
        assert_int_equal(world_verify(&world).intact, 1);
    }
    ledger_release(world.ledger);
    world.ledger = NULL;
    assert_int_equal(heap.blocks, 0);
    world_close(&world);
}

/* Each success makes the key file longer, and the next call asks for more memory: so many moments, not until the end. */
static void another_key(void **state)
{
    (void)state;
    char name[] = "another key";
    int refused = 0;
    history_make();
    for (long n = 1; n < 600; n += 9) {
        heap.refused = false;
        heap.for_ever = false;
        heap.left = n;
        int32_t result = key_call(NULL);
        heap.left = 0;
        refused += heap.refused;
        named_check(name, result);
    }
    assert_true(refused > 60);
    assert_int_equal(key_call(NULL), CFOIL_OK);
    assert_int_equal(unseal_call(NULL), CFOIL_OK);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* ---- An older file ---- */

static int32_t older_call(void *user)
{
    (void)user;
    return world_try(&world, &heap_memory, 0);
}

/* A new older file for each run: what could not be finished leaves it as it was. */
static void older_check(void *user, int32_t result)
{
    named_check(user, result);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), result == CFOIL_OK ? STORE_VERSION : 1);
    world_reopen(&world);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
    world_folder_make(&world);
    version_1_make(world.path);
}

static void an_older_file(void **state)
{
    (void)state;
    char name[] = "an older file";
    world_folder_make(&world);
    version_1_make(world.path);
    assert_true(heap_fail_each(false, 307, older_call, older_check, name) > 200);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_call), cmocka_unit_test(another_key),
                                       cmocka_unit_test(an_older_file)};
    if (!heap_hooks_set())
        return 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
