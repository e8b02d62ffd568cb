/*
 * Which check next, and when to stop. The rules and their reasons are in docs/feature-model.md.
 */
#include "guidance/plan.h"

#include "guidance/evidence.h"

#include <string.h>

/* The three senses of which each must have found the note as it should be (feel, look, tilt: the Eurosystem's published
 * order of checks, ECB press release of 21 February 2025, two sources). */
#define SENSES_NEEDED   (1u << CFOIL_SENSE_FEEL | 1u << CFOIL_SENSE_LOOK | 1u << CFOIL_SENSE_TILT)
#define FEATURES_NEEDED 3u

static bool available(const struct plan_input *input, const struct pack_check *check)
{
    return (check->tool & ~input->tools) == 0 && (check->needs & input->without) == 0;
}

/* What a pass of this check counts for. That a note does not say it is none (a check that ends the case) is no look, no
 * feel and no tilt, and speaks to no channel. */
static uint32_t sense_of(const struct pack_check *check)
{
    return check->ends ? 0 : 1u << check->sense;
}

static uint32_t channels_of(const struct pack_check *check)
{
    return check->ends ? 0 : check->channels;
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
        if (independent(check_at(input, first), check_at(input, i)) && !check_at(input, i)->ends)
            return true;
    }
    return false;
}

/* Was a check that ends the case answered so? */
static bool ends_answered(const struct plan_input *input, int32_t answer)
{
    for (uint32_t i = 0; i < input->answered; i++) {
        if (check_at(input, i)->ends && answer_at(input, i) == answer)
            return true;
    }
    return false;
}

/* Senses for which some check was answered 'as it should be'. */
static uint32_t senses_good(const struct plan_input *input)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE)
            senses |= sense_of(check_at(input, i));
    }
    return senses;
}

static uint32_t senses_answered(const struct plan_input *input)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < input->answered; i++)
        senses |= sense_of(check_at(input, i));
    return senses;
}

/* The channels that the machine named; "not told" is not a name. */
static uint32_t channels_doubted(const struct plan_input *input)
{
    return input->combined->channels & ~(1u << CFOIL_CHANNEL_UNKNOWN);
}

/* Of those, the ones that no check has found as they should be yet. */
static uint32_t channels_open(const struct plan_input *input)
{
    uint32_t told = 0;
    for (uint32_t i = 0; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE)
            told |= channels_of(check_at(input, i));
    }
    return channels_doubted(input) & ~told;
}

/* Of those, the ones that were looked at, every time with the answer 'cannot tell'. */
static uint32_t channels_untold(const struct plan_input *input)
{
    uint32_t asked = 0;
    for (uint32_t i = 0; i < input->answered; i++)
        asked |= channels_of(check_at(input, i));
    return channels_open(input) & asked;
}

/* ---- Which check next ---- */

/* Is this check of a group that was found as it should be already? */
static bool group_good(const struct plan_input *input, const struct pack_check *check)
{
    for (uint32_t i = 0; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE && !check_at(input, i)->ends &&
            !independent(check_at(input, i), check))
            return true;
    }
    return false;
}

/* Was one of the answers before this one of the same group and good? */
static bool group_good_before(const struct plan_input *input, uint32_t position)
{
    struct plan_input before = *input;
    before.answered = position;
    return group_good(&before, check_at(input, position));
}

static uint32_t groups_good(const struct plan_input *input)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < input->answered; i++) {
        if (answer_at(input, i) == CFOIL_ANSWER_AS_IT_SHOULD_BE && !check_at(input, i)->ends &&
            !group_good_before(input, i))
            count++;
    }
    return count;
}

/* Of feel, look and tilt, those that this note has any check for, whatever is at hand. Many notes of small value have
 * nothing to tilt. */
static uint32_t senses_of_note(const struct plan_input *input)
{
    uint32_t senses = 0;
    for (uint32_t i = 0; i < input->note->check_count; i++)
        senses |= sense_of(&input->note->checks[i]);
    return senses & SENSES_NEEDED;
}

/* Did the machine doubt that it is genuine, and are not all three senses to be had from such a note? Then no number of
 * other checks makes up for the one that is not there. */
static bool too_plain(const struct plan_input *input)
{
    return input->combined->reason == CFOIL_REASON_AUTHENTICITY && senses_of_note(input) != SENSES_NEEDED;
}

/* What is still missing before TAKE. A note that has no check for one of the three senses, and that the machine only did
 * not know or could not read, needs three independent features all the same. */
struct missing {
    uint32_t senses;
    uint32_t features;
    uint32_t checks; /* at least so many must still be made */
};

static struct missing missing_of(const struct plan_input *input)
{
    uint32_t of_note = senses_of_note(input);
    uint32_t good = groups_good(input);
    struct missing missing = {.senses = of_note & ~senses_good(input)};
    if (of_note != SENSES_NEEDED && good < FEATURES_NEEDED)
        missing.features = FEATURES_NEEDED - good;
    missing.checks = bits_count(missing.senses);
    if (missing.features > missing.checks)
        missing.checks = missing.features;
    return missing;
}

