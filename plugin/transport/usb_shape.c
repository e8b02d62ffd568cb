/*
 * How are bytes exchanged with a USB device? See usb_shape.h. Only the first alternate setting of an interface is used:
 * it is the one that holds after the configuration is set (USB 2.0 section 9.2.3).
 */
#include "transport/usb_shape.h"

#include "transport/usb_name.h"

#include <stddef.h>
#include <string.h>

/* Class codes: USB-IF list of defined class codes; CDC 1.2 tables 2 to 6; HID 1.11 sections 4.1 and 7.1. */
enum {
    CLASS_COMMUNICATIONS = 0x02,
    SUBCLASS_ABSTRACT_CONTROL = 0x02,
    CLASS_HID = 0x03,
    CLASS_CDC_DATA = 0x0A,
    DESCRIPTOR_HID = 0x21,
    DESCRIPTOR_REPORT = 0x22,
    DESCRIPTOR_CLASS_INTERFACE = 0x24, /* CDC 1.2 table 12 */
    FUNCTIONAL_UNION = 0x06            /* CDC 1.2 table 13 */
};

/* USB 2.0 table 9-13: bits 10..0 are the size, bits 12..11 how many more packets in a microframe. */
static uint16_t packet_bytes(const struct libusb_endpoint_descriptor *endpoint)
{
    uint16_t more = (endpoint->wMaxPacketSize >> 11) & 3u;
    return (uint16_t)((endpoint->wMaxPacketSize & 0x7FFu) * (more + 1u));
}

static const struct libusb_endpoint_descriptor *endpoint_find(const struct libusb_interface_descriptor *setting,
                                                              uint8_t type, uint8_t direction)
{
    for (int i = 0; i < setting->bNumEndpoints; i++) {
        const struct libusb_endpoint_descriptor *endpoint = &setting->endpoint[i];
        if ((endpoint->bmAttributes & LIBUSB_TRANSFER_TYPE_MASK) == type &&
            (endpoint->bEndpointAddress & LIBUSB_ENDPOINT_DIR_MASK) == direction && packet_bytes(endpoint) > 0)
            return endpoint;
    }
    return NULL;
}

static bool in_set(struct usb_shape *shape, const struct libusb_interface_descriptor *setting, uint8_t type)
{
    const struct libusb_endpoint_descriptor *endpoint = endpoint_find(setting, type, LIBUSB_ENDPOINT_IN);
    if (endpoint == NULL)
        return false;
    shape->in = endpoint->bEndpointAddress;
    shape->in_interrupt = type == LIBUSB_TRANSFER_TYPE_INTERRUPT;
    shape->in_packet = packet_bytes(endpoint);
    return true;
}

static bool out_set(struct usb_shape *shape, const struct libusb_interface_descriptor *setting, uint8_t type)
{
    const struct libusb_endpoint_descriptor *endpoint = endpoint_find(setting, type, LIBUSB_ENDPOINT_OUT);
    if (endpoint == NULL)
        return false;
    shape->out = endpoint->bEndpointAddress;
    shape->out_interrupt = type == LIBUSB_TRANSFER_TYPE_INTERRUPT;
    return true;
}

/* Each way may have its own type; bulk is taken where there is a choice. */
static bool pipe_set(struct usb_shape *shape, const struct libusb_interface_descriptor *setting)
{
    return (in_set(shape, setting, LIBUSB_TRANSFER_TYPE_BULK) ||
            in_set(shape, setting, LIBUSB_TRANSFER_TYPE_INTERRUPT)) &&
           (out_set(shape, setting, LIBUSB_TRANSFER_TYPE_BULK) ||
            out_set(shape, setting, LIBUSB_TRANSFER_TYPE_INTERRUPT));
}

