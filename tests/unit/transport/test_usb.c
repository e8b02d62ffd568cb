/*
 * Is a USB device found, claimed, read, written and given back as it should be, whatever libusb answers?
 */
#define _GNU_SOURCE /* pthread_cond_timedwait's clock */

#include "usb_standin.h"

#include "model/memory.h"
#include "os/os.h"
#include "transport/ports.h"
#include "transport/transport.h"

/* ---- Devices ---- */

#define ENDPOINT(address, type, size)                                                                                  \
    {                                                                                                                  \
        .bLength = 7, .bDescriptorType = LIBUSB_DT_ENDPOINT, .bEndpointAddress = (address), .bmAttributes = (type),    \
        .wMaxPacketSize = (size)                                                                                       \
    }

static const struct libusb_endpoint_descriptor bulk_ends[] = {ENDPOINT(0x81, 2, 64), ENDPOINT(0x02, 2, 64)};
static const struct libusb_endpoint_descriptor interrupt_ends[] = {ENDPOINT(0x83, 3, 16), ENDPOINT(0x04, 3, 16)};
static const struct libusb_endpoint_descriptor notify_end[] = {ENDPOINT(0x85, 3, 8)};
static const struct libusb_endpoint_descriptor in_only[] = {ENDPOINT(0x81, 2, 64)};

/* HID 1.11 section 6.2.1: one report descriptor of 34 bytes; CDC 1.2 table 16: union of 1 and 2. */
static const uint8_t hid_extra[] = {9, 0x21, 0x11, 0x01, 0, 1, 0x22, 34, 0};
static const uint8_t union_extra[] = {5, 0x24, 0x00, 0x10, 0x01, 5, 0x24, 0x06, 0, 1};

static const struct libusb_interface_descriptor pipe_setting[] = {
    {.bNumEndpoints = 2, .bInterfaceClass = 0xFF, .endpoint = bulk_ends}};
static const struct libusb_interface_descriptor second_setting[] = {
    {.bInterfaceNumber = 1, .bNumEndpoints = 2, .bInterfaceClass = 0xFF, .endpoint = interrupt_ends}};
static const struct libusb_interface_descriptor deaf_setting[] = {
    {.bNumEndpoints = 1, .bInterfaceClass = 0xFF, .endpoint = in_only}};
static const struct libusb_interface_descriptor hid_setting[] = {{.bNumEndpoints = 2,
                                                                  .bInterfaceClass = 3,
                                                                  .endpoint = interrupt_ends,
                                                                  .extra = hid_extra,
                                                                  .extra_length = sizeof hid_extra}};
static const struct libusb_interface_descriptor hid_short_setting[] = {{.bNumEndpoints = 1,
                                                                        .bInterfaceClass = 3,
                                                                        .endpoint = interrupt_ends,
                                                                        .extra = hid_extra,
                                                                        .extra_length = sizeof hid_extra}};
static const struct libusb_interface_descriptor acm_setting[] = {{.bNumEndpoints = 1,
                                                                  .bInterfaceClass = 2,
                                                                  .bInterfaceSubClass = 2,
                                                                  .endpoint = notify_end,
                                                                  .extra = union_extra,
                                                                  .extra_length = sizeof union_extra}};
static const struct libusb_interface_descriptor acm_data_setting[] = {
    {.bInterfaceNumber = 1, .bNumEndpoints = 2, .bInterfaceClass = 0x0A, .endpoint = bulk_ends}};

static const struct libusb_interface pipes[] = {{pipe_setting, 1}, {second_setting, 1}};
static const struct libusb_interface deaf[] = {{deaf_setting, 1}};
static const struct libusb_interface hid[] = {{hid_setting, 1}};
static const struct libusb_interface hid_short[] = {{hid_short_setting, 1}};
static const struct libusb_interface acm[] = {{acm_setting, 1}, {acm_data_setting, 1}};

static struct libusb_config_descriptor pipes_config = {.bNumInterfaces = 2, .interface = pipes};
static struct libusb_config_descriptor deaf_config = {.bNumInterfaces = 1, .interface = deaf};
static struct libusb_config_descriptor hid_config = {.bNumInterfaces = 1, .interface = hid};
static struct libusb_config_descriptor hid_short_config = {.bNumInterfaces = 1, .interface = hid_short};
static struct libusb_config_descriptor acm_config = {.bNumInterfaces = 2, .interface = acm};

