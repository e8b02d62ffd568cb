/*
 * The status-bit device of examples/descriptions on a virtual clock: escaped frames, a toggle that the host drives, a
 * CRC, and states that are told over and over.
 */
#include "described_bits.h"

/* ---- A sound line ---- */

static void a_note_is_held_and_stacked(void **state)
{
    (void)state;
    for (int chunks = CHUNKS_WHOLE; chunks <= CHUNKS_RANDOM; chunks++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->chunks = (enum rig_chunks)chunks;
        rig->policy = RIG_STACKS;
        for (uint8_t type = 1; type <= 5; type++) {
            assert_true(insert(rig, type));
            rig_run(rig, 2000);
            assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_STACKED);
            assert_int_equal(rig_last(rig)->note_type, type);
        }
        assert_int_equal(rig_credits(rig), 5);
        assert_int_equal(rig_count(rig, CFOIL_KIND_HELD, 0), 5);
        assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, 0), 1);
        assert_int_equal(rig->events[0].condition, CFOIL_CONDITION_IDENTIFIED);
        assert_non_null(strstr(rig->events[0].text, "status-bits/0042"));
        rig_end(rig);
    }
}

static void a_note_is_given_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    rig->policy = RIG_RETURNS;
    assert_true(insert(rig, 3));
    rig_run(rig, 2000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    assert_int_equal(rig_last(rig)->note_type, 3);
    assert_int_equal(rig_last(rig)->value_minor, 2000);
    assert_int_equal(rig_credits(rig), 0);
    rig_end(rig);
}

static void nobody_decides_and_the_note_goes_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 3));
    rig_run(rig, 29000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 20000), CFOIL_OK);
    rig_run(rig, 19000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    rig_run(rig, 3000);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    rig_end(rig);
}

static void accepting_all_stacks_by_itself(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_ALL);
    assert_true(insert(rig, 2));
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

static void accept_is_a_bit_of_the_poll(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_NONE);
    assert_false(fake.accepting);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 300);
    assert_true(fake.accepting);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_NONE), CFOIL_OK);
    rig_run(rig, 300);
    assert_false(fake.accepting);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, 3), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(rig_command(rig, 99, 0), CFOIL_E_ARGUMENT_RANGE);
    rig_end(rig);
}

static void refusals_name_their_channel(void **state)
{
    (void)state;
    static const struct {
        uint8_t code;
        int32_t reason, channel, strength;
    } rows[] = {{1, CFOIL_REASON_HANDLING, CFOIL_CHANNEL_TRANSPORT, CFOIL_STRENGTH_CLEAR},
                {2, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_MAGNETIC, CFOIL_STRENGTH_CLEAR},
                {3, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_STRENGTH_STRONG},
                {0, CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK}};
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        reject(rig, rows[i].code);
        const cfoil_adapter_event *event = rig_last(rig);
        assert_int_equal(event->kind, CFOIL_KIND_REJECTED);
        assert_int_equal(event->reason, rows[i].reason);
        assert_int_equal(event->finding_count, 1);
        assert_int_equal(event->findings[0].channel, rows[i].channel);
        assert_int_equal(event->findings[0].strength, rows[i].strength);
        assert_int_equal(event->findings[0].origin, CFOIL_ORIGIN_DEVICE);
        assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), i + 1);
    }
    /* A reason that the description does not have is told as unknown. */
    reject(rig, 9);
    assert_int_equal(rig_count(rig, CFOIL_KIND_REJECTED, 0), 4);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    rig_end(rig);
}

static void an_unknown_state_is_told_once(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    fake.states = 0x40;
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    assert_true(rig_last(rig)->raw_length == 8 && rig_last(rig)->raw[3] == 0x40);
    assert_non_null(strstr(rig_last(rig)->raw_text, "40"));
    fake.states = 0;
    rig_run(rig, 500);
    fake.states = 0x40;
    rig_run(rig, 500);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 2);
    rig_end(rig);
}

static void a_lasting_state_halts_as_long_as_it_lasts(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    fake.states = 0x04;
    rig_run(rig, 2000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_STACKER_FULL), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    assert_false(fake.accepting);
    /* The host's word does not make the box empty. */
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 500);
    assert_int_equal(rig->state_now, CFOIL_LANE_FAULT);
    fake.states = 0;
    rig_run(rig, 500);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_FAULT_CLEARED);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_true(fake.accepting);
    rig_end(rig);
}

static void tampering_halts_until_the_host_says_so(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.states = 0x10;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_TAMPERING), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    fake.states = 0;
    rig_run(rig, 1000);
    assert_int_equal(rig->state_now, CFOIL_LANE_IDLE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_ACCEPT, CFOIL_ACCEPT_HOLD), CFOIL_OK);
    rig_run(rig, 300);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    rig_end(rig);
}

