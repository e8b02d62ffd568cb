/*
 * A history in a ledger. See history_ledger.h.
 */
#include "history_ledger.h"

#include "model/error.h"
#include "model/event.h"
#include "model/json.h"
#include "model/names.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BATCH 500 /* entries of one transaction */

struct writer {
    struct ledger *ledger;
    cfoil_error_info *error;
    int32_t result;
    struct ledger_item items[BATCH];
    char case_ids[BATCH][40];
    uint32_t count;
    uint64_t cases;
};

static void batch_write(struct writer *writer)
{
    if (writer->result == CFOIL_OK && writer->count > 0)
        writer->result = ledger_append(writer->ledger, writer->items, writer->count, NULL, NULL, writer->error);
    for (uint32_t i = 0; i < writer->count; i++)
        cJSON_free((void *)(uintptr_t)writer->items[i].body);
    writer->count = 0;
}

static void lane_name(const struct history_event *event, char name[16])
{
    (void)snprintf(name, 16, "lane %u", (unsigned)event->lane + 1);
}

static cfoil_event machine_event(const struct history_event *event)
{
    cfoil_event made = CFOIL_EVENT_INIT;
    bool refused = event->reason != CFOIL_REASON_NONE;
    made.kind = refused ? CFOIL_KIND_REJECTED : CFOIL_KIND_STACKED;
    made.sequence = event->sequence;
    made.presentation = event->sequence;
    made.time_utc_ms = event->time_utc_ms;
    made.reason = event->reason;
    made.lane_state = CFOIL_LANE_ACCEPTING;
    if (refused) {
        made.finding_count = 1;
        made.findings[0] = (cfoil_finding){
            .channel = event->channel, .strength = CFOIL_STRENGTH_CLEAR, .origin = CFOIL_ORIGIN_DEVICE};
    } else {
        made.value_minor = event->value_minor;
        (void)snprintf(made.currency, sizeof made.currency, "XTS");
    }
    return made;
}

/* Takes the object. */
static void body_add(struct writer *writer, const char *kind, cJSON *object, const struct history_event *event)
{
    struct ledger_item item = {.kind = kind, .time_utc_ms = event->time_utc_ms, .body = json_canonical(object)};
    cJSON_Delete(object);
    if (item.body == NULL) {
        writer->result = error_memory_set(writer->error, "history");
        return;
    }
    if (strcmp(kind, LEDGER_KIND_CASE) == 0) {
        item.case_id = writer->case_ids[writer->count];
        item.disposition = event->disposition;
    }
    writer->items[writer->count++] = item;
    if (writer->count == BATCH)
        batch_write(writer);
}

static void presentation_add(cJSON *list, uint64_t sequence)
{
    cJSON *item = sequence > 0 ? json_object_add(list, NULL) : NULL;
    (void)(json_text_add(item, "kind", name_kind(CFOIL_KIND_REJECTED)) &&
           json_integer_add(item, "seq", (int64_t)sequence));
}

/* Only what stands in the heading of a case, its presentations and its end. */
static void case_add(struct writer *writer, const char *lane, const struct history_event *event)
{
    char *case_id = writer->case_ids[writer->count];
    (void)snprintf(case_id, sizeof writer->case_ids[0], "00000000-0000-7000-8000-%012llx",
                   (unsigned long long)++writer->cases);
    cJSON *object = cJSON_CreateObject();
    bool good = json_text_add(object, "schema", "counterfoil.case/1") && json_text_add(object, "case", case_id) &&
                json_text_add(object, "lane", lane) && json_text_add(object, "currency", "XTS") &&
                json_integer_add(object, "value_minor", event->value_minor) &&
                json_text_add(object, "series", event->series) &&
                json_text_add(object, "disposition", name_disposition(event->disposition));
    cJSON *list = good ? json_array_add(object, "presentations") : NULL;
    presentation_add(list, event->sequence_before);
    presentation_add(list, event->sequence);
    body_add(writer, LEDGER_KIND_CASE, object, event);
}

static bool event_write(void *user, const struct history_event *event)
{
    struct writer *writer = user;
    char lane[16];
    lane_name(event, lane);
    cfoil_event made = machine_event(event);
    cJSON *object = event_json(&made);
    if (!json_text_add(object, "lane", lane))
        writer->result = error_memory_set(writer->error, "history");
    body_add(writer, LEDGER_KIND_PRESENTATION, object, event);
    if (writer->result == CFOIL_OK && event->disposition != CFOIL_DISPOSITION_NONE)
        case_add(writer, lane, event);
    return writer->result == CFOIL_OK;
}

int32_t history_append(const struct history_plan *plan, struct ledger *ledger, cfoil_error_info *error)
{
    struct writer *writer = calloc(1, sizeof *writer);
    if (writer == NULL)
        return error_memory_set(error, "history");
    writer->ledger = ledger;
    writer->error = error;
    (void)history_tell(plan, event_write, writer);
    batch_write(writer);
    int32_t result = writer->result;
    free(writer);
    return result;
}
