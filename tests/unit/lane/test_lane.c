/*
 * Does a lane tell what its device does, in order, without blocking anybody, and come back when the port has gone?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* mkdtemp */
#endif
#include "unit/lane/lane_test.h"

#include <poll.h>
#include <stdatomic.h>

static void test_life(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_start(&bench);
    cfoil_event opening = state_expect(bench.lane, CFOIL_LANE_OPENING);
    assert_int_equal(opening.sequence, 1);
    assert_int_equal(opening.result, CFOIL_OK);
    device_connect(&bench, CFOIL_ACCEPT_HOLD, 0);
    device_tell(&bench, 'X', 0);
    cfoil_event event = event_expect(bench.lane, CFOIL_KIND_REJECTED);
    assert_int_equal(event.sequence, 4);
    assert_int_equal(event.presentation, 1);
    assert_int_equal(event.reason, CFOIL_REASON_NOT_RECOGNISED);
    assert_int_equal(event.lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(event.entry, 0);
    assert_int_equal(event.flags, 0);
    assert_int_equal(event.raw_length, 3);
    assert_string_equal(event.raw_text, "frame X");
    assert_true(event.monotonic_us >= opening.monotonic_us);
    assert_true(event.time_utc_ms > INT64_C(1600000000000));
    assert_string_equal(lane_name(bench.lane), "lane");
    nothing_expect(bench.lane);
    lane_stop(bench.lane);
    device_hear(&bench, 'Q', 0); /* the last word inhibits the device */
    loopback_expect_end(&bench.device);
    lane_stop(bench.lane);
    bench_end(&bench);
    lane_destroy(NULL);
}

static void test_commands(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    struct lane *lane = bench.lane;
    assert_int_equal(lane_note_stack(lane, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(lane_note_stack(lane, 1), CFOIL_E_STATE_NO_NOTE);
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(lane, CFOIL_KIND_HELD);
    assert_int_equal(held.value_minor, 500);
    assert_int_equal(lane_note_stack(lane, held.presentation + 1), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(lane_note_hold(lane, held.presentation, 600001), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(lane_note_hold(lane, held.presentation, 77), CFOIL_OK);
    device_hear(&bench, 'H', 77);
    assert_int_equal(lane_note_stack(lane, held.presentation), CFOIL_OK);
    device_hear(&bench, 'S', 0);
    assert_int_equal(lane_note_stack(lane, held.presentation), CFOIL_OK); /* asked for already: sent once */
    assert_int_equal(lane_note_return(lane, held.presentation), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(lane_note_hold(lane, held.presentation, 1), CFOIL_E_STATE_NOT_READY);
    device_tell(&bench, 'S', 5);
    cfoil_event stacked = event_expect(lane, CFOIL_KIND_STACKED);
    assert_int_equal(stacked.presentation, held.presentation);
    assert_int_equal(lane_note_return(lane, held.presentation), CFOIL_E_STATE_NO_NOTE);
    device_tell(&bench, 'N', 10);
    held = event_expect(lane, CFOIL_KIND_HELD);
    assert_int_equal(held.presentation, stacked.presentation + 1);
    assert_int_equal(lane_note_return(lane, held.presentation), CFOIL_OK);
    device_hear(&bench, 'R', 0);
    assert_int_equal(lane_note_stack(lane, held.presentation), CFOIL_E_STATE_NOT_READY);
    device_tell(&bench, 'R', 10);
    event_expect(lane, CFOIL_KIND_RETURNED);
    bench_end(&bench);
}

static void test_command_refused_by_the_device(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'J', 1);
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    assert_int_equal(lane_note_stack(bench.lane, held.presentation), CFOIL_OK);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    EVENTUALLY((lane_error_read(bench.lane, &error), error.result == CFOIL_E_STATE_NOT_READY));
    assert_string_equal(error.area, "toy");
    /* The host may ask again, also for the other way. */
    device_tell(&bench, 'J', 0);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(lane_note_return(bench.lane, held.presentation), CFOIL_OK);
    device_hear(&bench, 'R', 0);
    bench_end(&bench);
}

static void test_accept(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.accept = CFOIL_ACCEPT_NONE;
    bench_begin(&bench);
    assert_int_equal(lane_accept(bench.lane, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(lane_accept(bench.lane, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_ALL), CFOIL_OK);
    device_hear(&bench, 'A', CFOIL_ACCEPT_ALL);
    state_expect(bench.lane, CFOIL_LANE_ACCEPTING);
    /* The same again: a device that has stopped since then begins again only when it is told. */
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_ALL), CFOIL_OK);
    device_hear(&bench, 'A', CFOIL_ACCEPT_ALL);
    /* Refused at first, then asked again without the host. */
    device_tell(&bench, 'J', 1);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_NONE), CFOIL_OK);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    EVENTUALLY((lane_error_read(bench.lane, &error), error.result == CFOIL_E_STATE_NOT_READY));
    device_tell(&bench, 'J', 0);
    device_hear(&bench, 'A', CFOIL_ACCEPT_NONE);
    state_expect(bench.lane, CFOIL_LANE_IDLE);
    /* It is remembered over a lost port. */
    loopback_drop(&bench.device);
    cfoil_event lost = state_expect(bench.lane, CFOIL_LANE_LOST);
    assert_int_equal(lost.result, CFOIL_E_PORT_GONE);
    device_connect(&bench, CFOIL_ACCEPT_NONE, 0);
    bench_end(&bench);
}

static void test_port_lost_while_a_note_is_held(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'm', 42); /* remembered without a ledger, within the lane */
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    loopback_drop(&bench.device);
    state_expect(bench.lane, CFOIL_LANE_LOST);
    cfoil_event unknown = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(unknown.condition, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    assert_int_equal(unknown.presentation, held.presentation);
    assert_int_equal(unknown.lane_state, CFOIL_LANE_LOST);
    assert_int_equal(unknown.value_minor, 500);
    assert_int_equal(lane_note_stack(bench.lane, held.presentation), CFOIL_E_STATE_NO_NOTE);
    device_connect(&bench, CFOIL_ACCEPT_HOLD, 42);
    device_tell(&bench, 'W', 5);
    cfoil_event stacked = event_expect(bench.lane, CFOIL_KIND_STACKED);
    assert_int_equal(stacked.presentation, held.presentation);
    assert_int_equal(stacked.flags, CFOIL_EVENT_WHILE_AWAY);
    /* Once only: another loss without a note tells nothing of one. */
    loopback_drop(&bench.device);
    state_expect(bench.lane, CFOIL_LANE_LOST);
    device_connect(&bench, CFOIL_ACCEPT_HOLD, 42);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

static void test_silence_and_end(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'L', 0);
    cfoil_event lost = state_expect(bench.lane, CFOIL_LANE_LOST);
    assert_int_equal(lost.result, CFOIL_E_DEVICE_SILENT);
    device_tell(&bench, 'L', 0); /* said again: told once */
    device_tell(&bench, 'E', 0);
    cfoil_event ended = state_expect(bench.lane, CFOIL_LANE_ENDED);
    assert_int_equal(ended.result, CFOIL_E_DEVICE_WRONG);
    assert_string_equal(ended.text, "Another kind of device.");
    loopback_expect_end(&bench.device);
    nothing_expect(bench.lane);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    lane_error_read(bench.lane, &error);
    assert_int_equal(error.result, CFOIL_E_DEVICE_WRONG);
    bench_end(&bench);
}

/* The port is not there: one event says why, the lane goes on trying, and closing does not wait for the pause. */
static void test_port_that_comes_later(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    loopback_close(&bench.device);
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    cfoil_event missing = state_expect(bench.lane, CFOIL_LANE_OPENING);
    assert_int_equal(missing.result, CFOIL_E_PORT_MISSING);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_ALL), CFOIL_OK);
    unsigned number = (unsigned)strtoul(strrchr(bench.device.port, ':') + 1, NULL, 10);
    loopback_listen(&bench.device, (uint16_t)number);
    device_connect(&bench, CFOIL_ACCEPT_ALL, 0);
    bench_end(&bench);
}

static void test_back_off_grows(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.reconnect_ms = 60000;
    bench_start(&bench);
    /* A peer that hangs up at once: pauses of 0, 100, 200, 400 ms before the attempts. */
    uint64_t before = 0;
    uint64_t shortest_us = 0;
    for (int attempt = 0; attempt < 4; attempt++) {
        loopback_accept(&bench.device);
        uint64_t now = os_monotonic_us();
        if (attempt > 0)
            assert_true(now - before >= shortest_us * 9 / 10);
        shortest_us = attempt == 0 ? 100000 : 2 * shortest_us;
        before = now;
        loopback_drop(&bench.device);
    }
    uint64_t begin = os_monotonic_us();
    bench_end(&bench);
    assert_true(os_monotonic_us() - begin < 700000);
}

static void test_queue_overflow(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.queue_length = 8;
    bench_begin(&bench); /* 3 events fetched */
    device_tell(&bench, 'B', 20);
    uint64_t sequence = 3;
    for (int i = 0; i < 8; i++)
        assert_int_equal(event_expect(bench.lane, CFOIL_KIND_REJECTED).sequence, ++sequence);
    cfoil_event lost = event_expect(bench.lane, CFOIL_KIND_LOST_EVENTS);
    assert_int_equal(lost.condition, CFOIL_CONDITION_QUEUE_OVERFLOW);
    assert_int_equal(lost.lost_count, 12);
    assert_int_equal(lost.sequence, sequence + lost.lost_count + 1);
    device_tell(&bench, 'X', 0);
    cfoil_event next = event_expect(bench.lane, CFOIL_KIND_REJECTED);
    assert_int_equal(next.sequence, lost.sequence + 1);
    assert_int_equal(next.presentation, 21);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

/* However host and device interleave, sequence numbers and lost counts add up. */
static void test_queue_overflow_adds_up(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.queue_length = 8;
    bench_begin(&bench);
    uint64_t told = 0;
    for (int turn = 0; turn < 200; turn++) {
        device_tell(&bench, 'B', 1 + turn % 7);
        told += 1 + (uint64_t)turn % 7;
    }
    device_tell(&bench, 'E', 0);
    told++;
    uint64_t sequence = 3;
    uint64_t fetched = 0;
    uint64_t lost = 0;
    while (fetched + lost < told) {
        cfoil_event event = event_next(bench.lane);
        uint64_t gap = event.kind == CFOIL_KIND_LOST_EVENTS ? event.lost_count : 0;
        assert_int_equal(event.sequence, sequence + gap + 1);
        sequence = event.sequence;
        lost += gap;
        fetched += event.kind != CFOIL_KIND_LOST_EVENTS;
    }
    assert_int_equal(fetched + lost, told);
    nothing_expect(bench.lane);
    bench_end(&bench);
}

static bool handle_readable(intptr_t handle)
{
    struct pollfd item = {.fd = (int)handle, .events = POLLIN};
    return poll(&item, 1, 0) == 1;
}

static void test_wait_handle(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    intptr_t handle = -1;
    intptr_t again = -1;
    assert_int_equal(lane_wait_handle(bench.lane, &handle), CFOIL_OK);
    assert_int_equal(lane_wait_handle(bench.lane, &again), CFOIL_OK);
    assert_int_equal(handle, again);
    assert_false(handle_readable(handle));
    device_tell(&bench, 'X', 0);
    device_tell(&bench, 'X', 0);
    struct pollfd item = {.fd = (int)handle, .events = POLLIN};
    assert_int_equal(poll(&item, 1, WAIT_MS), 1);
    event_expect(bench.lane, CFOIL_KIND_REJECTED);
    event_expect(bench.lane, CFOIL_KIND_REJECTED);
    assert_false(handle_readable(handle)); /* a level: it follows the queue */
    lane_shutdown(bench.lane);
    assert_true(handle_readable(handle));
    bench_end(&bench);
    /* Asked for when events wait already. */
    bench_prepare(&bench);
    bench_start(&bench);
    loopback_accept(&bench.device);
    device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
    assert_int_equal(lane_wait_handle(bench.lane, &handle), CFOIL_OK);
    assert_true(handle_readable(handle));
    bench_end(&bench);
}

struct waiter {
    struct lane *lane;
    atomic_int running;
    int32_t result;
};

static void wait_long(void *user)
{
    struct waiter *waiter = user;
    cfoil_event event = CFOIL_EVENT_INIT;
    atomic_fetch_add(&waiter->running, 1);
    waiter->result = lane_wait(waiter->lane, 3600000, &event);
}

static void test_close_while_others_wait(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    struct waiter waiters[3];
    struct os_thread *threads[3];
    for (int i = 0; i < 3; i++) {
        waiters[i] = (struct waiter){.lane = bench.lane, .result = -1};
        threads[i] = os_thread_start(&memory_heap, "waiter", wait_long, &waiters[i]);
    }
    for (int i = 0; i < 3; i++)
        EVENTUALLY(atomic_load(&waiters[i].running) == 1);
    lane_stop(bench.lane);
    for (int i = 0; i < 3; i++) {
        os_thread_join(&memory_heap, threads[i]);
        assert_int_equal(waiters[i].result, CFOIL_E_STATE_CLOSING);
    }
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(lane_wait(bench.lane, 0, &event), CFOIL_E_STATE_CLOSING);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_NONE), CFOIL_E_STATE_CLOSING);
    assert_int_equal(lane_note_stack(bench.lane, 1), CFOIL_E_STATE_CLOSING);
    bench_end(&bench);
}

