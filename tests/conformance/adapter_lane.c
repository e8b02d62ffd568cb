/*
 * How is the real adapter run, and what did it tell? See adapter_lane.h.
 */
#include "adapter_lane.h"

#include "mdb_client.h"

#include <cjson/cJSON.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static uint64_t clock_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

const char *kind_word(int32_t kind)
{
    static const char *const words[] = {"none", "held", "stacked", "returned", "rejected", "device", "lost", "state"};
    return kind >= 0 && kind <= 7 ? words[kind] : "unknown";
}

static const char *failure_text(const void *handle, int32_t result)
{
    static cfoil_error_info info;
    info = (cfoil_error_info)CFOIL_ERROR_INFO_INIT;
    bool told = handle != NULL && cfoil_error_read(handle, &info) == CFOIL_OK && info.text[0] != '\0';
    return told ? info.text : cfoil_error_text(result);
}

/* The adapter that was made last is the described one. */
static void described_find(struct adapter_lane *lane)
{
    static char text[1048576];
    if (cfoil_catalogue_json(lane->context, text, sizeof text, NULL) != CFOIL_OK)
        return;
    cJSON *catalogue = cJSON_Parse(text);
    const cJSON *adapters = cJSON_GetObjectItem(catalogue, "adapters");
    const cJSON *last = cJSON_GetArrayItem(adapters, cJSON_GetArraySize(adapters) - 1);
    const cJSON *id = cJSON_GetObjectItem(last, "id");
    if (cJSON_IsString(id))
        snprintf(lane->id, sizeof lane->id, "%s", id->valuestring);
    cJSON_Delete(catalogue);
}

static bool context_make(struct adapter_lane *lane)
{
    const struct options *options = lane->trial->options;
    int32_t result = cfoil_context_open(NULL, &lane->context);
    if (result == CFOIL_OK && options->description != NULL)
        result = cfoil_adapter_describe(lane->context, options->description);
    if (result == CFOIL_OK && options->adapter_file != NULL)
        result = cfoil_adapter_load(lane->context, options->adapter_file);
    snprintf(lane->id, sizeof lane->id, "%s", options->adapter);
    if (result == CFOIL_OK && options->description != NULL)
        described_find(lane);
    return expect(lane->trial, result == CFOIL_OK, "no adapter: %s", failure_text(lane->context, result));
}

static void trace_path_choose(struct adapter_lane *lane)
{
    const struct options *options = lane->trial->options;
    const char *folder = options->trace_folder != NULL ? options->trace_folder : lane->trial->suite->folder;
    const char *name = strrchr(lane->trial->item->id, '/') + 1;
    if (snprintf(lane->trace, sizeof lane->trace, "%s/adapter-%s.trace", folder, name) >= (int)sizeof lane->trace)
        lane->trace[0] = '\0';
    unlink(lane->trace);
}

bool wire_known(const struct trial *trial)
{
    const struct options *options = trial->options;
    return strcmp(options->wire != NULL ? options->wire : options->adapter, "cctalk") == 0;
}

static bool port_open(struct trial *trial)
{
    const struct options *options = trial->options;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = line_open(options->port, options->wire != NULL ? options->wire : options->adapter, NULL,
                               &trial->suite->line, &error);
    return expect(trial, result == CFOIL_OK, "the port cannot be opened for a look at the wire: %s", error.text) &&
           line_begin(trial->suite->line);
}

void wire_close(struct trial *trial)
{
    line_close(trial->suite->line);
    trial->suite->line = NULL;
}

bool wire_open(struct trial *trial, struct client *client)
{
    return port_open(trial) && client_begin(trial, client);
}

bool stacker_count(struct trial *trial, unsigned *count)
{
    struct mdb_client client = {.trial = trial};
    bool good = port_open(trial);
    client.line = trial->suite->line;
    good = good && master_count_read(&client, count);
    wire_close(trial);
    return good;
}

static bool wire_look(struct adapter_lane *lane)
{
    struct client client;
    bool good = wire_open(lane->trial, &client) && snapshot_read(&client, &lane->before);
    wire_close(lane->trial);
    lane->wire = good;
    return good;
}

