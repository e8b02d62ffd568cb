/*
 * Resets of the device, new lives of the host, and silence in between: what is told of the time nobody listened?
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

#include <stdio.h>

static struct rig *ready(int32_t accept)
{
    struct rig *rig = rig_begin();
    rig->loose = true; /* a device that is dark does not answer */
    rig_ready(rig, accept);
    rig_run(rig, 300);
    rig_forget(rig);
    return rig;
}

static void restart_told_once_check(struct rig *rig, int32_t state)
{
    rig_run(rig, 8000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), 0);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_UNKNOWN_CODE), 0);
    assert_int_equal(rig_lane_state(rig), state);
    assert_int_equal(rig->fake.mask[0], 15);
    assert_int_equal(rig->fake.master, state == CFOIL_LANE_ACCEPTING ? 1 : 0);
}

/* ---- Resets ---- */

/* A reset at rest, from several counters, dark for a short or long time, accepting or not. */
static void reset_idle_test(void **state)
{
    (void)state;
    static const uint32_t dark_ms[] = {0, 150, 600, 5000};
    for (uint32_t i = 0; i < 4 * 3 * 4; i++) {
        int32_t accept = (int32_t)(i / 4 % 3);
        struct rig *rig = ready(accept);
        for (uint32_t k = 0; k < i / 12 * 3; k++) {
            fake_event(&rig->fake, 0, 2);
            rig_run(rig, 300);
        }
        fake_reset(&rig->fake, 1000 * (uint64_t)dark_ms[i % 4]);
        restart_told_once_check(rig, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
        rig_end(rig);
    }
}

/* After the reset the counter has gone on, to every small number: only its own events are told. */
static void reset_small_counter_test(void **state)
{
    (void)state;
    for (uint32_t before = 1; before < 12; before++) {
        for (uint32_t after = 1; after < 12; after++) {
            struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
            for (uint32_t k = 0; k < before; k++) {
                fake_event(&rig->fake, 0, 3);
                rig_run(rig, 300);
            }
            rig_forget(rig);
            fake_reset(&rig->fake, 0);
            for (uint32_t k = 0; k < after; k++)
                fake_event(&rig->fake, 0, 2);
            rig_run(rig, 8000);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
            assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED), after < 5 ? after : 5);
            assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), after > 5 ? 1 : 0);
            assert_int_equal(rig_lane_state(rig), after > 5 ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
            rig_end(rig);
        }
    }
}

/* The counter and all pairs read as before by chance: found by 230, nothing credited, told as perhaps short. */
static void reset_equal_test(void **state)
{
    (void)state;
    for (uint32_t count = 0; count < 7; count++) {
        for (int32_t accept = CFOIL_ACCEPT_NONE; accept <= CFOIL_ACCEPT_ALL; accept++) {
            struct rig *rig = ready(accept);
            for (uint32_t k = 0; k < count; k++) {
                fake_event(&rig->fake, 4, 0);
                rig_run(rig, 300);
            }
            rig_forget(rig);
            fake_reset(&rig->fake, 0);
            for (uint32_t k = 0; k < count; k++)
                fake_event(&rig->fake, 4, 0);
            restart_told_once_check(rig, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
            rig_end(rig);
        }
    }
}

/* It continues by chance: the difference is told, and the reset is found all the same. */
static void reset_continues_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    fake_event(&rig->fake, 4, 0);
    rig_run(rig, 300);
    fake_reset(&rig->fake, 0);
    for (uint32_t k = 0; k < 3; k++)
        fake_event(&rig->fake, 4, 0);
    restart_told_once_check(rig, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 3);
    rig_end(rig);
}

/* Was a note told as held and not yet as stacked when the restart was told? */
static bool open_at_restart(const struct rig *rig)
{
    bool open = false;
    for (uint32_t i = 0; i < rig->event_count && rig->events[i].event.condition != CFOIL_CONDITION_RESTARTED; i++) {
        int32_t kind = rig->events[i].event.kind;
        open = kind == CFOIL_KIND_HELD || (open && kind != CFOIL_KIND_STACKED);
    }
    return open;
}

