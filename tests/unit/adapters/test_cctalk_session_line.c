/*
 * Faults of the line: lost, doubled, damaged, cut, late and stale answers, noise, and others who talk on it. No note may
 * be told twice, too few may be told only with a word about it, and polling must go on.
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

static struct rig *ready(int32_t accept)
{
    struct rig *rig = rig_begin();
    rig->loose = true;
    rig_ready(rig, accept);
    rig_run(rig, 300);
    rig_forget(rig);
    return rig;
}

static void exactly_check(struct rig *rig, uint32_t stacked)
{
    if (rig->fake.stacked_count != stacked || rig_stacked_check(rig) != 0 ||
        rig_count(rig, CFOIL_KIND_STACKED) != stacked) {
        rig_dump(rig);
        fail_msg("not told exactly once");
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_LOST_EVENTS), 0);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_RESTARTED), 0);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 0);
}

/* Every fault, on every request of a running session, some answers in a row, while notes are held and stacked. */
static void faults_test(void **state)
{
    (void)state;
    static const uint8_t headers[] = {0, 159, 154, 230, 227};
    for (int fault = FAKE_NAK; fault <= FAKE_FOREIGN_FIRST; fault++) {
        for (uint32_t h = 0; h < sizeof headers; h++) {
            for (uint32_t times = 1; times <= 3; times++) {
                for (uint32_t skip = 0; skip < 8; skip++) {
                    bool altered = fault == FAKE_ANSWER || fault == FAKE_ALTERED || fault == FAKE_LONG;
                    if ((altered && headers[h] != 159) || fault == FAKE_STALE)
                        continue; /* false answers of the right form: tested elsewhere */
                    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
                    rig->chunks = (enum rig_chunks)(skip % 3);
                    rig->policy = POLICY_STACK;
                    rig->decide_after_us = 50000;
                    fake_insert(&rig->fake, 2);
                    fake_rule_add(&rig->fake, headers[h], (enum fake_fault)fault, skip, times, 1 + skip);
                    rig_run(rig, 6000);
                    fake_insert(&rig->fake, 4);
                    rig_run(rig, 4000);
                    exactly_check(rig, 2);
                    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
                    assert_int_equal(rig_lane_state(rig), CFOIL_LANE_ACCEPTING);
                    rig_end(rig);
                }
            }
        }
    }
}

/* Answers late by 10 to 1000 ms: once, three times, on each header. */
static void late_test(void **state)
{
    (void)state;
    static const uint8_t headers[] = {0, 159, 154, 230, 227};
    for (uint32_t late = 10; late <= 1000; late += late < 400 ? 20 : 100) {
        for (uint32_t h = 0; h < sizeof headers; h++) {
            for (uint32_t times = 1; times <= 9; times += 4) {
                struct rig *rig = ready(CFOIL_ACCEPT_ALL);
                fake_insert(&rig->fake, 2);
                fake_rule_add(&rig->fake, headers[h], FAKE_LATE, 1, times, late);
                rig_run(rig, 6000);
                fake_insert(&rig->fake, 3);
                rig_run(rig, 9000);
                fake_insert(&rig->fake, 4);
                rig_run(rig, 3000);
                exactly_check(rig, 3);
                rig_end(rig);
            }
        }
    }
}

/* Late answers during start-up, on any header: it gets ready, with the right values, and nothing is invented. */
static void late_start_test(void **state)
{
    (void)state;
    static const uint8_t headers[] = {254, 245, 246, 244, 242, 4, 249, 230, 228, 232, 159, 156, 153, 152, 231, 227};
    for (uint32_t h = 0; h < sizeof headers; h++) {
        for (uint32_t late = 100; late <= 400; late += 50) {
            struct rig *rig = rig_begin();
            rig->loose = true;
            fake_event(&rig->fake, 3, 0);
            fake_rule_add(&rig->fake, headers[h], FAKE_LATE, 0, 2, late);
            rig_ready(rig, CFOIL_ACCEPT_ALL);
            rig_run(rig, 1000);
            fake_insert(&rig->fake, 2);
            rig_run(rig, 3000);
            exactly_check(rig, 1);
            assert_int_equal(rig_last(rig, CFOIL_KIND_STACKED)->value_minor, 1000);
            rig_end(rig);
        }
    }
}

