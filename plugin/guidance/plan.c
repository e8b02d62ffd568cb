/*
 * Which check next, and when to stop. The rules and their reasons are in docs/feature-model.md.
 */
#include "guidance/plan.h"

#include <string.h>

/* The three senses of which each must have found the note as it should be (feel, look, tilt: the Eurosystem's published
 * order of checks, ECB press release of 21 February 2025, two sources). */
#define SENSES_NEEDED (1u << CFOIL_SENSE_FEEL | 1u << CFOIL_SENSE_LOOK | 1u << CFOIL_SENSE_TILT)

static bool available(const struct plan_input *input, const struct pack_check *check)
{
    return (check->tool & ~input->tools) == 0;
}

/* Can this check still be asked? */
static bool open_to_ask(const struct plan_input *input, uint32_t number)
{
    return input->answers[number] == 0 && available(input, &input->note->checks[number]);
}

static uint32_t bits_count(uint32_t bits)
{
    uint32_t count = 0;
    for (; bits != 0; bits &= bits - 1)
        count++;
    return count;
}

/* ---- What was answered ---- */

static const struct pack_check *check_at(const struct plan_input *input, uint32_t position)
{
    return &input->note->checks[input->order[position]];
}

static int32_t answer_at(const struct plan_input *input, uint32_t position)
{
    return input->answers[input->order[position]];
}

/* The position of the first answer 'not as it should be', or `answered`. */
static uint32_t first_differing(const struct plan_input *input)
{
    uint32_t position = 0;
    while (position < input->answered && answer_at(input, position) != CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE)
        position++;
    return position;
}

static bool independent(const struct pack_check *one, const struct pack_check *other)
{
    return strcmp(one->group, other->group) != 0;
}

/* Does an independent check differ too? `first` is the position of the first that does. */
static bool second_differs(const struct plan_input *input, uint32_t first)
{
    for (uint32_t i = first + 1; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE &&
            independent(check_at(input, first), check_at(input, i)))
            return true;
    }
    return false;
}

/* Was an independent check answered after the one that differs? */
static bool looked_again(const struct plan_input *input, uint32_t first)
{
    for (uint32_t i = first + 1; i < input->answered; i++) {
        if (independent(check_at(input, first), check_at(input, i)))
            return true;
    }
    return false;
}

/* Senses, or channels, for which some check was answered 'as it should be'. */
static uint32_t senses_good(const struct plan_input *input)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE)
            senses |= 1u << check_at(input, i)->sense;
    }
    return senses;
}

static uint32_t senses_answered(const struct plan_input *input)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < input->answered; i++)
        senses |= 1u << check_at(input, i)->sense;
    return senses;
}

/* The channels that the machine named; "not told" is not a name. */
static uint32_t channels_doubted(const struct plan_input *input)
{
    return input->combined->channels & ~(1u << CFOIL_CHANNEL_UNKNOWN);
}

/* Of those, the ones that were looked at, every time with the answer 'cannot tell'. */
static uint32_t channels_untold(const struct plan_input *input)
{
    uint32_t told = 0;
    uint32_t asked = 0;
    for (uint32_t i = 0; i < input->answered; i++) {
        asked |= check_at(input, i)->channels;
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE)
            told |= check_at(input, i)->channels;
    }
    return channels_doubted(input) & asked & ~told;
}

/* ---- Which check next ---- */

/* Senses and channels that the checks still open could speak to. */
static void reach_of(const struct plan_input *input, uint32_t *senses, uint32_t *channels)
{
    *senses = *channels = 0;
    for (uint32_t i = 0; i < input->note->check_count; i++) {
        if (open_to_ask(input, i)) {
            *senses |= 1u << input->note->checks[i].sense;
            *channels |= input->note->checks[i].channels;
        }
    }
}

/* Can the answers still to come lead to TAKE? If not, no more checks are asked: the queue need not wait. */
static bool take_reachable(const struct plan_input *input, uint32_t missing, uint32_t left)
{
    uint32_t senses;
    uint32_t channels;
    reach_of(input, &senses, &channels);
    uint32_t untold = left > 0 ? channels_untold(input) & ~channels : channels_untold(input);
    return bits_count(missing) <= left && (missing & ~senses) == 0 && untold == 0;
}

/* The first check, in the pack's order, that speaks to a doubted channel and leaves room for the senses still missing;
 * then the first that gives a missing sense. check_count = none. */
static uint32_t check_next(const struct plan_input *input, uint32_t missing, uint32_t left)
{
    const struct pack_note *note = input->note;
    uint32_t doubted = channels_doubted(input);
    bool room = left > bits_count(missing);
    for (uint32_t i = 0; i < note->check_count; i++) {
        if (open_to_ask(input, i) && (note->checks[i].channels & doubted) != 0 &&
            (room || (missing & 1u << note->checks[i].sense) != 0))
            return i;
    }
    for (uint32_t i = 0; i < note->check_count; i++) {
        if (open_to_ask(input, i) && (missing & 1u << note->checks[i].sense) != 0)
            return i;
    }
    return note->check_count;
}

