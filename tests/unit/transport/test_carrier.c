/*
 * The framed word carrier over a real byte stream: opening, blocks both ways, and how each trouble is told. And which
 * way of travelling an adapter gets.
 */
#include "unit/transport/controller.h"

#include "model/memory.h"
#include "os/os.h"
#include "transport/settings.h"
#include "transport/transport.h"

#include <stdlib.h>

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_NONE};
static const uint8_t poll_block[] = {0x33, 0x01, 0x33, 0x00};
static const uint8_t answer[] = {0x82, 0x00, 0x82, 0x01};

struct opening {
    const char *port;
    uint32_t timeout_ms;
    const struct memory *memory;
    const struct os_signal *wake;
    struct transport *transport;
    int32_t result;
    cfoil_error_info error;
};

static void open_run(void *user)
{
    struct opening *opening = user;
    opening->result = transport_open(opening->memory, opening->port, WAY_WORDS_FRAMED, &line, opening->timeout_ms,
                                     opening->wake, &opening->transport, &opening->error);
}

/* The test's thread is the controller: opening needs another. */
static struct os_thread *open_begin(struct opening *opening, const struct loopback *loopback)
{
    memset(opening, 0, sizeof *opening);
    opening->port = loopback->port;
    opening->timeout_ms = 10000;
    opening->memory = &memory_heap;
    struct os_thread *thread = os_thread_start(&memory_heap, "opening", open_run, opening);
    assert_non_null(thread);
    return thread;
}

static struct transport *session_begin(struct loopback *loopback)
{
    struct opening opening;
    loopback_open(loopback);
    struct os_thread *thread = open_begin(&opening, loopback);
    controller_begin(loopback, 1);
    os_thread_join(&memory_heap, thread);
    assert_int_equal(opening.result, CFOIL_OK);
    return opening.transport;
}

/* Reads until there is a block or trouble. */
static int32_t block_read(struct transport *transport, uint8_t *bytes, uint32_t *length)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    uint64_t until_us = os_monotonic_us() + 10000000;
    int32_t result = CFOIL_OK;
    *length = 0;
    while (result == CFOIL_OK && *length == 0 && os_monotonic_us() < until_us) {
        uint64_t due_us = transport_deadline(transport);
        (void)os_wait(transport_handle(transport), NULL, due_us < until_us ? due_us : until_us);
        result = transport_read(transport, bytes, 4096, length, &error);
        assert_int_equal(error.result, result);
    }
    return result;
}

static void settle(struct transport *transport)
{
    uint8_t bytes[80];
    uint32_t length;
    while (transport_deadline(transport) != UINT64_MAX) {
        (void)os_wait(transport_handle(transport), NULL, transport_deadline(transport));
        assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, NULL), CFOIL_OK);
        assert_int_equal(length, 0);
    }
}

