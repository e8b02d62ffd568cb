/*
 * Does the MDB session tell each status once, and go on after resets and silence?
 */
#include "mdb_host.h"

/* ---- Statuses ---- */

static void refusals_say_no_more_than_the_device(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_say(&rig->fake, 0x0B);
    rig_run(rig, 500);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_REJECTED);
    assert_int_equal(event->reason, CFOIL_REASON_NOT_RECOGNISED);
    assert_int_equal(event->reasons_possible, 1u << CFOIL_REASON_NOT_RECOGNISED | 1u << CFOIL_REASON_AUTHENTICITY);
    assert_int_equal(event->finding_count, 1);
    assert_int_equal(event->findings[0].channel, CFOIL_CHANNEL_UNKNOWN);
    assert_int_equal(event->findings[0].strength, CFOIL_STRENGTH_WEAK);
    assert_int_equal(event->findings[0].origin, CFOIL_ORIGIN_DEVICE);
    assert_string_equal(event->raw_text, "poll 0B");
    fake_insert(&rig->fake, 9);
    rig_run(rig, 500);
    event = told_last(rig, CFOIL_KIND_REJECTED);
    assert_int_equal(event->reason, CFOIL_REASON_NOT_ENABLED);
    assert_int_equal(event->note_type, 10);
    assert_string_equal(event->raw_text, "poll C9");
    assert_int_equal(event->finding_count, 0);
    fake_say(&rig->fake, 0x43);
    rig_run(rig, 500);
    event = told_last(rig, CFOIL_KIND_REJECTED);
    assert_int_equal(event->reason, CFOIL_REASON_NOT_ENABLED);
    assert_non_null(strstr(event->text, "3 tried"));
    assert_int_equal(told_count(rig, CFOIL_KIND_REJECTED, CFOIL_CONDITION_NONE), 3);
    fake_say(&rig->fake, 0x40); /* no attempt is no event */
    rig_run(rig, 500);
    assert_int_equal(told_count(rig, CFOIL_KIND_REJECTED, CFOIL_CONDITION_NONE), 3);
    rig_free(rig);
}

/* A lost ACK repeats refusals and returns; they are told once. The same again after a while is new. */
static void repeated_words_are_told_once(void **unused)
{
    (void)unused;
    static const uint8_t words[] = {0x0B, 0x43, 0xC9, 0xA3};
    for (uint32_t i = 0; i < sizeof words; i++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
        uint32_t before = rig->event_count;
        fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 2, 0);
        fake_say(&rig->fake, words[i]);
        rig_run(rig, 1500);
        assert_int_equal(rig->event_count, before + 1);
        rig_run(rig, 3000);
        fake_say(&rig->fake, words[i]);
        rig_run(rig, 1500);
        assert_int_equal(rig->event_count, before + 2);
        rig_free(rig);
    }
    /* Heard again only after a pause in which a note could have come: taken as new. */
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 1, 6, 0);
    fake_say(&rig->fake, 0xC9);
    rig_run(rig, 3000);
    assert_int_equal(told_count(rig, CFOIL_KIND_REJECTED, CFOIL_CONDITION_NONE), 2);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 1, 6, 0);
    fake_say(&rig->fake, 0x42);
    rig_run(rig, 3000);
    assert_int_equal(told_count(rig, CFOIL_KIND_REJECTED, CFOIL_CONDITION_NONE), 4);
    rig_free(rig);
}

static void faults_stop_and_clear(void **unused)
{
    (void)unused;
    static const struct {
        uint8_t byte;
        int32_t condition;
    } rows[] = {{0x01, CFOIL_CONDITION_FAULT},
                {0x02, CFOIL_CONDITION_FAULT},
                {0x04, CFOIL_CONDITION_FAULT},
                {0x05, CFOIL_CONDITION_JAM_REACHABLE}};
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        fake_level(&rig->fake, rows[i].byte, true);
        rig_run(rig, 5000);
        assert_int_equal(told_device(rig, rows[i].condition), 1); /* once, however often it comes */
        assert_int_equal(rig->lane_state, CFOIL_LANE_FAULT);
        assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_FAULT);
        assert_int_equal(rig->fake.enable, 0);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 0);
        fake_level(&rig->fake, rows[i].byte, false);
        rig_run(rig, 1000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 0);
        rig_run(rig, 2000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.enable, 0x7F);
        rig_free(rig);
    }
}

