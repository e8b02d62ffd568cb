/*
 * The ccTalk description of examples/descriptions against the fake ccTalk validator: an event buffer with a counter, read
 * exactly once through every fault of the line, resets, and new lives of the host.
 */
#include "described_rig.h"

#include "fake_validator.c"

static struct fake fake;

static void on_heard(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    struct fake_answer answer;
    fake_request(&fake, bytes, length, rig->now_us, &answer);
    if (answer.length > 0)
        rig_put(rig, answer.bytes, answer.length, answer.delay_us);
}

static uint64_t on_life(struct rig *rig)
{
    fake_advance(&fake, rig->now_us);
    uint64_t next_us = fake_next(&fake);
    return next_us > rig->now_us ? rig_sooner(next_us, rig->now_us + 50000) : rig->now_us + 1000;
}

static struct rig *begin(int32_t accept)
{
    struct rig *rig = rig_of_example("cctalk-events");
    fake_begin(&fake);
    fake.now_us = rig->now_us;
    rig->heard = on_heard;
    rig->lives = on_life;
    rig->life_us = rig->now_us;
    rig_open(rig, accept);
    return rig;
}

static struct rig *begin_ready(int32_t accept)
{
    struct rig *rig = begin(accept);
    rig_run(rig, 3000);
    assert_int_equal(rig->state_now, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING);
    return rig;
}

static void truth_check(const struct rig *rig)
{
    uint32_t stacked[256] = {0};
    for (uint32_t i = 0; i < fake.stacked_count; i++)
        stacked[fake.stacked[i]]++;
    for (uint32_t type = 0; type < 256; type++) {
        if (rig->credited[type] > stacked[type])
            fail_msg("type %u: %u stacked, %u credited", type, stacked[type], rig->credited[type]);
        assert_true(rig->credited[type] == stacked[type] || rig->shortfalls > 0);
    }
}

static void notes_are_held_stacked_and_returned(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum rig_chunks)chunks;
        rig->policy = RIG_STACKS;
        for (uint8_t type = 1; type <= 4; type++) {
            assert_true(fake_insert(&fake, type));
            rig_run(rig, 3000);
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_STACKED);
            assert_int_equal(rig_last(rig)->note_type, type);
            assert_string_equal(rig_last(rig)->note_name, fake.names[type]);
            assert_int_equal(rig_last(rig)->raw_length, 2);
        }
        rig->policy = RIG_RETURNS;
        assert_true(fake_insert(&fake, 2));
        rig_run(rig, 3000);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
        assert_int_equal(rig_last(rig)->value_minor, 1000);
        rig->policy = RIG_UNDECIDED;
        assert_true(fake_insert(&fake, 3));
        rig_run(rig, 25000); /* the device would give it back after 10 s: its time is extended */
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
        rig_run(rig, 10000);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
        assert_int_equal(rig_credits(rig), 4);
        assert_int_equal(rig->shortfalls, 0);
        rig_end(rig);
    }
}

static void each_counter_value_is_passed(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 300; i++) {
        fake_event(&fake, 0, 2);
        if (i % 7 == 0)
            fake_event(&fake, 0, 3);
        rig_run(rig, 450);
    }
    rig_run(rig, 1000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), 300 + 43);
    assert_int_equal(rig->event_count, 1 + 300 + 43);
    rig_end(rig);
}

static void too_many_events_are_told_as_lost(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    for (uint8_t i = 0; i < 9; i++)
        fake_event(&fake, 1 + i % 4, 0);
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    assert_int_equal(rig->events[1].lost_count, 4);
    assert_int_equal(rig_credits(rig), 5);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    rig_run(rig, 2000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    /* A full buffer of new ones: nothing old proves it, and after another look it is believed. */
    for (uint8_t i = 0; i < 5; i++)
        fake_event(&fake, 2, 0);
    rig_run(rig, 3000);
    assert_int_equal(rig_credits(rig), 10);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    rig_end(rig);
}

static void a_buffer_that_does_not_continue_is_not_credited(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    for (uint8_t i = 0; i < 5; i++)
        fake_event(&fake, 0, 2);
    rig_run(rig, 2000);
    fake_event(&fake, 0, 3);
    memset(fake.pairs + 2, 1, 8);
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 1);
    assert_int_equal(rig_credits(rig), 0);
    memset(fake.pairs, 3, 10); /* the counter stands, and yet all is different */
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS, 0), 2);
    assert_int_equal(rig_credits(rig), 0);
    rig_end(rig);
}

