/*
 * The serial transport over a pseudo-terminal: a stand-in for libserialport, which cannot open one, hands its descriptor
 * on. Settings read back, exclusive use, bytes, unplugging and time-outs are the transport's own and are tested here.
 */
#if defined(__linux__)
#define _GNU_SOURCE /* posix_openpt and friends */
#endif
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
    bool unknown_after;
} line_state;

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
    assert_int_equal(rts, SP_RTS_ON);
    return SP_OK;
}

enum sp_return sp_set_config_dtr(struct sp_port_config *config, enum sp_dtr dtr)
{
    (void)config;
    assert_int_equal(dtr, SP_DTR_ON);
    return SP_OK;
}

enum sp_return sp_set_config(struct sp_port *port, const struct sp_port_config *config)
{
    (void)port;
    (void)config;
    return line_state.set;
}

enum sp_return sp_get_config(struct sp_port *port, struct sp_port_config *config)
{
    (void)port;
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
    return (enum sp_return)write(port->handle, bytes, count);
}

/* ---- The tests ---- */

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_EVEN};

static int line_begin(void **state)
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

static int line_end(void **state)
{
    (void)state;
    if (line_state.controller >= 0)
        close(line_state.controller);
    return line_state.opened; /* everything was given back */
}

static int32_t line_open(const cfoil_line *wanted, struct transport **transport, cfoil_error_info *error)
{
    char port[80];
    snprintf(port, sizeof port, "serial:%s", line_state.device);
    return transport_open(&memory_heap, port, WAY_BYTES, wanted, 1000, NULL, transport, error);
}

static void test_bytes_and_unplug(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    uint8_t bytes[16];
    uint32_t length = 9;
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 0);
    assert_int_equal(write(line_state.controller, "abc", 3), 3);
    assert_int_equal(os_wait(transport_handle(transport), NULL, os_monotonic_us() + 5000000), OS_READY_PORT);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 3);
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_OK);
    assert_int_equal(read(line_state.controller, bytes, sizeof bytes), 3);
    assert_memory_equal(bytes, "xyz", 3);
    close(line_state.controller);
    line_state.controller = -1;
    assert_int_equal(os_wait(transport_handle(transport), NULL, os_monotonic_us() + 5000000), OS_READY_PORT);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_E_PORT_GONE);
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_GONE);
    transport_close(transport);
}

static void test_write_time_out(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    line_state.write = (enum sp_return)2;
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_FAILED);
    transport_close(transport);
}

/* Each of two ways to find that somebody else has the port. */
static void test_exclusive(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int other = open(line_state.device, O_RDWR | O_NOCTTY);
    assert_int_equal(flock(other, LOCK_EX), 0);
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_E_PORT_BUSY);
    assert_non_null(strstr(error.text, "another program"));
    assert_null(transport);
    close(other);
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    struct transport *second = NULL;
    assert_int_equal(line_open(&line, &second, &error), CFOIL_E_PORT_BUSY);
    transport_close(transport);
}

static void settings_refused(const cfoil_line *wanted, int32_t result)
{
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open(wanted, &transport, &error), result);
    assert_null(transport);
    assert_int_equal(error.result, result);
}

static void test_settings(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_line odd = line;
    odd.parity = 9;
    settings_refused(&odd, CFOIL_E_PORT_SETTINGS);
    line_state.set = SP_ERR_FAIL;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    line_state.set = SP_OK;
    line_state.get = SP_ERR_FAIL;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    line_state.get = SP_OK;
    line_state.new_config = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.new_config = SP_OK;
    /* The driver said yes and did nothing. */
    line_state.parity_dropped = true;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    /* A driver that cannot tell is believed. */
    line_state.unknown_after = true;
    assert_int_equal(line_open(&line, &transport, NULL), CFOIL_OK);
    transport_close(transport);
}

static void test_open_failures(void **state)
{
    (void)state;
    static const struct {
        int os_code;
        int32_t result;
    } cases[] = {
        {ENOENT, CFOIL_E_PORT_MISSING}, {ENODEV, CFOIL_E_PORT_MISSING}, {ENXIO, CFOIL_E_PORT_MISSING},
        {EBUSY, CFOIL_E_PORT_BUSY},     {EACCES, CFOIL_E_PORT_DENIED},  {EPERM, CFOIL_E_PORT_DENIED},
        {EIO, CFOIL_E_PORT_FAILED},
    };
    line_state.open = SP_ERR_FAIL;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        line_state.os_code = cases[i].os_code;
        settings_refused(&line, cases[i].result);
    }
    line_state.open = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.by_name = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.by_name = SP_ERR_SUPP;
    settings_refused(&line, CFOIL_E_PORT_FAILED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_bytes_and_unplug, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_write_time_out, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_exclusive, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_settings, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_open_failures, line_begin, line_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
