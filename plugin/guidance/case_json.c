/*
 * A case as JSON (schema "counterfoil.case/1"), for the ledger and for hosts. See guidance.h and docs/feature-model.md.
 */
#include "guidance/state.h"
#include "model/event.h"
#include "model/json.h"
#include "model/names.h"
#include "model/standards.h"
#include "model/text.h"

#include <string.h>

/* An empty text is written as null. */
static bool optional_add(cJSON *object, const char *key, const char *text)
{
    return json_text_add(object, key, text[0] != '\0' ? text : NULL);
}

static bool standards_add(cJSON *object, const struct guidance *guidance, const struct presentation *presentation)
{
    struct standard_terms terms;
    standard_terms_find(presentation, &terms);
    /* The categories are those of euro banknotes. */
    if (strcmp(guidance->currency_code, "EUR") != 0)
        terms.ecb_category = NULL;
    cJSON *item = standard_terms_json(&terms);
    if (item == NULL || !cJSON_AddItemToObject(object, "standards", item)) {
        cJSON_Delete(item);
        return false;
    }
    return true;
}

static bool presentations_add(cJSON *object, const struct guidance *guidance)
{
    cJSON *list = json_array_add(object, "presentations");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < guidance->event_count; i++) {
        cJSON *item = event_json(&guidance->events[i]);
        good = item != NULL && standards_add(item, guidance, &guidance->presentations[i]);
        if (!good || !cJSON_AddItemToArray(list, item)) {
            cJSON_Delete(item);
            good = false;
        }
    }
    return good;
}

static bool combined_add(cJSON *object, const struct combined *combined)
{
    cJSON *item = json_object_add(object, "combined");
    bool good = json_text_add(item, "combination", combination_name(combined->combination)) &&
                json_integer_add(item, "refusals", combined->refusals) &&
                json_text_add(item, "reason",
                              combined->reason != CFOIL_REASON_NONE ? name_reason(combined->reason) : NULL);
    cJSON *channels = good ? json_array_add(item, "channels") : NULL;
    good = channels != NULL;
    for (int32_t channel = CFOIL_CHANNEL_UNKNOWN; good && channel <= CFOIL_CHANNEL_TRANSPORT; channel++) {
        if ((combined->channels & 1u << channel) != 0)
            good = json_text_add(channels, NULL, name_channel(channel));
    }
    return good;
}

/* From being shown to being answered; null when that is not known. */
static bool duration_add(cJSON *item, int64_t answer_ms)
{
    return answer_ms >= 0 ? json_integer_add(item, "answer_ms", answer_ms) : json_null_add(item, "answer_ms");
}

static bool answers_add(cJSON *object, const struct guidance *guidance)
{
    cJSON *list = json_array_add(object, "answers");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < guidance->answered; i++) {
        const struct pack_check *check = &guidance->note->checks[guidance->order[i]];
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "check", check->id) && json_text_add(item, "sense", name_sense(check->sense)) &&
               json_text_add(item, "group", check->group) &&
               json_text_add(item, "answer", name_answer(guidance->answers[guidance->order[i]])) &&
               duration_add(item, guidance->answer_ms[guidance->order[i]]);
    }
    return good;
}

/* The answered checks in order, then the one that is open. */
static bool checks_asked_add(cJSON *object, const struct guidance *guidance, const struct plan *plan)
{
    cJSON *list = json_array_add(object, "checks_asked");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < guidance->answered; i++)
        good = json_text_add(list, NULL, guidance->note->checks[guidance->order[i]].id);
    if (good && plan->kind == CFOIL_STEP_CHECK)
        good = json_text_add(list, NULL, guidance->note->checks[plan->check].id);
    return good;
}

static bool override_add(cJSON *object, const struct guidance_ending *ending)
{
    if (ending->override_by[0] == '\0')
        return json_null_add(object, "override");
    cJSON *item = json_object_add(object, "override");
    return json_text_add(item, "by", ending->override_by) && json_text_add(item, "why", ending->override_why);
}

static bool ending_add(cJSON *object, const struct guidance_ending *ending)
{
    bool ended = ending->disposition != CFOIL_DISPOSITION_NONE;
    return json_text_add(object, "disposition", ended ? name_disposition(ending->disposition) : NULL) &&
           override_add(object, ending) && optional_add(object, "envelope", ending->envelope);
}

static bool serial_add(cJSON *object, const struct guidance *guidance)
{
    return optional_add(object, "serial", guidance->serial.normalised) &&
           json_text_add(object, "checksum", name_checksum(guidance->serial.checksum)) &&
           json_flag_add(object, "refused_before", guidance->serial_refused);
}

static bool heading_add(cJSON *object, const struct guidance *guidance)
{
    return json_text_add(object, "schema", "counterfoil.case/1") && json_text_add(object, "case", guidance->case_id) &&
           json_text_add(object, "currency", guidance->currency_code) &&
           json_integer_add(object, "value_minor", guidance->note->value_minor) &&
           json_text_add(object, "series", guidance->note->series) &&
           json_text_add(object, "jurisdiction", guidance->jurisdiction->id) &&
           json_text_add(object, "lane", guidance->lane) && json_text_add(object, "sale", guidance->sale) &&
           json_text_add(object, "staff", guidance->staff);
}

static bool advice_add(cJSON *object, const struct plan *plan)
{
    return json_text_add(object, "advice", plan->kind == CFOIL_STEP_ADVICE ? name_advice(plan->advice) : NULL);
}

cJSON *guidance_json(struct guidance *guidance, const cfoil_disposition_options *options, int64_t time_utc_ms)
{
    guidance_texts_release(guidance);
    struct combined combined;
    struct plan plan;
    guidance_plan(guidance, &combined, &plan);
    struct guidance_ending ending = guidance->ending;
    if (options != NULL)
        guidance_ending_set(&ending, options);
    char time[TEXT_TIME_SIZE];
    text_time(time_utc_ms, time);
    cJSON *object = cJSON_CreateObject();
    bool good = heading_add(object, guidance) && presentations_add(object, guidance) &&
                combined_add(object, &combined) && answers_add(object, guidance) &&
                checks_asked_add(object, guidance, &plan) && advice_add(object, &plan) && ending_add(object, &ending) &&
                serial_add(object, guidance) && working_add(object, guidance, &combined, &plan) &&
                json_text_add(object, "time", time);
    if (good)
        return object;
    cJSON_Delete(object);
    return NULL;
}
