/*
 * The invariant of money, over random scripts with fixed seeds: no note is told as stacked that the device did not stack,
 * none twice, none out of order; and where one is missing, an event of the same time says that some may be.
 */
#include "rig.h"

#include "fake_validator.c"
#include "rig.c"

enum { SEEDS = 150, ROUNDS = 12, ACTIONS = 20 };

static void fault_act(struct rig *rig)
{
    static const uint8_t headers[] = {0, 0, 159, 159, 154, 230, 227, 228, 231, 157, 156, 242, 232};
    static const enum fake_fault faults[] = {FAKE_NAK,     FAKE_BUSY,  FAKE_SILENT, FAKE_LOST,   FAKE_LOST,
                                             FAKE_DOUBLED, FAKE_CUT,   FAKE_LATE,   FAKE_LATE,   FAKE_STALE,
                                             FAKE_FLIPPED, FAKE_GLUED, FAKE_TAILED, FAKE_HEADER, FAKE_FOREIGN_FIRST};
    enum fake_fault fault = faults[rig_random(rig, sizeof faults / sizeof faults[0])];
    uint8_t header = fault == FAKE_STALE ? 159 : headers[rig_random(rig, sizeof headers)];
    uint32_t value = fault == FAKE_LATE ? rig_random(rig, 700) : 1 + rig_random(rig, FAKE_HISTORY - 1);
    fake_rule_add(&rig->fake, header, fault, rig_random(rig, 12), 1 + rig_random(rig, 2), value);
}

static void device_act(struct rig *rig)
{
    static const uint8_t codes[] = {2, 3, 4, 10, 11, 12, 14, 20};
    switch (rig_random(rig, 8)) {
    case 0:
        rig->fake.power_loss = (enum fake_power_loss)rig_random(rig, 3);
        fake_reset(&rig->fake, rig_random(rig, 3) == 0 ? 20000000 : rig_random(rig, 1500000));
        break;
    case 1:
        rig->fake.jam_code = rig_random(rig, 2) == 0 ? 7 : 8;
        break;
    case 2:
        rig->fake.fault = rig->fake.fault == 0 ? 39 : 0;
        break;
    case 3:
        for (uint32_t i = rig_random(rig, 9); i > 0; i--)
            fake_event(&rig->fake, 0, codes[rig_random(rig, sizeof codes)]);
        break;
    case 4:
        rig->fake.route_fails = rig_random(rig, 6);
        break;
    case 5:
        rig->fake.escrow_time_us = 500000 + rig_random(rig, 10000000);
        break;
    default:
        fake_event(&rig->fake, 0, codes[rig_random(rig, sizeof codes)]);
        break;
    }
}

static void host_act(struct rig *rig)
{
    switch (rig_random(rig, 6)) {
    case 0:
        rig_restart(rig, (int32_t)rig_random(rig, 3));
        break;
    case 1:
        (void)rig_command(rig, CFOIL_COMMAND_QUIT, 0);
        rig_run(rig, rig_random(rig, 400));
        rig_restart(rig, (int32_t)rig_random(rig, 3));
        break;
    case 2:
        rig->cut = true;
        rig_run(rig, rig_random(rig, 15000));
        rig->cut = false;
        break;
    case 3:
        (void)rig_command(rig, CFOIL_COMMAND_HOLD, (int32_t)rig_random(rig, 20000));
        break;
    default:
        assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)rig_random(rig, 3)), CFOIL_OK);
        break;
    }
}

static void act(struct rig *rig)
{
    uint32_t choice = rig_random(rig, 100);
    if (choice < 55)
        (void)fake_insert(&rig->fake, (uint8_t)(1 + rig_random(rig, 4)));
    else if (choice < 80)
        fault_act(rig);
    else if (choice < 88)
        device_act(rig);
    else if (choice < 92)
        host_act(rig);
    else
        (void)rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD + (int32_t)rig_random(rig, 2));
    rig_run(rig, rig_random(rig, 3) == 0 ? rig_random(rig, 60) : rig_random(rig, 2000));
}

/* Has an event since `from` said that notes may be missing? */
static bool explained(const struct rig *rig, uint32_t from)
{
    for (uint32_t i = from; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i].event;
        if (event->kind == CFOIL_KIND_LOST_EVENTS || event->condition == CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT ||
            event->condition == CFOIL_CONDITION_UNKNOWN_NOTE_STACKED ||
            (event->condition == CFOIL_CONDITION_IDENTIFIED && strstr(event->text, "no serial") != NULL))
            return true;
    }
    return false;
}

/* Quiet: the line is good, and the device is in order and dealt with to the end. */
static void settle(struct rig *rig)
{
    fake_rules_clear(&rig->fake);
    rig->cut = false;
    rig->fake.fault = 0;
    rig->fake.jam_code = 0;
    rig->fake.route_fails = 0;
    rig_run(rig, 45000);
}

static void script_run(uint64_t seed, bool same_type)
{
    struct rig *rig = rig_begin();
    rig->seed = seed;
    rig->loose = true;
    rig->chunks = (enum rig_chunks)(seed % 3);
    rig->fake.crc = seed % 5 == 0;
    rig->echo = seed % 4 == 0;
    rig->policy = POLICY_MIXED;
    rig->decide_after_us = 1000 * (uint64_t)rig_random(rig, 3000);
    if (same_type)
        rig->fake.names[1] = rig->fake.names[2] = rig->fake.names[3] = NULL;
    uint32_t missing = 0;
    rig_ready(rig, CFOIL_ACCEPT_HOLD);
    for (uint32_t round = 0; round < ROUNDS; round++) {
        uint32_t from = rig->event_count;
        for (uint32_t i = 0; i < ACTIONS; i++)
            act(rig);
        settle(rig);
        uint32_t missing_now = rig_stacked_check(rig);
        if (missing_now != missing && !explained(rig, from)) {
            rig_dump(rig);
            fail_msg("seed %u round %u: %u missing without a word", (unsigned)seed, round, missing_now - missing);
        }
        int32_t lane = rig_lane_state(rig);
        if (lane != CFOIL_LANE_ACCEPTING && lane != CFOIL_LANE_IDLE) {
            rig_dump(rig);
            fail_msg("seed %u round %u: not ready", (unsigned)seed, round);
        }
        missing = missing_now;
    }
    rig_end(rig);
}

static void random_scripts_test(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= SEEDS; seed++)
        script_run(seed, false);
}

/* Notes of one type only: pairs repeat, so that a counter alone tells them apart. */
static void random_same_type_test(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= SEEDS; seed++)
        script_run(1000 + seed, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_scripts_test),
        cmocka_unit_test(random_same_type_test),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
