/*
 * The status-bit device of examples/descriptions when it is silent, another one, or the line is bad: random faults invent no
 * money.
 */
#include "described_bits.h"

/* ---- Life and death ---- */

static void a_silent_device_is_lost_and_found(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.silent = true;
    rig_run(rig, 20000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    assert_int_equal(rig->result_now, CFOIL_E_DEVICE_SILENT);
    assert_int_equal(rig->event_count, 0);
    fake.silent = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    fake.silent = true;
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    fake.silent = false;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 1);
    rig_end(rig);
}

static void another_kind_of_device_is_left_alone(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.form = "XYZ9";
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ENDED);
    assert_int_equal(rig->result_now, CFOIL_E_DEVICE_WRONG);
    uint32_t requests = fake.requests;
    rig_run(rig, 60000);
    assert_int_equal(fake.requests, requests);
    assert_false(fake.accepting);
    rig_end(rig);
}

static void quitting_bars_the_notes(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(fake.accepting);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 500);
    assert_false(fake.accepting);
    uint32_t requests = fake.requests;
    rig_run(rig, 5000);
    assert_int_equal(fake.requests, requests);
    rig_end(rig);
    /* Before the device is known nothing is sent any more. */
    rig = begin(CFOIL_ACCEPT_HOLD);
    fake.silent = true;
    rig_run(rig, 50);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    requests = fake.requests;
    rig_run(rig, 5000);
    assert_int_equal(fake.requests, requests);
    rig_end(rig);
}

static void settings_are_refused(void **state)
{
    (void)state;
    struct rig *rig = rig_of_example("status-bits");
    char text[160] = "";
    cfoil_adapter_setting setting = {"poll_ms", "5"};
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = 1,
                                 .settings = &setting,
                                 .host = &rig->host,
                                 .adapter = &rig->adapter,
                                 .error_capacity = sizeof text,
                                 .error = text};
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    assert_non_null(strstr(text, "poll_ms"));
    start.error_capacity = 0;
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    start.error = NULL;
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    rig_end(rig);
}

static void a_noisy_line_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    for (int i = 0; i < 12; i++) {
        fake.forced = FATE_FLIPPED;
        rig_run(rig, 1000);
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_LINE_NOISY), 1);
    rig_run(rig, 120000);
    for (int i = 0; i < 12; i++) {
        fake.forced = FATE_FLIPPED;
        rig_run(rig, 1000);
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_LINE_NOISY), 2);
    rig_end(rig);
}

/* ---- Any faults at all: money is never invented or doubled, and never lost silently ---- */

static void random_faults_invent_no_money(void **state)
{
    (void)state;
    for (uint32_t seed = 1; seed <= 60; seed++) {
        struct rig *rig = begin(seed % 2 == 0 ? CFOIL_ACCEPT_HOLD : CFOIL_ACCEPT_ALL);
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        rig->policy = RIG_MIXED;
        fake.faults = 2 + seed % 10;
        for (int i = 0; i < 300; i++) {
            (void)insert(rig, (uint8_t)(1 + rig_random(rig, 5)));
            rig_run(rig, 1 + rig_random(rig, 1500));
            if (rig_random(rig, 20) == 0)
                (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)(1 + rig_random(rig, 2)));
        }
        fake.faults = 0;
        rig_run(rig, 20000);
        for (uint8_t type = 0; type < 16; type++) {
            assert_true(rig->credited[type] <= fake.stacked[type]);
            assert_true(rig->credited[type] == fake.stacked[type] || rig->shortfalls > 0);
        }
        assert_true(fake.stacked_count > 5);
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_silent_device_is_lost_and_found),
        cmocka_unit_test(another_kind_of_device_is_left_alone),
        cmocka_unit_test(quitting_bars_the_notes),
        cmocka_unit_test(settings_are_refused),
        cmocka_unit_test(a_noisy_line_is_told),
        cmocka_unit_test(random_faults_invent_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
