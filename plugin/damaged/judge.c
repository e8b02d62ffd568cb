/*
 * Applying the rules. See judge.h.
 */
#include "damaged/judge.h"

#include <string.h>

/* ---- Limits ---- */

int64_t step_limit_um2(const struct damaged_request *request, const struct pack_scale *scale, uint32_t step,
                       bool *inclusive)
{
    const struct pack_area *published = request->published;
    if (published != NULL && published->limit_count != 0) {
        *inclusive = true;
        return (int64_t)published->limits_mm2[step] * UM2_PER_MM2;
    }
    /* Areas of notes are whole square millimetres, so a thousandth of them is a whole number of thousands of um2. */
    int64_t limit = request->area_um2 / 1000 * scale->steps[step].permille;
    *inclusive = scale->steps[step].inclusive;
    if (scale->round_up_mm2 == 0)
        return limit;
    int64_t unit = (int64_t)scale->round_up_mm2 * UM2_PER_MM2;
    *inclusive = true;
    return (limit + unit - 1) / unit * unit;
}

enum confidence step_confidence(const struct damaged_request *request, const struct pack_scale *scale, uint32_t step)
{
    if (request->published != NULL && request->published->limit_count != 0)
        return request->published->limit_confidence[step];
    /* A limit that we work out ourselves is no better than worked out, nor better than the rule or the note's size. */
    enum confidence rule = scale->steps[step].rule.confidence;
    enum confidence size = request->published != NULL ? request->published->confidence : request->note->confidence;
    enum confidence weaker = rule > size ? rule : size;
    return weaker > CONFIDENCE_DERIVED ? weaker : CONFIDENCE_DERIVED;
}

/* The step that an area reaches; step_count = the rest. */
static uint32_t step_of(const struct damaged_request *request, const struct pack_scale *scale, int64_t um2)
{
    for (uint32_t i = 0; i < scale->step_count; i++) {
        bool inclusive;
        int64_t limit = step_limit_um2(request, scale, i, &inclusive);
        if (um2 > limit || (inclusive && um2 == limit))
            return i;
    }
    return scale->step_count;
}

static struct verdict verdict_of(const struct pack_scale *scale, uint32_t step)
{
    if (step < scale->step_count)
        return (struct verdict){scale->steps[step].outcome, &scale->steps[step].rule};
    return (struct verdict){scale->rest, &scale->rest_rule};
}

static void claim_judge(const struct damaged_request *request, const struct pack_scale *scale, struct claim *claim)
{
    claim->at_least = verdict_of(scale, step_of(request, scale, area_least(claim->area)));
    claim->at_most = verdict_of(scale, step_of(request, scale, area_most(claim->area)));
}

/* ---- The area that counts ---- */

/* The largest piece: which one it is may itself be unsure, so each end is the largest that a piece can have. */
static struct area largest_of(const struct damaged_request *request)
{
    int64_t least = 0;
    int64_t most = 0;
    for (uint32_t i = 0; i < request->piece_count; i++) {
        int64_t piece_least = area_least(request->pieces[i]);
        int64_t piece_most = area_most(request->pieces[i]);
        least = piece_least > least ? piece_least : least;
        most = piece_most > most ? piece_most : most;
    }
    return (struct area){least + (most - least) / 2, most - (least + (most - least) / 2)};
}

static struct area sum_of(const struct damaged_request *request)
{
    struct area sum = {0, 0};
    for (uint32_t i = 0; i < request->piece_count; i++) {
        sum.um2 += request->pieces[i].um2;
        sum.bound_um2 += request->pieces[i].bound_um2;
    }
    return sum;
}

/* ---- Two pieces of one note ---- */

static bool condition_said(const struct damaged_request *request, enum condition condition)
{
    return (request->conditions & 1u << condition) != 0;
}

/* Do both pieces reach the step that a pair needs, at their smallest or at their largest? */
static bool pair_reaches(const struct damaged_request *request, const struct pack_scale *scale,
                         int64_t (*end)(struct area area))
{
    if (scale->pair_step < 0 || request->piece_count != 2 || !condition_said(request, CONDITION_TWO_PIECES))
        return false;
    for (uint32_t i = 0; i < 2; i++) {
        if (step_of(request, scale, end(request->pieces[i])) > (uint32_t)scale->pair_step)
            return false;
    }
    return true;
}

static void pair_judge(const struct damaged_request *request, const struct pack_scale *scale, struct claim *claim)
{
    const struct verdict full = {WORTH_FULL, &scale->pair_rule};
    if (claim->at_least.worth != WORTH_FULL && pair_reaches(request, scale, area_least))
        claim->at_least = full;
    if (claim->at_most.worth != WORTH_FULL && pair_reaches(request, scale, area_most))
        claim->at_most = full;
}

/* ---- Values ---- */

/* False when what is paid cannot be told. */
static bool value_of(const struct damaged_request *request, enum worth worth, int64_t *minor)
{
    int64_t value = request->note->value_minor;
    *minor = worth == WORTH_FULL ? value : worth == WORTH_HALF ? value / 2 : 0;
    return worth == WORTH_FULL || worth == WORTH_HALF || worth == WORTH_NIL || worth == WORTH_REFUSED;
}