/* An older answer to 159 again, up to four times, of every age, at every moment around a note. */
static void stale_test(void **state)
{
    (void)state;
    for (uint32_t age = 1; age < FAKE_HISTORY; age++) {
        for (uint32_t times = 1; times <= 4; times++) {
            for (uint32_t skip = 0; skip < 24; skip++) {
                struct rig *rig = ready(CFOIL_ACCEPT_ALL);
                for (uint32_t i = 0; i < 20; i++) {
                    fake_event(&rig->fake, 0, 2);
                    rig_run(rig, 250);
                }
                fake_insert(&rig->fake, 2);
                fake_rule_add(&rig->fake, 159, FAKE_STALE, skip, times, age);
                rig_run(rig, 1500);
                fake_insert(&rig->fake, 2);
                rig_run(rig, 5000);
                exactly_check(rig, 2);
                rig_end(rig);
            }
        }
    }
}

/* The same from the first event on. An old answer with counter 0 looks like a reset when it comes three times and more:
 * then a reset is told, but nothing twice. */
static void stale_zero_test(void **state)
{
    (void)state;
    for (uint32_t age = 1; age < FAKE_HISTORY; age++) {
        for (uint32_t times = 1; times <= 4; times++) {
            for (uint32_t skip = 0; skip < 16; skip++) {
                struct rig *rig = ready(CFOIL_ACCEPT_ALL);
                fake_insert(&rig->fake, 2);
                fake_rule_add(&rig->fake, 159, FAKE_STALE, skip, times, age);
                rig_run(rig, 8000);
                if (times <= 2)
                    exactly_check(rig, 1);
                assert_true(rig_stacked_check(rig) == 0 ||
                            rig_conditions(rig, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT) > 0);
                rig_end(rig);
            }
        }
    }
}

/* One after the other with good ones between. */
static void stale_often_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 200; i++) {
        fake_insert(&rig->fake, (uint8_t)(1 + rig_random(rig, 4)));
        fake_rule_add(&rig->fake, 159, FAKE_STALE, rig_random(rig, 6), 1 + rig_random(rig, 2),
                      1 + rig_random(rig, FAKE_HISTORY - 1));
        rig_run(rig, 2500);
    }
    exactly_check(rig, 200);
    rig_end(rig);
}

/* One answer lost or damaged at a time, for long, while the host changes its mind: the polls still come in time. */
static void poll_gap_test(void **state)
{
    (void)state;
    static const enum fake_fault faults[] = {FAKE_LOST,   FAKE_SILENT,  FAKE_FLIPPED, FAKE_CUT,
                                             FAKE_TAILED, FAKE_DOUBLED, FAKE_GLUED};
    static const uint8_t headers[] = {159, 230, 227, 152};
    for (uint32_t i = 0; i < 4 * sizeof faults / sizeof faults[0]; i++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        for (uint32_t k = 0; k < 20; k++) {
            fake_rules_clear(&rig->fake);
            fake_rule_add(&rig->fake, headers[i % 4], faults[i / 4], rig_random(rig, 3), 1, 2);
            assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, k % 2 == 0 ? CFOIL_ACCEPT_ALL : CFOIL_ACCEPT_HOLD),
                             CFOIL_OK);
            rig_run(rig, 900);
        }
        assert_true(rig->poll_gap_us <= 800000);
        assert_int_equal(rig->fake.asleep_count, 0);
        rig_end(rig);
    }
}

/* Answers that never agree, though each is well formed: nothing is believed, and the device is polled at the usual pace. */
static void never_agree_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    fake_event(&rig->fake, 0, 2);
    fake_event(&rig->fake, 0, 2);
    rig_run(rig, 500);
    rig_forget(rig);
    fake_insert(&rig->fake, 2);
    fake_rule_add(&rig->fake, 159, FAKE_ALTERED, 0, 100, 0);
    rig_run(rig, 3000);
    assert_int_equal(rig->event_count, 0);
    assert_in_range(rig_requests(rig, 159, -1), 20, 100);
    fake_rules_clear(&rig->fake);
    rig_run(rig, 2000);
    exactly_check(rig, 1);
    rig_end(rig);
}

