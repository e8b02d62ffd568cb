/*
 * How is a USB device used as a port? It is opened through libusb; what its interface is decides how bytes are cut.
 */
#include "transport/kinds.h"

#include "model/error.h"
#include "os/os.h"
#include "transport/usb_flow.h"
#include "transport/usb_report.h"
#include "transport/usb_result.h"

#include <string.h>

#define AREA "transport"

#define CONTROL_MAX_MS 500
#define STATUS_MAX_MS  200
#define INPUT_BYTES    4096 /* one transfer of a stream, in whole packets */
#define DESCRIPTOR_MAX 4096 /* of reports; ours, the field has 16 bits */

struct usb {
    struct transport base;
    struct usb_device device;
    struct usb_flow *flow;
    struct usb_reports reports;
    uint8_t report[USB_REPORT_MAX];
};

/* ---- Class requests ---- */

/* HID 1.11 section 7.2, CDC PSTN 1.2 section 6.3; GET_DESCRIPTOR of an interface: HID 1.11 section 7.1.1. */
enum {
    TO_INTERFACE = 0x21,
    FROM_INTERFACE = 0x81,
    FROM_DEVICE = 0x80,
    GET_STATUS = 0x00, /* USB 2.0 section 9.4.5 */
    GET_DESCRIPTOR = 0x06,
    SET_REPORT = 0x09,
    SET_LINE_CODING = 0x20,
    SET_CONTROL_LINE_STATE = 0x22,
    VALUE_REPORT_DESCRIPTOR = 0x2200,
    VALUE_OUTPUT_REPORT = 0x0200,
    VALUE_DTR_AND_RTS = 0x0003
};

static int class_request(struct usb *usb, uint8_t request, uint16_t value, int interface, uint8_t *bytes,
                         uint16_t length)
{
    int answer = libusb_control_transfer(usb->device.handle, TO_INTERFACE, request, value, (uint16_t)interface, bytes,
                                         length, CONTROL_MAX_MS);
    return answer < 0 ? answer : LIBUSB_SUCCESS;
}

/* CDC PSTN 1.2 table 17: rate, stop bits, parity, data bits. A device that stalls it has no line behind it. */
static int line_coding_set(struct usb *usb, const cfoil_line *line)
{
    /* none, odd, even, mark, space there; none, even, odd, mark, space here */
    static const uint8_t parities[] = {0, 2, 1, 3, 4};
    bool known = line->parity >= CFOIL_PARITY_NONE && line->parity <= CFOIL_PARITY_SPACE;
    uint8_t coding[7] = {(uint8_t)line->baud,         (uint8_t)(line->baud >> 8),   (uint8_t)(line->baud >> 16),
                         (uint8_t)(line->baud >> 24), line->stop_bits == 2 ? 2 : 0, known ? parities[line->parity] : 0,
                         (uint8_t)line->data_bits};
    int interface = usb->device.shape.control_interface;
    int answer = class_request(usb, SET_LINE_CODING, 0, interface, coding, sizeof coding);
    if (answer == LIBUSB_SUCCESS || answer == LIBUSB_ERROR_PIPE)
        answer = class_request(usb, SET_CONTROL_LINE_STATE, VALUE_DTR_AND_RTS, interface, NULL, 0);
    return answer == LIBUSB_ERROR_PIPE ? LIBUSB_SUCCESS : answer;
}

/* ---- Reports ---- */

static int32_t reports_learn(struct usb *usb, const char *place, cfoil_error_info *error)
{
    const struct usb_shape *shape = &usb->device.shape;
    uint16_t length = shape->report_descriptor < DESCRIPTOR_MAX ? shape->report_descriptor : DESCRIPTOR_MAX;
    int answer = libusb_control_transfer(usb->device.handle, FROM_INTERFACE, GET_DESCRIPTOR, VALUE_REPORT_DESCRIPTOR,
                                         (uint16_t)shape->interface, usb->report, length, CONTROL_MAX_MS);
    if (answer < 0)
        return usb_open_failure(error, answer, place);
    if (usb_reports_read(usb->report, (size_t)answer, &usb->reports) && usb->reports.input_max > 0)
        return CFOIL_OK;
    return error_set(error, CFOIL_E_PORT_SETTINGS, 0, AREA,
                     "The USB device describes no reports that can be read: use another interface (/if=N).");
}

/* One report of what is to be sent; fills it up with zeros, since its length is fixed. Returns how many bytes of `bytes`
 * are in it; 0 = the device has no such report, or a shorter one. */
static uint32_t report_fill(struct usb *usb, const uint8_t *bytes, uint32_t length, uint32_t *report_length)
{
    const struct usb_reports *reports = &usb->reports;
    uint32_t size = reports->output[reports->numbered ? bytes[0] : 0];
    /* A report with a number is one message: it cannot be cut. Without numbers the rest goes into the next one. */
    if (size == 0 || (reports->numbered && length > size))
        return 0;
    uint32_t taken = length < size ? length : size;
    memset(usb->report, 0, size);
    memcpy(usb->report, bytes, taken);
    *report_length = size;
    return taken;
}

