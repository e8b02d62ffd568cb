/*
 * With a ledger that fails on demand: is no event lost or doubled, and does the device stop taking notes?
 */
#include "unit/lane/lane_test.h"

#include "ledger/ledger.h"

#include <cjson/cJSON.h>
#include <stdatomic.h>
#include <stdio.h>

/* ---- A ledger in memory; it stands in for the module's own ---- */

#define ROWS_MAX 2048

struct ledger {
    struct os_mutex *mutex;
    int32_t answer;      /* of the appends from now on */
    int32_t load_answer; /* of the loads */
    uint32_t tries;
    uint32_t memories; /* stored so far */
    uint8_t memory;
    uint32_t rows;
    uint32_t sequences[ROWS_MAX];
};

static struct ledger fake;

struct ledger *ledger_retain(struct ledger *ledger)
{
    return ledger;
}

void ledger_release(struct ledger *ledger)
{
    (void)ledger;
}

static uint32_t sequence_of(const char *body)
{
    cJSON *json = cJSON_Parse(body);
    assert_non_null(json);
    uint32_t sequence = (uint32_t)cJSON_GetObjectItem(json, "seq")->valueint;
    cJSON_Delete(json);
    return sequence;
}

int32_t ledger_append(struct ledger *ledger, const struct ledger_item *items, uint32_t count,
                      const struct ledger_device_memory *device_memory, struct ledger_receipt *receipts,
                      cfoil_error_info *error)
{
    os_mutex_lock(ledger->mutex);
    int32_t result = ledger->answer;
    ledger->tries++;
    for (uint32_t i = 0; result == CFOIL_OK && i < count; i++) {
        receipts[i].number = ledger->rows + 1;
        ledger->sequences[ledger->rows++] = sequence_of(items[i].body);
    }
    if (result == CFOIL_OK && device_memory != NULL) {
        ledger->memories++;
        ledger->memory = device_memory->bytes[0];
    }
    os_mutex_unlock(ledger->mutex);
    if (result != CFOIL_OK) {
        error->result = result;
        strcpy(error->area, "ledger");
        strcpy(error->text, "The ledger was told to fail.");
    }
    return result;
}

int32_t ledger_device_load(struct ledger *ledger, const char *device, uint8_t *bytes, uint32_t capacity,
                           uint32_t *length, cfoil_error_info *error)
{
    (void)device;
    (void)capacity;
    os_mutex_lock(ledger->mutex);
    int32_t result = ledger->load_answer;
    *length = result == CFOIL_OK && ledger->memories > 0 ? 1 : 0;
    bytes[0] = ledger->memory;
    os_mutex_unlock(ledger->mutex);
    error->result = result;
    return result;
}

static void fake_answer(int32_t answer)
{
    os_mutex_lock(fake.mutex);
    fake.answer = answer;
    fake.tries = 0;
    os_mutex_unlock(fake.mutex);
}

static uint32_t fake_read(const uint32_t *field)
{
    os_mutex_lock(fake.mutex);
    uint32_t value = *field;
    os_mutex_unlock(fake.mutex);
    return value;
}

/* How often a sequence number was recorded. */
static uint32_t recorded(uint64_t sequence)
{
    uint32_t count = 0;
    os_mutex_lock(fake.mutex);
    for (uint32_t i = 0; i < fake.rows; i++)
        count += fake.sequences[i] == sequence;
    os_mutex_unlock(fake.mutex);
    return count;
}

static void bench_record(struct bench *bench)
{
    struct os_mutex *mutex = fake.mutex != NULL ? fake.mutex : os_mutex_create(&memory_heap);
    fake = (struct ledger){.mutex = mutex};
    bench_prepare(bench);
    bench->setup.ledger = &fake;
}

/* ---- The tests ---- */

