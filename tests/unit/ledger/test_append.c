/*
 * What is appended is there after closing, hashed as documented, once; rules about cases, serial numbers, devices.
 */
#include "world.h"

#include "ledger/chain.h"
#include "model/json.h"
#include "model/text.h"

#include <pthread.h>

static cJSON *entry_read(struct world *world, int64_t number)
{
    char *text = NULL;
    assert_int_equal(ledger_entry_text(world->ledger, number, &text, &world->error), CFOIL_OK);
    cJSON *entry = cJSON_Parse(text);
    assert_non_null(entry);
    cJSON_free(text);
    return entry;
}

static const char *text_in(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItem(object, key));
    return text != NULL ? text : "(not there)";
}

static void a_new_ledger_begins_with_one_entry(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    cJSON *entry = entry_read(&world, 0);
    assert_string_equal(text_in(entry, "schema"), "counterfoil.entry/1");
    assert_int_equal(cJSON_GetObjectItem(entry, "entry")->valueint, 1);
    assert_string_equal(text_in(entry, "kind"), "opened");
    assert_string_equal(text_in(entry, "previous"), "0000000000000000000000000000000000000000000000000000000000000000");
    assert_int_equal(strlen(text_in(entry, "hash")), 64);
    assert_int_equal(strlen(text_in(entry, "time")), 24);
    assert_null(cJSON_GetObjectItem(entry, "case_id"));
    const cJSON *body = cJSON_GetObjectItem(entry, "body");
    assert_string_equal(text_in(body, "store"), "Example store");
    assert_int_equal(cJSON_GetObjectItem(body, "format")->valueint, 3);
    cJSON_Delete(entry);
    struct stat file;
    assert_int_equal(stat(world.path, &file), 0);
    assert_int_equal(file.st_mode & 0777, 0600);
    char log[320];
    snprintf(log, sizeof log, "%s-wal", world.path);
    assert_int_equal(stat(log, &file), 0);
    assert_int_equal(file.st_mode & 0777, 0600);
    assert_int_equal(world_query(&world, "PRAGMA application_id"), 0x43464c47);
    assert_int_equal(world_query(&world, "PRAGMA user_version"), 3);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM pragma_journal_mode WHERE journal_mode = 'wal'"), 1);
    world_close(&world);
}

static void a_store_without_a_name_has_an_empty_one(void **state)
{
    (void)state;
    struct world world;
    world_folder_make(&world);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world.path;
    assert_int_equal(ledger_open(&memory_heap, &options, &world.ledger, NULL), CFOIL_OK);
    cJSON *entry = entry_read(&world, 1);
    assert_string_equal(text_in(cJSON_GetObjectItem(entry, "body"), "store"), "");
    cJSON_Delete(entry);
    world_close(&world);
}

static void entries_stay_with_their_receipts(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger_item items[3] = {
        item_make(LEDGER_KIND_PRESENTATION, "{\"value_minor\":9007199254740993}"),
        item_make(LEDGER_KIND_DEVICE, "{\"text\":\"caf\xc3\xa9\"}"),
        case_make("01900000-0000-7000-8000-000000000001", CFOIL_DISPOSITION_SET_ASIDE),
    };
    struct ledger_receipt receipts[3];
    assert_int_equal(ledger_append(world.ledger, items, 3, NULL, receipts, &world.error), CFOIL_OK);
    world_reopen(&world);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(receipts[i].number, i + 2);
        cJSON *entry = entry_read(&world, i + 2);
        assert_string_equal(text_in(entry, "hash"), receipts[i].hash);
        assert_string_equal(text_in(entry, "kind"), items[i].kind);
        assert_string_equal(text_in(entry, "time"), "2025-11-24T16:00:00.000Z");
        if (i > 0)
            assert_string_equal(text_in(entry, "previous"), receipts[i - 1].hash);
        assert_string_equal(text_in(entry, "case_id"), i == 2 ? items[2].case_id : "(not there)");
        assert_string_equal(text_in(entry, "disposition"), i == 2 ? "set_aside" : "(not there)");
        cJSON_Delete(entry);
    }
    /* Whole numbers above 2^53 come back digit by digit. */
    char *text;
    assert_int_equal(ledger_entry_text(world.ledger, 2, &text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "\"body\":{\"value_minor\":9007199254740993}"));
    cJSON_free(text);
    assert_int_equal(ledger_entry_text(world.ledger, 5, &text, &world.error), CFOIL_E_MISSING_ENTRY);
    assert_null(text);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

