/*
 * Does the MDB session survive a bad bus, and end in order?
 */
#include "mdb_host.h"

/* ---- The bus ---- */

static void damaged_answers_are_asked_for_again(void **unused)
{
    (void)unused;
    for (uint32_t bit = 0; bit < 32; bit++) {
        if (bit % 16 > 8)
            continue; /* a word has nine bits */
        struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
        assert_true(fake_insert(&rig->fake, 2));
        while (rig->fake.queue_length == 0)
            rig_run(rig, 1);
        fake_rule_add(&rig->fake, 0x33, FAKE_FLIPPED, 0, 1, bit);
        rig_run(rig, 4000);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(stacked_of(rig, 2), 1);
        rig_free(rig);
    }
}

static void three_ret_then_nak(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    while (rig->fake.queue_length == 0)
        rig_run(rig, 1);
    fake_rule_add(&rig->fake, 0x33, FAKE_FLIPPED, 0, 1, 0);
    fake_rule_add(&rig->fake, 0xAA, FAKE_FLIPPED, 0, 3, 0);
    rig_run(rig, 160);
    assert_int_equal(rig->fake.rets, 3);
    rig_run(rig, 200);
    assert_int_equal(rig->fake.naks, 1);
    rig_run(rig, 2000);
    assert_int_equal(told_stacked(rig), 1); /* it kept the note's message */
    fake_rule_add(&rig->fake, 0x33, FAKE_FLIPPED, 0, 3, 0);
    rig_run(rig, 2000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_LINE_NOISY), 1); /* once in a minute */
    rig_run(rig, 70000);
    fake_rule_add(&rig->fake, 0x33, FAKE_FLIPPED, 0, 6, 0);
    rig_run(rig, 3000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_LINE_NOISY), 2);
    rig_free(rig);
}

static void late_and_doubled_answers_belong_to_nothing(void **unused)
{
    (void)unused;
    static const uint32_t late_ms[] = {6, 30, 90, 149, 151, 240, 251, 270, 340, 400, 510};
    for (uint32_t i = 0; i < sizeof late_ms / sizeof late_ms[0]; i++) {
        for (int doubled = 0; doubled < 2; doubled++) {
            struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
            assert_true(fake_insert(&rig->fake, 2));
            while (rig->fake.queue_length == 0)
                rig_run(rig, 1);
            fake_rule_add(&rig->fake, 0x33, doubled ? FAKE_DOUBLED : FAKE_LATE, 0, 3, late_ms[i]);
            rig_run(rig, 5000);
            assert_int_equal(told_stacked(rig), 1);
            assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
            rig_free(rig);
        }
    }
}

static void a_gap_in_a_block_is_damage(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    while (rig->fake.queue_length == 0)
        rig_run(rig, 1);
    fake_rule_add(&rig->fake, 0x33, FAKE_GAP, 0, 1, 50);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(rig->fake.rets, 1);
    rig_free(rig);
}

/* Half a word, a word that no line carries, and bytes that nobody asked for. */
static void bytes_that_make_no_word_are_dropped(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    static const uint8_t odd[] = {0x82};
    static const uint8_t broken[] = {0x00, 0x80};
    static const uint8_t claim[] = {0x82, 0x00, 0x82, 0x01};
    for (uint32_t i = 0; i < 200; i++) {
        if (i % 3 == 0)
            rig_step(rig, odd, 1);
        if (i % 3 == 1)
            rig_step(rig, broken, 2);
        rig_run(rig, 37);
    }
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig_run(rig, 2000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    for (uint32_t i = 0; i < 40; i++) {
        rig_step(rig, claim, 4); /* a word about money that nobody asked for */
        rig_run(rig, 75);
    }
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 0);
    rig_free(rig);
}

