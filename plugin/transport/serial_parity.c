/*
 * How do words travel over a plain serial port? Mark and space parity carry the mode bit. The limits of this are in
 * docs/word-carrier.md; what bytes mean is in carrier_parity.c.
 */
#include "model/error.h"
#include "os/os.h"
#include "transport/carrier_parity.h"
#include "transport/serial.h"

#include <string.h>
#if !defined(_WIN32)
#include <termios.h>
#endif

#define AREA       "carrier"
#define WORDS_MAX  256u
#define RETRANSMIT 0xAAu            /* MDB/ICP section 2: besides a command, what has an answer */
#define BREAK_US   UINT64_C(100000) /* MDB/ICP section 3: at least 100 ms (from memory) */
#define DRAIN_US   UINT64_C(500000) /* 256 characters at 9600 baud take less */

struct parity {
    struct serial serial;
    struct parity_reader reader;
    bool breaking;
    uint64_t break_us; /* its end */
    uint32_t count;    /* words that wait for the end of a break */
    uint16_t words[WORDS_MAX];
};

static int32_t failed(cfoil_error_info *error, const char *text)
{
    return error_set(error, CFOIL_E_PORT_FAILED, sp_last_error_code(), AREA, "%s", text);
}

/* ---- To the line ---- */

/* Everything written has left. The driver's own wait has no limit, so it is asked only when it holds nothing more. */
static int32_t drain(struct parity *parity, cfoil_error_info *error)
{
    uint64_t until_us = os_monotonic_us() + DRAIN_US;
    while (sp_output_waiting(parity->serial.port) > 0) {
        if (os_monotonic_us() >= until_us)
            return failed(error, "The serial port takes no bytes: check cable and driver.");
        (void)os_wait(-1, NULL, os_monotonic_us() + 1000);
    }
    return sp_drain(parity->serial.port) == SP_OK ? CFOIL_OK : serial_gone(error, sp_last_error_code());
}

/* One run of words with the same mode bit. The line rests in space parity: it receives in that. */
static int32_t run_write(struct parity *parity, uint32_t length, cfoil_error_info *error)
{
    struct sp_port *port = parity->serial.port;
    uint8_t bytes[WORDS_MAX];
    bool mark = (parity->words[0] & 0x100u) != 0;
    parity->reader.asked = mark || parity->words[0] == RETRANSMIT;
    for (uint32_t i = 0; i < length; i++)
        bytes[i] = (uint8_t)(parity->words[i] & 0xFFu);
    int32_t result = CFOIL_OK;
    if (mark) {
        result = drain(parity, error); /* what left before must not get this parity */
        if (result == CFOIL_OK && sp_set_parity(port, SP_PARITY_MARK) != SP_OK)
            result = serial_gone(error, sp_last_error_code());
    }
    if (result == CFOIL_OK)
        result = serial_write(&parity->serial.base, bytes, length, error);
    if (result != CFOIL_OK || !mark)
        return result;
    result = drain(parity, error);
    if (result == CFOIL_OK && sp_set_parity(port, SP_PARITY_SPACE) != SP_OK)
        result = serial_gone(error, sp_last_error_code());
    return result;
}

static int32_t break_begin(struct parity *parity, cfoil_error_info *error)
{
    int32_t result = drain(parity, error);
    if (result != CFOIL_OK)
        return result;
    if (sp_start_break(parity->serial.port) != SP_OK)
        return failed(error, "The serial port cannot hold the line for a bus reset: use another port.");
    parity->breaking = true;
    parity->break_us = os_monotonic_us() + BREAK_US;
    return CFOIL_OK;
}

static int32_t front_write(struct parity *parity, cfoil_error_info *error)
{
    uint32_t length = parity_run(parity->words, parity->count);
    int32_t result = length > 0 ? run_write(parity, length, error) : break_begin(parity, error);
    uint32_t used = length > 0 ? length : 1;
    parity->count -= used;
    memmove(parity->words, parity->words + used, parity->count * sizeof parity->words[0]);
    return result;
}

/* Whatever may go out now. */
static int32_t pump(struct parity *parity, cfoil_error_info *error)
{
    if (parity->breaking && os_monotonic_us() >= parity->break_us) {
        parity->breaking = false;
        if (sp_end_break(parity->serial.port) != SP_OK)
            return serial_gone(error, sp_last_error_code());
    }
    int32_t result = CFOIL_OK;
    while (result == CFOIL_OK && !parity->breaking && parity->count > 0)
        result = front_write(parity, error);
    return result;
}

