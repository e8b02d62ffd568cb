/*
 * Signed checkpoints: when they are written, what they prove, and where their limit is.
 */
#include "rehash.h"

#include "ledger/body.h"
#include "ledger/checkpoint.h"
#include "ledger/key.h"
#include "model/json.h"
#include "model/text.h"

static const char *key_path(const struct world *world)
{
    static char path[320];
    snprintf(path, sizeof path, "%s.key", world->path);
    return path;
}

static void entries_add(struct world *world, int count)
{
    for (int i = 0; i < count; i++)
        assert_int_equal(world_append(world, item_make(LEDGER_KIND_DEVICE, "{\"kind\":\"device\"}"), NULL), CFOIL_OK);
}

static void checkpoint_add(struct world *world)
{
    assert_int_equal(checkpoint_write(world->ledger, NULL, &world->error), CFOIL_OK);
}

static int64_t count_of(struct world *world, const char *kind)
{
    char sql[100];
    snprintf(sql, sizeof sql, "SELECT count(*) FROM entry WHERE kind = '%s'", kind);
    return world_query(world, sql);
}

/* ---- When ---- */

static void one_on_demand_makes_the_key_first(void **state)
{
    (void)state;
    struct world world;
    struct signed_receipt receipt;
    world_open(&world);
    world_fill(&world, 3);
    assert_int_equal(checkpoint_write(world.ledger, &receipt, &world.error), CFOIL_OK);
    assert_int_equal(receipt.entry.number, 5);
    assert_int_equal(strlen(receipt.entry.hash), 64);
    assert_true(receipt.time_utc_ms > 0);
    assert_int_equal(world_query(&world, "SELECT number FROM entry WHERE kind = 'key'"), 4);
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.checkpoints, 1);
    assert_int_equal(check.signed_until, 4);
    assert_int_equal(strlen(check.key), 64);
    assert_string_equal(check.text, "All 5 entries are in their places and unaltered. Signed up to entry 4.");
    assert_string_equal(check.head, receipt.entry.hash);
    world_close(&world);
}

static void they_come_after_so_many_entries_of_any_process(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    assert_int_equal(world.ledger->checkpoint_every, 500); /* our own default, no source */
    world.ledger->checkpoint_every = 10;
    entries_add(&world, 8); /* 2..9 */
    assert_int_equal(count_of(&world, "checkpoint"), 0);
    assert_int_not_equal(access(key_path(&world), F_OK), 0);
    entries_add(&world, 1); /* 10, then key 11, checkpoint 12 */
    assert_int_equal(world_query(&world, "SELECT number FROM entry WHERE kind = 'checkpoint'"), 12);
    struct world second = world;
    assert_int_equal(world_try(&second, &memory_heap, 0), CFOIL_OK);
    second.ledger->checkpoint_every = 10;
    entries_add(&second, 7); /* 13..19 */
    assert_int_equal(count_of(&world, "checkpoint"), 1);
    entries_add(&world, 1); /* 20, then 21 */
    assert_int_equal(world_query(&world, "SELECT max(number) FROM entry WHERE kind = 'checkpoint'"), 21);
    ledger_release(second.ledger); /* it has added some itself, and cannot know of the other's checkpoint */
    assert_int_equal(count_of(&world, "checkpoint"), 3);
    world.ledger->checkpoint_every = 0;
    entries_add(&world, 20);
    assert_int_equal(count_of(&world, "checkpoint"), 3);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

static void many_entries_in_one_call_get_one(void **state)
{
    (void)state;
    struct world world;
    struct ledger_item items[30];
    world_open(&world);
    world.ledger->checkpoint_every = 10;
    for (int i = 0; i < 30; i++)
        items[i] = item_make(LEDGER_KIND_DEVICE, "{}");
    struct ledger_receipt receipts[30];
    assert_int_equal(ledger_append(world.ledger, items, 30, NULL, receipts, &world.error), CFOIL_OK);
    assert_int_equal(receipts[29].number, 31);
    assert_int_equal(count_of(&world, "checkpoint"), 1);
    assert_int_equal(world_verify(&world).signed_until, 32);
    world_close(&world);
}

static void closing_signs_what_was_added(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 3);
    world_reopen(&world);
    assert_int_equal(count_of(&world, "checkpoint"), 0); /* no key yet: nothing is made by closing */
    checkpoint_add(&world);
    world_reopen(&world);
    world_reopen(&world);
    assert_int_equal(count_of(&world, "checkpoint"), 1); /* nothing was added since */
    entries_add(&world, 2);
    world_reopen(&world);
    assert_int_equal(count_of(&world, "checkpoint"), 2);
    assert_int_equal(world_verify(&world).signed_until, 7);
    entries_add(&world, 1);
    world.ledger->checkpoint_every = 0;
    world_reopen(&world);
    assert_int_equal(count_of(&world, "checkpoint"), 2);
    ledger_release(world.ledger);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    assert_int_equal(checkpoint_write(world.ledger, NULL, &world.error), CFOIL_E_LEDGER_READ_ONLY);
    world_close(&world);
}

