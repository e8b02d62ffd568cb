/*
 * What does the serial transport say when there is no serial port? (Real ports: tests/system, on an emulated machine.)
 */
#if defined(__linux__)
#define _GNU_SOURCE /* posix_openpt and friends */
#endif
#include "test.h"

#include "model/memory.h"
#include "transport/transport.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_NONE};

static int32_t open_device(const char *device, cfoil_error_info *error)
{
    char port[300];
    struct transport *transport = NULL;
    snprintf(port, sizeof port, "serial:%s", device);
    int32_t result = transport_open(&memory_heap, port, WAY_BYTES, &line, 1000, NULL, &transport, error);
    if (result != CFOIL_OK)
        assert_null(transport);
    transport_close(transport);
    return result;
}

static void test_missing(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(open_device("/dev/ttyNotThere9", &error), CFOIL_E_PORT_MISSING);
    assert_int_equal(error.result, CFOIL_E_PORT_MISSING);
    assert_int_not_equal(error.os_code, 0);
    assert_non_null(strstr(error.text, "/dev/ttyNotThere9"));
    assert_int_equal(open_device("COM10", &error), CFOIL_E_PORT_MISSING);
    assert_int_equal(open_device("/dev/null/ttyS0", &error), CFOIL_E_PORT_MISSING);
}

static void test_not_a_serial_port(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char path[] = "/tmp/cfoil-serial-XXXXXX";
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(open_device(path, &error), CFOIL_E_PORT_FAILED);
    assert_non_null(strstr(error.text, "not a serial port"));
    close(file);
    unlink(path);
    assert_int_equal(open_device("/dev/null", &error), CFOIL_E_PORT_FAILED);
}

/* libserialport looks a port up among the system's serial devices, where pseudo-terminals are not. */
static void test_pseudo_terminal(void **state)
{
    (void)state;
    int controller = posix_openpt(O_RDWR | O_NOCTTY);
    if (controller < 0 || grantpt(controller) != 0 || unlockpt(controller) != 0)
        skip();
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(open_device(ptsname(controller), &error), CFOIL_E_PORT_FAILED);
    assert_non_null(strstr(error.text, "not a serial port"));
    close(controller);
}

static void test_denied(void **state)
{
    (void)state;
    char folder[] = "/tmp/cfoil-serial-XXXXXX";
    assert_non_null(mkdtemp(folder));
    if (geteuid() == 0 && seteuid(65534) != 0)
        skip();
    /* A folder that this user may not look into. */
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char device[64];
    snprintf(device, sizeof device, "%s/port", geteuid() == 65534 ? folder : "/root");
    int32_t result = open_device(device, &error);
    if (getuid() == 0)
        assert_int_equal(seteuid(0), 0);
    rmdir(folder);
    assert_int_equal(result, CFOIL_E_PORT_DENIED);
    assert_non_null(strstr(error.text, "grant access"));
}

struct failing {
    int left;
};

static void *failing_allocate(void *user, size_t size)
{
    struct failing *failing = user;
    return failing->left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_no_memory(void **state)
{
    (void)state;
    struct failing failing = {0};
    struct memory memory = {&failing, failing_allocate, failing_release};
    struct transport *transport = NULL;
    assert_int_equal(transport_open(&memory, "serial:/dev/null", WAY_BYTES, &line, 10, NULL, &transport, NULL),
                     CFOIL_E_MEMORY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_missing),         cmocka_unit_test(test_not_a_serial_port),
        cmocka_unit_test(test_pseudo_terminal), cmocka_unit_test(test_denied),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
