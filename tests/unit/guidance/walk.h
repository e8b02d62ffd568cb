/*
 * A plan on a virtual counter: gives answers to it, walks every possible sequence of answers, and holds what must be
 * true at each step.
 */
#ifndef WALK_H
#define WALK_H

#include "guidance/evidence.h"
#include "guidance/plan.h"

#include "test.h"

#define WALK_CHECKS_MAX 64
#define WALK_SENSES     (1u << CFOIL_SENSE_FEEL | 1u << CFOIL_SENSE_LOOK | 1u << CFOIL_SENSE_TILT)

struct walk {
    const struct pack_note *note;
    struct combined combined;
    uint32_t tools;
    uint32_t without;
    uint32_t limit;
    bool time_up;
    bool serial_refused;
    bool withdrawn;
    int32_t answers[WALK_CHECKS_MAX];
    uint32_t order[WALK_CHECKS_MAX];
    uint32_t answered;
    uint64_t endings[CFOIL_ADVICE_CHECK_MACHINE + 1]; /* how often each advice ended a sequence */
};

/* The built-in figures with the euro's base rate; kept for the whole run. */
static inline const struct evidence_basis *walk_basis(void)
{
    static struct pack_set *packs;
    static struct evidence_basis basis;
    if (packs == NULL) {
        assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
        evidence_basis_make(pack_evidence_find(packs), pack_currency_find(packs, "EUR"), 0, 0, &basis);
    }
    return &basis;
}

static inline struct plan_input walk_input(const struct walk *walk)
{
    return (struct plan_input){
        .basis = walk_basis(),
        .note = walk->note,
        .combined = &walk->combined,
        .answers = walk->answers,
        .order = walk->order,
        .answered = walk->answered,
        .tools = walk->tools,
        .without = walk->without,
        .check_limit = walk->limit,
        .time_up = walk->time_up,
        .serial_refused = walk->serial_refused,
        .withdrawn = walk->withdrawn,
    };
}

static inline struct plan walk_plan(const struct walk *walk)
{
    struct plan_input input = walk_input(walk);
    struct plan plan;
    memset(&plan, 0xA5, sizeof plan);
    plan_make(&input, &plan);
    return plan;
}

static inline void walk_answer(struct walk *walk, uint32_t check, int32_t answer)
{
    if (walk->answers[check] == 0)
        walk->order[walk->answered++] = check;
    walk->answers[check] = answer;
}

static inline void walk_take_back(struct walk *walk)
{
    walk->answers[walk->order[--walk->answered]] = 0;
}

/* The groups that were answered so, counted by another way than the plan's own. A check that ends the case, passed, is no
 * feature. */
static inline uint32_t walk_groups(const struct walk *walk, int32_t answer)
{
    uint32_t count = 0;
    bool passes = answer == CFOIL_ANSWER_AS_IT_SHOULD_BE;
    for (uint32_t i = 0; i < walk->note->check_count; i++) {
        bool counts = walk->answers[i] == answer && !(passes && walk->note->checks[i].ends);
        for (uint32_t j = 0; counts && j < i; j++)
            counts = walk->answers[j] != answer || (passes && walk->note->checks[j].ends) ||
                     strcmp(walk->note->checks[i].group, walk->note->checks[j].group) != 0;
        count += counts ? 1 : 0;
    }
    return count;
}

static inline uint32_t walk_groups_differing(const struct walk *walk)
{
    return walk_groups(walk, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
}

static inline uint32_t walk_senses_of_note(const struct pack_note *note)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < note->check_count; i++)
        senses |= note->checks[i].ends ? 0 : 1u << note->checks[i].sense;
    return senses & WALK_SENSES;
}

static inline uint32_t walk_senses_good(const struct walk *walk)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < walk->note->check_count; i++) {
        if (walk->answers[i] == CFOIL_ANSWER_AS_IT_SHOULD_BE && !walk->note->checks[i].ends)
            senses |= 1u << walk->note->checks[i].sense;
    }
    return senses & WALK_SENSES;
}

