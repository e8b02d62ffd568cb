/*
 * The plan on made-up notes: order of checks, stop rules, corrections, tools and limits, and every sequence of answers.
 */
#include "unit/guidance/walk.h"

#define BIT(code) (1u << (code))

enum { GOOD = CFOIL_ANSWER_AS_IT_SHOULD_BE, BAD = CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE, UNTOLD = CFOIL_ANSWER_CANNOT_TELL };

/* The checks of the made-up note, in the pack's order. */
enum { PAPER, RAISED, WATERMARK, WINDOW, THREAD, NUMBER, STRIPE, GLOW, TINY, CHECKS };

static const struct pack_check checks[CHECKS] = {
    [PAPER] = {.id = "paper",
               .feature = "paper",
               .group = "paper",
               .sense = CFOIL_SENSE_FEEL,
               .channels = BIT(CFOIL_CHANNEL_ULTRAVIOLET)},
    [RAISED] = {.id = "raised",
                .feature = "raised print",
                .group = "raised",
                .sense = CFOIL_SENSE_FEEL,
                .channels = BIT(CFOIL_CHANNEL_INFRARED) | BIT(CFOIL_CHANNEL_MAGNETIC)},
    [WATERMARK] = {.id = "watermark",
                   .feature = "watermark",
                   .group = "paper",
                   .sense = CFOIL_SENSE_LOOK,
                   .channels = BIT(CFOIL_CHANNEL_ULTRAVIOLET)},
    [WINDOW] = {.id = "window",
                .feature = "window",
                .group = "foil",
                .sense = CFOIL_SENSE_LOOK,
                .channels = BIT(CFOIL_CHANNEL_IMAGE)},
    [THREAD] = {.id = "thread",
                .feature = "thread",
                .group = "thread",
                .sense = CFOIL_SENSE_LOOK,
                .channels = BIT(CFOIL_CHANNEL_THREAD)},
    [NUMBER] = {.id = "number",
                .feature = "colour-changing number",
                .group = "number",
                .sense = CFOIL_SENSE_TILT,
                .channels = BIT(CFOIL_CHANNEL_INFRARED)},
    [STRIPE] = {.id = "stripe",
                .feature = "stripe",
                .group = "foil",
                .sense = CFOIL_SENSE_TILT,
                .channels = BIT(CFOIL_CHANNEL_IMAGE)},
    [GLOW] = {.id = "glow",
              .feature = "ultraviolet",
              .group = "glow",
              .sense = CFOIL_SENSE_TOOL,
              .tool = CFOIL_TOOL_UV_A,
              .channels = BIT(CFOIL_CHANNEL_ULTRAVIOLET)},
    [TINY] = {.id = "tiny",
              .feature = "tiny letters",
              .group = "tiny",
              .sense = CFOIL_SENSE_LOOK,
              .tool = CFOIL_TOOL_MAGNIFIER,
              .channels = BIT(CFOIL_CHANNEL_IMAGE)},
};
static const struct pack_note note = {.check_count = CHECKS, .checks = checks};

static struct combined refused(int32_t reason, uint32_t channels)
{
    return (struct combined){.combination = COMBINATION_SINGLE,
                             .refusals = 1,
                             .reason = reason,
                             .reasons_possible = BIT(reason),
                             .channels = channels};
}

static struct walk walk_of(uint32_t channels)
{
    return (struct walk){.note = &note, .combined = refused(CFOIL_REASON_AUTHENTICITY, channels), .limit = 6};
}

static void asks(const struct walk *walk, uint32_t check)
{
    struct plan plan = walk_plan(walk);
    assert_int_equal(plan.kind, CFOIL_STEP_CHECK);
    assert_int_equal(plan.check, check);
}

static void advises(const struct walk *walk, int32_t advice, enum plan_cause cause)
{
    struct plan plan = walk_plan(walk);
    assert_int_equal(plan.kind, CFOIL_STEP_ADVICE);
    assert_int_equal(plan.advice, advice);
    assert_int_equal(plan.cause, cause);
}

