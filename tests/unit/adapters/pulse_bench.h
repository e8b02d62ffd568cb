/*
 * The bench for the contact-pulse adapter: a virtual clock, line states as a test makes them, and what the adapter told.
 */
#ifndef PULSE_BENCH_H
#define PULSE_BENCH_H

#include "test.h"

#include "pulse/pulse.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#define MS(milliseconds) ((uint64_t)(milliseconds)*1000)

enum { EVENTS_MAX = 64, STATES_MAX = 64 };

struct bench {
    void *state;
    cfoil_adapter_host host;
    uint64_t now_us;
    uint64_t due_us;
    uint64_t steps;
    uint8_t idle;  /* line state between pulses */
    uint8_t pulse; /* during one */
    uint8_t output;
    uint32_t outputs;
    uint32_t event_count;
    cfoil_adapter_event events[EVENTS_MAX];
    uint32_t state_count;
    int32_t states[STATES_MAX];
    char error[160];
};

static inline void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct bench *bench = user;
    assert_int_equal(length, 1);
    bench->output = bytes[0];
    bench->outputs++;
}

static inline void on_event(void *user, const cfoil_adapter_event *event)
{
    struct bench *bench = user;
    assert_true(bench->event_count < EVENTS_MAX);
    assert_int_equal(event->struct_size, sizeof *event);
    assert_true(event->text[0] != '\0' && event->raw_text[0] != '\0');
    assert_true(strlen(event->text) < sizeof event->text - 1); /* nothing was cut off */
    assert_true(event->kind == CFOIL_KIND_STACKED || event->kind == CFOIL_KIND_DEVICE);
    assert_true((event->value_minor != 0) == (event->kind == CFOIL_KIND_STACKED));
    bench->events[bench->event_count++] = *event;
}

static inline void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct bench *bench = user;
    assert_true(bench->state_count < STATES_MAX && text[0] != '\0');
    assert_true((result != CFOIL_OK) == (lane_state == CFOIL_LANE_FAULT || lane_state == CFOIL_LANE_LOST));
    bench->states[bench->state_count++] = lane_state;
}

static inline int32_t adapter_open(struct bench *bench, const char *settings, int32_t accept)
{
    char text[512];
    cfoil_adapter_setting items[32];
    uint32_t count = 0;
    snprintf(text, sizeof text, "%s", settings);
    for (char *item = text[0] != '\0' ? text : NULL, *next; item != NULL; item = next) {
        next = strchr(item, ';');
        if (next != NULL)
            *next++ = '\0';
        char *sign = strchr(item, '=');
        assert_non_null(sign);
        *sign = '\0';
        items[count++] = (cfoil_adapter_setting){item, sign + 1};
    }
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = count,
                                 .settings = items,
                                 .host = &bench->host,
                                 .now_us = bench->now_us,
                                 .accept = accept,
                                 .error_capacity = sizeof bench->error,
                                 .error = bench->error,
                                 .adapter = &pulse_adapter};
    return pulse_adapter.open(bench->state, &start);
}

static inline void bench_begin(struct bench *bench, const char *settings, int32_t accept)
{
    memset(bench, 0, sizeof *bench);
    bench->state = calloc(1, pulse_adapter.state_size);
    assert_non_null(bench->state);
    bench->host = (cfoil_adapter_host){
        .struct_size = sizeof bench->host, .user = bench, .send = on_send, .event = on_event, .state = on_state};
    bench->now_us = MS(5000);
    bench->pulse = CFOIL_LINE_CTS;
    bench->error[0] = '\0';
    int32_t result = adapter_open(bench, settings, accept);
    if (result != CFOIL_OK)
        print_message("%s\n", bench->error);
    assert_int_equal(result, CFOIL_OK);
    assert_int_equal(bench->states[0], CFOIL_LANE_STARTING);
    bench->due_us = bench->now_us;
}

static inline void bench_end(struct bench *bench)
{
    pulse_adapter.close(bench->state);
    free(bench->state);
}

static inline void step(struct bench *bench, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {sizeof input, length, bytes, bench->now_us};
    bench->due_us = pulse_adapter.step(bench->state, &input);
    assert_true(bench->due_us > bench->now_us); /* no busy loop */
    bench->steps++;
}

/* Lets time pass, with the steps that the adapter asks for. */
static inline void pass(struct bench *bench, uint64_t us)
{
    uint64_t until_us = bench->now_us + us;
    while (bench->due_us <= until_us) {
        if (bench->now_us < bench->due_us)
            bench->now_us = bench->due_us; /* else the computer was late */
        step(bench, NULL, 0);
    }
    bench->now_us = until_us;
}

static inline void line(struct bench *bench, uint8_t byte)
{
    step(bench, &byte, 1);
}

static inline void pulse(struct bench *bench, uint64_t on_us, uint64_t off_us)
{
    line(bench, bench->pulse);
    pass(bench, on_us);
    line(bench, bench->idle);
    pass(bench, off_us);
}

static inline void pulses(struct bench *bench, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        pulse(bench, MS(50), MS(50));
}

#define PLAIN "currency=EUR;value_minor=500"
#define TABLE "currency=EUR;values=500:1,1000:2,2000:4"

/* Open, quiet, identified, ready. */
static inline void ready_begin(struct bench *bench, const char *settings, int32_t accept)
{
    bench_begin(bench, settings, accept);
    line(bench, bench->idle);
    pass(bench, MS(500));
    assert_int_equal(bench->event_count, 1);
    assert_int_equal(bench->events[0].condition, CFOIL_CONDITION_IDENTIFIED);
    bench->event_count = 0;
}

static const cfoil_adapter_event *only_event(const struct bench *bench)
{
    assert_int_equal(bench->event_count, 1);
    return &bench->events[0];
}

static inline void expect_money(struct bench *bench, int64_t value_minor)
{
    const cfoil_adapter_event *event = only_event(bench);
    assert_int_equal(event->kind, CFOIL_KIND_STACKED);
    assert_int_equal(event->value_minor, value_minor);
    assert_string_equal(event->currency, "EUR");
    bench->event_count = 0;
}

static inline void expect_condition(struct bench *bench, int32_t condition)
{
    const cfoil_adapter_event *event = only_event(bench);
    assert_int_equal(event->kind, CFOIL_KIND_DEVICE);
    assert_int_equal(event->condition, condition);
    assert_int_equal(event->currency[0], '\0');
    bench->event_count = 0;
}

static inline int32_t last_state(const struct bench *bench)
{
    return bench->states[bench->state_count - 1];
}

static inline int32_t command(struct bench *bench, int32_t what, int32_t argument)
{
    int32_t result = pulse_adapter.command(bench->state, what, argument, bench->now_us);
    step(bench, NULL, 0);
    return result;
}

#endif
