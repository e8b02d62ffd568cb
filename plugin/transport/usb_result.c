/*
 * What went wrong with a USB device, and what can be done? See usb_result.h.
 */
#include "transport/usb_result.h"

#include "model/error.h"
#include "model/text.h"

#include <stddef.h>

#define AREA "transport"

struct answer_row {
    int answer;
    int32_t result;
    const char *advice;
};

static const struct answer_row open_rows[] = {
    {LIBUSB_ERROR_ACCESS, CFOIL_E_PORT_DENIED,
     "may not be opened by this user: grant access, on Linux with a udev rule (docs/hardware.md)"},
    {LIBUSB_ERROR_BUSY, CFOIL_E_PORT_BUSY,
     "is held by another program or a driver of the system: close it, or add /detach=yes to move the driver aside"},
    {LIBUSB_ERROR_NO_DEVICE, CFOIL_E_PORT_MISSING, "is not there: plug it in or correct the numbers"},
    {LIBUSB_ERROR_NOT_FOUND, CFOIL_E_PORT_MISSING, "is not there: plug it in or correct the numbers"},
    {LIBUSB_ERROR_PIPE, CFOIL_E_PORT_STALLED, "refuses what it was asked: unplug it and plug it in again"},
    {LIBUSB_ERROR_TIMEOUT, CFOIL_E_PORT_TIME_OUT, "does not answer: unplug it and plug it in again"},
    {LIBUSB_ERROR_NOT_SUPPORTED, CFOIL_E_PORT_FAILED,
     "has a driver that cannot share it: on Windows give it the WinUSB driver (docs/hardware.md)"},
    {0, CFOIL_E_PORT_FAILED, "could not be opened: check cable and power"}};

static const struct answer_row use_rows[] = {
    {LIBUSB_ERROR_NO_DEVICE, CFOIL_E_PORT_GONE, "The USB device has gone: plug it in again."},
    {LIBUSB_ERROR_PIPE, CFOIL_E_PORT_STALLED,
     "The USB device stopped the exchange (stall): it is opened again; if that repeats, check adapter and interface."},
    {LIBUSB_ERROR_TIMEOUT, CFOIL_E_PORT_TIME_OUT, "The USB device takes no bytes: check whether it is ready."},
    {LIBUSB_ERROR_OVERFLOW, CFOIL_E_PORT_OVERFLOW,
     "The USB device sent more than its descriptor allows: have its firmware looked at."},
    {0, CFOIL_E_PORT_FAILED, "The USB transfer failed: check cable, hub and power."}};

static const struct answer_row *row_find(const struct answer_row *row, int answer)
{
    while (row->answer != 0 && row->answer != answer)
        row++;
    return row;
}

int32_t usb_open_failure(cfoil_error_info *error, int answer, const char *place)
{
    if (answer == LIBUSB_ERROR_NO_MEM)
        return error_memory_set(error, AREA);
    const struct answer_row *row = row_find(open_rows, answer);
    char shown[61];
    text_copy(shown, sizeof shown, place);
    return error_set(error, row->result, answer, AREA, "USB device %s %s.", shown, row->advice);
}

int32_t usb_use_failure(cfoil_error_info *error, int answer)
{
    const struct answer_row *row = row_find(use_rows, answer);
    return error_set(error, row->result, answer, AREA, "%s", row->advice);
}

int usb_status_answer(enum libusb_transfer_status status)
{
    switch (status) {
    case LIBUSB_TRANSFER_COMPLETED:
    case LIBUSB_TRANSFER_CANCELLED:
        return LIBUSB_SUCCESS;
    case LIBUSB_TRANSFER_TIMED_OUT:
        return LIBUSB_ERROR_TIMEOUT;
    case LIBUSB_TRANSFER_STALL:
        return LIBUSB_ERROR_PIPE;
    case LIBUSB_TRANSFER_NO_DEVICE:
        return LIBUSB_ERROR_NO_DEVICE;
    case LIBUSB_TRANSFER_OVERFLOW:
        return LIBUSB_ERROR_OVERFLOW;
    default:
        return LIBUSB_ERROR_IO;
    }
}
