/*
 * What a ccTalk session makes of each event code, of faults, and of the event counter.
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

#include "cctalk/codes.h"

static struct rig *ready(int32_t accept)
{
    struct rig *rig = rig_begin();
    rig_ready(rig, accept);
    rig_run(rig, 300);
    rig_forget(rig);
    return rig;
}

/* Every code, at its place in the table, with nothing held: one event with its raw pair; what follows is by category. */
static void codes_test(void **state)
{
    (void)state;
    for (uint32_t code = 0; code < 256; code++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        const struct cctalk_event_code *row = cctalk_event_code_find((uint8_t)code);
        fake_event(&rig->fake, 0, (uint8_t)code);
        rig_run(rig, 3000);
        assert_true(rig->event_count >= 1);
        const cfoil_adapter_event *event = &rig->events[0].event;
        assert_int_equal(event->kind, row->kind);
        assert_int_equal(event->reason, row->reason);
        assert_int_equal(event->condition, row->condition);
        assert_int_equal(event->reasons_possible, row->reasons_possible);
        assert_int_equal(event->finding_count, row->channel >= 0 ? 1 : 0);
        assert_int_equal(event->raw_length, 2);
        assert_int_equal(event->raw[0], 0);
        assert_int_equal(event->raw[1], code);
        assert_int_equal(event->value_minor, 0);
        bool fatal = row->category == CCTALK_CATEGORY_FATAL;
        bool fraud = row->category == CCTALK_CATEGORY_FRAUD;
        assert_int_equal(rig->event_count, fatal ? 2 : 1); /* the self-check is clean */
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT_CLEARED), fatal ? 1 : 0);
        assert_int_equal(rig_lane_state(rig), fraud ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.master, fraud ? 0 : 1);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
        assert_true(rig->poll_gap_us <= 800000);
        if (fraud) {
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
            rig_run(rig, 1000);
            assert_int_equal(rig->fake.master, 0);
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
            assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 1000));
        }
        rig_end(rig);
    }
}

/* The same with a note held: fatal and fraud codes leave its fate open, told once; a credit later is still told. */
static void codes_held_test(void **state)
{
    (void)state;
    for (uint32_t code = 0; code < 23; code++) {
        for (int stacking = 0; stacking < 2; stacking++) {
            struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
            const struct cctalk_event_code *row = cctalk_event_code_find((uint8_t)code);
            bool halts = row->category == CCTALK_CATEGORY_FATAL || row->category == CCTALK_CATEGORY_FRAUD;
            fake_insert(&rig->fake, 2);
            assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
            if (stacking != 0)
                assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
            rig_run(rig, 50);
            rig->fake.motion = MOTION_NONE;
            fake_event(&rig->fake, 0, (uint8_t)code);
            rig_run(rig, 1000);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), halts ? 1 : 0);
            int32_t command = rig_command(rig, CFOIL_COMMAND_RETURN, 0);
            if (code == 1)
                assert_int_equal(command, CFOIL_E_STATE_NO_NOTE);
            fake_event(&rig->fake, 2, 0);
            rig_run(rig, 1000);
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
            assert_int_equal(rig_last(rig, CFOIL_KIND_STACKED)->value_minor, 1000);
            rig_run(rig, 15000);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), halts ? 1 : 0);
            assert_int_equal(rig_requests(rig, 154, 1) > 0, stacking != 0);
            rig_end(rig);
        }
    }
}

/* ---- Faults ---- */

static void fault_at_start_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->fake.fault = 38;
    rig_start(rig, CFOIL_ACCEPT_HOLD, "");
    assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 5000));
    assert_int_equal(rig->states[rig->state_count - 1].result, CFOIL_E_DEVICE_FAULT);
    rig_run(rig, 10000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 1);
    assert_string_equal(rig_last(rig, CFOIL_KIND_DEVICE)->raw_text, "self-check 38");
    assert_non_null(strstr(rig_last(rig, CFOIL_KIND_DEVICE)->text, "stacker"));
    assert_int_equal(rig->fake.master, 0);
    assert_in_range(rig_requests(rig, 232, -1), 4, 5);
    rig->fake.fault = 36;
    rig->fake.fault_extra = 2;
    rig_run(rig, 4000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 2);
    assert_string_equal(rig_last(rig, CFOIL_KIND_DEVICE)->raw_text, "self-check 36,2");
    assert_non_null(strstr(rig_last(rig, CFOIL_KIND_DEVICE)->text, "(sensor 2)"));
    rig->fake.fault = 0;
    rig->fake.fault_extra = -1;
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 6000));
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
    rig_end(rig);
}

