/*
 * The exported function about the ports of this computer: which are there, and what do the adapters think of them?
 */
#include "abi/context.h"
#include "abi/structs.h"
#include "model/error.h"
#include "model/json.h"
#include "os/os.h"
#include "transport/ports.h"
#include "transport/settings.h"
#include "transport/transport.h"

#include <stdio.h>
#include <string.h>

#define WAIT_DEFAULT_MS 2000
#define WAIT_MAX_MS     10000
#define OPEN_MAX_MS     5000
#define SLICE_MS        100 /* until a shutdown is noticed */
#define HEARD_MAX       4096
#define PROBE_NAME      "(probe)"

struct survey {
    cfoil_context *context;
    uint32_t wait_ms;
    cJSON *list;
    bool good; /* false = no memory */
};

/* NULL = there are no more. Tables stay as long as the context, and their order does. */
static const cfoil_adapter *adapter_at(cfoil_context *context, uint32_t index)
{
    os_mutex_lock(context->lock);
    const cfoil_adapter *table = index < context->adapter_count ? context->adapters[index].table : NULL;
    os_mutex_unlock(context->lock);
    return table;
}

static bool adapter_fits(const cfoil_adapter *adapter, const char *port, enum transport_way *way)
{
    struct settings none = {0};
    return transport_way_find(adapter, port, &none, way, NULL) == CFOIL_OK;
}

/* ---- What is there ---- */

static bool number_add(cJSON *item, const char *key, uint16_t number)
{
    char digits[5];
    snprintf(digits, sizeof digits, "%04X", number);
    return json_text_add(item, key, digits);
}

static bool fitting_add(cfoil_context *context, cJSON *item, const char *port)
{
    cJSON *list = json_array_add(item, "adapters");
    bool good = list != NULL;
    const cfoil_adapter *adapter;
    for (uint32_t i = 0; good && (adapter = adapter_at(context, i)) != NULL; i++) {
        enum transport_way way;
        if (adapter_fits(adapter, port, &way))
            good = json_text_add(list, NULL, adapter->id);
    }
    return good;
}

static void port_add(void *user, const struct port_found *found)
{
    static const char *const carriers[] = {[PORT_CARRIER_SERIAL] = "serial",
                                           [PORT_CARRIER_PIPE] = "usb_pipe",
                                           [PORT_CARRIER_REPORTS] = "usb_reports",
                                           [PORT_CARRIER_ACM] = "usb_serial"};
    struct survey *survey = user;
    cJSON *item = json_object_add(survey->list, NULL);
    bool good = json_text_add(item, "port", found->port) && json_text_add(item, "carrier", carriers[found->carrier]) &&
                json_text_add(item, "label", found->label) && json_text_add(item, "maker", found->maker) &&
                json_text_add(item, "serial", found->serial);
    if (found->usb)
        good = good && number_add(item, "vendor", found->vendor) && number_add(item, "product", found->product);
    good = good && json_flag_add(item, "system_driver", found->system_driver) &&
           json_integer_add(item, "result", found->result) && fitting_add(survey->context, item, found->port);
    survey->good = survey->good && good;
}

/* ---- Listening ---- */

/* Reads what comes within the time, up to HEARD_MAX bytes. */
static int32_t overhear(const struct survey *survey, struct transport *port, uint8_t *bytes, uint32_t *heard,
                        cfoil_error_info *error)
{
    uint64_t until_us = os_monotonic_us() + (uint64_t)survey->wait_ms * 1000;
    int32_t result = CFOIL_OK;
    *heard = 0;
    while (result == CFOIL_OK && *heard < HEARD_MAX && os_monotonic_us() < until_us &&
           !context_shutting_down(survey->context)) {
        uint64_t slice_us = os_monotonic_us() + SLICE_MS * UINT64_C(1000);
        uint32_t length = 0;
        if ((os_wait(transport_handle(port), NULL, slice_us < until_us ? slice_us : until_us) & OS_READY_PORT) != 0)
            result = transport_read(port, bytes + *heard, HEARD_MAX - *heard, &length, error);
        *heard += length;
    }
    return result;
}

static bool outcome_add(cJSON *item, int32_t result, const cfoil_error_info *error)
{
    return json_integer_add(item, "result", result) &&
           json_text_add(item, "text", result == CFOIL_OK ? "" : error->text);
}

static bool adapter_listen(struct survey *survey, const cfoil_adapter *adapter, const char *port)
{
    uint8_t bytes[HEARD_MAX];
    uint32_t heard = 0;
    struct transport *transport;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = transport_open(&survey->context->memory, port, WAY_BYTES, &adapter->line, OPEN_MAX_MS, NULL,
                                    &transport, &error);
    if (result == CFOIL_OK) {
        result = overhear(survey, transport, bytes, &heard, &error);
        transport_close(transport);
    }
    cJSON *item = json_object_add(survey->list, NULL);
    return json_text_add(item, "adapter", adapter->id) && json_integer_add(item, "heard", heard) &&
           json_integer_add(item, "bid", heard > 0 ? adapter->identify(bytes, heard) : 0) &&
           outcome_add(item, result, &error);
}

/* Only adapters that judge, and take the line's bytes as they are: a word carrier would have to be asked first. */
static void port_listen(struct survey *survey, const char *port)
{
    const cfoil_adapter *adapter;
    for (uint32_t i = 0; survey->good && (adapter = adapter_at(survey->context, i)) != NULL; i++) {
        enum transport_way way;
        if (adapter->identify != NULL && adapter_fits(adapter, port, &way) && way == WAY_BYTES)
            survey->good = adapter_listen(survey, adapter, port);
    }
}