static void one_fault_may_follow_another(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_NONE, NULL);
    fake_level(&rig->fake, 0x01, true);
    rig_run(rig, 3000);
    fake_level(&rig->fake, 0x05, true);
    fake_level(&rig->fake, 0x01, false);
    rig_run(rig, 5000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 0);
    assert_int_equal(rig->lane_state, CFOIL_LANE_FAULT);
    fake_level(&rig->fake, 0x05, false);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    rig_free(rig);
}

/* 37 03 is only for the log: start-up goes on without its answer. */
static void a_recycler_that_tells_no_setup(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_HOLD);
    rig->fake.setup[0] = 2;
    rig->fake.options = 0x02;
    fake_rule_add(&rig->fake, 0x37, FAKE_SILENT, 2, 2, 0);
    assert_int_equal(rig_open(rig), CFOIL_OK);
    rig_run(rig, 5000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_true(rig->state->recycler);
    rig_free(rig);
}

static void the_recyclers_faults_do_not_stop(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_level(&rig->fake, 0x27, true);
    fake_level(&rig->fake, 0x24, true);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_JAM_SAFE), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    fake_level(&rig->fake, 0x27, false);
    fake_level(&rig->fake, 0x24, false);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_FAULT_CLEARED), 1);
    rig_free(rig);
}

static void tampering_stops_until_the_host_says(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_say(&rig->fake, 0x0C);
    rig_run(rig, 4000);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_DEVICE);
    assert_int_equal(event->condition, CFOIL_CONDITION_TAMPERING);
    assert_int_equal(event->reason, CFOIL_REASON_TAMPERING);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    assert_int_equal(rig->fake.enable, 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 1000);
    assert_int_equal(rig->fake.enable, 0);
    rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD);
    rig_run(rig, 1000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

/* 07: a 'returned' should follow, and does or does not. */
static void a_held_note_is_pulled_out(void **unused)
{
    (void)unused;
    for (int follows = 0; follows < 2; follows++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        fake_say(&rig->fake, 0x07);
        rig->fake.motion = MOTION_NONE;
        rig_run(rig, 1000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_TAMPERING), 1);
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
        if (follows)
            fake_say(&rig->fake, 0xA2);
        rig_run(rig, 6000);
        assert_int_equal(told_count(rig, CFOIL_KIND_RETURNED, CFOIL_CONDITION_NONE), follows);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1 - follows);
        fake_say(&rig->fake, 0x07);
        rig_run(rig, 6000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_TAMPERING), 2);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1 - follows);
        rig_free(rig);
    }
}

static void a_full_cash_box_is_told(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.full = true;
    rig_run(rig, 12000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_STACKER_FULL), 1);
    rig->fake.full = false;
    rig_run(rig, 6000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_STACKER_IN_PLACE), 1);
    rig_free(rig);
}

static void every_status_byte_is_told_once_or_logged(void **unused)
{
    (void)unused;
    for (uint32_t byte = 0; byte < 0x80; byte++) {
        if (byte == 0x06 || (byte & 0xE0) == 0x40)
            continue;
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        rig_forget(rig);
        rig->log_count = 0;
        fake_level(&rig->fake, (uint8_t)byte, true);
        rig_run(rig, 1500);
        assert_true(rig->event_count + rig->log_count >= 1);
        assert_true(rig->event_count <= 1);
        if (rig->event_count == 1) {
            assert_int_equal(rig->events[0].raw[0], byte);
            assert_int_equal(rig->events[0].raw_length, 1);
        }
        assert_int_equal(told_stacked(rig), 0);
        rig_free(rig);
    }
}