static void test_shutdown(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    struct waiter waiter = {.lane = bench.lane, .result = -1};
    struct os_thread *thread = os_thread_start(&memory_heap, "waiter", wait_long, &waiter);
    EVENTUALLY(atomic_load(&waiter.running) == 1);
    lane_shutdown(bench.lane);
    os_thread_join(&memory_heap, thread);
    assert_int_equal(waiter.result, CFOIL_E_STATE_SHUTDOWN);
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(lane_wait(bench.lane, 0, &event), CFOIL_E_STATE_SHUTDOWN);
    assert_int_equal(lane_accept(bench.lane, CFOIL_ACCEPT_NONE), CFOIL_E_STATE_SHUTDOWN);
    /* The lane itself goes on. */
    device_tell(&bench, 'I', 0);
    device_hear(&bench, 'K', 0);
    bench_end(&bench);
}

static void test_waits(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    cfoil_event event = CFOIL_EVENT_INIT;
    uint64_t begin = os_monotonic_us();
    assert_int_equal(lane_wait(bench.lane, 20, &event), CFOIL_E_TIME_OUT);
    assert_true(os_monotonic_us() - begin >= 20000);
    assert_int_equal(lane_wait(bench.lane, 3600001, &event), CFOIL_E_ARGUMENT_RANGE);
    bench_end(&bench);
}

