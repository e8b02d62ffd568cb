/*
 * With a real ledger: is each event recorded before the host has it, and does a device's memory survive the lane?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* mkdtemp */
#endif
#include "unit/lane/lane_test.h"

#include "ledger/ledger.h"

#include <cjson/cJSON.h>

struct store {
    char folder[32];
    char path[64];
    struct ledger *ledger;
};

static void store_open(struct store *store)
{
    strcpy(store->folder, "/tmp/cfoil-ledger-XXXXXX");
    assert_non_null(mkdtemp(store->folder));
    snprintf(store->path, sizeof store->path, "%s/till.ledger", store->folder);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = store->path;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(ledger_open(&memory_heap, &options, &store->ledger, &error), CFOIL_OK);
}

static void store_remove(struct store *store)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(ledger_verify(store->ledger, &check, NULL), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    ledger_release(store->ledger);
    char command[64];
    static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        snprintf(command, sizeof command, "%s/till.ledger%s", store->folder, ends[i]);
        unlink(command);
    }
    rmdir(store->folder);
}

/* The entry of an event holds its body, and nothing was told that is not in it. */
static void recorded_expect(struct store *store, const cfoil_event *event, const char *kind)
{
    assert_int_equal(event->flags & CFOIL_EVENT_RECORDED, CFOIL_EVENT_RECORDED);
    char *text = NULL;
    assert_int_equal(ledger_entry_text(store->ledger, event->entry, &text, NULL), CFOIL_OK);
    cJSON *entry = cJSON_Parse(text);
    cJSON_free(text);
    assert_non_null(entry);
    assert_string_equal(cJSON_GetObjectItem(entry, "kind")->valuestring, kind);
    const cJSON *body = cJSON_GetObjectItem(entry, "body");
    assert_non_null(body);
    assert_string_equal(cJSON_GetObjectItem(body, "lane")->valuestring, "till 1");
    assert_int_equal(cJSON_GetObjectItem(body, "seq")->valueint, event->sequence);
    assert_null(cJSON_GetObjectItem(body, "entry"));
    cJSON_Delete(entry);
}

static void bench_record(struct bench *bench, struct store *store)
{
    bench_prepare(bench);
    bench->setup.ledger = store->ledger;
    bench->options.name = "till 1";
}

static void test_events_are_recorded(void **state)
{
    (void)state;
    struct store store;
    struct bench bench;
    store_open(&store);
    bench_record(&bench, &store);
    bench_start(&bench);
    cfoil_event opening = state_expect(bench.lane, CFOIL_LANE_OPENING);
    assert_int_equal(opening.flags, 0);
    loopback_accept(&bench.device);
    device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
    cfoil_event starting = state_expect(bench.lane, CFOIL_LANE_STARTING);
    assert_int_equal(starting.flags, 0);
    device_tell(&bench, 'I', 0);
    cfoil_event ready = state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
    recorded_expect(&store, &ready, "device");
    device_hear(&bench, 'K', 0);
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    recorded_expect(&store, &held, "presentation");
    assert_int_equal(held.entry, ready.entry + 1);
    device_tell(&bench, 'T', 5);
    cfoil_event fault = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    recorded_expect(&store, &fault, "device");
    loopback_drop(&bench.device);
    cfoil_event lost = state_expect(bench.lane, CFOIL_LANE_LOST);
    recorded_expect(&store, &lost, "device");
    cfoil_event unknown = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    recorded_expect(&store, &unknown, "device");
    bench_end(&bench);
    store_remove(&store);
}

static void test_memory_survives_the_lane(void **state)
{
    (void)state;
    struct store store;
    struct bench bench;
    store_open(&store);
    bench_record(&bench, &store);
    bench_begin(&bench);
    device_tell(&bench, 'M', 7);
    cfoil_event stacked = event_expect(bench.lane, CFOIL_KIND_STACKED);
    recorded_expect(&store, &stacked, "presentation");
    bench_end(&bench);
    bench_record(&bench, &store);
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    device_connect(&bench, CFOIL_ACCEPT_HOLD, 7);
    device_tell(&bench, '2', 8); /* two devices in one call, without an event */
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    uint8_t bytes[64];
    uint32_t length;
    assert_int_equal(ledger_device_load(store.ledger, "toy/1", bytes, sizeof bytes, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 1);
    assert_int_equal(bytes[0], 8);
    assert_int_equal(ledger_device_load(store.ledger, "toy/2", bytes, sizeof bytes, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 1);
    bench_end(&bench);
    store_remove(&store);
}

/* Closed with a note in escrow: the host hears no more, the record does not end with a held note. */
static void test_close_while_a_note_is_held(void **state)
{
    (void)state;
    struct store store;
    struct bench bench;
    store_open(&store);
    bench_record(&bench, &store);
    bench_begin(&bench);
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    bench_end(&bench);
    char *text = NULL;
    assert_int_equal(ledger_entry_text(store.ledger, 0, &text, NULL), CFOIL_OK);
    cJSON *entry = cJSON_Parse(text);
    cJSON_free(text);
    const cJSON *body = cJSON_GetObjectItem(entry, "body");
    assert_string_equal(cJSON_GetObjectItem(body, "condition")->valuestring, "outcome_unknown");
    assert_int_equal(cJSON_GetObjectItem(body, "presentation")->valueint, held.presentation);
    cJSON_Delete(entry);
    store_remove(&store);
}

/* A replay may be recorded, but must not tell the ledger how far the real device has counted. */
static void test_replay_leaves_memory_alone(void **state)
{
    (void)state;
    struct store store;
    struct bench bench;
    char path[64];
    char port[80];
    store_open(&store);
    snprintf(path, sizeof path, "%s/a.trace", store.folder);
    snprintf(port, sizeof port, "trace:%s", path);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_true(fputs("counterfoil-trace 1\nadapter toy\naccept hold\norigin synthetic\n"
                      "0 to 55 48 01\n10 from aa 49 00\n10 memory toy/1 03\n10 to 55 4b 03\n20 from aa 4d 09\n",
                      file) >= 0);
    assert_int_equal(fclose(file), 0);
    bench_record(&bench, &store);
    bench.options.port = port;
    bench_start(&bench);
    cfoil_event event;
    do {
        event = event_next(bench.lane);
    } while (event.kind != CFOIL_KIND_STACKED);
    recorded_expect(&store, &event, "presentation");
    bench_end(&bench);
    uint8_t bytes[64];
    uint32_t length = 9;
    assert_int_equal(ledger_device_load(store.ledger, "toy/1", bytes, sizeof bytes, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 0);
    unlink(path);
    store_remove(&store);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_events_are_recorded),
        cmocka_unit_test(test_memory_survives_the_lane),
        cmocka_unit_test(test_close_while_a_note_is_held),
        cmocka_unit_test(test_replay_leaves_memory_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
