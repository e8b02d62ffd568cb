/*
 * Is a port string well formed, and what does it name? See port.h.
 */
#include "transport/port.h"

#include "model/error.h"
#include "model/text.h"
#include "transport/usb_name.h"

#include <stdbool.h>
#include <string.h>

#define AREA "transport"

static int32_t refuse(cfoil_error_info *error, const char *text)
{
    return error_set(error, CFOIL_E_ARGUMENT_PORT, 0, AREA, "%s", text);
}

/* 1..65535 without sign or leading zeros. */
static bool service_valid(const char *text)
{
    size_t length = strspn(text, "0123456789");
    if (length == 0 || length > 5 || text[length] != '\0' || text[0] == '0')
        return false;
    uint32_t number = 0;
    for (const char *digit = text; *digit != '\0'; digit++)
        number = number * 10 + (uint32_t)(*digit - '0');
    return number <= 65535;
}

static bool host_character_valid(char character, bool bracketed)
{
    bool plain = (character >= 'a' && character <= 'z') || (character >= 'A' && character <= 'Z') ||
                 (character >= '0' && character <= '9') || strchr("-._", character) != NULL;
    /* ':' of IPv6 and '%' before its zone (RFC 4007 section 11) stand in brackets only. */
    return plain || (bracketed && strchr(":%", character) != NULL);
}

static bool host_valid(const char *host, bool bracketed)
{
    for (const char *character = host; *character != '\0'; character++) {
        if (!host_character_valid(*character, bracketed))
            return false;
    }
    return host[0] != '\0' && (!bracketed || strchr(host, ':') != NULL);
}

/* `place` holds "HOST:PORT"; cuts it in two. */
static int32_t tcp_parse(struct port *port, cfoil_error_info *error)
{
    bool bracketed = port->place[0] == '[';
    char *host = bracketed ? port->place + 1 : port->place;
    char *end = bracketed ? strchr(host, ']') : strrchr(host, ':');
    if (end == NULL)
        return refuse(error, bracketed ? "Close the bracket after the IPv6 address: tcp:[ADDRESS]:PORT."
                                       : "Name host and port number: tcp:HOST:PORT.");
    char *service = bracketed ? end + 2 : end + 1;
    if (bracketed && end[1] != ':')
        return refuse(error, "Name the port number after the bracket: tcp:[ADDRESS]:PORT.");
    *end = '\0';
    if (!bracketed && strchr(host, ':') != NULL)
        return refuse(error, "Put an IPv6 address in brackets: tcp:[ADDRESS]:PORT.");
    if (!host_valid(host, bracketed))
        return refuse(error, "The host is not a name or address: use letters, digits, '.', '-' and '_', and brackets "
                             "for IPv6.");
    if (!service_valid(service))
        return refuse(error, "The port number after the host must be 1 to 65535.");
    text_copy(port->service, sizeof port->service, service);
    memmove(port->place, host, strlen(host) + 1);
    return CFOIL_OK;
}

static const char *prefix_skip(const char *text, const char *prefix)
{
    size_t length = strlen(prefix);
    return strncmp(text, prefix, length) == 0 ? text + length : NULL;
}

int32_t port_parse(const char *text, struct port *port, cfoil_error_info *error)
{
    static const struct {
        const char *prefix;
        enum port_kind kind;
        const char *missing;
    } kinds[] = {{"serial:", PORT_SERIAL, "Name the serial device: serial:DEVICE."},
                 {"tcp:", PORT_TCP, "Name host and port number: tcp:HOST:PORT."},
                 {"usb:", PORT_USB, "Name vendor and product of the USB device: usb:VID:PID."},
                 {"trace:", PORT_TRACE, "Name the trace file: trace:FILE."}};
    if (!text_acceptable(text, 1, PORT_TEXT_MAX))
        return refuse(error, "The port must be a text of 1 to 511 bytes of UTF-8 without control characters.");
    memset(port, 0, sizeof *port);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        const char *place = prefix_skip(text, kinds[i].prefix);
        if (place == NULL)
            continue;
        if (place[0] == '\0')
            return refuse(error, kinds[i].missing);
        port->kind = kinds[i].kind;
        text_copy(port->place, sizeof port->place, place);
        struct usb_name name;
        return port->kind == PORT_TCP   ? tcp_parse(port, error)
               : port->kind == PORT_USB ? usb_name_parse(place, &name, error)
                                        : CFOIL_OK;
    }
    return refuse(error, "The port must begin with serial:, tcp:, usb: or trace:.");
}
