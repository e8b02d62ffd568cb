/*
 * Notes in a running ccTalk session: taken, held, stacked, returned, and what the device answers to being told so.
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

static struct rig *ready(int32_t accept)
{
    struct rig *rig = rig_begin();
    rig_ready(rig, accept);
    rig_run(rig, 300);
    return rig;
}

/* A note is held by the device and told. */
static struct rig *holding(uint8_t type)
{
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    fake_insert(&rig->fake, type);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
    return rig;
}

static void stack_at_once_test(void **state)
{
    (void)state;
    static const int64_t values[] = {0, 500, 1000, 2000, 5000};
    for (int chunks = 0; chunks < 3; chunks++) {
        struct rig *rig = rig_begin();
        rig->chunks = (enum rig_chunks)chunks;
        rig_ready(rig, CFOIL_ACCEPT_ALL);
        assert_int_equal(rig->fake.mode, 1);
        for (uint8_t type = 1; type <= 4; type++) {
            fake_insert(&rig->fake, type);
            assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 2000));
            const cfoil_adapter_event *event = rig_last(rig, CFOIL_KIND_STACKED);
            assert_int_equal(event->value_minor, values[type]);
            assert_int_equal(event->note_type, type);
            assert_int_equal(event->flags, 0);
            assert_int_equal(event->raw_length, 2);
            assert_int_equal(event->raw[0], type);
            assert_string_equal(event->currency, "EUR");
            assert_string_equal(event->note_name, rig->fake.names[type]);
        }
        assert_int_equal(rig_stacked_check(rig), 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 4);
        assert_int_equal(rig_count(rig, CFOIL_KIND_HELD), 0);
        assert_true(rig->poll_gap_us <= 800000);
        rig_end(rig);
    }
}

/* A device whose mode cannot be changed: escrow does no harm to stacking at once, but without escrow nothing is held. */
static void fixed_mode_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->fake.fixed_mode = 3;
    rig->fake.always_holds = true;
    rig_ready(rig, CFOIL_ACCEPT_ALL);
    fake_insert(&rig->fake, 2);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 3000));
    rig_end(rig);
    rig = rig_begin();
    rig->fake.fixed_mode = 1;
    char error[160];
    assert_int_equal(rig_open(rig, CFOIL_ACCEPT_HOLD, "", error), CFOIL_OK);
    rig_run(rig, 20000);
    assert_int_equal(rig->fake.master, 0);
    rig_end(rig);
}

/* A device that holds although it was told to stack: the note is sent on at once. */
static void stack_at_once_but_held_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->fake.always_holds = true;
    rig_ready(rig, CFOIL_ACCEPT_ALL);
    fake_insert(&rig->fake, 2);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 2000));
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD), 1);
    assert_int_equal(rig->fake.routed_count[1], 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_end(rig);
}

/* A device without escrow stacks at once although it was told to hold. */
static void hold_but_stacked_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->fake.ignores_escrow = true;
    rig_ready(rig, CFOIL_ACCEPT_HOLD);
    fake_insert(&rig->fake, 1);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 2000));
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD), 0);
    rig_end(rig);
}

static void held_stacked_test(void **state)
{
    (void)state;
    for (int chunks = 0; chunks < 3; chunks++) {
        struct rig *rig = holding(3);
        rig->chunks = (enum rig_chunks)chunks;
        assert_int_equal(rig_last(rig, CFOIL_KIND_HELD)->value_minor, 2000);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NOT_READY);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
        assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 1500));
        rig_run(rig, 20000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
        assert_int_equal(rig->fake.routed_count[1], 1);
        assert_int_equal(rig->fake.routed_count[0], 0);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
        rig_end(rig);
    }
}

static void held_returned_test(void **state)
{
    (void)state;
    struct rig *rig = holding(3);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_OK);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_RETURNED, 1500));
    assert_int_equal(rig_last(rig, CFOIL_KIND_RETURNED)->value_minor, 2000);
    assert_int_equal(rig_last(rig, CFOIL_KIND_RETURNED)->note_type, 3);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    rig_run(rig, 20000);
    assert_int_equal(rig->fake.routed_count[0], 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
    rig_end(rig);
}

