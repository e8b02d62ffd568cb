/*
 * Does the MDB session start every device, tell each status once, survive a bad bus, and obey the host?
 */
#include "fake_mdb.h"

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