static void test_busy_for_a_moment(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_BUSY);
    device_tell(&bench, 'N', 5);
    EVENTUALLY(fake_read(&fake.tries) >= 2);
    nothing_expect(bench.lane); /* not before it is on record */
    /* The device is served meanwhile. */
    device_tell(&bench, 'I', 0);
    device_hear(&bench, 'K', 0);
    device_tell(&bench, 'X', 0);
    EVENTUALLY(fake_read(&fake.tries) >= 3);
    nothing_expect(bench.lane);
    fake_answer(CFOIL_OK);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    cfoil_event rejected = event_expect(bench.lane, CFOIL_KIND_REJECTED);
    assert_int_equal(held.flags, CFOIL_EVENT_RECORDED);
    assert_int_equal(rejected.sequence, held.sequence + 1);
    assert_int_equal(rejected.entry, held.entry + 1);
    assert_int_equal(recorded(held.sequence), 1);
    assert_int_equal(recorded(rejected.sequence), 1);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

/* Nothing to wait for: the host is told at once, the device stops, and when the ledger is back it gets everything. */
static void test_read_only_and_back(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_READ_ONLY);
    device_tell(&bench, 'M', 9);
    cfoil_event stacked = event_expect(bench.lane, CFOIL_KIND_STACKED);
    assert_int_equal(stacked.flags, 0);
    assert_int_equal(stacked.entry, 0);
    cfoil_event failing = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(failing.condition, CFOIL_CONDITION_LEDGER_FAILING);
    assert_int_equal(failing.flags, 0);
    device_hear(&bench, 'A', CFOIL_ACCEPT_NONE);
    cfoil_event idle = state_expect(bench.lane, CFOIL_LANE_IDLE);
    device_tell(&bench, 'X', 0);
    cfoil_event rejected = event_expect(bench.lane, CFOIL_KIND_REJECTED);
    assert_int_equal(rejected.flags, 0);
    /* What the host wants now is remembered, and not done. */
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_ALL), CFOIL_OK);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    lane_error_read(bench.lane, &error);
    assert_int_equal(error.result, CFOIL_E_LEDGER_READ_ONLY);
    assert_int_equal(fake_read(&fake.memories), 0);
    fake_answer(CFOIL_OK);
    device_hear(&bench, 'A', CFOIL_ACCEPT_ALL);
    cfoil_event ready = state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
    assert_int_equal(ready.flags, CFOIL_EVENT_RECORDED);
    assert_int_equal(recorded(stacked.sequence), 1);
    assert_int_equal(recorded(failing.sequence), 1);
    assert_int_equal(recorded(idle.sequence), 1);
    assert_int_equal(recorded(rejected.sequence), 1);
    assert_int_equal(fake_read(&fake.memories), 1);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

/* A ledger that is busy for ten seconds, here 300 ms, counts as failing. */
static void test_busy_for_too_long(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench.setup.failing_after_ms = 300;
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_BUSY);
    uint64_t begin = os_monotonic_us();
    device_tell(&bench, 'S', 5);
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(lane_wait(bench.lane, 30000, &event), CFOIL_OK);
    assert_true(os_monotonic_us() - begin >= 290000);
    assert_int_equal(event.kind, CFOIL_KIND_STACKED);
    assert_int_equal(event.flags, 0);
    cfoil_event failing = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(failing.condition, CFOIL_CONDITION_LEDGER_FAILING);
    device_hear(&bench, 'A', CFOIL_ACCEPT_NONE);
    bench_end(&bench);
}

/* More events than the lane can keep for the ledger: the host gets all, the ledger gets the rest and their number. */
static void test_more_than_can_be_kept(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench.options.queue_length = 4096;
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_FULL);
    for (int i = 0; i < 3; i++)
        device_tell(&bench, 'B', 200);
    uint64_t first = 4;
    uint64_t sequence = first - 1;
    uint32_t rejected = 0;
    while (rejected < 600) {
        cfoil_event event = event_next(bench.lane);
        assert_int_equal(event.sequence, ++sequence);
        rejected += event.kind == CFOIL_KIND_REJECTED;
    }
    device_tell(&bench, 'm', 5);
    device_hear(&bench, 'A', CFOIL_ACCEPT_NONE);
    fake_answer(CFOIL_OK);
    cfoil_event lost = event_next(bench.lane);
    while (lost.kind != CFOIL_KIND_LOST_EVENTS) {
        assert_int_equal(lost.sequence, ++sequence);
        lost = event_next(bench.lane);
    }
    assert_int_equal(lost.condition, CFOIL_CONDITION_LEDGER_FAILING);
    assert_int_equal(lost.flags, CFOIL_EVENT_RECORDED);
    assert_int_equal(lost.sequence, sequence + 1);
    uint32_t missing = 0;
    for (uint64_t number = first; number <= sequence; number++) {
        assert_true(recorded(number) <= 1);
        missing += recorded(number) == 0;
    }
    assert_int_equal(lost.lost_count, missing);
    EVENTUALLY(fake_read(&fake.memories) == 1);
    bench_end(&bench);
}