/* A reset with a note in escrow or on its way, and what the device does with the note. */
static void reset_note_test(void **state)
{
    (void)state;
    for (int loss = POWER_LOSS_RETURNS; loss <= POWER_LOSS_STACKS_WITH_EVENT; loss++) {
        for (uint32_t at_ms = 0; at_ms < 1500; at_ms += 50) {
            for (uint32_t dark_ms = 0; dark_ms <= 12000; dark_ms += 4000) {
                struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
                rig->fake.power_loss = (enum fake_power_loss)loss;
                rig->policy = POLICY_STACK;
                rig->decide_after_us = 500000;
                fake_insert(&rig->fake, 3);
                rig_run(rig, at_ms);
                fake_reset(&rig->fake, 1000 * (uint64_t)dark_ms);
                rig_run(rig, dark_ms + 9000);
                uint32_t missing = rig_stacked_check(rig);
                assert_true(missing == 0 || rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) == 1);
                assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), open_at_restart(rig) ? 1 : 0);
                assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
                assert_int_equal(rig_lane_state(rig), CFOIL_LANE_ACCEPTING);
                assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
                rig_end(rig);
            }
        }
    }
}

/* A device that keeps its inhibits over a reset: not proved, so none of its first events is told, and that is said. */
static void reset_inhibits_kept_test(void **state)
{
    (void)state;
    for (uint32_t after = 0; after < 5; after++) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        rig->fake.keeps_inhibits = true;
        for (uint32_t k = 0; k < 7; k++) {
            fake_event(&rig->fake, 0, 2);
            rig_run(rig, 300);
        }
        rig_forget(rig);
        fake_reset(&rig->fake, 0);
        for (uint32_t k = 0; k < after; k++)
            fake_event(&rig->fake, 4, 0);
        restart_told_once_check(rig, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
        fake_insert(&rig->fake, 2);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 2000));
        rig_end(rig);
    }
}

/* A reset in every moment of start-up and of a change of what is accepted. */
static void reset_while_starting_test(void **state)
{
    (void)state;
    for (uint32_t at_ms = 0; at_ms < 1400; at_ms += 7) {
        struct rig *rig = rig_begin();
        rig->loose = true;
        fake_event(&rig->fake, 0, 2);
        fake_event(&rig->fake, 4, 0);
        rig_start(rig, CFOIL_ACCEPT_HOLD, "");
        rig_run(rig, 300 + at_ms);
        fake_reset(&rig->fake, 100000);
        rig_run(rig, 12000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.mask[0], 15);
        assert_int_equal(rig->fake.master, 1);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED), 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), 0);
        rig_end(rig);
    }
}

/* ---- Inhibits changed by somebody else, without a reset ---- */

static void inhibits_changed_test(void **state)
{
    (void)state;
    for (int what = 0; what < 4; what++) {
        struct rig *rig = ready(what == 3 ? CFOIL_ACCEPT_NONE : CFOIL_ACCEPT_HOLD);
        if (what == 0)
            rig->fake.master = 0;
        if (what == 1)
            rig->fake.mask[1] = 1;
        if (what == 2)
            fake_rule_add(&rig->fake, 227, FAKE_ANSWER, 0, 1, 0); /* one false answer does not count */
        if (what == 3)
            rig->fake.master = 1;
        rig_run(rig, 8000);
        assert_int_equal(rig_logged(rig, "setting_changed"), what == 2 ? 0 : 1);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 0);
        assert_int_equal(rig->fake.master, what == 3 ? 0 : 1);
        assert_int_equal(rig->fake.mask[1], 0);
        assert_true(rig->poll_gap_us <= 800000);
        rig_end(rig);
    }
}

/* ---- The host begins a new life ---- */

