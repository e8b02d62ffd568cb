/*
 * What does the ledger get of a lane's events, and what does it give back of a device's memory?
 */
#include "ledger/ledger.h"

#include "lane/parts.h"
#include "model/error.h"
#include "model/event.h"
#include "model/json.h"

#include <string.h>

/* Of the lane's own states only those that explain a gap in the takings. */
static bool state_recorded(const cfoil_event *event)
{
    return event->lane_state == CFOIL_LANE_LOST || event->lane_state == CFOIL_LANE_FAULT ||
           event->lane_state == CFOIL_LANE_ACCEPTING || event->lane_state == CFOIL_LANE_IDLE;
}

/* The kind of entry for an event, NULL = it is not recorded. */
static const char *entry_kind(const cfoil_event *event)
{
    switch (event->kind) {
    case CFOIL_KIND_HELD:
    case CFOIL_KIND_STACKED:
    case CFOIL_KIND_RETURNED:
    case CFOIL_KIND_REJECTED:
        return LEDGER_KIND_PRESENTATION;
    case CFOIL_KIND_LANE_STATE:
        return state_recorded(event) ? LEDGER_KIND_DEVICE : NULL;
    default:
        return LEDGER_KIND_DEVICE;
    }
}

static char *body_make(const struct lane *lane, const cfoil_event *event)
{
    cJSON *json = event_json(event);
    char *body = json_text_add(json, "lane", lane->name) ? json_canonical(json) : NULL;
    cJSON_Delete(json);
    return body;
}

/* Rows for the events that are recorded; *count of them in `items`, their bodies in lane->bodies. */
static bool items_make(struct lane *lane, const struct told *events, uint32_t event_count, struct ledger_item *items,
                       uint32_t *count)
{
    for (uint32_t i = 0; i < event_count; i++) {
        const cfoil_event *event = &events[i].event;
        const char *kind = entry_kind(event);
        if (kind == NULL)
            continue;
        char *body = body_make(lane, event);
        if (body == NULL)
            return false;
        lane->bodies[*count] = body;
        items[*count] = (struct ledger_item){.kind = kind, .time_utc_ms = event->time_utc_ms, .body = body};
        (*count)++;
    }
    return true;
}

static void receipts_note(struct told *events, uint32_t event_count, const struct ledger_receipt *receipts)
{
    for (uint32_t i = 0, row = 0; i < event_count; i++) {
        if (entry_kind(&events[i].event) == NULL)
            continue;
        events[i].event.entry = receipts[row++].number;
        events[i].event.flags |= CFOIL_EVENT_RECORDED;
    }
}

static int32_t rows_append(struct lane *lane, const struct ledger_item *items, uint32_t count,
                           const struct device_memory *memory, struct ledger_receipt *receipts)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct ledger_device_memory row = {0};
    if (memory != NULL)
        row = (struct ledger_device_memory){memory->device, memory->bytes, memory->length};
    int32_t result = ledger_append(lane->ledger, items, count, memory != NULL ? &row : NULL, receipts, &error);
    if (result != CFOIL_OK)
        lane_trouble(lane, CFOIL_LOG_ERROR, "ledger_append", &error);
    else if (memory != NULL)
        device_stored(&lane->devices, memory);
    return result;
}

/* A replay must not tell the ledger how far a real device has counted. */
static bool memory_due(struct lane *lane, const struct group *group, uint32_t rows)
{
    if (!group->memory_set || lane->replay)
        return false;
    return rows > 0 || device_differs(&lane->devices, &group->memory);
}

static int32_t no_memory(struct lane *lane)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    error_memory_set(&error, "lane");
    lane_trouble(lane, CFOIL_LOG_ERROR, "ledger_append", &error);
    return CFOIL_E_MEMORY;
}

int32_t journal_group(struct lane *lane, const struct group *group, struct told *events)
{
    if (lane->ledger == NULL)
        return CFOIL_OK;
    struct ledger_item items[BACKLOG_EVENTS_MAX];
    struct ledger_receipt receipts[BACKLOG_EVENTS_MAX];
    uint32_t rows = 0;
    int32_t result = items_make(lane, events, group->count, items, &rows) ? CFOIL_OK : no_memory(lane);
    bool with_memory = memory_due(lane, group, rows);
    if (result == CFOIL_OK && (rows > 0 || with_memory))
        result = rows_append(lane, items, rows, with_memory ? &group->memory : NULL, receipts);
    for (uint32_t i = 0; i < rows; i++)
        cJSON_free(lane->bodies[i]);
    if (result == CFOIL_OK && rows > 0)
        receipts_note(events, group->count, receipts);
    return result;
}

int32_t journal_memory(struct lane *lane, const struct device_memory *memory)
{
    return lane->ledger == NULL || lane->replay ? CFOIL_OK : rows_append(lane, NULL, 0, memory, NULL);
}

int32_t journal_load(struct lane *lane, struct device_memory *memory)
{
    memory->length = 0;
    if (lane->ledger == NULL || lane->replay)
        return CFOIL_OK;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = ledger_device_load(lane->ledger, memory->device, memory->bytes, sizeof memory->bytes,
                                        &memory->length, &error);
    if (result != CFOIL_OK)
        lane_trouble(lane, CFOIL_LOG_ERROR, "ledger_load", &error);
    return result;
}
