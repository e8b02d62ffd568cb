/*
 * The way to a device: serial port, TCP connection, USB device, or a trace that is replayed. One small table each.
 */
#ifndef TRANSPORT_TRANSPORT_H
#define TRANSPORT_TRANSPORT_H

#include "model/memory.h"

#include <counterfoil/adapter.h>
#include <stdbool.h>

struct os_signal;
struct settings;
struct transport;

/* What the reader and writer mean by bytes (CFOIL_ADAPTER_WORDS, _LINES), and how it travels. */
enum transport_way {
    WAY_BYTES = 0,
    WAY_WORDS_FRAMED = 1, /* docs/word-carrier.md */
    WAY_WORDS_PARITY = 2, /* the same page, "A plain serial port instead" */
    WAY_LINES = 3         /* docs/adapters.md, "Modem-control lines" */
};

/* Is the port string well formed? CFOIL_OK or CFOIL_E_ARGUMENT_PORT. */
int32_t transport_port_check(const char *port, cfoil_error_info *error);

/* Which way does this adapter need on this port? Takes the setting `carrier` out of the settings, so that the adapter
 * does not see it. CFOIL_OK, CFOIL_E_ARGUMENT_SETTING, CFOIL_E_ARGUMENT_PORT. */
int32_t transport_way_find(const cfoil_adapter *adapter, const char *port, struct settings *settings,
                           enum transport_way *way, cfoil_error_info *error);

/* Opens a port. Returns CFOIL_E_PORT_* on failure, within `timeout_ms` or as soon as `wake` is set
 * (CFOIL_E_STATE_CLOSING; a USB device answers within 5 s by itself). Never for trace ports: trace.h drives those. */
int32_t transport_open(const struct memory *memory, const char *port, enum transport_way way, const cfoil_line *line,
                       uint32_t timeout_ms, const struct os_signal *wake, struct transport **transport,
                       cfoil_error_info *error);
void transport_close(struct transport *transport); /* NULL is harmless */

/* Reads what is there, without waiting. *length = 0 is fine; CFOIL_E_PORT_GONE when the other end has gone. What came
 * by an earlier call counts as safe with the reader. Words: at most one block a call. */
int32_t transport_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                       cfoil_error_info *error);

/* Writes all bytes or fails, within 500 ms. Words: one block. USB reports: one message. */
int32_t transport_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error);

/* Native handle that is readable when bytes or the end have come; -1 = nothing to watch, there is a deadline. */
intptr_t transport_handle(const struct transport *transport);

/* System's clock: read then, whether or not bytes have come. UINT64_MAX = only when they have. */
uint64_t transport_deadline(const struct transport *transport);

/* Is something that was written still here, or without the other end's answer? */
bool transport_busy(const struct transport *transport);

/* One English line for the log, once each; NULL = nothing to say. */
const char *transport_notice(struct transport *transport);

#endif
