/*
 * Built-in packs are read when somebody wants them: no more than wanted, in a lasting order, whole or not at all.
 */
#include "model/memory.h"
#include "pack_texts.h"
#include "packs/builtin.h"
#include "packs/pack_data.h"
#include "packs/pack_evidence.h"
#include "test.h"
#include "unit/model/failing.h"

#include <unistd.h>

static struct pack_set *set_empty(const struct memory *memory)
{
    struct pack_set *set;
    assert_int_equal(pack_set_create_empty(memory, &set, NULL), CFOIL_OK);
    assert_int_equal(pack_set_count(set), 0);
    return set;
}

/* Takes the set over. */
static struct pack_set *set_with(struct pack_set *from, struct pack_wanted wanted)
{
    struct pack_set *set;
    assert_int_equal(pack_set_provide(from, &wanted, &set, NULL), CFOIL_OK);
    pack_set_release(from);
    return set;
}

static bool holds(const struct pack_set *set, const char *id)
{
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        if (strcmp(pack_set_at(set, i)->id, id) == 0)
            return true;
    }
    return false;
}

static void no_more_is_read_than_was_wanted(void **state)
{
    (void)state;
    struct pack_set *set = set_with(set_empty(&memory_heap), (struct pack_wanted){0});
    assert_int_equal(pack_set_count(set), 0);
    set = set_with(set, (struct pack_wanted){.currency = "GBP"});
    assert_int_equal(pack_set_count(set), 2);
    assert_non_null(pack_currency_find(set, "GBP"));
    assert_non_null(pack_evidence_find(set));
    assert_null(pack_currency_find(set, "EUR"));
    set = set_with(set, (struct pack_wanted){.jurisdiction = ""});
    assert_int_equal(pack_set_count(set), 3);
    assert_string_equal(pack_jurisdiction_find(set, NULL)->id, "common");
    set = set_with(set, (struct pack_wanted){.jurisdiction = "IN"});
    assert_int_equal(pack_set_count(set), 4);
    assert_string_equal(pack_jurisdiction_find(set, "IN")->id, "IN");
    set = set_with(set, (struct pack_wanted){.language = ""});
    assert_int_equal(pack_set_count(set), 5);
    assert_false(pack_language_known(set, "hi"));
    set = set_with(set, (struct pack_wanted){.language = "HI-in"});
    assert_int_equal(pack_set_count(set), 6);
    assert_true(pack_language_known(set, "hi"));
    set = set_with(set,
                   (struct pack_wanted){"ZZZ", "nowhere", "xx-YY", "ZZZ"}); /* nobody has these: the look-up says so */
    assert_int_equal(pack_set_count(set), 6);
    set = set_with(set, (struct pack_wanted){.exchange = "INR"});
    assert_int_equal(pack_set_count(set), 7);
    assert_non_null(pack_exchange_find(set, "INR"));
    assert_null(pack_exchange_find(set, "EUR"));
    pack_set_release(set);
}

static void what_is_there_is_not_read_again(void **state)
{
    (void)state;
    struct pack_wanted wanted = {"EUR", "DE", "de", NULL};
    struct pack_set *set = set_with(set_empty(&memory_heap), wanted);
    struct pack_set *same;
    assert_int_equal(pack_set_provide(set, &wanted, &same, NULL), CFOIL_OK);
    assert_ptr_equal(same, set);
    const struct pack_currency *euro = pack_currency_find(set, "EUR");
    set = set_with(set, (struct pack_wanted){.currency = "USD"});
    assert_ptr_equal(pack_currency_find(same, "EUR"), euro);
    assert_ptr_equal(pack_currency_find(set, "EUR"), euro);
    pack_set_release(same);
    pack_set_release(set);
}