/* The bytes of docs/ledger.md, put together a second time by hand. */
static void the_hash_is_over_the_documented_bytes(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger_item item = case_make("abc", CFOIL_DISPOSITION_TAKEN);
    item.time_utc_ms = 0x0102030405060708;
    item.body = "{}";
    struct ledger_receipt receipt;
    assert_int_equal(world_append(&world, item, &receipt), CFOIL_OK);
    uint8_t bytes[200] = "counterfoil.chain/1";
    size_t length = 20;
    cJSON *first = entry_read(&world, 1);
    const char *previous = text_in(first, "hash");
    for (int i = 0; i < 32; i++) {
        char pair[3] = {previous[2 * i], previous[2 * i + 1], '\0'};
        bytes[length++] = (uint8_t)strtoul(pair, NULL, 16);
    }
    cJSON_Delete(first);
    static const uint8_t rest[] = {
        0, 0, 0, 0, 0, 0, 0, 2,                        /* number */
        1, 2, 3, 4, 5, 6, 7, 8,                        /* time */
        0, 0, 0, 0, 0, 0, 0, 1,                        /* disposition */
        1, 0, 0, 0, 0, 0, 0, 0, 4, 'c', 'a', 's', 'e', /* kind */
        1, 0, 0, 0, 0, 0, 0, 0, 3, 'a', 'b', 'c',      /* case */
        1, 0, 0, 0, 0, 0, 0, 0, 2, '{', '}',           /* body */
    };
    memcpy(bytes + length, rest, sizeof rest);
    length += sizeof rest;
    char file[320];
    char command[700];
    char hash[65] = "";
    snprintf(file, sizeof file, "%s/bytes", world.folder);
    FILE *out = fopen(file, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, length, out), length);
    fclose(out);
    /* sha256sum shares no code with the library. */
    snprintf(command, sizeof command, "sha256sum '%s'", file);
    FILE *sum = popen(command, "r");
    assert_non_null(sum);
    assert_int_equal(fread(hash, 1, 64, sum), 64);
    pclose(sum);
    assert_string_equal(receipt.hash, hash);
    world_close(&world);
}

static void no_two_entries_share_their_bytes(void **state)
{
    (void)state;
    static const uint8_t previous[CHAIN_HASH_SIZE] = {0};
    struct chain_entry entries[5] = {
        {.kind = {"ab", 2}, .case_id = {"c", 1}, .body = {"d", 1}},
        {.kind = {"a", 1}, .case_id = {"bc", 2}, .body = {"d", 1}},
        {.kind = {"a", 1}, .case_id = {"", 0}, .body = {"d", 1}},
        {.kind = {"a", 1}, .body = {"d", 1}},
        {.kind = {"a", 1}, .body = {"d", 1}, .disposition = -1},
    };
    uint8_t hashes[5][CHAIN_HASH_SIZE];
    for (int i = 0; i < 5; i++) {
        chain_hash(previous, &entries[i], hashes[i]);
        for (int j = 0; j < i; j++)
            assert_memory_not_equal(hashes[i], hashes[j], CHAIN_HASH_SIZE);
    }
}

static void all_items_or_none(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger_item items[3] = {
        item_make(LEDGER_KIND_PRESENTATION, "{}"),
        case_make("case", CFOIL_DISPOSITION_NOT_TAKEN),
        case_make("case", CFOIL_DISPOSITION_TAKEN),
    };
    uint8_t bytes[1] = {7};
    struct ledger_device_memory device = {"cctalk 1", bytes, 1};
    struct ledger_receipt receipts[3];
    memset(receipts, 1, sizeof receipts);
    assert_int_equal(ledger_append(world.ledger, items, 3, &device, receipts, &world.error), CFOIL_E_RULE_REFUSED);
    assert_int_equal(receipts[0].number, 0);
    assert_string_equal(receipts[0].hash, "");
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM device"), 0);
    assert_int_equal(world_query(&world, "SELECT number FROM head"), 1);
    assert_int_equal(ledger_append(world.ledger, items, 2, &device, receipts, &world.error), CFOIL_OK);
    assert_int_equal(receipts[1].number, 3);
    assert_int_equal(ledger_append(world.ledger, items, 3, NULL, NULL, NULL), CFOIL_E_STATE_CASE_ENDED);
    assert_int_equal(ledger_append(world.ledger, NULL, 0, NULL, NULL, NULL), CFOIL_OK);
    assert_int_equal(world_verify(&world).entries, 3);
    world_close(&world);
}