/* Recording goes on whatever is wrong with the key, and the checkpoint comes when the key is back. */
static void without_the_key_entries_are_still_recorded(void **state)
{
    (void)state;
    struct world world;
    char away[340];
    world_open(&world);
    checkpoint_add(&world);
    snprintf(away, sizeof away, "%s.away", key_path(&world));
    assert_int_equal(rename(key_path(&world), away), 0);
    world.ledger->checkpoint_every = 5;
    entries_add(&world, 8); /* 4..11 */
    assert_int_equal(world.error.result, CFOIL_OK);
    assert_int_equal(world.error.text[0], '\0');
    assert_int_equal(count_of(&world, "checkpoint"), 1);
    assert_int_equal(checkpoint_write(world.ledger, NULL, &world.error), CFOIL_E_LEDGER_KEY_MISSING);
    world_reopen(&world);
    world.ledger->checkpoint_every = 5;
    entries_add(&world, 3); /* 12..14 */
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 14);
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.signed_until, 2);
    entries_add(&world, 1); /* 15: due, and not possible */
    assert_int_equal(rename(away, key_path(&world)), 0);
    entries_add(&world, 1); /* 16: still due */
    assert_int_equal(world_query(&world, "SELECT max(number) FROM entry WHERE kind = 'checkpoint'"), 17);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* ---- What they prove ---- */

/* Entry 1, 2..4 cases, key 5, checkpoint 6, 7..9, checkpoint 10, 11, 12. */
static void signed_make(struct world *world)
{
    world_open(world);
    world_fill(world, 4);
    checkpoint_add(world);
    entries_add(world, 3);
    checkpoint_add(world);
    entries_add(world, 2);
    world->ledger->checkpoint_every = 0;
    world_unlock_entries(world);
}

static void expect_bad(struct world *world, int64_t number, const char *what)
{
    cfoil_ledger_check check = world_verify(world);
    if (check.intact != 0 || check.first_bad != number || strstr(check.text, what) == NULL)
        fail_msg("first bad %lld instead of %lld: %s", (long long)check.first_bad, (long long)number, check.text);
}

static void a_chain_made_again_without_the_key_is_found(void **state)
{
    (void)state;
    static const struct {
        const char *change;
        int64_t bad;
        const char *what;
    } changes[] = {
        {"UPDATE entry SET body = '{}' WHERE number = 3", 5, "names a key"},
        {"UPDATE entry SET time_utc_ms = time_utc_ms + 1 WHERE number = 8", 10, "checkpoint of another place"},
        {"DELETE FROM entry WHERE number = 7; UPDATE entry SET number = number - 1 WHERE number > 7", 9,
         "checkpoint of another place"},
        {"UPDATE entry SET time_utc_ms = time_utc_ms + 1 WHERE number = 10", 10, "signature is not right"},
        {"UPDATE entry SET time_utc_ms = time_utc_ms + 1 WHERE number = 5", 5, "a signature of it is not right"},
        {"UPDATE entry SET body = replace(body, '\"signature\":\"', '\"signature\":\"0') WHERE number = 10", 10,
         "not as this library writes it"},
        {"UPDATE entry SET body = replace(body, '{', '{ ') WHERE number = 10", 10, "another place"},
        {"UPDATE entry SET disposition = 1 WHERE number = 10", 10, "says more"},
        {"UPDATE entry SET case_id = 'x' WHERE number = 5", 5, "says more"},
        {"UPDATE entry SET body = body || char(0) WHERE number = 10", 10, "says more"},
        {"UPDATE entry SET body = (SELECT body FROM entry WHERE number = 6) WHERE number = 10", 10, "another place"},
        {"UPDATE entry SET body = 'not JSON' WHERE number = 6", 6, "not as this library writes it"},
        {"UPDATE entry SET body = '[]' WHERE number = 5", 5, "not as this library writes it"},
        {"UPDATE entry SET kind = 'device' WHERE number = 5", 6, "another place"},
        {"UPDATE entry SET kind = 'key' WHERE number = 10", 10, "not as this library writes it"},
    };
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        struct world world;
        signed_make(&world);
        world_tamper(&world, changes[i].change);
        world_rehash(&world);
        expect_bad(&world, changes[i].bad, changes[i].what);
        world_close(&world);
    }
}

static void another_stores_key_cannot_go_on(void **state)
{
    (void)state;
    struct world world;
    struct world other;
    char sql[700];
    char *text;
    signed_make(&world);
    world_open(&other);
    checkpoint_add(&other);
    assert_int_equal(ledger_entry_text(other.ledger, 2, &text, NULL), CFOIL_OK);
    cJSON *entry = cJSON_Parse(text);
    char *body = json_canonical(cJSON_GetObjectItem(entry, "body"));
    snprintf(sql, sizeof sql, "UPDATE entry SET kind = 'key', body = '%.600s' WHERE number = 12", body);
    assert_true(strlen(body) < 600);
    world_tamper(&world, sql);
    world_rehash(&world);
    expect_bad(&world, 12, "names a key");
    cJSON_free(body);
    cJSON_Delete(entry);
    cJSON_free(text);
    world_close(&other);
    world_close(&world);
}

