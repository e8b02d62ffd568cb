/*
 * Does the MDB session start every device, take its settings, and obey the host over a held note?
 */
#include "mdb_host.h"

/* ---- Start-up ---- */

/* Words sent, as "133 033 ...", to compare a whole start. */
static uint16_t sent_word(const struct rig *rig, uint32_t number)
{
    return (uint16_t)(rig->sent[2 * number] | rig->sent[2 * number + 1] << 8);
}

/* The commands sent, in order, by first and second byte; ACK, RET and NAK left out. */
static uint32_t sent_commands(const struct rig *rig, uint8_t (*commands)[2], uint32_t most)
{
    uint32_t count = 0;
    for (uint32_t i = 0; 2 * i < rig->sent_length && count < most; i++) {
        uint16_t word = sent_word(rig, i);
        if ((word & 0x100) == 0)
            continue;
        commands[count][0] = (uint8_t)word;
        commands[count][1] = (uint8_t)sent_word(rig, i + 1);
        count++;
    }
    return count;
}

static void start_up_is_in_order(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_HOLD);
    rig->fake.queue_length = 0; /* it was on before us: a RESET is needed */
    rig->fake.setup[0] = 2;
    rig->fake.options = 0x02;
    rig_open(rig);
    rig_run(rig, 2000);
    static const uint8_t wanted[][2] = {{0x33, 0x33}, {0x30, 0x30}, {0x33, 0x33}, {0x31, 0x31}, {0x36, 0x36},
                                        {0x36, 0x36}, {0x37, 0x02}, {0x37, 0x01}, {0x37, 0x03}, {0x37, 0x05},
                                        {0x32, 0xFF}, {0x34, 0x00}, {0x33, 0x33}};
    uint8_t commands[13][2];
    assert_int_equal(sent_commands(rig, commands, 13), 13);
    assert_memory_equal(commands, wanted, sizeof wanted);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig->fake.enable, 0x7F);
    assert_int_equal(rig->fake.escrow, 0x7F);
    assert_int_equal(rig->fake.breaks, 0);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_DEVICE);
    assert_int_equal(event->condition, CFOIL_CONDITION_IDENTIFIED);
    assert_non_null(strstr(event->text, "ABC000000123456 MODEL7, version 0123, level 2, USD, 7 note types, escrow"));
    assert_int_equal(told_device(rig, CFOIL_CONDITION_RESTARTED), 0); /* the reset was ours */
    rig_free(rig);
}

static void level_one_without_security(void **unused)
{
    (void)unused;
    static const char *const settings[] = {"security", "none", NULL};
    for (uint8_t level = 0; level <= 3; level++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_NONE);
        rig->settings[0] = settings[0];
        rig->settings[1] = settings[1];
        rig->fake.setup[0] = level;
        rig->fake.options = level == 3 ? 0x02 : 0;
        rig_open(rig);
        rig_run(rig, 2000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
        assert_int_equal(rig->lane_result, CFOIL_OK);
        assert_int_equal(rig->fake.seen[0x32], 0);
        assert_int_equal(rig->fake.seen[0x37], level < 2 ? 1 : level == 2 ? 2 : 4);
        rig_free(rig);
    }
}

