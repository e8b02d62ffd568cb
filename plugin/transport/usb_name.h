/*
 * What a USB port string says after "usb:": VID:PID[:SERIAL][/if=N][/detach=yes], taken apart and put together.
 */
#ifndef TRANSPORT_USB_NAME_H
#define TRANSPORT_USB_NAME_H

#include <counterfoil/counterfoil.h>
#include <stdbool.h>
#include <stddef.h>

/* USB 2.0 section 9.6.7: a string descriptor has at most 255 bytes, 2 of them its head, 2 a character. */
#define USB_SERIAL_MAX 126
/* Each byte of the serial number may need three characters. */
#define USB_NAME_MAX (4 + 1 + 4 + 1 + 3 * USB_SERIAL_MAX + 7 + 11)

#define USB_INTERFACE_ANY (-1)

struct usb_name {
    uint16_t vendor;
    uint16_t product;
    int32_t interface;               /* 0..255 or USB_INTERFACE_ANY */
    bool detach;                     /* a driver of the system may be moved aside */
    char serial[USB_SERIAL_MAX + 1]; /* "" = any */
};

/* CFOIL_OK or CFOIL_E_ARGUMENT_PORT. */
int32_t usb_name_parse(const char *text, struct usb_name *name, cfoil_error_info *error);

/* The shortest text that usb_name_parse() takes for this name. */
void usb_name_write(const struct usb_name *name, char text[USB_NAME_MAX + 1]);

#endif
