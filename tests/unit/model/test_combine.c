/*
 * What several presentations of one note say together: every combination, the reason to act on, what stays possible.
 */
#include "model/combine.h"

#include "test.h"

#define BIT(code) (1u << (code))

static struct presentation refusal(int32_t reason, uint32_t possible)
{
    return (struct presentation){.kind = CFOIL_KIND_REJECTED, .reason = reason, .reasons_possible = possible};
}

static struct presentation refusal_on(int32_t reason, int32_t channel, int32_t strength)
{
    struct presentation made = refusal(reason, BIT(reason));
    made.finding_count = 1;
    made.findings[0] = (cfoil_finding){channel, strength, CFOIL_ORIGIN_DEVICE, 0};
    return made;
}

static struct presentation of_kind(int32_t kind)
{
    return (struct presentation){.kind = kind};
}

static struct presentation device(int32_t condition)
{
    return (struct presentation){.kind = CFOIL_KIND_DEVICE, .condition = condition};
}

static struct combined combine(const struct presentation *presentations, uint32_t count)
{
    struct combined combined;
    memset(&combined, 0xA5, sizeof combined);
    presentations_combine(presentations, count, &combined);
    return combined;
}

static void nothing_said_combines_to_nothing(void **state)
{
    (void)state;
    struct combined combined = combine(NULL, 0);
    assert_int_equal(combined.combination, COMBINATION_NONE);
    assert_int_equal(combined.refusals, 0);
    assert_int_equal(combined.reason, CFOIL_REASON_NONE);
    assert_int_equal(combined.reasons_possible, 0);
    assert_int_equal(combined.channels, 0);
    assert_int_equal(combined.strength, CFOIL_STRENGTH_NONE);
    struct presentation held[] = {of_kind(CFOIL_KIND_HELD), of_kind(CFOIL_KIND_RETURNED),
                                  of_kind(CFOIL_KIND_LANE_STATE)};
    assert_int_equal(combine(held, 1).combination, COMBINATION_NONE);
    assert_int_equal(combine(held, 3).combination, COMBINATION_NONE);
    assert_int_equal(combine(held, 3).reason, CFOIL_REASON_NONE);
}