/* 8 bytes in, 4 bytes out, without numbers; and the same with the numbers 1 and 2. */
static const uint8_t plain_reports[] = {0x75, 0x08, 0x95, 0x08, 0x81, 0x02, 0x95, 0x04, 0x91, 0x02};
static const uint8_t numbered_reports[] = {0x85, 0x01, 0x75, 0x08, 0x95, 0x08, 0x81,
                                           0x02, 0x85, 0x02, 0x95, 0x04, 0x91, 0x02};

static struct libusb_device *device_add(struct libusb_config_descriptor *config, const char *serial)
{
    struct libusb_device *device = &bus.devices[bus.count++];
    *device = (struct libusb_device){.config = config, .serial = serial};
    device->descriptor = (struct libusb_device_descriptor){.idVendor = 0x1D6B, .idProduct = 0x0104, .iSerialNumber = 3};
    return device;
}

static struct libusb_device *hid_add(struct libusb_config_descriptor *config, const uint8_t *reports, int length)
{
    struct libusb_device *device = device_add(config, "A");
    device->report_descriptor = reports;
    device->report_descriptor_length = length;
    return device;
}

/* ---- Opening and closing ---- */

static const cfoil_line line_9600 = {9600, 8, 1, CFOIL_PARITY_NONE};
static struct transport *port;
static cfoil_error_info error;

static int32_t try_open(const char *name)
{
    error = (cfoil_error_info)CFOIL_ERROR_INFO_INIT;
    return transport_open(&memory_heap, name, WAY_BYTES, &line_9600, 1000, NULL, &port, &error);
}

static void open_good(const char *name)
{
    assert_int_equal(try_open(name), CFOIL_OK);
}

static int begin(void **state)
{
    (void)state;
    bus_begin();
    port = NULL;
    return 0;
}

static int end(void **state)
{
    (void)state;
    transport_close(port);
    return bus.opened; /* everything was given back */
}

static void account_expect(const char *expected)
{
    assert_string_equal(bus.account, expected);
    bus.account[0] = '\0';
}

/* Waits for the port, reads once. */
static int32_t wait_read(uint8_t *bytes, uint32_t capacity, uint32_t *length)
{
    uint64_t until_us = os_monotonic_us() + 10000000;
    assert_int_equal(os_wait(transport_handle(port), NULL, until_us), OS_READY_PORT);
    return transport_read(port, bytes, capacity, length, &error);
}

static void failure_expect(int32_t result, const char *told)
{
    assert_int_equal(error.result, result);
    assert_non_null(strstr(error.text, told));
    assert_null(strstr(error.text, "LIBUSB"));
}

/* ---- Which device ---- */

static void test_open_failures(void **state)
{
    (void)state;
    static const struct {
        int answer;
        int32_t result;
        const char *told;
    } cases[] = {
        {LIBUSB_ERROR_ACCESS, CFOIL_E_PORT_DENIED, "udev"},
        {LIBUSB_ERROR_BUSY, CFOIL_E_PORT_BUSY, "/detach=yes"},
        {LIBUSB_ERROR_NO_DEVICE, CFOIL_E_PORT_MISSING, "plug it in"},
        {LIBUSB_ERROR_NO_MEM, CFOIL_E_MEMORY, "memory"},
        {LIBUSB_ERROR_NOT_SUPPORTED, CFOIL_E_PORT_FAILED, "WinUSB"},
        {LIBUSB_ERROR_TIMEOUT, CFOIL_E_PORT_TIME_OUT, "does not answer"},
        {LIBUSB_ERROR_PIPE, CFOIL_E_PORT_STALLED, "refuses"},
        {LIBUSB_ERROR_IO, CFOIL_E_PORT_FAILED, "check cable"},
    };
    struct libusb_device *device = device_add(&pipes_config, "A");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        device->open = cases[i].answer;
        assert_int_equal(try_open("usb:1D6B:0104"), cases[i].result);
        failure_expect(cases[i].result, cases[i].told);
        device->open = LIBUSB_SUCCESS;
        device->claim = cases[i].answer;
        assert_int_equal(try_open("usb:1D6B:0104:A"), cases[i].result);
        failure_expect(cases[i].result, cases[i].told);
        device->claim = LIBUSB_SUCCESS;
        assert_int_equal(bus.opened, 0);
    }
}