static inline void walk_check_holds(const struct walk *walk, const struct plan *plan)
{
    assert_int_equal(plan->advice, CFOIL_ADVICE_NONE);
    assert_true(plan->check < walk->note->check_count);
    assert_int_equal(walk->answers[plan->check], 0);
    assert_int_equal(walk->note->checks[plan->check].tool & ~walk->tools, 0);
    assert_int_equal(walk->note->checks[plan->check].needs & walk->without, 0);
    assert_false(walk->time_up);
    assert_true(walk->answered < walk->limit);
    assert_true(walk_groups_differing(walk) < 2);
}

/* Was a check that ends the case answered so? */
static inline bool walk_ends(const struct walk *walk, int32_t answer)
{
    bool found = false;
    for (uint32_t i = 0; i < walk->note->check_count; i++)
        found = found || (walk->note->checks[i].ends && walk->answers[i] == answer);
    return found;
}

/* TAKE: all three senses good, nothing differs, and each channel that the machine doubted was found good by one check
 * that speaks to it, as far as tools, limit and time let. */
static inline void walk_take_holds(const struct walk *walk)
{
    uint32_t of_note = walk_senses_of_note(walk->note);
    assert_int_equal(walk_senses_good(walk), of_note);
    if (of_note != WALK_SENSES) {
        assert_int_not_equal(walk->combined.reason, CFOIL_REASON_AUTHENTICITY);
        assert_true(walk_groups(walk, CFOIL_ANSWER_AS_IT_SHOULD_BE) >= 3);
    }
    assert_int_equal(walk_groups_differing(walk), 0);
    assert_false(walk_ends(walk, CFOIL_ANSWER_CANNOT_TELL));
    uint32_t doubted = walk->combined.channels & ~(1u << CFOIL_CHANNEL_UNKNOWN);
    uint32_t told = 0;
    uint32_t asked = 0;
    uint32_t askable = 0;
    for (uint32_t i = 0; i < walk->note->check_count; i++) {
        const struct pack_check *check = &walk->note->checks[i];
        if (check->ends)
            continue;
        if (walk->answers[i] != 0)
            asked |= check->channels;
        else if ((check->tool & ~walk->tools) == 0 && (check->needs & walk->without) == 0)
            askable |= check->channels;
        if (walk->answers[i] == CFOIL_ANSWER_AS_IT_SHOULD_BE)
            told |= check->channels;
    }
    assert_int_equal(doubted & asked & ~told, 0);
    if ((doubted & askable & ~told) != 0)
        assert_true(walk->answered >= walk->limit || walk->time_up);
}

/* What must be true at every step of a case whose note was doubted, whatever the answers were. */
static inline void walk_holds(const struct walk *walk, const struct plan *plan)
{
    struct plan again = walk_plan(walk);
    assert_memory_equal(&again, plan, sizeof again);
    assert_true(walk->answered <= walk->limit);
    bool set_aside = walk->serial_refused || walk_groups_differing(walk) >= 2 ||
                     walk_ends(walk, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    assert_true(set_aside == (plan->advice == CFOIL_ADVICE_SET_ASIDE));
    assert_true(plan->cause != PLAN_CAUSE_WITHDRAWN || walk->withdrawn);
    if (plan->kind == CFOIL_STEP_CHECK) {
        walk_check_holds(walk, plan);
        return;
    }
    assert_int_equal(plan->kind, CFOIL_STEP_ADVICE);
    assert_true(plan->cause != PLAN_CAUSE_NONE);
    if (plan->advice == CFOIL_ADVICE_TAKE)
        walk_take_holds(walk);
    else
        assert_true(plan->advice == CFOIL_ADVICE_ASK_ANOTHER || plan->advice == CFOIL_ADVICE_SET_ASIDE);
}

/* Every sequence of answers from here on. It ends, because each step either advises or uses up one check. */
static inline void walk_all(struct walk *walk)
{
    struct plan plan = walk_plan(walk);
    walk_holds(walk, &plan);
    if (plan.kind == CFOIL_STEP_ADVICE) {
        walk->endings[plan.advice]++;
        return;
    }
    for (int32_t answer = CFOIL_ANSWER_AS_IT_SHOULD_BE; answer <= CFOIL_ANSWER_CANNOT_TELL; answer++) {
        walk_answer(walk, plan.check, answer);
        walk_all(walk);
        walk_take_back(walk);
    }
}

#endif