/* Events while the host was away are told as such, once; the memory follows them. */
static void host_restart_test(void **state)
{
    (void)state;
    for (uint32_t count = 0; count <= 5; count++) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        for (uint32_t i = 0; i < 9; i++) {
            fake_event(&rig->fake, 2, 0);
            rig_run(rig, 300);
        }
        rig_forget(rig);
        for (uint32_t i = 0; i < count; i++)
            fake_event(&rig->fake, (uint8_t)(1 + i % 4), 0);
        for (int life = 0; life < 3; life++) {
            rig_restart(rig, CFOIL_ACCEPT_ALL);
            assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 5000));
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), count);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 0);
        }
        for (uint32_t i = 0; i < rig->event_count; i++) {
            const cfoil_adapter_event *event = &rig->events[i].event;
            assert_int_equal(event->flags, event->kind == CFOIL_KIND_STACKED ? CFOIL_EVENT_WHILE_AWAY : 0);
        }
        rig_end(rig);
    }
}

static void host_restart_jump_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 12; i++)
        fake_event(&rig->fake, (uint8_t)(1 + i % 4), 0);
    rig_restart(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 5000);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_IDLE);
    assert_int_equal(rig_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count, 7);
    assert_int_equal(rig_last(rig, CFOIL_KIND_LOST_EVENTS)->flags, CFOIL_EVENT_WHILE_AWAY);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 5);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 1000));
    rig_end(rig);
}

/* The device was reset as well while the host was away: from any counter, to any small counter. */
static void host_restart_device_reset_test(void **state)
{
    (void)state;
    for (uint32_t before = 0; before < 9; before++) {
        for (uint32_t after = 0; after < 8; after++) {
            struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
            for (uint32_t k = 0; k < before; k++) {
                fake_event(&rig->fake, 1, 0);
                rig_run(rig, 300);
            }
            rig_forget(rig);
            fake_reset(&rig->fake, 0);
            for (uint32_t k = 0; k < after; k++)
                fake_event(&rig->fake, 2, 0);
            for (int life = 0; life < 2; life++) {
                rig_restart(rig, CFOIL_ACCEPT_HOLD);
                rig_run(rig, 6000);
                assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 1);
                assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
                assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), after < 5 ? after : 5);
            }
            rig_end(rig);
        }
    }
}

/* No memory, no serial number, another device, or a memory that is not ours: nothing of the buffer is credited. */
static void base_test(void **state)
{
    (void)state;
    for (int what = 0; what < 6; what++) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        fake_event(&rig->fake, 2, 0);
        rig_run(rig, 1000);
        rig_forget(rig);
        fake_event(&rig->fake, 4, 0);
        fake_event(&rig->fake, 4, 0);
        if (what == 0)
            memset(rig->memories, 0, sizeof rig->memories);
        if (what == 1)
            rig->fake.serial++;
        if (what == 2)
            rig->fake.serial_length = 0;
        if (what == 3)
            rig->fake.serial_length = 4;
        if (what == 4)
            rig->memories[0].bytes[0]++; /* another version */
        if (what == 5)
            rig->memories[0].length--;
        rig_restart(rig, CFOIL_ACCEPT_ALL);
        assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 5000));
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), what == 3 ? 2 : 0);
        fake_event(&rig->fake, 1, 0);
        rig_run(rig, 1000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), what == 3 ? 3 : 1);
        rig_end(rig);
    }
}

/* A serial number of four bytes, and one of another length. */
static void serial_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->fake.serial = 4000000000u;
    rig->fake.serial_length = 4;
    rig_ready(rig, CFOIL_ACCEPT_HOLD);
    assert_string_equal(rig->memories[0].device, "cctalk/4000000000");
    rig_end(rig);
    rig = rig_begin();
    rig->loose = true;
    rig->fake.serial_length = 2;
    rig_ready(rig, CFOIL_ACCEPT_HOLD);
    assert_string_equal(rig->memories[0].device, "");
    rig_end(rig);
}