static void test_missing(void **state)
{
    (void)state;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_MISSING);
    struct libusb_device *device = device_add(&pipes_config, NULL);
    assert_int_equal(try_open("usb:1D6B:0105"), CFOIL_E_PORT_MISSING);
    assert_int_equal(try_open("usb:1D6C:0104"), CFOIL_E_PORT_MISSING);
    assert_int_equal(try_open("usb:1D6B:0104:A"), CFOIL_E_PORT_MISSING); /* it tells no serial number */
    assert_int_equal(try_open("usb:1D6B:0104/if=2"), CFOIL_E_PORT_SETTINGS);
    device->config = &deaf_config;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_SETTINGS);
    failure_expect(CFOIL_E_PORT_SETTINGS, "/if=N");
    device->config = NULL;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_MISSING);
    bus.list = LIBUSB_ERROR_NO_MEM;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_MEMORY);
    bus.init = LIBUSB_ERROR_OTHER;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_FAILED);
    failure_expect(CFOIL_E_PORT_FAILED, "/dev/bus/usb");
}

/* Two devices with the same numbers: never one of them by chance. */
static void test_two_alike(void **state)
{
    (void)state;
    device_add(&pipes_config, "A");
    device_add(&pipes_config, "B");
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_AMBIGUOUS);
    failure_expect(CFOIL_E_PORT_AMBIGUOUS, "2 USB devices");
    bus.devices[0].claim = LIBUSB_ERROR_BUSY;
    open_good("usb:1D6B:0104:B");
    transport_close(port);
    assert_int_equal(try_open("usb:1D6B:0104:A"), CFOIL_E_PORT_BUSY);
    bus.devices[1].serial = "A";
    assert_int_equal(try_open("usb:1D6B:0104:A"), CFOIL_E_PORT_AMBIGUOUS);
    failure_expect(CFOIL_E_PORT_AMBIGUOUS, "with that serial number");
    bus.devices[1].open = LIBUSB_ERROR_ACCESS; /* one that cannot be asked may be the one */
    assert_int_equal(try_open("usb:1D6B:0104:B"), CFOIL_E_PORT_DENIED);
    port = NULL;
}

static void test_system_driver(void **state)
{
    (void)state;
    struct libusb_device *device = device_add(&pipes_config, "A");
    device->driver = true;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_BUSY);
    account_expect("");
    open_good("usb:1D6B:0104/detach=yes");
    account_expect("detach 0;claim 0;");
    transport_close(port);
    account_expect("release 0;attach 0;");
    device->claim = LIBUSB_ERROR_BUSY; /* it is put back when we cannot have the interface */
    assert_int_equal(try_open("usb:1D6B:0104/detach=yes"), CFOIL_E_PORT_BUSY);
    account_expect("detach 0;attach 0;");
    device->driver = false; /* what was not moved aside is not brought */
    device->claim = LIBUSB_SUCCESS;
    open_good("usb:1D6B:0104/detach=yes");
    transport_close(port);
    account_expect("claim 0;release 0;");
    port = NULL;
}

/* ---- Bytes ---- */

