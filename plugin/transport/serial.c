/*
 * How is a serial port opened, set and watched? Through libserialport, and with it the numbering of COM ports on
 * Windows.
 */
#if defined(__linux__)
#define _GNU_SOURCE /* realpath */
#endif

#include "transport/serial.h"

#include "model/error.h"
#include "model/text.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#if !defined(_WIN32)
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#endif

#define AREA "transport"

static int32_t result_of(int os_code)
{
    switch (os_code) {
    case ENOENT:
    case ENODEV:
    case ENXIO:
    case ENOTDIR:
        return CFOIL_E_PORT_MISSING;
    case EBUSY:
    case EWOULDBLOCK:
        return CFOIL_E_PORT_BUSY;
    case EACCES:
    case EPERM:
        return CFOIL_E_PORT_DENIED;
    default:
        return CFOIL_E_PORT_FAILED;
    }
}

static int32_t open_failure(cfoil_error_info *error, int os_code, const char *device)
{
    int32_t result = result_of(os_code);
    const char *advice = result == CFOIL_E_PORT_MISSING  ? "is not there: plug the device in or correct the name"
                         : result == CFOIL_E_PORT_BUSY   ? "is in use by another program: close that program"
                         : result == CFOIL_E_PORT_DENIED ? "may not be opened by this user: grant access to it"
                                                         : "could not be opened: check cable and driver";
    char shown[121];
    text_copy(shown, sizeof shown, device); /* cut between characters */
    return error_set(error, result, os_code, AREA, "Serial port %s %s.", shown, advice);
}

/* libserialport has three answers besides the system's own. */
static int32_t library_failure(cfoil_error_info *error, enum sp_return answer, const char *device)
{
    if (answer == SP_ERR_FAIL)
        return open_failure(error, sp_last_error_code(), device);
    if (answer == SP_ERR_MEM)
        return error_memory_set(error, AREA);
    char shown[121];
    text_copy(shown, sizeof shown, device);
    return error_set(error, CFOIL_E_PORT_FAILED, 0, AREA,
                     "%s is not a serial port that the system lists: name a real serial port.", shown);
}

#if !defined(_WIN32)
/* libserialport on Linux knows a port by its kernel name only, so that the lasting names under /dev/serial/by-id, which
 * are links, have to be followed first. */
static int32_t name_resolve(const char *device, char resolved[PATH_MAX], cfoil_error_info *error)
{
    if (realpath(device, resolved) == NULL)
        return open_failure(error, errno, device);
    return CFOIL_OK;
}

/* One program at a time: TIOCEXCL keeps later opens out, the lock keeps out those that opened earlier or run as root.
 */
static int32_t exclusive_take(intptr_t handle, const char *device, cfoil_error_info *error)
{
    if (flock((int)handle, LOCK_EX | LOCK_NB) != 0)
        return open_failure(error, errno, device);
    if (ioctl((int)handle, TIOCEXCL) != 0)
        return open_failure(error, errno, device);
    return CFOIL_OK;
}

/* An unplugged port reads as empty for ever; only poll tells. */
static bool hung_up(intptr_t handle)
{
    struct pollfd item = {.fd = (int)handle, .events = POLLIN};
    return poll(&item, 1, 0) > 0 && (item.revents & (POLLHUP | POLLERR | POLLNVAL)) != 0;
}

static intptr_t native_handle(struct sp_port *port)
{
    int handle = -1;
    return sp_get_port_handle(port, &handle) == SP_OK ? handle : -1;
}
#endif

static enum sp_parity parity_of(int32_t parity)
{
    static const enum sp_parity parities[] = {SP_PARITY_NONE, SP_PARITY_EVEN, SP_PARITY_ODD, SP_PARITY_MARK,
                                              SP_PARITY_SPACE};
    return parity >= CFOIL_PARITY_NONE && parity <= CFOIL_PARITY_SPACE ? parities[parity] : SP_PARITY_INVALID;
}

static bool config_fill(struct sp_port_config *config, const cfoil_line *line, enum serial_outputs outputs)
{
    bool on = outputs == SERIAL_OUTPUTS_ON;
    return sp_set_config_baudrate(config, (int)line->baud) == SP_OK &&
           sp_set_config_bits(config, (int)line->data_bits) == SP_OK &&
           sp_set_config_stopbits(config, (int)line->stop_bits) == SP_OK &&
           sp_set_config_parity(config, parity_of(line->parity)) == SP_OK &&
           sp_set_config_flowcontrol(config, SP_FLOWCONTROL_NONE) == SP_OK &&
           sp_set_config_rts(config, on ? SP_RTS_ON : SP_RTS_OFF) == SP_OK &&
           sp_set_config_dtr(config, on ? SP_DTR_ON : SP_DTR_OFF) == SP_OK;
}

/* A value that cannot be read back (-1) is not held against the port. */
static bool same(int wanted, int found)
{
    return found < 0 || wanted == found;
}

