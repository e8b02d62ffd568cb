/*
 * What becomes of claims with a recycler, without a count, and over the end of the host? Goes on from test_mdb_claims.c.
 */
#include "mdb_host.h"

/* ---- The recycler ---- */

static void notes_to_the_recycler_are_credited(void **unused)
{
    (void)unused;
    struct rig *rig = recycler_ready();
    rig->fake.to_recycler = true;
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 2);
    assert_string_equal(told_last(rig, CFOIL_KIND_STACKED)->raw_text, "poll B2");
    assert_non_null(strstr(told_last(rig, CFOIL_KIND_STACKED)->text, "recycler"));
    rig->fake.to_recycler = false;
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 3);
    assert_int_equal(rig->fake.dispensed_commands, 0);
    rig_free(rig);
}

static void moved_notes_are_no_money(void **unused)
{
    (void)unused;
    struct rig *rig = recycler_ready();
    fake_say(&rig->fake, 0xD1); /* filled by service */
    rig->fake.recycler[3]++;
    rig_run(rig, 700);
    fake_say(&rig->fake, 0xE1); /* taken out by service */
    rig->fake.recycler[3]--;
    rig_run(rig, 700);
    fake_say(&rig->fake, 0xF1); /* to the cash box */
    rig->fake.recycler[3]--;
    rig->fake.stacker++;
    rig_run(rig, 10000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_lost(rig), 0);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    for (uint32_t i = 0; i < 150; i++) { /* far more than any device moves */
        fake_say(&rig->fake, 0xF1);
        rig_run(rig, 700);
        fake_say(&rig->fake, 0xE1);
        rig_run(rig, 700);
    }
    rig_run(rig, 10000);
    assert_true(told_lost(rig) > 0);
    assert_int_equal(told_stacked(rig), 0);
    rig_free(rig);
}

static void shifts_do_not_run_over(void **unused)
{
    (void)unused;
    for (uint32_t byte = 0xD1; byte <= 0xF1; byte += 0x10) {
        struct rig *rig = recycler_ready();
        fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 10000, 0);
        for (uint32_t i = 0; i < 200; i++) {
            fake_say(&rig->fake, (uint8_t)byte);
            if (i % 2 == 1)
                fake_say(&rig->fake, 0x0B);
            if (i % 10 == 9)
                rig_run(rig, 700);
        }
        assert_in_range(rig->state->counters[COUNTER_RECYCLER].shifts + 100, 0, 200);
        assert_in_range(rig->state->counters[COUNTER_STACKER].shifts + 100, 0, 200);
        rig_free(rig);
    }
}

static void a_recycler_that_tells_no_counts_credits_nothing(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.setup[0] = 2;
    rig->fake.options = 0x02;
    rig->fake.answers_recycler = false;
    rig_open(rig);
    rig_run(rig, 3000);
    rig->fake.to_recycler = true;
    fake_insert(&rig->fake, 2);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_non_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "no earlier count"));
    rig_free(rig);
}

static void a_recycler_that_falls_silent_credits_nothing(void **unused)
{
    (void)unused;
    struct rig *rig = recycler_ready();
    rig->fake.answers_recycler = false;
    rig->fake.to_recycler = true;
    fake_insert(&rig->fake, 2);
    rig_run(rig, 9000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_free(rig);
}

/* ---- Without a count ---- */

static void without_a_count_the_command_speaks(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->settings[0] = "stacker_count";
    rig->settings[1] = "no";
    rig->fake.count_stuck = true;
    rig->fake.stacker = 0;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_NONE), 1); /* said once */
    assert_int_equal(rig->fake.escrow, rig->fake.enable);
    for (uint32_t i = 0; i < 3; i++) {
        fake_insert(&rig->fake, 2);
        rig_run(rig, 3000);
    }
    assert_int_equal(told_stacked(rig), 3);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_NONE), 1);
    assert_int_equal(told_lost(rig), 0);
    rig->fake.full = true;
    rig_run(rig, 6000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_STACKER_FULL), 1); /* bit 15 is still read */
    rig_free(rig);
}

/* Without a count, a late repetition is a repetition: no command paid for it. */
static void without_a_count_a_late_repetition_is_one(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, uncounted);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    while (rig->fake.motion == MOTION_STACK)
        rig_run(rig, 1);
    fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
    fake_rule_add(&rig->fake, 0x33, FAKE_SILENT, 1, 6, 0);
    rig_run(rig, 4000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_LINE_NOISY), 1);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