/* Asks for exactly these checks, all answered as they should be, and then says TAKE. */
static void takes_after(struct walk walk, const uint32_t *expected, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        asks(&walk, expected[i]);
        walk_answer(&walk, expected[i], GOOD);
    }
    advises(&walk, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
}

#define TAKES_AFTER(walk, ...)                                                                                         \
    takes_after((walk), (const uint32_t[]){__VA_ARGS__}, sizeof(uint32_t[]){__VA_ARGS__} / sizeof(uint32_t))

static void without_a_named_channel_the_packs_order_rules(void **state)
{
    (void)state;
    TAKES_AFTER(walk_of(0), PAPER, WINDOW, NUMBER);
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_UNKNOWN)), PAPER, WINDOW, NUMBER);
    struct walk unsaid = walk_of(0);
    unsaid.combined = (struct combined){0};
    TAKES_AFTER(unsaid, PAPER, WINDOW, NUMBER);
    struct walk unrecognised = walk_of(0);
    unrecognised.combined = refused(CFOIL_REASON_NOT_RECOGNISED, 0);
    TAKES_AFTER(unrecognised, PAPER, WINDOW, NUMBER);
    struct walk accepted_unrefused = walk_of(0);
    accepted_unrefused.combined = refused(CFOIL_REASON_NONE, 0);
    TAKES_AFTER(accepted_unrefused, PAPER, WINDOW, NUMBER);
    /* No check speaks to the channel: the senses are enough. */
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_SIZE)), PAPER, WINDOW, NUMBER);
}

static void what_the_machine_doubted_comes_first(void **state)
{
    (void)state;
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_THREAD)), THREAD, PAPER, NUMBER);
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_INFRARED)), RAISED, WATERMARK, NUMBER);
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_IMAGE)), WINDOW, PAPER, NUMBER);
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_ULTRAVIOLET)), PAPER, WINDOW, NUMBER);
    TAKES_AFTER(walk_of(BIT(CFOIL_CHANNEL_UNKNOWN) | BIT(CFOIL_CHANNEL_THREAD)), THREAD, PAPER, NUMBER);
}

static void checks_with_a_tool_need_the_tool(void **state)
{
    (void)state;
    struct walk walk = walk_of(BIT(CFOIL_CHANNEL_ULTRAVIOLET));
    walk.tools = CFOIL_TOOL_UV_A;
    walk_answer(&walk, PAPER, UNTOLD);
    walk_answer(&walk, WATERMARK, UNTOLD);
    asks(&walk, GLOW);
    walk.tools = CFOIL_TOOL_MAGNIFIER;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
    walk = walk_of(BIT(CFOIL_CHANNEL_IMAGE));
    walk.tools = CFOIL_TOOL_MAGNIFIER | CFOIL_TOOL_UV_A;
    walk_answer(&walk, WINDOW, UNTOLD);
    walk_answer(&walk, STRIPE, UNTOLD);
    asks(&walk, TINY);
}

static void the_limit_leaves_room_for_the_three_senses(void **state)
{
    (void)state;
    struct walk walk = walk_of(BIT(CFOIL_CHANNEL_ULTRAVIOLET) | BIT(CFOIL_CHANNEL_IMAGE));
    walk.tools = CFOIL_TOOL_MAGNIFIER | CFOIL_TOOL_UV_A;
    walk.limit = 3;
    TAKES_AFTER(walk, PAPER, WINDOW, NUMBER);
    walk.limit = 4;
    TAKES_AFTER(walk, PAPER, WINDOW, NUMBER);
    /* Channel checks that are all of one sense do not use up the others' places. */
    walk = walk_of(BIT(CFOIL_CHANNEL_THREAD) | BIT(CFOIL_CHANNEL_IMAGE));
    walk.limit = 3;
    TAKES_AFTER(walk, WINDOW, PAPER, NUMBER); /* no place is left for the thread */
    walk.limit = 4;
    TAKES_AFTER(walk, WINDOW, THREAD, PAPER, NUMBER);
}