static void a_reset_is_told_and_nothing_is_doubled(void **state)
{
    (void)state;
    for (int32_t power_loss = POWER_LOSS_RETURNS; power_loss <= POWER_LOSS_STACKS_WITH_EVENT; power_loss++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        fake.power_loss = (enum fake_power_loss)power_loss;
        rig->policy = RIG_STACKS;
        for (int i = 0; i < 7; i++) {
            assert_true(fake_insert(&fake, 2));
            rig_run(rig, 2500);
        }
        rig->policy = RIG_UNDECIDED;
        assert_true(fake_insert(&fake, 3));
        rig_run(rig, 1000);
        fake_reset(&fake, 500000);
        rig_run(rig, 8000);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
        rig->policy = RIG_STACKS;
        assert_true(fake_insert(&fake, 1));
        rig_run(rig, 3000);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_STACKED);
        truth_check(rig);
        rig_end(rig);
    }
}

static void a_reset_that_no_counter_shows_is_seen_by_the_settings(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    fake_reset(&fake, 0); /* the counter was 0 and is 0 */
    rig_run(rig, 8000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    fake_event(&fake, 1, 0);
    fake_event(&fake, 2, 0);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 2);
    fake_reset(&fake, 0); /* and as many events as before, before anybody looks */
    fake_event(&fake, 3, 0);
    fake_event(&fake, 4, 0);
    rig_run(rig, 8000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 2);
    assert_int_equal(rig_credits(rig), 4);
    rig_end(rig);
}

static void a_device_that_keeps_its_settings_is_not_believed_blindly(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    fake.keeps_inhibits = true;
    for (int i = 0; i < 8; i++) {
        fake_event(&fake, 0, 2);
        rig_run(rig, 800);
    }
    fake_reset(&fake, 0);
    fake_event(&fake, 3, 0);
    rig_run(rig, 8000);
    /* Likely a reset, but not proved: nothing in the buffer is credited, and that is said. */
    assert_int_equal(rig_credits(rig), 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    fake_event(&fake, 2, 0);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

/* ---- New lives of the host ---- */

static void what_happened_while_away_is_told_once(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    fake_event(&fake, 1, 0);
    rig_run(rig, 2000);
    fake_event(&fake, 2, 0);
    fake_event(&fake, 0, 2);
    uint32_t before = rig->event_count;
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 5000);
    assert_int_equal(rig_credits(rig), 2);
    assert_int_equal(rig->events[before + 1].kind, CFOIL_KIND_STACKED);
    assert_int_equal(rig->events[before + 1].flags, CFOIL_EVENT_WHILE_AWAY);
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 5000);
    assert_int_equal(rig_credits(rig), 2);
    assert_int_equal(rig->shortfalls, 0);
    rig_end(rig);
}

static void a_note_held_when_the_host_ended_is_accounted_for(void **state)
{
    (void)state;
    for (int outcome = 0; outcome < 3; outcome++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        assert_true(fake_insert(&fake, 3));
        rig_run(rig, 1500);
        assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
        if (outcome == 0)
            fake_event(&fake, 3, 0);
        else if (outcome == 1)
            fake_event(&fake, 0, 1);
        fake.motion = MOTION_NONE;
        rig_open(rig, CFOIL_ACCEPT_HOLD);
        rig_run(rig, 5000);
        assert_int_equal(rig_credits(rig), outcome == 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_RETURNED, 0), outcome == 1);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), outcome == 2);
        rig_end(rig);
    }
}