/* Codes without a row, extra bytes without a name. */
static void fault_texts_test(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        struct rig *rig = rig_begin();
        rig->fake.fault = i == 0 ? 200 : 37;
        rig->fake.fault_extra = i == 2 ? -1 : 9;
        rig_start(rig, CFOIL_ACCEPT_HOLD, "");
        assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 5000));
        assert_non_null(strstr(rig_last(rig, CFOIL_KIND_DEVICE)->text, i == 0 ? "do not have" : "motor"));
        rig_end(rig);
    }
}

/* A fatal event while running: self-checks every few seconds until clean, polled all the while. */
static void fault_running_test(void **state)
{
    (void)state;
    for (int32_t accept = CFOIL_ACCEPT_NONE; accept <= CFOIL_ACCEPT_ALL; accept++) {
        struct rig *rig = ready(accept);
        rig->fake.fault = 39;
        fake_event(&rig->fake, 0, 6);
        assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 1000));
        rig_run(rig, 10000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
        assert_int_equal(rig->fake.master, 0);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 1);
        assert_in_range(rig_requests(rig, 232, -1), 3, 5);
        assert_true(rig_requests(rig, 159, -1) > 40);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
        rig_run(rig, 1000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT); /* the device, not the host, says when it is over */
        assert_int_equal(rig->fake.master, 0);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, accept), CFOIL_OK);
        rig->fake.fault = 0;
        rig_run(rig, 5000);
        assert_int_equal(rig_lane_state(rig), accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
        rig_end(rig);
    }
}

/* 232 answered with NAK, BUSY or silence while faulty, here and at start-up: it stays a fault until it is clean. */
static void fault_check_refused_test(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_NAK, FAKE_BUSY, FAKE_SILENT};
    for (int i = 0; i < 6; i++) {
        struct rig *rig = i < 3 ? ready(CFOIL_ACCEPT_HOLD) : rig_begin();
        rig->loose = true;
        rig->fake.fault = 39;
        if (i < 3)
            fake_event(&rig->fake, 0, 7);
        else
            rig_start(rig, CFOIL_ACCEPT_HOLD, "");
        assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 5000));
        rig_run(rig, 100);
        fake_rule_add(&rig->fake, 232, faults[i % 3], 0, 100000, 0);
        rig->fake.fault = 0;
        rig_run(rig, 9000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
        assert_int_equal(rig->fake.master, 0);
        fake_rules_clear(&rig->fake);
        assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 15000));
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
        rig_end(rig);
    }
}

/* A device that falls silent in a fault at start-up is lost all the same. */
static void fault_then_silent_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->loose = true;
    rig->fake.fault = 39;
    rig_start(rig, CFOIL_ACCEPT_HOLD, "");
    assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 5000));
    rig->cut = true;
    assert_true(rig_run_until_state(rig, CFOIL_LANE_LOST, 18000));
    rig->cut = false;
    assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 8000));
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 1);
    rig_end(rig);
}

/* Without a self-check: the stacker's word, or the host's, ends a fault. */
static void fault_no_self_check_test(void **state)
{
    (void)state;
    for (int host = 0; host < 2; host++) {
        struct rig *rig = rig_begin();
        rig->fake.answers_232 = false;
        rig_ready(rig, CFOIL_ACCEPT_HOLD);
        fake_event(&rig->fake, 0, 15);
        assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 1000));
        rig_run(rig, 10000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
        assert_int_equal(rig->fake.master, 0);
        fake_event(&rig->fake, 0, 11);
        rig_run(rig, 1000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
        if (host != 0)
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
        else
            fake_event(&rig->fake, 0, 12);
        assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 2000));
        rig_end(rig);
    }
}

/* In a fault the device restarts: the lane says so, and still knows of the fault. */
static void fault_and_restart_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    rig->loose = true;
    rig->fake.fault = 39;
    fake_event(&rig->fake, 0, 6);
    rig_run(rig, 5000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 1);
    fake_reset(&rig->fake, 500000);
    rig_run(rig, 6000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 1);
    rig->fake.fault = 0;
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 9000));
    rig_end(rig);
}

/* The same, and the device restarts: it cannot say that it is in order, so the host must. */
static void fault_no_self_check_restart_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->loose = true;
    rig->fake.answers_232 = false;
    rig_ready(rig, CFOIL_ACCEPT_HOLD);
    fake_event(&rig->fake, 0, 6);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_FAULT, 1000));
    fake_reset(&rig->fake, 200000);
    rig_run(rig, 5000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_FAULT);
    assert_int_equal(rig->fake.master, 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 2000));
    rig_end(rig);
}

/* ---- The counter ---- */