/* The next descriptor in `extra`; NULL at the end or where it is damaged. */
static const uint8_t *extra_next(const struct libusb_interface_descriptor *setting, size_t *place)
{
    size_t left = setting->extra_length > 0 ? (size_t)setting->extra_length - *place : 0;
    const uint8_t *found = setting->extra + *place;
    if (left < 2 || found[0] < 2 || found[0] > left)
        return NULL;
    *place += found[0];
    return found;
}

/* HID 1.11 section 6.2.1: the length of the report descriptor stands in the HID descriptor. */
static bool reports_set(struct usb_shape *shape, const struct libusb_interface_descriptor *setting)
{
    size_t place = 0;
    for (const uint8_t *extra = extra_next(setting, &place); extra != NULL; extra = extra_next(setting, &place)) {
        if (extra[1] == DESCRIPTOR_HID && extra[0] >= 9 && extra[6] == DESCRIPTOR_REPORT)
            shape->report_descriptor = (uint16_t)(extra[7] | extra[8] << 8);
    }
    shape->kind = USB_KIND_REPORTS;
    (void)out_set(shape, setting, LIBUSB_TRANSFER_TYPE_INTERRUPT); /* section 4.4: optional */
    return shape->report_descriptor > 0 && in_set(shape, setting, LIBUSB_TRANSFER_TYPE_INTERRUPT);
}

static const struct libusb_interface_descriptor *setting_find(const struct libusb_config_descriptor *config, int number)
{
    for (int i = 0; i < config->bNumInterfaces; i++) {
        const struct libusb_interface *interface = &config->interface[i];
        if (interface->num_altsetting > 0 && interface->altsetting[0].bInterfaceNumber == number)
            return &interface->altsetting[0];
    }
    return NULL;
}

/* CDC 1.2 section 5.2.3.2: the union descriptor names the interface that carries the data. */
static bool serial_set(struct usb_shape *shape, const struct libusb_config_descriptor *config,
                       const struct libusb_interface_descriptor *setting)
{
    size_t place = 0;
    int data_number = USB_NONE;
    for (const uint8_t *extra = extra_next(setting, &place); extra != NULL; extra = extra_next(setting, &place)) {
        if (extra[0] >= 5 && extra[1] == DESCRIPTOR_CLASS_INTERFACE && extra[2] == FUNCTIONAL_UNION)
            data_number = extra[4];
    }
    const struct libusb_interface_descriptor *data = setting_find(config, data_number);
    if (data == NULL || data->bInterfaceClass != CLASS_CDC_DATA)
        return false;
    shape->kind = USB_KIND_SERIAL;
    shape->control_interface = setting->bInterfaceNumber;
    shape->interface = data->bInterfaceNumber;
    return in_set(shape, data, LIBUSB_TRANSFER_TYPE_BULK) && out_set(shape, data, LIBUSB_TRANSFER_TYPE_BULK);
}

static bool setting_shape(const struct libusb_config_descriptor *config,
                          const struct libusb_interface_descriptor *setting, struct usb_shape *shape)
{
    *shape = (struct usb_shape){
        .kind = USB_KIND_PIPE, .interface = setting->bInterfaceNumber, .control_interface = USB_NONE};
    if (setting->bInterfaceClass == CLASS_HID)
        return reports_set(shape, setting);
    if (setting->bInterfaceClass == CLASS_COMMUNICATIONS)
        return setting->bInterfaceSubClass == SUBCLASS_ABSTRACT_CONTROL && serial_set(shape, config, setting);
    return pipe_set(shape, setting);
}

bool usb_shape_find(const struct libusb_config_descriptor *config, int32_t interface, struct usb_shape *shape)
{
    for (int i = 0; i < config->bNumInterfaces; i++) {
        const struct libusb_interface *candidate = &config->interface[i];
        if (candidate->num_altsetting == 0)
            continue;
        const struct libusb_interface_descriptor *setting = &candidate->altsetting[0];
        if (interface != USB_INTERFACE_ANY && setting->bInterfaceNumber != interface)
            continue;
        if (setting_shape(config, setting, shape))
            return true;
    }
    return false;
}
