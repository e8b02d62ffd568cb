/*
 * Which USB device does a port string mean? See usb_name.h.
 */
#include "transport/usb_name.h"

#include "model/error.h"

#include <stdio.h>
#include <string.h>

static int32_t refuse(cfoil_error_info *error, const char *text)
{
    return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, "transport", "%s", text);
}

/* -1 = no hexadecimal digit. */
static int digit_value(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    if (digit >= 'a' && digit <= 'f')
        return digit - 'a' + 10;
    return digit >= 'A' && digit <= 'F' ? digit - 'A' + 10 : -1;
}

/* Exactly `digits` hexadecimal digits; NULL when there are fewer. */
static const char *number_take(const char *text, int digits, uint16_t *number)
{
    uint32_t value = 0;
    for (int i = 0; i < digits; i++, text++) {
        int digit = digit_value(*text);
        if (digit < 0)
            return NULL;
        value = value * 16 + (uint32_t)digit;
    }
    *number = (uint16_t)value;
    return text;
}

/* RFC 3986 section 2.1: '%' and two hexadecimal digits stand for a byte. Devices tell printable ASCII. */
static const char *character_take(const char *text, char *character)
{
    uint16_t value = (uint8_t)*text++;
    if (value == '%')
        text = number_take(text, 2, &value);
    if (text == NULL || value < ' ' || value > '~')
        return NULL;
    *character = (char)value;
    return text;
}

static const char *serial_take(const char *text, struct usb_name *name)
{
    size_t length = 0;
    while (text != NULL && *text != '\0' && *text != '/') {
        if (length == USB_SERIAL_MAX)
            return NULL;
        text = character_take(text, &name->serial[length++]);
    }
    return length > 0 ? text : NULL;
}

/* 0..255 without sign or leading zeros, up to the next '/' or the end. */
static const char *interface_take(const char *text, int32_t *number)
{
    size_t length = strspn(text, "0123456789");
    if (length == 0 || length > 3 || (length > 1 && text[0] == '0'))
        return NULL;
    int32_t value = 0;
    for (size_t i = 0; i < length; i++)
        value = value * 10 + (text[i] - '0');
    *number = value;
    return value <= 255 ? text + length : NULL;
}

static const char *begins(const char *text, const char *begin)
{
    size_t length = strlen(begin);
    return strncmp(text, begin, length) == 0 ? text + length : NULL;
}

static int32_t option_take(const char **text, struct usb_name *name, cfoil_error_info *error)
{
    const char *value = begins(*text, "/if=");
    const char *detach = begins(*text, "/detach=yes");
    if (value != NULL && name->interface == USB_INTERFACE_ANY) {
        value = interface_take(value, &name->interface);
        if (value == NULL)
            return refuse(error, "The interface of a USB port must be 0 to 255: usb:VID:PID/if=N.");
    } else if (detach != NULL && !name->detach) {
        value = detach;
        name->detach = true;
    } else {
        value = NULL;
    }
    if (value == NULL || (*value != '\0' && *value != '/'))
        return refuse(error, "After a USB device there may be /if=N and /detach=yes, each once; write '/' in a serial "
                             "number as %2F.");
    *text = value;
    return CFOIL_OK;
}

int32_t usb_name_parse(const char *text, struct usb_name *name, cfoil_error_info *error)
{
    memset(name, 0, sizeof *name);
    name->interface = USB_INTERFACE_ANY;
    text = number_take(text, 4, &name->vendor);
    text = text != NULL && *text == ':' ? number_take(text + 1, 4, &name->product) : NULL;
    if (text == NULL || (*text != '\0' && *text != ':' && *text != '/'))
        return refuse(error, "Name vendor and product of the USB device, four hexadecimal digits each: usb:VID:PID.");
    if (*text == ':') {
        text = serial_take(text + 1, name);
        if (text == NULL)
            return refuse(error, "The serial number of a USB device must be 1 to 126 printable characters; any of them "
                                 "may be written as '%' and two hexadecimal digits.");
    }
    int32_t result = CFOIL_OK;
    while (result == CFOIL_OK && *text != '\0')
        result = option_take(&text, name, error);
    return result;
}

static bool plain(char character)
{
    return character > ' ' && character <= '~' && character != '%' && character != '/';
}

void usb_name_write(const struct usb_name *name, char text[USB_NAME_MAX + 1])
{
    size_t filled = (size_t)snprintf(text, USB_NAME_MAX + 1, "%04X:%04X", name->vendor, name->product);
    if (name->serial[0] != '\0')
        text[filled++] = ':';
    for (const char *character = name->serial; *character != '\0'; character++)
        filled += (size_t)snprintf(text + filled, USB_NAME_MAX + 1 - filled, plain(*character) ? "%c" : "%%%02X",
                                   (unsigned char)*character);
    if (name->interface != USB_INTERFACE_ANY)
        filled += (size_t)snprintf(text + filled, USB_NAME_MAX + 1 - filled, "/if=%d", (int)name->interface);
    text[filled] = '\0';
    if (name->detach)
        snprintf(text + filled, USB_NAME_MAX + 1 - filled, "/detach=yes");
}
