/*
 * Is each note that the device stacked credited exactly once, whatever is lost, repeated, late or contradictory? Every row
 * of the rule in adapters/mdb/README.md has a test here.
 */
#include "mdb_host.h"

static void held_and_stacked(struct rig *rig, uint8_t type)
{
    uint32_t held = told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE);
    assert_true(fake_insert(&rig->fake, type));
    rig_run(rig, 1500);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), held + 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    rig_run(rig, 1500);
}

static void notes_are_credited_in_every_mode(void **unused)
{
    (void)unused;
    for (int chunks = CHUNKS_WORD; chunks <= CHUNKS_BLOCK; chunks++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum fake_chunks)chunks;
        rig_open(rig);
        rig_run(rig, 3000);
        held_and_stacked(rig, 2);
        held_and_stacked(rig, 2); /* two real notes of one value */
        assert_int_equal(told_stacked(rig), 2);
        const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_STACKED);
        assert_int_equal(event->value_minor, 500);
        assert_string_equal(event->currency, "USD");
        assert_int_equal(event->note_type, 3);
        assert_string_equal(event->note_name, "type 2");
        assert_string_equal(event->raw_text, "poll 82");
        assert_int_equal(event->raw_length, 1);
        assert_int_equal(event->raw[0], 0x82);
        assert_int_equal(rig->fake.escrow_seen[1], 2);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL);
        rig_run(rig, 500);
        assert_int_equal(rig->fake.escrow, 0);
        fake_insert(&rig->fake, 0);
        rig_run(rig, 2000);
        fake_insert(&rig->fake, 0);
        rig_run(rig, 2000);
        assert_int_equal(told_stacked(rig), 4);
        rig_free(rig);
    }
}

/* The repetition of an answer whose ACK was lost: once, twice, with news behind it. */
static void a_lost_ack_credits_once(void **unused)
{
    (void)unused;
    for (uint32_t times = 1; times <= 3; times++) {
        for (uint32_t mode = CFOIL_ACCEPT_HOLD; mode <= CFOIL_ACCEPT_ALL; mode++) {
            for (int counted = 0; counted < 2; counted++) {
                struct rig *rig = rig_ready(mode, counted ? NULL : uncounted);
                assert_true(fake_insert(&rig->fake, 2));
                while (rig->fake.motion != MOTION_STACK) {
                    rig_run(rig, 10);
                    rig_command(rig, CFOIL_COMMAND_STACK, 0);
                }
                fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, times, 0);
                rig_run(rig, 4000);
                assert_int_equal(told_stacked(rig), 1);
                assert_true(told_device(rig, CFOIL_CONDITION_LINE_NOISY) <= times);
                assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
                assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING); /* nothing is short: go on */
                rig_free(rig);
            }
        }
    }
}

static void a_repetition_with_news_credits_the_news(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 2, true);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
    while (told_stacked(rig) == 0)
        rig_run(rig, 1);
    fake_stack(&rig->fake, 2, true); /* 82 again, then a second 82 behind it */
    fake_stack(&rig->fake, 3, true);
    rig_run(rig, 3000);
    assert_int_equal(stacked_of(rig, 2), 2);
    assert_int_equal(stacked_of(rig, 3), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_LINE_NOISY), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

/* The same answer after a pause that is long enough for another note: only the count can tell. */
static void a_late_repetition_is_decided_by_the_count(void **unused)
{
    (void)unused;
    for (int real = 0; real < 2; real++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        fake_stack(&rig->fake, 2, true);
        if (real == 0)
            fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
        rig_run(rig, 160);
        assert_int_equal(told_stacked(rig), 1);
        fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 0, 5, 0); /* POLL is not answered for a while */
        if (real == 1)
            fake_stack(&rig->fake, 2, true);
        rig_run(rig, 5000);
        assert_int_equal(told_stacked(rig), (uint32_t)(1 + real));
        assert_int_equal(told_device(rig, CFOIL_CONDITION_LINE_NOISY), (uint32_t)(1 - real));
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
        assert_int_equal(told_lost(rig), 0);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_free(rig);
    }
}