static void stop_run(void *user)
{
    lane_stop(user);
}

/* An answer is on its way when the lane closes: the last frame waits for it, but not for ever. */
static void test_quit_waits_for_the_line(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.settings = "poll_ms=60000";
    bench_begin(&bench);
    device_tell(&bench, 'D', 1);
    device_hear(&bench, 'D', 1);
    struct os_thread *thread = os_thread_start(&memory_heap, "stop", stop_run, bench.lane);
    cfoil_event event = CFOIL_EVENT_INIT;
    EVENTUALLY(lane_wait(bench.lane, 0, &event) == CFOIL_E_STATE_CLOSING);
    device_tell(&bench, 'T', 0);
    device_hear(&bench, 'Q', 0);
    os_thread_join(&memory_heap, thread);
    bench_end(&bench);
    bench_prepare(&bench);
    bench.options.settings = "poll_ms=60000";
    bench_begin(&bench);
    device_tell(&bench, 'D', 1);
    device_hear(&bench, 'D', 1);
    uint64_t begin = os_monotonic_us();
    lane_stop(bench.lane);
    assert_true(os_monotonic_us() - begin >= 250000);
    assert_true(os_monotonic_us() - begin < 2000000);
    loopback_expect_end(&bench.device);
    bench_end(&bench);
}

