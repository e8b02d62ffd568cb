/*
 * What does an adapter ask of the core while one of its functions runs? The host table of adapter.h, for a lane.
 */
#include "lane/parts.h"
#include "model/error.h"
#include "model/text.h"
#include "transport/trace.h"

#include <string.h>

/* A fault of the adapter itself. */
static void complain(struct lane *lane, const char *key, const char *text)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    error_set(&error, CFOIL_E_ARGUMENT_RANGE, 0, lane->adapter->id, "%s", text);
    lane_trouble(lane, CFOIL_LOG_ERROR, key, &error);
}

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct lane *lane = user;
    if (length == 0)
        return;
    bool words = (lane->adapter->capabilities & CFOIL_ADAPTER_WORDS) != 0;
    bool blocks = words || lane->messages;
    if (length > lane->adapter->frame_max || length > LANE_OUTPUT_MAX - lane->output_length ||
        (blocks && lane->block_count == LANE_BLOCKS_MAX)) {
        complain(lane, "send", "The adapter sends more than its table allows: the bytes were not sent.");
        return;
    }
    if (words && length % 2 != 0) {
        complain(lane, "send", "The adapter sends half a word: the bytes were not sent.");
        return;
    }
    struct trace_record record = {.mark = TRACE_TO, .time_us = lane->now_us, .bytes = bytes, .length = length};
    seam_trace(lane, &record);
    if (lane->player != NULL) {
        trace_player_sent(lane->player, bytes, length);
        return;
    }
    memcpy(lane->output + lane->output_length, bytes, length);
    lane->output_length += length;
    if (blocks)
        lane->block_ends[lane->block_count++] = lane->output_length;
    lane->sent = true;
}

/* Texts of an adapter may hold what the device sent: whatever is not plain text becomes '?'. */
static void text_take(char *target, size_t capacity, const char *text, size_t text_capacity)
{
    char ended[256];
    size_t length = strnlen(text, text_capacity < sizeof ended ? text_capacity : sizeof ended - 1);
    memcpy(ended, text, length);
    ended[length] = '\0';
    if (!text_acceptable(ended, 0, sizeof ended)) {
        for (char *character = ended; *character != '\0'; character++) {
            if (*character < ' ' || *character > '~')
                *character = '?';
        }
    }
    text_copy(target, capacity, ended);
}

#define TEXT_TAKE(target, text) text_take(target, sizeof(target), text, sizeof(text))

static void event_take(cfoil_event *event, const cfoil_adapter_event *told)
{
    *event = (cfoil_event){.kind = told->kind,
                           .value_minor = told->value_minor,
                           .note_type = told->note_type,
                           .reason = told->reason,
                           .reasons_possible = told->reasons_possible,
                           .condition = told->condition,
                           .lost_count = told->lost_count,
                           .flags = told->flags & CFOIL_EVENT_WHILE_AWAY};
    event->finding_count = told->finding_count < CFOIL_FINDINGS_MAX ? told->finding_count : CFOIL_FINDINGS_MAX;
    event->raw_length = told->raw_length < CFOIL_RAW_MAX ? told->raw_length : CFOIL_RAW_MAX;
    memcpy(event->findings, told->findings, event->finding_count * sizeof event->findings[0]);
    memcpy(event->raw, told->raw, event->raw_length);
    TEXT_TAKE(event->currency, told->currency);
    TEXT_TAKE(event->note_name, told->note_name);
    TEXT_TAKE(event->raw_text, told->raw_text);
    TEXT_TAKE(event->text, told->text);
}

static void on_event(void *user, const cfoil_adapter_event *told)
{
    struct lane *lane = user;
    if (told->struct_size < sizeof *told || told->kind < CFOIL_KIND_HELD || told->kind > CFOIL_KIND_LOST_EVENTS) {
        complain(lane, "event", "The adapter told an event that the interface does not have: it was left out.");
        return;
    }
    cfoil_event event;
    event_take(&event, told);
    backlog_event_add(lane, &event);
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct lane *lane = user;
    if (lane_state < CFOIL_LANE_STARTING || lane_state > CFOIL_LANE_ENDED) {
        complain(lane, "state", "The adapter told a state that the interface does not have: it was left out.");
        return;
    }
    char line[160];
    text_take(line, sizeof line, text != NULL ? text : "", SIZE_MAX);
    if (result != CFOIL_OK && lane_state != lane->state) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        error_set(&error, result, 0, lane->adapter->id, "%s", line);
        lane_trouble(lane, CFOIL_LOG_WARNING, "state", &error);
    }
    lane_state_tell(lane, lane_state, result, line);
}

static void on_log(void *user, int32_t level, const char *key, const char *text)
{
    struct lane *lane = user;
    lane_log_write(lane, level, NULL, lane->adapter->id, key != NULL ? key : "", text);
}

/* What is stored cannot be read: the device's own buffer may hold events that nobody will ask for. */
static void load_failure_tell(struct lane *lane)
{
    cfoil_event event = {.kind = CFOIL_KIND_LOST_EVENTS, .condition = CFOIL_CONDITION_LEDGER_FAILING};
    text_copy(event.text, sizeof event.text,
              "What the ledger knows of this device cannot be read: events from before may be missing.");
    backlog_event_add(lane, &event);
}

/* The latest of this lane, else what the trace or the ledger has. */
static void memory_find(struct lane *lane, struct device_memory *memory)
{
    if (lane->player != NULL &&
        trace_player_memory(lane->player, memory->device, memory->bytes, sizeof memory->bytes, &memory->length))
        return;
    const struct device *known = device_find(&lane->devices, memory->device);
    if (known != NULL) {
        *memory = known->memory;
        return;
    }
    if (journal_load(lane, memory) != CFOIL_OK) {
        memory->length = 0;
        load_failure_tell(lane);
    }
    if (memory->length > sizeof memory->bytes)
        memory->length = sizeof memory->bytes;
    if (memory->length > 0 && device_set(&lane->devices, memory) != NULL)
        device_stored(&lane->devices, memory);
}

static uint32_t on_memory_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    struct lane *lane = user;
    if (!device_name_valid(device)) {
        complain(lane, "memory", "The adapter asked for the memory of a device without a proper name.");
        return 0;
    }
    struct device_memory memory = {.length = 0};
    text_copy(memory.device, sizeof memory.device, device);
    memory_find(lane, &memory);
    struct trace_record record = {.mark = TRACE_MEMORY,
                                  .time_us = lane->now_us,
                                  .bytes = memory.bytes,
                                  .length = memory.length,
                                  .device = memory.device};
    seam_trace(lane, &record);
    memcpy(bytes, memory.bytes, memory.length < capacity ? memory.length : capacity);
    return memory.length;
}

static void on_memory_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct lane *lane = user;
    if (!device_name_valid(device) || length > DEVICE_MEMORY_MAX) {
        complain(lane, "memory", "The adapter stored too much, or for a device without a proper name: it is not kept.");
        return;
    }
    struct device_memory memory = {.length = length};
    text_copy(memory.device, sizeof memory.device, device);
    memcpy(memory.bytes, bytes, length);
    if (device_set(&lane->devices, &memory) == NULL)
        complain(lane, "memory", "The adapter serves too many devices: one is forgotten when the port is lost.");
    backlog_memory_set(lane, &memory);
}

void host_table_fill(struct lane *lane)
{
    lane->host = (cfoil_adapter_host){.struct_size = sizeof lane->host,
                                      .user = lane,
                                      .send = on_send,
                                      .event = on_event,
                                      .state = on_state,
                                      .log = on_log,
                                      .memory_load = on_memory_load,
                                      .memory_store = on_memory_store};
}