/* What one good check told is told: its neighbours of the same channel are not asked. */
static void a_doubt_that_is_told_is_not_asked_again(void **state)
{
    (void)state;
    struct walk walk = walk_of(BIT(CFOIL_CHANNEL_ULTRAVIOLET));
    walk.tools = CFOIL_TOOL_UV_A;
    TAKES_AFTER(walk, PAPER, WINDOW, NUMBER);
}

static void ranks_decide_among_equals(void **state)
{
    (void)state;
    enum { HIDDEN, FEELING, PICTURE, FOIL, LETTERS };
    static const struct pack_check ranked[] = {
        [HIDDEN] = {.id = "a", .feature = "latent image", .group = "a", .sense = CFOIL_SENSE_LOOK},
        [FEELING] = {.id = "b", .feature = "paper", .group = "b", .sense = CFOIL_SENSE_FEEL},
        [PICTURE] = {.id = "c", .feature = "portrait", .group = "c", .sense = CFOIL_SENSE_LOOK},
        [FOIL] = {.id = "d", .feature = "hologram", .group = "d", .sense = CFOIL_SENSE_TILT},
        [LETTERS] = {.id = "e", .feature = "microprint", .group = "e", .sense = CFOIL_SENSE_LOOK},
    };
    static const struct pack_note many = {.check_count = 5, .checks = ranked};
    struct walk walk = walk_of(0);
    walk.note = &many;
    TAKES_AFTER(walk, FOIL, FEELING, PICTURE);
    walk_answer(&walk, FOIL, GOOD);
    walk_answer(&walk, FEELING, GOOD);
    walk_answer(&walk, PICTURE, UNTOLD);
    asks(&walk, LETTERS);
    walk_answer(&walk, LETTERS, UNTOLD);
    asks(&walk, HIDDEN); /* last of all, but better than none */
}

/* A sense with a published figure tells something, a tool without one does not; a sense told once tells no more. */
static void what_tells_more_is_asked_first(void **state)
{
    (void)state;
    static const struct pack_check unequal[] = {
        {.id = "a", .feature = "a", .group = "a", .sense = CFOIL_SENSE_TOOL, .tool = 2, .channels = BIT(1)},
        {.id = "b", .feature = "b", .group = "b", .sense = CFOIL_SENSE_LOOK, .channels = BIT(1)},
        {.id = "c", .feature = "c", .group = "c", .sense = CFOIL_SENSE_FEEL},
        {.id = "d", .feature = "d", .group = "d", .sense = CFOIL_SENSE_TILT},
        {.id = "e", .feature = "hologram", .group = "e", .sense = CFOIL_SENSE_TOOL, .tool = 2, .channels = BIT(1)},
        {.id = "f", .feature = "f", .group = "f", .sense = CFOIL_SENSE_LOOK, .channels = BIT(2)},
    };
    static const struct pack_note mixed = {.check_count = 6, .checks = unequal};
    struct walk walk = walk_of(BIT(1));
    walk.note = &mixed;
    walk.tools = 2;
    asks(&walk, 1);
    walk_answer(&walk, 1, UNTOLD);
    asks(&walk, 4); /* the rest of the channel tells nothing in figures: rank decides */
    walk = walk_of(BIT(1) | BIT(2));
    walk.note = &mixed;
    walk.tools = 2;
    walk_answer(&walk, 2, GOOD);
    walk_answer(&walk, 3, GOOD);
    walk_answer(&walk, 5, GOOD);
    asks(&walk, 4); /* the sense of sight has spoken */
}

enum { WORDING = 3 };

static const struct pack_check worded[] = {
    {.id = "feel", .feature = "paper", .group = "feel", .sense = CFOIL_SENSE_FEEL},
    {.id = "look", .feature = "thread", .group = "look", .sense = CFOIL_SENSE_LOOK, .channels = BIT(1)},
    {.id = "tilt", .feature = "hologram", .group = "tilt", .sense = CFOIL_SENSE_TILT},
    [WORDING] = {.id = "wording",
                 .feature = "w",
                 .group = "wording",
                 .sense = CFOIL_SENSE_LOOK,
                 .channels = BIT(1),
                 .ends = true},
};
static const struct pack_note wording_note = {.check_count = 4, .checks = worded};

