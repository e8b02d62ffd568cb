/*
 * Events as JSON (schema "counterfoil.event/1"). See event.h and docs/abi.md.
 */
#include "model/event.h"

#include "model/json.h"
#include "model/names.h"
#include "model/text.h"

static bool findings_add(cJSON *object, const cfoil_event *event)
{
    cJSON *findings = json_array_add(object, "findings");
    bool good = findings != NULL;
    for (uint32_t i = 0; good && i < event->finding_count && i < CFOIL_FINDINGS_MAX; i++) {
        cJSON *finding = json_object_add(findings, NULL);
        good = json_text_add(finding, "channel", name_channel(event->findings[i].channel)) &&
               json_text_add(finding, "strength", name_strength(event->findings[i].strength)) &&
               json_text_add(finding, "origin", name_origin(event->findings[i].origin));
    }
    return good;
}

static bool reasons_add(cJSON *object, const cfoil_event *event)
{
    if (event->reason == CFOIL_REASON_NONE)
        return json_null_add(object, "reason");
    cJSON *possible;
    bool good = json_text_add(object, "reason", name_reason(event->reason)) &&
                (possible = json_array_add(object, "reasons_possible")) != NULL;
    for (int32_t reason = CFOIL_REASON_AUTHENTICITY; good && reason <= CFOIL_REASON_TAMPERING; reason++) {
        if ((event->reasons_possible & (1u << reason)) != 0)
            good = json_text_add(possible, NULL, name_reason(reason));
    }
    return good;
}

static bool note_add(cJSON *object, const cfoil_event *event)
{
    if (event->currency[0] == '\0')
        return json_null_add(object, "currency") && json_null_add(object, "value_minor");
    return json_text_add(object, "currency", event->currency) &&
           json_integer_add(object, "value_minor", event->value_minor) &&
           json_integer_add(object, "note_type", event->note_type) &&
           json_text_add(object, "note_name", event->note_name);
}

static bool raw_add(cJSON *object, const cfoil_event *event)
{
    char hex[2 * CFOIL_RAW_MAX + 1];
    text_hex(event->raw, event->raw_length <= CFOIL_RAW_MAX ? event->raw_length : CFOIL_RAW_MAX, hex);
    return json_text_add(object, "raw", event->raw_text[0] != '\0' ? event->raw_text : NULL) &&
           json_text_add(object, "raw_hex", hex);
}

static bool state_add(cJSON *object, const cfoil_event *event)
{
    bool good = json_text_add(object, "lane_state", name_lane_state(event->lane_state));
    if (good && event->condition != CFOIL_CONDITION_NONE)
        good = json_text_add(object, "condition", name_condition(event->condition));
    if (good && event->kind == CFOIL_KIND_LOST_EVENTS)
        good = event->lost_count > 0 ? json_integer_add(object, "lost_count", event->lost_count)
                                     : json_null_add(object, "lost_count");
    if (good && event->result != CFOIL_OK)
        good = json_integer_add(object, "result", event->result);
    if (good && (event->flags & CFOIL_EVENT_WHILE_AWAY) != 0)
        good = json_flag_add(object, "while_away", true);
    if (good && (event->flags & CFOIL_EVENT_RECORDED) != 0)
        good = json_integer_add(object, "entry", event->entry);
    return good;
}

cJSON *event_json(const cfoil_event *event)
{
    cJSON *object = cJSON_CreateObject();
    char time[TEXT_TIME_SIZE];
    text_time(event->time_utc_ms, time);
    bool good = json_text_add(object, "schema", "counterfoil.event/1") &&
                json_integer_add(object, "seq", (int64_t)event->sequence) && json_text_add(object, "time", time) &&
                json_text_add(object, "kind", name_kind(event->kind)) &&
                (event->presentation == 0 || json_integer_add(object, "presentation", (int64_t)event->presentation)) &&
                note_add(object, event) && reasons_add(object, event) && findings_add(object, event) &&
                raw_add(object, event) && state_add(object, event) && json_text_add(object, "text", event->text);
    if (good)
        return object;
    cJSON_Delete(object);
    return NULL;
}
