/*
 * The exported functions about lanes, notes and events.
 */
#include "abi/context.h"
#include "abi/structs.h"
#include "model/error.h"
#include "model/event.h"
#include "model/json.h"

#include <string.h>

/* ---- Opening and closing ---- */

static bool name_in_use(cfoil_context *context, const char *name)
{
    bool used = false;
    os_mutex_lock(context->lock);
    for (const struct handle *handle = context->open; handle != NULL; handle = handle->next) {
        if (handle->kind == HANDLE_LANE && !handle->closed && strcmp(lane_name(handle->body), name) == 0)
            used = true;
    }
    os_mutex_unlock(context->lock);
    return used;
}

static int32_t lane_make(cfoil_context *context, const cfoil_lane_options *options, struct ledger *ledger,
                         struct lane **lane, cfoil_error_info *error)
{
    if (options->adapter == NULL || options->port == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, "lane", "Name an adapter and a port.");
    const cfoil_adapter *adapter = context_adapter_find(context, options->adapter);
    if (adapter == NULL)
        return error_set(error, CFOIL_E_MISSING_ADAPTER, 0, "lane", "No adapter has the id '%s'.", options->adapter);
    const char *name = options->name != NULL ? options->name : "lane";
    if (name_in_use(context, name))
        return error_set(error, CFOIL_E_STATE_EXISTS, 0, "lane", "A lane named '%s' is open already.", name);
    struct lane_setup setup = {
        .memory = &context->memory,
        .adapter = adapter,
        .ledger = ledger,
        .log = {context->log_level, context->log, context->log_user},
        .options = options,
    };
    return lane_create(&setup, lane, error);
}

/* Makes the lane and its handle; the name is looked for and taken in one go, for `lane_opening` is held. */
static int32_t lane_add(cfoil_context *context, const cfoil_lane_options *options, struct ledger *ledger,
                        cfoil_lane **lane, cfoil_error_info *error)
{
    struct lane *body = NULL;
    int32_t result = lane_make(context, options, ledger, &body, error);
    if (result != CFOIL_OK)
        return result;
    *lane = (cfoil_lane *)handle_create(context, HANDLE_LANE, body);
    if (*lane != NULL)
        return CFOIL_OK;
    lane_stop(body);
    lane_destroy(body);
    return CFOIL_E_MEMORY;
}

static int32_t lane_open_entered(cfoil_context *context, const cfoil_lane_options *given, cfoil_lane **lane,
                                 cfoil_error_info *error)
{
    cfoil_lane_options options;
    int32_t result = struct_read(given, sizeof options, sizeof options, &options);
    if (result != CFOIL_OK)
        return result;
    if (context_shutting_down(context))
        return CFOIL_E_STATE_SHUTDOWN;
    struct handle *ledger = NULL;
    if (options.ledger != NULL) {
        result = handle_enter(options.ledger, HANDLE_LEDGER, &ledger);
        if (result != CFOIL_OK)
            return result;
    }
    os_mutex_lock(context->lane_opening);
    result = lane_add(context, &options, ledger != NULL ? ledger->body : NULL, lane, error);
    os_mutex_unlock(context->lane_opening);
    if (ledger != NULL)
        (void)handle_leave(ledger, CFOIL_OK, NULL);
    return result;
}

int32_t cfoil_lane_open(cfoil_context *context, const cfoil_lane_options *options, cfoil_lane **lane)
{
    if (lane == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *lane = NULL;
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = lane_open_entered(context, options, lane, &error);
    return handle_leave(entered, result, &error);
}

void cfoil_lane_close(cfoil_lane *lane)
{
    struct handle *handle;
    if (handle_enter(lane, HANDLE_LANE, &handle) != CFOIL_OK)
        return;
    struct lane *body = handle->body;
    int mine = handle_close_begin(handle);
    if (mine)
        lane_stop(body); /* wakes the calls that wait inside */
    (void)handle_leave(handle, CFOIL_OK, NULL);
    if (mine)
        lane_destroy(handle_close_end(handle));
}

/* ---- Events ---- */

int32_t cfoil_lane_wait(cfoil_lane *lane, uint32_t timeout_ms, cfoil_event *event)
{
    struct handle *handle;
    int32_t result = handle_enter(lane, HANDLE_LANE, &handle);
    if (result != CFOIL_OK)
        return result;
    result = struct_check(event, sizeof *event);
    if (result == CFOIL_OK && timeout_ms > 3600000)
        result = CFOIL_E_ARGUMENT_RANGE;
    cfoil_event filled = CFOIL_EVENT_INIT;
    if (result == CFOIL_OK)
        result = lane_wait(handle->body, timeout_ms, &filled);
    if (result == CFOIL_OK)
        struct_write(event, &filled, sizeof filled);
    return handle_leave(handle, result, NULL);
}

int32_t cfoil_lane_poll(cfoil_lane *lane, cfoil_event *event)
{
    return cfoil_lane_wait(lane, 0, event);
}

int32_t cfoil_lane_wait_handle(cfoil_lane *lane, intptr_t *handle)
{
    struct handle *entered;
    int32_t result = handle_enter(lane, HANDLE_LANE, &entered);
    if (result != CFOIL_OK)
        return result;
    result = handle == NULL ? CFOIL_E_ARGUMENT_NULL : lane_wait_handle(entered->body, handle);
    return handle_leave(entered, result, NULL);
}

int32_t cfoil_event_json(const cfoil_event *event, char *buffer, size_t capacity, size_t *needed)
{
    cfoil_event copy;
    int32_t result = struct_read(event, sizeof copy, sizeof copy, &copy);
    if (result != CFOIL_OK)
        return result;
    cJSON *object = event_json(&copy);
    if (object == NULL)
        return CFOIL_E_MEMORY;
    result = json_export(object, buffer, capacity, needed);
    cJSON_Delete(object);
    return result;
}

/* ---- Commands ---- */

int32_t cfoil_lane_accept(cfoil_lane *lane, int32_t accept)
{
    struct handle *handle;
    int32_t result = handle_enter(lane, HANDLE_LANE, &handle);
    if (result != CFOIL_OK)
        return result;
    bool known = accept >= CFOIL_ACCEPT_NONE && accept <= CFOIL_ACCEPT_ALL;
    return handle_leave(handle, known ? lane_accept(handle->body, accept) : CFOIL_E_ARGUMENT_RANGE, NULL);
}

int32_t cfoil_note_stack(cfoil_lane *lane, uint64_t presentation)
{
    struct handle *handle;
    int32_t result = handle_enter(lane, HANDLE_LANE, &handle);
    return result != CFOIL_OK ? result : handle_leave(handle, lane_note_stack(handle->body, presentation), NULL);
}

int32_t cfoil_note_return(cfoil_lane *lane, uint64_t presentation)
{
    struct handle *handle;
    int32_t result = handle_enter(lane, HANDLE_LANE, &handle);
    return result != CFOIL_OK ? result : handle_leave(handle, lane_note_return(handle->body, presentation), NULL);
}

int32_t cfoil_note_hold(cfoil_lane *lane, uint64_t presentation, uint32_t hold_ms)
{
    struct handle *handle;
    int32_t result = handle_enter(lane, HANDLE_LANE, &handle);
    if (result != CFOIL_OK)
        return result;
    bool known = hold_ms <= 600000;
    return handle_leave(handle, known ? lane_note_hold(handle->body, presentation, hold_ms) : CFOIL_E_ARGUMENT_RANGE,
                        NULL);
}