/* A late repetition, and behind it two of which one is true. */
static void a_repetition_before_a_doubt(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 2, true);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
    while (told_stacked(rig) == 0)
        rig_run(rig, 1);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 0, 6, 0);
    fake_stack(&rig->fake, 3, true);
    fake_say(&rig->fake, 0x83);
    rig_run(rig, 8000);
    assert_int_equal(stacked_of(rig, 2), 1);
    assert_int_equal(stacked_of(rig, 3), 1);
    assert_true(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) >= 1);
    rig_free(rig);
}

static void two_notes_in_one_answer_are_two(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 1, true);
    fake_stack(&rig->fake, 1, true);
    rig_run(rig, 1000);
    assert_int_equal(told_stacked(rig), 2);
    rig_free(rig);
}

static void a_count_that_lags_is_waited_for(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.count_lag_us = 1500000;
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 1000);
    assert_int_equal(told_stacked(rig), 0);
    rig_run(rig, 1500);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

static void a_message_that_comes_after_the_count_is_waited_for(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 2, true);
    fake_stack(&rig->fake, 3, false); /* counted, its message is still to come */
    rig_run(rig, 500);
    assert_int_equal(told_stacked(rig), 0);
    fake_say(&rig->fake, 0x83);
    rig_run(rig, 500);
    assert_int_equal(told_stacked(rig), 2);
    assert_int_equal(told_lost(rig), 0);
    rig_free(rig);
}

static void fewer_than_said_is_told_and_stops(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_say(&rig->fake, 0x82); /* said, and nothing was stacked */
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_DEVICE);
    assert_non_null(strstr(event->text, "1 said to be stacked"));
    assert_non_null(strstr(event->text, "from 23 to 23"));
    assert_non_null(strstr(event->text, "stacker_count"));
    assert_int_equal(event->value_minor, 500);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    assert_int_equal(rig->fake.enable, 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL), CFOIL_OK);
    rig_run(rig, 500);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    fake_say(&rig->fake, 0x82);
    rig_run(rig, 5000);
    assert_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "stacker_count")); /* it moves */
    rig_free(rig);
}

static void of_one_type_as_many_as_counted(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 2, true);
    fake_say(&rig->fake, 0x82);
    fake_say(&rig->fake, 0x82);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 2);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    rig_free(rig);
}

/* Each count speaks for its own claims. */
static void the_recyclers_claims_are_decided_apart(void **unused)
{
    (void)unused;
    for (int first = 0; first < 2; first++) {
        struct rig *rig = recycler_ready();
        rig->fake.to_recycler = first == 0;
        fake_stack(&rig->fake, 2, true);
        rig->fake.to_recycler = first != 0;
        fake_stack(&rig->fake, 3, true);
        fake_say(&rig->fake, first == 0 ? 0x83 : 0xB3); /* and one more that is not true */
        rig_run(rig, 5000);
        assert_int_equal(stacked_of(rig, 2), 1);
        assert_int_equal(stacked_of(rig, 3), 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
        rig_free(rig);
    }
}

/* Of two claims of one type, one asked for and one not, one is true: it is the one that was asked for. */
static void the_claim_that_was_asked_for_comes_first(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig_run(rig, 12000);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 4, 0);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    while (rig->fake.motion == MOTION_STACK)
        rig_run(rig, 1);
    fake_say(&rig->fake, 0x82);
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_lost(rig), 0);
    rig_free(rig);
    /* Two of three are true: one that was asked for, one that was not and is in the box without credit. */
    rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig_run(rig, 12000);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    while (rig->fake.motion == MOTION_STACK)
        rig_run(rig, 1);
    fake_stack(&rig->fake, 2, true);
    fake_say(&rig->fake, 0x82);
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 2);
    assert_int_equal(told_lost(rig), 0);
    rig_free(rig);
}

