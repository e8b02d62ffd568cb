/*
 * How do words travel over a byte stream? The framed word carrier on top of another transport; the rules are in
 * carrier_framed.c.
 */
#include "model/error.h"
#include "os/os.h"
#include "transport/carrier_framed.h"
#include "transport/kinds.h"

#include <string.h>

#define AREA "carrier"

struct carrier {
    struct transport base;
    struct transport *inner;
    struct framed framed;
};

static int32_t trouble_tell(const struct framed *framed, cfoil_error_info *error)
{
    static const struct {
        int32_t result;
        const char *text;
    } troubles[] = {
        [FRAMED_FINE] = {CFOIL_OK, ""},
        [FRAMED_RESTARTED] = {CFOIL_E_PORT_GONE, "The bus controller restarted, and what it held may be lost: look "
                                                 "at its power supply."},
        [FRAMED_SILENT] = {CFOIL_E_PORT_GONE, "The bus controller does not answer: check its cable and power."},
        [FRAMED_FULL] = {CFOIL_E_PORT_FAILED, "The bus controller does not keep up with the words it is sent: check "
                                              "cable and line."},
        [FRAMED_ASTRAY] = {CFOIL_E_PORT_FAILED, "The bus controller counts its packets differently: begin anew with "
                                                "it."},
        [FRAMED_VERSION] = {CFOIL_E_PORT_FAILED, "The bus controller speaks another version of the word carrier: "
                                                 "update it to version 1."},
    };
    if (framed->trouble == FRAMED_FINE)
        return CFOIL_OK;
    return error_set(error, troubles[framed->trouble].result, 0, AREA, "%s", troubles[framed->trouble].text);
}

static int32_t line_write(struct carrier *carrier, cfoil_error_info *error)
{
    uint8_t bytes[FRAMED_COLLECT_MAX];
    uint32_t length = framed_collect(&carrier->framed, os_monotonic_us(), bytes);
    return transport_write(carrier->inner, bytes, length, error);
}

static int32_t line_read(struct carrier *carrier, cfoil_error_info *error)
{
    uint8_t bytes[512];
    uint32_t length;
    int32_t result = transport_read(carrier->inner, bytes, sizeof bytes, &length, error);
    framed_receive(&carrier->framed, bytes, length, os_monotonic_us());
    return result;
}

static void carrier_close(struct transport *transport)
{
    struct carrier *carrier = (struct carrier *)transport;
    transport_close(carrier->inner);
    memory_release(transport->memory, carrier);
}

/* At most one block a call. It is acknowledged by the next call: until then the reader has made it safe. */
static int32_t carrier_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                            cfoil_error_info *error)
{
    struct carrier *carrier = (struct carrier *)transport;
    int32_t result = line_write(carrier, error);
    if (result == CFOIL_OK)
        result = line_read(carrier, error);
    if (capacity >= FRAMED_BLOCK_MAX)
        *length = framed_block_take(&carrier->framed, bytes);
    return result != CFOIL_OK ? result : trouble_tell(&carrier->framed, error);
}

/* Rule 4: the controller acknowledges on the bus by itself, so that our ACK need not travel. */
static bool bus_acknowledge(const uint8_t *bytes, uint32_t length)
{
    return length == 2 && bytes[0] == 0 && bytes[1] == 0;
}

static int32_t carrier_write(struct transport *transport, const uint8_t *bytes, uint32_t length,
                             cfoil_error_info *error)
{
    struct carrier *carrier = (struct carrier *)transport;
    if (length > FRAMED_BLOCK_MAX || length % 2 != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "A block must be 1 to 40 whole words.");
    if (!bus_acknowledge(bytes, length))
        framed_send(&carrier->framed, bytes, length);
    int32_t result = line_write(carrier, error);
    return result != CFOIL_OK ? result : trouble_tell(&carrier->framed, error);
}

static uint64_t carrier_deadline(const struct transport *transport)
{
    return framed_deadline(&((const struct carrier *)transport)->framed);
}

static bool carrier_busy(const struct transport *transport)
{
    return framed_busy(&((const struct carrier *)transport)->framed);
}

static const char *carrier_notice(struct transport *transport)
{
    static const char forgotten[] = "Answers of the bus were lost with the connection before: the device's count of "
                                    "notes shows whether money was among them.";
    static const char *const texts[] = {
        [FRAMED_NOTICE_NONE] = NULL,
        [FRAMED_NOTICE_BROKEN_OFF] = "An answer on the bus broke off.",
        [FRAMED_NOTICE_FRAMING] = "Damaged characters on the bus.",
        [FRAMED_NOTICE_RESTARTED] = "The bus controller started anew before this session.",
        [FRAMED_NOTICE_FORGOTTEN] = forgotten,
        [FRAMED_NOTICE_UNKNOWN] = "The bus controller reports a fault that this version does not know.",
        [FRAMED_NOTICE_DAMAGED] = "A damaged packet from the bus controller was dropped; it sends it again.",
    };
    struct framed *framed = &((struct carrier *)transport)->framed;
    enum framed_notice notice = framed->notice;
    framed->notice = FRAMED_NOTICE_NONE;
    return texts[notice];
}

static const struct transport_kind carrier_kind = {carrier_close,    carrier_read, carrier_write,
                                                   carrier_deadline, carrier_busy, carrier_notice};

/* ---- Opening ---- */

static uint32_t session_new(void)
{
    uint8_t bytes[4];
    if (!os_random(bytes, sizeof bytes))
        return (uint32_t)os_monotonic_us(); /* it need only differ from the last one */
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

/* The port counts as open when the controller has said HELLO: before, there is nobody to talk to. */
static int32_t hello_await(struct carrier *carrier, uint64_t until_us, const struct os_signal *wake,
                           cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    while (result == CFOIL_OK && !carrier->framed.running) {
        result = line_write(carrier, error);
        if (result != CFOIL_OK)
            break;
        uint64_t due_us = framed_deadline(&carrier->framed);
        int ready = os_wait(carrier->inner->handle, wake, due_us < until_us ? due_us : until_us);
        if ((ready & OS_READY_SIGNAL) != 0)
            return error_set(error, CFOIL_E_STATE_CLOSING, 0, AREA,
                             "The waiting for the bus controller was called off.");
        if ((ready & OS_READY_PORT) != 0)
            result = line_read(carrier, error);
        if (result == CFOIL_OK)
            result = trouble_tell(&carrier->framed, error);
        if (result == CFOIL_OK && !carrier->framed.running && os_monotonic_us() >= until_us)
            return error_set(error, CFOIL_E_PORT_MISSING, 0, AREA,
                             "No bus controller answers on the port: check its cable, power and program.");
    }
    return result;
}

int32_t framed_open(const struct memory *memory, struct transport *inner, uint64_t until_us,
                    const struct os_signal *wake, struct transport **transport, cfoil_error_info *error)
{
    struct carrier *carrier = memory_allocate(memory, sizeof *carrier);
    if (carrier == NULL) {
        transport_close(inner);
        return error_memory_set(error, AREA);
    }
    carrier->base = (struct transport){&carrier_kind, memory, inner->handle};
    carrier->inner = inner;
    framed_begin(&carrier->framed, session_new(), os_monotonic_us());
    int32_t result = hello_await(carrier, until_us, wake, error);
    if (result == CFOIL_OK)
        *transport = &carrier->base;
    else
        carrier_close(&carrier->base);
    return result;
}