/* A device that refuses, or that takes no notes, has no last word to wait for. */
static void test_quit_without_a_last_word(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'J', 1);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    lane_stop(bench.lane);
    loopback_expect_end(&bench.device);
    bench_end(&bench);
    bench_prepare(&bench);
    bench.options.accept = CFOIL_ACCEPT_NONE;
    bench_begin(&bench);
    device_tell(&bench, 'D', 1);
    device_hear(&bench, 'D', 1);
    lane_stop(bench.lane);
    loopback_expect_end(&bench.device);
    bench_end(&bench);
}

/* The second opening fails where the first, and the trial, did not. */
static int openings;

static int32_t open_twice(void *state, const cfoil_adapter_start *start)
{
    if (++openings <= 2)
        return toy_open(state, start);
    snprintf(start->error, start->error_capacity, "Not again.");
    return CFOIL_E_DEVICE_REFUSED;
}

static void test_adapter_that_does_not_open_again(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    cfoil_adapter adapter = toy_adapter;
    adapter.open = open_twice;
    adapter.close = NULL;
    bench.setup.adapter = &adapter;
    openings = 0;
    bench_begin(&bench);
    loopback_drop(&bench.device);
    state_expect(bench.lane, CFOIL_LANE_LOST);
    loopback_accept(&bench.device);
    cfoil_event ended = state_expect(bench.lane, CFOIL_LANE_ENDED);
    assert_int_equal(ended.result, CFOIL_E_DEVICE_REFUSED);
    assert_string_equal(ended.text, "Not again.");
    loopback_expect_end(&bench.device);
    bench_end(&bench);
}