/* Nobody decides: extended every 5 s for 30 s (default), then the device decides. */
static void hold_default_test(void **state)
{
    (void)state;
    struct rig *rig = holding(1);
    rig_forget(rig);
    rig_run(rig, 29000);
    assert_int_equal(rig->fake.motion, MOTION_ESCROW);
    assert_int_equal(rig->fake.routed_count[255], 5);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_RETURNED, 12000));
    assert_int_equal(rig->fake.routed_count[255], 5);
    assert_true(rig->poll_gap_us <= 800000);
    rig_run(rig, 10000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
    rig_end(rig);
}

static void hold_command_test(void **state)
{
    (void)state;
    struct rig *rig = holding(1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 60000), CFOIL_OK);
    rig_run(rig, 59000);
    assert_int_equal(rig->fake.motion, MOTION_ESCROW);
    assert_in_range(rig->fake.routed_count[255], 11, 13);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 0), CFOIL_OK);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_RETURNED, 12000));
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
    rig_end(rig);
}

/* The end of the hold at every moment relative to the extension: no busy loop (asserted by the rig), no other route. */
static void hold_ends_any_time_test(void **state)
{
    (void)state;
    for (int32_t hold_ms = 0; hold_ms < 11000; hold_ms += 13) {
        struct rig *rig = holding(1);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, hold_ms), CFOIL_OK);
        rig_run(rig, 12000);
        assert_int_equal(rig->fake.routed_count[0] + rig->fake.routed_count[1], 0);
        int32_t sure_ms = hold_ms > 60 ? hold_ms - 60 : 0; /* the line may be busy when it is due */
        assert_in_range(rig->fake.routed_count[255], (sure_ms + 4999) / 5000, (hold_ms + 4999) / 5000);
        rig_end(rig);
    }
}

static void hold_setting_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig_start(rig, CFOIL_ACCEPT_HOLD, "hold_ms=0;poll_ms=100;answer_ms=50");
    rig->answer_us = 50000;
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 10000));
    fake_insert(&rig->fake, 1);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_RETURNED, 12000));
    assert_int_equal(rig->fake.routed_count[255], 0);
    rig_end(rig);
}

/* Every answer to 'stack' and to 'return', once and for ever: the events tell the truth, the other route never comes. */
static void route_answers_test(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_NAK,     FAKE_BUSY,   FAKE_SILENT, FAKE_LOST,   FAKE_FLIPPED,
                                             FAKE_DOUBLED, FAKE_CUT,    FAKE_ANSWER, FAKE_ANSWER, FAKE_ANSWER,
                                             FAKE_HEADER,  FAKE_TAILED, FAKE_GLUED,  FAKE_LATE};
    static const uint32_t values[] = {0, 0, 0, 0, 4, 0, 3, 255, 254, 7, 0, 0, 0, 1500};
    for (uint32_t i = 0; i < 2 * sizeof faults / sizeof faults[0]; i++) {
        bool stack = i % 2 == 0;
        struct rig *rig = holding(2);
        rig->loose = true;
        motion_begin(&rig->fake, MOTION_ESCROW, 15000000);
        fake_rule_add(&rig->fake, 154, faults[i / 2], 0, 1, values[i / 2]);
        assert_int_equal(rig_command(rig, stack ? CFOIL_COMMAND_STACK : CFOIL_COMMAND_RETURN, 0), CFOIL_OK);
        rig_run(rig, 25000);
        assert_int_equal(rig->fake.routed_count[stack ? 0 : 1], 0);
        assert_int_equal(rig_requests(rig, 154, stack ? 0 : 1), 0);
        assert_int_equal(rig_stacked_check(rig), 0);
        bool gone = faults[i / 2] == FAKE_ANSWER && values[i / 2] == 254; /* a false 'empty': the hold runs out */
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), gone ? 1 : 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), stack && !gone ? 1 : 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_RETURNED), stack && !gone ? 0 : 1);
        rig_end(rig);
    }
}

