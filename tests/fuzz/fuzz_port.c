/*
 * Any text as a port and as the settings of an adapter: refused with a reason, or taken apart into what it says; and does
 * every adapter refuse or take settings without going wrong?
 */
#include "fuzz.h"

#include "cctalk/cctalk.h"
#include "mdb/mdb.h"
#include "model/text.h"
#include "pulse/pulse.h"
#include "transport/port.h"
#include "transport/settings.h"
#include "transport/usb_name.h"

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    demand(bytes != NULL && length > 0);
}

static void on_event(void *user, const cfoil_adapter_event *event)
{
    (void)user;
    (void)event;
    abort(); /* nothing has happened yet */
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    (void)user;
    (void)result;
    demand(lane_state == CFOIL_LANE_STARTING && text[0] != '\0');
}

static void on_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    demand(level > 0 && key[0] != '\0' && text[0] != '\0');
}

static uint32_t on_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    (void)user;
    (void)device;
    (void)bytes;
    (void)capacity;
    return 0;
}

static void on_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    demand(device[0] != '\0' && bytes != NULL && length <= 64);
}

/* A refusal leaves a reason; the buffer may be of any size. */
static void adapter_try(const cfoil_adapter *adapter, const struct settings *settings, uint32_t error_capacity)
{
    const cfoil_adapter_host host = {sizeof host, 0, NULL, on_send, on_event, on_state, on_log, on_load, on_store};
    void *state = calloc(1, adapter->state_size);
    char *error = malloc(error_capacity + 1u);
    demand(state != NULL && error != NULL);
    error[0] = '\0';
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = settings->count,
                                 .settings = settings->items,
                                 .host = &host,
                                 .accept = CFOIL_ACCEPT_HOLD,
                                 .error_capacity = error_capacity,
                                 .error = error,
                                 .adapter = adapter};
    int32_t result = adapter->open(state, &start);
    demand(result == CFOIL_OK || result == CFOIL_E_ARGUMENT_SETTING);
    demand(result == CFOIL_OK || error_capacity < 2 || error[0] != '\0');
    if (adapter->close != NULL && result == CFOIL_OK)
        adapter->close(state);
    free(error);
    free(state);
}

/* What was read is written so that it reads the same. */
static void usb_try(const char *place)
{
    struct usb_name name;
    struct usb_name again;
    char written[USB_NAME_MAX + 1];
    demand(usb_name_parse(place, &name, NULL) == CFOIL_OK);
    usb_name_write(&name, written);
    demand(strlen(written) >= 9 && strlen(written) <= USB_NAME_MAX);
    demand(usb_name_parse(written, &again, NULL) == CFOIL_OK);
    demand(name.vendor == again.vendor && name.product == again.product && name.interface == again.interface);
    demand(name.detach == again.detach && strcmp(name.serial, again.serial) == 0);
}

static void port_try(const char *text)
{
    struct port port;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = port_parse(text, &port, &error);
    demand(result == CFOIL_OK || (result == CFOIL_E_ARGUMENT_PORT && error.result == result && error.text[0] != '\0'));
    if (result != CFOIL_OK)
        return;
    demand(text_acceptable(text, 1, PORT_TEXT_MAX) && port.place[0] != '\0' && strlen(port.place) < strlen(text));
    demand(strstr(text, port.place) != NULL && (port.kind == PORT_TCP) == (port.service[0] != '\0'));
    if (port.kind == PORT_USB)
        usb_try(port.place);
    if (port.kind != PORT_TCP)
        return;
    long number = strtol(port.service, NULL, 10);
    demand(number >= 1 && number <= 65535 && strpbrk(port.place, "[]/ ") == NULL);
}

static void settings_try(const char *text)
{
    static const cfoil_adapter *const adapters[] = {&cctalk_adapter, &mdb_adapter, &pulse_adapter};
    struct settings settings;
    char joined[SETTINGS_TEXT_MAX + 1];
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = settings_parse(text, &settings, &error);
    demand(result == CFOIL_OK || (result == CFOIL_E_ARGUMENT_SETTING && error.text[0] != '\0'));
    if (result != CFOIL_OK)
        return;
    settings_join(&settings, joined);
    demand(strcmp(joined, text) == 0);
    for (size_t i = 0; i < sizeof adapters / sizeof adapters[0]; i++)
        adapter_try(adapters[i], &settings, (uint32_t)(strlen(text) % 3 == 0 ? strlen(text) % 161 : 160));
    while (settings.count > 0) {
        uint32_t before = settings.count;
        const char *key = settings.items[before / 2].key;
        demand(settings_take(&settings, key) != NULL && settings.count == before - 1);
        demand(settings_take(&settings, key) == NULL);
    }
}

/* The first line is the port, the rest the settings. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char *text = text_copied(data, size);
    char *rest = strchr(text, '\n');
    if (rest != NULL)
        *rest++ = '\0';
    port_try(text);
    settings_try(rest != NULL ? rest : text);
    free(text);
    return 0;
}
