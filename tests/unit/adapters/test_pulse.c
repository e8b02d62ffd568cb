/*
 * The contact-pulse adapter on a virtual clock: are pulses money only when nothing about them is in doubt?
 */
#include "test.h"

#include "pulse/pulse.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#define MS(milliseconds) ((uint64_t)(milliseconds)*1000)

enum { EVENTS_MAX = 64, STATES_MAX = 64 };

/* ---- The bench ---- */

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

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct bench *bench = user;
    assert_int_equal(length, 1);
    bench->output = bytes[0];
    bench->outputs++;
}

static void on_event(void *user, const cfoil_adapter_event *event)
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

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct bench *bench = user;
    assert_true(bench->state_count < STATES_MAX && text[0] != '\0');
    assert_true((result != CFOIL_OK) == (lane_state == CFOIL_LANE_FAULT || lane_state == CFOIL_LANE_LOST));
    bench->states[bench->state_count++] = lane_state;
}

static int32_t adapter_open(struct bench *bench, const char *settings, int32_t accept)
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

static void bench_begin(struct bench *bench, const char *settings, int32_t accept)
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

static void bench_end(struct bench *bench)
{
    pulse_adapter.close(bench->state);
    free(bench->state);
}

static void step(struct bench *bench, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {sizeof input, length, bytes, bench->now_us};
    bench->due_us = pulse_adapter.step(bench->state, &input);
    assert_true(bench->due_us > bench->now_us); /* no busy loop */
    bench->steps++;
}

/* Lets time pass, with the steps that the adapter asks for. */
static void pass(struct bench *bench, uint64_t us)
{
    uint64_t until_us = bench->now_us + us;
    while (bench->due_us <= until_us) {
        if (bench->now_us < bench->due_us)
            bench->now_us = bench->due_us; /* else the computer was late */
        step(bench, NULL, 0);
    }
    bench->now_us = until_us;
}

static void line(struct bench *bench, uint8_t byte)
{
    step(bench, &byte, 1);
}

static void pulse(struct bench *bench, uint64_t on_us, uint64_t off_us)
{
    line(bench, bench->pulse);
    pass(bench, on_us);
    line(bench, bench->idle);
    pass(bench, off_us);
}

static void pulses(struct bench *bench, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        pulse(bench, MS(50), MS(50));
}

#define PLAIN "currency=EUR;value_minor=500"
#define TABLE "currency=EUR;values=500:1,1000:2,2000:4"

/* Open, quiet, identified, ready. */
static void ready_begin(struct bench *bench, const char *settings, int32_t accept)
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

static void expect_money(struct bench *bench, int64_t value_minor)
{
    const cfoil_adapter_event *event = only_event(bench);
    assert_int_equal(event->kind, CFOIL_KIND_STACKED);
    assert_int_equal(event->value_minor, value_minor);
    assert_string_equal(event->currency, "EUR");
    bench->event_count = 0;
}

static void expect_condition(struct bench *bench, int32_t condition)
{
    const cfoil_adapter_event *event = only_event(bench);
    assert_int_equal(event->kind, CFOIL_KIND_DEVICE);
    assert_int_equal(event->condition, condition);
    assert_int_equal(event->currency[0], '\0');
    bench->event_count = 0;
}

static int32_t last_state(const struct bench *bench)
{
    return bench->states[bench->state_count - 1];
}

static int32_t command(struct bench *bench, int32_t what, int32_t argument)
{
    int32_t result = pulse_adapter.command(bench->state, what, argument, bench->now_us);
    step(bench, NULL, 0);
    return result;
}

/* ---- Settings ---- */

