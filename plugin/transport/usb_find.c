/*
 * Which of the USB devices that are there is meant, and is it ours to use? See usb_find.h.
 */
#include "transport/usb_find.h"

#include "model/error.h"
#include "model/text.h"
#include "transport/usb_result.h"

#include <string.h>

#define AREA "transport"

int usb_context_open(libusb_context **context)
{
    int answer = libusb_init(context);
    if (answer == LIBUSB_SUCCESS) /* it would print to the host's error output otherwise */
        (void)libusb_set_option(*context, LIBUSB_OPTION_LOG_LEVEL, LIBUSB_LOG_LEVEL_NONE);
    return answer;
}

void usb_serial_read(libusb_device_handle *handle, uint8_t index, char serial[USB_SERIAL_MAX + 1])
{
    uint8_t text[USB_SERIAL_MAX + 2];
    serial[0] = '\0';
    int length = index != 0 ? libusb_get_string_descriptor_ascii(handle, index, text, sizeof text) : 0;
    if (length < 1 || length > USB_SERIAL_MAX)
        return;
    memcpy(serial, text, (size_t)length);
    serial[length] = '\0';
    if (!text_acceptable(serial, 1, USB_SERIAL_MAX))
        serial[0] = '\0';
}

/* ---- Which one ---- */

struct search {
    const struct usb_name *name;
    uint32_t found;              /* devices that are meant */
    int denied;                  /* the answer about one that may be meant but could not be asked */
    libusb_device_handle *first; /* open */
    uint8_t bus;                 /* where the first was found */
    uint8_t address;
};

/* Takes the device when it is the first that fits. An answer of libusb. */
static int candidate_look(struct search *search, libusb_device *device)
{
    struct libusb_device_descriptor descriptor;
    libusb_device_handle *handle = NULL;
    char serial[USB_SERIAL_MAX + 1];
    int answer = libusb_get_device_descriptor(device, &descriptor);
    if (answer != LIBUSB_SUCCESS || descriptor.idVendor != search->name->vendor ||
        descriptor.idProduct != search->name->product)
        return LIBUSB_SUCCESS;
    bool any = search->name->serial[0] == '\0';
    if (any && search->found++ > 0)
        return LIBUSB_SUCCESS; /* counted only */
    answer = libusb_open(device, &handle);
    if (answer != LIBUSB_SUCCESS)
        return answer;
    usb_serial_read(handle, descriptor.iSerialNumber, serial);
    if (!any && strcmp(serial, search->name->serial) == 0)
        search->found++;
    if (search->found == 1 && search->first == NULL)
        search->first = handle;
    else
        libusb_close(handle);
    return LIBUSB_SUCCESS;
}

static int candidates_look(struct search *search, libusb_context *context)
{
    libusb_device **devices;
    ssize_t count = libusb_get_device_list(context, &devices);
    if (count < 0)
        return (int)count;
    for (ssize_t i = 0; i < count; i++) {
        int answer = candidate_look(search, devices[i]);
        if (answer != LIBUSB_SUCCESS && answer != LIBUSB_ERROR_NO_DEVICE) /* it may have gone meanwhile */
            search->denied = answer;
    }
    libusb_free_device_list(devices, 1);
    return LIBUSB_SUCCESS;
}

static int32_t meant_open(const struct usb_name *name, const char *place, struct usb_device *device,
                          cfoil_error_info *error)
{
    struct search search = {.name = name};
    int answer = candidates_look(&search, device->context);
    if (answer == LIBUSB_SUCCESS && search.found > 1) {
        if (search.first != NULL)
            libusb_close(search.first);
        return error_set(
            error, CFOIL_E_PORT_AMBIGUOUS, 0, AREA,
            "%u USB devices are %04X:%04X%s: name one by its serial number (usb:VID:PID:SERIAL), or unplug "
            "the others.",
            (unsigned)search.found, name->vendor, name->product,
            name->serial[0] != '\0' ? " with that serial number" : "");
    }
    if (answer == LIBUSB_SUCCESS && search.first == NULL)
        answer = search.denied != LIBUSB_SUCCESS ? search.denied : LIBUSB_ERROR_NO_DEVICE;
    if (answer != LIBUSB_SUCCESS)
        return usb_open_failure(error, answer, place);
    device->handle = search.first;
    return CFOIL_OK;
}

