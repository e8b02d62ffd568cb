/* Who is connected, and whose turn is it? Sockets, time and the main loop; the device itself comes as an actor. */
#include "server.h"

#include "options.h"
#include "runner.h"

#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { EXIT_GOOD = 0, EXIT_SYSTEM = 1, EXIT_USAGE = 2, EXIT_IN_VAIN = 3, ROUNDS_MOST = 64, LONGEST_POLL_MS = 60000 };

struct server {
    const struct program *program;
    struct options options;
    struct script script;
    struct truth truth;
    struct actor actor;
    struct runner runner;
    struct timespec began;
    int listener, client; /* -1: none */
    bool plugged;
    bool had_client;
    bool blocked; /* the client does not take our bytes just now */
    bool broken;  /* the system refused us something; said on stderr */
};

static bool system_fail(const struct server *server, const char *what)
{
    fprintf(stderr, "%s: %s: %s\n", server->program->name, what, strerror(errno));
    return false;
}

static int64_t server_now(const struct server *server)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    int64_t nanoseconds = now.tv_nsec - server->began.tv_nsec;
    return ((int64_t)(now.tv_sec - server->began.tv_sec) * 1000000000 + nanoseconds) / 1000000;
}

static bool nonblocking(int descriptor)
{
    int flags = fcntl(descriptor, F_GETFL);
    return flags >= 0 && fcntl(descriptor, F_SETFL, flags | O_NONBLOCK) == 0;
}

static void descriptor_close(int *descriptor)
{
    if (*descriptor >= 0)
        close(*descriptor);
    *descriptor = -1;
}

/* Binds port options.port; if that is 0, keeps the port the system chose, so that a replug finds it again. */
static bool port_bind(struct server *server)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)server->options.port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof address;
    int yes = 1;
    server->listener = socket(AF_INET, SOCK_STREAM, 0);
    if (server->listener < 0)
        return system_fail(server, "cannot open a socket");
    setsockopt(server->listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(server->listener, (const struct sockaddr *)&address, length) != 0 || !nonblocking(server->listener) ||
        getsockname(server->listener, (struct sockaddr *)&address, &length) != 0)
        return system_fail(server, "cannot take the port");
    server->options.port = ntohs(address.sin_port);
    return true;
}

static bool listener_plug(struct server *server)
{
    server->plugged = listen(server->listener, 4) == 0;
    return server->plugged || system_fail(server, "cannot listen");
}

/* The port stays taken but deaf: connections are refused, and no client can be given it as its own port and so meet
 * itself. */
static bool listener_unplug(struct server *server)
{
    descriptor_close(&server->listener);
    server->plugged = false;
    return port_bind(server);
}

static bool port_file_write(const struct server *server)
{
    const char *name = server->options.port_file;
    if (name == NULL)
        return true;
    char draft[4096];
    if (snprintf(draft, sizeof draft, "%s.new", name) >= (int)sizeof draft) {
        errno = ENAMETOOLONG;
        return system_fail(server, name);
    }
    FILE *stream = fopen(draft, "w");
    if (stream == NULL)
        return system_fail(server, draft);
    bool good = fprintf(stream, "%ld\n", server->options.port) > 0;
    good = fclose(stream) == 0 && good;
    return (good && rename(draft, name) == 0) || system_fail(server, name);
}

static void client_close(struct server *server, int64_t now_ms)
{
    if (server->client < 0)
        return;
    descriptor_close(&server->client);
    server->actor.disconnect(server->actor.self);
    server->blocked = false;
    server->runner.connected = false;
    truth_say(&server->truth, now_ms, "disconnected", NULL, 0);
}

static void client_accept(struct server *server, int64_t now_ms)
{
    int client = accept(server->listener, NULL, NULL);
    if (client < 0)
        return; /* it has gone again; the next poll tells */
    int yes = 1;
    setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
#ifdef SO_NOSIGPIPE
    setsockopt(client, SOL_SOCKET, SO_NOSIGPIPE, &yes, sizeof yes);
#endif
    server->client = client;
    server->had_client = true;
    server->broken = !nonblocking(client);
    server->runner.connected = true;
    truth_say(&server->truth, now_ms, "connected", NULL, 0);
    if (server->actor.connect != NULL)
        server->actor.connect(server->actor.self, now_ms);
}

static void wish_grant(struct server *server, int64_t now_ms)
{
    enum wish wish = server->runner.wish;
    server->runner.wish = WISH_NOTHING;
    if (wish == WISH_UNPLUG) { /* before the client can notice, or it might slip in again */
        server->broken = !listener_unplug(server);
        truth_say(&server->truth, now_ms, "unplugged", NULL, 0);
    }
    if (wish == WISH_DROP || wish == WISH_UNPLUG)
        client_close(server, now_ms);
    if (wish == WISH_REPLUG) {
        server->broken = !server->plugged && !listener_plug(server);
        truth_say(&server->truth, now_ms, "replugged", NULL, 0);
    }
}

