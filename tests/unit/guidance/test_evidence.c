/*
 * What the machine's word and the answers weigh; and, on made-up notes without number, that no figure beats a rule.
 */
#include "unit/guidance/walk.h"

#include <math.h>

#define BIT(code) (1u << (code))

enum { GOOD = CFOIL_ANSWER_AS_IT_SHOULD_BE, BAD = CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, UNTOLD = CFOIL_ANSWER_CANNOT_TELL };
enum { FEEL, LOOK, LOOK_AGAIN, TILT, LAMP, WORDING, CHECKS };

static const struct pack_check checks[CHECKS] = {
    [FEEL] = {.id = "feel",
              .feature = "paper",
              .group = "feel",
              .sense = CFOIL_SENSE_FEEL,
              .channels = BIT(CFOIL_CHANNEL_THICKNESS)},
    [LOOK] = {.id = "look", .feature = "watermark", .group = "look", .sense = CFOIL_SENSE_LOOK},
    [LOOK_AGAIN] = {.id = "again", .feature = "thread", .group = "again", .sense = CFOIL_SENSE_LOOK},
    [TILT] = {.id = "tilt", .feature = "hologram", .group = "tilt", .sense = CFOIL_SENSE_TILT},
    [LAMP] = {.id = "lamp",
              .feature = "ultraviolet",
              .group = "lamp",
              .sense = CFOIL_SENSE_TOOL,
              .tool = CFOIL_TOOL_UV_A,
              .channels = BIT(CFOIL_CHANNEL_ULTRAVIOLET)},
    [WORDING] = {.id = "wording", .feature = "wording", .group = "wording", .sense = CFOIL_SENSE_LOOK, .ends = true},
};
static const struct pack_note note = {.check_count = CHECKS, .checks = checks};

static struct walk walk_refused(uint32_t channels)
{
    return (struct walk){.note = &note,
                         .combined = {.combination = COMBINATION_SINGLE,
                                      .refusals = 1,
                                      .reason = CFOIL_REASON_AUTHENTICITY,
                                      .channels = channels},
                         .tools = CFOIL_TOOL_UV_A,
                         .limit = 6};
}

static struct evidence weighed(const struct walk *walk)
{
    struct plan_input input = walk_input(walk);
    struct evidence evidence;
    evidence_weigh(&input, &evidence);
    return evidence;
}

static enum answer_weight weight_of(const struct walk *walk, uint32_t position)
{
    struct plan_input input = walk_input(walk);
    struct answer_evidence answer;
    evidence_of_answer(&input, position, &answer);
    assert_true((answer.weight == WEIGHT_COUNTED) == (answer.span.centre != 0));
    assert_true(answer_weight_name(answer.weight)[0] != '\0');
    return answer.weight;
}

static void is_near(double value, double expected)
{
    if (fabs(value - expected) > 5e-4)
        fail_msg("%.6g is not %.6g", value, expected);
}

/* 18 for each million in 2024: a tenth of it, from a hundredth to ten times. */
static void the_base_rate_is_the_newest_one_per_million(void **state)
{
    (void)state;
    struct walk walk = walk_refused(0);
    struct evidence evidence = weighed(&walk);
    assert_true(evidence.prior_known);
    assert_int_equal(walk_basis()->rate->year, 2024);
    is_near(evidence.prior.centre, log(1.8e-6));
    is_near(evidence.prior.low, log(1.8e-7));
    is_near(evidence.prior.high, log(1.8e-4 / (1 - 1.8e-4)));
}

