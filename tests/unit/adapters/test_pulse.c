/*
 * The contact-pulse adapter on a virtual clock: are pulses money only when nothing about them is in doubt?
 */
#include "pulse_bench.h"

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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