static void test_memory_alone(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'm', 5);
    EVENTUALLY(fake_read(&fake.memories) == 1);
    device_tell(&bench, 'm', 5); /* the same: nothing to write */
    device_tell(&bench, 'm', 6);
    EVENTUALLY(fake_read(&fake.memories) == 2);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(fake_read(&fake.memories), 2);
    bench_end(&bench);
}

/* Counters that come in while the ledger is busy are no reason to stop the device: the latest is stored in the end. */
static void test_many_memories(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_BUSY);
    for (int i = 0; i < 100; i++) {
        device_tell(&bench, i % 10 == 9 ? '2' : 'm', i);
        device_tell(&bench, 'I', 0);
        device_hear(&bench, 'K', i);
    }
    fake_answer(CFOIL_OK);
    EVENTUALLY(fake_read(&fake.memories) > 0);
    bench_end(&bench);
    assert_int_equal(fake.memory, 99);
}

static void frame_await(struct bench *bench)
{
    uint8_t frame[3];
    for (size_t filled = 0; filled < sizeof frame;) {
        assert_true(loopback_readable(bench->device.peer, LOOPBACK_WAIT_MS));
        ssize_t count = recv(bench->device.peer, frame + filled, sizeof frame - filled, 0);
        assert_true(count > 0);
        filled += (size_t)count;
    }
}

/* Many small calls fill the places for groups before those for events. */
static void test_many_calls(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_BUSY);
    for (int i = 0; i < 100; i++) {
        device_tell(&bench, 'X', 0);
        device_tell(&bench, 'I', 0);
        frame_await(&bench); /* each in a call of its own */
    }
    uint64_t sequence = 3;
    for (int rejected = 0; rejected < 100;) {
        cfoil_event event = event_next(bench.lane);
        assert_int_equal(event.sequence, ++sequence);
        rejected += event.kind == CFOIL_KIND_REJECTED;
    }
    fake_answer(CFOIL_OK);
    bench_end(&bench);
}

static void test_memory_that_cannot_be_read(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    fake.load_answer = CFOIL_E_LEDGER_DAMAGED;
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    loopback_accept(&bench.device);
    device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
    state_expect(bench.lane, CFOIL_LANE_STARTING);
    device_tell(&bench, 'I', 0);
    device_hear(&bench, 'K', 0);
    cfoil_event lost = event_expect(bench.lane, CFOIL_KIND_LOST_EVENTS);
    assert_int_equal(lost.condition, CFOIL_CONDITION_LEDGER_FAILING);
    assert_int_equal(lost.lost_count, 0);
    bench_end(&bench);
}

static void test_last_try_at_the_end(void **state)
{
    (void)state;
    struct bench bench;
    bench_record(&bench);
    bench_begin(&bench);
    fake_answer(CFOIL_E_LEDGER_BUSY);
    device_tell(&bench, 'S', 5);
    EVENTUALLY(fake_read(&fake.tries) >= 4); /* the next try is far away */
    fake_answer(CFOIL_OK);
    lane_stop(bench.lane);
    assert_int_equal(recorded(4), 1);
    bench_end(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_busy_for_a_moment),   cmocka_unit_test(test_read_only_and_back),
        cmocka_unit_test(test_busy_for_too_long),   cmocka_unit_test(test_more_than_can_be_kept),
        cmocka_unit_test(test_memory_alone),        cmocka_unit_test(test_many_memories),
        cmocka_unit_test(test_many_calls),          cmocka_unit_test(test_memory_that_cannot_be_read),
        cmocka_unit_test(test_last_try_at_the_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
