/*
 * The way to a device: serial port, TCP connection, or a trace that is replayed. One small table each.
 */
#ifndef TRANSPORT_TRANSPORT_H
#define TRANSPORT_TRANSPORT_H

#include "model/memory.h"

#include <counterfoil/adapter.h>
#include <stdbool.h>

struct os_signal;
struct transport;

/* Is the port string well formed? CFOIL_OK or CFOIL_E_ARGUMENT_PORT. */
int32_t transport_port_check(const char *port, cfoil_error_info *error);

/* Opens a port. Returns CFOIL_E_PORT_* on failure, within `timeout_ms` or as soon as `wake` is set
 * (CFOIL_E_STATE_CLOSING). Never for trace ports: trace.h drives those. */
int32_t transport_open(const struct memory *memory, const char *port, const cfoil_line *line, uint32_t timeout_ms,
                       const struct os_signal *wake, struct transport **transport, cfoil_error_info *error);
void transport_close(struct transport *transport); /* NULL is harmless */

/* Reads what is there, without waiting. *length = 0 is fine; CFOIL_E_PORT_GONE when the other end has gone. */
int32_t transport_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                       cfoil_error_info *error);

/* Writes all bytes or fails, within 500 ms. */
int32_t transport_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error);

/* Native handle that is readable when bytes or the end have come. */
intptr_t transport_handle(const struct transport *transport);

#endif
