/*
 * Does a TCP transport connect within its deadline, tell the end of the other side, and never block or kill the host?
 */
#include "test.h"

#include "model/memory.h"
#include "os/os.h"
#include "transport/transport.h"
#include "unit/transport/loopback.h"

#include <stdlib.h>

static const cfoil_line line = {9600, 8, 1, CFOIL_PARITY_NONE};

static int32_t open_port(const char *port, uint32_t timeout_ms, const struct os_signal *wake,
                         struct transport **transport, cfoil_error_info *error)
{
    return transport_open(&memory_heap, port, WAY_BYTES, &line, timeout_ms, wake, transport, error);
}

static struct transport *connect_to(struct loopback *loopback)
{
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    loopback_open(loopback);
    assert_int_equal(open_port(loopback->port, 5000, NULL, &transport, &error), CFOIL_OK);
    loopback_accept(loopback);
    return transport;
}

static void wait_readable(const struct transport *transport)
{
    assert_int_equal(os_wait(transport_handle(transport), NULL, os_monotonic_us() + 10000000), OS_READY_PORT);
}

static void test_bytes_both_ways(void **state)
{
    (void)state;
    struct loopback loopback;
    struct transport *transport = connect_to(&loopback);
    uint8_t bytes[8];
    uint32_t length = 99;
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 0);
    loopback_send(&loopback, "hello", 5);
    wait_readable(transport);
    assert_int_equal(transport_read(transport, bytes, 3, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 3);
    assert_memory_equal(bytes, "hel", 3);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, NULL), CFOIL_OK);
    assert_int_equal(length, 2);
    assert_int_equal(transport_write(transport, (const uint8_t *)"abc", 3, NULL), CFOIL_OK);
    assert_int_equal(transport_write(transport, NULL, 0, NULL), CFOIL_OK);
    loopback_expect(&loopback, "abc", 3);
    transport_close(transport);
    loopback_expect_end(&loopback);
    loopback_close(&loopback);
}

static void test_end_of_the_other_side(void **state)
{
    (void)state;
    struct loopback loopback;
    struct transport *transport = connect_to(&loopback);
    loopback_send(&loopback, "x", 1);
    loopback_drop(&loopback);
    wait_readable(transport);
    uint8_t bytes[8];
    uint32_t length;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_OK);
    assert_int_equal(length, 1);
    wait_readable(transport);
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_E_PORT_GONE);
    assert_int_equal(length, 0);
    assert_int_equal(error.result, CFOIL_E_PORT_GONE);
    transport_close(transport);
    loopback_close(&loopback);
}

