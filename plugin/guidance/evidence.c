/*
 * How much what is known about a note weighs. See evidence.h.
 */
#include "guidance/evidence.h"

#include "model/beta.h"

#include <math.h>
#include <string.h>

const char *machine_word_name(enum machine_word word)
{
    static const char *const names[] = {
        [MACHINE_SILENT] = "no_refusal", [MACHINE_REFUSED] = "refused",     [MACHINE_ACCEPTED] = "accepted",
        [MACHINE_NO_DOUBT] = "no_doubt", [MACHINE_TAMPERING] = "tampering",
    };
    return names[word];
}

const char *answer_weight_name(enum answer_weight weight)
{
    static const char *const names[] = {
        [WEIGHT_COUNTED] = "counted",     [WEIGHT_SAME_SENSE] = "same_sense",     [WEIGHT_CANNOT_TELL] = "cannot_tell",
        [WEIGHT_NO_FIGURE] = "no_figure", [WEIGHT_SAME_PHYSICS] = "same_physics", [WEIGHT_ENDS] = "ends",
    };
    return names[weight];
}

/* ---- What does not change ---- */

/* A default worth `worth` notes, and the machine's own notes on top: a beta distribution. */
static void rejects_from_record(const struct pack_rejects *published, struct reject_rate *rejects)
{
    double expected = (published->low + published->high) / 2;
    double refused = expected * published->worth + (double)rejects->refusals;
    double passed = (1 - expected) * published->worth + (double)(rejects->presentations - rejects->refusals);
    rejects->from_record = true;
    rejects->low = beta_quantile(0.025, refused, passed);
    rejects->centre = refused / (refused + passed);
    rejects->high = beta_quantile(0.975, refused, passed);
}

void evidence_basis_make(const struct pack_evidence *figures, const struct pack_currency *currency,
                         uint64_t presentations, uint64_t refusals, struct evidence_basis *basis)
{
    const struct pack_rejects *published = &figures->rejects;
    uint32_t count;
    const struct pack_rate *rates = pack_currency_rates(currency, &count);
    *basis = (struct evidence_basis){.figures = figures};
    for (uint32_t i = 0; basis->rate == NULL && i < count; i++) {
        if (rates[i].per_million > 0)
            basis->rate = &rates[i];
    }
    basis->rejects.presentations = presentations;
    basis->rejects.refusals = refusals;
    basis->rejects.low = published->low;
    basis->rejects.centre = (published->low + published->high) / 2;
    basis->rejects.high = published->high;
    if (presentations >= published->needed && refusals <= presentations)
        rejects_from_record(published, &basis->rejects);
}

/* ---- Looks ---- */

void look_rates(const struct pack_look *look, double *hit, double *false_alarm)
{
    *hit = look->d_prime > 0 ? unbiased_hit(look->d_prime) : look->hit;
    *false_alarm = look->d_prime > 0 ? 1 - *hit : look->false_alarm;
}

/* The ratio as published in the middle; the range is ours and must not leave it out. */
static struct span look_span(const struct pack_look *look, bool differs)
{
    double hit;
    double false_alarm;
    look_rates(look, &hit, &false_alarm);
    double ratio = differs ? ratio_differs(hit, false_alarm) : ratio_passes(hit, false_alarm);
    double low = differs ? look->differs_low : look->passes_low;
    double high = differs ? look->differs_high : look->passes_high;
    return span_log(fmin(low, ratio), ratio, fmax(high, ratio));
}

/* ---- Answers ---- */

static const struct pack_check *check_at(const struct plan_input *input, uint32_t position)
{
    return &input->note->checks[input->order[position]];
}

/* Did the machine name nothing but what this check measures too? */
static bool same_physics(const struct plan_input *input, const struct pack_check *check)
{
    uint32_t named = input->combined->channels & ~(1u << CFOIL_CHANNEL_UNKNOWN);
    for (int32_t channel = CFOIL_CHANNEL_IMAGE; channel <= CFOIL_CHANNEL_TRANSPORT; channel++) {
        if ((named & 1u << channel) != 0 && !pack_check_same_physics(check, channel))
            return false;
    }
    return named != 0;
}

/* What keeps an answer from being weighed by itself; WEIGHT_COUNTED = nothing. */
static enum answer_weight weight_alone(const struct plan_input *input, uint32_t position)
{
    const struct pack_check *check = check_at(input, position);
    if (input->answers[input->order[position]] == CFOIL_ANSWER_CANNOT_TELL)
        return WEIGHT_CANNOT_TELL;
    if (check->ends)
        return WEIGHT_ENDS;
    if (same_physics(input, check))
        return WEIGHT_SAME_PHYSICS;
    return input->basis->figures->senses[check->sense].look != NULL ? WEIGHT_COUNTED : WEIGHT_NO_FIGURE;
}

/* One sense is one look: it says 'differs' as soon as one of its checks does. The position that speaks for the sense is
 * the first that differs, or else the first that passes; `answered` = none. */