static void a_case_ends_once(void **state)
{
    (void)state;
    static const struct {
        int32_t first;
        int32_t second;
        int32_t result;
    } rows[] = {
        {CFOIL_DISPOSITION_NOT_TAKEN, CFOIL_DISPOSITION_TAKEN, CFOIL_E_RULE_REFUSED},
        {CFOIL_DISPOSITION_SET_ASIDE, CFOIL_DISPOSITION_TAKEN, CFOIL_E_RULE_REFUSED},
        {CFOIL_DISPOSITION_SET_ASIDE, CFOIL_DISPOSITION_NOT_TAKEN, CFOIL_E_STATE_CASE_ENDED},
        {CFOIL_DISPOSITION_TAKEN, CFOIL_DISPOSITION_TAKEN, CFOIL_E_STATE_CASE_ENDED},
        {CFOIL_DISPOSITION_TAKEN, CFOIL_DISPOSITION_SET_ASIDE, CFOIL_E_STATE_CASE_ENDED},
        {CFOIL_DISPOSITION_ABANDONED, CFOIL_DISPOSITION_TAKEN, CFOIL_E_STATE_CASE_ENDED},
    };
    struct world world;
    world_open(&world);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char case_id[16];
        snprintf(case_id, sizeof case_id, "case %d", (int)i);
        assert_int_equal(world_append(&world, case_make(case_id, rows[i].first), NULL), CFOIL_OK);
        world_reopen(&world); /* the rule holds across a restart */
        assert_int_equal(world_append(&world, case_make(case_id, rows[i].second), NULL), rows[i].result);
        assert_int_equal(world.error.result, rows[i].result);
    }
    assert_int_equal(world_verify(&world).entries, 7);
    world_close(&world);
}

static void refused_serial_numbers_are_remembered(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger_item item = case_make("a", CFOIL_DISPOSITION_NOT_TAKEN);
    item.currency = "EUR";
    item.serial = "VA0436214792";
    assert_int_equal(world_append(&world, item, NULL), CFOIL_OK);
    item.case_id = "b"; /* the same note a second time is no failure */
    assert_int_equal(world_append(&world, item, NULL), CFOIL_OK);
    item.case_id = "c";
    item.currency = NULL;
    item.serial = "nobody's";
    assert_int_equal(world_append(&world, item, NULL), CFOIL_OK);
    world_reopen(&world);
    bool refused = false;
    assert_int_equal(ledger_serial_refused(world.ledger, "EUR", "VA0436214792", &refused, NULL), CFOIL_OK);
    assert_true(refused);
    assert_int_equal(ledger_serial_refused(world.ledger, "GBP", "VA0436214792", &refused, NULL), CFOIL_OK);
    assert_false(refused);
    assert_int_equal(world_query(&world, "SELECT entry FROM refused_serial"), 2);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM refused_serial"), 1);
    world_close(&world);
}