/* A note held when the host ended: its outcome is among the events, or is told as not known, once. */
static void host_restart_held_test(void **state)
{
    (void)state;
    for (int what = 0; what < 5; what++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        fake_insert(&rig->fake, 2);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
        rig_run(rig, 100);
        rig->fake.motion = what == 4 ? MOTION_ESCROW : MOTION_NONE;
        if (what == 0)
            fake_event(&rig->fake, 2, 0);
        if (what == 1)
            fake_event(&rig->fake, 0, 1);
        if (what == 2)
            fake_reset(&rig->fake, 0);
        for (int i = 0; i < 9 && what == 3; i++)
            fake_event(&rig->fake, 0, 2);
        rig_forget(rig);
        for (int life = 0; life < 3; life++) {
            rig_restart(rig, CFOIL_ACCEPT_HOLD);
            rig_run(rig, 5000);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), what > 1 ? 1 : 0);
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), what == 0 ? 1 : 0);
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
        }
        assert_int_equal(rig_count(rig, CFOIL_KIND_RETURNED), what == 1 || what == 4 ? 1 : 0);
        assert_int_equal(rig->fake.routed_count[1], 0);
        rig_end(rig);
    }
}

/* Held while the host was away and still in escrow: told, and can be decided about. */
static void held_while_away_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    rig->fake.moving = 2;
    motion_begin(&rig->fake, MOTION_IN, 1000);
    rig_restart(rig, CFOIL_ACCEPT_HOLD);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 5000));
    assert_int_equal(rig_last(rig, CFOIL_KIND_HELD)->flags, CFOIL_EVENT_WHILE_AWAY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 3000));
    rig_end(rig);
}

/* ---- Silence ---- */

/* Silent for a time, with notes and events in between: LOST after 10 s, then all is told. */
static void silence_test(void **state)
{
    (void)state;
    for (uint32_t silent_ms = 1000; silent_ms < 30000; silent_ms += 1700) {
        for (uint32_t count = 0; count < 8; count++) {
            struct rig *rig = ready(CFOIL_ACCEPT_ALL);
            fake_event(&rig->fake, 1, 0);
            rig_run(rig, 500);
            rig->cut = true;
            for (uint32_t i = 0; i < count; i++)
                fake_event(&rig->fake, (uint8_t)(1 + i % 4), 0);
            rig_run(rig, silent_ms);
            assert_true(silent_ms < 10000 || silent_ms > 13000 || rig_lane_state(rig) == CFOIL_LANE_LOST);
            assert_true(silent_ms > 9500 || rig_lane_state(rig) == CFOIL_LANE_ACCEPTING);
            rig->cut = false;
            rig_run(rig, 6000);
            assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1 + (count < 5 ? count : 5));
            assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), count > 5 ? 1 : 0);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 0);
            assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_IDENTIFIED), 0);
            assert_int_equal(rig_lane_state(rig), count > 5 ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
            rig_end(rig);
        }
    }
}

/* Silence with a note held: decided by the device meanwhile, or still there. */
static void silence_held_test(void **state)
{
    (void)state;
    for (int what = 0; what < 3; what++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        fake_insert(&rig->fake, 3);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
        rig->cut = true;
        motion_begin(&rig->fake, what == 0 ? MOTION_STACK : what == 1 ? MOTION_OUT : MOTION_ESCROW, 60000000);
        if (what < 2)
            rig->fake.motion_us = rig->now_us + 1000000;
        rig_run(rig, 15000);
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_LOST);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK); /* waits */
        rig->cut = false;
        rig_run(rig, 5000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), what == 1 ? 0 : 1);
        assert_int_equal(rig_count(rig, CFOIL_KIND_RETURNED), what == 1 ? 1 : 0);
        assert_int_equal(rig->fake.routed_count[1], what == 2 ? 1 : 0);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
        rig_end(rig);
    }
}

