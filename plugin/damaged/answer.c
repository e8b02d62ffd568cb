/*
 * The answer as JSON. See answer.h.
 */
#include "damaged/answer.h"

#include "damaged/fitness.h"
#include "model/json.h"

#include <string.h>

#define ANSWER_SCHEMA "counterfoil.damaged-answer/1"

static double mm2_of(int64_t um2)
{
    return (double)um2 / UM2_PER_MM2;
}

/* ---- Rules with their sources ---- */

static bool rule_add(cJSON *item, const struct pack_set *packs, const struct damaged_request *request,
                     const struct pack_rule *rule)
{
    return json_text_add(item, "text", pack_text(packs, request->language, rule->text)) &&
           json_text_add(item, "source", rule->source) &&
           json_text_add(item, "confidence", confidence_word(rule->confidence));
}

static bool conditions_add(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request)
{
    cJSON *list = json_array_add(answer, "conditions");
    bool good = list != NULL;
    for (int i = 0; good && i < CONDITION_COUNT; i++) {
        if ((request->conditions & 1u << i) == 0)
            continue;
        const struct pack_condition *row = condition_row_find(request, (enum condition)i);
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "condition", condition_word((enum condition)i)) &&
               json_flag_add(item, "known", row != NULL) && (row == NULL || rule_add(item, packs, request, &row->rule));
    }
    return good;
}

void topic_rule_take(const struct judgement *judgement, const struct pack_topic *topic, struct pack_rule *rule)
{
    const struct pack_condition *condition = judgement->decided_by;
    const struct pack_design *design = judgement->design;
    *rule = topic->rule;
    if (topic->topic == TOPIC_WHERE && condition != NULL && condition->where[0] != '\0')
        *rule = (struct pack_rule){condition->where, condition->rule.source, condition->rule.confidence};
    else if (topic->topic == TOPIC_WHERE && design != NULL && design->where[0] != '\0')
        *rule = (struct pack_rule){design->where, design->rule.source, design->rule.confidence};
    else if (topic->topic == TOPIC_PACKING && condition != NULL && condition->packing[0] != '\0')
        *rule = (struct pack_rule){condition->packing, condition->rule.source, condition->rule.confidence};
}

static bool topics_add(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request,
                       const struct judgement *judgement)
{
    cJSON *list = json_array_add(answer, "topics");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < request->exchange->topic_count; i++) {
        const struct pack_topic *topic = &request->exchange->topics[i];
        struct pack_rule rule;
        topic_rule_take(judgement, topic, &rule);
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "topic", topic_word(topic->topic)) && rule_add(item, packs, request, &rule);
    }
    return good;
}

bool quota_shown(const struct damaged_request *request, const struct judgement *judgement, uint32_t index)
{
    const struct pack_quota *quotas = request->exchange->quotas;
    if (!quota_fits(request, judgement, &quotas[index]))
        return false;
    for (uint32_t i = 0; quotas[index].kind != EXCHANGE_ANY && i < index; i++) {
        if (quotas[i].kind == quotas[index].kind && quota_fits(request, judgement, &quotas[i]))
            return false;
    }
    return true;
}

static bool quotas_add(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request,
                       const struct judgement *judgement)
{
    cJSON *list = json_array_add(answer, "quotas");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < request->exchange->quota_count; i++) {
        if (quota_shown(request, judgement, i))
            good = rule_add(json_object_add(list, NULL), packs, request, &request->exchange->quotas[i].rule);
    }
    return good;
}

/* ---- Worth ---- */

static bool area_add(cJSON *item, const struct damaged_request *request, struct area area)
{
    return json_number_add(item, "area_mm2", mm2_of(area.um2)) &&
           json_number_add(item, "bound_mm2", mm2_of(area.bound_um2)) &&
           json_integer_add(item, "permille", area.um2 * 1000 / request->area_um2);
}

static bool pieces_add(cJSON *answer, const struct damaged_request *request)
{
    cJSON *list = json_array_add(answer, "pieces");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < request->piece_count; i++)
        good = area_add(json_object_add(list, NULL), request, request->pieces[i]);
    return good;
}

static bool verdicts_add(cJSON *item, const struct claim *claim)
{
    bool sure = claim->at_least.worth == claim->at_most.worth;
    return json_text_add(item, "outcome", sure ? worth_word(claim->at_least.worth) : "too_close") &&
           json_text_add(item, "outcome_at_least", worth_word(claim->at_least.worth)) &&
           json_text_add(item, "outcome_at_most", worth_word(claim->at_most.worth));
}

static bool rules_add(cJSON *worth, const struct pack_set *packs, const struct damaged_request *request,
                      const struct claim *claims, uint32_t count)
{
    cJSON *list = json_array_add(worth, "rules");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < count; i++) {
        const struct pack_rule *first = claims[i].at_least.rule;
        const struct pack_rule *second = claims[i].at_most.rule;
        if (first != NULL)
            good = rule_add(json_object_add(list, NULL), packs, request, first);
        if (good && second != NULL && second != first)
            good = rule_add(json_object_add(list, NULL), packs, request, second);
    }
    return good;
}

static bool limits_add(cJSON *worth, const struct damaged_request *request, const struct pack_scale *scale)
{
    cJSON *list = json_array_add(worth, "limits");
    bool good = list != NULL;
    for (uint32_t i = 0; good && scale != NULL && i < scale->step_count; i++) {
        bool inclusive;
        int64_t limit = step_limit_um2(request, scale, i, &inclusive);
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "outcome", worth_word(scale->steps[i].outcome)) &&
               json_number_add(item, inclusive ? "at_least_mm2" : "above_mm2", mm2_of(limit)) &&
               json_text_add(item, "confidence", confidence_word(step_confidence(request, scale, i)));
    }
    return good;
}