static void test_settings_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",
        "currency=EUR",
        "value_minor=5",
        "currency=EUR;value_minor=5;values=5:1",
        "currency=eur;value_minor=5",
        "currency=EURO;value_minor=5",
        "currency=E;value_minor=5",
        "currency=EUR;value_minor=0",
        "currency=EUR;value_minor=1000000001",
        "currency=EUR;value_minor=12345678901",
        "currency=EUR;value_minor=-5",
        "currency=EUR;value_minor=5x",
        "currency=EUR;values=5",
        "currency=EUR;values=5,1:2",
        "currency=EUR;values=:1",
        "currency=EUR;values=5:",
        "currency=EUR;values=5:0",
        "currency=EUR;values=5:1001",
        "currency=EUR;values=5:12345",
        "currency=EUR;values=5:1,",
        "currency=EUR;values=5:1,10:1",
        "currency=EUR;values=0:1",
        "currency=EUR;values=5:1x",
        "currency=EUR;values=1:1,1:2,1:3,1:4,1:5,1:6,1:7,1:8,1:9,1:10,1:11,1:12,1:13,1:14,1:15,1:16,1:17,1:18,1:19,"
        "1:20,1:21,1:22,1:23,1:24,1:25,1:26,1:27,1:28,1:29,1:30,1:31,1:32,1:33",
        PLAIN ";line=tx",
        PLAIN ";active=on",
        PLAIN ";inhibit=cts",
        PLAIN ";inhibit_active=1",
        PLAIN ";pulse_min_ms=9",
        PLAIN ";pulse_min_ms=1001",
        PLAIN ";pulse_min_ms=x",
        PLAIN ";pulse_max_ms=14",
        PLAIN ";pulse_max_ms=5001",
        PLAIN ";gap_max_ms=19",
        PLAIN ";gap_max_ms=123456",
        PLAIN ";debounce_ms=501",
        PLAIN ";pulse_min_ms=200",
        PLAIN ";debounce_ms=20",
        PLAIN ";pulse_max_ms=500;pulse_min_ms=400",
        PLAIN ";speed=1",
    };
    struct bench bench;
    bench_begin(&bench, PLAIN, CFOIL_ACCEPT_NONE);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        bench.error[0] = '\0';
        assert_int_equal(adapter_open(&bench, bad[i], CFOIL_ACCEPT_NONE), CFOIL_E_ARGUMENT_SETTING);
        assert_memory_equal(bench.error, "Setting ", 8);
    }
    /* Nobody to tell. */
    cfoil_adapter_start start = {.struct_size = sizeof start, .host = &bench.host};
    assert_int_equal(pulse_adapter.open(bench.state, &start), CFOIL_E_ARGUMENT_SETTING);
    start.error = bench.error;
    assert_int_equal(pulse_adapter.open(bench.state, &start), CFOIL_E_ARGUMENT_SETTING);
    bench_end(&bench);
}

static void test_lines_and_levels(void **state)
{
    (void)state;
    static const struct {
        const char *settings;
        uint8_t line;
    } cases[] = {
        {PLAIN ";line=cts;active=high", CFOIL_LINE_CTS},
        {PLAIN ";line=dsr;active=high", CFOIL_LINE_DSR},
        {PLAIN ";line=dcd", CFOIL_LINE_DCD},
        {PLAIN ";line=ri;pulse_min_ms=10;pulse_max_ms=100;gap_max_ms=100;debounce_ms=0", CFOIL_LINE_RI},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench;
        ready_begin(&bench, cases[i].settings, CFOIL_ACCEPT_ALL);
        bench.pulse = cases[i].line;
        pulses(&bench, 3);
        /* The other lines may do what they like. */
        line(&bench, (uint8_t)(0x0F ^ cases[i].line));
        pass(&bench, MS(500));
        expect_money(&bench, 1500);
        bench_end(&bench);
    }
    struct bench bench;
    bench_begin(&bench, PLAIN ";active=low", CFOIL_ACCEPT_ALL);
    bench.idle = CFOIL_LINE_CTS;
    bench.pulse = 0;
    line(&bench, bench.idle);
    pass(&bench, MS(500));
    bench.event_count = 0;
    pulses(&bench, 2);
    pass(&bench, MS(500));
    expect_money(&bench, 1000);
    bench_end(&bench);
}

/* ---- Money ---- */

static void test_value_per_pulse(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    assert_int_equal(last_state(&bench), CFOIL_LANE_ACCEPTING);
    for (uint32_t count = 1; count <= 20; count++) {
        pulses(&bench, count);
        assert_int_equal(bench.event_count, 0); /* one event, when the train is over */
        pass(&bench, MS(400));
        assert_int_equal(bench.events[0].raw[0], count);
        assert_int_equal(bench.events[0].raw_length, 2);
        expect_money(&bench, 500 * (int64_t)count);
    }
    /* Nothing to do while nothing happens. */
    assert_true(bench.due_us == UINT64_MAX);
    bench_end(&bench);
}

static void test_table(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, TABLE, CFOIL_ACCEPT_ALL);
    static const struct {
        uint32_t count;
        int64_t value_minor;
        int32_t note_type;
    } cases[] = {{1, 500, 1}, {2, 1000, 2}, {3, 0, 0}, {4, 2000, 3}, {5, 0, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        pulses(&bench, cases[i].count);
        pass(&bench, MS(400));
        assert_int_equal(bench.events[0].note_type, cases[i].note_type);
        if (cases[i].value_minor > 0)
            expect_money(&bench, cases[i].value_minor);
        else
            expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    }
    assert_string_equal(bench.events[0].raw_text, "5 pulses on CTS");
    bench_end(&bench);
}