/* 09 although notes should be taken: enabled again, and told. */
static void a_device_that_disables_itself_is_enabled_again(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    uint32_t before = rig->fake.seen[0x34];
    rig->fake.says_disabled = true;
    rig->fake.enable = 0;
    rig_run(rig, 1000);
    assert_int_equal(rig->fake.seen[0x34], before + 1);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    before = rig->fake.seen[0x34];
    fake_level(&rig->fake, 0x09, true); /* it stays so */
    rig_run(rig, 30000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
    assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_REFUSED);
    assert_in_range(rig->fake.seen[0x34] - before, 4, 8);
    fake_level(&rig->fake, 0x09, false);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    fake_level(&rig->fake, 0x09, true); /* a moment only: nobody need know */
    rig_run(rig, 300);
    fake_level(&rig->fake, 0x09, false);
    rig_run(rig, 9000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    /* A device that is full or open says so too, and is left alone. */
    before = rig->fake.seen[0x34];
    rig->fake.full = true;
    rig_run(rig, 6000);
    fake_level(&rig->fake, 0x09, true);
    rig_run(rig, 6000);
    assert_int_equal(rig->fake.seen[0x34], before);
    rig_free(rig);
}

/* ---- Resets and silence ---- */

static void a_reset_starts_anew(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_power_loss(&rig->fake, 1000000);
    rig_run(rig, 4000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig->fake.seen[0x30], 0);
    assert_int_equal(rig->fake.enable, 0x7F);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 2, 0); /* 06 comes again: one reset */
    fake_power_loss(&rig->fake, 0);
    rig_run(rig, 4000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 2);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

/* Power goes with a note in escrow, in each way a device may end it, and at each state of our command. */
static void power_goes_with_a_note_in_escrow(void **unused)
{
    (void)unused;
    for (int loss = POWER_LOSS_RETURNS; loss <= POWER_LOSS_STACKS_AND_SAYS; loss++) {
        for (int commanded = 0; commanded < 2; commanded++) {
            struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
            rig_run(rig, 12000);
            assert_true(fake_insert(&rig->fake, 2));
            rig_run(rig, 1000);
            if (commanded)
                rig_command(rig, CFOIL_COMMAND_STACK, 0);
            rig_run(rig, 100);
            rig->fake.power_loss = (enum fake_power_loss)loss;
            fake_power_loss(&rig->fake, 2000000);
            rig_run(rig, 8000);
            assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 1);
            assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
            uint32_t credited = commanded && loss == POWER_LOSS_STACKS_AND_SAYS ? 1 : 0;
            assert_int_equal(told_stacked(rig), credited);
            if (credited)
                assert_int_equal(told_last(rig, CFOIL_KIND_STACKED)->flags, CFOIL_EVENT_WHILE_AWAY);
            assert_int_equal(told_lost(rig), loss == POWER_LOSS_STACKS ? 1 : 0);
            assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT),
                             !commanded && loss == POWER_LOSS_STACKS_AND_SAYS ? 1 : 0);
            rig_free(rig);
        }
    }
}

/* The host ends with a note in escrow. */
static void the_host_ends_with_a_note_in_escrow(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_forget(rig);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_DEVICE);
    assert_int_equal(event->flags, CFOIL_EVENT_WHILE_AWAY);
    assert_int_equal(event->value_minor, 500);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
    /* And one that nobody stored: it is in escrow when the first POLL is answered. */
    rig = rig_new(CFOIL_ACCEPT_HOLD);
    rig->fake.queue_length = 0;
    rig->fake.motion = MOTION_ESCROW;
    rig->fake.moving = 2;
    fake_say(&rig->fake, 0x92);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig->fake.returned_count, 1);
    rig_free(rig);
}

