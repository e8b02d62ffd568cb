/*
 * What a port string says: "serial:DEVICE", "tcp:HOST:PORT", "tcp:[IPV6]:PORT", "usb:VID:PID..." or "trace:FILE",
 * taken apart.
 */
#ifndef TRANSPORT_PORT_H
#define TRANSPORT_PORT_H

#include <counterfoil/counterfoil.h>

#define PORT_TEXT_MAX 511

enum port_kind { PORT_SERIAL = 1, PORT_TCP = 2, PORT_TRACE = 3, PORT_USB = 4 };

struct port {
    enum port_kind kind;
    char place[PORT_TEXT_MAX + 1]; /* device, host without brackets, file, or what usb_name.h reads */
    char service[8];               /* TCP: the number as text, else "" */
};

/* CFOIL_OK or CFOIL_E_ARGUMENT_PORT. */
int32_t port_parse(const char *text, struct port *port, cfoil_error_info *error);

#endif