static uint32_t speaker_of(const struct plan_input *input, int32_t sense)
{
    uint32_t speaker = input->answered;
    for (uint32_t i = 0; i < input->answered; i++) {
        if (check_at(input, i)->sense != sense || weight_alone(input, i) != WEIGHT_COUNTED)
            continue;
        if (input->answers[input->order[i]] == CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE)
            return i;
        if (speaker == input->answered)
            speaker = i;
    }
    return speaker;
}

void evidence_of_answer(const struct plan_input *input, uint32_t position, struct answer_evidence *answer)
{
    int32_t sense = check_at(input, position)->sense;
    *answer = (struct answer_evidence){.weight = weight_alone(input, position)};
    if (answer->weight != WEIGHT_COUNTED)
        return;
    answer->look = input->basis->figures->senses[sense].look;
    answer->at_least = input->basis->figures->senses[sense].at_least;
    if (speaker_of(input, sense) != position)
        answer->weight = WEIGHT_SAME_SENSE;
    else
        answer->span = look_span(answer->look,
                                 input->answers[input->order[position]] == CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
}

/* The sum over the senses. The checks are parts of one person's look at the whole note, so together they weigh no more
 * than that look was found to weigh. */
static void manual_weigh(const struct plan_input *input, struct evidence *evidence)
{
    const struct pack_look *whole = input->basis->figures->whole;
    struct span sum = {0};
    for (int32_t sense = CFOIL_SENSE_FEEL; sense <= CFOIL_SENSE_TOOL; sense++) {
        uint32_t position = speaker_of(input, sense);
        if (position == input->answered)
            continue;
        struct answer_evidence answer;
        evidence_of_answer(input, position, &answer);
        sum = span_add(sum, answer.span);
        evidence->senses |= 1u << sense;
    }
    evidence->manual = span_clip(sum, look_span(whole, false), look_span(whole, true));
    evidence->capped = evidence->manual.low > sum.low || evidence->manual.low < sum.low ||
                       evidence->manual.centre > sum.centre || evidence->manual.centre < sum.centre ||
                       evidence->manual.high > sum.high || evidence->manual.high < sum.high;
}

/* ---- The machine ---- */

static enum machine_word machine_says(const struct combined *combined)
{
    if (combined->reason == CFOIL_REASON_TAMPERING)
        return MACHINE_TAMPERING;
    if (combined->combination == COMBINATION_ACCEPTED_ON_RETRY)
        return MACHINE_ACCEPTED;
    if (combined->reason == CFOIL_REASON_HANDLING || combined->reason == CFOIL_REASON_NOT_ENABLED ||
        combined->reason == CFOIL_REASON_DEVICE)
        return MACHINE_NO_DOUBT;
    return combined->refusals > 0 ? MACHINE_REFUSED : MACHINE_SILENT;
}

/* However often the same note was fed: one machine, one test. */
static void machine_weigh(const struct plan_input *input, struct evidence *evidence)
{
    const struct reject_rate *rejects = &input->basis->rejects;
    evidence->machine_word = machine_says(input->combined);
    if (evidence->machine_word == MACHINE_REFUSED)
        evidence->machine = span_log(1 / rejects->high, 1 / rejects->centre, 1 / rejects->low);
}

/* ---- Together ---- */

static void prior_weigh(const struct evidence_basis *basis, struct evidence *evidence)
{
    const struct pack_prior *factors = &basis->figures->prior;
    if (basis->rate == NULL)
        return;
    double yearly = basis->rate->per_million / 1e6;
    evidence->prior_known = true;
    evidence->prior = (struct span){
        log_odds(fmin(yearly * factors->low, 0.5)),
        log_odds(fmin(yearly * factors->centre, 0.5)),
        log_odds(fmin(yearly * factors->high, 0.5)),
    };
}

void evidence_weigh(const struct plan_input *input, struct evidence *evidence)
{
    double hit;
    double false_alarm;
    *evidence = (struct evidence){0};
    look_rates(input->basis->figures->whole, &hit, &false_alarm);
    wald_test(false_alarm, hit, false_alarm, 1 - hit, &evidence->wald);
    prior_weigh(input->basis, evidence);
    machine_weigh(input, evidence);
    manual_weigh(input, evidence);
    evidence->posterior = span_add(evidence->prior, span_add(evidence->machine, evidence->manual));
}

/* Bits of a look with these likelihood ratios. */
static double ratios_information(double odds, double differs, double passes)
{
    double false_alarm = (1 - passes) / (differs - passes);
    return look_information(odds, differs * false_alarm, false_alarm);
}

void evidence_expected(const struct plan_input *input, const struct evidence *evidence, int32_t sense,
                       struct span *bits)
{
    const struct pack_look *look = input->basis->figures->senses[sense].look;
    *bits = (struct span){0};
    if (look == NULL || (evidence->senses & 1u << sense) != 0)
        return;
    struct span differs = look_span(look, true);
    struct span passes = look_span(look, false);
    double odds = evidence->posterior.centre;
    bits->low = ratios_information(odds, exp(differs.low), exp(passes.high));
    bits->centre = ratios_information(odds, exp(differs.centre), exp(passes.centre));
    bits->high = ratios_information(odds, exp(differs.high), exp(passes.low));
}