static void a_short_silence_changes_nothing(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_HOLD, 60000);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 0, 1000, 0);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 1000, 0);
    rig_run(rig, 4500);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_run(rig, 4000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 2000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 0);
    assert_int_equal(rig->fake.seen[0x30], 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK); /* the note is still held */
    rig_run(rig, 2000);
    assert_int_equal(told_stacked(rig), 1);
    rig_free(rig);
}

static void a_note_may_come_into_escrow_while_the_line_is_gone(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 0, 1000, 0);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 1000, 0);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 8000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 1000);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    rig_run(rig, 2000);
    assert_int_equal(told_stacked(rig), 1);
    rig_free(rig);
}

static void a_long_silence_ends_in_a_reset(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_HOLD, 600000);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 0, 1000, 0);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 1000, 0);
    fake_rule_add(&rig->fake, 0x30, FAKE_SILENT, 0, 2, 0);
    rig_run(rig, 30000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_in_range(rig->fake.seen[0x30], 2, 3);
    rig_run(rig, 10000);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 1);
    rig_free(rig);
}

/* Answers to everything but POLL: the device is deaf all the same. */
static void a_device_that_does_not_answer_poll_is_lost(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x33, FAKE_REFUSED, 0, 1000, 0);
    rig_run(rig, 7000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    rig_free(rig);
}

static void a_reset_in_every_stage(void **unused)
{
    (void)unused;
    for (uint32_t moment = 0; moment < 140; moment++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        rig->fake.setup[0] = 2;
        rig->fake.options = 2;
        rig->fake.queue_length = moment % 2;
        rig_open(rig);
        rig_run(rig, moment * 6);
        fake_power_loss(&rig->fake, moment % 3 * UINT64_C(400000));
        rig_run(rig, 15000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.enable, 0x7F);
        fake_insert(&rig->fake, 2);
        rig_run(rig, 4000);
        assert_int_equal(told_stacked(rig), 1);
        rig_free(rig);
    }
}

static void dead_after_first_contact(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig_open(rig);
    rig_run(rig, 350);
    fake_power_loss(&rig->fake, UINT64_C(30000000));
    rig_run(rig, 8000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    rig_run(rig, 30000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
    rig = rig_new(CFOIL_ACCEPT_ALL); /* or while 06 is awaited */
    rig->fake.queue_length = 0;
    rig_open(rig);
    rig_run(rig, 320);
    assert_int_equal(rig->fake.seen[0x30], 1);
    fake_power_loss(&rig->fake, UINT64_C(20000000));
    rig_run(rig, 9000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    rig_run(rig, 20000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(refusals_say_no_more_than_the_device),
        cmocka_unit_test(repeated_words_are_told_once),
        cmocka_unit_test(faults_stop_and_clear),
        cmocka_unit_test(one_fault_may_follow_another),
        cmocka_unit_test(a_recycler_that_tells_no_setup),
        cmocka_unit_test(the_recyclers_faults_do_not_stop),
        cmocka_unit_test(tampering_stops_until_the_host_says),
        cmocka_unit_test(a_held_note_is_pulled_out),
        cmocka_unit_test(a_full_cash_box_is_told),
        cmocka_unit_test(every_status_byte_is_told_once_or_logged),
        cmocka_unit_test(a_device_that_disables_itself_is_enabled_again),
        cmocka_unit_test(a_reset_starts_anew),
        cmocka_unit_test(power_goes_with_a_note_in_escrow),
        cmocka_unit_test(the_host_ends_with_a_note_in_escrow),
        cmocka_unit_test(a_short_silence_changes_nothing),
        cmocka_unit_test(a_note_may_come_into_escrow_while_the_line_is_gone),
        cmocka_unit_test(a_long_silence_ends_in_a_reset),
        cmocka_unit_test(a_device_that_does_not_answer_poll_is_lost),
        cmocka_unit_test(a_reset_in_every_stage),
        cmocka_unit_test(dead_after_first_contact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
