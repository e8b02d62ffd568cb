/*
 * Which kind of transport serves a port? See transport.h.
 */
#include "transport/transport.h"

#include "model/error.h"
#include "os/os.h"
#include "transport/kinds.h"
#include "transport/settings.h"

#include <string.h>

#define AREA "transport"

int32_t transport_port_check(const char *port, cfoil_error_info *error)
{
    struct port parsed;
    return port_parse(port, &parsed, error);
}

/* ---- Which way ---- */

static int32_t carrier_refuse(cfoil_error_info *error, const char *text)
{
    return error_set(error, CFOIL_E_ARGUMENT_SETTING, 0, "settings", "Adapter setting carrier: %s", text);
}

static int32_t words_way_find(const char *carrier, enum port_kind kind, enum transport_way *way,
                              cfoil_error_info *error)
{
    *way = WAY_WORDS_FRAMED;
    if (carrier == NULL || strcmp(carrier, "framed") == 0)
        return CFOIL_OK;
    if (strcmp(carrier, "parity") != 0)
        return carrier_refuse(error, "it must be framed or parity.");
    if (kind == PORT_TCP || kind == PORT_USB)
        return carrier_refuse(error, "parity needs a serial: port of this computer.");
    *way = WAY_WORDS_PARITY;
    return CFOIL_OK;
}

int32_t transport_way_find(const cfoil_adapter *adapter, const char *port, struct settings *settings,
                           enum transport_way *way, cfoil_error_info *error)
{
    struct port parsed;
    const char *carrier = settings_take(settings, "carrier");
    int32_t result = port_parse(port, &parsed, error);
    if (result != CFOIL_OK)
        return result;
    if ((adapter->capabilities & CFOIL_ADAPTER_WORDS) != 0)
        return words_way_find(carrier, parsed.kind, way, error);
    if (carrier != NULL)
        return carrier_refuse(error, "this adapter needs none, leave it out.");
    bool lines = (adapter->capabilities & CFOIL_ADAPTER_LINES) != 0;
    if (lines && parsed.kind == PORT_USB)
        return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, AREA,
                         "This adapter needs modem-control lines: use a serial: port, not usb:.");
    *way = lines ? WAY_LINES : WAY_BYTES;
    return CFOIL_OK;
}

/* ---- Opening ---- */

/* docs/word-carrier.md: the line to a bus controller is no bus; USB ones ignore the speed. */
static const cfoil_line framed_line = {115200, 8, 1, CFOIL_PARITY_NONE};

static int32_t serial_way_open(const struct memory *memory, const struct port *port, enum transport_way way,
                               const cfoil_line *line, struct transport **transport, cfoil_error_info *error)
{
    switch (way) {
    case WAY_WORDS_PARITY:
        return parity_open(memory, port, line, transport, error);
    case WAY_LINES:
        return lines_open(memory, port, line, transport, error);
    default:
        return serial_open(memory, port, way == WAY_WORDS_FRAMED ? &framed_line : line, transport, error);
    }
}

static int32_t stream_open(const struct memory *memory, const struct port *port, enum transport_way way,
                           const cfoil_line *line, uint64_t until_us, const struct os_signal *wake,
                           struct transport **transport, cfoil_error_info *error)
{
    if (port->kind == PORT_SERIAL)
        return serial_way_open(memory, port, way, line, transport, error);
    if (port->kind == PORT_TRACE)
        return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, AREA, "A trace is replayed, not opened as a port.");
    if (way == WAY_WORDS_PARITY)
        return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, AREA, "Parity is a matter of serial: ports.");
    if (port->kind == PORT_USB)
        return usb_open(memory, port, way == WAY_WORDS_FRAMED ? &framed_line : line, transport, error);
    return tcp_open(memory, port, until_us, wake, transport, error);
}

int32_t transport_open(const struct memory *memory, const char *port, enum transport_way way, const cfoil_line *line,
                       uint32_t timeout_ms, const struct os_signal *wake, struct transport **transport,
                       cfoil_error_info *error)
{
    *transport = NULL;
    struct port parsed;
    struct transport *stream = NULL;
    uint64_t until_us = os_monotonic_us() + (uint64_t)timeout_ms * 1000;
    int32_t result = port_parse(port, &parsed, error);
    if (result == CFOIL_OK)
        result = stream_open(memory, &parsed, way, line, until_us, wake, &stream, error);
    if (result != CFOIL_OK)
        return result;
    if (way == WAY_WORDS_FRAMED)
        return framed_open(memory, stream, until_us, wake, transport, error);
    *transport = stream;
    return CFOIL_OK;
}

/* ---- The open transport ---- */

void transport_close(struct transport *transport)
{
    if (transport != NULL)
        transport->kind->close(transport);
}

int32_t transport_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                       cfoil_error_info *error)
{
    *length = 0;
    return transport->kind->read(transport, bytes, capacity, length, error);
}

int32_t transport_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    return length == 0 ? CFOIL_OK : transport->kind->write(transport, bytes, length, error);
}

intptr_t transport_handle(const struct transport *transport)
{
    return transport->handle;
}

uint64_t transport_deadline(const struct transport *transport)
{
    return transport->kind->deadline != NULL ? transport->kind->deadline(transport) : UINT64_MAX;
}

bool transport_busy(const struct transport *transport)
{
    return transport->kind->busy != NULL && transport->kind->busy(transport);
}

const char *transport_notice(struct transport *transport)
{
    return transport->kind->notice != NULL ? transport->kind->notice(transport) : NULL;
}