static void test_pipe(void **state)
{
    (void)state;
    uint8_t bytes[64];
    uint32_t length;
    device_add(&pipes_config, "A");
    open_good("usb:1D6B:0104");
    account_expect("claim 0;");
    assert_int_equal(os_wait(transport_handle(port), NULL, 0), 0);
    assert_int_equal(transport_read(port, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 0);
    device_ends(LIBUSB_TRANSFER_COMPLETED, "abcdef", 6);
    device_ends(LIBUSB_TRANSFER_COMPLETED, "", 0);
    device_ends(LIBUSB_TRANSFER_COMPLETED, "gh", 2);
    assert_int_equal(wait_read(bytes, 4, &length), CFOIL_OK); /* cut where the reader wants it */
    assert_int_equal(length, 4);
    assert_memory_equal(bytes, "abcd", 4);
    assert_int_equal(wait_read(bytes, 4, &length), CFOIL_OK);
    assert_int_equal(length, 2);
    assert_memory_equal(bytes, "ef", 2);
    do {
        assert_int_equal(wait_read(bytes, 4, &length), CFOIL_OK);
    } while (length == 0);
    assert_int_equal(length, 2);
    assert_memory_equal(bytes, "gh", 2);
    assert_int_equal(transport_read(port, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 0);
    assert_int_equal(os_wait(transport_handle(port), NULL, 0), 0); /* the signal is down again */
    assert_int_equal(transport_write(port, (const uint8_t *)"xyz", 3, &error), CFOIL_OK);
    account_expect("bulk 78 79 7a;");
}

/* Much more than there are buffers: in order, and none of it lost. */
static void test_much(void **state)
{
    (void)state;
    uint8_t bytes[4096];
    uint32_t length;
    uint8_t next = 0;
    device_add(&pipes_config, "A");
    open_good("usb:1D6B:0104/if=1");
    account_expect("claim 1;");
    for (int i = 0; i < 200; i++) {
        uint8_t sent[2] = {(uint8_t)(2 * i), (uint8_t)(2 * i + 1)};
        device_ends(LIBUSB_TRANSFER_COMPLETED, sent, 2);
        if (i % 3 != 0 && i != 199)
            continue;
        for (;;) {
            /* the callbacks run on another thread: the last one is awaited by its number */
            assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_OK);
            for (uint32_t k = 0; k < length; k++)
                assert_int_equal(bytes[k], next++);
            if (next == (uint8_t)(2 * i + 2))
                break;
        }
    }
    memset(bytes, 7, sizeof bytes);
    assert_int_equal(transport_write(port, bytes, sizeof bytes, &error), CFOIL_OK);
    account_expect("interrupt 07 07 07 07 07 07 07 07 07 07 07 07 07 07 07 07;");
}

static void test_longer_than_a_transfer(void **state)
{
    (void)state;
    static uint8_t bytes[4097];
    device_add(&pipes_config, "A");
    open_good("usb:1D6B:0104");
    account_expect("claim 0;");
    assert_int_equal(transport_write(port, bytes, sizeof bytes, &error), CFOIL_OK);
    account_expect("bulk 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00;bulk 00;");
}

/* What came before the failure is read before it; it stays, and writing fails with it. */
static void test_input_failures(void **state)
{
    (void)state;
    static const struct {
        enum libusb_transfer_status status;
        int32_t result;
        const char *told;
    } cases[] = {
        {LIBUSB_TRANSFER_NO_DEVICE, CFOIL_E_PORT_GONE, "plug it in"},
        {LIBUSB_TRANSFER_STALL, CFOIL_E_PORT_STALLED, "stall"},
        {LIBUSB_TRANSFER_OVERFLOW, CFOIL_E_PORT_OVERFLOW, "more than its descriptor"},
        {LIBUSB_TRANSFER_TIMED_OUT, CFOIL_E_PORT_TIME_OUT, "takes no bytes"},
        {LIBUSB_TRANSFER_ERROR, CFOIL_E_PORT_FAILED, "check cable"},
    };
    device_add(&pipes_config, "A");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint8_t bytes[16];
        uint32_t length = 0;
        bus.clear_halts = 0;
        open_good("usb:1D6B:0104");
        device_ends(LIBUSB_TRANSFER_COMPLETED, "ab", 2);
        device_ends(cases[i].status, "c", 1);
        assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_OK);
        assert_int_equal(length, 2);
        int32_t result = wait_read(bytes, sizeof bytes, &length);
        while (result == CFOIL_OK && length == 0)
            result = wait_read(bytes, sizeof bytes, &length);
        assert_int_equal(result, CFOIL_OK);
        assert_int_equal(length, 1);
        for (int again = 0; again < 2; again++) {
            assert_int_equal(wait_read(bytes, sizeof bytes, &length), cases[i].result);
            failure_expect(cases[i].result, cases[i].told);
        }
        assert_int_equal(transport_write(port, bytes, 1, &error), cases[i].result);
        transport_close(port);
        assert_int_equal(bus.opened, 0);
        /* USB 2.0 section 9.4.5: a halt stays until it is cleared, in both directions of ours */
        assert_int_equal(bus.clear_halts, cases[i].status == LIBUSB_TRANSFER_STALL ? 2 : 0);
    }
    port = NULL;
}