static void nothing_but_polls_before_the_device_answers(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.boots = true;
    rig->fake.dark_until_us = UINT64_C(60000000);
    rig_open(rig);
    rig_run(rig, 40000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_SILENT);
    for (uint32_t i = 0; 2 * i < rig->sent_length; i += 2) {
        assert_int_equal(sent_word(rig, i), 0x133);
        assert_int_equal(sent_word(rig, i + 1), 0x033);
    }
    rig_run(rig, 25000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

static void a_bus_reset_replaces_reset(void **unused)
{
    (void)unused;
    static const char *const settings[] = {"bus_reset", "yes", NULL};
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->settings[0] = settings[0];
    rig->settings[1] = settings[1];
    rig->fake.queue_length = 0;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->fake.breaks, 1);
    assert_int_equal(rig->fake.seen[0x30], 0);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig->fake.boots = true; /* silent for long: a break every 10 s */
    rig->fake.dark_until_us = rig->now_us + UINT64_C(40000000);
    rig_run(rig, 35000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_LOST);
    assert_in_range(rig->fake.breaks, 3, 4);
    rig_free(rig);
}

/* 06 may be said once only and be lost, or never be said. */
static void a_device_that_never_says_reset_starts(void **unused)
{
    (void)unused;
    for (int breaks = 0; breaks < 2; breaks++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        rig->settings[0] = breaks ? "bus_reset" : NULL;
        rig->settings[1] = "yes";
        rig->fake.no_reset_word = true;
        rig->fake.queue_length = 0;
        rig_open(rig);
        rig_run(rig, 12000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        assert_int_equal(rig->fake.breaks, (uint32_t)breaks);
        rig_free(rig);
    }
}

static void values_need_a_currency(void **unused)
{
    (void)unused;
    static const struct {
        uint8_t country[2];
        const char *setting;
        int32_t state;
        const char *text;
    } rows[] = {
        {{0x00, 0x01}, NULL, CFOIL_LANE_IDLE, "currency=XXX"},    /* telephone code */
        {{0x00, 0x01}, "USD", CFOIL_LANE_ACCEPTING, "accepting"}, /* and the setting it needs */
        {{0x19, 0x78}, "USD", CFOIL_LANE_IDLE, "contradicts"},    /* the device says euro */
        {{0x19, 0x78}, "EUR", CFOIL_LANE_ACCEPTING, "accepting"},
    };
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        rig->settings[0] = rows[i].setting != NULL ? "currency" : NULL;
        rig->settings[1] = rows[i].setting;
        memcpy(rig->fake.setup + 1, rows[i].country, 2);
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(rig->lane_state, rows[i].state);
        assert_non_null(strstr(rig->lane_text, rows[i].text));
        assert_int_equal(rig->fake.enable, rows[i].state == CFOIL_LANE_IDLE ? 0 : 0x7F);
        if (rows[i].state == CFOIL_LANE_IDLE)
            assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_NOTES);
        rig_free(rig);
    }
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    memset(rig->fake.setup + 11, 0, 16);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_NOTES);
    assert_non_null(strstr(rig->lane_text, "no note of known value"));
    rig_free(rig);
}

static void a_short_setup_answer_is_enough(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.setup_length = 14;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->fake.enable, 0x07);
    rig_free(rig);
}

static void without_escrow_nothing_is_held(void **unused)
{
    (void)unused;
    for (int counted = 0; counted < 2; counted++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_HOLD);
        rig->settings[0] = counted ? NULL : "stacker_count";
        rig->settings[1] = "no";
        rig->fake.setup[10] = 0;
        rig_open(rig);
        rig_run(rig, 3000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_IDLE);
        assert_int_equal(rig->lane_result, CFOIL_E_DEVICE_REFUSED);
        rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL);
        rig_run(rig, 3000);
        assert_int_equal(rig->lane_state, counted ? CFOIL_LANE_ACCEPTING : CFOIL_LANE_IDLE);
        rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE);
        rig_run(rig, 1000);
        assert_int_equal(rig->lane_result, CFOIL_OK);
        rig_free(rig);
    }
}