/* Two notes one after the other are two events. */
static void test_two_trains(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, TABLE, CFOIL_ACCEPT_ALL);
    pulses(&bench, 2);
    pass(&bench, MS(350)); /* 400 ms with the pause after the pulse: over at the very instant */
    expect_money(&bench, 1000);
    pulses(&bench, 1);
    pass(&bench, MS(350));
    expect_money(&bench, 500);
    bench_end(&bench);
}

static void test_most_pulses(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pulses(&bench, 1000);
    pass(&bench, MS(500));
    expect_money(&bench, 500000);
    pulses(&bench, 1001);
    pass(&bench, MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    bench_end(&bench);
}

/* ---- Widths, gaps and bounce ---- */

static void test_widths(void **state)
{
    (void)state;
    static const struct {
        uint64_t on_us;
        uint64_t off_us;
        int32_t condition; /* NONE = money */
    } cases[] = {
        {MS(20), MS(20), CFOIL_CONDITION_NONE},
        {MS(200), MS(300), CFOIL_CONDITION_NONE},
        {MS(19), MS(50), CFOIL_CONDITION_UNKNOWN_NOTE_STACKED},
        {MS(201), MS(50), CFOIL_CONDITION_UNKNOWN_NOTE_STACKED},
        {MS(700), MS(50), CFOIL_CONDITION_UNKNOWN_NOTE_STACKED},
        {MS(50), MS(19), CFOIL_CONDITION_UNKNOWN_NOTE_STACKED},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench;
        ready_begin(&bench, TABLE, CFOIL_ACCEPT_ALL);
        pulse(&bench, MS(50), MS(50));
        pulse(&bench, cases[i].on_us, cases[i].off_us);
        pulse(&bench, MS(50), MS(50));
        pulse(&bench, MS(50), MS(500));
        if (cases[i].condition == CFOIL_CONDITION_NONE)
            expect_money(&bench, 2000);
        else
            expect_condition(&bench, cases[i].condition);
        /* The next one is sound again. */
        pulse(&bench, MS(50), MS(500));
        expect_money(&bench, 500);
        bench_end(&bench);
    }
}

/* Not one sound pulse: noise, as far as anybody can know. */
static void test_no_sound_pulse(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pulse(&bench, MS(10), MS(50));
    pulse(&bench, MS(12), MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_CODE);
    pulse(&bench, MS(400), MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_CODE);
    bench_end(&bench);
}

static void test_bounce(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 4; j++)
            pulse(&bench, MS(1), MS(2)); /* closing */
        line(&bench, bench.pulse);
        pass(&bench, MS(30));
        line(&bench, bench.idle); /* a short drop-out */
        pass(&bench, MS(2));
        line(&bench, bench.pulse);
        pass(&bench, MS(30));
        line(&bench, bench.idle); /* opening */
        for (int j = 0; j < 4; j++) {
            pass(&bench, MS(2));
            pulse(&bench, MS(1), 0);
        }
        pass(&bench, MS(40));
    }
    pass(&bench, MS(500));
    expect_money(&bench, 1500);
    /* A glitch in a quiet time is nothing, and wakes nobody afterwards. */
    pulse(&bench, MS(2), MS(1000));
    assert_int_equal(bench.event_count, 0);
    assert_true(bench.due_us == UINT64_MAX);
    bench_end(&bench);
}

/* Released within the limit, and not yet debounced when the limit passes. */
static void test_longest_pulse_debounced(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN ";pulse_min_ms=30;debounce_ms=29", CFOIL_ACCEPT_ALL);
    pulse(&bench, MS(199), MS(600));
    expect_money(&bench, 500);
    bench_end(&bench);
}

