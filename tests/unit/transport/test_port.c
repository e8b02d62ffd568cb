/*
 * Which port strings and settings are well formed, and is the message clear for those that are not?
 */
#include "test.h"

#include "transport/port.h"
#include "transport/settings.h"
#include "transport/transport.h"

#include "model/memory.h"

#include <stdio.h>

static void test_good_ports(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum port_kind kind;
        const char *place;
        const char *service;
    } cases[] = {
        {"serial:/dev/ttyUSB0", PORT_SERIAL, "/dev/ttyUSB0", ""},
        {"serial:COM1", PORT_SERIAL, "COM1", ""},
        {"serial:COM10", PORT_SERIAL, "COM10", ""},
        {"serial:COM256", PORT_SERIAL, "COM256", ""},
        {"tcp:till-3.shop.example:5000", PORT_TCP, "till-3.shop.example", "5000"},
        {"tcp:192.0.2.7:1", PORT_TCP, "192.0.2.7", "1"},
        {"tcp:[::1]:65535", PORT_TCP, "::1", "65535"},
        {"tcp:[fe80::1%eth0]:5000", PORT_TCP, "fe80::1%eth0", "5000"},
        {"trace:a b/c.trace", PORT_TRACE, "a b/c.trace", ""},
        {"usb:1d6b:0104", PORT_USB, "1d6b:0104", ""},
        {"usb:1D6B:0104:A-7/if=2/detach=yes", PORT_USB, "1D6B:0104:A-7/if=2/detach=yes", ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct port port;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(port_parse(cases[i].text, &port, &error), CFOIL_OK);
        assert_int_equal(transport_port_check(cases[i].text, &error), CFOIL_OK);
        assert_int_equal(port.kind, cases[i].kind);
        assert_string_equal(port.place, cases[i].place);
        assert_string_equal(port.service, cases[i].service);
    }
}

static void test_bad_ports(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *told; /* part of the message */
    } cases[] = {
        {NULL, "511 bytes"},
        {"", "511 bytes"},
        {"/dev/ttyUSB0", "begin with"},
        {"Serial:/dev/ttyUSB0", "begin with"},
        {" serial:/dev/ttyUSB0", "begin with"},
        {"usb:", "usb:VID:PID"},
        {"usb:1", "four hexadecimal digits"},
        {"serial:", "serial:DEVICE"},
        {"serial:a\nb", "511 bytes"},
        {"serial:\xff", "511 bytes"},
        {"trace:", "trace:FILE"},
        {"tcp:", "tcp:HOST:PORT"},
        {"tcp:host", "tcp:HOST:PORT"},
        {"tcp::5000", "not a name"},
        {"tcp:ho st:5000", "not a name"},
        {"tcp:ho/st:5000", "not a name"},
        {"tcp:host:", "1 to 65535"},
        {"tcp:host:0", "1 to 65535"},
        {"tcp:host:05", "1 to 65535"},
        {"tcp:host:65536", "1 to 65535"},
        {"tcp:host:99999", "1 to 65535"},
        {"tcp:host:123456", "1 to 65535"},
        {"tcp:host:-1", "1 to 65535"},
        {"tcp:host:50x", "1 to 65535"},
        {"tcp:::1:5000", "in brackets"},
        {"tcp:[::1:5000", "Close the bracket"},
        {"tcp:[::1]", "after the bracket"},
        {"tcp:[::1]5000", "after the bracket"},
        {"tcp:[::1]:", "1 to 65535"},
        {"tcp:[]:5000", "not a name"},
        {"tcp:[host]:5000", "not a name"},
        {"tcp:[::1/]:5000", "not a name"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct port port;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(port_parse(cases[i].text, &port, &error), CFOIL_E_ARGUMENT_PORT);
        assert_int_equal(error.result, CFOIL_E_ARGUMENT_PORT);
        assert_non_null(strstr(error.text, cases[i].told));
    }
}