static void a_reset_is_told_and_the_held_note_with_it(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 4));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    fake.states = 0x01;
    rig_run(rig, 1500);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_RESTARTED), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    assert_int_equal(rig->state_now, CFOIL_LANE_ACCEPTING);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_IDENTIFIED), 1);
    rig_end(rig);
}

static void a_note_that_leaves_without_a_word_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 4));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    rig_run(rig, 9000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 0);
    rig_run(rig, 2000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    rig_end(rig);
}

static void commands_are_answered_by_what_is_held(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, -1), CFOIL_E_ARGUMENT_RANGE);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_OK);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_STACK, 0), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_RETURN, 0), CFOIL_E_STATE_NOT_READY);
    assert_int_equal(rig_command(rig, CFOIL_COMMAND_HOLD, 1000), CFOIL_E_STATE_NO_NOTE);
    rig_run(rig, 2000);
    assert_int_equal(rig_credits(rig), 1);
    rig_end(rig);
}

/* ---- What is not believed ---- */

static void a_repeated_answer_is_not_taken_twice(void **state)
{
    (void)state;
    static const enum fate fates[] = {FATE_LOST,  FATE_DOUBLED, FATE_LATE, FATE_FLIPPED,
                                      FATE_STALE, FATE_CUT,     FATE_DEAF};
    for (size_t i = 0; i < sizeof fates / sizeof fates[0]; i++) {
        struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
        rig->policy = RIG_STACKS;
        assert_true(insert(rig, 2));
        for (int turn = 0; turn < 200 && fake.stacked_count == 0; turn++)
            rig_run(rig, 10);
        fake.forced = fates[i]; /* of the answer that tells it */
        rig_run(rig, 3000);
        assert_int_equal(rig_credits(rig), 1);
        assert_true(insert(rig, 2));
        rig_run(rig, 3000);
        assert_int_equal(rig_credits(rig), 2);
        assert_int_equal(rig->shortfalls, 0);
        rig_end(rig);
    }
}

static void what_was_stacked_before_we_listened_is_no_credit(void **state)
{
    (void)state;
    struct rig *rig = begin(CFOIL_ACCEPT_HOLD);
    fake.flags = 0x08;
    fake.note = 2;
    rig_run(rig, 1500);
    assert_int_equal(rig_credits(rig), 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT), 1);
    rig_end(rig);
}

static void a_note_that_is_not_in_the_table_goes_back(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 9));
    rig_run(rig, 3000);
    assert_int_equal(rig_count(rig, CFOIL_KIND_HELD, 0), 0);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_UNKNOWN_CODE), 1);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_RETURNED);
    fake.flags = 0x08;
    fake.note = 9;
    rig_run(rig, 500);
    assert_int_equal(rig_last(rig)->condition, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED);
    assert_string_equal(rig_last(rig)->currency, "");
    rig_end(rig);
}

static void another_note_stacked_than_held_is_told(void **state)
{
    (void)state;
    struct rig *rig = begin_ready(CFOIL_ACCEPT_HOLD);
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.place = PLACE_NONE;
    fake.flags = 0x08;
    fake.note = 3;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 1);
    assert_int_equal(rig_credits(rig), 1);
    assert_int_equal(rig_last(rig)->note_type, 3);
    /* And one note in escrow right after another, with no word about the first. */
    assert_true(insert(rig, 1));
    rig_run(rig, 300);
    fake.note = 2;
    rig_run(rig, 300);
    assert_int_equal(rig_count(rig, CFOIL_KIND_DEVICE, CFOIL_CONDITION_OUTCOME_UNKNOWN), 2);
    assert_int_equal(rig_last(rig)->kind, CFOIL_KIND_HELD);
    assert_int_equal(rig_last(rig)->note_type, 2);
    rig_end(rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_is_held_and_stacked),
        cmocka_unit_test(a_note_is_given_back),
        cmocka_unit_test(nobody_decides_and_the_note_goes_back),
        cmocka_unit_test(accepting_all_stacks_by_itself),
        cmocka_unit_test(accept_is_a_bit_of_the_poll),
        cmocka_unit_test(refusals_name_their_channel),
        cmocka_unit_test(an_unknown_state_is_told_once),
        cmocka_unit_test(a_lasting_state_halts_as_long_as_it_lasts),
        cmocka_unit_test(tampering_halts_until_the_host_says_so),
        cmocka_unit_test(a_reset_is_told_and_the_held_note_with_it),
        cmocka_unit_test(a_note_that_leaves_without_a_word_is_told),
        cmocka_unit_test(commands_are_answered_by_what_is_held),
        cmocka_unit_test(a_repeated_answer_is_not_taken_twice),
        cmocka_unit_test(what_was_stacked_before_we_listened_is_no_credit),
        cmocka_unit_test(a_note_that_is_not_in_the_table_goes_back),
        cmocka_unit_test(another_note_stacked_than_held_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
