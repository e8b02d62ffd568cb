/*
 * How is a TCP connection, for example to a serial device server, opened, watched and written to?
 */
#if defined(__linux__)
#define _GNU_SOURCE /* SOCK_CLOEXEC and the keep-alive options */
#endif

#include "model/error.h"
#include "os/os.h"
#include "transport/kinds.h"
#include "transport/lookup.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#define AREA "transport"

#if !defined(MSG_NOSIGNAL)
#define MSG_NOSIGNAL 0 /* where it is missing, SO_NOSIGPIPE does the same */
#endif

/* ---- Waiting until a socket takes bytes ---- */

enum { WAIT_TIME_OUT = 0, WAIT_READY = 1, WAIT_WOKEN = 2 };

static int poll_ms(uint64_t until_us)
{
    uint64_t now_us = os_monotonic_us();
    uint64_t left_ms = until_us > now_us ? (until_us - now_us + 999) / 1000 : 0;
    return left_ms < 3600000 ? (int)left_ms : 3600000;
}

static int writable_wait(int handle, const struct os_signal *wake, uint64_t until_us)
{
    struct pollfd items[2] = {{.fd = handle, .events = POLLOUT},
                              {.fd = wake != NULL ? (int)os_signal_handle(wake) : -1, .events = POLLIN}};
    for (;;) {
        int count = poll(items, 2, poll_ms(until_us));
        if (count > 0)
            return items[0].revents != 0 ? WAIT_READY : WAIT_WOKEN;
        if (count < 0 && errno != EINTR)
            return WAIT_READY; /* the next call on the socket tells what is wrong */
        if (os_monotonic_us() >= until_us)
            return WAIT_TIME_OUT;
    }
}

/* ---- Connecting ---- */

static int32_t result_of(int os_code)
{
    switch (os_code) {
    case ECONNREFUSED:
    case ETIMEDOUT:
    case EHOSTUNREACH:
    case ENETUNREACH:
    case ENETDOWN:
    case EADDRNOTAVAIL:
        return CFOIL_E_PORT_MISSING;
    case EACCES:
    case EPERM:
        return CFOIL_E_PORT_DENIED;
    default:
        return CFOIL_E_PORT_FAILED;
    }
}

static int32_t connect_failure(cfoil_error_info *error, int os_code, const struct port *port)
{
    int32_t result = result_of(os_code);
    const char *advice = result == CFOIL_E_PORT_MISSING  ? "does not answer: check address, power and network"
                         : result == CFOIL_E_PORT_DENIED ? "may not be reached: grant access to it"
                                                         : "could not be reached: check the network";
    return error_set(error, result, os_code, AREA, "%.120s port %s %s.", port->place, port->service, advice);
}

static int socket_create(const struct addrinfo *address)
{
#if defined(SOCK_CLOEXEC) && defined(SOCK_NONBLOCK)
    return socket(address->ai_family, address->ai_socktype | SOCK_CLOEXEC | SOCK_NONBLOCK, address->ai_protocol);
#else
    int handle = socket(address->ai_family, address->ai_socktype, address->ai_protocol);
    if (handle >= 0) {
        fcntl(handle, F_SETFD, FD_CLOEXEC);
        fcntl(handle, F_SETFL, O_NONBLOCK);
    }
    return handle;
#endif
}

static void option_set(int handle, int level, int option, int value)
{
    (void)setsockopt(handle, level, option, &value, sizeof value); /* a help, not a need */
}

/* Short frames must leave at once, and a peer that has vanished without a word must be noticed within about 10 s. */
static void options_set(int handle)
{
    option_set(handle, IPPROTO_TCP, TCP_NODELAY, 1);
    option_set(handle, SOL_SOCKET, SO_KEEPALIVE, 1);
#if defined(TCP_KEEPIDLE)
    option_set(handle, IPPROTO_TCP, TCP_KEEPIDLE, 5);
    option_set(handle, IPPROTO_TCP, TCP_KEEPINTVL, 2);
    option_set(handle, IPPROTO_TCP, TCP_KEEPCNT, 3);
#endif
#if defined(TCP_USER_TIMEOUT)
    option_set(handle, IPPROTO_TCP, TCP_USER_TIMEOUT, 10000);
#endif
#if defined(SO_NOSIGPIPE)
    option_set(handle, SOL_SOCKET, SO_NOSIGPIPE, 1);
#endif
}

