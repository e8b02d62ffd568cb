/*
 * The states of a kept note: every state with every move, and long random walks that must never leave the rules.
 */
#include "ledger/custody.h"
#include "ledger/pin.h"

#include "test.h"

/* The whole table, written down a second time: from each state, where each move leads ('-' = not legal). Rows are states
 * NONE, with customer, set aside, found, sealed, handed over, genuine, not genuine, lost, given back; columns are the moves
 * find, seal, carry, hand over, genuine, not genuine, lose, give back. */
static const char *const from_customer[CUSTODY_STATE_COUNT] = {
    "F-------", "--------", "-SAH--LB", "-SFH--L-", "-SSH--LB",
    "----GN--", "--------", "--------", "-S------", "--------",
};
static const char letters[CUSTODY_STATE_COUNT + 1] = "-CAFSHGNLB";

static void every_state_with_every_move(void **state)
{
    (void)state;
    for (int s = 0; s < CUSTODY_STATE_COUNT; s++) {
        for (int32_t move = CFOIL_CUSTODY_FIND; move <= CFOIL_CUSTODY_GIVE_BACK; move++) {
            char expected = from_customer[s][move - 1];
            assert_int_equal(letters[custody_next((enum custody_state)s, move, false)], expected);
            bool back = move == CFOIL_CUSTODY_GIVE_BACK; /* never for what was found later */
            assert_int_equal(letters[custody_next((enum custody_state)s, move, true)], back ? '-' : expected);
        }
        assert_int_equal(custody_next((enum custody_state)s, 0, false), CUSTODY_NONE);
        assert_int_equal(custody_next((enum custody_state)s, 99, false), CUSTODY_NONE);
    }
}

static void names_go_both_ways(void **state)
{
    (void)state;
    for (int s = 1; s < CUSTODY_STATE_COUNT; s++)
        assert_int_equal(custody_state_find(custody_state_name((enum custody_state)s)), s);
    assert_int_equal(custody_state_find("in the till again"), CUSTODY_NONE);
    assert_string_equal(custody_state_name(CUSTODY_NONE), "");
    for (int32_t move = CFOIL_CUSTODY_FIND; move <= CFOIL_CUSTODY_GIVE_BACK; move++)
        assert_int_equal(custody_move_find(custody_move_name(move)), move);
    assert_int_equal(custody_move_find("take"), 0);
    assert_null(custody_move_name(0));
    assert_null(custody_move_name(99));
    assert_null(custody_move_name(-1));
    assert_null(custody_holder_name(0));
    assert_string_equal(custody_holder_name(CFOIL_HOLDER_CENTRAL_BANK), "central_bank");
    assert_null(custody_holder_name(4));
    assert_null(custody_state_of_disposition(CFOIL_DISPOSITION_TAKEN, ""));
    assert_string_equal(custody_state_of_disposition(CFOIL_DISPOSITION_SET_ASIDE, ""), "set_aside");
    assert_string_equal(custody_state_of_disposition(CFOIL_DISPOSITION_SET_ASIDE, "E 1"), "sealed");
    assert_string_equal(custody_state_of_disposition(CFOIL_DISPOSITION_NOT_TAKEN, ""), "with_customer");
}

/* A generator with a known sequence (xorshift64), so that a failure can be repeated. */
static uint64_t next_random(uint64_t *seed)
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static void random_walks_keep_the_rules(void **state)
{
    (void)state;
    uint64_t seed = 20261125;
    for (int walk = 0; walk < 20000; walk++) {
        bool found = next_random(&seed) % 2 == 0;
        enum custody_state at = found ? CUSTODY_FOUND : CUSTODY_SET_ASIDE;
        bool handed_over = false;
        for (int i = 0; i < 12; i++) {
            int32_t move = (int32_t)(next_random(&seed) % 10);
            enum custody_state next = custody_next(at, move, found);
            if (next == CUSTODY_NONE)
                continue;
            handed_over |= next == CUSTODY_HANDED_OVER;
            /* No way back to a customer for what was found later, and none at all after the hand-over. */
            assert_false(next == CUSTODY_GIVEN_BACK && (found || handed_over));
            assert_true(next != CUSTODY_WITH_CUSTOMER);
            /* Only the authority says what a note is. */
            assert_false((next == CUSTODY_GENUINE || next == CUSTODY_NOT_GENUINE) && !handed_over);
            /* What was handed over is never in the shop's hands again. */
            assert_false(handed_over && custody_held(next));
            at = next;
        }
    }
}

static void steps_out_of_the_ordinary_need_a_reason(void **state)
{
    (void)state;
    assert_true(custody_needs_of(CFOIL_CUSTODY_LOSE, CUSTODY_SEALED).why);
    assert_true(custody_needs_of(CFOIL_CUSTODY_GIVE_BACK, CUSTODY_SEALED).why);
    assert_true(custody_needs_of(CFOIL_CUSTODY_SEAL, CUSTODY_SEALED).why);
    assert_true(custody_needs_of(CFOIL_CUSTODY_SEAL, CUSTODY_LOST).why);
    assert_false(custody_needs_of(CFOIL_CUSTODY_SEAL, CUSTODY_SET_ASIDE).why);
    assert_true(custody_needs_of(CFOIL_CUSTODY_HAND_OVER, CUSTODY_SEALED).receipt);
    assert_false(custody_needs_of(CFOIL_CUSTODY_CARRY, CUSTODY_SEALED).second);
}

static void wrong_pins_lock_longer_and_longer(void **state)
{
    (void)state;
    static const int64_t seconds[] = {0, 0, 0, 30, 60, 120, 240, 480, 960, 1920, 3600, 3600};
    for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++)
        assert_int_equal(pin_lock_ms((int64_t)i), seconds[i] * 1000);
    assert_int_equal(pin_lock_ms(INT64_MAX), 3600000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_state_with_every_move),       cmocka_unit_test(names_go_both_ways),
        cmocka_unit_test(random_walks_keep_the_rules),       cmocka_unit_test(steps_out_of_the_ordinary_need_a_reason),
        cmocka_unit_test(wrong_pins_lock_longer_and_longer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