static void test_end_while_a_note_is_held(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench_begin(&bench);
    device_tell(&bench, 'N', 5);
    cfoil_event held = event_expect(bench.lane, CFOIL_KIND_HELD);
    device_tell(&bench, 'E', 0);
    state_expect(bench.lane, CFOIL_LANE_ENDED);
    cfoil_event unknown = event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(unknown.condition, CFOIL_CONDITION_OUTCOME_UNKNOWN);
    assert_int_equal(unknown.presentation, held.presentation);
    bench_end(&bench);
}

/* The other end stops reading and then goes: what the lane writes fails, and that is a lost port too. */
static void test_write_to_a_lost_port(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.settings = "poll_ms=1";
    bench_start(&bench);
    state_expect(bench.lane, CFOIL_LANE_OPENING);
    for (int turn = 0; turn < 5; turn++) {
        loopback_accept(&bench.device);
        device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
        state_expect(bench.lane, CFOIL_LANE_STARTING);
        struct linger linger = {1, 0};
        setsockopt(bench.device.peer, SOL_SOCKET, SO_LINGER, &linger, sizeof linger);
        loopback_drop(&bench.device);
        cfoil_event lost = state_expect(bench.lane, CFOIL_LANE_LOST);
        assert_int_equal(lost.result, CFOIL_E_PORT_GONE);
    }
    bench_end(&bench);
}

static void test_polling(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    bench.options.settings = "poll_ms=5";
    bench_start(&bench);
    loopback_accept(&bench.device);
    device_hear(&bench, 'H', CFOIL_ACCEPT_HOLD);
    for (int i = 0; i < 5; i++)
        device_hear(&bench, 'P', 0);
    bench_end(&bench);
}

struct noted {
    atomic_int count;
    atomic_int trouble;
    struct lane *volatile lane;
};

static void on_log(void *user, const cfoil_log_record *record)
{
    struct noted *noted = user;
    assert_int_equal(record->struct_size, sizeof *record);
    assert_string_equal(record->lane, "till 1");
    atomic_fetch_add(&noted->count, 1);
    if (record->level == CFOIL_LOG_ERROR)
        atomic_fetch_add(&noted->trouble, 1);
    /* No lock is held: calling back must work. */
    if (noted->lane != NULL) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        lane_error_read(noted->lane, &error);
    }
}

static void test_log_and_faulty_adapter(void **state)
{
    (void)state;
    struct noted noted = {0};
    struct bench bench;
    bench_prepare(&bench);
    bench.options.name = "till 1";
    bench.setup.log = (struct lane_log){CFOIL_LOG_NOTICE, on_log, &noted};
    bench_begin(&bench);
    noted.lane = bench.lane;
    for (int fault = 0; fault <= 5; fault++)
        device_tell(&bench, 'F', fault);
    device_tell(&bench, '9', 1);
    device_tell(&bench, 'F', 6);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE); /* nothing of the above became an event */
    assert_int_equal(atomic_load(&noted.trouble), 7);
    assert_int_equal(atomic_load(&noted.count), 8);
    /* The same again and again is told five times in ten seconds. */
    for (int i = 0; i < 50; i++)
        device_tell(&bench, 'F', 6);
    device_tell(&bench, 'T', 0);
    event_expect(bench.lane, CFOIL_KIND_DEVICE);
    assert_int_equal(atomic_load(&noted.count), 12);
    bench_end(&bench);
}