/* Off and on again: lost, then a restart. */
static void power_cycle_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    for (uint32_t k = 0; k < 20; k++) {
        fake_event(&rig->fake, 0, 2);
        rig_run(rig, 300);
    }
    rig_forget(rig);
    fake_reset(&rig->fake, 20000000);
    rig_run(rig, 15000);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_LOST);
    rig_run(rig, 5000);
    fake_event(&rig->fake, 0, 12); /* told at power-up by some devices */
    restart_told_once_check(rig, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_STACKER_IN_PLACE), 1);
    rig_end(rig);
}

/* Another device on the same port: its own number, notes and counter; the held note of the first is not known. */
static void device_exchanged_test(void **state)
{
    (void)state;
    for (int without_number = 0; without_number < 2; without_number++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        fake_insert(&rig->fake, 2);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
        rig->cut = true;
        rig_run(rig, 15000);
        rig->fake.serial = 77;
        rig->fake.serial_length = without_number != 0 ? 0 : 3;
        rig->fake.product = "";
        rig->fake.names[2] = "EU0100B";
        rig->fake.motion = MOTION_NONE;
        fake_reset(&rig->fake, 0);
        fake_event(&rig->fake, 2, 0);
        fake_event(&rig->fake, 2, 0);
        rig->cut = false;
        rig_run(rig, 5000);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_IDENTIFIED), 1);
        assert_null(strstr(rig_last(rig, CFOIL_KIND_DEVICE)->text, "NV"));
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
        fake_insert(&rig->fake, 2);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
        assert_int_equal(rig_last(rig, CFOIL_KIND_HELD)->value_minor, 10000);
        rig_end(rig);
    }
}

/* Exchanged so quickly that it was never lost: the new device's events are valued by its own notes, under its number. */
static void device_exchanged_quickly_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    fake_event(&rig->fake, 2, 0);
    rig_run(rig, 500);
    rig_forget(rig);
    rig->fake.serial = 77;
    rig->fake.names[2] = "EU0100B";
    fake_reset(&rig->fake, 1000000);
    rig_run(rig, 500);
    fake_event(&rig->fake, 2, 0);
    rig_run(rig, 8000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0); /* nothing was known of it */
    assert_string_equal(rig->memories[1].device, "cctalk/77");
    rig_end(rig);
}

/* The serial number is not heard when the device comes back: it is not taken for another device. */
static void serial_missed_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    rig->cut = true;
    rig_run(rig, 15000);
    fake_event(&rig->fake, 2, 0);
    fake_rule_add(&rig->fake, 242, FAKE_SILENT, 0, 5, 0);
    rig->cut = false;
    rig_run(rig, 15000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
    rig_end(rig);
}

/* 159 is refused for ever while everything else is answered: lost, not ready. */
static void deaf_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    fake_rule_add(&rig->fake, 159, FAKE_NAK, 0, 100000, 0);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_LOST, 12000));
    rig_run(rig, 20000);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_STARTING);
    fake_rules_clear(&rig->fake);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 10000));
    rig_end(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reset_idle_test),
        cmocka_unit_test(reset_small_counter_test),
        cmocka_unit_test(reset_equal_test),
        cmocka_unit_test(reset_continues_test),
        cmocka_unit_test(reset_inhibits_kept_test),
        cmocka_unit_test(reset_note_test),
        cmocka_unit_test(reset_while_starting_test),
        cmocka_unit_test(inhibits_changed_test),
        cmocka_unit_test(host_restart_test),
        cmocka_unit_test(host_restart_jump_test),
        cmocka_unit_test(host_restart_device_reset_test),
        cmocka_unit_test(base_test),
        cmocka_unit_test(serial_test),
        cmocka_unit_test(host_restart_held_test),
        cmocka_unit_test(held_while_away_test),
        cmocka_unit_test(silence_test),
        cmocka_unit_test(silence_held_test),
        cmocka_unit_test(power_cycle_test),
        cmocka_unit_test(device_exchanged_test),
        cmocka_unit_test(device_exchanged_quickly_test),
        cmocka_unit_test(serial_missed_test),
        cmocka_unit_test(deaf_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