static void wording_ends_the_case_and_proves_nothing(void **state)
{
    (void)state;
    struct walk walk = walk_of(BIT(1));
    walk.note = &wording_note;
    asks(&walk, 1); /* what the machine doubted comes first */
    walk_answer(&walk, 1, GOOD);
    asks(&walk, WORDING);
    walk_answer(&walk, WORDING, BAD);
    advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_CHECK_ENDS);
    walk_answer(&walk, WORDING, GOOD);
    asks(&walk, 2);
    walk_answer(&walk, WORDING, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
    walk = walk_of(0);
    walk.note = &wording_note;
    TAKES_AFTER(walk, WORDING, 2, 0, 1); /* its pass is no look */
    walk.limit = 3;
    TAKES_AFTER(walk, 2, 0, 1); /* no place is left for it */
    /* It is no second look either. */
    walk_answer(&walk, 0, BAD);
    walk_answer(&walk, WORDING, GOOD);
    asks(&walk, 2);
}

static void what_cannot_be_done_is_not_asked(void **state)
{
    (void)state;
    static const struct pack_check needing[] = {
        {.id = "a", .feature = "a", .group = "a", .sense = CFOIL_SENSE_LOOK, .needs = CFOIL_WITHOUT_BACK_LIGHT},
        {.id = "b", .feature = "b", .group = "b", .sense = CFOIL_SENSE_LOOK},
        {.id = "c", .feature = "c", .group = "c", .sense = CFOIL_SENSE_FEEL},
        {.id = "d", .feature = "d", .group = "d", .sense = CFOIL_SENSE_TILT, .needs = CFOIL_WITHOUT_BOTH_HANDS},
    };
    static const struct pack_note bright = {.check_count = 4, .checks = needing};
    struct walk walk = walk_of(0);
    walk.note = &bright;
    TAKES_AFTER(walk, 0, 2, 3);
    walk.without = CFOIL_WITHOUT_BACK_LIGHT;
    TAKES_AFTER(walk, 1, 2, 3);
    walk.without = CFOIL_WITHOUT_BOTH_HANDS; /* a tilt is asked for, and nobody here can make it */
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
}

/* A note with nothing to tilt: three independent features all the same. */
static void a_note_without_a_sense_needs_three_features(void **state)
{
    (void)state;
    static const struct pack_check flat[] = {
        {.id = "a", .feature = "a", .group = "one", .sense = CFOIL_SENSE_FEEL},
        {.id = "b", .feature = "b", .group = "two", .sense = CFOIL_SENSE_LOOK},
        {.id = "c", .feature = "c", .group = "two", .sense = CFOIL_SENSE_LOOK},
        {.id = "d", .feature = "d", .group = "three", .sense = CFOIL_SENSE_LOOK},
        {.id = "e", .feature = "e", .group = "three", .sense = CFOIL_SENSE_LOOK},
    };
    static const struct pack_note plain = {.check_count = 5, .checks = flat};
    struct walk walk = walk_of(0);
    walk.note = &plain;
    /* The machine doubted that the note is genuine: without a tilt it is never taken, and nobody waits for checks. */
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TOO_PLAIN);
    walk_answer(&walk, 0, GOOD);
    walk_answer(&walk, 1, GOOD);
    walk_answer(&walk, 3, GOOD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TOO_PLAIN);
    walk_answer(&walk, 3, BAD);
    asks(&walk, 2); /* is it a misreading? */
    /* It only did not know the note, or could not read it. */
    walk = walk_of(0);
    walk.combined.reason = CFOIL_REASON_NOT_RECOGNISED;
    walk.note = &plain;
    TAKES_AFTER(walk, 0, 1, 3);
    walk_answer(&walk, 0, GOOD);
    walk_answer(&walk, 1, GOOD);
    walk_answer(&walk, 2, GOOD);
    asks(&walk, 3); /* two of one group count once */
    walk.limit = 3;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
    static const struct pack_note poor = {.check_count = 3, .checks = flat};
    walk = walk_of(0);
    walk.combined.reason = CFOIL_REASON_NOT_RECOGNISED;
    walk.note = &poor;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE); /* two features are all it has */
}