/* ---- Probing ---- */

/* Has the device said something that only it would say, or will there be nothing more? */
static bool probe_settled(const cfoil_event *event, bool *answered)
{
    bool ready = event->lane_state == CFOIL_LANE_IDLE || event->lane_state == CFOIL_LANE_FAULT;
    *answered = event->condition == CFOIL_CONDITION_IDENTIFIED || (event->kind == CFOIL_KIND_LANE_STATE && ready);
    return *answered || (event->kind == CFOIL_KIND_LANE_STATE &&
                         (event->lane_state == CFOIL_LANE_ENDED || event->lane_state == CFOIL_LANE_LOST ||
                          event->result != CFOIL_OK));
}

static bool adapter_probe(struct survey *survey, const cfoil_adapter *adapter, const char *port)
{
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.name = PROBE_NAME;
    options.adapter = adapter->id;
    options.port = port;
    cfoil_lane *lane = NULL;
    cfoil_event event = CFOIL_EVENT_INIT;
    bool answered = false;
    bool settled = false;
    uint64_t until_us = os_monotonic_us() + (uint64_t)survey->wait_ms * 1000;
    int32_t result = cfoil_lane_open(survey->context, &options, &lane);
    while (result == CFOIL_OK && !settled) {
        uint64_t now_us = os_monotonic_us();
        result = cfoil_lane_wait(lane, now_us < until_us ? (uint32_t)((until_us - now_us + 999) / 1000) : 0, &event);
        settled = result == CFOIL_OK && probe_settled(&event, &answered);
    }
    cfoil_lane_close(lane);
    result = settled && !answered ? event.result : result;
    cJSON *item = json_object_add(survey->list, NULL);
    return json_text_add(item, "adapter", adapter->id) && json_flag_add(item, "answered", answered) &&
           json_integer_add(item, "result", result) &&
           json_text_add(item, "text", settled ? event.text : cfoil_error_text(result));
}

/* Modem lines answer nothing: who looks at them cannot tell a device from none. */
static void port_probe(struct survey *survey, const char *port)
{
    const cfoil_adapter *adapter;
    for (uint32_t i = 0; survey->good && (adapter = adapter_at(survey->context, i)) != NULL; i++) {
        enum transport_way way;
        if (adapter_fits(adapter, port, &way) && way != WAY_LINES && !context_shutting_down(survey->context))
            survey->good = adapter_probe(survey, adapter, port);
    }
}

/* ---- The call ---- */

static int32_t options_read(const cfoil_devices_options *given, cfoil_devices_options *options, cfoil_error_info *error)
{
    *options = (cfoil_devices_options)CFOIL_DEVICES_OPTIONS_INIT;
    int32_t result = given != NULL ? struct_read(given, sizeof *options, sizeof *options, options) : CFOIL_OK;
    if (result == CFOIL_OK && options->wait_ms > WAIT_MAX_MS)
        result = error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "devices", "wait_ms must be 0 to 10000.");
    if (result == CFOIL_OK && options->listen_port != NULL)
        result = transport_port_check(options->listen_port, error);
    if (result == CFOIL_OK && options->probe_port != NULL)
        result = transport_port_check(options->probe_port, error);
    return result;
}

static void attempt(struct survey *survey, cJSON *document, const char *key, const char *port,
                    void (*run)(struct survey *survey, const char *port))
{
    if (port == NULL || !survey->good)
        return;
    cJSON *part = json_object_add(document, key);
    survey->good = json_text_add(part, "port", port);
    survey->list = json_array_add(part, "adapters");
    survey->good = survey->good && survey->list != NULL;
    if (survey->good)
        run(survey, port);
}

static int32_t survey_run(struct survey *survey, const cfoil_devices_options *options, cJSON *document,
                          cfoil_error_info *error)
{
    survey->good = json_text_add(document, "schema", "counterfoil.devices/1");
    survey->list = json_array_add(document, "ports");
    survey->good = survey->good && survey->list != NULL;
    int32_t result = serial_ports_visit(port_add, survey, error);
    if (result == CFOIL_OK)
        result = usb_ports_visit(port_add, survey, error);
    if (result != CFOIL_OK)
        return result;
    attempt(survey, document, "listened", options->listen_port, port_listen);
    attempt(survey, document, "probed", options->probe_port, port_probe);
    if (context_shutting_down(survey->context))
        return CFOIL_E_STATE_SHUTDOWN;
    return survey->good ? CFOIL_OK : error_memory_set(error, "devices");
}

int32_t cfoil_devices_json(cfoil_context *context, const cfoil_devices_options *options, char *buffer, size_t capacity,
                           size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_devices_options read;
    result = options_read(options, &read, &error);
    if (result != CFOIL_OK)
        return handle_leave(entered, result, &error);
    struct survey survey = {.context = context, .wait_ms = read.wait_ms != 0 ? read.wait_ms : WAIT_DEFAULT_MS};
    cJSON *document = cJSON_CreateObject();
    result = document != NULL ? survey_run(&survey, &read, document, &error) : error_memory_set(&error, "devices");
    if (result == CFOIL_OK)
        result = json_export(document, buffer, capacity, needed);
    cJSON_Delete(document);
    return handle_leave(entered, result, result == CFOIL_E_ARGUMENT_BUFFER ? NULL : &error);
}
