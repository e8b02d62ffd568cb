/*
 * Which USB devices carry bytes both ways, and by what name is each reached? See ports.h.
 */
#include "transport/ports.h"

#include "model/error.h"
#include "model/text.h"
#include "transport/usb_find.h"
#include "transport/usb_result.h"

#include <stdio.h>
#include <string.h>

#define AREA "transport"

/* Classes that a note validator may have: its own (FF), HID (03), CDC with its data interface named by the control one
 * (02). Others carry bytes too (disks, printers, radios), and nobody should take them for one. */
static bool class_listed(uint8_t class_code)
{
    return class_code == 0xFF || class_code == LIBUSB_CLASS_HID || class_code == LIBUSB_CLASS_COMM;
}

static bool interface_shape(const struct libusb_config_descriptor *config, int index, struct usb_shape *shape)
{
    const struct libusb_interface *interface = &config->interface[index];
    if (interface->num_altsetting == 0 || !class_listed(interface->altsetting[0].bInterfaceClass))
        return false;
    return usb_shape_find(config, interface->altsetting[0].bInterfaceNumber, shape);
}

static enum port_carrier carrier_of(const struct usb_shape *shape)
{
    return shape->kind == USB_KIND_REPORTS  ? PORT_CARRIER_REPORTS
           : shape->kind == USB_KIND_SERIAL ? PORT_CARRIER_ACM
                                            : PORT_CARRIER_PIPE;
}

static void text_read(libusb_device_handle *handle, uint8_t index, char text[PORT_LABEL_MAX + 1])
{
    uint8_t bytes[PORT_LABEL_MAX + 1];
    int length = index != 0 ? libusb_get_string_descriptor_ascii(handle, index, bytes, sizeof bytes) : 0;
    text[0] = '\0';
    if (length > 0 && length <= PORT_LABEL_MAX) {
        bytes[length] = '\0';
        port_text_take(text, (const char *)bytes);
    }
}

/* What only an open device tells. `handle` is NULL when it may not be opened. */
static void device_ask(libusb_device_handle *handle, const struct libusb_device_descriptor *descriptor,
                       struct port_found *found)
{
    if (handle == NULL)
        return;
    usb_serial_read(handle, descriptor->iSerialNumber, found->serial);
    text_read(handle, descriptor->iManufacturer, found->maker);
    text_read(handle, descriptor->iProduct, found->label);
}

static void interfaces_visit(const struct libusb_config_descriptor *config, libusb_device_handle *handle,
                             struct port_found *found, port_visit visit, void *user)
{
    struct usb_shape shape;
    int count = 0;
    for (int i = 0; i < config->bNumInterfaces; i++)
        count += interface_shape(config, i, &shape) ? 1 : 0;
    struct usb_name name = {.vendor = found->vendor, .product = found->product};
    text_copy(name.serial, sizeof name.serial, found->serial);
    for (int i = 0; i < config->bNumInterfaces; i++) {
        if (!interface_shape(config, i, &shape))
            continue;
        int first = shape.control_interface != USB_NONE ? shape.control_interface : shape.interface;
        name.interface = count > 1 ? first : USB_INTERFACE_ANY;
        char text[USB_NAME_MAX + 1];
        usb_name_write(&name, text);
        snprintf(found->port, sizeof found->port, "usb:%s", text);
        found->carrier = carrier_of(&shape);
        found->system_driver = handle != NULL && libusb_kernel_driver_active(handle, first) == 1;
        visit(user, found);
    }
}

static void device_visit(libusb_device *device, port_visit visit, void *user)
{
    struct libusb_device_descriptor descriptor;
    struct libusb_config_descriptor *config;
    if (libusb_get_device_descriptor(device, &descriptor) != LIBUSB_SUCCESS ||
        libusb_get_active_config_descriptor(device, &config) != LIBUSB_SUCCESS)
        return; /* it has gone, or has no configuration yet */
    struct port_found found = {.usb = true, .vendor = descriptor.idVendor, .product = descriptor.idProduct};
    libusb_device_handle *handle = NULL;
    int answer = libusb_open(device, &handle);
    if (answer != LIBUSB_SUCCESS)
        handle = NULL;
    found.result = answer == LIBUSB_SUCCESS ? CFOIL_OK : usb_open_failure(NULL, answer, "");
    device_ask(handle, &descriptor, &found);
    interfaces_visit(config, handle, &found, visit, user);
    if (handle != NULL)
        libusb_close(handle);
    libusb_free_config_descriptor(config);
}

int32_t usb_ports_visit(port_visit visit, void *user, cfoil_error_info *error)
{
    libusb_context *context;
    int answer = usb_context_open(&context);
    if (answer == LIBUSB_ERROR_NO_MEM)
        return usb_open_failure(error, answer, "list");
    if (answer != LIBUSB_SUCCESS)
        return CFOIL_OK; /* a system without USB has no USB devices */
    libusb_device **devices;
    ssize_t count = libusb_get_device_list(context, &devices);
    for (ssize_t i = 0; i < count; i++)
        device_visit(devices[i], visit, user);
    if (count >= 0)
        libusb_free_device_list(devices, 1);
    libusb_exit(context);
    return count >= 0 ? CFOIL_OK : usb_open_failure(error, (int)count, "list");
}