static void identity_is_optional(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.tells_identity = false;
    rig_open(rig);
    rig_run(rig, 4000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    assert_non_null(strstr(told_last(rig, CFOIL_KIND_DEVICE)->text, "without serial number"));
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(rig->store_count, 0); /* there is no name to store it under */
    fake_power_loss(&rig->fake, 100000);
    rig_run(rig, 5000);
    fake_stack(&rig->fake, 2, false);
    rig_run(rig, 10000);
    assert_int_equal(told_lost(rig), 1); /* in one life the count is known all the same */
    rig_free(rig);
}

static void odd_serial_numbers_make_no_odd_keys(void **unused)
{
    (void)unused;
    static const struct {
        const char *identity; /* maker and serial number */
        const char *key;
    } rows[] = {
        {"ABC000000123456", "mdb/ABC000000123456"},
        {"ab-00 0000X 23\xFF", "mdb/ab-000000X23"},
        {"ABC000000000000", ""},
        {"ABC            ", ""},
        {"ABC\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF", ""},
    };
    for (uint32_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
        memcpy(rig->fake.identity, rows[i].identity, 15);
        rig_open(rig);
        rig_run(rig, 3000);
        assert_string_equal(rig->state->key, rows[i].key);
        rig_free(rig);
    }
}

/* Each command of start-up fails: for a while, and for good. */
static void every_command_of_start_up_may_fail(void **unused)
{
    (void)unused;
    static const uint8_t commands[] = {0x30, 0x31, 0x32, 0x33, 0x34, 0x36, 0x37};
    static const enum fake_fault faults[] = {FAKE_SILENT, FAKE_LOST,    FAKE_REFUSED, FAKE_CUT,   FAKE_FLIPPED,
                                             FAKE_LATE,   FAKE_DOUBLED, FAKE_GAP,     FAKE_NOISE, FAKE_NO_ENDING};
    for (uint32_t c = 0; c < sizeof commands; c++) {
        for (uint32_t f = 0; f < sizeof faults / sizeof faults[0]; f++) {
            for (uint32_t times = 1; times <= 30; times += 29) {
                struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
                rig->fake.queue_length = times == 1 ? 0 : 1;
                rig->fake.setup[0] = 2;
                rig->fake.options = 2;
                fake_rule_add(&rig->fake, commands[c], faults[f], 0, times, 26);
                rig_open(rig);
                rig_run(rig, times == 1 ? 8000 : 60000);
                if (rig->lane_state != CFOIL_LANE_ACCEPTING) {
                    told_print(rig);
                    fail_msg("command %02X fault %d times %u", commands[c], faults[f], times);
                }
                fake_insert(&rig->fake, 2);
                rig_run(rig, 4000);
                assert_int_equal(told_stacked(rig), 1);
                rig_free(rig);
            }
        }
    }
}

static void a_count_that_never_repeats_is_said(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig_open(rig);
    for (uint32_t i = 0; i < 3000; i++) {
        rig->fake.stacker = i;
        rig_run(rig, 2);
    }
    assert_int_equal(rig->lane_state, CFOIL_LANE_STARTING);
    assert_non_null(strstr(rig->lane_text, "never the same twice"));
    rig_free(rig);
    rig = rig_new(CFOIL_ACCEPT_ALL);
    fake_rule_add(&rig->fake, 0x36, FAKE_REFUSED, 0, 1000, 0);
    rig_open(rig);
    rig_run(rig, 1500);
    assert_non_null(strstr(rig->lane_text, "stacker_count"));
    assert_int_equal(rig->lane_state, CFOIL_LANE_STARTING);
    rig_free(rig);
    rig = rig_new(CFOIL_ACCEPT_HOLD);
    rig->settings[0] = "stacker_count";
    rig->settings[1] = "no";
    fake_rule_add(&rig->fake, 0x36, FAKE_REFUSED, 0, 1000, 0);
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

/* ---- Settings ---- */

static void settings_are_checked(void **unused)
{
    (void)unused;
    static const char *const good[][2] = {
        {"currency", "EUR"},   {"poll_ms", "25"},        {"poll_ms", "500"},      {"answer_ms", "5"},
        {"answer_ms", "1000"}, {"silence_ms", "1000"},   {"silence_ms", "10000"}, {"hold_ms", "500"},
        {"hold_ms", "600000"}, {"security", "high"},     {"security", "none"},    {"bus_reset", "yes"},
        {"bus_reset", "no"},   {"stacker_count", "yes"}, {"stacker_count", "no"},
    };
    static const char *const bad[][2] = {
        {"currency", "eur"},       {"currency", "EU"},     {"currency", "EURO"}, {"currency", ""},
        {"currency", "E R"},       {"poll_ms", "24"},      {"poll_ms", "501"},   {"poll_ms", ""},
        {"poll_ms", "1O0"},        {"poll_ms", "-50"},     {"answer_ms", "4"},   {"silence_ms", "999"},
        {"hold_ms", "1000000000"}, {"security", "low"},    {"bus_reset", "1"},   {"stacker_count", ""},
        {"colour", "red"},         {"currency.GB", "GBP"},
    };
    struct rig *rig = rig_new(CFOIL_ACCEPT_NONE);
    for (uint32_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        rig->settings[0] = good[i][0];
        rig->settings[1] = good[i][1];
        assert_int_equal(rig_open(rig), CFOIL_OK);
    }
    for (uint32_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        rig->settings[0] = bad[i][0];
        rig->settings[1] = bad[i][1];
        assert_int_equal(rig_open(rig), CFOIL_E_ARGUMENT_SETTING);
        cfoil_adapter_setting setting = {bad[i][0], bad[i][1]};
        char error[120] = "";
        cfoil_adapter_start start = {.struct_size = sizeof start,
                                     .setting_count = 1,
                                     .settings = &setting,
                                     .host = &rig->host,
                                     .error_capacity = sizeof error,
                                     .error = error};
        assert_int_equal(mdb_adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
        assert_non_null(strstr(error, bad[i][0]));
        start.error_capacity = 0;
        assert_int_equal(mdb_adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
        start.error = NULL;
        assert_int_equal(mdb_adapter.open(rig->state, &start), CFOIL_E_ARGUMENT_SETTING);
    }
    rig_free(rig);
}

/* ---- The held note ---- */

static void a_held_note_goes_back_on_command(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 4));
    rig_run(rig, 1000);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_HELD);
    assert_int_equal(event->value_minor, 2000);
    assert_string_equal(event->raw_text, "poll 94");
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_OK);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    rig_run(rig, 1500);
    assert_int_equal(told_last(rig, CFOIL_KIND_RETURNED)->value_minor, 2000);
    assert_int_equal(rig->fake.returned_count, 1);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 100), CFOIL_E_STATE_NO_NOTE);
    rig_free(rig);
}

