/*
 * A stand-in for libserialport over a pseudo-terminal, which the real one cannot open: it hands the descriptor on and
 * keeps an account of what it was asked to do. Include it once in a test program, with _GNU_SOURCE defined.
 */
#ifndef UNIT_TRANSPORT_SERIAL_STANDIN_H
#define UNIT_TRANSPORT_SERIAL_STANDIN_H

#include "test.h"

#include "model/memory.h"
#include "os/os.h"
#include "transport/transport.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <termios.h>
#include <unistd.h>

/* ---- What the stand-in does ---- */

struct sp_port {
    int handle;
};

struct sp_port_config {
    int baud;
    int bits;
    int stop_bits;
    enum sp_parity parity;
};

static struct {
    int controller;
    int os_code;
    int opened; /* descriptors and blocks not given back */
    char device[64];
    enum sp_return by_name;
    enum sp_return open;
    enum sp_return set;
    enum sp_return new_config;
    enum sp_return get;
    enum sp_return write; /* 0 = as it is */
    bool parity_dropped;
    bool mark_ignored;
    bool outputs_off; /* DTR and RTS are to be off at the start */
    enum sp_parity parity;
    enum sp_return set_parity;
    enum sp_return drain;
    enum sp_return start_break;
    enum sp_return end_break;
    enum sp_return get_signals;
    enum sp_return set_dtr;
    enum sp_return set_rts;
    enum sp_signal signals;
    int output_waiting;
    char
        account[512]; /* M, S = parity set; D = drained; B, b = break begun, ended; hexadecimal = written; T, t, R, r */
    bool unknown_after;
} line_state;

static void account(const char *format, ...)
{
    size_t filled = strlen(line_state.account);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line_state.account + filled, sizeof line_state.account - filled, format, arguments);
    va_end(arguments);
}

/* What was done since the last time. */
static inline void account_expect(const char *expected)
{
    assert_string_equal(line_state.account, expected);
    line_state.account[0] = '\0';
}

enum sp_return sp_get_port_by_name(const char *name, struct sp_port **port)
{
    assert_string_equal(name, line_state.device);
    if (line_state.by_name != SP_OK)
        return line_state.by_name;
    *port = malloc(sizeof **port);
    assert_non_null(*port);
    (*port)->handle = -1;
    line_state.opened++;
    return SP_OK;
}

void sp_free_port(struct sp_port *port)
{
    free(port);
    line_state.opened--;
}

enum sp_return sp_open(struct sp_port *port, enum sp_mode mode)
{
    assert_int_equal(mode, SP_MODE_READ_WRITE);
    if (line_state.open != SP_OK)
        return line_state.open;
    port->handle = open(line_state.device, O_RDWR | O_NOCTTY | O_NONBLOCK);
    assert_true(port->handle >= 0);
    struct termios raw;
    tcgetattr(port->handle, &raw);
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG);
    raw.c_iflag &= ~(tcflag_t)(ICRNL | IXON);
    raw.c_oflag &= ~(tcflag_t)OPOST;
    raw.c_cc[VMIN] = 0;
    raw.c_cc[VTIME] = 0;
    tcsetattr(port->handle, TCSANOW, &raw);
    line_state.opened++;
    return SP_OK;
}

enum sp_return sp_close(struct sp_port *port)
{
    close(port->handle);
    line_state.opened--;
    return SP_OK;
}

enum sp_return sp_get_port_handle(const struct sp_port *port, void *handle)
{
    *(int *)handle = port->handle;
    return SP_OK;
}

int sp_last_error_code(void)
{
    return line_state.os_code != 0 ? line_state.os_code : errno;
}

enum sp_return sp_new_config(struct sp_port_config **config)
{
    if (line_state.new_config != SP_OK)
        return line_state.new_config;
    *config = calloc(1, sizeof **config);
    assert_non_null(*config);
    line_state.opened++;
    return SP_OK;
}

void sp_free_config(struct sp_port_config *config)
{
    free(config);
    line_state.opened--;
}

enum sp_return sp_set_config_baudrate(struct sp_port_config *config, int baud)
{
    config->baud = baud;
    return SP_OK;
}

enum sp_return sp_set_config_bits(struct sp_port_config *config, int bits)
{
    config->bits = bits;
    return SP_OK;
}

enum sp_return sp_set_config_stopbits(struct sp_port_config *config, int stop_bits)
{
    config->stop_bits = stop_bits;
    return SP_OK;
}

enum sp_return sp_set_config_parity(struct sp_port_config *config, enum sp_parity parity)
{
    config->parity = parity;
    return parity == SP_PARITY_INVALID ? SP_ERR_ARG : SP_OK;
}

enum sp_return sp_set_config_flowcontrol(struct sp_port_config *config, enum sp_flowcontrol control)
{
    (void)config;
    assert_int_equal(control, SP_FLOWCONTROL_NONE);
    return SP_OK;
}