/* A pulled plug: the transfer fails as if by noise, and the device answers nothing any more. */
static void test_gone_or_noise(void **state)
{
    (void)state;
    uint8_t bytes[4];
    uint32_t length;
    struct libusb_device *device = device_add(&pipes_config, "A");
    open_good("usb:1D6B:0104");
    device_ends(LIBUSB_TRANSFER_ERROR, "", 0);
    assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_E_PORT_FAILED);
    device->mute = true;
    assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_E_PORT_GONE);
    failure_expect(CFOIL_E_PORT_GONE, "plug it in");
    assert_int_equal(transport_write(port, bytes, 1, &error), CFOIL_E_PORT_GONE);
}

static void test_output_failures(void **state)
{
    (void)state;
    static const struct {
        enum libusb_transfer_status status;
        int short_by;
        int32_t result;
    } cases[] = {
        {LIBUSB_TRANSFER_NO_DEVICE, 3, CFOIL_E_PORT_GONE},     {LIBUSB_TRANSFER_STALL, 3, CFOIL_E_PORT_STALLED},
        {LIBUSB_TRANSFER_TIMED_OUT, 1, CFOIL_E_PORT_TIME_OUT}, {LIBUSB_TRANSFER_ERROR, 3, CFOIL_E_PORT_FAILED},
        {LIBUSB_TRANSFER_COMPLETED, 1, CFOIL_E_PORT_FAILED},
    };
    device_add(&pipes_config, "A");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        open_good("usb:1D6B:0104");
        bus.out_status = cases[i].status;
        bus.out_short = cases[i].short_by;
        assert_int_equal(transport_write(port, (const uint8_t *)"xyz", 3, &error), cases[i].result);
        transport_close(port);
        assert_int_equal(bus.opened, 0);
    }
    port = NULL;
}

/* Not even a transfer that ignores its own time-out holds the caller up, or the closing. */
static void test_output_hangs(void **state)
{
    (void)state;
    device_add(&pipes_config, "A");
    open_good("usb:1D6B:0104");
    bus.out_hangs = true;
    uint64_t begun_us = os_monotonic_us();
    assert_int_equal(transport_write(port, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_TIME_OUT);
    assert_in_range(os_monotonic_us() - begun_us, 500000, 5000000);
    uint8_t bytes[4];
    uint32_t length;
    assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_E_PORT_TIME_OUT);
}

static void test_submit_refused(void **state)
{
    (void)state;
    uint8_t bytes[4];
    uint32_t length;
    device_add(&pipes_config, "A");
    bus.submit = LIBUSB_ERROR_NO_DEVICE;
    open_good("usb:1D6B:0104");
    assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_E_PORT_GONE);
    assert_int_equal(transport_write(port, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_GONE);
}

/* ---- Reports and CDC ---- */

static void test_reports(void **state)
{
    (void)state;
    uint8_t bytes[64];
    uint32_t length;
    hid_add(&hid_config, plain_reports, sizeof plain_reports);
    open_good("usb:1D6B:0104");
    account_expect("claim 0;");
    device_ends(LIBUSB_TRANSFER_COMPLETED, "12345678", 8);
    device_ends(LIBUSB_TRANSFER_COMPLETED, "abcdefgh", 8);
    assert_int_equal(wait_read(bytes, sizeof bytes, &length), CFOIL_OK); /* one report at a time */
    assert_int_equal(length, 8);
    assert_memory_equal(bytes, "12345678", 8);
    /* filled up to the length of the report; what is longer goes on in the next one */
    assert_int_equal(transport_write(port, (const uint8_t *)"\x01\x02", 2, &error), CFOIL_OK);
    account_expect("interrupt 01 02 00 00;");
    assert_int_equal(transport_write(port, (const uint8_t *)"\x01\x02\x03\x04\x05", 5, &error), CFOIL_OK);
    account_expect("interrupt 01 02 03 04;interrupt 05 00 00 00;");
}