static void test_bad_options(void **state)
{
    (void)state;
    struct bench bench;
    struct lane *lane;
    char long_name[34] = "123456789012345678901234567890123";
    static const struct {
        cfoil_lane_options options;
        int32_t result;
    } cases[] = {
        {{.port = "tcp:x:1", .name = ""}, CFOIL_E_ARGUMENT_TEXT},
        {{.port = "tcp:x:1", .name = "a\nb"}, CFOIL_E_ARGUMENT_TEXT},
        {{.port = "tcp:x:1", .record_path = ""}, CFOIL_E_ARGUMENT_TEXT},
        {{.port = "tcp:x:1", .accept = 3}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "tcp:x:1", .accept = -1}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "tcp:x:1", .queue_length = 7}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "tcp:x:1", .queue_length = 65537}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "tcp:x:1", .reconnect_ms = 99}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "tcp:x:1", .reconnect_ms = 60001}, CFOIL_E_ARGUMENT_RANGE},
        {{.port = "x"}, CFOIL_E_ARGUMENT_PORT},
        {{.port = NULL}, CFOIL_E_ARGUMENT_PORT},
        {{.port = "tcp:x:1", .settings = "a"}, CFOIL_E_ARGUMENT_SETTING},
        {{.port = "tcp:x:1", .settings = "a=1"}, CFOIL_E_ARGUMENT_SETTING}, /* the adapter does not know it */
        {{.port = "tcp:x:1", .record_path = "/nowhere/at/all"}, CFOIL_E_DATA_FILE},
        {{.port = "trace:/nowhere/at/all"}, CFOIL_E_DATA_FILE},
    };
    bench_prepare(&bench);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        bench.setup.options = &cases[i].options;
        assert_int_equal(lane_create(&bench.setup, &lane, &error), cases[i].result);
        assert_int_equal(error.result, cases[i].result);
        assert_int_not_equal(error.text[0], 0);
        assert_null(lane);
    }
    cfoil_lane_options options = {.port = "tcp:x:1", .name = long_name};
    bench.setup.options = &options;
    assert_int_equal(lane_create(&bench.setup, &lane, NULL), CFOIL_E_ARGUMENT_TEXT);
    loopback_close(&bench.device);
}

struct failing {
    int left;
};

static void *failing_allocate(void *user, size_t size)
{
    struct failing *failing = user;
    return failing->left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

/* Every allocation of the creation fails once: nothing is left behind, and the code says why. */
static void test_no_memory(void **state)
{
    (void)state;
    struct bench bench;
    bench_prepare(&bench);
    char folder[] = "/tmp/cfoil-lane-XXXXXX";
    assert_non_null(mkdtemp(folder));
    char path[64];
    snprintf(path, sizeof path, "%s/record", folder);
    bench.options.record_path = path;
    struct lane *lane = NULL;
    int32_t result = CFOIL_E_MEMORY;
    for (int count = 0; result != CFOIL_OK; count++) {
        assert_true(count < 20);
        struct failing failing = {count};
        struct memory memory = {&failing, failing_allocate, failing_release};
        bench.setup.memory = &memory;
        result = lane_create(&bench.setup, &lane, NULL);
        if (result != CFOIL_OK) {
            assert_true(result == CFOIL_E_MEMORY || result == CFOIL_E_SYSTEM_OS || result == CFOIL_E_SYSTEM_THREAD);
            assert_null(lane);
            assert_int_not_equal(access(path, F_OK), 0);
        } else {
            lane_stop(lane);
            lane_destroy(lane);
        }
    }
    unlink(path);
    rmdir(folder);
    loopback_close(&bench.device);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_life),
        cmocka_unit_test(test_commands),
        cmocka_unit_test(test_command_refused_by_the_device),
        cmocka_unit_test(test_accept),
        cmocka_unit_test(test_port_lost_while_a_note_is_held),
        cmocka_unit_test(test_silence_and_end),
        cmocka_unit_test(test_port_that_comes_later),
        cmocka_unit_test(test_back_off_grows),
        cmocka_unit_test(test_queue_overflow),
        cmocka_unit_test(test_queue_overflow_adds_up),
        cmocka_unit_test(test_wait_handle),
        cmocka_unit_test(test_close_while_others_wait),
        cmocka_unit_test(test_shutdown),
        cmocka_unit_test(test_waits),
        cmocka_unit_test(test_quit_waits_for_the_line),
        cmocka_unit_test(test_quit_without_a_last_word),
        cmocka_unit_test(test_adapter_that_does_not_open_again),
        cmocka_unit_test(test_end_while_a_note_is_held),
        cmocka_unit_test(test_write_to_a_lost_port),
        cmocka_unit_test(test_polling),
        cmocka_unit_test(test_log_and_faulty_adapter),
        cmocka_unit_test(test_bad_options),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