static int32_t parity_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    struct parity *parity = (struct parity *)transport;
    if (length % 2 != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "A block must be whole words.");
    if (length / 2 > WORDS_MAX - parity->count)
        return failed(error, "More words wait for the end of a bus reset than there is room for.");
    for (uint32_t i = 0; i < length; i += 2)
        parity->words[parity->count++] = (uint16_t)(bytes[i] | bytes[i + 1] << 8);
    return pump(parity, error);
}

/* ---- From the line ---- */

static int32_t parity_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                           cfoil_error_info *error)
{
    struct parity *parity = (struct parity *)transport;
    uint8_t received[512];
    uint32_t count = 0;
    int32_t result = pump(parity, error);
    if (result != CFOIL_OK)
        return result;
    uint32_t most = capacity / 2 < sizeof received ? capacity / 2 : (uint32_t)sizeof received;
    result = serial_read(transport, received, most, &count, error);
    for (uint32_t i = 0; i < count; i++) {
        uint16_t word;
        if (!parity_take(&parity->reader, received[i], &word))
            continue;
        bytes[(*length)++] = (uint8_t)(word & 0xFFu);
        bytes[(*length)++] = (uint8_t)(word >> 8);
    }
    return result;
}

static uint64_t parity_deadline(const struct transport *transport)
{
    const struct parity *parity = (const struct parity *)transport;
    return parity->breaking ? parity->break_us : UINT64_MAX;
}

static bool parity_busy(const struct transport *transport)
{
    const struct parity *parity = (const struct parity *)transport;
    return parity->breaking || parity->count > 0;
}

static void parity_close(struct transport *transport)
{
    struct parity *parity = (struct parity *)transport;
    if (parity->breaking)
        sp_end_break(parity->serial.port); /* or the bus stays dead for everybody */
    serial_close(transport);
}

static const struct transport_kind parity_kind = {.close = parity_close,
                                                  .read = parity_read,
                                                  .write = parity_write,
                                                  .deadline = parity_deadline,
                                                  .busy = parity_busy};

/* ---- Opening ---- */

#if !defined(_WIN32)
/* Parity errors are marked in the input, and nothing is dropped or changed (GNU C Library manual, Input Modes). */
static bool marking_set(intptr_t handle)
{
    struct termios settings;
    if (tcgetattr((int)handle, &settings) != 0)
        return false;
    settings.c_iflag |= INPCK | PARMRK;
    settings.c_iflag &= ~(tcflag_t)(IGNPAR | ISTRIP | IGNBRK | BRKINT);
    if (tcsetattr((int)handle, TCSANOW, &settings) != 0 || tcgetattr((int)handle, &settings) != 0)
        return false;
    return (settings.c_iflag & (INPCK | PARMRK)) == (INPCK | PARMRK) && (settings.c_iflag & IGNPAR) == 0;
}
#endif

/* Some drivers accept mark and space and do nothing: look at what they made of it. A driver that keeps the setting and
 * ignores it all the same cannot be told from a good one without a second port. */
static bool parity_kept(struct sp_port *port, enum sp_parity wanted)
{
    struct sp_port_config *config;
    enum sp_parity found = SP_PARITY_INVALID;
    if (sp_set_parity(port, wanted) != SP_OK || sp_new_config(&config) != SP_OK)
        return false;
    bool told = sp_get_config(port, config) == SP_OK && sp_get_config_parity(config, &found) == SP_OK;
    sp_free_config(config);
    return told && found == wanted;
}

int32_t parity_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                    struct transport **transport, cfoil_error_info *error)
{
    struct parity *parity = memory_allocate(memory, sizeof *parity);
    if (parity == NULL)
        return error_memory_set(error, AREA);
    parity->serial.base = (struct transport){&parity_kind, memory, -1};
    const cfoil_line wanted = {line->baud, 8, 1, CFOIL_PARITY_SPACE};
    int32_t result = serial_port_open(&parity->serial, port, &wanted, SERIAL_OUTPUTS_ON, error);
    if (result != CFOIL_OK) {
        memory_release(memory, parity);
        return result;
    }
    struct sp_port *opened = parity->serial.port;
    /* Marking last: setting a parity must not undo it. */
    if (parity_kept(opened, SP_PARITY_MARK) && parity_kept(opened, SP_PARITY_SPACE) &&
        marking_set(parity->serial.base.handle)) {
        *transport = &parity->serial.base;
        return CFOIL_OK;
    }
    parity_close(&parity->serial.base);
    return error_set(error, CFOIL_E_PORT_SETTINGS, 0, AREA,
                     "The serial port cannot do mark and space parity: use another port, or a bus controller.");
}