/* From every counter, one to five new events: each told once, in order. */
static void counter_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    uint32_t told = 0;
    for (uint32_t turn = 0; turn < 600; turn++) {
        uint32_t count = 1 + turn % 5;
        for (uint32_t i = 0; i < count; i++)
            fake_event(&rig->fake, (uint8_t)(1 + (turn + i) % 4), 0);
        rig_run(rig, 500);
        told += count;
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), told);
        for (uint32_t i = 0; i < count; i++)
            assert_int_equal(rig->events[told - count + i].event.note_type, 1 + (turn + i) % 4);
    }
    assert_int_equal(rig->event_count, told);
    rig_end(rig);
}

/* From many counters, a jump of 6 to 254: the number lost is told first, then the five there are; then no notes. */
static void counter_jump_test(void **state)
{
    (void)state;
    for (uint32_t start = 0; start < 256; start += 15) {
        for (uint32_t jump = 6; jump < 255; jump += jump < 10 ? 1 : 13) {
            struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
            for (uint32_t i = 0; i < start; i++)
                fake_event(&rig->fake, 0, 2);
            rig_restart(rig, CFOIL_ACCEPT_HOLD);
            memset(rig->memories, 0, sizeof rig->memories);
            assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 5000));
            rig_run(rig, 300);
            rig_forget(rig);
            for (uint32_t i = 0; i < jump; i++)
                fake_event(&rig->fake, (uint8_t)(1 + i % 4), 0);
            rig_run(rig, 2000);
            if (rig_count(rig, CFOIL_KIND_LOST_EVENTS) != 1) {
                rig_dump(rig);
                fail_msg("start %u jump %u", start, jump);
            }
            assert_int_equal(rig->events[0].event.kind, CFOIL_KIND_LOST_EVENTS);
            assert_int_equal(rig->events[0].event.lost_count, jump - 5);
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 5);
            assert_int_equal(rig->events[5].event.note_type, 1 + (jump - 1) % 4);
            assert_int_equal(rig_lane_state(rig), CFOIL_LANE_IDLE);
            assert_int_equal(rig->fake.master, 0);
            rig_end(rig);
        }
    }
}

/* After lost events: blocked until the host accepts again, not by NONE; polling and events go on. */
static void blocked_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 7; i++)
        fake_event(&rig->fake, 1, 0);
    rig_run(rig, 2000);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_IDLE);
    fake_event(&rig->fake, 2, 0);
    rig_run(rig, 1000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 6);
    assert_int_equal(rig->fake.master, 0);
    assert_true(rig->poll_gap_us <= 800000);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->fake.master, 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig->fake.master, 1);
    rig_end(rig);
}

/* Lost events while a note is held: what became of it may be among them. */
static void jump_held_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    fake_insert(&rig->fake, 2);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
    for (uint32_t i = 0; i < 7; i++)
        fake_event(&rig->fake, 0, 2);
    rig_run(rig, 1000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_run(rig, 20000); /* it goes back when the hold runs out */
    assert_int_equal(rig_count(rig, CFOIL_KIND_RETURNED), 1);
    assert_int_equal(rig_last(rig, CFOIL_KIND_RETURNED)->value_minor, 1000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    rig_end(rig);
}

/* Pairs that do not continue what was read, inhibits as we set them: nothing is credited, a person must count. */
static void history_broken_test(void **state)
{
    (void)state;
    /* The counter, from 9 on; the last goes round (255 is followed by 1): so many events leave no old pair, five are new. */
    static const struct {
        uint8_t counter;
        uint32_t lost;
        uint32_t told;
    } rows[] = {{9, 255, 0}, {10, 1, 0}, {11, 2, 0}, {12, 3, 0}, {7, 248, 5}};
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        for (uint8_t k = 0; k < 9; k++) {
            fake_event(&rig->fake, (uint8_t)(1 + k % 4), 0);
            rig_run(rig, 300);
        }
        rig_forget(rig);
        for (uint8_t k = 0; k < 10; k += 2)
            rig->fake.pairs[k] = 4;
        rig->fake.counter = rows[i].counter;
        rig_run(rig, 2000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), rows[i].told);
        assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), 1);
        assert_int_equal(rig_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count, rows[i].lost);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_IDLE);
        fake_event(&rig->fake, 1, 0);
        rig_run(rig, 1000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), rows[i].told + 1);
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(codes_test),
        cmocka_unit_test(codes_held_test),
        cmocka_unit_test(fault_at_start_test),
        cmocka_unit_test(fault_texts_test),
        cmocka_unit_test(fault_running_test),
        cmocka_unit_test(fault_check_refused_test),
        cmocka_unit_test(fault_then_silent_test),
        cmocka_unit_test(fault_no_self_check_test),
        cmocka_unit_test(fault_no_self_check_restart_test),
        cmocka_unit_test(fault_and_restart_test),
        cmocka_unit_test(counter_test),
        cmocka_unit_test(counter_jump_test),
        cmocka_unit_test(blocked_test),
        cmocka_unit_test(jump_held_test),
        cmocka_unit_test(history_broken_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
