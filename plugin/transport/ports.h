/*
 * The ports of this computer: serial ones and USB devices that carry bytes both ways. Nothing is written to any of them.
 */
#ifndef TRANSPORT_PORTS_H
#define TRANSPORT_PORTS_H

#include "transport/usb_name.h"

#include <stdbool.h>
#include <stdint.h>

#define PORT_LABEL_MAX 127

enum port_carrier { PORT_CARRIER_SERIAL, PORT_CARRIER_PIPE, PORT_CARRIER_REPORTS, PORT_CARRIER_ACM };

struct port_found {
    char port[PORT_LABEL_MAX + USB_NAME_MAX + 8]; /* as lanes take it */
    enum port_carrier carrier;
    bool usb; /* the numbers below are known */
    uint16_t vendor;
    uint16_t product;
    bool system_driver; /* a driver of the system holds it: better by its serial: port, or with /detach=yes */
    int32_t result;     /* CFOIL_OK, or why the device could not be asked for its texts */
    char serial[PORT_LABEL_MAX + 1];
    char maker[PORT_LABEL_MAX + 1]; /* as the device says, "" = nothing that is printable */
    char label[PORT_LABEL_MAX + 1];
};

typedef void (*port_visit)(void *user, const struct port_found *found);

/* Each calls `visit` for every port there is. CFOIL_OK, CFOIL_E_MEMORY, CFOIL_E_PORT_FAILED. */
int32_t serial_ports_visit(port_visit visit, void *user, cfoil_error_info *error);
int32_t usb_ports_visit(port_visit visit, void *user, cfoil_error_info *error);

/* A text that a device tells, or "" when it is not one that can be shown. */
void port_text_take(char target[PORT_LABEL_MAX + 1], const char *text);

#endif
