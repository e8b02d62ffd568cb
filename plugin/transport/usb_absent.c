/*
 * What does a build without USB answer? (COUNTERFOIL_USB=OFF)
 */
#include "transport/arrival.h"
#include "transport/kinds.h"
#include "transport/ports.h"

#include "model/error.h"

#include <stddef.h>

int32_t usb_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                 struct transport **transport, cfoil_error_info *error)
{
    (void)memory;
    (void)port;
    (void)line;
    *transport = NULL;
    return error_set(error, CFOIL_E_PORT_FAILED, 0, "transport",
                     "This library was built without USB: use the device's serial: port, or a build with it.");
}

struct arrival *arrival_begin(const struct memory *memory)
{
    (void)memory;
    return NULL;
}

void arrival_end(struct arrival *arrival)
{
    (void)arrival;
}

intptr_t arrival_handle(const struct arrival *arrival)
{
    (void)arrival;
    return -1;
}

void arrival_clear(struct arrival *arrival)
{
    (void)arrival;
}

int32_t usb_ports_visit(port_visit visit, void *user, cfoil_error_info *error)
{
    (void)visit;
    (void)user;
    (void)error;
    return CFOIL_OK;
}