static void of_two_types_none_when_nobody_can_say_which(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 3, true);
    fake_say(&rig->fake, 0x82);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 2);
    /* The count has been used up: what rises late is for what was given up, and is no news. */
    rig_free(rig);
}

static void a_note_given_up_may_show_late(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.count_lag_us = 4000000;
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 12000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(told_lost(rig), 0);
    assert_int_equal(rig->state->counters[COUNTER_STACKER].doubts, 0);
    rig_free(rig);
}

static void a_note_nobody_told_is_found(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_stack(&rig->fake, 2, false);
    fake_stack(&rig->fake, 2, false);
    rig_run(rig, 10000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_lost(rig), 1);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_LOST_EVENTS);
    assert_int_equal(event->lost_count, 2);
    assert_int_equal(event->flags, 0);
    assert_non_null(strstr(event->text, "from 23 to 25"));
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    rig_free(rig);
}

static void a_count_that_falls_is_told(void **unused)
{
    (void)unused;
    for (int box = 0; box < 2; box++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        fake_level(&rig->fake, 0x08, box == 1);
        rig_run(rig, 1000);
        rig->fake.stacker = 0;
        fake_level(&rig->fake, 0x08, false);
        rig_run(rig, 10000);
        assert_int_equal(told_lost(rig), (uint32_t)(1 - box));
        assert_int_equal(told_device(rig, CFOIL_CONDITION_STACKER_REMOVED), (uint32_t)box);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_STACKER_IN_PLACE), (uint32_t)box);
        assert_int_equal(rig->lane_state, box == 1 ? CFOIL_LANE_ACCEPTING : CFOIL_LANE_IDLE);
        if (box == 1) {
            fake_insert(&rig->fake, 2);
            rig_run(rig, 3000);
            assert_int_equal(told_stacked(rig), 1);
        } else {
            assert_int_equal(told_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count, 0);
        }
        rig_free(rig);
    }
}

static void a_fall_long_after_the_box_was_out_is_told(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_level(&rig->fake, 0x08, true);
    rig_run(rig, 1000);
    fake_level(&rig->fake, 0x08, false);
    rig_run(rig, 70000);
    rig->fake.stacker = 3;
    rig_run(rig, 10000);
    assert_int_equal(told_lost(rig), 1);
    rig_free(rig);
}

/* The cash box was out, but that does not explain everything: a count that is not 0, or a restart meanwhile. */
static void a_fall_the_box_does_not_explain_is_told(void **unused)
{
    (void)unused;
    for (int restarts = 0; restarts < 2; restarts++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        fake_level(&rig->fake, 0x08, true);
        rig_run(rig, 1000);
        fake_level(&rig->fake, 0x08, false);
        if (restarts)
            fake_power_loss(&rig->fake, 0);
        rig->fake.stacker = restarts ? 0 : 3;
        rig_run(rig, 10000);
        assert_int_equal(told_lost(rig), 1);
        assert_int_equal(told_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count, 0);
        rig_free(rig);
    }
}

static void a_claim_with_a_falling_count_is_not_credited(void **unused)
{
    (void)unused;
    for (int box = 0; box < 2; box++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        rig->state->box_us = box ? rig->now_us : 0;
        rig->fake.stacker = box ? UINT32_MAX : 0; /* 0, and one more for the note */
        fake_stack(&rig->fake, 2, true);
        rig_run(rig, 5000);
        assert_int_equal(told_stacked(rig), 0);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
        assert_int_equal(told_lost(rig), 1);
        rig_free(rig);
    }
}

/* With escrow on, one 8x for each ESCROW command; a note stacked without is in the box and not credited. */
static void a_note_nobody_asked_for_is_not_credited(void **unused)
{
    (void)unused;
    for (int counted = 0; counted < 2; counted++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, counted ? NULL : uncounted);
        rig->fake.ignores_escrow = true;
        rig_run(rig, 12000);
        fake_insert(&rig->fake, 2);
        rig_run(rig, 5000);
        assert_int_equal(told_stacked(rig), 0);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
        assert_non_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "without our command"));
        assert_int_equal(told_lost(rig), 0);
        assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
        rig_free(rig);
    }
}

