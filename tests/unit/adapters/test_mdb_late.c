/*
 * Is nothing that a device said of money passed over when its answer comes late, or when the line goes before a count
 * has proved it? Told as uncertain at once, and decided once.
 */
#include "mdb_host.h"

static const char *const quick[] = {"answer_ms", "20", NULL};

/* Said to be stacked, and the count lags, so that nothing is decided. */
static struct rig *claimed(uint32_t accept, uint8_t type)
{
    struct rig *rig = rig_ready(accept, NULL);
    rig->fake.count_stuck = true;
    fake_stack(&rig->fake, type, true);
    rig_run(rig, 700);
    assert_int_equal(told_stacked(rig), 0);
    return rig;
}

/* ---- The line goes ---- */

static void a_claim_is_told_when_the_line_goes(void **unused)
{
    (void)unused;
    struct rig *rig = claimed(CFOIL_ACCEPT_ALL, 2);
    mdb_adapter.close(rig->state);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    const cfoil_adapter_event *event = told_last(rig, CFOIL_KIND_DEVICE);
    assert_string_equal(event->raw_text, "poll 82");
    assert_int_equal(event->note_type, 3);
    assert_int_equal(event->value_minor, 500);
    /* The device is back: decided now, once. */
    rig->fake.stacker++;
    assert_int_equal(rig_open(rig), CFOIL_OK);
    rig_run(rig, 9000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_last(rig, CFOIL_KIND_STACKED)->flags, CFOIL_EVENT_WHILE_AWAY);
    assert_int_equal(told_lost(rig), 0);
    mdb_adapter.close(rig->state);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1); /* nothing is open any more */
    rig_free(rig);
}

static void a_claim_that_the_count_denies_is_never_credited(void **unused)
{
    (void)unused;
    struct rig *rig = claimed(CFOIL_ACCEPT_ALL, 2);
    mdb_adapter.close(rig->state);
    assert_int_equal(rig_open(rig), CFOIL_OK);
    rig_run(rig, 9000);
    assert_int_equal(told_stacked(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_free(rig);
}

/* Without a serial number there is no memory: what happens from now on cannot be known, where notes are taken unasked. */
static void a_device_without_serial_number(void **unused)
{
    (void)unused;
    for (uint32_t accept = CFOIL_ACCEPT_HOLD; accept <= CFOIL_ACCEPT_ALL; accept++) {
        struct rig *rig = rig_new(accept);
        rig->fake.tells_identity = false;
        assert_int_equal(rig_open(rig), CFOIL_OK);
        rig_run(rig, 4000);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        mdb_adapter.close(rig->state);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), accept == CFOIL_ACCEPT_ALL ? 1 : 0);
        rig_free(rig);
    }
}

static void nothing_to_tell(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    assert_int_equal(rig_open(rig), CFOIL_OK);
    mdb_adapter.close(rig->state);
    rig_open(rig);
    rig_run(rig, 3000);
    uint32_t told = rig->event_count;
    mdb_adapter.close(rig->state);
    assert_int_equal(rig->event_count, told);
    rig_free(rig);
}

/* ---- Answers that come late ---- */

static struct rig *carried(const char *const *settings)
{
    struct rig *rig = rig_ready(CFOIL_ACCEPT_ALL, settings);
    rig->fake.carried = true;
    return rig;
}

/* A carrier that lost a packet brings the answer 100 ms later, or 200. */
static void an_answer_after_a_lost_packet_is_in_time(void **unused)
{
    (void)unused;
    for (uint32_t late_ms = 100; late_ms <= 200; late_ms += 100) {
        struct rig *rig = carried(NULL);
        fake_stack(&rig->fake, 2, true);
        fake_rule_add(&rig->fake, 0x33, FAKE_LATE, 0, 1, late_ms);
        fake_rule_add(&rig->fake, 0x36, FAKE_LATE, 0, 1, late_ms);
        rig_run(rig, 1500);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
        rig_free(rig);
    }
}

/* Given up, and it comes before anything else was asked. Acknowledged by the carrier, it would never be said again. */
static void a_late_answer_is_taken(void **unused)
{
    (void)unused;
    for (int chunks = CHUNKS_WORD; chunks <= CHUNKS_BLOCK; chunks++) {
        struct rig *rig = carried(quick);
        rig->chunks = (enum fake_chunks)chunks;
        fake_stack(&rig->fake, 2, true);
        fake_rule_add(&rig->fake, 0x33, FAKE_LATE, 0, 1, 60);
        rig_run(rig, 700);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_run(rig, 8000);
        assert_int_equal(told_stacked(rig), 1);
        assert_int_equal(told_lost(rig), 0);
        rig_free(rig);
    }
}