/* A bus that is never quiet: lost, not stuck. */
static void a_babbling_bus_is_lost(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    static const uint8_t noise[] = {0x55, 0x00};
    for (uint32_t i = 0; i < 16000; i++) {
        rig_step(rig, noise, 2);
        rig_run(rig, 1); /* no answer fits in between */
    }
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    assert_int_equal(told_stacked(rig), 0);
    rig_run(rig, 20000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

static void an_answer_of_another_command_is_no_answer(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    /* 17 bytes to POLL: never decoded. */
    for (uint32_t i = 0; i < 40; i++) {
        static const uint8_t ack[] = {0x00, 0x01};
        while (!rig->state->exchange.under_way || rig->state->exchange.command[0] != 0x36)
            rig_run(rig, 1);
        rig_step(rig, ack, 2); /* an ACK is no answer to STACKER */
        rig_run(rig, 1000);
    }
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(told_lost(rig), 0);
    rig_free(rig);
}

/* Two answers at once: the first counts. */
static void what_follows_an_answer_is_dropped(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    static const uint8_t two[] = {0x00, 0x01, 0x82, 0x00, 0x82, 0x01};
    fake_rule_add(&rig->fake, 0x33, FAKE_LOST, 0, 1, 0);
    while (!rig->state->exchange.under_way || rig->state->exchange.command[0] != 0x33)
        rig_run(rig, 1);
    rig_step(rig, two, sizeof two);
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
    rig_free(rig);
}

static void seventeen_bytes_are_no_poll_answer(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    uint8_t wire[2 * 18];
    uint8_t sum = 0;
    for (uint32_t i = 0; i < 17; i++) {
        wire[2 * i] = 0x82;
        wire[2 * i + 1] = 0;
        sum = (uint8_t)(sum + 0x82);
    }
    wire[34] = sum;
    wire[35] = 1;
    fake_rule_add(&rig->fake, 0x33, FAKE_LOST, 0, 1, 0);
    while (!rig->state->exchange.under_way || rig->state->exchange.command[0] != 0x33)
        rig_run(rig, 1);
    rig_step(rig, wire, sizeof wire);
    rig_run(rig, 5000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
    rig_free(rig);
}

/* ---- The end ---- */

static void quitting_disables_in_one_block(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_QUIT, 0), CFOIL_OK);
    rig_run(rig, 300);
    assert_int_equal(rig->fake.enable, 0);
    uint32_t sent = rig->sent_length;
    rig_run(rig, 5000);
    assert_int_equal(rig->sent_length, sent); /* and then nothing */
    static const uint8_t late[] = {0x82, 0x00, 0x82, 0x01};
    rig_step(rig, late, sizeof late); /* whatever comes */
    assert_int_equal(rig->sent_length, sent);
    rig_free(rig);
    rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.boots = true;
    rig->fake.dark_until_us = UINT64_MAX;
    rig_open(rig);
    rig_run(rig, 1000);
    sent = rig->sent_length;
    rig_command(rig, CFOIL_COMMAND_QUIT, 0);
    rig_run(rig, 2000);
    assert_int_equal(rig->sent_length, sent); /* nothing to a device that never answered */
    rig_free(rig);
    for (uint32_t moment = 300; moment < 700; moment += 7) { /* during start-up */
        rig = rig_new(CFOIL_ACCEPT_ALL);
        rig_open(rig);
        rig_run(rig, moment);
        rig_command(rig, CFOIL_COMMAND_QUIT, 0);
        rig_run(rig, 1000);
        assert_int_equal(rig->fake.enable, 0);
        rig_free(rig);
    }
}

static void the_table_is_complete(void **unused)
{
    (void)unused;
    assert_int_equal(mdb_adapter.struct_size, sizeof(cfoil_adapter));
    assert_int_equal(mdb_adapter.api_version, CFOIL_ADAPTER_API);
    assert_string_equal(mdb_adapter.id, "mdb");
    assert_int_equal(mdb_adapter.maturity, CFOIL_MATURITY_EXPERIMENTAL);
    assert_int_equal(mdb_adapter.capabilities,
                     CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_MEMORY | CFOIL_ADAPTER_WORDS);
    assert_int_equal(mdb_adapter.frame_max, 72);
}

static void overheard_commands_are_recognised(void **unused)
{
    (void)unused;
    static const uint8_t talk[] = {0x33, 1, 0x33, 0, 0x00, 1, 0x36, 1, 0x36, 0, 0x00, 0, 0x17, 0, 0x17, 1,
                                   0x34, 1, 0x00, 0, 0x07, 0, 0x00, 0, 0x07, 0, 0x42, 0, 0x33, 1, 0x33, 0};
    assert_int_equal(mdb_adapter.identify(talk, 0), 0);
    assert_int_equal(mdb_adapter.identify(talk, 3), 0);
    assert_int_equal(mdb_adapter.identify(talk, 4), 20);
    assert_int_equal(mdb_adapter.identify(talk, 10), 40);
    assert_int_equal(mdb_adapter.identify(talk, sizeof talk), 80);
    static const uint8_t cut[] = {0x33, 1, 0x34, 0, 0x33};
    assert_int_equal(mdb_adapter.identify(cut, sizeof cut), 0);
    static const uint8_t wrong[] = {0x33, 1, 0x34, 0, 0x33, 1, 0x08, 1, 0x0B, 1, 0x0B, 0};
    assert_int_equal(mdb_adapter.identify(wrong, sizeof wrong), 0);
    uint8_t zeros[128] = {0x37, 1, 1, 0};
    for (uint32_t i = 4; i < sizeof zeros; i += 2)
        zeros[i] = 0x01;
    assert_int_equal(mdb_adapter.identify(zeros, sizeof zeros), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damaged_answers_are_asked_for_again),
        cmocka_unit_test(three_ret_then_nak),
        cmocka_unit_test(late_and_doubled_answers_belong_to_nothing),
        cmocka_unit_test(a_gap_in_a_block_is_damage),
        cmocka_unit_test(bytes_that_make_no_word_are_dropped),
        cmocka_unit_test(a_babbling_bus_is_lost),
        cmocka_unit_test(an_answer_of_another_command_is_no_answer),
        cmocka_unit_test(what_follows_an_answer_is_dropped),
        cmocka_unit_test(seventeen_bytes_are_no_poll_answer),
        cmocka_unit_test(quitting_disables_in_one_block),
        cmocka_unit_test(the_table_is_complete),
        cmocka_unit_test(overheard_commands_are_recognised),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