/* HID 1.11 section 7.2.2: SET_REPORT, the kind (2 = output) in the high byte of the value, the number in the low one. */
static void test_reports_by_request(void **state)
{
    (void)state;
    struct libusb_device *device = hid_add(&hid_short_config, numbered_reports, sizeof numbered_reports);
    open_good("usb:1D6B:0104");
    account_expect("claim 0;");
    assert_int_equal(transport_write(port, (const uint8_t *)"\x02\x0A", 2, &error), CFOIL_OK);
    account_expect("request 09 0202 0 02 0a 00 00 00;");
    assert_int_equal(transport_write(port, (const uint8_t *)"\x01\x0A", 2, &error), CFOIL_E_PORT_SETTINGS);
    assert_int_equal(transport_write(port, (const uint8_t *)"\x02\x0A\x0B\x0C\x0D\x0E", 6, &error),
                     CFOIL_E_PORT_SETTINGS);
    account_expect("");
    device->control = LIBUSB_ERROR_PIPE;
    assert_int_equal(transport_write(port, (const uint8_t *)"\x02\x0A", 2, &error), CFOIL_E_PORT_STALLED);
}

static void test_no_reports(void **state)
{
    (void)state;
    struct libusb_device *device = hid_add(&hid_config, plain_reports, LIBUSB_ERROR_PIPE);
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_STALLED);
    device->report_descriptor_length = 3; /* cut */
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_SETTINGS);
    failure_expect(CFOIL_E_PORT_SETTINGS, "no reports");
}

/* CDC PSTN 1.2 table 17: the rate with its lowest byte first, stop bits, parity, data bits; then DTR and RTS. */
static void test_acm(void **state)
{
    (void)state;
    struct libusb_device *device = device_add(&acm_config, "A");
    open_good("usb:1D6B:0104");
    account_expect("claim 0;claim 1;request 20 0000 0 80 25 00 00 00 00 08;request 22 0003 0;");
    assert_int_equal(transport_write(port, (const uint8_t *)"x", 1, &error), CFOIL_OK);
    account_expect("bulk 78;");
    transport_close(port);
    account_expect("release 1;release 0;");
    device->control = LIBUSB_ERROR_PIPE; /* no line behind it */
    open_good("usb:1D6B:0104");
    transport_close(port);
    device->control = LIBUSB_ERROR_IO;
    assert_int_equal(try_open("usb:1D6B:0104"), CFOIL_E_PORT_FAILED);
    static const cfoil_line odd_line = {115200, 7, 2, CFOIL_PARITY_ODD};
    device->control = LIBUSB_SUCCESS;
    bus.account[0] = '\0';
    assert_int_equal(transport_open(&memory_heap, "usb:1D6B:0104", WAY_BYTES, &odd_line, 1000, NULL, &port, &error),
                     CFOIL_OK);
    account_expect("claim 0;claim 1;request 20 0000 0 00 c2 01 00 02 01 07;request 22 0003 0;");
}

/* ---- Who may use it ---- */

static void test_ways(void **state)
{
    (void)state;
    device_add(&pipes_config, "A");
    assert_int_equal(
        transport_open(&memory_heap, "usb:1D6B:0104", WAY_WORDS_PARITY, &line_9600, 1000, NULL, &port, &error),
        CFOIL_E_ARGUMENT_PORT);
    assert_null(port);
}

/* ---- Listing ---- */

struct listed {
    int count;
    struct port_found ports[8];
};

static void listed_add(void *user, const struct port_found *found)
{
    struct listed *listed = user;
    listed->ports[listed->count++] = *found;
}

