/*
 * The contact-pulse adapter on a virtual clock: a contact that is stuck, the inhibit output, trains that nobody saw whole,
 * a computer that is late.
 */
#include "pulse_bench.h"

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
        cmocka_unit_test(test_table_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
