/*
 * A lane under test with the toy adapter, its other end a TCP socket played by the test's own thread.
 */
#ifndef UNIT_LANE_LANE_TEST_H
#define UNIT_LANE_LANE_TEST_H

#include "unit/transport/loopback.h"
#include "unit/transport/toy.h"

#include "lane/lane.h"
#include "os/os.h"

#define WAIT_MS 10000

struct bench {
    struct loopback device;
    struct lane_setup setup;
    cfoil_lane_options options;
    struct lane *lane;
};

static inline void bench_prepare(struct bench *bench)
{
    memset(bench, 0, sizeof *bench);
    loopback_open(&bench->device);
    bench->options = (cfoil_lane_options)CFOIL_LANE_OPTIONS_INIT;
    bench->options.adapter = "toy";
    bench->options.port = bench->device.port;
    bench->options.reconnect_ms = 100;
    bench->options.accept = CFOIL_ACCEPT_HOLD;
    bench->setup = (struct lane_setup){.memory = &memory_heap, .adapter = &toy_adapter, .options = &bench->options};
}

static inline void bench_start(struct bench *bench)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = lane_create(&bench->setup, &bench->lane, &error);
    if (result != CFOIL_OK)
        print_message("%s\n", error.text);
    assert_int_equal(result, CFOIL_OK);
}

static inline void bench_end(struct bench *bench)
{
    if (bench->lane != NULL) {
        lane_stop(bench->lane);
        lane_destroy(bench->lane);
    }
    bench->lane = NULL;
    loopback_close(&bench->device);
}

static inline cfoil_event event_next(struct lane *lane)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(lane_wait(lane, WAIT_MS, &event), CFOIL_OK);
    assert_int_equal(event.struct_size, sizeof event);
    return event;
}

static inline cfoil_event event_expect(struct lane *lane, int32_t kind)
{
    cfoil_event event = event_next(lane);
    assert_int_equal(event.kind, kind);
    return event;
}

static inline cfoil_event state_expect(struct lane *lane, int32_t lane_state)
{
    cfoil_event event = event_expect(lane, CFOIL_KIND_LANE_STATE);
    assert_int_equal(event.lane_state, lane_state);
    return event;
}

static inline void nothing_expect(struct lane *lane)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    assert_int_equal(lane_wait(lane, 0, &event), CFOIL_E_TIME_OUT);
}

static inline void device_tell(struct bench *bench, char code, int argument)
{
    uint8_t frame[3] = {TOY_FROM, (uint8_t)code, (uint8_t)argument};
    loopback_send(&bench->device, frame, sizeof frame);
}

static inline void device_hear(struct bench *bench, char code, int argument)
{
    uint8_t frame[3] = {TOY_TO, (uint8_t)code, (uint8_t)argument};
    loopback_expect(&bench->device, frame, sizeof frame);
}

/* From the connection to a device that takes notes; `memory` is what the adapter was given for it. */
static inline void device_connect(struct bench *bench, int accept, int memory)
{
    loopback_accept(&bench->device);
    device_hear(bench, 'H', accept);
    state_expect(bench->lane, CFOIL_LANE_STARTING);
    device_tell(bench, 'I', 0);
    device_hear(bench, 'K', memory);
    state_expect(bench->lane, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
}

static inline void bench_begin(struct bench *bench)
{
    bench_start(bench);
    state_expect(bench->lane, CFOIL_LANE_OPENING);
    device_connect(bench, bench->options.accept, 0);
}

/* Waits, bounded, until a condition holds that only polling can tell. */
#define EVENTUALLY(condition)                                                                                          \
    do {                                                                                                               \
        uint64_t until_us = os_monotonic_us() + WAIT_MS * UINT64_C(1000);                                              \
        while (!(condition) && os_monotonic_us() < until_us)                                                           \
            (void)os_wait(-1, NULL, os_monotonic_us() + 1000);                                                         \
        assert_true(condition);                                                                                        \
    } while (0)

#endif
