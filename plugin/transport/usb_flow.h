/*
 * Bytes from and to an open USB device: transfers that are always under way, and the thread that attends to them.
 */
#ifndef TRANSPORT_USB_FLOW_H
#define TRANSPORT_USB_FLOW_H

#include "model/memory.h"
#include "transport/usb_find.h"

#include <stddef.h>

struct os_signal;
struct usb_flow;

/* Begins to receive; each transfer takes up to `input_bytes`. CFOIL_OK, CFOIL_E_MEMORY, CFOIL_E_SYSTEM_*,
 * CFOIL_E_PORT_*. The device must stay until usb_flow_end(). */
int32_t usb_flow_begin(const struct memory *memory, const struct usb_device *device, uint32_t input_bytes,
                       struct usb_flow **flow, cfoil_error_info *error);
/* Cancels what is under way and waits for it, at most a second. */
void usb_flow_end(struct usb_flow *flow);

/* Set while there is something to read or the flow has failed. */
const struct os_signal *usb_flow_signal(const struct usb_flow *flow);

/* What one transfer brought, or as much of it as fits; without waiting. *length = 0: nothing is there. What came before
 * a failure is read before it. */
int32_t usb_flow_read(struct usb_flow *flow, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                      cfoil_error_info *error);

/* One transfer, at most USB_OUTPUT_MAX bytes; waits until the device has taken it, at most TRANSPORT_WRITE_MAX_MS. */
#define USB_OUTPUT_MAX 4096
int32_t usb_flow_write(struct usb_flow *flow, const uint8_t *bytes, uint32_t length, cfoil_error_info *error);

#endif