static void each_word_of_the_machine_weighs_what_is_known(void **state)
{
    (void)state;
    static const struct {
        int32_t reason;
        enum combination combination;
        uint32_t refusals;
        enum machine_word word;
    } rows[] = {
        {CFOIL_REASON_AUTHENTICITY, COMBINATION_SINGLE, 1, MACHINE_REFUSED},
        {CFOIL_REASON_AUTHENTICITY, COMBINATION_SAME_FINDING, 5, MACHINE_REFUSED},
        {CFOIL_REASON_NOT_RECOGNISED, COMBINATION_DIFFERING, 2, MACHINE_REFUSED},
        {CFOIL_REASON_NONE, COMBINATION_SINGLE, 1, MACHINE_REFUSED},
        {CFOIL_REASON_NONE, COMBINATION_NONE, 0, MACHINE_SILENT},
        {CFOIL_REASON_AUTHENTICITY, COMBINATION_ACCEPTED_ON_RETRY, 1, MACHINE_ACCEPTED},
        {CFOIL_REASON_HANDLING, COMBINATION_SINGLE, 1, MACHINE_NO_DOUBT},
        {CFOIL_REASON_NOT_ENABLED, COMBINATION_SINGLE, 1, MACHINE_NO_DOUBT},
        {CFOIL_REASON_DEVICE, COMBINATION_SINGLE, 1, MACHINE_NO_DOUBT},
        {CFOIL_REASON_TAMPERING, COMBINATION_SINGLE, 1, MACHINE_TAMPERING},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct walk walk = walk_refused(0);
        walk.combined.reason = rows[i].reason;
        walk.combined.combination = rows[i].combination;
        walk.combined.refusals = rows[i].refusals;
        struct evidence evidence = weighed(&walk);
        bool weighs = rows[i].word == MACHINE_REFUSED;
        assert_int_equal(evidence.machine_word, rows[i].word);
        assert_true(machine_word_name(evidence.machine_word)[0] != '\0');
        is_near(evidence.machine.low, weighs ? log(20) : 0); /* fed five times: one test */
        is_near(evidence.machine.centre, weighs ? log(1 / 0.035) : 0);
        is_near(evidence.machine.high, weighs ? log(50) : 0);
    }
}

static void basis_of(struct pack_set *packs, uint64_t presentations, uint64_t refusals, struct evidence_basis *basis)
{
    evidence_basis_make(pack_evidence_find(packs), pack_currency_find(packs, "EUR"), presentations, refusals, basis);
}

static void the_machines_own_record_takes_over(void **state)
{
    (void)state;
    struct pack_set *packs;
    struct evidence_basis basis;
    assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
    basis_of(packs, 99, 9, &basis);
    assert_false(basis.rejects.from_record); /* too few notes */
    is_near(basis.rejects.centre, 0.035);
    basis_of(packs, 100, 200, &basis);
    assert_false(basis.rejects.from_record); /* no such record can be */
    basis_of(packs, 10000, 100, &basis);
    assert_true(basis.rejects.from_record);
    is_near(basis.rejects.centre, 0.01);
    assert_true(basis.rejects.low > 0.008 && basis.rejects.low < 0.01 && basis.rejects.high < 0.0125);
    basis_of(packs, 100, 0, &basis);
    assert_true(basis.rejects.low > 0 && basis.rejects.low < basis.rejects.centre);
    pack_set_release(packs);
}

static void each_sense_counts_once(void **state)
{
    (void)state;
    struct walk walk = walk_refused(0);
    walk_answer(&walk, LOOK, GOOD);
    double once = weighed(&walk).manual.centre;
    is_near(once, log(1 - unbiased_hit(1.4)) - log(unbiased_hit(1.4)));
    walk_answer(&walk, LOOK_AGAIN, GOOD);
    is_near(weighed(&walk).manual.centre, once);
    assert_int_equal(weight_of(&walk, 0), WEIGHT_COUNTED);
    assert_int_equal(weight_of(&walk, 1), WEIGHT_SAME_SENSE);
    walk_answer(&walk, LOOK_AGAIN, BAD); /* a look that finds a difference anywhere has found one */
    assert_int_equal(weight_of(&walk, 0), WEIGHT_SAME_SENSE);
    assert_int_equal(weight_of(&walk, 1), WEIGHT_COUNTED);
    is_near(weighed(&walk).manual.centre, -once);
    walk_answer(&walk, LOOK, UNTOLD);
    assert_int_equal(weight_of(&walk, 0), WEIGHT_CANNOT_TELL);
}

