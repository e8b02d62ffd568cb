/*
 * How the evidence of a case stands, with ranges and sources, as JSON for experts: the key "working" of a case.
 * Logarithms are whole thousandths, so that the record stays canonical; see docs/guidance.md.
 */
#include "guidance/state.h"
#include "model/json.h"

#include <math.h>

/* ---- Numbers ---- */

static bool scaled_add(cJSON *object, const char *key, double value, double scale)
{
    return json_integer_add(object, key, llround(value * scale));
}

static bool span_put(cJSON *object, struct span span, double scale)
{
    return scaled_add(object, "low", span.low, scale) && scaled_add(object, "centre", span.centre, scale) &&
           scaled_add(object, "high", span.high, scale);
}

static bool source_put(cJSON *object, const char *source, enum confidence confidence)
{
    return json_text_add(object, "source", source) && json_text_add(object, "confidence", confidence_name(confidence));
}

/* ---- Before anybody looked ---- */

static bool prior_add(cJSON *object, const struct evidence_basis *basis, const struct evidence *evidence)
{
    if (!evidence->prior_known)
        return json_null_add(object, "prior");
    cJSON *item = json_object_add(object, "prior");
    return json_integer_add(item, "per_million", basis->rate->per_million) &&
           json_integer_add(item, "year", basis->rate->year) && span_put(item, evidence->prior, 1000) &&
           source_put(item, basis->rate->source, basis->rate->confidence) &&
           json_text_add(item, "range_source", basis->figures->prior.source) &&
           json_text_add(item, "range_confidence", confidence_name(basis->figures->prior.confidence));
}

static bool rejects_add(cJSON *object, const struct evidence_basis *basis)
{
    const struct reject_rate *rejects = &basis->rejects;
    cJSON *item = json_object_add(object, "false_rejects_per_million");
    struct span rates = {rejects->low, rejects->centre, rejects->high};
    return json_text_add(item, "from", rejects->from_record ? "record" : "default") &&
           json_integer_add(item, "presentations", (int64_t)rejects->presentations) &&
           json_integer_add(item, "refusals", (int64_t)rejects->refusals) && span_put(item, rates, 1e6) &&
           source_put(item, basis->figures->rejects.source, basis->figures->rejects.confidence);
}

/* "at_most": how many notes that are not genuine the machine refuses is not known, so all of them are assumed. */
static bool machine_add(cJSON *object, const struct evidence_basis *basis, const struct evidence *evidence)
{
    cJSON *item = json_object_add(object, "machine");
    return json_text_add(item, "word", machine_word_name(evidence->machine_word)) &&
           json_flag_add(item, "at_most", evidence->machine_word == MACHINE_REFUSED) &&
           span_put(item, evidence->machine, 1000) && rejects_add(item, basis);
}

/* ---- What the person said ---- */

static bool look_add(cJSON *list, const struct pack_look *look)
{
    double hit;
    double false_alarm;
    look_rates(look, &hit, &false_alarm);
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "id", look->id) && json_text_add(item, "title", look->title) &&
           scaled_add(item, "hit_per_thousand", hit, 1000) &&
           scaled_add(item, "false_alarm_per_thousand", false_alarm, 1000) &&
           scaled_add(item, "d_prime_thousandths", discriminability(hit, false_alarm), 1000) &&
           source_put(item, look->source, look->confidence);
}

/* The looks that a sense or the whole note is weighed with. */
static bool looks_add(cJSON *object, const struct pack_evidence *figures)
{
    cJSON *list = json_array_add(object, "looks");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < figures->look_count; i++) {
        const struct pack_look *look = &figures->looks[i];
        bool used = look == figures->whole;
        for (int32_t sense = CFOIL_SENSE_FEEL; sense <= CFOIL_SENSE_TOOL; sense++)
            used = used || look == figures->senses[sense].look;
        good = !used || look_add(list, look);
    }
    return good;
}

static bool answer_add(cJSON *list, const struct plan_input *input, uint32_t position)
{
    const struct pack_check *check = &input->note->checks[input->order[position]];
    struct answer_evidence answer;
    evidence_of_answer(input, position, &answer);
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "check", check->id) && json_text_add(item, "feature", check->feature) &&
           json_text_add(item, "rank", feature_rank_name(pack_feature_rank(input->basis->figures, check->feature))) &&
           json_text_add(item, "weight", answer_weight_name(answer.weight)) &&
           json_text_add(item, "look", answer.look != NULL ? answer.look->id : NULL) &&
           json_flag_add(item, "at_least", answer.at_least) && span_put(item, answer.span, 1000);
}

static bool manual_add(cJSON *object, const struct plan_input *input, const struct evidence *evidence)
{
    cJSON *list = json_array_add(object, "answers");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < input->answered; i++)
        good = answer_add(list, input, i);
    cJSON *item = good ? json_object_add(object, "manual") : NULL;
    return json_text_add(item, "whole", input->basis->figures->whole->id) &&
           json_flag_add(item, "capped", evidence->capped) && span_put(item, evidence->manual, 1000);
}

/* ---- Together, and what follows ---- */

static const char *bound_reached(const struct evidence *evidence)
{
    const double rounding = 1e-9; /* the capped sum is the bound, but for the last digits */
    if (evidence->manual.centre <= evidence->wald.lower + rounding)
        return "lower";
    return evidence->manual.centre >= evidence->wald.upper - rounding ? "upper" : NULL;
}