static void a_note_nobody_decides_about_goes_back(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 4));
    rig_run(rig, 1000);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 9000), CFOIL_OK);
    rig_run(rig, 8000);
    assert_int_equal(rig->fake.returned_count, 0);
    rig_run(rig, 3000);
    assert_int_equal(rig->fake.returned_count, 1);
    assert_true(fake_insert(&rig->fake, 4));
    rig_run(rig, 5000);
    assert_int_equal(rig->fake.returned_count, 1);
    rig_run(rig, 2000);
    assert_int_equal(rig->fake.returned_count, 2); /* hold_ms is 5 s */
    rig_free(rig);
}

static void commands_out_of_range_are_refused(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, 99, 0), CFOIL_E_ARGUMENT_RANGE);
    rig_free(rig);
}

/* The ESCROW command or its answer is lost: said again, and still one credit. */
static void a_lost_escrow_command_is_sent_again(void **unused)
{
    (void)unused;
    for (int fault = FAKE_SILENT; fault <= FAKE_LOST; fault++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
        fake_rule_add(&rig->fake, 0x35, (enum fake_fault)fault, 0, 2, 0);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        rig_run(rig, 10000);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
        rig_free(rig);
    }
}

static void an_escrow_command_that_is_never_taken(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    fake_rule_add(&rig->fake, 0x35, FAKE_REFUSED, 0, 100, 0);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    rig_run(rig, 10000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_string_equal(rig->last_log, "escrow_failed");
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
    rig->fake.motion = MOTION_NONE;
    fake_stack(&rig->fake, 2, true); /* a late word still counts: the command had been sent */
    rig_run(rig, 2000);
    assert_int_equal(told_stacked(rig), 1);
    rig_free(rig);
}

static void an_outcome_that_does_not_come(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    rig->fake.no_outcome = true;
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    rig_command(rig, CFOIL_COMMAND_STACK, 0);
    rig_run(rig, 25000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
    rig_run(rig, 10000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    fake_say(&rig->fake, 0x92); /* still there after all, or another one */
    rig_run(rig, 1000);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 2);
    rig_free(rig);
}

/* 0A: no note was there for the command. */
static void an_empty_escrow_is_found_out(void **unused)
{
    (void)unused;
    for (int stacks = 0; stacks < 2; stacks++) {
        struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
        assert_true(fake_insert(&rig->fake, 2));
        rig_run(rig, 1000);
        rig->fake.motion = MOTION_NONE; /* gone, without a word */
        rig_command(rig, stacks == 1 ? CFOIL_COMMAND_STACK : CFOIL_COMMAND_RETURN, 0);
        rig_run(rig, 7000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        assert_int_equal(told_stacked(rig), 0);
        fake_say(&rig->fake, 0x0A); /* and with nothing held it means nothing */
        rig_run(rig, 1000);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
        rig_free(rig);
    }
}

static void another_note_in_escrow_ends_the_first(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_HOLD, NULL);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 1000);
    fake_say(&rig->fake, 0x92); /* the same, said again */
    rig_run(rig, 1000);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 1);
    fake_say(&rig->fake, 0x93);
    rig_run(rig, 1000);
    assert_int_equal(told_count(rig, CFOIL_KIND_HELD, CFOIL_CONDITION_NONE), 2);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    fake_say(&rig->fake, 0xA4); /* and a third comes back */
    rig_run(rig, 1000);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(told_last(rig, CFOIL_KIND_RETURNED)->note_type, 5);
    rig_free(rig);
}