/* Answers with a byte too many are no answers. */
static void answers_long_test(void **state)
{
    (void)state;
    static const uint8_t headers[] = {254, 242, 232, 159, 156, 228, 153, 231, 230, 227, 152};
    for (uint32_t h = 0; h < sizeof headers; h++) {
        struct rig *rig = rig_begin();
        rig->loose = true;
        rig->fake.serial_length = headers[h] == 242 ? 0 : 3; /* there: NAK with data */
        rig->fake.fault_extra = 0;
        fake_rule_add(&rig->fake, headers[h], FAKE_LONG, 0, 2, 0);
        rig_ready(rig, CFOIL_ACCEPT_ALL);
        assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_FAULT), 0);
        rig_end(rig);
    }
}

/* Five damaged messages within a minute are told once; less are not; the next minute counts anew. */
static void noise_event_test(void **state)
{
    (void)state;
    struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
    rig_run(rig, 60000);
    fake_rule_add(&rig->fake, 159, FAKE_FLIPPED, 0, 4, 4);
    rig_run(rig, 5000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_LINE_NOISY), 0);
    fake_rule_add(&rig->fake, 159, FAKE_CUT, 0, 20, 4);
    rig_run(rig, 10000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_LINE_NOISY), 1);
    rig_run(rig, 70000);
    fake_rule_add(&rig->fake, 159, FAKE_FLIPPED, 0, 5, 4);
    rig_run(rig, 5000);
    assert_int_equal(rig_conditions(rig, CFOIL_CONDITION_LINE_NOISY), 2);
    assert_int_equal(rig->event_count, 2);
    rig_end(rig);
}

/* ---- Others on the line ---- */

/* Another host polls a coin acceptor on the same line: its talk comes at any moment and is never taken for ours. */
static void foreign_talk_test(void **state)
{
    (void)state;
    static const uint8_t talk[] = {2, 0, 1, 254, 255, 1, 0, 2, 0, 253};
    for (uint32_t every = 60; every < 400; every += 45) {
        struct rig *rig = ready(CFOIL_ACCEPT_ALL);
        for (uint32_t i = 0; i < 100; i++) {
            if (i % 25 == 0)
                fake_insert(&rig->fake, 2);
            rig_bytes(rig, talk, sizeof talk);
            rig_run(rig, every + rig_random(rig, 40));
        }
        rig_run(rig, 3000);
        assert_int_equal(rig_stacked_check(rig), 0);
        assert_true(rig->fake.stacked_count >= 3);
        exactly_check(rig, rig->fake.stacked_count);
        rig_end(rig);
    }
}

/* Two devices answer at one address, or an echo comes late: whatever it is, no money is made of it. */
static void strays_test(void **state)
{
    (void)state;
    uint8_t frame[32];
    uint8_t data[11] = {7, 4, 0, 4, 0, 4, 0, 4, 0, 4, 0};
    struct rig *rig = ready(CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 400; i++) {
        data[0] = (uint8_t)rig_random(rig, 256);
        uint32_t length = fake_frame(false, 1, 40, 0, data, rig_random(rig, 3) == 0 ? 11 : rig_random(rig, 3), frame);
        rig_bytes(rig, frame, length);
        rig_run(rig, 37 + rig_random(rig, 300));
    }
    assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
    rig_run(rig, 20000);
    rig_forget(rig);
    (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_ALL);
    rig_run(rig, 2000);
    fake_insert(&rig->fake, 2);
    rig_run(rig, 3000);
    exactly_check(rig, 1);
    rig_end(rig);
}

/* ---- Noise ---- */

/* Noise without end: the device is lost after 10 s however it sounds, and comes back. */
static void babble_test(void **state)
{
    (void)state;
    static const uint32_t gaps_ms[] = {1, 7, 30, 45, 49, 60};
    static const uint8_t sounds[][2] = {{0xFF, 0xFF}, {0x00, 0x00}, {0x01, 0xFC}, {0x28, 0x00}, {0xA5, 0x5A}};
    for (uint32_t i = 0; i < 6 * 5; i++) {
        struct rig *rig = ready(CFOIL_ACCEPT_HOLD);
        rig->fake.dark_until_us = UINT64_MAX; /* not a word from the device */
        for (uint32_t ms = 0; ms < 22000; ms += gaps_ms[i % 6] + 2) {
            rig_bytes(rig, sounds[i / 6], 2);
            rig_run(rig, gaps_ms[i % 6] + 2);
        }
        assert_int_equal(rig_lane_state(rig), CFOIL_LANE_LOST);
        rig->fake.dark_until_us = 0;
        assert_true(rig_run_until_state(rig, CFOIL_LANE_ACCEPTING, 10000));
        rig_end(rig);
    }
}