static void two_for_one_command_are_one(void **unused)
{
    (void)unused;
    for (int counted = 0; counted < 2; counted++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, counted ? NULL : uncounted);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        while (rig->fake.motion == MOTION_STACK)
            rig_run(rig, 1);
        fake_say(&rig->fake, 0x82); /* in the same answer: no repetition */
        rig_run(rig, 6000);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
        assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
        rig_free(rig);
    }
}

static void another_type_than_held_is_not_credited(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig_run(rig, 12000);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    rig->fake.moving = 3;
    rig_run(rig, 40000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    rig_free(rig);
}

static void a_held_note_that_stacks_itself_is_told(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig_run(rig, 12000);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig->fake.motion = MOTION_NONE;
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_free(rig);
}

/* A note fed while escrow was off is through only after escrow was switched on. */
static void a_note_on_its_way_when_escrow_comes_on_is_credited(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 500);
    assert_int_equal(rig->fake.motion, MOTION_STACK);
    rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    assert_true(rig->fake.escrow != 0);
    rig_free(rig);
}

static void a_device_that_always_holds_is_told_to_stack(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.always_holds = true;
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(rig->fake.escrow_seen[1], 1);
    rig_free(rig);
}

static void a_count_that_is_not_told_credits_nothing(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x36, FAKE_REFUSED, 0, 100, 0);
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 4000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
    rig_run(rig, 4000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 10000);
    assert_int_equal(told_lost(rig), 0); /* the count shows the note that was given up, and no other */
    assert_int_equal(rig->state->counters[COUNTER_STACKER].doubts, 0);
    rig_free(rig);
}

static void a_count_that_comes_in_time_credits(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 3, 0);
    fake_rule_add(&rig->fake, 0x36, FAKE_FLIPPED, 3, 1, 5);
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    rig_free(rig);
}

static void tokens_and_unknown_types_are_no_money(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.setup[11 + 1] = 0xFF;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->fake.enable, 0x7D); /* type 1 is never enabled */
    fake_stack(&rig->fake, 1, true);
    rig_run(rig, 1000);
    fake_stack(&rig->fake, 12, true);
    rig_run(rig, 1000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED), 2);
    assert_non_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "unknown value"));
    rig_free(rig);
}

static void a_type_without_value_in_escrow_goes_back(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig->fake.motion = MOTION_ESCROW;
    rig->fake.moving = 12;
    fake_say(&rig->fake, 0x9C);
    rig_run(rig, 2000);
    assert_int_equal(rig->fake.escrow_seen[0], 1);
    assert_int_equal(rig->fake.returned_count, 1);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    rig_free(rig);
}

/* A note in escrow is told after the note before it. */
static void held_waits_for_the_claim_before_it(void **unused)
{
    (void)unused;
    for (int stacks = 0; stacks < 3; stacks++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        rig->fake.count_lag_us = 1000000;
        while (rig->fake.motion == MOTION_STACK)
            rig_run(rig, 1);
        rig->fake.motion = MOTION_ESCROW;
        rig->fake.moving = 3;
        fake_say(&rig->fake, 0x93);
        rig_run(rig, 500);
        assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 1);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
        if (stacks == 1) { /* it goes back meanwhile */
            rig->fake.motion = MOTION_NONE;
            fake_say(&rig->fake, 0xA3);
        }
        if (stacks == 2) /* the device restarts meanwhile */
            fake_power_loss(&rig->fake, 0);
        rig_run(rig, 3000);
        /* After a restart there is no time to wait for a count that lags: told as not credited. */
        assert_int_equal(told_stacked(rig), stacks == 2 ? 0 : 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), stacks == 2 ? 1 : 0);
        assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), stacks == 0 ? 2 : 1);
        assert_int_equal(told_count(rig, CFOIL_KIND_RETURNED, CFOIL_CONDITION_NONE), stacks == 1 ? 1 : 0);
        rig_free(rig);
    }
}