/* The device never moves the note: four tries, then the truth is told, once, and the outcome is still told when it comes. */
static void route_fails_test(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_NAK, FAKE_BUSY, FAKE_SILENT};
    for (int i = 0; i < 4; i++) {
        struct rig *rig = holding(2);
        rig->loose = true;
        rig->fake.escrow_time_us = 60000000;
        if (i < 3)
            fake_rule_add(&rig->fake, 154, faults[i], 0, 4, 0);
        else
            rig->fake.route_fails = 4;
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
        rig_run(rig, 8000);
        assert_int_equal(rig_requests(rig, 154, 1), 4);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        assert_int_equal(rig_logged(rig, "route_failed"), 1);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
        motion_begin(&rig->fake, MOTION_STACK, 1000); /* it goes after all */
        rig_run(rig, 30000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        assert_int_equal(rig_requests(rig, 154, -1), 4);
        rig_end(rig);
    }
}

/* ACK and then no word: told after a while. */
static void outcome_overdue_test(void **state)
{
    (void)state;
    struct rig *rig = holding(2);
    rig->fake.no_outcome = true;
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    rig_run(rig, 60000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_logged(rig, "outcome_overdue"), 1);
    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->value_minor, 1000);
    rig->fake.no_outcome = false;
    fake_insert(&rig->fake, 4);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_HELD, 1000));
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    rig_end(rig);
}

/* The first answer to 'stack' is lost; while the line is dead the device lets the note go and holds the next one. The
 * repeated command must not stack a note that nobody decided about. */
static void route_repeat_other_note_test(void **state)
{
    (void)state;
    for (uint32_t dead_ms = 500; dead_ms < 9000; dead_ms += 250) {
        struct rig *rig = holding(2);
        rig->loose = true;
        fake_rule_add(&rig->fake, 154, FAKE_SILENT, 0, 1, 0);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
        rig_run(rig, 10);
        rig->cut = true;
        motion_begin(&rig->fake, MOTION_OUT, 1000);
        rig_run(rig, 300);
        rig->fake.asleep = false;
        fake_insert(&rig->fake, 4);
        rig_run(rig, dead_ms);
        rig->cut = false;
        rig_run(rig, 4000);
        assert_int_equal(rig->fake.stacked_count, 0);
        assert_int_equal(rig->fake.routed_count[1], 0);
        rig_end(rig);
    }
}

/* Two notes held with not a word between: the first one's fate is not known. */
static void held_twice_test(void **state)
{
    (void)state;
    struct rig *rig = holding(2);
    fake_event(&rig->fake, 3, 1);
    rig_run(rig, 1000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD), 2);
    fake_event(&rig->fake, 4, 0);
    rig_run(rig, 1000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_end(rig);
}

/* A held note of a type without a value goes back; stacked, it is told as such; 'other' second bytes are no money. */
static void unvalued_types_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    rig->fake.moving = 9;
    motion_begin(&rig->fake, MOTION_IN, 1000);
    rig_run(rig, 1000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD), 0);
    assert_int_equal(rig->fake.returned_count, 1);
    fake_event(&rig->fake, 17, 1);
    rig_run(rig, 1500);
    assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->note_type, 17);
    fake_event(&rig->fake, 0, 1);
    rig_run(rig, 500);
    static const uint8_t types[] = {9, 16, 17, 255};
    for (uint32_t i = 0; i < sizeof types; i++) {
        fake_event(&rig->fake, types[i], 0);
        rig_run(rig, 500);
        assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
        assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->note_type, types[i]);
    }
    for (uint32_t b = 2; b < 256; b += 23) {
        fake_event(&rig->fake, 1, (uint8_t)b);
        rig_run(rig, 500);
        assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->condition, CFOIL_CONDITION_UNKNOWN_CODE);
        assert_int_equal(rig_last(rig, CFOIL_KIND_DEVICE)->raw[1], b);
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
    rig_end(rig);
}

/* ---- Accepting, and changing it ---- */

static void accept_none_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_NONE);
    assert_int_equal(rig->fake.master, 0);
    fake_insert(&rig->fake, 1);
    rig_run(rig, 1000);
    assert_int_equal(rig_last(rig, CFOIL_KIND_REJECTED)->reason, CFOIL_REASON_NOT_ENABLED);
    assert_true(rig->poll_gap_us <= 800000);
    rig_end(rig);
}