static void a_reset_while_away_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    fake_event(&fake, 1, 0);
    fake_event(&fake, 1, 0);
    rig_run(rig, 2000);
    fake_reset(&fake, 0);
    fake_event(&fake, 2, 0);
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 6000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_credits(rig), 3); /* proved by the settings: all that it counted since is news */
    fake_reset(&fake, 0);
    fake_event(&fake, 2, 0); /* as before: only the settings tell */
    rig_open(rig, CFOIL_ACCEPT_ALL);
    rig_run(rig, 6000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 2);
    assert_int_equal(rig_credits(rig), 3);
    rig_end(rig);
}

static void memory_of_another_kind_is_not_used(void **state)
{
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
        fake_event(&fake, 1, 0);
        rig_run(rig, 2000);
        if (kind == 0)
            rig->memory[0] = 9;
        else if (kind == 1)
            rig->memory[1] = 200;
        else if (kind == 2)
            rig->memory[5] = 1;
        else
            rig->memory_length--;
        fake_event(&fake, 2, 0);
        rig_open(rig, CFOIL_ACCEPT_ALL);
        rig_run(rig, 5000);
        assert_int_equal(rig_credits(rig), 1); /* what is in the buffer now is not ours */
        rig_end(rig);
    }
}

static void another_device_in_its_place_is_another(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(fake_insert(&fake, 3));
    rig_run(rig, 1500);
    fake.motion = MOTION_NONE;
    fake.dark_until_us = rig->now_us + 15000000;
    rig_run(rig, 14000);
    assert_int_equal(rig->state_now, CFOIL_LANE_LOST);
    fake.serial = 4711;
    fake.counter = 99;
    fake.pairs[0] = 4;
    rig_run(rig, 8000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 2);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_credits(rig), 0);
    rig_end(rig);
}

/* ---- What the device reports of itself ---- */

static void a_fault_lasts_until_the_self_check_is_good(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    fake.fault = 38;
    fake_event(&fake, 0, 15);
    rig_run(rig, 10000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_int_equal(fake.master & 1, 0);
    fake.fault = 0;
    rig_run(rig, 5000);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_FAULT_CLEARED);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
    rig = begin(CFOIL_ACCEPT_HOLD);
    fake.fault = 38; /* from the beginning */
    rig_run(rig, 6000);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_FAULT), 1);
    fake.fault = 0;
    rig_run(rig, 5000);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_device_with_other_notes_is_not_started(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.names[2] = "EU0500A";
    rig_run(rig, 20000);
    assert_int_equal(rig->state_now, CFOIL_LANE_STARTING);
    assert_int_equal(fake.master & 1, 0);
    rig_end(rig);
}

static void a_route_that_fails_is_tried_again_and_then_told(void **state)
{
    (void)state;
    for (uint32_t fails = 2; fails < 20; fails += 10) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->policy = RIG_STACKS;
        fake.route_fails = fails;
        assert_true(fake_insert(&fake, 3));
        rig_run(rig, 9000);
        assert_int_equal(rig_credits(rig), fails == 2 ? 1 : 0);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), fails == 2 ? 0 : 1);
        rig_end(rig);
    }
}