static void an_added_key_entry_must_be_signed_by_the_one_before(void **state)
{
    (void)state;
    struct world world;
    struct actor actor = {"01", false};
    signed_make(&world);
    assert_int_equal(key_change(world.ledger, &actor, NULL, &world.error), CFOIL_OK);
    assert_int_equal(world_verify(&world).signed_until, 12);
    world_tamper(&world, "UPDATE entry SET body = replace(body, '\"signature_before\":\"', '\"signature_before\":\"0')"
                         " WHERE number = 13");
    world_rehash(&world);
    expect_bad(&world, 13, "not as this library writes it");
    world_tamper(&world, "UPDATE entry SET body = replace(body, '\"01\"', '\"02\"') WHERE number = 13");
    world_rehash(&world);
    expect_bad(&world, 13, "not as this library writes it");
    world_close(&world);
}

/* ---- What only the caller can know ---- */

static int32_t verify_with(struct world *world, const char *key, const char *hash, int64_t number,
                           cfoil_ledger_check *check)
{
    *check = (cfoil_ledger_check)CFOIL_LEDGER_CHECK_INIT;
    check->trusted_key = key;
    check->noted_hash = hash;
    check->noted_entry = number;
    memset(&world->error, 0, sizeof world->error);
    return ledger_verify(world->ledger, check, &world->error);
}

static void a_ledger_made_anew_lacks_the_trusted_key(void **state)
{
    (void)state;
    struct world world;
    struct world other;
    cfoil_ledger_check check;
    struct actor actor = {"01", false};
    signed_make(&world);
    signed_make(&other);
    char key[68];
    text_copy(key, sizeof key, world_verify(&world).key);
    assert_int_equal(verify_with(&world, key, NULL, 0, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    assert_int_equal(verify_with(&other, key, NULL, 0, &check), CFOIL_OK);
    assert_int_equal(check.intact, 0);
    assert_int_equal(check.first_bad, 1);
    assert_non_null(strstr(check.text, "trusted key"));
    /* The first key that was noted vouches for those that followed it. */
    assert_int_equal(key_change(world.ledger, &actor, NULL, NULL), CFOIL_OK);
    assert_int_equal(verify_with(&world, key, NULL, 0, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    assert_string_not_equal(check.key, key);
    text_copy(key, sizeof key, check.key);
    assert_int_equal(verify_with(&world, key, NULL, 0, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    world_close(&other);
    world_close(&world);
}

/* The limit that docs/ledger.md names, and what helps: an entry noted elsewhere. */
static void an_end_that_was_cut_off_shows_by_a_noted_entry_only(void **state)
{
    (void)state;
    struct world world;
    cfoil_ledger_check check;
    signed_make(&world);
    char noted[68];
    text_copy(noted, sizeof noted, world_verify(&world).head);
    assert_int_equal(verify_with(&world, NULL, noted, 12, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    world_tamper(&world, "DELETE FROM entry WHERE number > 10");
    world_rehash(&world);
    assert_int_equal(world_verify(&world).intact, 1);
    assert_int_equal(verify_with(&world, NULL, noted, 12, &check), CFOIL_OK);
    assert_int_equal(check.intact, 0);
    assert_int_equal(check.first_bad, 11);
    assert_int_equal(verify_with(&world, NULL, noted, 9, &check), CFOIL_OK);
    assert_int_equal(check.first_bad, 9);
    assert_non_null(strstr(check.text, "noted"));
    world_close(&world);
}

static void what_the_caller_gives_is_checked(void **state)
{
    (void)state;
    struct world world;
    cfoil_ledger_check check;
    signed_make(&world);
    char capitals[68];
    text_copy(capitals, sizeof capitals, world_verify(&world).key);
    capitals[0] = 'A';
    assert_int_equal(verify_with(&world, capitals, NULL, 0, &check), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(verify_with(&world, "", NULL, 0, &check), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(verify_with(&world, NULL, "12", 1, &check), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(verify_with(&world, NULL, world_verify(&world).head, 0, &check), CFOIL_E_ARGUMENT_RANGE);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_on_demand_makes_the_key_first),
        cmocka_unit_test(they_come_after_so_many_entries_of_any_process),
        cmocka_unit_test(many_entries_in_one_call_get_one),
        cmocka_unit_test(closing_signs_what_was_added),
        cmocka_unit_test(without_the_key_entries_are_still_recorded),
        cmocka_unit_test(a_chain_made_again_without_the_key_is_found),
        cmocka_unit_test(another_stores_key_cannot_go_on),
        cmocka_unit_test(an_added_key_entry_must_be_signed_by_the_one_before),
        cmocka_unit_test(a_ledger_made_anew_lacks_the_trusted_key),
        cmocka_unit_test(an_end_that_was_cut_off_shows_by_a_noted_entry_only),
        cmocka_unit_test(what_the_caller_gives_is_checked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