bool adapter_lane_open(struct trial *trial, struct adapter_lane *lane, const char *port, int32_t accept)
{
    *lane = (struct adapter_lane){.trial = trial};
    if (port == NULL && wire_known(trial) && !wire_look(lane))
        return false;
    if (port == NULL && strcmp(trial->options->adapter, "mdb") == 0 && !stacker_count(trial, &lane->count_before))
        return false;
    lane->counted = port == NULL && strcmp(trial->options->adapter, "mdb") == 0;
    if (!context_make(lane))
        return false;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = lane->id;
    options.port = port != NULL ? port : trial->options->port;
    options.settings = trial->options->settings[0] != '\0' && port == NULL ? trial->options->settings : NULL;
    options.accept = accept;
    options.reconnect_ms = 500;
    if (port == NULL)
        trace_path_choose(lane);
    options.record_path = lane->trace[0] != '\0' ? lane->trace : NULL;
    int32_t result = cfoil_lane_open(lane->context, &options, &lane->lane);
    return expect(trial, result == CFOIL_OK, "no lane: %s", failure_text(lane->context, result));
}

void adapter_lane_close(struct adapter_lane *lane)
{
    struct trial *trial = lane->trial;
    struct suite *suite = trial->suite;
    cfoil_lane_close(lane->lane);
    cfoil_context_close(lane->context);
    lane->lane = NULL;
    lane->context = NULL;
    if (lane->trace[0] == '\0')
        return;
    bool kept = trial->result == RESULT_FAILED && trial->options->trace_folder != NULL;
    if (kept)
        memcpy(trial->evidence, lane->trace, sizeof trial->evidence);
    if (lane->told_count > 0 || suite->last_trace[0] == '\0') {
        if (suite->last_trace[0] != '\0' && trial->options->trace_folder == NULL)
            unlink(suite->last_trace);
        memcpy(suite->last_trace, lane->trace, sizeof suite->last_trace);
    } else if (!kept) {
        unlink(lane->trace);
    }
}

static void note_put(struct adapter_lane *lane, const cfoil_event *event)
{
    if (event->kind == CFOIL_KIND_HELD)
        lane->presentation = event->presentation;
    if (lane->told_count == TOLD_MAX)
        return;
    struct told *told = &lane->told[lane->told_count++];
    *told = (struct told){event->kind, event->note_type, event->value_minor, event->flags & CFOIL_EVENT_WHILE_AWAY, {0},
                          {0}};
    memcpy(told->currency, event->currency, sizeof told->currency);
    memcpy(told->note_name, event->note_name, sizeof told->note_name);
}

bool adapter_lane_event(struct adapter_lane *lane, uint32_t wait_ms)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    if (stop_asked() || cfoil_lane_wait(lane->lane, wait_ms, &event) != CFOIL_OK)
        return false;
    lane->state = event.lane_state;
    if (event.kind == CFOIL_KIND_LANE_STATE)
        lane->result = event.result;
    if (event.kind == CFOIL_KIND_LANE_STATE)
        memcpy(lane->text, event.text, sizeof lane->text);
    if (event.condition == CFOIL_CONDITION_IDENTIFIED)
        memcpy(lane->identity, event.text, sizeof lane->identity);
    if (event.kind >= CFOIL_KIND_HELD && event.kind <= CFOIL_KIND_REJECTED)
        note_put(lane, &event);
    return true;
}

bool adapter_lane_state(struct adapter_lane *lane, int32_t state, uint32_t wait_ms)
{
    static const char *const words[] = {"none", "opening", "starting", "idle", "accepting", "fault", "lost", "ended"};
    uint64_t until_us = clock_us() + MS(wait_ms);
    while (lane->state != state && clock_us() < until_us && !stop_asked() && lane->state != CFOIL_LANE_ENDED)
        (void)adapter_lane_event(lane, 200);
    const char *now = lane->state >= 0 && lane->state <= 7 ? words[lane->state] : "unknown";
    if (lane->state != state && stop_asked())
        skip(lane->trial, "it was stopped");
    if (lane->state != state && stop_asked())
        return false;
    return expect(lane->trial, lane->state == state, "the lane is %s and not %s after %u ms: %s", now, words[state],
                  wait_ms, lane->text);
}

const struct told *adapter_lane_told(struct adapter_lane *lane, uint32_t wait_ms)
{
    uint64_t until_us = clock_us() + MS(wait_ms);
    while (lane->seen == lane->told_count) {
        uint64_t now_us = clock_us();
        if (stop_asked() || lane->state == CFOIL_LANE_ENDED || (now_us >= until_us && wait_ms > 0))
            return NULL;
        uint32_t slice_ms = wait_ms > 0 ? (uint32_t)((until_us - now_us) / 1000) + 1 : 0;
        if (!adapter_lane_event(lane, slice_ms < 200 ? slice_ms : 200) && wait_ms == 0)
            return NULL;
    }
    return &lane->told[lane->seen++];
}