static void after_the_time_nothing_new_is_asked(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk.time_up = true;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
    walk_answer(&walk, PAPER, GOOD);
    walk_answer(&walk, WATERMARK, GOOD);
    walk_answer(&walk, NUMBER, GOOD);
    advises(&walk, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD); /* what is done is done */
    walk_answer(&walk, NUMBER, BAD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void a_withdrawn_note_is_exchanged_elsewhere(void **state)
{
    (void)state;
    for (int32_t reason = CFOIL_REASON_NONE; reason <= CFOIL_REASON_TAMPERING; reason++) {
        struct walk walk = walk_of(0);
        walk.combined.reason = reason;
        walk.withdrawn = true;
        advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_WITHDRAWN);
        walk_answer(&walk, PAPER, BAD);
        advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_WITHDRAWN);
        walk_answer(&walk, NUMBER, BAD);
        advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
    }
    struct pack_jurisdiction keeps = {.dispositions = BIT(CFOIL_DISPOSITION_SET_ASIDE)};
    struct plan plan = {.advice = CFOIL_ADVICE_ASK_ANOTHER, .cause = PLAN_CAUSE_WITHDRAWN};
    assert_int_equal(plan_dispositions(&plan, &keeps),
                     BIT(CFOIL_DISPOSITION_NOT_TAKEN) | BIT(CFOIL_DISPOSITION_ABANDONED));
}