static void a_device_is_remembered(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    uint8_t bytes[64];
    uint8_t loaded[64];
    uint32_t length = 9;
    assert_int_equal(ledger_device_load(world.ledger, "d", loaded, 64, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 0);
    for (uint32_t size = 0; size <= 64; size += 32) {
        memset(bytes, (int)size + 1, sizeof bytes);
        struct ledger_device_memory device = {"d", size > 0 ? bytes : NULL, size};
        assert_int_equal(ledger_append(world.ledger, NULL, 0, &device, NULL, NULL), CFOIL_OK);
        world_reopen(&world);
        assert_int_equal(ledger_device_load(world.ledger, "d", loaded, 64, &length, NULL), CFOIL_OK);
        assert_int_equal(length, size);
        assert_memory_equal(loaded, bytes, size);
    }
    assert_int_equal(ledger_device_load(world.ledger, "d", loaded, 63, &length, &world.error), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(length, 0);
    struct ledger_device_memory large = {"d", bytes, 65};
    assert_int_equal(ledger_append(world.ledger, NULL, 0, &large, NULL, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(world_verify(&world).entries, 1);
    world_close(&world);
}

/* ---- Walking ---- */

struct visits {
    struct ledger *ledger;
    int64_t numbers[16];
    int count;
    int enough;
};

static bool visit(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    struct visits *visits = user;
    assert_true(kind[0] != '\0' && body[0] == '{' && time_utc_ms != 0);
    char *text = NULL; /* a visitor may call the ledger */
    assert_int_equal(ledger_entry_text(visits->ledger, number, &text, NULL), CFOIL_OK);
    cJSON_free(text);
    visits->numbers[visits->count++] = number;
    return visits->count != visits->enough;
}

static struct visits walk(struct world *world, int64_t from, int64_t until, int enough)
{
    struct visits visits = {.ledger = world->ledger, .enough = enough};
    assert_int_equal(ledger_walk(world->ledger, from, until, visit, &visits, &world->error), CFOIL_OK);
    return visits;
}

static void a_walk_keeps_to_its_period(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 6);
    assert_int_equal(walk(&world, 0, 0, 0).count, 6);
    struct visits some = walk(&world, INT64_C(1764000000003), INT64_C(1764000000005), 0);
    assert_int_equal(some.count, 2);
    assert_int_equal(some.numbers[0], 3);
    assert_int_equal(some.numbers[1], 4);
    assert_int_equal(walk(&world, 0, 0, 2).count, 2);
    assert_int_equal(walk(&world, 0, 0, 6).count, 6);
    assert_int_equal(walk(&world, INT64_MAX, 0, 0).count, 0);
    world_close(&world);
}

/* ---- Together ---- */

enum { THREADS = 4, EACH = 40 };

static void *appender(void *user)
{
    struct ledger *ledger = user;
    for (int i = 0; i < EACH; i++) {
        struct ledger_item item = item_make(LEDGER_KIND_PRESENTATION, "{}");
        cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
        if (ledger_append(ledger, &item, 1, NULL, NULL, NULL) != CFOIL_OK)
            return NULL;
        if (i % 16 == 0 && (ledger_verify(ledger, &check, NULL) != CFOIL_OK || check.intact != 1))
            return NULL;
    }
    ledger_release(ledger);
    return user;
}

static void threads_and_connections_share_one_file(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct world other = world;
    other.ledger = NULL;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = world.path;
    assert_int_equal(ledger_open(&memory_heap, &options, &other.ledger, NULL), CFOIL_OK);
    pthread_t threads[THREADS];
    for (int i = 0; i < THREADS; i++) {
        struct ledger *ledger = ledger_retain(i % 2 == 0 ? world.ledger : other.ledger);
        assert_int_equal(pthread_create(&threads[i], NULL, appender, ledger), 0);
    }
    ledger_release(other.ledger); /* the threads keep it open */
    for (int i = 0; i < THREADS; i++) {
        void *done;
        pthread_join(threads[i], &done);
        assert_non_null(done);
    }
    cfoil_ledger_check check = world_verify(&world);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.entries, 1 + THREADS * EACH);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_ledger_begins_with_one_entry),
        cmocka_unit_test(a_store_without_a_name_has_an_empty_one),
        cmocka_unit_test(entries_stay_with_their_receipts),
        cmocka_unit_test(the_hash_is_over_the_documented_bytes),
        cmocka_unit_test(no_two_entries_share_their_bytes),
        cmocka_unit_test(all_items_or_none),
        cmocka_unit_test(a_case_ends_once),
        cmocka_unit_test(refused_serial_numbers_are_remembered),
        cmocka_unit_test(a_device_is_remembered),
        cmocka_unit_test(a_walk_keeps_to_its_period),
        cmocka_unit_test(threads_and_connections_share_one_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
