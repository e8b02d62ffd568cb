/*
 * From the name of a USB device to an open, claimed one.
 */
#ifndef TRANSPORT_USB_FIND_H
#define TRANSPORT_USB_FIND_H

#include "transport/usb_name.h"
#include "transport/usb_shape.h"

/* A device with its interfaces claimed. */
struct usb_device {
    libusb_context *context; /* of this device alone, never libusb's default one */
    libusb_device_handle *handle;
    struct usb_shape shape;
    bool data_detached; /* a driver of the system was moved aside: it comes back on release */
    bool control_detached;
};

/* A context of our own, which has seen the devices that are there now. An answer of libusb. */
int usb_context_open(libusb_context **context);

/* Opens the one device that is meant and claims it. `place` is the port string without "usb:", for error lines.
 * CFOIL_E_PORT_*, CFOIL_E_MEMORY; nothing is left open on failure. */
int32_t usb_device_open(const struct usb_name *name, const char *place, struct usb_device *device,
                        cfoil_error_info *error);
void usb_device_close(struct usb_device *device);

/* The serial number of an open device, "" when it has none that is printable ASCII of at most USB_SERIAL_MAX bytes. */
void usb_serial_read(libusb_device_handle *handle, uint8_t index, char serial[USB_SERIAL_MAX + 1]);

#endif