/* One round: notes move, the script goes on, bytes go out. True if another round may find something to do. */
static bool round_run(struct server *server)
{
    int64_t now_ms = server_now(server);
    server->actor.advance(server->actor.self, now_ms);
    bool again = runner_run(&server->runner, now_ms);
    wish_grant(server, now_ms);
    if (server->client < 0) {
        outbox_spill(server->actor.outbox, now_ms);
        return again;
    }
    bool sent = false;
    if (!outbox_send(server->actor.outbox, server->client, &sent, now_ms))
        client_close(server, now_ms);
    server->blocked = server->client >= 0 && outbox_deadline(server->actor.outbox) <= now_ms;
    return again || sent;
}

static bool rounds_run(struct server *server)
{
    bool busy = true;
    for (int round = 0; round < ROUNDS_MOST && busy; round++)
        busy = round_run(server);
    return busy;
}

/* After each message the script gets its turn, however the messages were packed on their way. */
static void client_read(struct server *server)
{
    uint8_t bytes[256];
    ssize_t count = recv(server->client, bytes, sizeof bytes, 0);
    bool closed = count == 0 || (count < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR);
    if (closed)
        client_close(server, server_now(server));
    size_t left = count > 0 ? (size_t)count : 0;
    for (const uint8_t *at = bytes; left > 0 && server->client >= 0;) {
        size_t used = server->actor.receive(server->actor.self, at, left, server_now(server));
        at += used;
        left -= used;
        rounds_run(server);
    }
}

static void earlier(int64_t *deadline, int64_t candidate)
{
    if (candidate < *deadline)
        *deadline = candidate;
}

static int poll_timeout(const struct server *server, bool busy)
{
    if (busy)
        return 0;
    int64_t now_ms = server_now(server);
    int64_t deadline = now_ms + LONGEST_POLL_MS;
    earlier(&deadline, server->actor.deadline(server->actor.self, now_ms));
    earlier(&deadline, runner_deadline(&server->runner, now_ms));
    if (!server->blocked)
        earlier(&deadline, outbox_deadline(server->actor.outbox));
    if (server->options.stop_after_ms > 0)
        earlier(&deadline, server->options.stop_after_ms);
    return deadline > now_ms ? (int)(deadline - now_ms) : 0;
}

static void sockets_serve(struct server *server, int timeout_ms)
{
    struct pollfd watched = {.fd = server->client, .events = POLLIN};
    bool waiting = server->client < 0;
    if (waiting)
        watched.fd = server->plugged ? server->listener : -1; /* -1 is passed over */
    else if (server->blocked)
        watched.events = POLLIN | POLLOUT;
    if (poll(&watched, 1, timeout_ms) <= 0)
        return;
    if (waiting)
        client_accept(server, server_now(server));
    else if ((watched.revents & (POLLIN | POLLHUP | POLLERR)) != 0)
        client_read(server);
}

/* A script that has ended still lets its last bytes go out. */
static bool server_over(const struct server *server, int *status)
{
    bool gone = server->client < 0;
    long stop = server->options.stop_after_ms;
    if (server->broken) {
        *status = EXIT_SYSTEM;
    } else if (server->runner.gave_up || (stop > 0 && server_now(server) >= stop)) {
        *status = EXIT_IN_VAIN;
    } else {
        *status = EXIT_GOOD;
        bool said = gone || server->blocked || server->actor.outbox->count == 0;
        bool left = server->options.once && server->had_client && gone && runner_finished(&server->runner);
        return (server->runner.ended && said) || left;
    }
    return true;
}

static int server_run(struct server *server)
{
    int status = EXIT_GOOD;
    for (;;) {
        bool busy = rounds_run(server);
        if (server_over(server, &status))
            break;
        sockets_serve(server, poll_timeout(server, busy));
    }
    truth_say(&server->truth, server_now(server), "ended", "status", status);
    return status;
}

static bool server_open(struct server *server)
{
    clock_gettime(CLOCK_MONOTONIC, &server->began);
    if (server->options.log != NULL) {
        server->truth.stream = fopen(server->options.log, "w");
        if (server->truth.stream == NULL)
            return system_fail(server, server->options.log);
    }
    if (!port_bind(server) || !listener_plug(server) || !port_file_write(server))
        return false;
    server->program->start(&server->script, &server->truth, &server->actor);
    runner_start(&server->runner, &server->script, &server->actor, 0);
    printf("listening on 127.0.0.1:%ld\n", server->options.port);
    return fflush(stdout) == 0;
}

int server_main(const struct program *program, int count, char **arguments)
{
    static struct server server = {.listener = -1, .client = -1};
    int status = EXIT_SYSTEM;
    server.program = program;
    if (!options_read(&server.options, program->name, count, arguments))
        return EXIT_USAGE;
    if (server.options.help) {
        options_help(program->name);
        return EXIT_GOOD;
    }
    if (!script_read(&server.script, program->language, program->settings, server.options.script))
        return EXIT_USAGE;
    if (server.options.check)
        return EXIT_GOOD;
    if (server_open(&server))
        status = server_run(&server);
    descriptor_close(&server.client);
    descriptor_close(&server.listener);
    if (server.truth.stream != NULL)
        fclose(server.truth.stream);
    return status;
}
