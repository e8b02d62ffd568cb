/*
 * How long the reports of a HID device are, read from its report descriptor.
 */
#ifndef TRANSPORT_USB_REPORT_H
#define TRANSPORT_USB_REPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define USB_REPORT_MAX 4096 /* bytes, the number in front included */

struct usb_reports {
    bool numbered;       /* each report begins with its number (Report ID) */
    uint16_t input[256]; /* bytes by number, the number included; without numbers only [0]; 0 = there is none */
    uint16_t output[256];
    uint16_t input_max;
    uint16_t output_max;
};

/* False = not a report descriptor, or one with a report longer than USB_REPORT_MAX. */
bool usb_reports_read(const uint8_t *bytes, size_t length, struct usb_reports *reports);

#endif