/* ---- Ours to use ---- */

static int32_t shape_read(const struct usb_name *name, const char *place, struct usb_device *device,
                          cfoil_error_info *error)
{
    struct libusb_config_descriptor *config;
    int answer = libusb_get_active_config_descriptor(libusb_get_device(device->handle), &config);
    if (answer != LIBUSB_SUCCESS)
        return usb_open_failure(error, answer, place);
    bool found = usb_shape_find(config, name->interface, &device->shape);
    libusb_free_config_descriptor(config);
    if (found)
        return CFOIL_OK;
    char shown[61];
    text_copy(shown, sizeof shown, place);
    return error_set(error, CFOIL_E_PORT_SETTINGS, 0, AREA,
                     "USB device %s has no such interface that carries bytes both ways: name another one (/if=N).",
                     shown);
}

/* Claims one interface; *detached tells whether a driver was moved aside for it. */
static int interface_claim(libusb_device_handle *handle, int interface, bool detach, bool *detached)
{
    /* Where the system knows no such drivers, the answer is an error, and there is nothing to move. */
    if (libusb_kernel_driver_active(handle, interface) == 1) {
        if (!detach)
            return LIBUSB_ERROR_BUSY;
        int answer = libusb_detach_kernel_driver(handle, interface);
        if (answer != LIBUSB_SUCCESS && answer != LIBUSB_ERROR_NOT_FOUND)
            return answer;
        *detached = answer == LIBUSB_SUCCESS;
    }
    int answer = libusb_claim_interface(handle, interface);
    if (answer != LIBUSB_SUCCESS && *detached)
        (void)libusb_attach_kernel_driver(handle, interface);
    return answer;
}

static void interface_release(libusb_device_handle *handle, int interface, bool detached)
{
    (void)libusb_release_interface(handle, interface);
    if (detached)
        (void)libusb_attach_kernel_driver(handle, interface);
}

static int claim(struct usb_device *device, bool detach)
{
    const struct usb_shape *shape = &device->shape;
    bool paired = shape->control_interface != USB_NONE;
    /* The control interface first: its driver holds the other one too. */
    if (paired) {
        int answer = interface_claim(device->handle, shape->control_interface, detach, &device->control_detached);
        if (answer != LIBUSB_SUCCESS)
            return answer;
    }
    int answer = interface_claim(device->handle, shape->interface, detach, &device->data_detached);
    if (answer != LIBUSB_SUCCESS && paired)
        interface_release(device->handle, shape->control_interface, device->control_detached);
    return answer;
}

int32_t usb_device_open(const struct usb_name *name, const char *place, struct usb_device *device,
                        cfoil_error_info *error)
{
    memset(device, 0, sizeof *device);
    int answer = usb_context_open(&device->context);
    if (answer != LIBUSB_SUCCESS)
        return error_set(error, CFOIL_E_PORT_FAILED, answer, AREA,
                         "This system gives no access to USB: check its drivers and, in a container, /dev/bus/usb.");
    int32_t result = meant_open(name, place, device, error);
    if (result != CFOIL_OK)
        goto exit_context;
    result = shape_read(name, place, device, error);
    if (result != CFOIL_OK)
        goto close_handle;
    answer = claim(device, name->detach);
    if (answer == LIBUSB_SUCCESS)
        return CFOIL_OK;
    result = usb_open_failure(error, answer, place);

close_handle:
    libusb_close(device->handle);
exit_context:
    libusb_exit(device->context);
    return result;
}

void usb_device_close(struct usb_device *device)
{
    interface_release(device->handle, device->shape.interface, device->data_detached);
    if (device->shape.control_interface != USB_NONE)
        interface_release(device->handle, device->shape.control_interface, device->control_detached);
    libusb_close(device->handle);
    libusb_exit(device->context);
}