/* Random bytes in random pieces at random times, at any stage: never money, no crash, no endless loop. */
static void garbage_test(void **state)
{
    (void)state;
    uint8_t bytes[300];
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct rig *rig = rig_begin();
        rig->loose = true;
        rig->seed = seed;
        rig->fake.dark_until_us = seed % 2 == 0 ? UINT64_MAX : 0;
        rig_start(rig, CFOIL_ACCEPT_ALL, seed % 4 < 2 ? "" : "check=crc");
        for (uint32_t i = 0; i < 5000; i++) {
            uint32_t length = rig_random(rig, rig_random(rig, 10) == 0 ? 300 : 12);
            for (uint32_t k = 0; k < length; k++)
                bytes[k] = (uint8_t)(rig_random(rig, 3) == 0 ? rig_random(rig, 256) : rig_random(rig, 42));
            rig->now_us += rig_random(rig, 60000);
            fake_advance(&rig->fake, rig->now_us);
            step(rig, bytes, length);
            rig_run(rig, rig_random(rig, 20));
            if (rig->event_count > RIG_EVENTS / 2 || rig->state_count > RIG_STATES / 2) {
                assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
                rig_forget(rig);
            }
        }
        assert_int_equal(rig_count(rig, CFOIL_KIND_STACKED), 0);
        rig_end(rig);
    }
}

/* A damaged echo is a collision: the request is repeated. */
static void echo_damaged_test(void **state)
{
    (void)state;
    struct rig *rig = rig_begin();
    rig->loose = true;
    rig->echo = true;
    rig_ready(rig, CFOIL_ACCEPT_ALL);
    for (uint32_t i = 0; i < 50; i++) {
        if (i % 10 == 0)
            fake_insert(&rig->fake, 2);
        for (uint32_t k = 0; k < 300 && rig->line_count == 0; k++)
            rig_run(rig, 1);
        if (rig->line_count > 0)
            rig->line[(rig->line_first + rig_random(rig, rig->line_count)) % RIG_LINE].byte ^= 4;
        rig_run(rig, 333);
    }
    rig_run(rig, 2000);
    exactly_check(rig, 5);
    rig_end(rig);
}

/* What the adapter says of overheard bytes. */
static void identify_test(void **state)
{
    (void)state;
    uint8_t bytes[256] = {0};
    uint32_t length = 0;
    assert_int_equal(cctalk_adapter.identify(bytes, 0), 0);
    for (int32_t i = 1; i <= 6; i++) {
        length += fake_frame(i % 2 == 0, i % 3 == 0 ? 1 : 40, i % 3 == 0 ? 40 : 1, 254, NULL, 0, bytes + length);
        bytes[length++] = 0xFF; /* something between */
        assert_int_equal(cctalk_adapter.identify(bytes, length), i < 4 ? 20 * i : 80);
    }
    length = fake_frame(false, 2, 1, 254, NULL, 0, bytes);
    length += fake_frame(false, 48, 1, 254, NULL, 0, bytes + length);
    assert_int_equal(cctalk_adapter.identify(bytes, length), 0);
    assert_int_equal(cctalk_adapter.identify(bytes, 3), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(faults_test),      cmocka_unit_test(late_test),         cmocka_unit_test(late_start_test),
        cmocka_unit_test(never_agree_test), cmocka_unit_test(answers_long_test), cmocka_unit_test(stale_test),
        cmocka_unit_test(stale_zero_test),  cmocka_unit_test(stale_often_test),  cmocka_unit_test(poll_gap_test),
        cmocka_unit_test(noise_event_test), cmocka_unit_test(foreign_talk_test), cmocka_unit_test(strays_test),
        cmocka_unit_test(babble_test),      cmocka_unit_test(garbage_test),      cmocka_unit_test(echo_damaged_test),
        cmocka_unit_test(identify_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
