/*
 * Which interface of a USB device carries the bytes, over which endpoints, and what kind of interface it is.
 */
#ifndef TRANSPORT_USB_SHAPE_H
#define TRANSPORT_USB_SHAPE_H

#include <libusb.h>
#include <stdbool.h>
#include <stdint.h>

enum usb_kind {
    USB_KIND_PIPE = 1,    /* two bulk or two interrupt endpoints: a stream of bytes */
    USB_KIND_REPORTS = 2, /* HID */
    USB_KIND_SERIAL = 3   /* CDC-ACM, without the system's driver */
};

#define USB_NONE (-1)

struct usb_shape {
    enum usb_kind kind;
    int interface;
    int control_interface; /* of CDC-ACM, else USB_NONE */
    uint8_t in;            /* endpoint addresses */
    uint8_t out;           /* 0 = none: HID output by control transfer */
    bool in_interrupt;
    bool out_interrupt;
    uint16_t in_packet;         /* bytes in one packet of `in` */
    uint16_t report_descriptor; /* HID: its length */
};

/* The shape of one interface number, or of the first interface that has one (USB_INTERFACE_ANY). False = there is no
 * such interface, or nothing on it that carries bytes both ways. */
bool usb_shape_find(const struct libusb_config_descriptor *config, int32_t interface, struct usb_shape *shape);

#endif