static void the_combination_follows_the_order(void **state)
{
    (void)state;
    struct presentation ir = refusal_on(CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_CLEAR);
    struct presentation uv = refusal_on(CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_STRENGTH_CLEAR);
    struct presentation fed = refusal(CFOIL_REASON_HANDLING, BIT(CFOIL_REASON_HANDLING));
    struct presentation held = of_kind(CFOIL_KIND_HELD);
    struct presentation back = of_kind(CFOIL_KIND_RETURNED);
    struct presentation stacked = of_kind(CFOIL_KIND_STACKED);
    struct {
        struct presentation list[4];
        uint32_t count;
        enum combination expected;
        uint32_t refusals;
    } rows[] = {
        {{ir}, 1, COMBINATION_SINGLE, 1},
        {{ir, ir}, 2, COMBINATION_SAME_FINDING, 2},
        {{ir, ir, ir}, 3, COMBINATION_SAME_FINDING, 3},
        {{ir, uv}, 2, COMBINATION_DIFFERING, 2},
        {{ir, uv, ir}, 3, COMBINATION_DIFFERING, 3},
        {{ir, fed}, 2, COMBINATION_DIFFERING, 2},
        {{ir, held}, 2, COMBINATION_ACCEPTED_ON_RETRY, 1},
        {{ir, stacked}, 2, COMBINATION_ACCEPTED_ON_RETRY, 1},
        {{ir, held, stacked}, 3, COMBINATION_ACCEPTED_ON_RETRY, 1},
        {{ir, uv, held}, 3, COMBINATION_ACCEPTED_ON_RETRY, 2},
        {{ir, held, back}, 3, COMBINATION_DIFFERING, 1},
        {{ir, held, back, ir}, 4, COMBINATION_DIFFERING, 2},
        {{held, back, ir}, 3, COMBINATION_DIFFERING, 1},
        {{held, ir}, 2, COMBINATION_DIFFERING, 1},
        {{ir, held, ir, held}, 4, COMBINATION_ACCEPTED_ON_RETRY, 2},
        {{ir, back}, 2, COMBINATION_SINGLE, 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct combined combined = combine(rows[i].list, rows[i].count);
        assert_int_equal(combined.combination, rows[i].expected);
        assert_int_equal(combined.refusals, rows[i].refusals);
    }
}

/* The more cautious reason is acted on, in either order; among those that cast no doubt, the latest. */
static void the_reason_to_act_on_is_the_cautious_one(void **state)
{
    (void)state;
    static const int32_t ranked[] = {CFOIL_REASON_HANDLING, CFOIL_REASON_NONE, CFOIL_REASON_NOT_RECOGNISED,
                                     CFOIL_REASON_AUTHENTICITY, CFOIL_REASON_TAMPERING};
    for (size_t low = 0; low < 5; low++) {
        for (size_t high = low + 1; high < 5; high++) {
            struct presentation up[] = {refusal(ranked[low], 0), refusal(ranked[high], 0)};
            struct presentation down[] = {refusal(ranked[high], 0), refusal(ranked[low], 0)};
            assert_int_equal(combine(up, 2).reason, ranked[high]);
            assert_int_equal(combine(down, 2).reason, ranked[high]);
        }
    }
    static const int32_t equal[] = {CFOIL_REASON_HANDLING, CFOIL_REASON_NOT_ENABLED, CFOIL_REASON_DEVICE};
    for (size_t first = 0; first < 3; first++) {
        for (size_t last = 0; last < 3; last++) {
            struct presentation list[] = {refusal(equal[first], 0), refusal(equal[last], 0)};
            assert_int_equal(combine(list, 2).reason, equal[last]);
        }
    }
}

static void what_stays_possible_is_what_all_leave(void **state)
{
    (void)state;
    uint32_t wide = BIT(CFOIL_REASON_AUTHENTICITY) | BIT(CFOIL_REASON_NOT_RECOGNISED) | BIT(CFOIL_REASON_HANDLING);
    uint32_t narrow = BIT(CFOIL_REASON_AUTHENTICITY) | BIT(CFOIL_REASON_NOT_RECOGNISED);
    struct presentation list[] = {refusal(CFOIL_REASON_AUTHENTICITY, wide), refusal(CFOIL_REASON_AUTHENTICITY, narrow)};
    assert_int_equal(combine(list, 1).reasons_possible, wide);
    assert_int_equal(combine(list, 2).reasons_possible, narrow);
    /* Nothing shared: nothing is ruled out. */
    struct presentation apart[] = {refusal(CFOIL_REASON_AUTHENTICITY, narrow), refusal(CFOIL_REASON_HANDLING, 0)};
    assert_int_equal(combine(apart, 2).reasons_possible, wide);
    /* The class to act on is never ruled out. */
    struct presentation odd[] = {refusal(CFOIL_REASON_AUTHENTICITY, wide),
                                 refusal(CFOIL_REASON_HANDLING, BIT(CFOIL_REASON_HANDLING))};
    assert_int_equal(combine(odd, 2).reasons_possible, BIT(CFOIL_REASON_AUTHENTICITY) | BIT(CFOIL_REASON_HANDLING));
    struct presentation unknown[] = {refusal(99, 0), refusal(-1, 0)};
    assert_int_equal(combine(unknown, 2).refusals, 2);
    assert_int_equal(combine(unknown, 2).reasons_possible, 0);
    struct presentation none[] = {refusal(CFOIL_REASON_NONE, 0)};
    assert_int_equal(combine(none, 1).reasons_possible, 0);
}

static void channels_and_strength_add_up(void **state)
{
    (void)state;
    struct presentation list[] = {
        refusal_on(CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG),
        refusal_on(CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_WEAK),
        refusal_on(CFOIL_REASON_AUTHENTICITY, 31, CFOIL_STRENGTH_WEAK),
        refusal_on(CFOIL_REASON_AUTHENTICITY, -4, CFOIL_STRENGTH_WEAK),
    };
    list[0].finding_count = 2;
    list[0].findings[1] = (cfoil_finding){CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_WEAK, CFOIL_ORIGIN_DEVICE, 0};
    struct combined combined = combine(list, 2);
    assert_int_equal(combined.channels, BIT(CFOIL_CHANNEL_INFRARED) | BIT(CFOIL_CHANNEL_UNKNOWN));
    assert_int_equal(combined.strength, CFOIL_STRENGTH_STRONG);
    /* A channel that we do not know is one that was not told. */
    assert_int_equal(combine(&list[2], 2).channels, BIT(CFOIL_CHANNEL_UNKNOWN));
    assert_int_equal(combine(&list[2], 2).strength, CFOIL_STRENGTH_WEAK);
}

static void trouble_of_the_machine_explains_a_refusal(void **state)
{
    (void)state;
    static const int32_t trouble[] = {CFOIL_CONDITION_JAM_REACHABLE,   CFOIL_CONDITION_JAM_SAFE,
                                      CFOIL_CONDITION_STACKER_REMOVED, CFOIL_CONDITION_STACKER_FULL,
                                      CFOIL_CONDITION_FAULT,           CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
                                      CFOIL_CONDITION_LINE_NOISY,      CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT,
                                      CFOIL_CONDITION_OUTCOME_UNKNOWN, CFOIL_CONDITION_LEDGER_FAILING};
    struct presentation doubt = refusal(CFOIL_REASON_AUTHENTICITY, 0);
    for (size_t i = 0; i < sizeof trouble / sizeof trouble[0]; i++) {
        struct presentation after[] = {doubt, device(trouble[i])};
        assert_int_equal(combine(after, 2).reason, CFOIL_REASON_DEVICE);
        assert_true(combine(after, 2).reasons_possible & BIT(CFOIL_REASON_DEVICE));
        /* A refusal after the trouble speaks for itself. */
        struct presentation before[] = {device(trouble[i]), doubt};
        assert_int_equal(combine(before, 2).reason, CFOIL_REASON_AUTHENTICITY);
    }
    static const int32_t neutral[] = {CFOIL_CONDITION_NONE,         CFOIL_CONDITION_RESTARTED,
                                      CFOIL_CONDITION_UNKNOWN_CODE, CFOIL_CONDITION_BARCODE,
                                      CFOIL_CONDITION_COUNTER_GAP,  CFOIL_CONDITION_IDENTIFIED};
    for (size_t i = 0; i < sizeof neutral / sizeof neutral[0]; i++) {
        struct presentation after[] = {doubt, device(neutral[i])};
        assert_int_equal(combine(after, 2).reason, CFOIL_REASON_AUTHENTICITY);
        struct presentation kept[] = {doubt, device(CFOIL_CONDITION_FAULT), device(neutral[i])};
        assert_int_equal(combine(kept, 3).reason, CFOIL_REASON_DEVICE);
    }
    static const int32_t over[] = {CFOIL_CONDITION_FAULT_CLEARED, CFOIL_CONDITION_STACKER_IN_PLACE};
    for (size_t i = 0; i < 2; i++) {
        struct presentation list[] = {doubt, device(CFOIL_CONDITION_FAULT), device(over[i])};
        assert_int_equal(combine(list, 3).reason, CFOIL_REASON_AUTHENTICITY);
    }
    struct presentation told = device(CFOIL_CONDITION_NONE);
    told.reason = CFOIL_REASON_DEVICE;
    assert_int_equal(combine(&told, 1).reason, CFOIL_REASON_DEVICE);
}

static void trouble_after_stacking_is_not_about_the_note(void **state)
{
    (void)state;
    struct presentation doubt = refusal(CFOIL_REASON_AUTHENTICITY, 0);
    struct presentation stacked[] = {doubt, of_kind(CFOIL_KIND_STACKED), device(CFOIL_CONDITION_STACKER_FULL)};
    assert_int_equal(combine(stacked, 3).reason, CFOIL_REASON_AUTHENTICITY);
    assert_int_equal(combine(stacked, 3).combination, COMBINATION_ACCEPTED_ON_RETRY);
    struct presentation held[] = {doubt, of_kind(CFOIL_KIND_HELD), device(CFOIL_CONDITION_JAM_SAFE)};
    assert_int_equal(combine(held, 3).reason, CFOIL_REASON_DEVICE);
    struct presentation freed[] = {doubt, device(CFOIL_CONDITION_JAM_SAFE), of_kind(CFOIL_KIND_HELD)};
    assert_int_equal(combine(freed, 3).reason, CFOIL_REASON_AUTHENTICITY);
}

static void tampering_stays_whatever_follows(void **state)
{
    (void)state;
    struct presentation list[] = {device(CFOIL_CONDITION_TAMPERING), refusal(CFOIL_REASON_HANDLING, 0),
                                  device(CFOIL_CONDITION_JAM_SAFE), of_kind(CFOIL_KIND_STACKED)};
    for (uint32_t count = 1; count <= 4; count++)
        assert_int_equal(combine(list, count).reason, CFOIL_REASON_TAMPERING);
    struct presentation refused[] = {refusal(CFOIL_REASON_TAMPERING, 0), of_kind(CFOIL_KIND_HELD)};
    assert_int_equal(combine(refused, 2).reason, CFOIL_REASON_TAMPERING);
}

static void an_event_is_reduced_to_what_counts(void **state)
{
    (void)state;
    cfoil_event event = CFOIL_EVENT_INIT;
    event.kind = CFOIL_KIND_REJECTED;
    event.reason = CFOIL_REASON_AUTHENTICITY;
    event.reasons_possible = 6;
    event.condition = CFOIL_CONDITION_FAULT;
    event.finding_count = 200;
    event.findings[7].channel = CFOIL_CHANNEL_THREAD;
    struct presentation presentation;
    memset(&presentation, 0xA5, sizeof presentation);
    presentation_from_event(&presentation, &event);
    assert_int_equal(presentation.kind, CFOIL_KIND_REJECTED);
    assert_int_equal(presentation.reason, CFOIL_REASON_AUTHENTICITY);
    assert_int_equal(presentation.reasons_possible, 6);
    assert_int_equal(presentation.condition, CFOIL_CONDITION_FAULT);
    assert_int_equal(presentation.finding_count, CFOIL_FINDINGS_MAX);
    assert_int_equal(presentation.findings[7].channel, CFOIL_CHANNEL_THREAD);
}

static void combinations_have_words(void **state)
{
    (void)state;
    assert_string_equal(combination_name(COMBINATION_NONE), "none");
    assert_string_equal(combination_name(COMBINATION_SINGLE), "single");
    assert_string_equal(combination_name(COMBINATION_SAME_FINDING), "same_finding");
    assert_string_equal(combination_name(COMBINATION_DIFFERING), "differing");
    assert_string_equal(combination_name(COMBINATION_ACCEPTED_ON_RETRY), "accepted_on_retry");
    assert_string_equal(combination_name((enum combination)77), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_said_combines_to_nothing),
        cmocka_unit_test(the_combination_follows_the_order),
        cmocka_unit_test(the_reason_to_act_on_is_the_cautious_one),
        cmocka_unit_test(what_stays_possible_is_what_all_leave),
        cmocka_unit_test(channels_and_strength_add_up),
        cmocka_unit_test(trouble_of_the_machine_explains_a_refusal),
        cmocka_unit_test(trouble_after_stacking_is_not_about_the_note),
        cmocka_unit_test(tampering_stays_whatever_follows),
        cmocka_unit_test(an_event_is_reduced_to_what_counts),
        cmocka_unit_test(combinations_have_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