/* It comes as the answer to the next POLL, and that one's own answer after it. */
static void answers_a_step_behind(void **unused)
{
    (void)unused;
    struct rig *rig = carried(quick);
    fake_stack(&rig->fake, 2, true);
    fake_rule_add(&rig->fake, 0x33, FAKE_LATE, 0, 1, 290);
    fake_rule_add(&rig->fake, 0x33, FAKE_LATE, 0, 1, 100);
    while (rig->fake.queue_length > 0 || rig->fake.offered > 0)
        rig_run(rig, 1);
    rig_run(rig, 6000);
    assert_int_equal(told_stacked(rig), 1);
    assert_int_equal(told_lost(rig), 0);
    assert_int_equal(told_device(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
    rig_free(rig);
}

/* Until a POLL was given up and nothing is under way. */
static struct rig *given_up(void)
{
    struct rig *rig = carried(quick);
    fake_rule_add(&rig->fake, 0x33, FAKE_LOST, 0, 1, 0);
    while (rig->state->exchange.late_polls == 0)
        rig_run(rig, 1);
    assert_false(rig->state->exchange.under_way);
    return rig;
}

/* A lone ACK, a status, damage, and more than an answer to POLL holds. */
static void late_words_that_say_nothing(void **unused)
{
    (void)unused;
    uint8_t long_block[36];
    static const uint8_t acknowledge[] = {0x00, 0x01};
    static const uint8_t damage[] = {0x55, 0x01};
    static const uint8_t refused[] = {0x0B, 0x00, 0x0B, 0x01};
    for (uint32_t i = 0; i < 17; i++) {
        long_block[2 * i] = 0x82;
        long_block[2 * i + 1] = 0;
    }
    long_block[34] = (uint8_t)(17 * 0x82);
    long_block[35] = 1;
    const struct {
        const uint8_t *bytes;
        uint32_t length;
        uint32_t told;
    } cases[] = {{acknowledge, 2, 0}, {damage, 2, 0}, {refused, 4, 1}, {long_block, 36, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rig *rig = given_up();
        uint32_t told = rig->event_count;
        rig_step(rig, cases[i].bytes, cases[i].length);
        assert_int_equal(rig->event_count, told + cases[i].told);
        rig_run(rig, 6000);
        assert_int_equal(rig->event_count, told + cases[i].told);
        assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
        rig_free(rig);
    }
}

/* A POLL that was given up long ago is not answered any more: who speaks now was asked nothing. */
static void after_the_carriers_patience_nothing_is_taken(void **unused)
{
    (void)unused;
    static const uint8_t claim[] = {0x82, 0x00, 0x82, 0x01};
    struct rig *rig = given_up();
    rig_run(rig, 2200);
    while (rig->state->exchange.under_way)
        rig_run(rig, 1);
    rig_step(rig, claim, sizeof claim);
    assert_int_equal(rig->state->claim_count, 0);
    rig_free(rig);
}

/* The late answer to another command is no answer to POLL: a count of 0x82 is no note. */
static void a_late_count_is_no_note(void **unused)
{
    (void)unused;
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    memcpy(rig->settings, quick, sizeof quick);
    rig->fake.stacker = 0x82;
    assert_int_equal(rig_open(rig), CFOIL_OK);
    rig_run(rig, 3000);
    rig->fake.carried = true;
    rig_forget(rig);
    fake_rule_add(&rig->fake, 0x36, FAKE_LATE, 0, 1, 220);
    while (rig->state->exchange.purpose != PURPOSE_COUNT)
        rig_run(rig, 1);
    fake_rule_add(&rig->fake, 0x33, FAKE_LOST, 0, 1, 0);
    while (rig->state->exchange.late_polls == 0)
        rig_run(rig, 1);
    assert_true(rig->line_length > 0); /* the count is still on its way */
    rig_run(rig, 9000);
    assert_int_equal(rig->event_count, 0);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    rig_free(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_claim_is_told_when_the_line_goes),
        cmocka_unit_test(a_claim_that_the_count_denies_is_never_credited),
        cmocka_unit_test(a_device_without_serial_number),
        cmocka_unit_test(nothing_to_tell),
        cmocka_unit_test(an_answer_after_a_lost_packet_is_in_time),
        cmocka_unit_test(a_late_answer_is_taken),
        cmocka_unit_test(answers_a_step_behind),
        cmocka_unit_test(late_words_that_say_nothing),
        cmocka_unit_test(after_the_carriers_patience_nothing_is_taken),
        cmocka_unit_test(a_late_count_is_no_note),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
