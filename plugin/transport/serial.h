/*
 * What the users of a serial port share: the open port and what is done to it.
 */
#ifndef TRANSPORT_SERIAL_H
#define TRANSPORT_SERIAL_H

#include "transport/kinds.h"

#include <libserialport.h>

struct serial {
    struct transport base;
    struct sp_port *port;
};

enum serial_outputs { SERIAL_OUTPUTS_OFF, SERIAL_OUTPUTS_ON }; /* DTR and RTS */

/* Opens the port for this program alone and sets the line; nothing is left open on failure. */
int32_t serial_port_open(struct serial *serial, const struct port *port, const cfoil_line *line,
                         enum serial_outputs outputs, cfoil_error_info *error);
int32_t serial_gone(cfoil_error_info *error, int os_code); /* CFOIL_E_PORT_GONE */

/* For struct transport_kind. */
void serial_close(struct transport *transport);
int32_t serial_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                    cfoil_error_info *error);
int32_t serial_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error);

#endif