static void test_port_length(void **state)
{
    (void)state;
    char text[PORT_TEXT_MAX + 2];
    memset(text, 'x', sizeof text);
    memcpy(text, "serial:", 7);
    text[PORT_TEXT_MAX + 1] = '\0';
    struct port port;
    assert_int_equal(port_parse(text, &port, NULL), CFOIL_E_ARGUMENT_PORT);
    text[PORT_TEXT_MAX] = '\0';
    assert_int_equal(port_parse(text, &port, NULL), CFOIL_OK);
}

static void test_trace_is_not_opened(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_line line = {9600, 8, 1, CFOIL_PARITY_NONE};
    assert_int_equal(transport_open(&memory_heap, "trace:x", WAY_BYTES, &line, 10, NULL, &transport, NULL),
                     CFOIL_E_ARGUMENT_PORT);
    assert_int_equal(transport_open(&memory_heap, "nothing", WAY_BYTES, &line, 10, NULL, &transport, NULL),
                     CFOIL_E_ARGUMENT_PORT);
    assert_null(transport);
    transport_close(NULL);
}

static void test_good_settings(void **state)
{
    (void)state;
    struct settings settings;
    assert_int_equal(settings_parse(NULL, &settings, NULL), CFOIL_OK);
    assert_int_equal(settings.count, 0);
    assert_int_equal(settings_parse("", &settings, NULL), CFOIL_OK);
    assert_int_equal(settings.count, 0);
    assert_int_equal(settings_parse("currency.GB=GBP;poll_ms=200;a-1=b=c d", &settings, NULL), CFOIL_OK);
    assert_int_equal(settings.count, 3);
    assert_string_equal(settings.items[0].key, "currency.GB");
    assert_string_equal(settings.items[0].value, "GBP");
    assert_string_equal(settings.items[2].key, "a-1");
    assert_string_equal(settings.items[2].value, "b=c d");
}

static void test_bad_settings(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *told;
    } cases[] = {
        {"a", "key=value"},
        {"a=1;", "2: write it"},
        {";a=1", "1: write it"},
        {"=1", "the key must"},
        {"a+=1", "the key must"},
        {"a =1", "the key must"},
        {"a=1; b=2", "2: the key must"},
        {"abcdefghijklmnopqrstuvwxyz0123456=1", "the key must"},
        {"a=", "value is missing"},
        {"a=1;a=2", "given before"},
        {"a=1\n", "512 bytes"},
        {"a=\xff", "512 bytes"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct settings settings;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(settings_parse(cases[i].text, &settings, &error), CFOIL_E_ARGUMENT_SETTING);
        assert_non_null(strstr(error.text, cases[i].told));
    }
}

static void test_settings_limits(void **state)
{
    (void)state;
    char text[SETTINGS_TEXT_MAX + 2] = "";
    size_t length = 0;
    for (int i = 0; i < SETTINGS_MAX; i++)
        length += (size_t)snprintf(text + length, sizeof text - length, "%sk%d=1", i == 0 ? "" : ";", i);
    struct settings settings;
    assert_int_equal(settings_parse(text, &settings, NULL), CFOIL_OK);
    assert_int_equal(settings.count, SETTINGS_MAX);
    snprintf(text + length, sizeof text - length, ";more=1");
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(settings_parse(text, &settings, &error), CFOIL_E_ARGUMENT_SETTING);
    assert_non_null(strstr(error.text, "32 at most"));
    memset(text, 'a', sizeof text - 1);
    text[1] = '=';
    text[SETTINGS_TEXT_MAX + 1] = '\0';
    assert_int_equal(settings_parse(text, &settings, NULL), CFOIL_E_ARGUMENT_SETTING);
    text[SETTINGS_TEXT_MAX] = '\0';
    assert_int_equal(settings_parse(text, &settings, NULL), CFOIL_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_ports),      cmocka_unit_test(test_bad_ports),
        cmocka_unit_test(test_port_length),     cmocka_unit_test(test_trace_is_not_opened),
        cmocka_unit_test(test_good_settings),   cmocka_unit_test(test_bad_settings),
        cmocka_unit_test(test_settings_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
