/*
 * Whatever goes wrong in whatever order: is never more credited than was stacked, and is every note that was stacked and
 * not credited explained by an event?
 */
#include "mdb_host.h"

enum { EPISODES = 1500 };

/* Never more than the truth, at any moment and for each type. */
static void credit_is_true(const struct rig *rig, uint32_t episode)
{
    for (uint8_t type = 0; type < FAKE_TYPES; type++) {
        if (stacked_of(rig, type) > rig->fake.stacked[type]) {
            told_print(rig);
            fail_msg("episode %u: %u of type %u credited, %u stacked", episode, stacked_of(rig, type), type,
                     rig->fake.stacked[type]);
        }
    }
}

/* How many notes the events say are missing; UINT32_MAX = an unknown number. */
static uint32_t explained(const struct rig *rig)
{
    uint32_t notes = 0;
    for (uint32_t i = 0; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i];
        if (event->kind == CFOIL_KIND_LOST_EVENTS && event->lost_count == 0)
            return UINT32_MAX;
        if (event->kind == CFOIL_KIND_LOST_EVENTS)
            notes += event->lost_count;
        if (event->condition == CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT ||
            event->condition == CFOIL_CONDITION_OUTCOME_UNKNOWN)
            notes++;
    }
    return notes;
}

static void shortage_is_explained(const struct rig *rig, uint32_t episode)
{
    uint32_t missing = rig->fake.stacked_count - told_stacked(rig);
    if (missing <= explained(rig))
        return;
    told_print(rig);
    fail_msg("episode %u: %u stacked, %u credited, %u explained", episode, rig->fake.stacked_count, told_stacked(rig),
             explained(rig));
}

static const uint8_t fault_commands[] = {FAKE_ANY, FAKE_MASTER_ACK, FAKE_MASTER_ACK, 0x33, 0x33, 0x35, 0x36, 0x34,
                                         0xAA};

static void fault_add(struct rig *rig)
{
    static const enum fake_fault faults[] = {FAKE_SILENT, FAKE_LOST, FAKE_DOUBLED, FAKE_FLIPPED, FAKE_CUT,
                                             FAKE_LATE,   FAKE_GAP,  FAKE_REFUSED, FAKE_NOISE,   FAKE_NO_ENDING};
    uint32_t count = (uint32_t)(sizeof faults / sizeof faults[0]);
    uint8_t command = fault_commands[rig_random(rig) % sizeof fault_commands];
    enum fake_fault fault = faults[rig_random(rig) % count];
    uint32_t value = rig_random(rig) % 80;
    if (fault == FAKE_FLIPPED)
        value = rig_random(rig) % 3 * 16 + rig_random(rig) % 9;
    for (uint32_t i = 0; i < FAKE_RULES; i++) {
        if (rig->fake.rules[i].times == 0) {
            fake_rule_add(&rig->fake, command, fault, rig_random(rig) % 4, 1 + rig_random(rig) % 3, value);
            return;
        }
    }
}

static void trouble_make(struct rig *rig)
{
    struct fake *fake = &rig->fake;
    switch (rig_random(rig) % 40) {
    case 0:
        fake->power_loss = (enum fake_power_loss)(rig_random(rig) % 3);
        fake_power_loss(fake, UINT64_C(1000) * (rig_random(rig) % 9000));
        break;
    case 1:
        assert_int_equal(rig_open(rig), CFOIL_OK); /* the host begins anew */
        break;
    case 2:
        rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)(rig_random(rig) % 3));
        break;
    case 3:
        fake_level(fake, (uint8_t)(1 + rig_random(rig) % 12), true);
        break;
    case 4:
    case 5:
        fake->level_count = 0;
        break;
    case 6:
        fake->ignores_escrow = !fake->ignores_escrow;
        break;
    case 7:
        fake->count_lag_us = rig_random(rig) % 3000000;
        break;
    default:
        fault_add(rig);
        break;
    }
}