static void a_waiting_note_said_to_be_stacked_is_no_other(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig_run(rig, 12000);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    rig->fake.count_lag_us = 1000000;
    while (rig->fake.motion == MOTION_STACK)
        rig_run(rig, 1);
    fake_say(&rig->fake, 0x93); /* in escrow, and gone by itself */
    rig_run(rig, 500);
    fake_stack(&rig->fake, 3, true);
    rig_run(rig, 4000);
    assert_int_equal(stacked_of(rig, 2), 1);
    assert_int_equal(stacked_of(rig, 3), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0); /* it was never told as held */
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_free(rig);
}

static void more_claims_than_can_be_kept(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 100, 0);
    for (uint32_t i = 0; i < 33; i++)
        fake_say(&rig->fake, (uint8_t)(0x80 | i % 7));
    rig_run(rig, 1000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 5000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 33);
    assert_int_equal(told_stacked(rig), 0);
    for (uint32_t i = 0; i < 300; i++) { /* and so on: no number runs over */
        fake_say(&rig->fake, 0x81);
        if (i % 8 == 0)
            rig_run(rig, 3000);
    }
    rig_run(rig, 10000);
    assert_int_equal(told_stacked(rig), 0);
    rig_free(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_are_credited_in_every_mode),
        cmocka_unit_test(a_lost_ack_credits_once),
        cmocka_unit_test(a_repetition_with_news_credits_the_news),
        cmocka_unit_test(a_late_repetition_is_decided_by_the_count),
        cmocka_unit_test(a_repetition_before_a_doubt),
        cmocka_unit_test(two_notes_in_one_answer_are_two),
        cmocka_unit_test(a_count_that_lags_is_waited_for),
        cmocka_unit_test(a_message_that_comes_after_the_count_is_waited_for),
        cmocka_unit_test(fewer_than_said_is_told_and_stops),
        cmocka_unit_test(of_one_type_as_many_as_counted),
        cmocka_unit_test(the_recyclers_claims_are_decided_apart),
        cmocka_unit_test(the_claim_that_was_asked_for_comes_first),
        cmocka_unit_test(of_two_types_none_when_nobody_can_say_which),
        cmocka_unit_test(a_note_given_up_may_show_late),
        cmocka_unit_test(a_note_nobody_told_is_found),
        cmocka_unit_test(a_count_that_falls_is_told),
        cmocka_unit_test(a_fall_long_after_the_box_was_out_is_told),
        cmocka_unit_test(a_fall_the_box_does_not_explain_is_told),
        cmocka_unit_test(a_claim_with_a_falling_count_is_not_credited),
        cmocka_unit_test(a_note_nobody_asked_for_is_not_credited),
        cmocka_unit_test(two_for_one_command_are_one),
        cmocka_unit_test(another_type_than_held_is_not_credited),
        cmocka_unit_test(a_held_note_that_stacks_itself_is_told),
        cmocka_unit_test(a_note_on_its_way_when_escrow_comes_on_is_credited),
        cmocka_unit_test(a_device_that_always_holds_is_told_to_stack),
        cmocka_unit_test(a_count_that_is_not_told_credits_nothing),
        cmocka_unit_test(a_count_that_comes_in_time_credits),
        cmocka_unit_test(tokens_and_unknown_types_are_no_money),
        cmocka_unit_test(a_type_without_value_in_escrow_goes_back),
        cmocka_unit_test(held_waits_for_the_claim_before_it),
        cmocka_unit_test(a_waiting_note_said_to_be_stacked_is_no_other),
        cmocka_unit_test(more_claims_than_can_be_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