/* A glitch in the gap keeps the train from ending; a pulse after that belongs to nobody for certain. */
static void test_trains_run_together(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pulse(&bench, MS(50), MS(398));
    pulse(&bench, MS(1), MS(10));
    assert_int_equal(bench.event_count, 0);
    pulse(&bench, MS(50), MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    bench_end(&bench);
}

/* ---- A contact that is stuck ---- */

static void test_stuck(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN ";inhibit=dtr", CFOIL_ACCEPT_ALL);
    assert_int_equal(bench.output, CFOIL_LINE_DTR | CFOIL_LINE_RTS);
    line(&bench, bench.pulse);
    pass(&bench, MS(1100));
    assert_int_equal(bench.event_count, 0);
    pass(&bench, MS(200));
    expect_condition(&bench, CFOIL_CONDITION_FAULT);
    assert_int_equal(last_state(&bench), CFOIL_LANE_FAULT);
    assert_int_equal(bench.output, CFOIL_LINE_RTS); /* no more notes */
    uint64_t steps = bench.steps;
    pass(&bench, MS(60000));
    assert_true(bench.steps == steps); /* nothing to look at */
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    assert_int_equal(last_state(&bench), CFOIL_LANE_FAULT);
    line(&bench, bench.idle);
    pass(&bench, MS(500));
    assert_int_equal(bench.event_count, 2);
    assert_int_equal(bench.events[0].condition, CFOIL_CONDITION_UNKNOWN_CODE);
    assert_int_equal(bench.events[1].condition, CFOIL_CONDITION_FAULT_CLEARED);
    assert_int_equal(last_state(&bench), CFOIL_LANE_ACCEPTING);
    assert_int_equal(bench.output, CFOIL_LINE_DTR | CFOIL_LINE_RTS);
    bench_end(&bench);
}

/* Never at rest for as long as the debounce time. */
static void test_chatter(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    for (int i = 0; i < 500; i++)
        pulse(&bench, MS(2), MS(2));
    pass(&bench, MS(500));
    assert_int_equal(bench.event_count, 3);
    assert_int_equal(bench.events[0].condition, CFOIL_CONDITION_FAULT);
    assert_int_equal(bench.events[1].condition, CFOIL_CONDITION_UNKNOWN_CODE);
    assert_int_equal(bench.events[2].condition, CFOIL_CONDITION_FAULT_CLEARED);
    bench_end(&bench);
}

/* ---- Inhibit and commands ---- */

static void test_inhibited(void **state)
{
    (void)state;
    static const int32_t accepts[] = {CFOIL_ACCEPT_NONE, CFOIL_ACCEPT_HOLD};
    for (size_t i = 0; i < 2; i++) {
        struct bench bench;
        ready_begin(&bench, PLAIN, accepts[i]);
        assert_int_equal(last_state(&bench), CFOIL_LANE_IDLE);
        pulses(&bench, 2);
        pass(&bench, MS(500));
        expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
        bench_end(&bench);
    }
}

static void test_inhibit_in_a_train(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN ";inhibit=rts", CFOIL_ACCEPT_ALL);
    pulses(&bench, 1);
    /* The note was taken before: its pulses count to the last. */
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    assert_int_equal(bench.output, CFOIL_LINE_DTR);
    pulses(&bench, 2);
    pass(&bench, MS(500));
    expect_money(&bench, 1500);
    pulses(&bench, 1);
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    pulses(&bench, 1);
    pass(&bench, MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    bench_end(&bench);
}