static void values_judge(const struct damaged_request *request, const struct claim *claims, uint32_t count,
                         struct judgement *judgement)
{
    judgement->value_known = true;
    for (uint32_t i = 0; i < count; i++) {
        int64_t least;
        int64_t most;
        bool known = value_of(request, claims[i].at_least.worth, &least);
        known = value_of(request, claims[i].at_most.worth, &most) && known;
        judgement->value_known = judgement->value_known && known;
        judgement->least_minor += least;
        judgement->most_minor += most;
    }
}

/* ---- Conditions ---- */

const struct pack_condition *condition_row_find(const struct damaged_request *request, enum condition condition)
{
    return pack_condition_find(request->exchange, condition, request->note->value_minor);
}

/* The first condition, in the order of the pack, that has this effect. */
static const struct pack_condition *effect_find(const struct damaged_request *request, enum condition_effect effect)
{
    for (uint32_t i = 0; i < request->exchange->condition_count; i++) {
        const struct pack_condition *row = &request->exchange->conditions[i];
        if (row->effect == effect && condition_said(request, row->condition) &&
            condition_row_find(request, row->condition) == row)
            return row;
    }
    return NULL;
}

/* A condition that the pack says nothing of; of two pieces the area can still decide. */
static bool stranger_said(const struct damaged_request *request)
{
    for (int i = 0; i < CONDITION_COUNT; i++) {
        bool measured_pieces = i == CONDITION_TWO_PIECES && request->piece_count > 0;
        if (condition_said(request, (enum condition)i) && !measured_pieces &&
            condition_row_find(request, (enum condition)i) == NULL)
            return true;
    }
    return false;
}

static const struct pack_design *design_find(const struct damaged_request *request)
{
    for (uint32_t i = 0; i < request->exchange->design_count; i++) {
        const struct pack_design *design = &request->exchange->designs[i];
        if (strcmp(design->series, request->note->series) == 0 &&
            (design->value_minor == 0 || design->value_minor == request->note->value_minor))
            return design;
    }
    return NULL;
}

/* ---- The whole ---- */

static void verdict_set(struct judgement *judgement, enum worth worth, const struct pack_rule *rule)
{
    judgement->state = JUDGE_SURE;
    judgement->claim.at_least = (struct verdict){worth, rule};
    judgement->claim.at_most = judgement->claim.at_least;
}

static void pieces_judge(const struct damaged_request *request, struct judgement *judgement)
{
    judgement->state = JUDGE_EACH_PIECE;
    judgement->claim_count = request->piece_count;
    for (uint32_t i = 0; i < request->piece_count; i++) {
        judgement->claims[i].area = request->pieces[i];
        claim_judge(request, judgement->scale, &judgement->claims[i]);
    }
    values_judge(request, judgement->claims, judgement->claim_count, judgement);
}

static void area_judge(const struct damaged_request *request, struct judgement *judgement)
{
    const struct pack_scale *scale = judgement->scale;
    struct claim *claim = &judgement->claim;
    if (judgement->whole)
        claim->area = (struct area){request->area_um2, 0};
    else
        claim->area = scale->largest_only ? largest_of(request) : sum_of(request);
    claim_judge(request, scale, claim);
    pair_judge(request, scale, claim);
    judgement->state = claim->at_least.worth == claim->at_most.worth ? JUDGE_SURE : JUDGE_TOO_CLOSE;
    values_judge(request, claim, 1, judgement);
}

void damaged_judge(const struct damaged_request *request, struct judgement *judgement)
{
    memset(judgement, 0, sizeof *judgement);
    bool measured = request->piece_count > 0;
    const struct pack_condition *each = effect_find(request, EFFECT_EACH_PIECE);
    bool part = each != NULL || effect_find(request, EFFECT_PART) != NULL;
    judgement->whole = !measured && !part;
    judgement->design = design_find(request);
    judgement->decided_by = effect_find(request, EFFECT_OUTCOME);
    if (judgement->design != NULL && judgement->design->has_outcome) {
        judgement->decided_by = NULL;
        verdict_set(judgement, judgement->design->outcome, &judgement->design->rule);
        values_judge(request, &judgement->claim, 1, judgement);
        return;
    }
    if (judgement->decided_by != NULL) {
        judgement->decline = judgement->decided_by->decline;
        verdict_set(judgement, judgement->decided_by->outcome, &judgement->decided_by->rule);
        values_judge(request, &judgement->claim, 1, judgement);
        return;
    }
    judgement->scale = pack_scale_find(request->exchange, request->note->value_minor);
    if (judgement->scale == NULL || stranger_said(request)) {
        judgement->scale = NULL;
        verdict_set(judgement, WORTH_UNKNOWN, NULL);
    } else if (!measured && part) {
        judgement->state = JUDGE_MEASURE;
    } else if (each != NULL) {
        judgement->decided_by = each;
        pieces_judge(request, judgement);
    } else {
        area_judge(request, judgement);
    }
}

/* ---- Quotas ---- */

static bool within(int64_t value, int64_t from, int64_t to)
{
    return value >= from && (to == 0 || value <= to);
}

bool quota_fits(const struct damaged_request *request, const struct judgement *judgement,
                const struct pack_quota *quota)
{
    enum exchange_kind kind = judgement->whole ? EXCHANGE_SOILED : EXCHANGE_DAMAGED;
    /* What no area decides is not for a counter. */
    return judgement->scale != NULL && (quota->kind == EXCHANGE_ANY || quota->kind == kind) &&
           within(request->notes, quota->notes_from, quota->notes_to) &&
           within(request->total_minor, quota->total_from_minor, quota->total_to_minor);
}