/* A reset, and writing afterwards: no SIGPIPE, which would end this program. */
static void test_reset(void **state)
{
    (void)state;
    struct loopback loopback;
    struct transport *transport = connect_to(&loopback);
    struct linger linger = {1, 0};
    setsockopt(loopback.peer, SOL_SOCKET, SO_LINGER, &linger, sizeof linger);
    loopback_drop(&loopback);
    wait_readable(transport);
    uint8_t bytes[8];
    uint32_t length;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(transport_read(transport, bytes, sizeof bytes, &length, &error), CFOIL_E_PORT_GONE);
    assert_int_not_equal(error.os_code, 0);
    assert_int_equal(transport_write(transport, (const uint8_t *)"abc", 3, &error), CFOIL_E_PORT_GONE);
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_nobody_listens(void **state)
{
    (void)state;
    struct loopback loopback;
    loopback_open(&loopback);
    loopback_close(&loopback);
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(open_port(loopback.port, 5000, NULL, &transport, &error), CFOIL_E_PORT_MISSING);
    assert_null(transport);
    assert_non_null(strstr(error.text, "127.0.0.1"));
}

/* A listener whose queue is full leaves later connections unanswered. */
static void fill(struct loopback *loopback, int *clients, int count)
{
    struct sockaddr_in address;
    socklen_t size = sizeof address;
    getsockname(loopback->listening, (struct sockaddr *)&address, &size);
    assert_int_equal(listen(loopback->listening, 0), 0);
    for (int i = 0; i < count; i++) {
        clients[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
        (void)connect(clients[i], (struct sockaddr *)&address, size);
    }
}

static void test_deadline_and_wake(void **state)
{
    (void)state;
    int clients[4];
    struct loopback loopback;
    loopback_open(&loopback);
    fill(&loopback, clients, 4);
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    uint64_t begin = os_monotonic_us();
    assert_int_equal(open_port(loopback.port, 100, NULL, &transport, &error), CFOIL_E_PORT_MISSING);
    assert_true(os_monotonic_us() - begin >= 100000);
    assert_true(os_monotonic_us() - begin < 5000000);
    struct os_signal *wake = os_signal_create(&memory_heap);
    os_signal_set(wake);
    assert_int_equal(open_port(loopback.port, 60000, wake, &transport, &error), CFOIL_E_STATE_CLOSING);
    assert_true(os_monotonic_us() - begin < 5000000);
    os_signal_destroy(&memory_heap, wake);
    for (int i = 0; i < 4; i++)
        close(clients[i]);
    loopback_close(&loopback);
}

/* The other end does not read: the write gives up after 500 ms. */
static void test_write_deadline(void **state)
{
    (void)state;
    struct loopback loopback;
    struct transport *transport = connect_to(&loopback);
    static uint8_t bytes[65536];
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = CFOIL_OK;
    uint64_t begin = os_monotonic_us();
    for (int i = 0; i < 1000 && result == CFOIL_OK; i++) {
        begin = os_monotonic_us();
        result = transport_write(transport, bytes, sizeof bytes, &error);
    }
    assert_int_equal(result, CFOIL_E_PORT_FAILED);
    assert_true(os_monotonic_us() - begin >= 400000);
    assert_true(os_monotonic_us() - begin < 5000000);
    transport_close(transport);
    loopback_close(&loopback);
}

static void test_host_names(void **state)
{
    (void)state;
    struct loopback loopback;
    loopback_open(&loopback);
    char port[80];
    snprintf(port, sizeof port, "tcp:localhost%s", strrchr(loopback.port, ':'));
    struct transport *transport = NULL;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(open_port(port, 10000, NULL, &transport, &error), CFOIL_OK);
    transport_close(transport);
    /* RFC 6761 section 6.4: names under "invalid" never have an address. */
    assert_int_equal(open_port("tcp:nowhere.invalid:5000", 30000, NULL, &transport, &error), CFOIL_E_PORT_MISSING);
    /* Called off, or out of time, before the answer: whichever thread is slower, nothing is leaked. */
    struct os_signal *wake = os_signal_create(&memory_heap);
    os_signal_set(wake);
    int32_t result = open_port("tcp:nowhere.invalid:5000", 30000, wake, &transport, &error);
    assert_true(result == CFOIL_E_STATE_CLOSING || result == CFOIL_E_PORT_MISSING);
    assert_int_equal(open_port("tcp:nowhere.invalid:5000", 0, NULL, &transport, &error), CFOIL_E_PORT_MISSING);
    os_signal_destroy(&memory_heap, wake);
    loopback_close(&loopback);
}

static void test_ipv6(void **state)
{
    (void)state;
    struct sockaddr_in6 address = {.sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    socklen_t size = sizeof address;
    int listening = socket(AF_INET6, SOCK_STREAM, 0);
    if (listening < 0 || bind(listening, (struct sockaddr *)&address, size) != 0)
        skip(); /* a system without IPv6 */
    assert_int_equal(listen(listening, 1), 0);
    getsockname(listening, (struct sockaddr *)&address, &size);
    char port[64];
    snprintf(port, sizeof port, "tcp:[::1]:%u", (unsigned)ntohs(address.sin6_port));
    struct transport *transport = NULL;
    assert_int_equal(open_port(port, 5000, NULL, &transport, NULL), CFOIL_OK);
    transport_close(transport);
    close(listening);
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
    struct loopback loopback;
    loopback_open(&loopback);
    struct failing failing = {0};
    struct memory memory = {&failing, failing_allocate, failing_release};
    struct transport *transport = NULL;
    assert_int_equal(transport_open(&memory, loopback.port, WAY_BYTES, &line, 5000, NULL, &transport, NULL),
                     CFOIL_E_MEMORY);
    assert_null(transport);
    loopback_close(&loopback);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes_both_ways),
        cmocka_unit_test(test_end_of_the_other_side),
        cmocka_unit_test(test_reset),
        cmocka_unit_test(test_nobody_listens),
        cmocka_unit_test(test_deadline_and_wake),
        cmocka_unit_test(test_write_deadline),
        cmocka_unit_test(test_host_names),
        cmocka_unit_test(test_ipv6),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