/* How many independent features the open checks could add to those found as they should be. */
static uint32_t features_in_reach(const struct plan_input *input)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < input->note->check_count; i++) {
        const struct pack_check *check = &input->note->checks[i];
        bool counts = open_to_ask(input, i) && !check->ends && !group_good(input, check);
        for (uint32_t j = 0; counts && j < i; j++)
            counts = !open_to_ask(input, j) || independent(&input->note->checks[j], check);
        count += counts ? 1 : 0;
    }
    return count;
}

/* Senses and channels that the checks still open could speak to. */
static void reach_of(const struct plan_input *input, uint32_t *senses, uint32_t *channels)
{
    *senses = *channels = 0;
    for (uint32_t i = 0; i < input->note->check_count; i++) {
        if (open_to_ask(input, i)) {
            *senses |= sense_of(&input->note->checks[i]);
            *channels |= channels_of(&input->note->checks[i]);
        }
    }
}

/* Can the answers still to come lead to TAKE? If not, no more checks are asked: the queue need not wait. */
static bool take_reachable(const struct plan_input *input, const struct missing *missing, uint32_t left)
{
    uint32_t senses;
    uint32_t channels;
    reach_of(input, &senses, &channels);
    uint32_t untold = left > 0 ? channels_untold(input) & ~channels : channels_untold(input);
    return missing->checks <= left && (missing->senses & ~senses) == 0 && untold == 0 &&
           (missing->features == 0 || missing->features <= features_in_reach(input));
}

/* Some of the note's checks: one bit for each. A pack has at most 40 for a note; what is beyond the 64th is not asked. */
typedef uint64_t check_set;
#define CHECK_SET_MAX 64u

static check_set checks_open(const struct plan_input *input)
{
    check_set set = 0;
    for (uint32_t i = 0; i < input->note->check_count && i < CHECK_SET_MAX; i++) {
        if (open_to_ask(input, i))
            set |= (check_set)1 << i;
    }
    return set;
}

/* Those of a set that give one of the senses, or speak to one of the channels. */
static check_set checks_giving(const struct plan_input *input, check_set set, uint32_t senses, uint32_t channels)
{
    check_set giving = 0;
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((set >> i & 1) == 0)
            continue;
        const struct pack_check *check = &input->note->checks[i];
        if ((sense_of(check) & senses) != 0 || (channels_of(check) & channels) != 0)
            giving |= (check_set)1 << i;
    }
    return giving;
}

static check_set checks_ending(const struct plan_input *input, check_set set)
{
    check_set ending = 0;
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((set >> i & 1) != 0 && input->note->checks[i].ends)
            ending |= (check_set)1 << i;
    }
    return ending;
}

/* Those of a group of which none was found as it should be yet. */
static check_set checks_new(const struct plan_input *input, check_set set)
{
    check_set fresh = 0;
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((set >> i & 1) != 0 && !input->note->checks[i].ends && !group_good(input, &input->note->checks[i]))
            fresh |= (check_set)1 << i;
    }
    return fresh;
}

/* `wanted`, unless it is empty. */
static check_set rather(check_set wanted, check_set otherwise)
{
    return wanted != 0 ? wanted : otherwise;
}

/* The senses that are expected to tell as much as the best of them, as far as the published ranges can say: their most
 * is not less than the least of the best. Each check is taken to last as long as any other: no times were published. */
static uint32_t senses_most_telling(const struct plan_input *input, uint32_t senses)
{
    struct span bits[CFOIL_SENSE_TOOL + 1];
    struct span best = {0};
    struct evidence evidence;
    evidence_weigh(input, &evidence);
    for (int32_t sense = CFOIL_SENSE_FEEL; sense <= CFOIL_SENSE_TOOL; sense++) {
        evidence_expected(input, &evidence, sense, &bits[sense]);
        if ((senses & 1u << sense) != 0 && bits[sense].centre > best.centre)
            best = bits[sense];
    }
    uint32_t telling = 0;
    for (int32_t sense = CFOIL_SENSE_FEEL; sense <= CFOIL_SENSE_TOOL; sense++) {
        if (bits[sense].high >= best.low)
            telling |= 1u << sense;
    }
    return senses & telling;
}

/* Where a feature stands among the others; no rank was published for most: between the best and the last. */
static int rank_of(const struct plan_input *input, const struct pack_check *check)
{
    switch (pack_feature_rank(input->basis->figures, check->feature)) {
    case FEATURE_RANK_BEST:
        return 0;
    case FEATURE_RANK_LAST:
        return 2;
    default:
        return 1;
    }
}

/* The check to make of a set: the one that tells most, then the one that ranks best, then the first in the pack's order.
 * check_count = the set is empty. */