static void accept_changes_test(void **state)
{
    (void)state;
    static const int32_t order[] = {CFOIL_ACCEPT_HOLD, CFOIL_ACCEPT_ALL,  CFOIL_ACCEPT_NONE, CFOIL_ACCEPT_ALL,
                                    CFOIL_ACCEPT_HOLD, CFOIL_ACCEPT_NONE, CFOIL_ACCEPT_HOLD};
    struct rig *rig = ready(CFOIL_ACCEPT_NONE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, 99, 0), CFOIL_E_ARGUMENT_RANGE);
    for (uint32_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        uint32_t states = rig->state_count;
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, order[i]), CFOIL_OK);
        rig_run(rig, 1000);
        bool none = order[i] == CFOIL_ACCEPT_NONE;
        assert_int_equal(rig->state_count, states + 1);
        assert_int_equal(rig_lane_state(rig), none ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.master, none ? 0 : 1);
        int32_t mode_of = none ? order[i - 1] : order[i]; /* stopping leaves the mode to a note already on its way */
        assert_int_equal(rig->fake.mode, mode_of == CFOIL_ACCEPT_ALL ? 1 : 3);
    }
    assert_true(rig->poll_gap_us <= 800000);
    assert_int_equal(rig->fake.asleep_count, 0);
    rig_end(rig);
}

/* Changes one after the other, at any moment: the last one holds, and polling goes on. */
static void accept_changes_fast_test(void **state)
{
    (void)state;
    for (uint32_t gap_ms = 1; gap_ms < 300; gap_ms += 3) {
        struct rig *rig = ready(CFOIL_ACCEPT_NONE);
        rig->fake.delay_us = 40000;
        for (int32_t i = 0; i < 12; i++) {
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, i % 3), CFOIL_OK);
            rig_run(rig, gap_ms);
        }
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
        rig_run(rig, 2000);
        assert_int_equal(rig->fake.mode, 3);
        assert_int_equal(rig->fake.master, 1);
        assert_true(rig->poll_gap_us <= 800000);
        rig_end(rig);
    }
}

/* Stopped while a note is on its way: it may still finish, and is told. */
static void accept_stop_note_under_way_test(void **state)
{
    (void)state;
    for (uint32_t ms = 0; ms < 600; ms += 20) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        fake_insert(&rig->fake, 1);
        rig_run(rig, ms);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
        rig_run(rig, 3000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 1);
        assert_int_equal(rig_stacked_check(rig), 0);
        rig_end(rig);
    }
}

/* A note held when the host stops accepting can still be decided about. */
static void accept_stop_note_held_test(void **state)
{
    (void)state;
    struct rig *rig = holding(1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    assert_true(rig_run_until_event(rig, CFOIL_KIND_STACKED, 2000));
    rig_end(rig);
}

static void commands_too_early_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig_start(rig, CFOIL_ACCEPT_NONE, "");
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 5), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 10000));
    rig_end(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stack_at_once_test),
        cmocka_unit_test(fixed_mode_test),
        cmocka_unit_test(stack_at_once_but_held_test),
        cmocka_unit_test(hold_but_stacked_test),
        cmocka_unit_test(held_stacked_test),
        cmocka_unit_test(held_returned_test),
        cmocka_unit_test(hold_default_test),
        cmocka_unit_test(hold_command_test),
        cmocka_unit_test(hold_ends_any_time_test),
        cmocka_unit_test(hold_setting_test),
        cmocka_unit_test(route_answers_test),
        cmocka_unit_test(route_fails_test),
        cmocka_unit_test(outcome_overdue_test),
        cmocka_unit_test(route_repeat_other_note_test),
        cmocka_unit_test(held_twice_test),
        cmocka_unit_test(unvalued_types_test),
        cmocka_unit_test(accept_none_test),
        cmocka_unit_test(accept_changes_test),
        cmocka_unit_test(accept_changes_fast_test),
        cmocka_unit_test(accept_stop_note_under_way_test),
        cmocka_unit_test(accept_stop_note_held_test),
        cmocka_unit_test(commands_too_early_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