static void what_has_no_figure_moves_nothing(void **state)
{
    (void)state;
    struct walk walk = walk_refused(BIT(CFOIL_CHANNEL_IMAGE));
    walk_answer(&walk, LAMP, GOOD);
    walk_answer(&walk, WORDING, GOOD);
    walk_answer(&walk, FEEL, UNTOLD);
    assert_int_equal(weight_of(&walk, 0), WEIGHT_NO_FIGURE);
    assert_int_equal(weight_of(&walk, 1), WEIGHT_ENDS);
    assert_int_equal(weight_of(&walk, 2), WEIGHT_CANNOT_TELL);
    struct evidence evidence = weighed(&walk);
    assert_true(evidence.manual.low == 0 && evidence.manual.high == 0 && !evidence.capped);
    assert_int_equal(evidence.senses, 0);
}

/* The machine's ultraviolet and the lamp, its thickness and the fingers: one test. */
static void the_same_physics_counts_once(void **state)
{
    (void)state;
    struct walk walk = walk_refused(BIT(CFOIL_CHANNEL_ULTRAVIOLET));
    walk_answer(&walk, LAMP, BAD);
    walk_answer(&walk, FEEL, BAD);
    assert_int_equal(weight_of(&walk, 0), WEIGHT_SAME_PHYSICS);
    assert_int_equal(weight_of(&walk, 1), WEIGHT_COUNTED);
    walk.combined.channels = BIT(CFOIL_CHANNEL_THICKNESS) | BIT(CFOIL_CHANNEL_UNKNOWN);
    assert_int_equal(weight_of(&walk, 0), WEIGHT_NO_FIGURE);
    assert_int_equal(weight_of(&walk, 1), WEIGHT_SAME_PHYSICS);
    walk.combined.channels |= BIT(CFOIL_CHANNEL_INFRARED); /* more was doubted than the fingers can tell */
    assert_int_equal(weight_of(&walk, 1), WEIGHT_COUNTED);
    const struct pack_check size = {.tool = CFOIL_TOOL_RULER, .channels = BIT(CFOIL_CHANNEL_SIZE)};
    assert_true(pack_check_same_physics(&size, CFOIL_CHANNEL_SIZE));
    assert_false(pack_check_same_physics(&size, CFOIL_CHANNEL_IMAGE));
}

static void one_person_weighs_no_more_than_a_whole_look(void **state)
{
    (void)state;
    for (int32_t answer = GOOD; answer <= BAD; answer++) {
        struct walk walk = walk_refused(0);
        walk_answer(&walk, FEEL, answer);
        walk_answer(&walk, LOOK, answer);
        walk_answer(&walk, TILT, answer);
        struct evidence evidence = weighed(&walk);
        assert_true(evidence.capped);
        is_near(evidence.manual.centre, answer == BAD ? evidence.wald.upper : evidence.wald.lower);
        assert_true(evidence.manual.low >= log(0.17) - 1e-9 && evidence.manual.high <= log(15) + 1e-9);
        is_near(evidence.posterior.centre, evidence.prior.centre + evidence.machine.centre + evidence.manual.centre);
    }
}

static void expected_bits_follow_the_figures(void **state)
{
    (void)state;
    struct walk walk = walk_refused(0);
    struct plan_input input = walk_input(&walk);
    struct evidence evidence = weighed(&walk);
    struct span feel;
    struct span look;
    struct span none;
    evidence_expected(&input, &evidence, CFOIL_SENSE_FEEL, &feel);
    evidence_expected(&input, &evidence, CFOIL_SENSE_LOOK, &look);
    evidence_expected(&input, &evidence, CFOIL_SENSE_TOOL, &none);
    assert_true(look.centre > feel.centre && feel.high > look.low && feel.low > 0);
    assert_true(none.high == 0);
    walk_answer(&walk, FEEL, GOOD);
    evidence = weighed(&walk);
    input = walk_input(&walk);
    evidence_expected(&input, &evidence, CFOIL_SENSE_FEEL, &feel);
    assert_true(feel.high == 0); /* it has spoken */
}

/* ---- No figure beats a rule ---- */

static uint32_t seed = 20261125;

static uint32_t chance(uint32_t below)
{
    seed = seed * 1664525u + 1013904223u;
    return (seed >> 16) % below;
}