static uint32_t check_pick(const struct plan_input *input, check_set set)
{
    uint32_t senses = 0;
    uint32_t picked = input->note->check_count;
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((set >> i & 1) != 0)
            senses |= 1u << input->note->checks[i].sense;
    }
    if (bits_count(senses) > 1)
        senses = senses_most_telling(input, senses);
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((set >> i & 1) == 0 || (senses & 1u << input->note->checks[i].sense) == 0)
            continue;
        if (picked == input->note->check_count ||
            rank_of(input, &input->note->checks[i]) < rank_of(input, &input->note->checks[picked]))
            picked = i;
    }
    return picked;
}

/* What the machine doubted comes first, then what would end the case, then a sense that is missing; room is left for the
 * senses. PLAN_WHY_NONE = none of these. */
static enum plan_why check_next(const struct plan_input *input, const struct missing *missing, uint32_t left,
                                check_set *set)
{
    check_set open = checks_open(input);
    check_set fresh = checks_new(input, open);
    check_set giving = missing->senses != 0 ? checks_giving(input, open, missing->senses, 0) : 0;
    giving = rather(giving & fresh, giving); /* two looks at one foil say little more than one */
    if (giving == 0 && missing->features > 0)
        giving = fresh;
    bool room = left > missing->checks;
    *set = checks_giving(input, room ? open : giving, 0, channels_open(input));
    if (*set != 0) {
        *set = rather(*set & giving, *set);
        return PLAN_WHY_CHANNEL;
    }
    *set = room ? checks_ending(input, open) : 0;
    if (*set != 0)
        return PLAN_WHY_ENDS;
    *set = giving;
    return *set != 0 ? PLAN_WHY_SENSE : PLAN_WHY_NONE;
}

/* The checks that tell a misreading from a doubt: independent of the one that differs, and best with a sense that was not
 * used yet, else with another sense. */
static check_set checks_independent(const struct plan_input *input, const struct pack_check *differing)
{
    check_set open = checks_open(input);
    check_set apart = open & ~checks_ending(input, open);
    for (uint32_t i = 0; i < CHECK_SET_MAX; i++) {
        if ((apart >> i & 1) != 0 && !independent(&input->note->checks[i], differing))
            apart &= ~((check_set)1 << i);
    }
    check_set other = checks_giving(input, apart, ~sense_of(differing), 0);
    check_set unused = checks_giving(input, apart, ~senses_answered(input), 0);
    check_set set = rather(unused, rather(other, apart));
    return rather(checks_giving(input, set, 0, channels_doubted(input)), set);
}

/* ---- The plan ---- */

static void advise(struct plan *plan, int32_t advice, enum plan_cause cause)
{
    *plan = (struct plan){.kind = CFOIL_STEP_ADVICE, .advice = advice, .cause = cause};
}

static void ask(struct plan *plan, uint32_t check, enum plan_why why)
{
    *plan = (struct plan){.kind = CFOIL_STEP_CHECK, .check = check, .why = why};
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

/* How many checks may still be asked. */
static uint32_t checks_left(const struct plan_input *input)
{
    return !input->time_up && input->answered < input->check_limit ? input->check_limit - input->answered : 0;
}

/* One feature is not as it should be: one more look at an independent one, and never back to TAKE. */
static void plan_differing(const struct plan_input *input, uint32_t first, struct plan *plan)
{
    check_set set = 0;
    if (checks_left(input) > 0 && !looked_again(input, first))
        set = checks_independent(input, check_at(input, first));
    if (set != 0)
        ask(plan, check_pick(input, set), PLAN_WHY_INDEPENDENT);
    else
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_ONE_DIFFERS);
}

static void plan_checks(const struct plan_input *input, struct plan *plan)
{
    struct missing missing = missing_of(input);
    uint32_t left = checks_left(input);
    if (too_plain(input)) {
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_TOO_PLAIN);
        return;
    }
    if (!take_reachable(input, &missing, left) || ends_answered(input, CFOIL_ANSWER_CANNOT_TELL)) {
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_NOT_COMPLETE);
        return;
    }
    check_set set;
    enum plan_why why = left > 0 ? check_next(input, &missing, left, &set) : PLAN_WHY_NONE;
    if (why != PLAN_WHY_NONE)
        ask(plan, check_pick(input, set), why);
    else
        advise(plan, CFOIL_ADVICE_TAKE, PLAN_CAUSE_ALL_GOOD);
}

void plan_make(const struct plan_input *input, struct plan *plan)
{
    uint32_t first = first_differing(input);
    if (input->serial_refused)
        advise(plan, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_SERIAL_REFUSED);
    else if (ends_answered(input, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE))
        advise(plan, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_CHECK_ENDS);
    else if (second_differs(input, first))
        advise(plan, CFOIL_ADVICE_SET_ASIDE, PLAN_CAUSE_TWO_DIFFER);
    else if (input->withdrawn)
        advise(plan, CFOIL_ADVICE_ASK_ANOTHER, PLAN_CAUSE_WITHDRAWN);
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
    if (plan->cause == PLAN_CAUSE_WITHDRAWN) /* nothing is said against the note: nothing is kept */
        return always;
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