static bool sum_add(cJSON *object, const struct evidence *evidence)
{
    cJSON *sum = json_object_add(object, "sum");
    bool good = json_flag_add(sum, "with_prior", evidence->prior_known) && span_put(sum, evidence->posterior, 1000);
    cJSON *bounds = good ? json_object_add(object, "bounds") : NULL;
    return scaled_add(bounds, "lower", evidence->wald.lower, 1000) &&
           scaled_add(bounds, "upper", evidence->wald.upper, 1000) &&
           json_text_add(bounds, "reached", bound_reached(evidence));
}

/* Bits still missing, when the chances are known. */
static bool uncertain_add(cJSON *object, const struct evidence *evidence)
{
    if (!evidence->prior_known)
        return json_null_add(object, "uncertain_nanobits");
    const double chances[] = {
        log_odds_probability(evidence->posterior.centre),
        log_odds_probability(-evidence->posterior.centre),
    };
    return scaled_add(object, "uncertain_nanobits", entropy(chances, 2), 1e9);
}

/* How many looks like this one Wald's test would take on the average if each were independent of the others, which the
 * looks of one person are not. */
static bool looks_needed_add(cJSON *object, const struct plan_input *input, int32_t sense)
{
    const struct pack_look *look = input->basis->figures->senses[sense].look;
    if (look == NULL)
        return json_null_add(object, "looks");
    double hit;
    double false_alarm;
    double whole_hit;
    double whole_alarm;
    look_rates(look, &hit, &false_alarm);
    look_rates(input->basis->figures->whole, &whole_hit, &whole_alarm);
    struct wald wald;
    wald_test(false_alarm, hit, whole_alarm, 1 - whole_hit, &wald);
    cJSON *item = json_object_add(object, "looks");
    return json_text_add(item, "like", look->id) && scaled_add(item, "genuine_hundredths", wald.looks_p0, 100) &&
           scaled_add(item, "not_genuine_hundredths", wald.looks_p1, 100);
}

static const char *why_name(enum plan_why why)
{
    static const char *const names[] = {
        [PLAN_WHY_NONE] = "",
        [PLAN_WHY_CHANNEL] = "machine_doubted_it",
        [PLAN_WHY_ENDS] = "ends_the_case",
        [PLAN_WHY_SENSE] = "sense_missing",
        [PLAN_WHY_INDEPENDENT] = "independent_of_the_one_that_differs",
    };
    return names[why];
}

static bool next_add(cJSON *object, const struct plan_input *input, const struct evidence *evidence,
                     const struct plan *plan)
{
    if (plan->kind != CFOIL_STEP_CHECK)
        return json_null_add(object, "next");
    const struct pack_check *check = &input->note->checks[plan->check];
    struct span bits = {0};
    if (!check->ends)
        evidence_expected(input, evidence, check->sense, &bits);
    cJSON *item = json_object_add(object, "next");
    bool good = json_text_add(item, "check", check->id) && json_text_add(item, "why", why_name(plan->why)) &&
                json_text_add(item, "rank",
                              feature_rank_name(pack_feature_rank(input->basis->figures, check->feature))) &&
                uncertain_add(item, evidence) && looks_needed_add(item, input, check->sense);
    cJSON *expected = good ? json_object_add(item, "expected_nanobits") : NULL;
    return span_put(expected, bits, 1e9);
}

static const char *cause_name(enum plan_cause cause)
{
    static const char *const names[] = {
        [PLAN_CAUSE_NONE] = NULL,
        [PLAN_CAUSE_SERIAL_REFUSED] = "serial_refused",
        [PLAN_CAUSE_TWO_DIFFER] = "two_differ",
        [PLAN_CAUSE_ONE_DIFFERS] = "one_differs",
        [PLAN_CAUSE_TAMPERING] = "tampering",
        [PLAN_CAUSE_DEVICE] = "device",
        [PLAN_CAUSE_NOT_ENABLED] = "not_enabled",
        [PLAN_CAUSE_ACCEPTED] = "accepted",
        [PLAN_CAUSE_HANDLING_FIRST] = "handling_first",
        [PLAN_CAUSE_HANDLING_AGAIN] = "handling_again",
        [PLAN_CAUSE_ALL_GOOD] = "all_good",
        [PLAN_CAUSE_NOT_COMPLETE] = "not_complete",
        [PLAN_CAUSE_WITHDRAWN] = "withdrawn",
        [PLAN_CAUSE_CHECK_ENDS] = "check_ends",
        [PLAN_CAUSE_TOO_PLAIN] = "too_plain",
    };
    return names[cause];
}

bool working_add(cJSON *object, const struct guidance *guidance, const struct combined *combined,
                 const struct plan *plan)
{
    struct plan_input input = guidance_input(guidance, combined);
    struct evidence evidence;
    evidence_weigh(&input, &evidence);
    cJSON *working = json_object_add(object, "working");
    return json_text_add(working, "unit", "thousandths of a natural logarithm") &&
           prior_add(working, &guidance->basis, &evidence) && machine_add(working, &guidance->basis, &evidence) &&
           manual_add(working, &input, &evidence) && sum_add(working, &evidence) &&
           next_add(working, &input, &evidence, plan) && json_text_add(working, "stop", cause_name(plan->cause)) &&
           json_flag_add(working, "time_up", input.time_up) && looks_add(working, guidance->basis.figures);
}
