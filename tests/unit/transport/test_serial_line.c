/*
 * The serial transport over a pseudo-terminal: a stand-in for libserialport, which cannot open one, hands its descriptor
 * on. Settings read back, exclusive use, bytes, unplugging and time-outs are the transport's own and are tested here.
 */
#if defined(__linux__)
#define _GNU_SOURCE /* posix_openpt and friends */
#endif
#include "unit/transport/serial_standin.h"

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_EVEN};

static int32_t line_open(const cfoil_line *wanted, struct transport **transport, cfoil_error_info *error)
{
    return line_open_as(WAY_BYTES, wanted, transport, error);
}

static void test_bytes_and_unplug(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    uint8_t bytes[16];
    uint32_t length = 9;
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 0);
    assert_int_equal(write(line_state.controller, "abc", 3), 3);
    assert_int_equal(os_wait(transport_handle(transport), NULL, os_monotonic_us() + 5000000), OS_READY_PORT);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 3);
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_OK);
    assert_int_equal(read(line_state.controller, bytes, sizeof bytes), 3);
    assert_memory_equal(bytes, "xyz", 3);
    close(line_state.controller);
    line_state.controller = -1;
    assert_int_equal(os_wait(transport_handle(transport), NULL, os_monotonic_us() + 5000000), OS_READY_PORT);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_E_PORT_GONE);
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_GONE);
    transport_close(transport);
}

static void test_write_time_out(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    line_state.write = (enum sp_return)2;
    assert_int_equal(transport_write(transport, (const uint8_t *)"xyz", 3, &error), CFOIL_E_PORT_FAILED);
    transport_close(transport);
}

/* Each of two ways to find that somebody else has the port. */
static void test_exclusive(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int other = open(line_state.device, O_RDWR | O_NOCTTY);
    assert_int_equal(flock(other, LOCK_EX), 0);
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_E_PORT_BUSY);
    assert_non_null(strstr(error.text, "another program"));
    assert_null(transport);
    close(other);
    assert_int_equal(line_open(&line, &transport, &error), CFOIL_OK);
    struct transport *second = NULL;
    assert_int_equal(line_open(&line, &second, &error), CFOIL_E_PORT_BUSY);
    transport_close(transport);
}

static void settings_refused(const cfoil_line *wanted, int32_t result)
{
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open(wanted, &transport, &error), result);
    assert_null(transport);
    assert_int_equal(error.result, result);
}

static void test_settings(void **state)
{
    (void)state;
    struct transport *transport = NULL;
    cfoil_line odd = line;
    odd.parity = 9;
    settings_refused(&odd, CFOIL_E_PORT_SETTINGS);
    line_state.set = SP_ERR_FAIL;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    line_state.set = SP_OK;
    line_state.get = SP_ERR_FAIL;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    line_state.get = SP_OK;
    line_state.new_config = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.new_config = SP_OK;
    /* The driver said yes and did nothing. */
    line_state.parity_dropped = true;
    settings_refused(&line, CFOIL_E_PORT_SETTINGS);
    /* A driver that cannot tell is believed. */
    line_state.unknown_after = true;
    assert_int_equal(line_open(&line, &transport, NULL), CFOIL_OK);
    transport_close(transport);
}

static void test_open_failures(void **state)
{
    (void)state;
    static const struct {
        int os_code;
        int32_t result;
    } cases[] = {
        {ENOENT, CFOIL_E_PORT_MISSING}, {ENODEV, CFOIL_E_PORT_MISSING}, {ENXIO, CFOIL_E_PORT_MISSING},
        {EBUSY, CFOIL_E_PORT_BUSY},     {EACCES, CFOIL_E_PORT_DENIED},  {EPERM, CFOIL_E_PORT_DENIED},
        {EIO, CFOIL_E_PORT_FAILED},
    };
    line_state.open = SP_ERR_FAIL;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        line_state.os_code = cases[i].os_code;
        settings_refused(&line, cases[i].result);
    }
    line_state.open = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.by_name = SP_ERR_MEM;
    settings_refused(&line, CFOIL_E_MEMORY);
    line_state.by_name = SP_ERR_SUPP;
    settings_refused(&line, CFOIL_E_PORT_FAILED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_bytes_and_unplug, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_write_time_out, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_exclusive, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_settings, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_open_failures, line_begin, line_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
