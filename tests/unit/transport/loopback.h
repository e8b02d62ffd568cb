/*
 * The other end of a TCP transport in a test: a listening socket on 127.0.0.1, port 0, played by the test's own thread.
 * Every wait is bounded and ends as soon as what it waits for has come.
 */
#ifndef UNIT_TRANSPORT_LOOPBACK_H
#define UNIT_TRANSPORT_LOOPBACK_H

#include "test.h"

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/socket.h>
#include <unistd.h>

#define LOOPBACK_WAIT_MS 10000

struct loopback {
    int listening;
    int peer; /* -1 = nobody connected */
    char port[64];
};

static inline void loopback_listen(struct loopback *loopback, uint16_t number)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(number)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    loopback->listening = socket(AF_INET, SOCK_STREAM, 0);
    int yes = 1;
    setsockopt(loopback->listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    assert_int_equal(bind(loopback->listening, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(loopback->listening, 4), 0);
    socklen_t size = sizeof address;
    assert_int_equal(getsockname(loopback->listening, (struct sockaddr *)&address, &size), 0);
    snprintf(loopback->port, sizeof loopback->port, "tcp:127.0.0.1:%u", (unsigned)ntohs(address.sin_port));
}

static inline void loopback_open(struct loopback *loopback)
{
    loopback->peer = -1;
    loopback_listen(loopback, 0);
}

static inline void loopback_drop(struct loopback *loopback)
{
    if (loopback->peer >= 0)
        close(loopback->peer);
    loopback->peer = -1;
}

static inline void loopback_close(struct loopback *loopback)
{
    loopback_drop(loopback);
    if (loopback->listening >= 0)
        close(loopback->listening);
    loopback->listening = -1;
}

static inline bool loopback_readable(int handle, int wait_ms)
{
    struct pollfd item = {.fd = handle, .events = POLLIN};
    return poll(&item, 1, wait_ms) == 1;
}

static inline void loopback_accept(struct loopback *loopback)
{
    assert_true(loopback_readable(loopback->listening, LOOPBACK_WAIT_MS));
    loopback->peer = accept(loopback->listening, NULL, NULL);
    assert_true(loopback->peer >= 0);
    int yes = 1;
    setsockopt(loopback->peer, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
}

static inline void loopback_send(struct loopback *loopback, const void *bytes, size_t length)
{
    assert_int_equal(send(loopback->peer, bytes, length, MSG_NOSIGNAL), (ssize_t)length);
}

/* Exactly these bytes come next. */
static inline void loopback_expect(struct loopback *loopback, const void *bytes, size_t length)
{
    uint8_t found[256];
    size_t filled = 0;
    assert_true(length <= sizeof found);
    while (filled < length) {
        assert_true(loopback_readable(loopback->peer, LOOPBACK_WAIT_MS));
        ssize_t count = recv(loopback->peer, found + filled, length - filled, 0);
        assert_true(count > 0);
        filled += (size_t)count;
    }
    assert_memory_equal(found, bytes, length);
}

/* The other end closes, and sends nothing before. */
static inline void loopback_expect_end(struct loopback *loopback)
{
    char byte;
    assert_true(loopback_readable(loopback->peer, LOOPBACK_WAIT_MS));
    assert_true(recv(loopback->peer, &byte, 1, 0) <= 0);
}

#endif