static void test_blocks(void **state)
{
    (void)state;
    struct loopback loopback;
    uint8_t bytes[4096];
    uint32_t length;
    struct transport *transport = session_begin(&loopback);
    assert_false(transport_busy(transport));
    assert_int_equal(transport_write(transport, poll_block, sizeof poll_block, NULL), CFOIL_OK);
    assert_true(transport_busy(transport));
    controller_expect(&loopback, PACKET_SEND, 1, poll_block, sizeof poll_block);
    controller_acknowledge(&loopback, 1);
    controller_send(&loopback, PACKET_BLOCK, 1, answer, sizeof answer);
    assert_int_equal(block_read(transport, bytes, &length), CFOIL_OK);
    assert_int_equal(length, sizeof answer);
    assert_memory_equal(bytes, answer, sizeof answer);
    assert_false(transport_busy(transport));
    /* Acknowledged when the reader comes back, and not before. */
    assert_false(loopback_readable(loopback.peer, 20));
    settle(transport);
    controller_expect_acknowledge(&loopback, 1);
    /* The controller acknowledges on the bus by itself: our ACK stays here. RET goes. */
    static const uint8_t acknowledge[] = {0x00, 0x00};
    static const uint8_t again[] = {0xAA, 0x00};
    assert_int_equal(transport_write(transport, acknowledge, 2, NULL), CFOIL_OK);
    assert_int_equal(transport_write(transport, again, 2, NULL), CFOIL_OK);
    controller_expect(&loopback, PACKET_SEND, 2, again, 2);
    assert_int_equal(transport_write(transport, poll_block, 3, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(transport_write(transport, bytes, 82, NULL), CFOIL_E_ARGUMENT_RANGE);
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_notices(void **state)
{
    (void)state;
    static const char *const words[] = {"does not know", "broke off", "characters", "before this session"};
    struct loopback loopback;
    uint8_t bytes[80];
    uint32_t length;
    struct transport *transport = session_begin(&loopback);
    assert_null(transport_notice(transport));
    for (uint8_t fault = 0; fault < 4; fault++) {
        controller_send(&loopback, PACKET_FAULT, (uint8_t)(fault + 1), &fault, 1);
        const char *notice = NULL;
        uint64_t until_us = os_monotonic_us() + 10000000;
        while (notice == NULL && os_monotonic_us() < until_us) {
            (void)os_wait(transport_handle(transport), NULL, until_us);
            assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, NULL), CFOIL_OK);
            notice = transport_notice(transport);
        }
        assert_non_null(notice);
        assert_non_null(strstr(notice, words[fault]));
        assert_null(transport_notice(transport));
    }
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_restart(void **state)
{
    (void)state;
    struct loopback loopback;
    uint8_t bytes[4096];
    uint32_t length;
    struct transport *transport = session_begin(&loopback);
    controller_send(&loopback, PACKET_BLOCK, 1, answer, sizeof answer);
    controller_hello(&loopback, 2);
    (void)block_read(transport, bytes, &length); /* with the trouble, or before it */
    assert_int_equal(length, sizeof answer);
    assert_int_equal(block_read(transport, bytes, &length), CFOIL_E_PORT_GONE);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(transport_write(transport, poll_block, 4, &error), CFOIL_E_PORT_GONE);
    assert_non_null(strstr(error.text, "restarted"));
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_silence(void **state)
{
    (void)state;
    struct loopback loopback;
    uint8_t bytes[4096];
    uint32_t length;
    struct transport *transport = session_begin(&loopback);
    assert_int_equal(transport_write(transport, poll_block, sizeof poll_block, NULL), CFOIL_OK);
    uint64_t begin_us = os_monotonic_us();
    assert_int_equal(block_read(transport, bytes, &length), CFOIL_E_PORT_GONE);
    assert_true(os_monotonic_us() - begin_us >= 2000000); /* 20 times 100 ms */
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_line_lost(void **state)
{
    (void)state;
    struct loopback loopback;
    uint8_t bytes[4096];
    uint32_t length;
    struct transport *transport = session_begin(&loopback);
    loopback_drop(&loopback);
    assert_int_equal(block_read(transport, bytes, &length), CFOIL_E_PORT_GONE);
    transport_close(transport);
    loopback_close(&loopback);
}

/* ---- Opening in vain ---- */

static void test_nobody_answers(void **state)
{
    (void)state;
    struct loopback loopback;
    loopback_open(&loopback);
    struct opening opening = {.port = loopback.port, .timeout_ms = 50, .memory = &memory_heap};
    open_run(&opening);
    assert_int_equal(opening.result, CFOIL_E_PORT_MISSING);
    assert_non_null(strstr(opening.error.text, "bus controller"));
    assert_null(opening.transport);
    loopback_close(&loopback);
}

static void test_opening_called_off(void **state)
{
    (void)state;
    struct loopback loopback;
    struct os_signal *wake = os_signal_create(&memory_heap);
    loopback_open(&loopback);
    struct opening opening = {.port = loopback.port, .timeout_ms = 60000, .memory = &memory_heap, .wake = wake};
    struct os_thread *thread = os_thread_start(&memory_heap, "opening", open_run, &opening);
    loopback_accept(&loopback);
    assert_int_equal(controller_hear(&loopback).kind, PACKET_HELLO);
    os_signal_set(wake);
    os_thread_join(&memory_heap, thread);
    assert_int_equal(opening.result, CFOIL_E_STATE_CLOSING);
    loopback_close(&loopback);
    os_signal_destroy(&memory_heap, wake);
}

static void test_opening_fails(void **state)
{
    (void)state;
    struct loopback loopback;
    struct opening opening;
    static const uint8_t newer[] = {2, 0, 0, 0, 0};
    loopback_open(&loopback);
    struct os_thread *thread = open_begin(&opening, &loopback);
    loopback_accept(&loopback);
    controller_send(&loopback, PACKET_HELLO, 0, newer, sizeof newer);
    os_thread_join(&memory_heap, thread);
    assert_int_equal(opening.result, CFOIL_E_PORT_FAILED);
    assert_non_null(strstr(opening.error.text, "version"));
    loopback_drop(&loopback);
    thread = open_begin(&opening, &loopback);
    loopback_accept(&loopback);
    loopback_drop(&loopback);
    os_thread_join(&memory_heap, thread);
    assert_int_equal(opening.result, CFOIL_E_PORT_GONE);
    loopback_close(&loopback);
}

static int allocations_left;

static void *failing_allocate(void *user, size_t size)
{
    (void)user;
    return allocations_left-- > 0 ? malloc(size) : NULL;
}

static void failing_release(void *user, void *block)
{
    (void)user;
    free(block);
}

static void test_no_memory(void **state)
{
    (void)state;
    struct loopback loopback;
    struct memory memory = {.allocate = failing_allocate, .release = failing_release};
    loopback_open(&loopback);
    struct opening opening = {.port = loopback.port, .timeout_ms = 1000, .memory = &memory};
    for (allocations_left = 0; allocations_left < 2;) {
        int given = allocations_left;
        open_run(&opening);
        assert_int_equal(opening.result, CFOIL_E_MEMORY);
        allocations_left = given + 1;
    }
    loopback_close(&loopback);
}

/* ---- Which way ---- */

static void test_way(void **state)
{
    (void)state;
    static const struct {
        uint32_t capabilities;
        const char *port;
        const char *settings;
        int32_t result;
        enum transport_way way;
        const char *left;
    } cases[] = {
        {0, "serial:x", "a=1", CFOIL_OK, WAY_BYTES, "a=1"},
        {CFOIL_ADAPTER_ESCROW, "tcp:h:1", "carrier=framed", CFOIL_E_ARGUMENT_SETTING, WAY_BYTES, ""},
        {CFOIL_ADAPTER_LINES, "serial:x", "", CFOIL_OK, WAY_LINES, ""},
        {CFOIL_ADAPTER_LINES, "tcp:h:1", "b=2", CFOIL_OK, WAY_LINES, "b=2"},
        {CFOIL_ADAPTER_LINES, "tcp:h:1", "carrier=parity", CFOIL_E_ARGUMENT_SETTING, WAY_BYTES, ""},
        {CFOIL_ADAPTER_WORDS, "tcp:h:1", "a=1", CFOIL_OK, WAY_WORDS_FRAMED, "a=1"},
        {CFOIL_ADAPTER_WORDS, "serial:x", "a=1;carrier=framed;b=2", CFOIL_OK, WAY_WORDS_FRAMED, "a=1;b=2"},
        {CFOIL_ADAPTER_WORDS, "serial:x", "carrier=parity;b=2", CFOIL_OK, WAY_WORDS_PARITY, "b=2"},
        {CFOIL_ADAPTER_WORDS, "trace:x", "a=1;carrier=parity", CFOIL_OK, WAY_WORDS_PARITY, "a=1"},
        {CFOIL_ADAPTER_WORDS, "tcp:h:1", "carrier=parity", CFOIL_E_ARGUMENT_SETTING, WAY_BYTES, ""},
        {CFOIL_ADAPTER_WORDS, "serial:x", "carrier=pigeon", CFOIL_E_ARGUMENT_SETTING, WAY_BYTES, ""},
        {CFOIL_ADAPTER_WORDS, "serial:x", "carrier=", CFOIL_E_ARGUMENT_SETTING, WAY_BYTES, NULL},
        {CFOIL_ADAPTER_WORDS, "nothing", "", CFOIL_E_ARGUMENT_PORT, WAY_BYTES, ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cfoil_adapter adapter = {.capabilities = cases[i].capabilities};
        struct settings settings;
        enum transport_way way = WAY_BYTES;
        char left[SETTINGS_TEXT_MAX + 1];
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        int32_t result = settings_parse(cases[i].settings, &settings, &error);
        if (result == CFOIL_OK)
            result = transport_way_find(&adapter, cases[i].port, &settings, &way, &error);
        assert_int_equal(result, cases[i].result);
        if (result != CFOIL_OK)
            continue;
        assert_int_equal(way, cases[i].way);
        settings_join(&settings, left);
        assert_string_equal(left, cases[i].left);
    }
}

static void test_settings_join_longest(void **state)
{
    (void)state;
    char text[SETTINGS_TEXT_MAX + 1];
    char joined[SETTINGS_TEXT_MAX + 1];
    struct settings settings;
    memset(text, 'v', sizeof text);
    memcpy(text, "key=", 4);
    text[SETTINGS_TEXT_MAX] = '\0';
    text[200] = ';';
    text[203] = '=';
    assert_int_equal(settings_parse(text, &settings, NULL), CFOIL_OK);
    assert_null(settings_take(&settings, "other"));
    settings_join(&settings, joined);
    assert_string_equal(joined, text);
}

/* Parity is nothing that a network carries. */
static void test_way_and_port(void **state)
{
    (void)state;
    struct transport *transport;
    assert_int_equal(
        transport_open(&memory_heap, "tcp:127.0.0.1:1", WAY_WORDS_PARITY, &line, 10, NULL, &transport, NULL),
        CFOIL_E_ARGUMENT_PORT);
    assert_int_equal(transport_open(&memory_heap, "trace:x", WAY_LINES, &line, 10, NULL, &transport, NULL),
                     CFOIL_E_ARGUMENT_PORT);
    for (enum transport_way way = WAY_BYTES; way <= WAY_LINES; way++)
        assert_int_equal(transport_open(&memory_heap, "serial:/dev/ttyNone", way, &line, 10, NULL, &transport, NULL),
                         CFOIL_E_PORT_MISSING);
    struct memory memory = {.allocate = failing_allocate, .release = failing_release};
    for (enum transport_way way = WAY_BYTES; way <= WAY_LINES; way++) {
        allocations_left = 0;
        assert_int_equal(transport_open(&memory, "serial:/dev/null", way, &line, 10, NULL, &transport, NULL),
                         CFOIL_E_MEMORY);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_blocks),
        cmocka_unit_test(test_notices),
        cmocka_unit_test(test_restart),
        cmocka_unit_test(test_silence),
        cmocka_unit_test(test_line_lost),
        cmocka_unit_test(test_nobody_answers),
        cmocka_unit_test(test_opening_called_off),
        cmocka_unit_test(test_opening_fails),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_way),
        cmocka_unit_test(test_settings_join_longest),
        cmocka_unit_test(test_way_and_port),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