/* Some drivers drop a setting without a word, for example mark parity: look at what they made of it. */
static bool config_confirmed(struct sp_port *port, struct sp_port_config *config, const cfoil_line *line)
{
    int baud = -1;
    int bits = -1;
    int stop_bits = -1;
    enum sp_parity parity = SP_PARITY_INVALID;
    if (sp_get_config(port, config) != SP_OK)
        return false;
    sp_get_config_baudrate(config, &baud);
    sp_get_config_bits(config, &bits);
    sp_get_config_stopbits(config, &stop_bits);
    sp_get_config_parity(config, &parity);
    return same((int)line->baud, baud) && same((int)line->data_bits, bits) && same((int)line->stop_bits, stop_bits) &&
           same((int)parity_of(line->parity), (int)parity);
}

static int32_t settings_failure(cfoil_error_info *error, const cfoil_line *line, const char *device)
{
    static const char *const parities[] = {"no", "even", "odd", "mark", "space"};
    bool known = line->parity >= CFOIL_PARITY_NONE && line->parity <= CFOIL_PARITY_SPACE;
    char shown[101];
    text_copy(shown, sizeof shown, device);
    return error_set(error, CFOIL_E_PORT_SETTINGS, 0, AREA,
                     "Serial port %s cannot do %u baud, %u data bits, %s parity, %u stop bits: use another port.",
                     shown, (unsigned)line->baud, (unsigned)line->data_bits, known ? parities[line->parity] : "that",
                     (unsigned)line->stop_bits);
}

static int32_t line_set(struct sp_port *port, const cfoil_line *line, enum serial_outputs outputs, const char *device,
                        cfoil_error_info *error)
{
    struct sp_port_config *config;
    if (sp_new_config(&config) != SP_OK)
        return error_memory_set(error, AREA);
    bool good = config_fill(config, line, outputs) && sp_set_config(port, config) == SP_OK &&
                config_confirmed(port, config, line);
    sp_free_config(config);
    if (!good)
        return settings_failure(error, line, device);
    sp_flush(port, SP_BUF_BOTH); /* what came before we listened belongs to nobody */
    return CFOIL_OK;
}

void serial_close(struct transport *transport)
{
    struct serial *serial = (struct serial *)transport;
    sp_close(serial->port);
    sp_free_port(serial->port);
    memory_release(transport->memory, serial);
}

int32_t serial_gone(cfoil_error_info *error, int os_code)
{
    return error_set(error, CFOIL_E_PORT_GONE, os_code, AREA, "The serial port has gone: plug the device in again.");
}

int32_t serial_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                    cfoil_error_info *error)
{
    struct serial *serial = (struct serial *)transport;
    enum sp_return count = sp_nonblocking_read(serial->port, bytes, capacity);
    if (count < 0)
        return serial_gone(error, sp_last_error_code());
    *length = (uint32_t)count;
    return count == 0 && hung_up(transport->handle) ? serial_gone(error, 0) : CFOIL_OK;
}

int32_t serial_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    struct serial *serial = (struct serial *)transport;
    enum sp_return count = sp_blocking_write(serial->port, bytes, length, TRANSPORT_WRITE_MAX_MS);
    if (count < 0)
        return serial_gone(error, sp_last_error_code());
    if ((uint32_t)count < length)
        return error_set(error, CFOIL_E_PORT_FAILED, 0, AREA,
                         "The serial port takes no bytes: check cable and flow control.");
    return CFOIL_OK;
}

static int32_t port_open(struct sp_port *port, const cfoil_line *line, enum serial_outputs outputs, const char *device,
                         intptr_t *handle, cfoil_error_info *error)
{
    enum sp_return answer = sp_open(port, SP_MODE_READ_WRITE);
    if (answer != SP_OK)
        return library_failure(error, answer, device);
    *handle = native_handle(port);
    int32_t result = exclusive_take(*handle, device, error);
    if (result == CFOIL_OK)
        result = line_set(port, line, outputs, device, error);
    if (result != CFOIL_OK)
        sp_close(port);
    return result;
}

int32_t serial_port_open(struct serial *serial, const struct port *port, const cfoil_line *line,
                         enum serial_outputs outputs, cfoil_error_info *error)
{
    char device[PATH_MAX];
    int32_t result = name_resolve(port->place, device, error);
    if (result != CFOIL_OK)
        return result;
    enum sp_return answer = sp_get_port_by_name(device, &serial->port);
    if (answer != SP_OK)
        return library_failure(error, answer, port->place);
    result = port_open(serial->port, line, outputs, port->place, &serial->base.handle, error);
    if (result != CFOIL_OK)
        sp_free_port(serial->port);
    return result;
}

static const struct transport_kind serial_kind = {.close = serial_close, .read = serial_read, .write = serial_write};

int32_t serial_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                    struct transport **transport, cfoil_error_info *error)
{
    struct serial *serial = memory_allocate(memory, sizeof *serial);
    if (serial == NULL)
        return error_memory_set(error, AREA);
    serial->base = (struct transport){&serial_kind, memory, -1};
    /* Both modem lines on: level converters often draw their power from them. */
    int32_t result = serial_port_open(serial, port, line, SERIAL_OUTPUTS_ON, error);
    if (result == CFOIL_OK)
        *transport = &serial->base;
    else
        memory_release(memory, serial);
    return result;
}