static int32_t report_send(struct usb *usb, uint32_t length, cfoil_error_info *error)
{
    const struct usb_shape *shape = &usb->device.shape;
    if (shape->out != 0)
        return usb_flow_write(usb->flow, usb->report, length, error);
    /* HID 1.11 section 7.2.2: without an endpoint for it, an output report goes as a request. */
    uint16_t number = usb->reports.numbered ? usb->report[0] : 0;
    int answer = class_request(usb, SET_REPORT, (uint16_t)(VALUE_OUTPUT_REPORT | number), shape->interface, usb->report,
                               (uint16_t)length);
    return answer == LIBUSB_SUCCESS ? CFOIL_OK : usb_use_failure(error, answer);
}

/* ---- The open port ---- */

static void usb_close(struct transport *transport)
{
    struct usb *usb = (struct usb *)transport;
    usb_flow_end(usb->flow);
    usb_device_close(&usb->device);
    memory_release(transport->memory, usb);
}

/* A pulled plug is noise on the bus before the hub tells of it: a device that does not answer the simplest question
 * either has gone. */
static int32_t failure_look(struct usb *usb, int32_t result, cfoil_error_info *error)
{
    uint8_t status[2];
    if (result != CFOIL_E_PORT_FAILED)
        return result;
    int answer = libusb_control_transfer(usb->device.handle, FROM_DEVICE, GET_STATUS, 0, 0, status, sizeof status,
                                         STATUS_MAX_MS);
    return answer == (int)sizeof status ? result : usb_use_failure(error, LIBUSB_ERROR_NO_DEVICE);
}

static int32_t usb_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                        cfoil_error_info *error)
{
    struct usb *usb = (struct usb *)transport;
    int32_t result = usb_flow_read(usb->flow, bytes, capacity, length, error);
    return failure_look(usb, result, error);
}

static int32_t reports_write(struct usb *usb, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    uint32_t sent = 0;
    while (sent < length) {
        uint32_t report_length = 0;
        uint32_t taken = report_fill(usb, bytes + sent, length - sent, &report_length);
        if (taken == 0)
            return error_set(error, CFOIL_E_PORT_SETTINGS, 0, AREA,
                             "The USB device has no output report for this message: check adapter and interface.");
        int32_t result = report_send(usb, report_length, error);
        if (result != CFOIL_OK)
            return result;
        sent += taken;
    }
    return CFOIL_OK;
}

static int32_t usb_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    struct usb *usb = (struct usb *)transport;
    if (usb->device.shape.kind == USB_KIND_REPORTS)
        return failure_look(usb, reports_write(usb, bytes, length, error), error);
    int32_t result = CFOIL_OK;
    for (uint32_t sent = 0; result == CFOIL_OK && sent < length; sent += USB_OUTPUT_MAX) {
        uint32_t part = length - sent < USB_OUTPUT_MAX ? length - sent : USB_OUTPUT_MAX;
        result = usb_flow_write(usb->flow, bytes + sent, part, error);
    }
    return failure_look(usb, result, error);
}

static const struct transport_kind usb_kind = {.close = usb_close, .read = usb_read, .write = usb_write};

/* ---- Opening ---- */

static int32_t device_prepare(struct usb *usb, const char *place, const cfoil_line *line, cfoil_error_info *error)
{
    if (usb->device.shape.kind == USB_KIND_REPORTS)
        return reports_learn(usb, place, error);
    if (usb->device.shape.kind != USB_KIND_SERIAL)
        return CFOIL_OK;
    int answer = line_coding_set(usb, line);
    return answer == LIBUSB_SUCCESS ? CFOIL_OK : usb_open_failure(error, answer, place);
}

/* Whole packets, or a full one would be too much for the last buffer (USB 2.0 section 5.8.3: babble). HID 1.11 section
 * 8.4: a report may be longer than a packet. */
static uint32_t input_bytes(const struct usb *usb)
{
    const struct usb_shape *shape = &usb->device.shape;
    uint32_t wanted = shape->kind == USB_KIND_REPORTS ? usb->reports.input_max : INPUT_BYTES;
    return (wanted + shape->in_packet - 1) / shape->in_packet * shape->in_packet;
}

int32_t usb_open(const struct memory *memory, const struct port *port, const cfoil_line *line,
                 struct transport **transport, cfoil_error_info *error)
{
    struct usb_name name;
    int32_t result = usb_name_parse(port->place, &name, error);
    if (result != CFOIL_OK)
        return result;
    struct usb *usb = memory_allocate(memory, sizeof *usb);
    if (usb == NULL)
        return error_memory_set(error, AREA);
    result = usb_device_open(&name, port->place, &usb->device, error);
    if (result != CFOIL_OK)
        goto free_usb;
    result = device_prepare(usb, port->place, line, error);
    if (result == CFOIL_OK)
        result = usb_flow_begin(memory, &usb->device, input_bytes(usb), &usb->flow, error);
    if (result != CFOIL_OK)
        goto close_device;
    usb->base = (struct transport){&usb_kind, memory, os_signal_handle(usb_flow_signal(usb->flow))};
    *transport = &usb->base;
    return CFOIL_OK;

close_device:
    usb_device_close(&usb->device);
free_usb:
    memory_release(memory, usb);
    return result;
}
