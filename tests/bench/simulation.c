/*
 * How do synthetic notes look to synthetic cashiers, and what comes of it? See simulation.h; the assumptions are in
 * docs/guidance.md.
 */
#include "simulation.h"

#include "bench.h"

#include <math.h>
#include <string.h>

#define CHECK_LIMIT 6u     /* as guidance has it unless set */
#define TREE_MAX    20000u /* states of a case that differ */
#define SAMPLE      100000u

/* ---- What the plan says in each state of a case, worked out once ---- */

struct plan_node {
    struct plan plan;
    uint32_t next[CFOIL_ANSWER_CANNOT_TELL + 1]; /* by answer; 0 = not worked out yet */
};

struct plan_tree {
    struct plan_node nodes[TREE_MAX]; /* the first ones are the roots, one for each of the counter's channels */
    uint32_t count;
};

struct state {
    int32_t answers[SIMULATION_CHECKS_MAX];
    uint32_t order[SIMULATION_CHECKS_MAX];
    uint32_t answered;
};

static uint32_t node_make(const struct counter *counter, uint32_t channels, const struct state *state)
{
    struct plan_tree *tree = counter->tree;
    if (tree->count == TREE_MAX)
        bench_fail("the table of plans");
    struct combined combined = {
        .combination = COMBINATION_SINGLE, .refusals = 1, .reason = CFOIL_REASON_AUTHENTICITY, .channels = channels};
    struct plan_input input = {.basis = &counter->basis,
                               .note = counter->note,
                               .combined = &combined,
                               .answers = state->answers,
                               .order = state->order,
                               .answered = state->answered,
                               .check_limit = CHECK_LIMIT};
    struct plan_node *node = &tree->nodes[tree->count];
    memset(node, 0, sizeof *node);
    plan_make(&input, &node->plan);
    return tree->count++;
}

/* ---- Notes and people ---- */

static void channels_collect(struct counter *counter)
{
    uint32_t spoken = 0;
    for (uint32_t i = 0; i < counter->usable_count; i++)
        spoken |= counter->note->checks[counter->usable[i]].channels;
    counter->channels[0] = 1u << CFOIL_CHANNEL_UNKNOWN;
    counter->channel_count = 1;
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; channel < CFOIL_CHANNEL_TRANSPORT; channel++) {
        if ((spoken & 1u << channel) != 0)
            counter->channels[counter->channel_count++] = 1u << channel;
    }
}

static double sense_d_prime(const struct pack_evidence *figures, int32_t sense)
{
    double hit;
    double false_alarm;
    look_rates(figures->senses[sense].look, &hit, &false_alarm);
    return discriminability(hit, false_alarm);
}

/* The published d' of single senses is the public's or of a short look. A person who does better with a whole note than the
 * consumers of the 2016 study does better with each sense by the same factor (our assumption). */
static void d_prime_scale(struct counter *counter, const struct pack_evidence *figures)
{
    const struct person *person = counter->person;
    double consumer = discriminability(figures->whole->hit, figures->whole->false_alarm);
    double scale = discriminability(person->hit, person->false_alarm) / consumer;
    for (int32_t sense = CFOIL_SENSE_FEEL; sense <= CFOIL_SENSE_TILT; sense++)
        counter->d_prime[sense] = scale * sense_d_prime(figures, sense);
}

void counter_open(struct counter *counter, const struct pack_set *packs, const char *currency, int64_t value_minor,
                  const char *series, const struct person *person)
{
    const struct pack_currency *found = pack_currency_find(packs, currency);
    *counter = (struct counter){.note = pack_note_find(found, value_minor, series), .person = person};
    if (counter->note == NULL || counter->note->check_count > SIMULATION_CHECKS_MAX)
        bench_fail("finding the note");
    evidence_basis_make(pack_evidence_find(packs), found, 0, 0, &counter->basis);
    for (uint32_t i = 0; i < counter->note->check_count; i++) {
        if (counter->note->checks[i].tool == 0 && counter->note->checks[i].sense != CFOIL_SENSE_TOOL)
            counter->usable[counter->usable_count++] = i;
    }
    channels_collect(counter);
    d_prime_scale(counter, pack_evidence_find(packs));
    counter->tree = calloc(1, sizeof *counter->tree);
    if (counter->tree == NULL)
        bench_fail("memory");
    struct state none = {0};
    for (uint32_t i = 0; i < counter->channel_count; i++)
        (void)node_make(counter, counter->channels[i], &none);
}

void counter_close(struct counter *counter)
{
    free(counter->tree);
    counter->tree = NULL;
}

/* How far a check is from how it should be, before anything but chance: one part for the whole note, one for the sense, one
 * for the check. The variance is 1. */
static double strength(const struct person *person, double whole, double sense, double check)
{
    return sqrt(person->other_sense) * whole + sqrt(person->same_sense - person->other_sense) * sense +
           sqrt(1 - person->same_sense) * check;
}

static int order_of(const void *left, const void *right)
{
    double a = *(const double *)left;
    double b = *(const double *)right;
    return (a > b) - (a < b);
}

double criterion_of(const struct person *person)
{
    double *worst = malloc(SAMPLE * sizeof *worst);
    if (worst == NULL)
        bench_fail("memory");
    struct chance chance = {.state = 1947};
    for (uint32_t i = 0; i < SAMPLE; i++) {
        double whole = chance_normal(&chance);
        worst[i] = -INFINITY;
        for (int sense = 0; sense < 3; sense++) {
            double own = chance_normal(&chance);
            worst[i] = fmax(worst[i], strength(person, whole, own, chance_normal(&chance)));
        }
    }
    qsort(worst, SAMPLE, sizeof *worst, order_of);
    double criterion = worst[(size_t)((1 - person->false_alarm) * SAMPLE)];
    free(worst);
    return criterion;
}