static int32_t connect_finish(int handle, const struct port *port, uint64_t until_us, const struct os_signal *wake,
                              cfoil_error_info *error)
{
    int ready = writable_wait(handle, wake, until_us);
    if (ready == WAIT_WOKEN)
        return error_set(error, CFOIL_E_STATE_CLOSING, 0, AREA, "The connecting was called off.");
    if (ready == WAIT_TIME_OUT)
        return connect_failure(error, ETIMEDOUT, port);
    int failure = 0;
    socklen_t size = sizeof failure;
    if (getsockopt(handle, SOL_SOCKET, SO_ERROR, &failure, &size) != 0)
        failure = errno;
    return failure == 0 ? CFOIL_OK : connect_failure(error, failure, port);
}

static int32_t address_connect(const struct addrinfo *address, const struct port *port, uint64_t until_us,
                               const struct os_signal *wake, int *connected, cfoil_error_info *error)
{
    int handle = socket_create(address);
    if (handle < 0)
        return connect_failure(error, errno, port);
    options_set(handle);
    int32_t result = CFOIL_OK;
    /* An interrupted connect goes on by itself (POSIX connect(), EINTR). */
    if (connect(handle, address->ai_addr, address->ai_addrlen) != 0)
        result = errno == EINPROGRESS || errno == EINTR ? connect_finish(handle, port, until_us, wake, error)
                                                        : connect_failure(error, errno, port);
    if (result == CFOIL_OK)
        *connected = handle;
    else
        close(handle);
    return result;
}

/* Each address gets its share of the time left, so that a dead one does not use up all of it. */
static int32_t addresses_connect(const struct addrinfo *addresses, const struct port *port, uint64_t until_us,
                                 const struct os_signal *wake, int *connected, cfoil_error_info *error)
{
    uint64_t left = 0;
    for (const struct addrinfo *address = addresses; address != NULL; address = address->ai_next)
        left++;
    int32_t result = CFOIL_E_PORT_MISSING;
    for (const struct addrinfo *address = addresses; address != NULL; address = address->ai_next, left--) {
        uint64_t now_us = os_monotonic_us();
        uint64_t share_us = until_us > now_us ? (until_us - now_us) / left : 0;
        result = address_connect(address, port, now_us + share_us, wake, connected, error);
        if (result == CFOIL_OK || result == CFOIL_E_STATE_CLOSING)
            return result;
    }
    return result;
}

/* ---- The open connection ---- */

static void tcp_close(struct transport *transport)
{
    close((int)transport->handle);
    memory_release(transport->memory, transport);
}

static int32_t gone(cfoil_error_info *error, int os_code)
{
    return error_set(error, CFOIL_E_PORT_GONE, os_code, AREA,
                     "The other end closed the connection: check the device server.");
}

static int32_t tcp_read(struct transport *transport, uint8_t *bytes, uint32_t capacity, uint32_t *length,
                        cfoil_error_info *error)
{
    ssize_t count;
    do {
        count = recv((int)transport->handle, bytes, capacity, 0);
    } while (count < 0 && errno == EINTR);
    if (count > 0)
        *length = (uint32_t)count;
    if (count > 0 || (count < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)))
        return CFOIL_OK;
    return gone(error, count < 0 ? errno : 0);
}

static int32_t tcp_write(struct transport *transport, const uint8_t *bytes, uint32_t length, cfoil_error_info *error)
{
    int handle = (int)transport->handle;
    uint64_t until_us = os_monotonic_us() + TRANSPORT_WRITE_MAX_MS * UINT64_C(1000);
    uint32_t written = 0;
    while (written < length) {
        ssize_t count = send(handle, bytes + written, length - written, MSG_NOSIGNAL);
        if (count >= 0)
            written += (uint32_t)count;
        else if (errno != EINTR && errno != EAGAIN && errno != EWOULDBLOCK)
            return gone(error, errno);
        else if (writable_wait(handle, NULL, until_us) == WAIT_TIME_OUT)
            return error_set(error, CFOIL_E_PORT_FAILED, 0, AREA,
                             "The other end of the connection takes no bytes: check the device server.");
    }
    return CFOIL_OK;
}

static const struct transport_kind tcp_kind = {.close = tcp_close, .read = tcp_read, .write = tcp_write};

int32_t tcp_open(const struct memory *memory, const struct port *port, uint64_t until_us, const struct os_signal *wake,
                 struct transport **transport, cfoil_error_info *error)
{
    struct addrinfo *addresses;
    int32_t result = host_lookup(port->place, port->service, until_us, wake, &addresses, error);
    if (result != CFOIL_OK)
        return result;
    int handle = -1;
    result = addresses_connect(addresses, port, until_us, wake, &handle, error);
    freeaddrinfo(addresses);
    if (result != CFOIL_OK)
        return result;
    struct transport *made = memory_allocate(memory, sizeof *made);
    if (made == NULL) {
        close(handle);
        return error_memory_set(error, AREA);
    }
    *made = (struct transport){&tcp_kind, memory, handle};
    *transport = made;
    return CFOIL_OK;
}