static void without_a_count_a_reset_may_hide_a_note(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, uncounted);
    fake_power_loss(&rig->fake, 0);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_free(rig);
}

/* A stuck count without the setting: nothing is credited, and the text names the setting. */
static void a_stuck_count_is_named(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.count_stuck = true;
    rig->fake.stacker = 0;
    rig_open(rig);
    rig_run(rig, 3000);
    fake_insert(&rig->fake, 2);
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 0);
    assert_non_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "stacker_count"));
    rig_free(rig);
}

/* ---- Another life ---- */

static void what_was_stacked_while_away_is_told_and_not_credited(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig_forget(rig);
    fake_stack(&rig->fake, 2, false);
    fake_stack(&rig->fake, 4, false);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 0);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_LOST_EVENTS);
    assert_int_equal(event->lost_count, 2);
    assert_int_equal(event->flags, CFOIL_EVENT_WHILE_AWAY);
    assert_non_null(strstr(event->text, "while not watched"));
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_forget(rig);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_lost(rig), 0); /* told once */
    rig_free(rig);
}

static void a_count_that_fell_while_away_is_told(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.stacker = 2;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(told_lost(rig), 1);
    assert_int_equal(told_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count, 0);
    rig_free(rig);
}

/* The host ends at every moment between the device's word and its credit: once, never twice. */
static void a_claim_survives_the_host(void **unused)
{
    (void)unused;
    uint32_t away = 0;
    for (uint32_t mode = CFOIL_ACCEPT_HOLD; mode <= CFOIL_ACCEPT_ALL; mode++) {
        for (int counted = 0; counted < 2; counted++) {
            for (uint32_t moment = 0; moment < 120; moment++) {
                struct rig *rig = rig_ready(mode, counted ? NULL : uncounted);
                fake_insert(&rig->fake, 2);
                rig_run(rig, 900);
                rig_command(rig, CFOIL_COMMAND_STACK, 0);
                rig_run(rig, moment * 10);
                rig_open(rig);
                rig_run(rig, 8000);
                assert_true(told_stacked(rig) <= 1);
                if (told_stacked(rig) == 1 && told_last(rig, CFOIL_KIND_STACKED)->flags != 0)
                    away++;
                if (counted && told_stacked(rig) == 0 && rig->fake.stacked_count == 1)
                    assert_true(told_lost(rig) == 1 || told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) == 1);
                rig_free(rig);
            }
        }
    }
    assert_true(away > 0);
}

/* ACK lost, host ended: the next life hears the same again and must not credit it. */
static void a_repetition_across_lives_credits_once(void **unused)
{
    (void)unused;
    for (uint32_t mode = CFOIL_ACCEPT_HOLD; mode <= CFOIL_ACCEPT_ALL; mode++) {
        struct rig *rig = rig_ready(mode, NULL);
        fake_insert(&rig->fake, 2);
        rig_run(rig, 900);
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        while (rig->fake.motion == MOTION_STACK || rig->fake.queue_length == 0)
            rig_run(rig, 1);
        fake_rule_add(&rig->fake, FAKE_MASTER_ACK, FAKE_SILENT, 0, 1, 0);
        while (told_stacked(rig) == 0)
            rig_run(rig, 1);
        fake_stack(&rig->fake, 4, false); /* and the count rises meanwhile */
        rig_open(rig);
        rig_run(rig, 8000);
        assert_int_equal(told_stacked(rig), 1);
        assert_true(told_lost(rig) + told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) >= 1);
        rig_free(rig);
    }
}

/* What was said in two lives and counted once: while nobody watched, nobody can say which it was. */
static void two_claims_for_one_note_across_lives(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 2, 0);
    fake_stack(&rig->fake, 2, true);
    rig_run(rig, 200);
    assert_int_equal(rig->state->claim_count, 1);
    rig->now_us += 2000000;
    fake_say(&rig->fake, 0x84);
    rig_open(rig);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 2);
    rig_free(rig);
}

/* The till ends between ESCROW and its outcome, and the first POLL of its next life tells it: of the type that was asked
 * for, of another, and of the recycler. */
static void the_first_poll_may_end_what_was_asked_for(void **unused)
{
    (void)unused;
    static const uint8_t words[] = {0x82, 0x83, 0xB2};
    for (uint32_t i = 0; i < sizeof words; i++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_HOLD);
        rig->fake.setup[0] = 2;
        rig->fake.options = 0x02;
        rig_open(rig);
        rig_run(rig, 15000);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        rig_run(rig, 100);
        rig->fake.motion = MOTION_NONE;
        rig->fake.to_recycler = words[i] >= 0xB0;
        fake_stack(&rig->fake, words[i] & 0x0F, true);
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(told_stacked(rig), i == 1 ? 0 : 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), i == 1 ? 1 : 0);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), i == 1 ? 1 : 0);
        if (i != 1)
            assert_int_equal(told_last(rig, CFOIL_KIND_STACKED)->flags, CFOIL_EVENT_WHILE_AWAY);
        rig_free(rig);
    }
}