static void test_outputs(void **state)
{
    (void)state;
    static const struct {
        const char *settings;
        uint8_t inhibited;
        uint8_t accepting;
    } cases[] = {
        {PLAIN, 48, 48},
        {PLAIN ";inhibit=none;inhibit_active=high", 48, 48},
        {PLAIN ";inhibit=dtr", CFOIL_LINE_RTS, 48},
        {PLAIN ";inhibit=rts;inhibit_active=low", CFOIL_LINE_DTR, 48},
        {PLAIN ";inhibit=dtr;inhibit_active=high", 48, CFOIL_LINE_RTS},
        {PLAIN ";inhibit=rts;inhibit_active=high", 48, CFOIL_LINE_DTR},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench;
        bench_begin(&bench, cases[i].settings, CFOIL_ACCEPT_ALL);
        assert_int_equal(bench.outputs, 1);
        assert_int_equal(bench.output, cases[i].inhibited); /* not before the line was quiet */
        assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
        line(&bench, bench.idle);
        assert_int_equal(bench.output, cases[i].inhibited);
        pass(&bench, MS(500));
        assert_int_equal(bench.output, cases[i].accepting);
        assert_int_equal(command(&bench, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
        assert_int_equal(bench.output, cases[i].inhibited);
        bench_end(&bench);
    }
}

static void test_commands(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_NONE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_HOLD, 5), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(command(&bench, 9, 0), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    assert_int_equal(last_state(&bench), CFOIL_LANE_IDLE);
    assert_int_equal(command(&bench, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    assert_int_equal(last_state(&bench), CFOIL_LANE_ACCEPTING);
    bench_end(&bench);
}

/* ---- Beginning and end in the middle of pulses ---- */

static void test_begun_in_a_pulse(void **state)
{
    (void)state;
    struct bench bench;
    bench_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    line(&bench, bench.pulse);
    pass(&bench, MS(30));
    line(&bench, bench.idle);
    pass(&bench, MS(50));
    pulses(&bench, 3);
    assert_int_equal(last_state(&bench), CFOIL_LANE_STARTING);
    pass(&bench, MS(500));
    assert_int_equal(bench.event_count, 2);
    assert_int_equal(bench.events[0].condition, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT);
    assert_int_equal(bench.events[1].condition, CFOIL_CONDITION_IDENTIFIED);
    assert_int_equal(last_state(&bench), CFOIL_LANE_ACCEPTING);
    bench.event_count = 0;
    pulses(&bench, 1);
    pass(&bench, MS(500));
    expect_money(&bench, 500);
    bench_end(&bench);
}

static void test_begun_in_a_gap(void **state)
{
    (void)state;
    struct bench bench;
    bench_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    line(&bench, bench.idle);
    pass(&bench, MS(100));
    pulses(&bench, 2);
    pass(&bench, MS(500));
    assert_int_equal(bench.event_count, 2);
    assert_int_equal(bench.events[0].condition, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT);
    bench_end(&bench);
}

static void test_ended_in_a_train(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pulses(&bench, 2);
    pulse_adapter.close(bench.state);
    expect_condition(&bench, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT);
    free(bench.state);
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    bench_end(&bench);
    assert_int_equal(bench.event_count, 0);
}

static void test_no_line_state(void **state)
{
    (void)state;
    struct bench bench;
    bench_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pass(&bench, MS(9999));
    assert_int_equal(last_state(&bench), CFOIL_LANE_STARTING);
    pass(&bench, MS(1));
    assert_int_equal(last_state(&bench), CFOIL_LANE_LOST);
    uint64_t steps = bench.steps;
    pass(&bench, MS(60000));
    assert_true(bench.steps == steps);
    step(&bench, NULL, 0);
    line(&bench, bench.idle);
    pass(&bench, MS(500));
    assert_int_equal(last_state(&bench), CFOIL_LANE_ACCEPTING);
    bench_end(&bench);
}

/* ---- A computer or a line that is late ---- */

static void test_changes_in_one_piece(void **state)
{
    (void)state;
    static const uint8_t together[] = {CFOIL_LINE_CTS, 0, CFOIL_LINE_CTS, 0};
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    step(&bench, together, sizeof together);
    pass(&bench, MS(50));
    pulses(&bench, 2); /* of the same note, perhaps: short of those two */
    pass(&bench, MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    step(&bench, together, 2);
    pass(&bench, MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_CODE);
    /* A state that is repeated is no change. */
    step(&bench, together + 1, 1);
    step(&bench, together + 1, 1);
    assert_int_equal(bench.event_count, 0);
    bench_end(&bench);
}

static void test_late_steps(void **state)
{
    (void)state;
    struct bench bench;
    ready_begin(&bench, PLAIN, CFOIL_ACCEPT_ALL);
    pulses(&bench, 2);
    bench.now_us += MS(150); /* nobody looked */
    pass(&bench, MS(1));
    pulses(&bench, 1);
    pass(&bench, MS(500));
    expect_condition(&bench, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    /* Between trains nobody need look. */
    bench.now_us += MS(5000);
    pulses(&bench, 1);
    pass(&bench, MS(500));
    expect_money(&bench, 500);
    bench_end(&bench);
}

/* ---- Random trains ---- */

static uint32_t random_below(uint64_t *seed, uint32_t below)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*seed >> 33) % below;
}

/* An edge with bounce shorter than the debounce time. */
static void edge(struct bench *bench, uint64_t *seed, uint8_t from, uint8_t to)
{
    line(bench, to);
    for (uint32_t bounces = random_below(seed, 4); bounces > 0; bounces--) {
        pass(bench, 100 + random_below(seed, 2000));
        line(bench, from);
        pass(bench, 100 + random_below(seed, 2000));
        line(bench, to);
    }
}

/* What a note of `count` pulses looks like on a line that is not always sound; the sound pulses are counted. */
static void note_feed(struct bench *bench, uint64_t *seed, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        uint32_t harm = random_below(seed, 40);
        uint64_t on_us = harm == 0   ? MS(1 + random_below(seed, 30))
                         : harm == 1 ? MS(200 + random_below(seed, 100))
                                     : MS(60);
        if (harm != 2)
            edge(bench, seed, bench->idle, bench->pulse);
        pass(bench, on_us / 2);
        if (harm == 3) { /* a drop-out that no debouncing hides */
            line(bench, bench->idle);
            pass(bench, MS(6 + random_below(seed, 13)));
            line(bench, bench->pulse);
        }
        if (harm == 4)
            bench->now_us += MS(25 + random_below(seed, 300)); /* the computer is late */
        pass(bench, on_us / 2);
        if (harm != 2)
            edge(bench, seed, bench->pulse, bench->idle);
        pass(bench, MS(60));
    }
}

static void random_run(uint64_t seed, const char *settings)
{
    struct bench bench;
    int64_t sent = 0;
    int64_t credited = 0;
    uint32_t sound = 0;
    uint32_t money = 0;
    ready_begin(&bench, settings, CFOIL_ACCEPT_ALL);
    for (int note = 0; note < 60; note++) {
        uint32_t count = 1u << random_below(&seed, 3);
        note_feed(&bench, &seed, count);
        pass(&bench, MS(600 + random_below(&seed, 500)));
        sent += 500 * (int64_t)count;
        for (uint32_t i = 0; i < bench.event_count; i++) {
            credited += bench.events[i].value_minor;
            money += bench.events[i].kind == CFOIL_KIND_STACKED;
            sound += bench.events[i].value_minor == 500 * (int64_t)count;
        }
        assert_true(credited <= sent); /* never more than was sent */
        bench.event_count = 0;
        bench.state_count = 1;
    }
    assert_true(sound > 20 && money >= sound);
    bench_end(&bench);
}

static void test_random_trains(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        random_run(seed, PLAIN);
        random_run(seed, TABLE);
    }
}

/* Random line states at random times: whatever they are, no pulse counts that was not there. */
static void test_random_lines(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct bench bench;
        uint64_t random = seed;
        bool active = false;
        uint32_t edges = 0;
        int64_t credited = 0;
        ready_begin(&bench, PLAIN ";debounce_ms=0", CFOIL_ACCEPT_ALL);
        for (int i = 0; i < 400; i++) {
            bool next = random_below(&random, 2) == 1;
            edges += next && !active;
            active = next;
            line(&bench, active ? bench.pulse : bench.idle);
            pass(&bench, random_below(&random, 10) == 0 ? MS(500) : MS(5 + random_below(&random, 90)));
            for (uint32_t event = 0; event < bench.event_count; event++)
                credited += bench.events[event].value_minor;
            assert_true(credited <= 500 * (int64_t)edges);
            bench.event_count = 0;
            bench.state_count = 1;
        }
        bench_end(&bench);
        bench.event_count = 0;
    }
}

static void test_table_itself(void **state)
{
    (void)state;
    assert_int_equal(pulse_adapter.capabilities & (CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_COUNTER | CFOIL_ADAPTER_WORDS),
                     0);
    assert_int_equal(pulse_adapter.maturity, CFOIL_MATURITY_EXPERIMENTAL);
    assert_int_equal(pulse_adapter.struct_size, sizeof(cfoil_adapter));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_settings_refused),
        cmocka_unit_test(test_lines_and_levels),
        cmocka_unit_test(test_value_per_pulse),
        cmocka_unit_test(test_table),
        cmocka_unit_test(test_two_trains),
        cmocka_unit_test(test_most_pulses),
        cmocka_unit_test(test_widths),
        cmocka_unit_test(test_no_sound_pulse),
        cmocka_unit_test(test_bounce),
        cmocka_unit_test(test_longest_pulse_debounced),
        cmocka_unit_test(test_trains_run_together),
        cmocka_unit_test(test_stuck),
        cmocka_unit_test(test_chatter),
        cmocka_unit_test(test_inhibited),
        cmocka_unit_test(test_inhibit_in_a_train),
        cmocka_unit_test(test_outputs),
        cmocka_unit_test(test_commands),
        cmocka_unit_test(test_begun_in_a_pulse),
        cmocka_unit_test(test_begun_in_a_gap),
        cmocka_unit_test(test_ended_in_a_train),
        cmocka_unit_test(test_no_line_state),
        cmocka_unit_test(test_changes_in_one_piece),
        cmocka_unit_test(test_late_steps),
        cmocka_unit_test(test_random_trains),
        cmocka_unit_test(test_random_lines),
        cmocka_unit_test(test_table_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