static void test_list(void **state)
{
    (void)state;
    struct listed listed = {0};
    struct libusb_device *first = device_add(&pipes_config, "A/7");
    first->descriptor.iProduct = 3;
    first->driver = true;
    device_add(&acm_config, "B");
    hid_add(&hid_config, plain_reports, sizeof plain_reports)->open = LIBUSB_ERROR_ACCESS;
    device_add(&deaf_config, "C"); /* carries nothing both ways */
    assert_int_equal(usb_ports_visit(listed_add, &listed, &error), CFOIL_OK);
    assert_int_equal(listed.count, 4);
    assert_string_equal(listed.ports[0].port, "usb:1D6B:0104:A%2F7/if=0");
    assert_string_equal(listed.ports[0].label, "A/7");
    assert_string_equal(listed.ports[0].maker, "");
    assert_true(listed.ports[0].system_driver);
    assert_int_equal(listed.ports[0].carrier, PORT_CARRIER_PIPE);
    assert_string_equal(listed.ports[1].port, "usb:1D6B:0104:A%2F7/if=1");
    assert_false(listed.ports[1].system_driver);
    assert_string_equal(listed.ports[2].port, "usb:1D6B:0104:B"); /* both interfaces of CDC-ACM are one port */
    assert_int_equal(listed.ports[2].carrier, PORT_CARRIER_ACM);
    assert_string_equal(listed.ports[3].port, "usb:1D6B:0104");
    assert_int_equal(listed.ports[3].result, CFOIL_E_PORT_DENIED);
    assert_int_equal(listed.ports[3].carrier, PORT_CARRIER_REPORTS);
    account_expect(""); /* nothing was claimed, and nothing sent */
    bus.list = LIBUSB_ERROR_NO_MEM;
    assert_int_equal(usb_ports_visit(listed_add, &listed, &error), CFOIL_E_MEMORY);
    bus.init = LIBUSB_ERROR_OTHER; /* a system without USB */
    assert_int_equal(usb_ports_visit(listed_add, &listed, &error), CFOIL_OK);
    assert_int_equal(listed.count, 4);
}

/* Disks and printers carry bytes both ways, too. */
static void test_list_other_classes(void **state)
{
    (void)state;
    static const struct libusb_interface_descriptor disk_setting[] = {
        {.bNumEndpoints = 2, .bInterfaceClass = 0x08, .endpoint = bulk_ends}};
    static const struct libusb_interface disk[] = {{disk_setting, 1}};
    static struct libusb_config_descriptor disk_config = {.bNumInterfaces = 1, .interface = disk};
    struct listed listed = {0};
    device_add(&disk_config, "D");
    assert_int_equal(usb_ports_visit(listed_add, &listed, &error), CFOIL_OK);
    assert_int_equal(listed.count, 0);
}

/* Memory that runs out at any point: the port is not opened, and nothing stays. */
struct rationed {
    int left;
};

static void *rationed_allocate(void *user, size_t size)
{
    struct rationed *rationed = user;
    return rationed->left-- > 0 ? malloc(size) : NULL;
}

static void rationed_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_memory(void **state)
{
    (void)state;
    device_add(&acm_config, "A");
    int32_t result = CFOIL_E_MEMORY;
    int allowed = 0;
    for (; result != CFOIL_OK; allowed++) {
        assert_in_range(allowed, 0, 100);
        struct rationed rationed = {allowed};
        const struct memory memory = {&rationed, rationed_allocate, rationed_release};
        result = transport_open(&memory, "usb:1D6B:0104", WAY_BYTES, &line_9600, 1000, NULL, &port, &error);
        if (result == CFOIL_OK)
            transport_close(port);
        assert_int_equal(bus.opened, 0);
    }
    assert_true(allowed > 5);
    port = NULL;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_open_failures, begin, end),
        cmocka_unit_test_setup_teardown(test_missing, begin, end),
        cmocka_unit_test_setup_teardown(test_two_alike, begin, end),
        cmocka_unit_test_setup_teardown(test_system_driver, begin, end),
        cmocka_unit_test_setup_teardown(test_pipe, begin, end),
        cmocka_unit_test_setup_teardown(test_much, begin, end),
        cmocka_unit_test_setup_teardown(test_longer_than_a_transfer, begin, end),
        cmocka_unit_test_setup_teardown(test_input_failures, begin, end),
        cmocka_unit_test_setup_teardown(test_gone_or_noise, begin, end),
        cmocka_unit_test_setup_teardown(test_output_failures, begin, end),
        cmocka_unit_test_setup_teardown(test_output_hangs, begin, end),
        cmocka_unit_test_setup_teardown(test_submit_refused, begin, end),
        cmocka_unit_test_setup_teardown(test_reports, begin, end),
        cmocka_unit_test_setup_teardown(test_reports_by_request, begin, end),
        cmocka_unit_test_setup_teardown(test_no_reports, begin, end),
        cmocka_unit_test_setup_teardown(test_acm, begin, end),
        cmocka_unit_test_setup_teardown(test_ways, begin, end),
        cmocka_unit_test_setup_teardown(test_list, begin, end),
        cmocka_unit_test_setup_teardown(test_list_other_classes, begin, end),
        cmocka_unit_test_setup_teardown(test_memory, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
