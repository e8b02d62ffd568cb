/*
 * Are the serial ports that the system lists named as lanes take them? Against a stand-in for libserialport's list.
 */
#include "test.h"

#include "transport/ports.h"

#include <errno.h>
#include <libserialport.h>
#include <stdlib.h>

struct sp_port {
    char name[16];
    enum sp_transport transport;
    int vendor;
    char label[8];
};

static struct sp_port table[] = {{"/dev/ttyS0", SP_TRANSPORT_NATIVE, 0, "ttyS0"},
                                 {"/dev/ttyUSB0", SP_TRANSPORT_USB, 0x0403, "A\nB"},
                                 {"/dev/ttyUSB1", SP_TRANSPORT_USB, -1, ""},
                                 {"/dev/tty\nX", SP_TRANSPORT_NATIVE, 0, ""}};
static enum sp_return list_answer;
static bool list_missing; /* as libserialport 0.1.1 does without memory */
static int lists;
static int os_code = 5;

enum sp_return sp_list_ports(struct sp_port ***list)
{
    if (list_answer != SP_OK || list_missing)
        return list_answer;
    *list = calloc(5, sizeof **list);
    for (int i = 0; i < 4; i++)
        (*list)[i] = &table[i];
    lists++;
    return SP_OK;
}

void sp_free_port_list(struct sp_port **list)
{
    free(list);
    lists--;
}

int sp_last_error_code(void)
{
    return os_code;
}

char *sp_get_port_name(const struct sp_port *port)
{
    return ((struct sp_port *)(uintptr_t)port)->name;
}

char *sp_get_port_description(const struct sp_port *port)
{
    return ((struct sp_port *)(uintptr_t)port)->label;
}

enum sp_transport sp_get_port_transport(const struct sp_port *port)
{
    return port->transport;
}

enum sp_return sp_get_port_usb_vid_pid(const struct sp_port *port, int *vendor, int *product)
{
    *vendor = port->vendor;
    *product = 0x6001;
    return port->vendor >= 0 ? SP_OK : SP_ERR_SUPP;
}

char *sp_get_port_usb_serial(const struct sp_port *port)
{
    static char serial[] = "A7";
    return port->vendor > 0 ? serial : NULL;
}

char *sp_get_port_usb_manufacturer(const struct sp_port *port)
{
    static char maker[] = "\xFF";
    return port->vendor > 0 ? maker : NULL;
}

struct listed {
    int count;
    struct port_found ports[4];
};

static void add(void *user, const struct port_found *found)
{
    struct listed *listed = user;
    listed->ports[listed->count++] = *found;
}

static void test_list(void **state)
{
    (void)state;
    struct listed listed = {0};
    assert_int_equal(serial_ports_visit(add, &listed, NULL), CFOIL_OK);
    assert_int_equal(lists, 0);
    assert_int_equal(listed.count, 3); /* no port string could name the last */
    assert_string_equal(listed.ports[0].port, "serial:/dev/ttyS0");
    assert_string_equal(listed.ports[0].label, "ttyS0");
    assert_false(listed.ports[0].usb);
    assert_true(listed.ports[1].usb);
    assert_int_equal(listed.ports[1].vendor, 0x0403);
    assert_int_equal(listed.ports[1].product, 0x6001);
    assert_string_equal(listed.ports[1].serial, "A7");
    assert_string_equal(listed.ports[1].label, ""); /* what cannot be shown is left out */
    assert_string_equal(listed.ports[1].maker, "");
    assert_false(listed.ports[2].usb);
}

static void test_failures(void **state)
{
    (void)state;
    struct listed listed = {0};
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    list_answer = SP_ERR_MEM;
    assert_int_equal(serial_ports_visit(add, &listed, &error), CFOIL_E_MEMORY);
    list_answer = SP_ERR_FAIL;
    assert_int_equal(serial_ports_visit(add, &listed, &error), CFOIL_E_PORT_FAILED);
    assert_int_equal(error.os_code, 5);
    os_code = ENOMEM;
    assert_int_equal(serial_ports_visit(add, &listed, &error), CFOIL_E_MEMORY);
    list_answer = SP_OK;
    list_missing = true;
    assert_int_equal(serial_ports_visit(add, &listed, &error), CFOIL_E_MEMORY);
    list_answer = SP_ERR_SUPP;
    assert_int_equal(serial_ports_visit(add, &listed, &error), CFOIL_E_PORT_FAILED);
    assert_int_equal(listed.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_list), cmocka_unit_test(test_failures)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
