/*
 * Words by parity, and modem-control lines, on a serial port that is a stand-in: what is done to the port, when, and
 * what becomes of each failure. What a real port makes of it needs a real port.
 */
#if defined(__linux__)
#define _GNU_SOURCE /* posix_openpt and friends */
#endif
#include "unit/transport/serial_standin.h"

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_NONE};

static struct transport *open_as(enum transport_way way)
{
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open_as(way, &line, &transport, &error), CFOIL_OK);
    assert_non_null(transport);
    assert_false(transport_busy(transport));
    return transport;
}

static void refused_as(enum transport_way way, int32_t result)
{
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(line_open_as(way, &line, &transport, &error), result);
    assert_int_equal(error.result, result);
    assert_true(error.text[0] != '\0');
    assert_null(transport);
}

static int32_t write_words(struct transport *transport, const uint16_t *words, uint32_t count)
{
    uint8_t bytes[1024];
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    for (uint32_t i = 0; i < count; i++) {
        bytes[2 * i] = (uint8_t)(words[i] & 0xFF);
        bytes[2 * i + 1] = (uint8_t)(words[i] >> 8);
    }
    return transport_write(transport, bytes, 2 * count, &error);
}

static int32_t read_some(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    return transport_read(transport, bytes, capacity, length, &error);
}

/* ---- Parity ---- */

static void test_parity_open(void **state)
{
    (void)state;
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    account_expect("MS"); /* both are tried and read back; it rests in space */
    struct termios settings;
    assert_int_equal(tcgetattr((int)transport_handle(transport), &settings), 0);
    assert_true((settings.c_iflag & (INPCK | PARMRK)) == (INPCK | PARMRK));
    assert_true((settings.c_iflag & (IGNPAR | ISTRIP | IGNBRK | BRKINT)) == 0);
    assert_true(transport_deadline(transport) == UINT64_MAX);
    assert_null(transport_notice(transport));
    transport_close(transport);
}

/* A driver that takes the setting and does nothing. */
static void test_parity_refused(void **state)
{
    (void)state;
    line_state.mark_ignored = true;
    refused_as(WAY_WORDS_PARITY, CFOIL_E_PORT_SETTINGS);
    line_state.mark_ignored = false;
    line_state.set_parity = SP_ERR_SUPP;
    refused_as(WAY_WORDS_PARITY, CFOIL_E_PORT_SETTINGS);
    line_state.set_parity = SP_OK;
    line_state.unknown_after = true; /* what cannot be read back is not believed here */
    refused_as(WAY_WORDS_PARITY, CFOIL_E_PORT_SETTINGS);
    line_state.unknown_after = false;
    line_state.open = SP_ERR_MEM;
    refused_as(WAY_WORDS_PARITY, CFOIL_E_MEMORY);
}

static void test_parity_write(void **state)
{
    (void)state;
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    account_expect("MS");
    static const uint16_t poll[] = {0x133, 0x033};
    assert_int_equal(write_words(transport, poll, 2), CFOIL_OK);
    account_expect("DM33DS33");
    static const uint16_t acknowledge[] = {0x000};
    assert_int_equal(write_words(transport, acknowledge, 1), CFOIL_OK);
    account_expect("00");
    uint8_t bytes[3] = {0x33, 0x01, 0x33};
    assert_int_equal(transport_write(transport, bytes, 3, NULL), CFOIL_E_ARGUMENT_RANGE);
    line_state.output_waiting = 3; /* the driver still holds some: waited for */
    assert_int_equal(write_words(transport, poll, 1), CFOIL_OK);
    account_expect("DM33DS");
    transport_close(transport);
}

static void test_parity_write_failures(void **state)
{
    (void)state;
    static const uint16_t poll[] = {0x133, 0x033};
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    line_state.set_parity = SP_ERR_FAIL;
    line_state.os_code = EIO;
    assert_int_equal(write_words(transport, poll, 2), CFOIL_E_PORT_GONE);
    line_state.set_parity = SP_OK;
    line_state.drain = SP_ERR_FAIL;
    assert_int_equal(write_words(transport, poll, 2), CFOIL_E_PORT_GONE);
    line_state.drain = SP_OK;
    line_state.output_waiting = 1000000;
    uint64_t begin_us = os_monotonic_us();
    assert_int_equal(write_words(transport, poll, 2), CFOIL_E_PORT_FAILED);
    assert_true(os_monotonic_us() - begin_us < 5000000);
    line_state.output_waiting = 0;
    line_state.write = SP_ERR_FAIL;
    assert_int_equal(write_words(transport, poll, 2), CFOIL_E_PORT_GONE);
    line_state.write = SP_OK;
    transport_close(transport);
}