/* A note that came into escrow while notes stopped being taken goes back by itself where nobody decides. */
static void a_note_held_while_stopped_goes_back(void **unused)
{
    (void)unused;
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, NULL);
    rig->fake.always_holds = true;
    fake_say(&rig->fake, 0x0C);
    assert_true(fake_insert(&rig->fake, 2));
    rig_run(rig, 3000);
    assert_int_equal(rig->fake.returned_count, 1);
    assert_int_equal(told_stacked(rig), 0);
    rig_free(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(start_up_is_in_order),
        cmocka_unit_test(level_one_without_security),
        cmocka_unit_test(nothing_but_polls_before_the_device_answers),
        cmocka_unit_test(a_bus_reset_replaces_reset),
        cmocka_unit_test(a_device_that_never_says_reset_starts),
        cmocka_unit_test(values_need_a_currency),
        cmocka_unit_test(a_short_setup_answer_is_enough),
        cmocka_unit_test(without_escrow_nothing_is_held),
        cmocka_unit_test(identity_is_optional),
        cmocka_unit_test(odd_serial_numbers_make_no_odd_keys),
        cmocka_unit_test(every_command_of_start_up_may_fail),
        cmocka_unit_test(a_count_that_never_repeats_is_said),
        cmocka_unit_test(settings_are_checked),
        cmocka_unit_test(a_held_note_goes_back_on_command),
        cmocka_unit_test(a_note_nobody_decides_about_goes_back),
        cmocka_unit_test(commands_out_of_range_are_refused),
        cmocka_unit_test(a_lost_escrow_command_is_sent_again),
        cmocka_unit_test(an_escrow_command_that_is_never_taken),
        cmocka_unit_test(an_outcome_that_does_not_come),
        cmocka_unit_test(an_empty_escrow_is_found_out),
        cmocka_unit_test(another_note_in_escrow_ends_the_first),
        cmocka_unit_test(a_note_held_while_stopped_goes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
