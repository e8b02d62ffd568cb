/*
 * Which USB port strings are well formed, what do they mean, and are they written as they are read?
 */
#include "test.h"

#include "transport/usb_name.h"

#include <stdio.h>

static void test_good_names(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        struct usb_name name;
        const char *written; /* NULL = the same */
    } cases[] = {
        {"1D6B:0104", {0x1D6B, 0x0104, USB_INTERFACE_ANY, false, ""}, NULL},
        {"00ff:fffe", {0x00FF, 0xFFFE, USB_INTERFACE_ANY, false, ""}, "00FF:FFFE"},
        {"1D6B:0104:A-7", {0x1D6B, 0x0104, USB_INTERFACE_ANY, false, "A-7"}, NULL},
        {"1D6B:0104:A:7", {0x1D6B, 0x0104, USB_INTERFACE_ANY, false, "A:7"}, NULL},
        {"1D6B:0104/if=0", {0x1D6B, 0x0104, 0, false, ""}, NULL},
        {"1D6B:0104/if=255/detach=yes", {0x1D6B, 0x0104, 255, true, ""}, NULL},
        {"1D6B:0104/detach=yes/if=10", {0x1D6B, 0x0104, 10, true, ""}, "1D6B:0104/if=10/detach=yes"},
        {"1D6B:0104:7/if=1", {0x1D6B, 0x0104, 1, false, "7"}, NULL},
        /* RFC 3986 section 2.1: the octet 2F is '/', 25 is '%', 20 a blank; digits in both cases are the same */
        {"1D6B:0104:a%2fb%25%20c", {0x1D6B, 0x0104, USB_INTERFACE_ANY, false, "a/b% c"}, "1D6B:0104:a%2Fb%25%20c"},
        {"1D6B:0104:a b", {0x1D6B, 0x0104, USB_INTERFACE_ANY, false, "a b"}, "1D6B:0104:a%20b"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct usb_name name;
        char written[USB_NAME_MAX + 1];
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(usb_name_parse(cases[i].text, &name, &error), CFOIL_OK);
        assert_int_equal(name.vendor, cases[i].name.vendor);
        assert_int_equal(name.product, cases[i].name.product);
        assert_int_equal(name.interface, cases[i].name.interface);
        assert_int_equal(name.detach, cases[i].name.detach);
        assert_string_equal(name.serial, cases[i].name.serial);
        usb_name_write(&name, written);
        assert_string_equal(written, cases[i].written != NULL ? cases[i].written : cases[i].text);
    }
}

static void test_bad_names(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *told;
    } cases[] = {
        {"", "four hexadecimal digits"},
        {"1D6B", "four hexadecimal digits"},
        {"1D6B:", "four hexadecimal digits"},
        {"1D6B:104", "four hexadecimal digits"},
        {"1D6:0104", "four hexadecimal digits"},
        {"01D6B:0104", "four hexadecimal digits"},
        {"1D6B:0104x", "four hexadecimal digits"},
        {"0x1D:0104", "four hexadecimal digits"},
        {"1D6B:0104:", "serial number"},
        {"1D6B:0104:/if=1", "serial number"},
        {"1D6B:0104:a%2", "serial number"},
        {"1D6B:0104:a%zz", "serial number"},
        {"1D6B:0104:a%00b", "serial number"},
        {"1D6B:0104:a%7Fb", "serial number"},
        {"1D6B:0104:\xC3\xA4", "serial number"},
        {"1D6B:0104/", "each once"},
        {"1D6B:0104/if", "each once"},
        {"1D6B:0104/if=", "0 to 255"},
        {"1D6B:0104/if=256", "0 to 255"},
        {"1D6B:0104/if=01", "0 to 255"},
        {"1D6B:0104/if=-1", "0 to 255"},
        {"1D6B:0104/if=1x", "each once"},
        {"1D6B:0104/if=1/if=2", "each once"},
        {"1D6B:0104/detach=no", "each once"},
        {"1D6B:0104/detach=yes/detach=yes", "each once"},
        {"1D6B:0104/detach=yes2", "each once"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct usb_name name;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(usb_name_parse(cases[i].text, &name, &error), CFOIL_E_ARGUMENT_PORT);
        assert_non_null(strstr(error.text, cases[i].told));
    }
}

/* The longest serial number is taken, also when each byte of it is written as three; one more is not. */
static void test_long_serial(void **state)
{
    (void)state;
    char text[1024];
    char written[USB_NAME_MAX + 1];
    struct usb_name name;
    for (size_t length = USB_SERIAL_MAX; length <= USB_SERIAL_MAX + 1; length++) {
        size_t filled = (size_t)snprintf(text, sizeof text, "1D6B:0104:");
        for (size_t i = 0; i < length; i++)
            filled += (size_t)snprintf(text + filled, sizeof text - filled, "%%25");
        snprintf(text + filled, sizeof text - filled, "/if=255/detach=yes");
        int32_t expected = length == USB_SERIAL_MAX ? CFOIL_OK : CFOIL_E_ARGUMENT_PORT;
        assert_int_equal(usb_name_parse(text, &name, NULL), expected);
        if (expected != CFOIL_OK)
            continue;
        usb_name_write(&name, written);
        assert_string_equal(written, text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_names),
        cmocka_unit_test(test_bad_names),
        cmocka_unit_test(test_long_serial),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
