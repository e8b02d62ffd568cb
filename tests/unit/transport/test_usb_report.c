/*
 * Are the lengths of HID reports read as the standard counts them, and damaged descriptors refused?
 */
#include "test.h"

#include "transport/usb_report.h"

/* HID 1.11 appendix B.1, the keyboard of the boot protocol (typed from memory of it): 8 bytes in, 1 byte out. */
static const uint8_t keyboard[] = {0x05, 0x01, 0x09, 0x06, 0xA1, 0x01, 0x05, 0x07, 0x19, 0xE0, 0x29, 0xE7, 0x15,
                                   0x00, 0x25, 0x01, 0x75, 0x01, 0x95, 0x08, 0x81, 0x02, 0x95, 0x01, 0x75, 0x08,
                                   0x81, 0x01, 0x95, 0x05, 0x75, 0x01, 0x05, 0x08, 0x19, 0x01, 0x29, 0x05, 0x91,
                                   0x02, 0x95, 0x01, 0x75, 0x03, 0x91, 0x01, 0x95, 0x06, 0x75, 0x08, 0x15, 0x00,
                                   0x25, 0x65, 0x05, 0x07, 0x19, 0x00, 0x29, 0x65, 0x81, 0x00, 0xC0};

/* HID 1.11 appendix B.2, the mouse (typed from memory): 3 bytes in. */
static const uint8_t mouse[] = {0x05, 0x01, 0x09, 0x02, 0xA1, 0x01, 0x09, 0x01, 0xA1, 0x00, 0x05, 0x09, 0x19,
                                0x01, 0x29, 0x03, 0x15, 0x00, 0x25, 0x01, 0x95, 0x03, 0x75, 0x01, 0x81, 0x02,
                                0x95, 0x01, 0x75, 0x05, 0x81, 0x01, 0x05, 0x01, 0x09, 0x30, 0x09, 0x31, 0x15,
                                0x81, 0x25, 0x7F, 0x75, 0x08, 0x95, 0x02, 0x81, 0x06, 0xC0, 0xC0};

static void test_published(void **state)
{
    (void)state;
    struct usb_reports reports;
    assert_true(usb_reports_read(keyboard, sizeof keyboard, &reports));
    assert_false(reports.numbered);
    assert_int_equal(reports.input[0], 8);
    assert_int_equal(reports.output[0], 1);
    assert_int_equal(reports.input_max, 8);
    assert_int_equal(reports.output_max, 1);
    assert_true(usb_reports_read(mouse, sizeof mouse, &reports));
    assert_int_equal(reports.input[0], 3);
    assert_int_equal(reports.output_max, 0);
}

/* Numbers, push and pop, a long item, a report filled up to whole bytes; the number counts as a byte. */
static void test_numbered(void **state)
{
    (void)state;
    static const uint8_t bytes[] = {
        0x85, 0x01, 0x75, 0x08, 0x95, 0x3F, 0x81, 0x02,             /* number 1: 63 bytes in */
        0xA4, 0x85, 0x02, 0x75, 0x03, 0x95, 0x03, 0x91, 0x02, 0xB4, /* pushed: number 2: 9 bits out; popped */
        0xFE, 0x02, 0x77, 0x81, 0x02,                               /* a long item of 2 bytes that look like an input */
        0x96, 0x02, 0x00, 0x91, 0x02, /* number 1 again: 2 bytes out, the count in 2 bytes */
        0xB1, 0x02};                  /* a feature report is none of ours */
    struct usb_reports reports;
    assert_true(usb_reports_read(bytes, sizeof bytes, &reports));
    assert_true(reports.numbered);
    assert_int_equal(reports.input[1], 64);
    assert_int_equal(reports.output[2], 3);
    assert_int_equal(reports.output[1], 3);
    assert_int_equal(reports.input[2], 0);
    assert_int_equal(reports.input_max, 64);
    assert_int_equal(reports.output_max, 3);
}

static void test_refused(void **state)
{
    (void)state;
    static const struct {
        uint8_t bytes[24];
        size_t length;
    } cases[] = {
        {{0}, 0},                                                           /* nothing */
        {{0x05, 0x01}, 2},                                                  /* no report */
        {{0x75, 0x08, 0x95, 0x01, 0x81}, 5},                                /* cut in an item */
        {{0xFE, 0x09}, 2},                                                  /* cut in the head of a long item */
        {{0xFE, 0x09, 0x00, 0x00}, 4},                                      /* cut in a long item */
        {{0x85, 0x00, 0x75, 0x08, 0x95, 0x01, 0x81, 0x02}, 8},              /* number 0 is reserved */
        {{0x86, 0x00, 0x01, 0x75, 0x08, 0x95, 0x01, 0x81, 0x02}, 9},        /* number 256 */
        {{0x75, 0x08, 0x95, 0x01, 0x81, 0x02, 0x85, 0x01, 0x81, 0x02}, 10}, /* one without a number, one with */
        {{0xB4, 0x75, 0x08, 0x95, 0x01, 0x81, 0x02}, 7},                    /* popped and not pushed */
        {{0xA4, 0xA4, 0xA4, 0xA4, 0xA4, 0xA4, 0xA4, 0xA4, 0xA4}, 9},        /* pushed too deep */
        {{0x75, 0x08, 0x96, 0x00, 0x10, 0x81, 0x02}, 7},                    /* 4096 bytes: no room for a number */
        {{0x77, 0xFF, 0xFF, 0xFF, 0xFF, 0x97, 0xFF, 0xFF, 0xFF, 0xFF, 0x81, 0x02}, 12}, /* would overflow */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct usb_reports reports;
        assert_false(usb_reports_read(cases[i].bytes, cases[i].length, &reports));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published),
        cmocka_unit_test(test_numbered),
        cmocka_unit_test(test_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