/* A break holds the line for 100 ms without anybody sleeping; what comes after it waits. */
static void test_parity_break(void **state)
{
    (void)state;
    uint8_t bytes[64];
    uint32_t length = 0;
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    account_expect("MS");
    static const uint16_t words[] = {0x044, 0x8000, 0x130, 0x030};
    uint64_t begin_us = os_monotonic_us();
    assert_int_equal(write_words(transport, words, 4), CFOIL_OK);
    account_expect("44DB");
    assert_true(transport_busy(transport));
    uint64_t due_us = transport_deadline(transport);
    assert_true(due_us >= begin_us + 100000 && due_us <= os_monotonic_us() + 100000);
    assert_int_equal(read_some(transport, bytes, sizeof bytes, &length), CFOIL_OK);
    account_expect("");
    assert_int_equal(os_wait(-1, NULL, due_us), 0);
    assert_int_equal(read_some(transport, bytes, sizeof bytes, &length), CFOIL_OK);
    account_expect("bDM30DS30");
    assert_false(transport_busy(transport));
    assert_true(transport_deadline(transport) == UINT64_MAX);
    /* Closed in the middle: the bus must not stay dead. */
    assert_int_equal(write_words(transport, words + 1, 1), CFOIL_OK);
    transport_close(transport);
    account_expect("DBb");
}

static void test_parity_break_failures(void **state)
{
    (void)state;
    static const uint16_t words[] = {0x8000, 0x130};
    static const uint16_t many[250];
    uint8_t bytes[64];
    uint32_t length = 0;
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    line_state.start_break = SP_ERR_FAIL;
    assert_int_equal(write_words(transport, words, 1), CFOIL_E_PORT_FAILED);
    line_state.start_break = SP_OK;
    line_state.drain = SP_ERR_FAIL;
    assert_int_equal(write_words(transport, words, 1), CFOIL_E_PORT_GONE);
    line_state.drain = SP_OK;
    assert_int_equal(write_words(transport, words, 2), CFOIL_OK);
    assert_int_equal(write_words(transport, many, 250), CFOIL_OK);
    assert_int_equal(write_words(transport, many, 10), CFOIL_E_PORT_FAILED); /* no room */
    line_state.end_break = SP_ERR_FAIL;
    assert_int_equal(os_wait(-1, NULL, transport_deadline(transport)), 0);
    assert_int_equal(read_some(transport, bytes, sizeof bytes, &length), CFOIL_E_PORT_GONE);
    transport_close(transport);
}

/* The terminal driver itself doubles an FF; marked characters need a real line. */
static void test_parity_read(void **state)
{
    (void)state;
    static const uint8_t sent[] = {0x12, 0xFF, 0x00};
    static const uint8_t expected[] = {0x12, 0, 0xFF, 0, 0x00, 0};
    uint8_t bytes[64];
    uint32_t filled = 0;
    struct transport *transport = open_as(WAY_WORDS_PARITY);
    assert_int_equal(write(line_state.controller, sent, sizeof sent), sizeof sent);
    uint64_t until_us = os_monotonic_us() + 5000000;
    while (filled < sizeof expected && os_monotonic_us() < until_us) {
        uint32_t length = 0;
        (void)os_wait(transport_handle(transport), NULL, until_us);
        assert_int_equal(read_some(transport, bytes + filled, (uint32_t)sizeof bytes - filled, &length), CFOIL_OK);
        filled += length;
    }
    assert_int_equal(filled, sizeof expected);
    assert_memory_equal(bytes, expected, sizeof expected);
    close(line_state.controller);
    line_state.controller = -1;
    uint32_t length = 0;
    assert_int_equal(os_wait(transport_handle(transport), NULL, until_us), OS_READY_PORT);
    assert_int_equal(read_some(transport, bytes, sizeof bytes, &length), CFOIL_E_PORT_GONE);
    transport_close(transport);
}