static void host_acts(struct rig *rig)
{
    switch (rig_random(rig) % 6) {
    case 0:
        rig_command(rig, CFOIL_COMMAND_RETURN, 0);
        break;
    case 1:
    case 2:
    case 3:
        rig_command(rig, CFOIL_COMMAND_STACK, 0);
        break;
    case 4:
        rig_command(rig, CFOIL_COMMAND_HOLD, (int32_t)(rig_random(rig) % 20000));
        break;
    default:
        break;
    }
}

static void episode_run(uint32_t seed, bool counted, uint32_t *credited, uint32_t *stacked)
{
    struct rig *rig = rig_new(seed % 2 == 0 ? CFOIL_ACCEPT_ALL : CFOIL_ACCEPT_HOLD);
    rig->random = seed * 2654435761u;
    rig->chunks = (enum fake_chunks)(rig_random(rig) % 4);
    if (!counted) {
        rig->settings[0] = "stacker_count";
        rig->settings[1] = "no";
        rig->fake.count_stuck = true;
    }
    rig->fake.setup[0] = (uint8_t)(1 + seed % 2);
    rig->fake.options = seed % 4 == 1 ? 0x02 : 0; /* level 2 only */
    rig->fake.to_recycler = counted && seed % 8 == 1;
    rig->fake.count_volatile = seed % 16 == 3;
    rig->fake.always_holds = seed % 16 == 5;
    rig->fake.says_disabled = seed % 3 == 0;
    rig->memory_dead = seed % 32 == 7;
    if (seed % 5 == 0) {
        rig->settings[2] = "poll_ms";
        rig->settings[3] = seed % 2 == 0 ? "25" : "500";
        rig->settings[0] = rig->settings[0] != NULL ? rig->settings[0] : "stacker_count";
        rig->settings[1] = rig->settings[1] != NULL ? rig->settings[1] : "yes";
    }
    rig_open(rig);
    rig_run(rig, 3000);
    uint32_t troubles = seed % 7;
    for (uint32_t i = 0; i < 30; i++) {
        if (rig_random(rig) % 2 == 0)
            fake_insert(&rig->fake, (uint8_t)(rig_random(rig) % 3 + (rig_random(rig) % 8 == 0 ? 6 : 0)));
        rig_run(rig, rig_random(rig) % 2500);
        if (rig_random(rig) % 30 < troubles)
            trouble_make(rig);
        if (rig_random(rig) % 3 == 0)
            host_acts(rig);
        if (rig_random(rig) % 12 == 0)
            rig_command(rig, CFOIL_COMMAND_ACCEPT, (int32_t)rig->accept);
        credit_is_true(rig, seed);
    }
    memset(rig->fake.rules, 0, sizeof rig->fake.rules);
    rig->fake.level_count = 0;
    rig_run(rig, 60000);
    credit_is_true(rig, seed);
    if (counted && !rig->memory_dead) /* without memory, nobody can know what happened between two lives */
        shortage_is_explained(rig, seed);
    *credited += told_stacked(rig);
    *stacked += rig->fake.stacked_count;
    rig_free(rig);
}

static void counted_credits_hold(void **unused)
{
    (void)unused;
    uint32_t credited = 0;
    uint32_t stacked = 0;
    for (uint32_t seed = 1; seed <= EPISODES; seed++)
        episode_run(seed, true, &credited, &stacked);
    print_message("%u of %u notes credited\n", credited, stacked);
    assert_true(credited > stacked * 8 / 10); /* caution must not become blindness */
}

static void paired_credits_hold(void **unused)
{
    (void)unused;
    uint32_t credited = 0;
    uint32_t stacked = 0;
    for (uint32_t seed = 1; seed <= EPISODES; seed++)
        episode_run(seed, false, &credited, &stacked);
    print_message("%u of %u notes credited\n", credited, stacked);
    assert_true(credited > stacked / 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counted_credits_hold),
        cmocka_unit_test(paired_credits_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