static void cannot_tell_is_no_pass(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk_answer(&walk, PAPER, UNTOLD);
    asks(&walk, RAISED);
    walk_answer(&walk, RAISED, GOOD);
    asks(&walk, WATERMARK);
    walk_answer(&walk, WATERMARK, GOOD);
    walk_answer(&walk, NUMBER, UNTOLD);
    asks(&walk, STRIPE);
    walk_answer(&walk, STRIPE, GOOD);
    advises(&walk, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
}

static void checks_stop_as_soon_as_take_is_out_of_reach(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk_answer(&walk, PAPER, UNTOLD);
    walk_answer(&walk, RAISED, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE); /* no other check by feel */
    walk = walk_of(0);
    walk.limit = 3;
    walk_answer(&walk, PAPER, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE); /* three senses, two checks left */
    walk = walk_of(BIT(CFOIL_CHANNEL_THREAD));
    walk_answer(&walk, THREAD, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE); /* nothing else speaks to the doubt */
    walk = walk_of(BIT(CFOIL_CHANNEL_INFRARED));
    walk_answer(&walk, RAISED, UNTOLD);
    walk_answer(&walk, NUMBER, GOOD);
    asks(&walk, PAPER); /* the other check spoke to it */
    walk = walk_of(0);
    walk.limit = 3;
    for (uint32_t check = 0; check < CHECKS; check++) /* more answers than were asked for */
        walk_answer(&walk, check, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
    for (uint32_t check = 0; check < CHECKS; check++)
        walk_answer(&walk, check, GOOD);
    advises(&walk, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
}

static void a_doubt_untold_at_the_limit_is_not_taken(void **state)
{
    (void)state;
    struct walk walk = walk_of(BIT(CFOIL_CHANNEL_INFRARED));
    walk.limit = 3;
    walk_answer(&walk, RAISED, UNTOLD);
    walk_answer(&walk, PAPER, GOOD);
    walk_answer(&walk, WATERMARK, GOOD);
    walk_answer(&walk, STRIPE, GOOD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
}

static void one_that_differs_gets_one_more_look(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk_answer(&walk, PAPER, BAD);
    asks(&walk, WINDOW); /* WATERMARK is of the paper too; a sense that was not used yet */
    walk_answer(&walk, WINDOW, GOOD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
    walk_answer(&walk, WINDOW, UNTOLD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
    walk_answer(&walk, WINDOW, BAD);
    advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
    /* The passes before it do not count as the second look. */
    walk = walk_of(0);
    walk_answer(&walk, PAPER, GOOD);
    walk_answer(&walk, WATERMARK, GOOD);
    walk_answer(&walk, NUMBER, BAD);
    asks(&walk, RAISED); /* every sense was used: another sense than tilt */
    walk_answer(&walk, RAISED, GOOD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void two_of_one_group_count_once(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk_answer(&walk, PAPER, BAD);
    walk_answer(&walk, WATERMARK, BAD);
    asks(&walk, NUMBER);
    walk_answer(&walk, NUMBER, BAD);
    advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
}

static void without_an_independent_check_the_advice_comes_at_once(void **state)
{
    (void)state;
    static const struct pack_check alike[] = {
        {.id = "one", .feature = "one", .group = "same", .sense = CFOIL_SENSE_FEEL},
        {.id = "two", .feature = "two", .group = "same", .sense = CFOIL_SENSE_LOOK},
        {.id = "three", .feature = "three", .group = "same", .sense = CFOIL_SENSE_TILT},
        {.id = "four", .feature = "four", .group = "apart", .sense = CFOIL_SENSE_FEEL, .tool = CFOIL_TOOL_RULER},
    };
    static const struct pack_note same = {.check_count = 4, .checks = alike};
    struct walk walk = walk_of(0);
    walk.note = &same;
    walk_answer(&walk, 0, BAD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
    walk.tools = CFOIL_TOOL_RULER;
    asks(&walk, 3); /* the same sense is better than no second look */
    walk.limit = 1;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void a_note_without_checks_is_not_taken(void **state)
{
    (void)state;
    static const struct pack_note bare = {.check_count = 0};
    struct walk walk = walk_of(0);
    walk.note = &bare;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TOO_PLAIN);
    walk.combined.reason = CFOIL_REASON_NOT_RECOGNISED;
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
}

static void a_corrected_answer_counts_as_given(void **state)
{
    (void)state;
    struct walk walk = walk_of(0);
    walk_answer(&walk, PAPER, GOOD);
    walk_answer(&walk, WATERMARK, BAD);
    walk_answer(&walk, NUMBER, GOOD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
    walk_answer(&walk, WATERMARK, GOOD);
    advises(&walk, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
    walk_answer(&walk, PAPER, BAD);
    advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void the_machine_alone_settles_what_is_no_doubt(void **state)
{
    (void)state;
    static const struct {
        struct combined combined;
        int32_t advice;
        enum plan_cause cause;
    } rows[] = {
        {{COMBINATION_SINGLE, 1, CFOIL_REASON_HANDLING, 8, 0, 0}, CFOIL_ADVICE_FEED_AGAIN, PLAN_CAUSE_HANDLING_FIRST},
        {{COMBINATION_SAME_FINDING, 2, CFOIL_REASON_HANDLING, 8, 0, 0},
         CFOIL_ADVICE_FEED_AGAIN,
         PLAN_CAUSE_HANDLING_AGAIN},
        {{COMBINATION_SINGLE, 1, CFOIL_REASON_DEVICE, 32, 0, 0}, CFOIL_ADVICE_CHECK_MACHINE, PLAN_CAUSE_DEVICE},
        {{COMBINATION_NONE, 0, CFOIL_REASON_DEVICE, 32, 0, 0}, CFOIL_ADVICE_CHECK_MACHINE, PLAN_CAUSE_DEVICE},
        {{COMBINATION_ACCEPTED_ON_RETRY, 1, CFOIL_REASON_DEVICE, 32, 0, 0},
         CFOIL_ADVICE_CHECK_MACHINE,
         PLAN_CAUSE_DEVICE},
        {{COMBINATION_SINGLE, 1, CFOIL_REASON_NOT_ENABLED, 16, 0, 0},
         CFOIL_ADVICE_CHECK_MACHINE,
         PLAN_CAUSE_NOT_ENABLED},
        {{COMBINATION_ACCEPTED_ON_RETRY, 1, CFOIL_REASON_NOT_ENABLED, 16, 0, 0},
         CFOIL_ADVICE_TAKE,
         PLAN_CAUSE_ACCEPTED},
        {{COMBINATION_ACCEPTED_ON_RETRY, 2, CFOIL_REASON_AUTHENTICITY, 2, 4, 2},
         CFOIL_ADVICE_TAKE,
         PLAN_CAUSE_ACCEPTED},
        {{COMBINATION_ACCEPTED_ON_RETRY, 3, CFOIL_REASON_HANDLING, 8, 0, 0}, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ACCEPTED},
        {{COMBINATION_SINGLE, 1, CFOIL_REASON_TAMPERING, 64, 0, 0}, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TAMPERING},
        {{COMBINATION_ACCEPTED_ON_RETRY, 1, CFOIL_REASON_TAMPERING, 64, 0, 0},
         CFOIL_ADVICE_ASK_ANOTHER,
         PLAN_CAUSE_TAMPERING},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct walk walk = walk_of(0);
        walk.combined = rows[i].combined;
        advises(&walk, rows[i].advice, rows[i].cause);
        /* Once a person has looked at the note, the checks decide; only tampering stays. */
        walk_answer(&walk, PAPER, GOOD);
        if (rows[i].cause == PLAN_CAUSE_TAMPERING)
            advises(&walk, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TAMPERING);
        else
            asks(&walk, WINDOW);
        walk_answer(&walk, NUMBER, BAD);
        walk_answer(&walk, THREAD, BAD);
        advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
    }
    struct walk third = walk_of(0);
    third.combined = (struct combined){COMBINATION_SAME_FINDING, 3, CFOIL_REASON_HANDLING, 8, 0, 0};
    TAKES_AFTER(third, PAPER, WINDOW, NUMBER);
}

static void a_refused_serial_number_rules_over_all(void **state)
{
    (void)state;
    for (int32_t reason = CFOIL_REASON_NONE; reason <= CFOIL_REASON_TAMPERING; reason++) {
        for (int combination = COMBINATION_NONE; combination <= COMBINATION_ACCEPTED_ON_RETRY; combination++) {
            struct walk walk = walk_of(0);
            walk.combined.reason = reason;
            walk.combined.combination = (enum combination)combination;
            walk.serial_refused = true;
            advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_SERIAL_REFUSED);
            walk_answer(&walk, PAPER, GOOD);
            walk_answer(&walk, WATERMARK, GOOD);
            walk_answer(&walk, NUMBER, GOOD);
            advises(&walk, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_SERIAL_REFUSED);
        }
    }
}

static void each_advice_offers_its_dispositions(void **state)
{
    (void)state;
    const uint32_t taken = BIT(CFOIL_DISPOSITION_TAKEN);
    const uint32_t not_taken = BIT(CFOIL_DISPOSITION_NOT_TAKEN);
    const uint32_t set_aside = BIT(CFOIL_DISPOSITION_SET_ASIDE);
    const uint32_t abandoned = BIT(CFOIL_DISPOSITION_ABANDONED);
    struct pack_jurisdiction keeps = {.dispositions = set_aside | taken};
    struct pack_jurisdiction declines = {.dispositions = not_taken};
    const struct {
        int32_t advice;
        uint32_t where_kept;
        uint32_t where_declined;
    } rows[] = {
        {CFOIL_ADVICE_NONE, not_taken | abandoned, not_taken | abandoned},
        {CFOIL_ADVICE_TAKE, taken | not_taken | abandoned, taken | not_taken | abandoned},
        {CFOIL_ADVICE_ASK_ANOTHER, not_taken | set_aside | abandoned, not_taken | abandoned},
        {CFOIL_ADVICE_SET_ASIDE, set_aside, not_taken},
        {CFOIL_ADVICE_FEED_AGAIN, not_taken | abandoned, not_taken | abandoned},
        {CFOIL_ADVICE_CHECK_MACHINE, not_taken | abandoned, not_taken | abandoned},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct plan plan = {.advice = rows[i].advice};
        assert_int_equal(plan_dispositions(&plan, &keeps), rows[i].where_kept);
        assert_int_equal(plan_dispositions(&plan, &declines), rows[i].where_declined);
    }
}

/* Every subset of the channels, every limit that can be asked for, with and without tools: every sequence of answers. */
static void every_sequence_of_answers_keeps_the_rules(void **state)
{
    (void)state;
    static const uint32_t tools[] = {0, CFOIL_TOOL_UV_A, CFOIL_TOOL_UV_A | CFOIL_TOOL_MAGNIFIER};
    uint64_t takes = 0;
    for (uint32_t channels = 0; channels < 64; channels++) {
        for (uint32_t limit = 3; limit <= 7; limit++) {
            for (size_t tool = 0; tool < 3; tool++) {
                struct walk walk = walk_of(channels);
                walk.limit = limit;
                walk.tools = tools[tool];
                walk_all(&walk);
                assert_true(walk.endings[CFOIL_ADVICE_TAKE] > 0);
                assert_true(walk.endings[CFOIL_ADVICE_ASK_ANOTHER] > 0);
                assert_true(walk.endings[CFOIL_ADVICE_SET_ASIDE] > 0);
                takes += walk.endings[CFOIL_ADVICE_TAKE];
            }
        }
    }
    assert_true(takes > 1000);
}

/* Answers that nobody asked for, in any order and any number, do not break the rules either. */
static void unasked_answers_keep_the_rules(void **state)
{
    (void)state;
    uint32_t seed = 12345;
    for (int round = 0; round < 20000; round++) {
        struct walk walk = walk_of((uint32_t)round & 63);
        walk.tools = (uint32_t)round >> 6 & 3;
        for (int i = 0; i < 6; i++) {
            seed = seed * 1664525u + 1013904223u; /* a plain congruential generator: the same walk at every run */
            walk_answer(&walk, (seed >> 16) % CHECKS, (int32_t)((seed >> 24) % 3) + 1);
            struct plan plan = walk_plan(&walk);
            walk_holds(&walk, &plan);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_named_channel_the_packs_order_rules),
        cmocka_unit_test(what_the_machine_doubted_comes_first),
        cmocka_unit_test(checks_with_a_tool_need_the_tool),
        cmocka_unit_test(the_limit_leaves_room_for_the_three_senses),
        cmocka_unit_test(a_doubt_that_is_told_is_not_asked_again),
        cmocka_unit_test(ranks_decide_among_equals),
        cmocka_unit_test(what_tells_more_is_asked_first),
        cmocka_unit_test(wording_ends_the_case_and_proves_nothing),
        cmocka_unit_test(what_cannot_be_done_is_not_asked),
        cmocka_unit_test(a_note_without_a_sense_needs_three_features),
        cmocka_unit_test(after_the_time_nothing_new_is_asked),
        cmocka_unit_test(a_withdrawn_note_is_exchanged_elsewhere),
        cmocka_unit_test(cannot_tell_is_no_pass),
        cmocka_unit_test(checks_stop_as_soon_as_take_is_out_of_reach),
        cmocka_unit_test(a_doubt_untold_at_the_limit_is_not_taken),
        cmocka_unit_test(one_that_differs_gets_one_more_look),
        cmocka_unit_test(two_of_one_group_count_once),
        cmocka_unit_test(without_an_independent_check_the_advice_comes_at_once),
        cmocka_unit_test(a_note_without_checks_is_not_taken),
        cmocka_unit_test(a_corrected_answer_counts_as_given),
        cmocka_unit_test(the_machine_alone_settles_what_is_no_doubt),
        cmocka_unit_test(a_refused_serial_number_rules_over_all),
        cmocka_unit_test(each_advice_offers_its_dispositions),
        cmocka_unit_test(every_sequence_of_answers_keeps_the_rules),
        cmocka_unit_test(unasked_answers_keep_the_rules),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
