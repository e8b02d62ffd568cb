/*
 * Which kind of transport serves a port? See transport.h.
 */
#include "transport/transport.h"

#include "model/error.h"
#include "os/os.h"
#include "transport/kinds.h"

int32_t transport_port_check(const char *port, cfoil_error_info *error)
{
    struct port parsed;
    return port_parse(port, &parsed, error);
}

int32_t transport_open(const struct memory *memory, const char *port, const cfoil_line *line, uint32_t timeout_ms,
                       const struct os_signal *wake, struct transport **transport, cfoil_error_info *error)
{
    *transport = NULL;
    struct port parsed;
    int32_t result = port_parse(port, &parsed, error);
    if (result != CFOIL_OK)
        return result;
    if (parsed.kind == PORT_SERIAL)
        return serial_open(memory, &parsed, line, transport, error);
    if (parsed.kind == PORT_TCP)
        return tcp_open(memory, &parsed, os_monotonic_us() + (uint64_t)timeout_ms * 1000, wake, transport, error);
    return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, "transport", "A trace is replayed, not opened as a port.");
}

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