static void quitting_bars_the_notes(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_int_equal(fake.master & 1, 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(fake.master & 1, 0);
    rig_end(rig);
    rig = begin(CFOIL_ACCEPT_HOLD); /* while it is being set */
    for (int i = 0; i < 100; i++) {
        rig_run(rig, 10);
        if ((fake.master & 1) != 0)
            break;
    }
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(fake.master & 1, 0);
    rig_end(rig);
}

static void answers_that_never_agree_are_not_believed(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    for (int i = 0; i < 400; i++) {
        fake.counter = (uint8_t)(1 + rig_random(rig, 255));
        fake.pairs[0] = (uint8_t)rig_random(rig, 5);
        fake.pairs[4] = (uint8_t)rig_random(rig, 5);
        rig_run(rig, 8);
    }
    assert_int_equal(rig_credits(rig), 0);
    rig_end(rig);
}

/* ---- Faults of the line ---- */

static void each_fault_of_each_answer_is_survived(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_NAK,     FAKE_BUSY,   FAKE_SILENT, FAKE_LOST,
                                             FAKE_DOUBLED, FAKE_CUT,    FAKE_LATE,   FAKE_GLUED,
                                             FAKE_TAILED,  FAKE_HEADER, FAKE_STALE,  FAKE_FLIPPED};
    static const uint8_t headers[] = {254, 245, 242, 228, 157, 156, 232, 159, 153, 152, 231, 230, 227, 154};
    for (size_t f = 0; f < sizeof faults / sizeof faults[0]; f++) {
        for (size_t h = 0; h < sizeof headers; h++) {
            struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
            rig->policy = RIG_STACKS;
            fake_rule_add(&fake, headers[h], faults[f], 0, 1, faults[f] == FAKE_LATE ? 200 : 3);
            rig_run(rig, 6000);
            assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
            fake_rules_clear(&fake);
            fake_rule_add(&fake, headers[h], faults[f], 1, 1, faults[f] == FAKE_LATE ? 200 : 3);
            assert_true(fake_insert(&fake, 3));
            rig_run(rig, 6000);
            assert_int_equal(rig_credits(rig), 1);
            assert_int_equal(rig->shortfalls, 0);
            rig_end(rig);
        }
    }
}

static void random_faults_invent_no_money(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_SILENT, FAKE_LOST,  FAKE_DOUBLED, FAKE_CUT,  FAKE_LATE,
                                             FAKE_GLUED,  FAKE_STALE, FAKE_FLIPPED, FAKE_BUSY, FAKE_NAK};
    for (uint32_t seed = 1; seed <= 40; seed++) {
        struct rig *rig = begin(seed % 2 == 0 ? CFOIL_ACCEPT_HOLD : CFOIL_ACCEPT_ALL);
        rig->seed = seed;
        rig->chunks = (enum rig_chunks)(seed % 3);
        rig->policy = RIG_MIXED;
        for (int i = 0; i < 150; i++) {
            (void)fake_insert(&fake, (uint8_t)(1 + rig_random(rig, 4)));
            fake_rule_add(&fake, 0, faults[rig_random(rig, 10)], rig_random(rig, 9), 1 + rig_random(rig, 2),
                          1 + rig_random(rig, seed % 4 == 0 ? 250 : 6));
            rig_run(rig, 100 + rig_random(rig, 2500));
            if (rig_random(rig, 40) == 0)
                fake_reset(&fake, 1000 * rig_random(rig, 900));
            if (rig_random(rig, 10) == 0)
                (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)(1 + rig_random(rig, 2)));
            if (rig_random(rig, 60) == 0)
                rig_open(rig, CFOIL_ACCEPT_HOLD);
        }
        fake_rules_clear(&fake);
        rig_run(rig, 20000);
        truth_check(rig);
        rig_end(rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_are_held_stacked_and_returned),
        cmocka_unit_test(each_counter_value_is_passed),
        cmocka_unit_test(too_many_events_are_told_as_lost),
        cmocka_unit_test(a_buffer_that_does_not_continue_is_not_credited),
        cmocka_unit_test(a_reset_is_told_and_nothing_is_doubled),
        cmocka_unit_test(a_reset_that_no_counter_shows_is_seen_by_the_settings),
        cmocka_unit_test(a_device_that_keeps_its_settings_is_not_believed_blindly),
        cmocka_unit_test(what_happened_while_away_is_told_once),
        cmocka_unit_test(a_note_held_when_the_host_ended_is_accounted_for),
        cmocka_unit_test(a_reset_while_away_is_told),
        cmocka_unit_test(memory_of_another_kind_is_not_used),
        cmocka_unit_test(another_device_in_its_place_is_another),
        cmocka_unit_test(a_fault_lasts_until_the_self_check_is_good),
        cmocka_unit_test(a_device_with_other_notes_is_not_started),
        cmocka_unit_test(a_route_that_fails_is_tried_again_and_then_told),
        cmocka_unit_test(quitting_bars_the_notes),
        cmocka_unit_test(answers_that_never_agree_are_not_believed),
        cmocka_unit_test(each_fault_of_each_answer_is_survived),
        cmocka_unit_test(random_faults_invent_no_money),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
