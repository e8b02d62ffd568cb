/*
 * What libusb's answers mean to us, each with one line that says what to do.
 */
#ifndef TRANSPORT_USB_RESULT_H
#define TRANSPORT_USB_RESULT_H

#include <counterfoil/counterfoil.h>
#include <libusb.h>

/* An answer (LIBUSB_ERROR_*) while the device `place`, as in the port string, was being opened. */
int32_t usb_open_failure(cfoil_error_info *error, int answer, const char *place);

/* An answer while it was in use. */
int32_t usb_use_failure(cfoil_error_info *error, int answer);

/* How a transfer ended, as the answer of a call. LIBUSB_SUCCESS when it was completed or cancelled. */
int usb_status_answer(enum libusb_transfer_status status);

#endif
