/*
 * What do the modem-control lines of a serial port do? They are looked at every 5 ms; a change is one byte.
 */
#include "model/error.h"
#include "os/os.h"
#include "transport/serial.h"

#if !defined(_WIN32)
#include <termios.h>
#endif

#define SAMPLE_US UINT64_C(5000)

struct lines {
    struct serial serial;
    uint64_t sample_us; /* the next look */
    int32_t seen;       /* CFOIL_LINE_* told last; -1 = none */
};

static uint8_t inputs_of(enum sp_signal signals)
{
    unsigned found = (unsigned)signals;
    return (uint8_t)(((found & SP_SIG_CTS) != 0 ? CFOIL_LINE_CTS : 0) |
                     ((found & SP_SIG_DSR) != 0 ? CFOIL_LINE_DSR : 0) |
                     ((found & SP_SIG_DCD) != 0 ? CFOIL_LINE_DCD : 0) | ((found & SP_SIG_RI) != 0 ? CFOIL_LINE_RI : 0));
}

static int32_t lines_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                          cfoil_error_info *error)
{
    struct lines *lines = (struct lines *)transport;
    uint64_t now_us = os_monotonic_us();
    if (now_us < lines->sample_us || capacity == 0)
        return CFOIL_OK;
    /* A look that came late shifts those after it: two looks in a row would see the same. */
    lines->sample_us = now_us + SAMPLE_US;
    enum sp_signal signals = (enum sp_signal)0;
    if (sp_get_signals(lines->serial.port, &signals) != SP_OK)
        return serial_gone(error, sp_last_error_code());
    uint8_t inputs = inputs_of(signals);
    if (inputs == lines->seen)
        return CFOIL_OK;
    lines->seen = inputs;
    bytes[0] = inputs;
    *length = 1;
    return CFOIL_OK;
}

static int32_t lines_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    struct sp_port *port = ((struct lines *)transport)->serial.port;
    for (uint32_t i = 0; i < length; i++) {
        enum sp_dtr dtr = (bytes[i] & CFOIL_LINE_DTR) != 0 ? SP_DTR_ON : SP_DTR_OFF;
        enum sp_rts rts = (bytes[i] & CFOIL_LINE_RTS) != 0 ? SP_RTS_ON : SP_RTS_OFF;
        if (sp_set_dtr(port, dtr) != SP_OK || sp_set_rts(port, rts) != SP_OK)
            return serial_gone(error, sp_last_error_code());
    }
    return CFOIL_OK;
}

static uint64_t lines_deadline(const struct transport *transport)
{
    return ((const struct lines *)transport)->sample_us;
}

static const struct transport_kind lines_kind = {
    .close = serial_close, .read = lines_read, .write = lines_write, .deadline = lines_deadline};

#if !defined(_WIN32)
/* Both outputs off as soon as nobody has the port open any more, also when the program was killed. Where it cannot be
 * had, the outputs stay as they are. */
static void hang_up_set(intptr_t handle)
{
    struct termios settings;
    if (tcgetattr((int)handle, &settings) != 0)
        return;
    settings.c_cflag |= HUPCL;
    (void)tcsetattr((int)handle, TCSANOW, &settings);
}
#endif

int32_t lines_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                   struct transport **transport, cfoil_error_info *error)
{
    struct lines *lines = memory_allocate(memory, sizeof *lines);
    if (lines == NULL)
        return error_memory_set(error, "transport");
    lines->serial.base = (struct transport){&lines_kind, memory, -1};
    lines->seen = -1;
    int32_t result = serial_port_open(&lines->serial, port, line, SERIAL_OUTPUTS_OFF, error);
    if (result != CFOIL_OK) {
        memory_release(memory, lines);
        return result;
    }
    hang_up_set(lines->serial.base.handle);
    lines->serial.base.handle = -1; /* characters on the line mean nothing here and must wake nobody */
    *transport = &lines->serial.base;
    return CFOIL_OK;
}