static bool claims_add(cJSON *worth, const struct damaged_request *request, const struct judgement *judgement)
{
    cJSON *list = json_array_add(worth, "claims");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < judgement->claim_count; i++) {
        cJSON *item = json_object_add(list, NULL);
        good = verdicts_add(item, &judgement->claims[i]) && area_add(item, request, judgement->claims[i].area);
    }
    return good;
}

static bool values_add(cJSON *worth, const struct judgement *judgement)
{
    if (!judgement->value_known)
        return json_null_add(worth, "value_at_least_minor") && json_null_add(worth, "value_at_most_minor");
    return json_integer_add(worth, "value_at_least_minor", judgement->least_minor) &&
           json_integer_add(worth, "value_at_most_minor", judgement->most_minor);
}

static bool worth_add(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request,
                      const struct judgement *judgement)
{
    static const char *const states[] = {[JUDGE_SURE] = "sure",
                                         [JUDGE_TOO_CLOSE] = "too_close",
                                         [JUDGE_EACH_PIECE] = "each_piece",
                                         [JUDGE_MEASURE] = "measure"};
    bool each = judgement->state == JUDGE_EACH_PIECE;
    cJSON *worth = json_object_add(answer, "worth");
    bool good = json_text_add(worth, "state", states[judgement->state]);
    if (good && judgement->state <= JUDGE_TOO_CLOSE)
        good = verdicts_add(worth, &judgement->claim);
    if (good && judgement->state <= JUDGE_TOO_CLOSE && judgement->scale != NULL)
        good = area_add(worth, request, judgement->claim.area);
    return good && values_add(worth, judgement) && json_flag_add(worth, "whole", judgement->whole) &&
           json_flag_add(worth, "decline", judgement->decline) && limits_add(worth, request, judgement->scale) &&
           rules_add(worth, packs, request, each ? judgement->claims : &judgement->claim,
                     each ? judgement->claim_count : 1) &&
           claims_add(worth, request, judgement);
}

/* ---- Fitness ---- */

static bool bounds_add(cJSON *item, const struct pack_fitness *row)
{
    cJSON *list = json_array_add(item, "bounds");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < row->bound_count; i++) {
        const struct pack_bound *bound = &row->bounds[i];
        cJSON *object = json_object_add(list, NULL);
        good = json_text_add(object, "gauge", gauge_word(bound->gauge)) &&
               json_number_add(object, bound->inclusive ? "at_least" : "above",
                               (double)bound->thousandths / GAUGE_SCALE);
    }
    return good;
}

static bool defect_add(cJSON *list, const struct damaged_request *request, const struct found_defect *found)
{
    cJSON *item = json_object_add(list, NULL);
    bool good = json_text_add(item, "defect", defect_word(found->defect)) &&
                json_text_add(item, "fitness", fitness_word(fitness_of_defect(request, found)));
    cJSON *limits = good ? json_array_add(item, "limits") : NULL;
    good = limits != NULL;
    for (uint32_t i = 0; good && i < request->exchange->fitness_count; i++) {
        const struct pack_fitness *row = &request->exchange->fitness[i];
        if (!fitness_applies(request, found, row))
            continue;
        cJSON *limit = json_object_add(limits, NULL);
        good = json_text_add(limit, "by", row->by_machine ? "machine" : "hand") &&
               json_text_add(limit, "fitness", fitness_word(fitness_by_row(found, row))) && bounds_add(limit, row) &&
               json_text_add(limit, "source", row->source) &&
               json_text_add(limit, "confidence", confidence_word(row->confidence));
    }
    return good;
}

static bool fit_add(cJSON *answer, const struct damaged_request *request)
{
    if (request->defect_count == 0)
        return json_null_add(answer, "fit");
    cJSON *fit = json_object_add(answer, "fit");
    bool good = json_text_add(fit, "fitness", fitness_word(fitness_of_note(request)));
    cJSON *list = good ? json_array_add(fit, "defects") : NULL;
    good = list != NULL;
    for (uint32_t i = 0; good && i < request->defect_count; i++)
        good = defect_add(list, request, &request->defects[i]);
    return good;
}

/* ---- The whole ---- */

bool answer_fill(cJSON *answer, const struct pack_set *packs, const struct damaged_request *request,
                 const struct judgement *judgement)
{
    bool asked = request->conditions != 0 || request->piece_count != 0;
    bool good = json_text_add(answer, "schema", ANSWER_SCHEMA) &&
                json_text_add(answer, "currency", pack_currency_code(request->currency)) &&
                json_integer_add(answer, "value_minor", request->note->value_minor) &&
                json_text_add(answer, "series", request->note->series) &&
                json_number_add(answer, "area_mm2", mm2_of(request->area_um2)) &&
                conditions_add(answer, packs, request) && pieces_add(answer, request);
    if (!good)
        return false;
    good = asked ? worth_add(answer, packs, request, judgement) && topics_add(answer, packs, request, judgement) &&
                       quotas_add(answer, packs, request, judgement)
                 : json_null_add(answer, "worth");
    return good && fit_add(answer, request) &&
           json_text_add(answer, "caution", pack_message(packs, request->language, "caution"));
}
