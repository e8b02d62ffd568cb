/*
 * The table that each kind of transport fills, and the kinds there are.
 */
#ifndef TRANSPORT_KINDS_H
#define TRANSPORT_KINDS_H

#include "transport/port.h"
#include "transport/transport.h"

/* Longest time that a write may take. */
#define TRANSPORT_WRITE_MAX_MS 500

struct transport_kind {
    void (*close)(struct transport *transport);
    int32_t (*read)(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                    cfoil_error_info *error);
    int32_t (*write)(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error);

    /* Optional: NULL = nothing is ever due by time, written bytes are on their way, there is nothing to say. */
    uint64_t (*deadline)(const struct transport *transport);
    bool (*busy)(const struct transport *transport);
    const char *(*notice)(struct transport *transport);
};

/* Each kind's own struct begins with this one. */
struct transport {
    const struct transport_kind *kind;
    const struct memory *memory;
    intptr_t handle;
};

int32_t serial_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                    struct transport **transport, cfoil_error_info *error);
int32_t tcp_open(const struct memory *memory, const struct port *port, uint64_t until_us, const struct os_signal *wake,
                 struct transport **transport, cfoil_error_info *error);

/* A USB device. Takes at most about 5 s; `line` is for those with a serial line behind them. */
int32_t usb_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                 struct transport **transport, cfoil_error_info *error);

/* Words over a byte stream. Takes `inner` over, also on failure. */
int32_t framed_open(const struct memory *memory, struct transport *inner, uint64_t until_us,
                    const struct os_signal *wake, struct transport **transport, cfoil_error_info *error);

/* Words on a plain serial port, by mark and space parity. */
int32_t parity_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                    struct transport **transport, cfoil_error_info *error);

/* The modem-control lines of a serial port. */
int32_t lines_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                   struct transport **transport, cfoil_error_info *error);

#endif