/* The check that tells a misreading from a doubt: independent of the one that differs, and best with a sense that was
 * not used yet, else with another sense. check_count = none. */
static uint32_t check_independent(const struct plan_input *input, const struct pack_check *differing)
{
    const struct pack_note *note = input->note;
    uint32_t avoided[] = {senses_answered(input), 1u << differing->sense, 0};
    for (uint32_t pass = 0; pass < sizeof avoided / sizeof avoided[0]; pass++) {
        for (uint32_t i = 0; i < note->check_count; i++) {
            if (open_to_ask(input, i) && independent(&note->checks[i], differing) &&
                (avoided[pass] & 1u << note->checks[i].sense) == 0)
                return i;
        }
    }
    return note->check_count;
}

/* ---- The plan ---- */

static void advise(struct plan *plan, int32_t advice, enum plan_cause cause)
{
    *plan = (struct plan){.kind = CFOIL_STEP_ADVICE, .advice = advice, .cause = cause};
}

static void ask(struct plan *plan, uint32_t check)
{
    *plan = (struct plan){.kind = CFOIL_STEP_CHECK, .check = check};
}

/* What the machine alone settles, as long as no person has looked at the note. False = nothing. */
static bool machine_settles(const struct combined *combined, struct plan *plan)
{
    if (combined->reason == CFOIL_REASON_DEVICE)
        advise(plan, CFOIL_ADVICE_CHECK_MACHINE, PLAN_CAUSE_DEVICE);
    else if (combined->combination == COMBINATION_ACCEPTED_ON_RETRY)
        advise(plan, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ACCEPTED);
    else if (combined->reason == CFOIL_REASON_NOT_ENABLED)
        advise(plan, CFOIL_ADVICE_CHECK_MACHINE, PLAN_CAUSE_NOT_ENABLED);
    else if (combined->reason == CFOIL_REASON_HANDLING && combined->refusals == 1)
        advise(plan, CFOIL_ADVICE_FEED_AGAIN, PLAN_CAUSE_HANDLING_FIRST);
    else if (combined->reason == CFOIL_REASON_HANDLING && combined->refusals < PLAN_HANDLING_MAX)
        advise(plan, CFOIL_ADVICE_FEED_AGAIN, PLAN_CAUSE_HANDLING_AGAIN);
    else
        return false;
    return true;
}

/* One feature is not as it should be: one more look at an independent one, and never back to TAKE. */
static void plan_differing(const struct plan_input *input, uint32_t first, struct plan *plan)
{
    uint32_t next = input->note->check_count;
    if (input->answered < input->check_limit && !looked_again(input, first))
        next = check_independent(input, check_at(input, first));
    if (next < input->note->check_count)
        ask(plan, next);
    else
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void plan_checks(const struct plan_input *input, struct plan *plan)
{
    uint32_t missing = SENSES_NEEDED & ~senses_good(input);
    uint32_t left = input->answered < input->check_limit ? input->check_limit - input->answered : 0;
    if (!take_reachable(input, missing, left)) {
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
        return;
    }
    uint32_t next = left > 0 ? check_next(input, missing, left) : input->note->check_count;
    if (next < input->note->check_count)
        ask(plan, next);
    else
        advise(plan, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
}

void plan_make(const struct plan_input *input, struct plan *plan)
{
    uint32_t first = first_differing(input);
    if (input->serial_refused)
        advise(plan, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_SERIAL_REFUSED);
    else if (second_differs(input, first))
        advise(plan, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
    else if (input->combined->reason == CFOIL_REASON_TAMPERING)
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TAMPERING);
    else if (input->answered == 0 && machine_settles(input->combined, plan))
        return;
    else if (first < input->answered)
        plan_differing(input, first, plan);
    else
        plan_checks(input, plan);
}

uint32_t plan_dispositions(const struct plan *plan, const struct pack_jurisdiction *jurisdiction)
{
    const uint32_t taken = 1u << CFOIL_DISPOSITION_TAKEN;
    const uint32_t set_aside = 1u << CFOIL_DISPOSITION_SET_ASIDE;
    const uint32_t always = 1u << CFOIL_DISPOSITION_NOT_TAKEN | 1u << CFOIL_DISPOSITION_ABANDONED;
    switch (plan->advice) {
    case CFOIL_ADVICE_TAKE:
        return always | taken;
    case CFOIL_ADVICE_ASK_ANOTHER:
        return always | (jurisdiction->dispositions & set_aside);
    case CFOIL_ADVICE_SET_ASIDE:
        return jurisdiction->dispositions & ~taken;
    default:
        return always;
    }
}