/* ---- Modem-control lines ---- */

/* The next look. */
static uint32_t look(struct transport *transport, uint8_t *byte)
{
    uint32_t length = 9;
    (void)os_wait(transport_handle(transport), NULL, transport_deadline(transport));
    assert_int_equal(read_some(transport, byte, 1, &length), CFOIL_OK);
    return length;
}

static void test_lines(void **state)
{
    (void)state;
    static const struct {
        int signals;
        uint8_t byte;
    } cases[] = {
        {SP_SIG_CTS, CFOIL_LINE_CTS},
        {SP_SIG_DSR, CFOIL_LINE_DSR},
        {SP_SIG_DCD, CFOIL_LINE_DCD},
        {SP_SIG_RI, CFOIL_LINE_RI},
        {15, 15},
        {0, 0},
    };
    line_state.outputs_off = true;
    struct transport *transport = open_as(WAY_LINES);
    assert_int_equal(transport_handle(transport), -1);
    uint8_t byte = 0xEE;
    assert_int_equal(look(transport, &byte), 1); /* the state at the beginning */
    assert_int_equal(byte, 0);
    assert_int_equal(look(transport, &byte), 0);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        line_state.signals = (enum sp_signal)cases[i].signals;
        assert_int_equal(look(transport, &byte), 1);
        assert_int_equal(byte, cases[i].byte);
        assert_int_equal(look(transport, &byte), 0);
    }
    /* Not before its time, nor without a place for it. */
    line_state.signals = SP_SIG_CTS;
    uint64_t due_us = transport_deadline(transport);
    uint32_t length = 9;
    assert_true(due_us <= os_monotonic_us() + 5000);
    (void)os_wait(-1, NULL, due_us);
    assert_int_equal(read_some(transport, &byte, 0, &length), CFOIL_OK);
    assert_int_equal(length, 0);
    assert_int_equal(look(transport, &byte), 1);
    do {
        assert_int_equal(read_some(transport, &byte, 1, &length), CFOIL_OK);
    } while (length == 0 && os_monotonic_us() < transport_deadline(transport));
    assert_int_equal(length, 0);
    /* Unplugged. */
    line_state.get_signals = SP_ERR_FAIL;
    (void)os_wait(-1, NULL, transport_deadline(transport));
    assert_int_equal(read_some(transport, &byte, 1, &length), CFOIL_E_PORT_GONE);
    transport_close(transport);
}

static void test_lines_out(void **state)
{
    (void)state;
    static const uint8_t bytes[] = {0, CFOIL_LINE_DTR, CFOIL_LINE_RTS,
                                    CFOIL_LINE_DTR | CFOIL_LINE_RTS | CFOIL_LINE_CTS};
    line_state.outputs_off = true;
    struct transport *transport = open_as(WAY_LINES);
    assert_int_equal(transport_write(transport, bytes, sizeof bytes, NULL), CFOIL_OK);
    account_expect("trTrtRTR");
    line_state.set_dtr = SP_ERR_FAIL;
    assert_int_equal(transport_write(transport, bytes, 1, NULL), CFOIL_E_PORT_GONE);
    line_state.set_dtr = SP_OK;
    line_state.set_rts = SP_ERR_FAIL;
    assert_int_equal(transport_write(transport, bytes, 1, NULL), CFOIL_E_PORT_GONE);
    transport_close(transport);
    /* The outputs go off when nobody has the port open. */
    struct termios settings;
    int other = open(line_state.device, O_RDWR | O_NOCTTY);
    assert_true(other >= 0);
    assert_int_equal(tcgetattr(other, &settings), 0);
    assert_true((settings.c_cflag & HUPCL) != 0);
    close(other);
}

static void test_lines_refused(void **state)
{
    (void)state;
    line_state.outputs_off = true;
    line_state.open = SP_ERR_MEM;
    refused_as(WAY_LINES, CFOIL_E_MEMORY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_parity_open, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_refused, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_write, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_write_failures, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_break, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_break_failures, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_parity_read, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_lines, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_lines_out, line_begin, line_end),
        cmocka_unit_test_setup_teardown(test_lines_refused, line_begin, line_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