static const char *const features[] = {"hologram", "latent image", "portrait", "paper", "thread", "ultraviolet"};
static const char *const groups[] = {"a", "b", "c", "d", "e"};

static void note_make(struct pack_check made[12], struct pack_note *made_note)
{
    static const char *const ids[12] = {"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11"};
    memset(made, 0, 12 * sizeof *made);
    made_note->check_count = chance(13);
    made_note->checks = made;
    for (uint32_t i = 0; i < made_note->check_count; i++) {
        made[i].id = ids[i];
        made[i].feature = features[chance(6)];
        made[i].group = groups[chance(5)];
        made[i].sense = (int32_t)chance(4) + 1;
        made[i].tool = made[i].sense == CFOIL_SENSE_TOOL ? BIT(chance(4)) : 0;
        made[i].needs = chance(4) == 0 ? BIT(chance(3)) : 0;
        made[i].channels = chance(512) & ~1u;
        made[i].ends = chance(10) == 0;
    }
}

static struct walk walk_make(const struct pack_note *made_note)
{
    struct walk walk = walk_refused(chance(3) == 0 ? 0 : chance(512));
    walk.note = made_note;
    walk.combined.reason = chance(2) == 0 ? CFOIL_REASON_AUTHENTICITY : CFOIL_REASON_NOT_RECOGNISED;
    walk.combined.refusals = 1 + chance(3);
    walk.tools = chance(16);
    walk.without = chance(3) == 0 ? chance(8) : 0;
    walk.limit = 3 + chance(10);
    return walk;
}

/* Follows the plan with answers by chance, and at times gives one that nobody asked for. */
static void any_note_any_answers_keep_the_rules(void **state)
{
    (void)state;
    uint32_t takes = 0;
    for (int round = 0; round < 30000; round++) {
        struct pack_check made[12];
        struct pack_note made_note = {0};
        note_make(made, &made_note);
        struct walk walk = walk_make(&made_note);
        uint32_t mostly_good = chance(4);
        for (;;) {
            struct plan plan = walk_plan(&walk);
            walk_holds(&walk, &plan);
            struct evidence evidence = weighed(&walk);
            assert_true(evidence.manual.centre <= evidence.wald.upper + 1e-9);
            assert_true(evidence.manual.centre >= evidence.wald.lower - 1e-9);
            assert_true(evidence.posterior.low <= evidence.posterior.centre);
            assert_true(evidence.posterior.centre <= evidence.posterior.high);
            takes += plan.advice == CFOIL_ADVICE_TAKE;
            if (plan.kind == CFOIL_STEP_ADVICE)
                break;
            uint32_t check = chance(12) == 0 ? chance(made_note.check_count) : plan.check;
            walk_answer(&walk, check, mostly_good > 0 && chance(8) > 0 ? GOOD : (int32_t)chance(3) + 1);
            if (walk.answered == walk.limit)
                break;
        }
        walk.serial_refused = chance(2) == 0;
        walk.withdrawn = chance(2) == 0;
        walk.time_up = chance(2) == 0;
        struct plan plan = walk_plan(&walk);
        assert_true(plan.advice != CFOIL_ADVICE_TAKE || !(walk.serial_refused || walk.withdrawn));
        assert_true(!walk.serial_refused || plan.cause == PLAN_CAUSE_SERIAL_REFUSED);
        assert_true(plan.kind != CFOIL_STEP_CHECK || !walk.time_up);
    }
    assert_true(takes > 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_base_rate_is_the_newest_one_per_million),
        cmocka_unit_test(each_word_of_the_machine_weighs_what_is_known),
        cmocka_unit_test(the_machines_own_record_takes_over),
        cmocka_unit_test(each_sense_counts_once),
        cmocka_unit_test(what_has_no_figure_moves_nothing),
        cmocka_unit_test(the_same_physics_counts_once),
        cmocka_unit_test(one_person_weighs_no_more_than_a_whole_look),
        cmocka_unit_test(expected_bits_follow_the_figures),
        cmocka_unit_test(any_note_any_answers_keep_the_rules),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