/* The list of all packs is the same whatever was wanted first. */
static void the_order_does_not_depend_on_what_came_first(void **state)
{
    (void)state;
    struct pack_set *set = set_with(set_empty(&memory_heap), (struct pack_wanted){"USD", "US", "it", NULL});
    set = set_with(set, (struct pack_wanted){.currency = "EUR"});
    struct pack_set *all;
    struct pack_set *at_once;
    assert_int_equal(pack_set_provide(set, NULL, &all, NULL), CFOIL_OK);
    assert_int_equal(pack_set_create(&memory_heap, &at_once, NULL), CFOIL_OK);
    assert_int_equal(pack_set_count(all), builtin_pack_count);
    assert_int_equal(pack_set_count(at_once), builtin_pack_count);
    for (uint32_t i = 0; i < builtin_pack_count; i++) {
        assert_string_equal(pack_set_at(all, i)->id, pack_set_at(at_once, i)->id);
        assert_string_equal(pack_set_at(all, i)->id, builtin_packs[i].id);
        assert_int_equal(pack_set_at(all, i)->kind, pack_kind_of(builtin_packs[i].schema));
        if (pack_set_at(all, i)->kind == PACK_MESSAGES)
            assert_string_equal(pack_set_at(all, i)->as.messages.language, builtin_packs[i].language);
    }
    pack_set_release(at_once);
    pack_set_release(all);
    pack_set_release(set);
}

/* A shop's own pack keeps its place when the built-in ones beside it are read later. */
static void a_shops_own_pack_stays(void **state)
{
    (void)state;
    char folder[] = "/tmp/counterfoil-wanted-XXXXXX";
    assert_non_null(mkdtemp(folder));
    char path[64];
    snprintf(path, sizeof path, "%s/own.json", folder);
    char *own = text_spoil(good_jurisdiction, "\"XX\"", "\"DE\"");
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(own, 1, strlen(own), file), strlen(own));
    assert_int_equal(fclose(file), 0);
    free(own);
    struct pack_set *empty = set_empty(&memory_heap);
    struct pack_set *set;
    assert_int_equal(pack_set_extend(empty, folder, &set, NULL), CFOIL_OK);
    pack_set_release(empty);
    set = set_with(set, (struct pack_wanted){"EUR", "DE", "de-AT", NULL});
    assert_string_equal(pack_jurisdiction_find(set, "DE")->title, "Test");
    assert_true(holds(set, "EUR"));
    assert_int_equal(pack_set_count(set), 5); /* own, euro, evidence, English, German */
    pack_set_release(set);
    assert_int_equal(remove(path), 0);
    assert_int_equal(rmdir(folder), 0);
}

static void packs_are_provided_whole_or_not_at_all(void **state)
{
    (void)state;
    struct pack_wanted wanted = {.currency = "USD", .jurisdiction = "", .language = ""};
    failing_begin(-1);
    struct pack_set *empty = set_empty(&failing_memory);
    failing_end();
    long before = failing_blocks;
    int32_t result = CFOIL_E_MEMORY;
    for (long count = 0; result != CFOIL_OK; count += count < 300 ? 1 : 37) {
        struct pack_set *set;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        failing_begin(count);
        result = pack_set_provide(empty, &wanted, &set, &error);
        assert_true(result == CFOIL_OK || (result == CFOIL_E_MEMORY && set == NULL && error.result == result));
        pack_set_release(set);
        failing_end();
        assert_int_equal(failing_blocks, before);
    }
    failing_begin(0);
    struct pack_set *none;
    assert_int_equal(pack_set_create_empty(&failing_memory, &none, NULL), CFOIL_E_MEMORY);
    assert_null(none);
    failing_end();
    failing_begin(-1);
    pack_set_release(empty);
    failing_end();
    assert_int_equal(failing_blocks, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_more_is_read_than_was_wanted),
        cmocka_unit_test(what_is_there_is_not_read_again),
        cmocka_unit_test(the_order_does_not_depend_on_what_came_first),
        cmocka_unit_test(a_shops_own_pack_stays),
        cmocka_unit_test(packs_are_provided_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