enum sp_return sp_set_config_rts(struct sp_port_config *config, enum sp_rts rts)
{
    (void)config;
    assert_int_equal(rts, line_state.outputs_off ? SP_RTS_OFF : SP_RTS_ON);
    return SP_OK;
}

enum sp_return sp_set_config_dtr(struct sp_port_config *config, enum sp_dtr dtr)
{
    (void)config;
    assert_int_equal(dtr, line_state.outputs_off ? SP_DTR_OFF : SP_DTR_ON);
    return SP_OK;
}

enum sp_return sp_set_config(struct sp_port *port, const struct sp_port_config *config)
{
    (void)port;
    line_state.parity = config->parity;
    return line_state.set;
}

enum sp_return sp_get_config(struct sp_port *port, struct sp_port_config *config)
{
    (void)port;
    config->parity = line_state.parity;
    if (line_state.parity_dropped)
        config->parity = SP_PARITY_NONE;
    if (line_state.unknown_after)
        *config = (struct sp_port_config){-1, -1, -1, SP_PARITY_INVALID};
    return line_state.get;
}

enum sp_return sp_get_config_baudrate(const struct sp_port_config *config, int *baud)
{
    *baud = config->baud;
    return SP_OK;
}

enum sp_return sp_get_config_bits(const struct sp_port_config *config, int *bits)
{
    *bits = config->bits;
    return SP_OK;
}

enum sp_return sp_get_config_stopbits(const struct sp_port_config *config, int *stop_bits)
{
    *stop_bits = config->stop_bits;
    return SP_OK;
}

enum sp_return sp_get_config_parity(const struct sp_port_config *config, enum sp_parity *parity)
{
    *parity = config->parity;
    return SP_OK;
}

enum sp_return sp_flush(struct sp_port *port, enum sp_buffer buffers)
{
    assert_int_equal(buffers, SP_BUF_BOTH);
    tcflush(port->handle, TCIOFLUSH);
    return SP_OK;
}

enum sp_return sp_nonblocking_read(struct sp_port *port, void *bytes, size_t count)
{
    ssize_t length = read(port->handle, bytes, count);
    if (length < 0)
        return errno == EAGAIN ? SP_OK : SP_ERR_FAIL;
    return (enum sp_return)length;
}

enum sp_return sp_blocking_write(struct sp_port *port, const void *bytes, size_t count, unsigned int timeout_ms)
{
    assert_int_equal(timeout_ms, 500);
    if (line_state.write != SP_OK)
        return line_state.write;
    for (size_t i = 0; i < count; i++)
        account("%02x", ((const uint8_t *)bytes)[i]);
    return (enum sp_return)write(port->handle, bytes, count);
}

enum sp_return sp_set_parity(struct sp_port *port, enum sp_parity parity)
{
    (void)port;
    account(parity == SP_PARITY_MARK ? "M" : "S");
    if (!line_state.mark_ignored)
        line_state.parity = parity;
    return line_state.set_parity;
}

enum sp_return sp_drain(struct sp_port *port)
{
    (void)port;
    account("D");
    return line_state.drain;
}

enum sp_return sp_output_waiting(struct sp_port *port)
{
    (void)port;
    if (line_state.output_waiting <= 0)
        return (enum sp_return)0;
    return (enum sp_return)line_state.output_waiting--;
}

enum sp_return sp_start_break(struct sp_port *port)
{
    (void)port;
    account("B");
    return line_state.start_break;
}

enum sp_return sp_end_break(struct sp_port *port)
{
    (void)port;
    account("b");
    return line_state.end_break;
}

enum sp_return sp_get_signals(struct sp_port *port, enum sp_signal *signals)
{
    (void)port;
    *signals = line_state.signals;
    return line_state.get_signals;
}

enum sp_return sp_set_dtr(struct sp_port *port, enum sp_dtr dtr)
{
    (void)port;
    account(dtr == SP_DTR_ON ? "T" : "t");
    return line_state.set_dtr;
}

enum sp_return sp_set_rts(struct sp_port *port, enum sp_rts rts)
{
    (void)port;
    account(rts == SP_RTS_ON ? "R" : "r");
    return line_state.set_rts;
}

/* ---- Setting up ---- */

static inline int line_begin(void **state)
{
    (void)state;
    memset(&line_state, 0, sizeof line_state);
    line_state.controller = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(line_state.controller >= 0);
    assert_int_equal(grantpt(line_state.controller), 0);
    assert_int_equal(unlockpt(line_state.controller), 0);
    snprintf(line_state.device, sizeof line_state.device, "%s", ptsname(line_state.controller));
    return 0;
}

static inline int line_end(void **state)
{
    (void)state;
    if (line_state.controller >= 0)
        close(line_state.controller);
    return line_state.opened; /* everything was given back */
}

static inline int32_t line_open_as(enum transport_way way, const cfoil_line *wanted, struct transport **transport,
                                   cfoil_error_info *error)
{
    char port[80];
    snprintf(port, sizeof port, "serial:%s", line_state.device);
    return transport_open(&memory_heap, port, way, wanted, 1000, NULL, transport, error);
}

#endif