/* What this person would say to each check of one note. */
static void answers_draw(const struct counter *counter, struct chance *chance, bool genuine, double criterion,
                         int32_t *answers)
{
    const struct person *person = counter->person;
    double whole = chance_normal(chance);
    double senses[CFOIL_SENSE_TOOL + 1];
    for (int32_t sense = 0; sense <= CFOIL_SENSE_TOOL; sense++)
        senses[sense] = chance_normal(chance);
    for (uint32_t i = 0; i < counter->usable_count; i++) {
        const struct pack_check *check = &counter->note->checks[counter->usable[i]];
        double shift = genuine ? person->wear : counter->d_prime[check->sense];
        double seen = shift + strength(person, whole, senses[check->sense], chance_normal(chance));
        bool untold = chance_uniform(chance) < person->cannot_tell;
        int32_t answer = seen > criterion ? CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE : CFOIL_ANSWER_AS_IT_SHOULD_BE;
        /* Synthetic notes never carry wording such as COPY: how many do is not published. */
        answers[counter->usable[i]] = check->ends ? CFOIL_ANSWER_AS_IT_SHOULD_BE
                                      : untold    ? CFOIL_ANSWER_CANNOT_TELL
                                                  : answer;
    }
}

/* ---- Policies ---- */

/* Half of the refusals name nothing, the others one channel by chance: how machines divide is not published. */
static uint32_t channel_draw(const struct counter *counter, struct chance *chance)
{
    double drawn = 2 * chance_uniform(chance);
    return drawn < 1 || counter->channel_count == 1
               ? 0
               : 1 + (uint32_t)((drawn - 1) * (double)(counter->channel_count - 1));
}

/* Follows the plan to its advice; the number of checks. */
static uint32_t guidance_follow(const struct counter *counter, uint32_t root, const int32_t *answers, int32_t *advice)
{
    struct state state = {0};
    uint32_t at = root;
    while (counter->tree->nodes[at].plan.kind == CFOIL_STEP_CHECK) {
        uint32_t check = counter->tree->nodes[at].plan.check;
        state.order[state.answered++] = check;
        state.answers[check] = answers[check];
        uint32_t next = counter->tree->nodes[at].next[answers[check]];
        if (next == 0) {
            next = node_make(counter, counter->channels[root], &state);
            counter->tree->nodes[at].next[answers[check]] = next;
        }
        at = next;
    }
    *advice = counter->tree->nodes[at].plan.advice;
    return state.answered;
}

static uint32_t fixed_follow(const struct counter *counter, const int32_t *answers, int32_t *advice)
{
    *advice = CFOIL_ADVICE_ASK_ANOTHER;
    for (uint32_t i = 0; i < counter->usable_count; i++) {
        if (answers[counter->usable[i]] != CFOIL_ANSWER_AS_IT_SHOULD_BE)
            return i + 1;
    }
    *advice = CFOIL_ADVICE_TAKE;
    return counter->usable_count;
}

void simulate(struct counter *counter, enum policy policy, bool genuine, double criterion, uint64_t notes,
              uint64_t seed, struct tally *tally)
{
    struct chance chance = {.state = seed};
    *tally = (struct tally){.notes = notes};
    for (uint64_t i = 0; i < notes; i++) {
        int32_t answers[SIMULATION_CHECKS_MAX] = {0};
        int32_t advice;
        answers_draw(counter, &chance, genuine, criterion, answers);
        uint32_t root = channel_draw(counter, &chance);
        uint32_t checks = policy == POLICY_GUIDANCE ? guidance_follow(counter, root, answers, &advice)
                                                    : fixed_follow(counter, answers, &advice);
        tally->taken += advice == CFOIL_ADVICE_TAKE;
        tally->set_aside += advice == CFOIL_ADVICE_SET_ASIDE;
        tally->checks += checks;
        tally->checks_squared += checks * checks;
    }
}

/* ---- Equal risk, equal trouble ---- */

static double share_taken(struct counter *counter, enum policy policy, bool genuine, double criterion, uint64_t notes,
                          uint64_t seed)
{
    struct tally tally;
    simulate(counter, policy, genuine, criterion, notes, seed, &tally);
    return (double)tally.taken / (double)tally.notes;
}

/* The criterion from which on a policy takes more than the share. The stricter (lower) it is, the fewer it takes. */
static double criterion_taking(struct counter *counter, enum policy policy, bool genuine, double share, uint64_t notes,
                               uint64_t seed)
{
    double low = -2;
    double high = 4;
    while (high - low > 4e-3) {
        double middle = (low + high) / 2;
        if (share_taken(counter, policy, genuine, middle, notes, seed) <= share)
            low = middle;
        else
            high = middle;
    }
    return low;
}

double criterion_for_taken(struct counter *counter, double criterion, double safety, uint64_t notes, uint64_t seed)
{
    double share = share_taken(counter, POLICY_FIXED, false, criterion, notes, seed) * (1 - safety);
    return criterion_taking(counter, POLICY_GUIDANCE, false, share, notes, seed + 100);
}

double criterion_for_turned_away(struct counter *counter, double criterion, uint64_t notes, uint64_t seed)
{
    double share = share_taken(counter, POLICY_GUIDANCE, true, criterion, notes, seed);
    return criterion_taking(counter, POLICY_FIXED, true, share, notes, seed + 100);
}

/* ---- Figures ---- */

double tally_mean(const struct tally *tally)
{
    return (double)tally->checks / (double)tally->notes;
}

double tally_error(const struct tally *tally)
{
    double mean = tally_mean(tally);
    double variance = (double)tally->checks_squared / (double)tally->notes - mean * mean;
    return sqrt(fmax(variance, 0) / (double)tally->notes);
}
