/*
 * Which serial ports are there, and which of them belong to a USB device? See ports.h.
 */
#include "transport/ports.h"

#include "model/error.h"
#include "model/text.h"

#include <errno.h>
#include <libserialport.h>
#include <stdio.h>
#include <string.h>

#define AREA "transport"

void port_text_take(char target[PORT_LABEL_MAX + 1], const char *text)
{
    text_copy(target, PORT_LABEL_MAX + 1, text_acceptable(text, 1, PORT_LABEL_MAX) ? text : "");
}

static void serial_visit(const struct sp_port *port, port_visit visit, void *user)
{
    struct port_found found = {.carrier = PORT_CARRIER_SERIAL};
    const char *name = sp_get_port_name(port);
    if (!text_acceptable(name, 1, PORT_LABEL_MAX))
        return; /* nothing that a port string could name */
    snprintf(found.port, sizeof found.port, "serial:%s", name);
    int vendor = 0;
    int product = 0;
    if (sp_get_port_transport(port) == SP_TRANSPORT_USB && sp_get_port_usb_vid_pid(port, &vendor, &product) == SP_OK) {
        found.usb = true;
        found.vendor = (uint16_t)vendor;
        found.product = (uint16_t)product;
        port_text_take(found.serial, sp_get_port_usb_serial(port));
        port_text_take(found.maker, sp_get_port_usb_manufacturer(port));
    }
    port_text_take(found.label, sp_get_port_description(port));
    visit(user, &found);
}

int32_t serial_ports_visit(port_visit visit, void *user, cfoil_error_info *error)
{
    struct sp_port **ports = NULL;
    enum sp_return answer = sp_list_ports(&ports);
    int os_code = answer == SP_ERR_FAIL ? sp_last_error_code() : 0;
    /* libserialport 0.1.1 answers SP_OK without a list when it has no memory for one. */
    if (answer == SP_ERR_MEM || os_code == ENOMEM || (answer == SP_OK && ports == NULL))
        return error_memory_set(error, AREA);
    if (answer != SP_OK)
        return error_set(error, CFOIL_E_PORT_FAILED, os_code, AREA, "The system does not list its serial ports.");
    for (struct sp_port **port = ports; *port != NULL; port++)
        serial_visit(*port, visit, user);
    sp_free_port_list(ports);
    return CFOIL_OK;
}