static void a_claim_heard_first_of_all_has_no_proof(void **unused)
{
    (void)unused;
    for (int counted = 0; counted < 2; counted++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        rig->settings[0] = counted ? NULL : "stacker_count";
        rig->settings[1] = "no";
        rig->fake.queue_length = 0;
        fake_stack(&rig->fake, 2, true); /* before anybody was there */
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(told_stacked(rig), 0);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_free(rig);
    }
}

static void claims_of_another_device_are_given_up(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_insert(&rig->fake, 2);
    rig_run(rig, 1000);
    fake_rule_add(&rig->fake, 0x36, FAKE_REFUSED, 0, 3, 0);
    fake_say(&rig->fake, 0x83);
    rig_run(rig, 200);
    rig->fake.identity[10] = '7'; /* another device in its place */
    rig->fake.stacker = 300;
    fake_power_loss(&rig->fake, 0);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_true(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) >= 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_IDENTIFIED), 2);
    assert_int_equal(told_lost(rig), 0); /* its count is no business of the first one */
    rig_free(rig);
}

static void damaged_memory_is_not_believed(void **unused)
{
    (void)unused;
    for (uint32_t what = 0; what < 6; what++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        rig_forget(rig);
        uint32_t place = memory_place(rig, "mdb/ABC000000123456");
        assert_true(rig->memory_length[place] > 0);
        if (what == 0)
            rig->memory[place][0] = 9; /* another version */
        if (what == 1)
            rig->memory_length[place] = 3;
        if (what == 2)
            rig->memory[place][rig->memory_length[place] - 1] = 200; /* claims that are not there */
        if (what == 3)
            rig->memory[place][11] = 200; /* a last answer that is too long */
        if (what == 4)
            rig->memory[place][rig->memory_length[place] - 1] = 1;
        if (what == 5)
            rig->memory_length[place] = 65;
        fake_stack(&rig->fake, 2, false);
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(told_lost(rig), 0); /* nothing is known, so nothing is compared */
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_free(rig);
    }
}

static void full_memory_loses_no_claim_silently(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    fake_rule_add(&rig->fake, 0x36, FAKE_SILENT, 0, 100, 0);
    for (uint32_t i = 0; i < 32; i++)
        fake_stack(&rig->fake, (uint8_t)(i % 7), true);
    rig_run(rig, 700);
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    for (uint32_t i = 0; i < 3; i++)
        fake_stack(&rig->fake, 1, true);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_true(told_stacked(rig) + 3 >= 32);
    uint32_t lost = told_lost(rig) > 0 ? told_last(rig, CFOIL_KIND_LOST_EVENTS)->lost_count : 0;
    assert_int_equal(told_stacked(rig) + lost + told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 35);
    rig_free(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shifts_do_not_run_over),
        cmocka_unit_test(without_a_count_a_late_repetition_is_one),
        cmocka_unit_test(two_claims_for_one_note_across_lives),
        cmocka_unit_test(the_first_poll_may_end_what_was_asked_for),
        cmocka_unit_test(notes_to_the_recycler_are_credited),
        cmocka_unit_test(moved_notes_are_no_money),
        cmocka_unit_test(a_recycler_that_tells_no_counts_credits_nothing),
        cmocka_unit_test(a_recycler_that_falls_silent_credits_nothing),
        cmocka_unit_test(without_a_count_the_command_speaks),
        cmocka_unit_test(without_a_count_a_reset_may_hide_a_note),
        cmocka_unit_test(a_stuck_count_is_named),
        cmocka_unit_test(what_was_stacked_while_away_is_told_and_not_credited),
        cmocka_unit_test(a_count_that_fell_while_away_is_told),
        cmocka_unit_test(a_claim_survives_the_host),
        cmocka_unit_test(a_repetition_across_lives_credits_once),
        cmocka_unit_test(a_claim_heard_first_of_all_has_no_proof),
        cmocka_unit_test(claims_of_another_device_are_given_up),
        cmocka_unit_test(damaged_memory_is_not_believed),
        cmocka_unit_test(full_memory_loses_no_claim_silently),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
