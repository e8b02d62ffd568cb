/* cctalk-simulator: a simulated ccTalk note validator on a local TCP port, acting out a script. See README.md. */
#include "runner.h"

#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { EXIT_GOOD = 0, EXIT_SYSTEM = 1, EXIT_USAGE = 2, EXIT_IN_VAIN = 3, ROUNDS_MOST = 64, LONGEST_POLL_MS = 60000 };

struct options {
    const char *script, *port_file, *log;
    long port, stop_after_ms;
    bool once, check, help;
};

struct simulator {
    struct options options;
    struct script script;
    struct device device;
    struct line line;
    struct truth truth;
    struct runner runner;
    struct timespec began;
    int listener, client; /* -1: none */
    bool plugged;
    bool had_client;
    bool blocked; /* the client does not take our bytes just now */
    bool broken;  /* the system refused us something; said on stderr */
};

static const char usage[] =
    "usage: cctalk-simulator --script FILE [--listen PORT] [--port-file FILE] [--log FILE] [--once]\n"
    "                        [--stop-after-ms N] [--check] [--help]\n"
    "  --script FILE      what the device is and what happens to it; tests/simulators/README.md describes it\n"
    "  --listen PORT      TCP port on 127.0.0.1; 0, the usual value, takes any free one\n"
    "  --port-file FILE   write the port number there once clients can connect\n"
    "  --log FILE         write what truly happened there, a JSON object a line\n"
    "  --once             end when the script is through and the client has gone\n"
    "  --stop-after-ms N  end with status 3 after so long, whatever happens\n"
    "  --check            only read the script\n"
    "Ends with 0 when the script ends, 1 on a system error, 2 on a wrong option or script, 3 after waiting in vain.\n";

static bool option_number(const char *text, long most, long *value)
{
    char *end = NULL;
    *value = strtol(text, &end, 10);
    return *text >= '0' && *text <= '9' && *end == '\0' && *value <= most;
}

static bool flag_take(struct options *options, const char *name)
{
    bool *flag = NULL;
    if (strcmp(name, "--once") == 0)
        flag = &options->once;
    else if (strcmp(name, "--check") == 0)
        flag = &options->check;
    else if (strcmp(name, "--help") == 0)
        flag = &options->help;
    if (flag != NULL)
        *flag = true;
    return flag != NULL;
}

static bool value_take(struct options *options, const char *name, const char *value)
{
    if (strcmp(name, "--script") == 0)
        options->script = value;
    else if (strcmp(name, "--port-file") == 0)
        options->port_file = value;
    else if (strcmp(name, "--log") == 0)
        options->log = value;
    else if (strcmp(name, "--listen") == 0)
        return option_number(value, 65535, &options->port);
    else if (strcmp(name, "--stop-after-ms") == 0)
        return option_number(value, 86400000, &options->stop_after_ms);
    else
        return false;
    return true;
}

static bool options_read(struct options *options, int count, char **arguments)
{
    for (int i = 1; i < count; i++) {
        if (flag_take(options, arguments[i]))
            continue;
        if (i + 1 == count || !value_take(options, arguments[i], arguments[i + 1])) {
            fprintf(stderr, "cctalk-simulator: cannot use '%s'\n%s", arguments[i], usage);
            return false;
        }
        i++;
    }
    if (options->script != NULL || options->help)
        return true;
    fprintf(stderr, "cctalk-simulator: --script is missing\n%s", usage);
    return false;
}

static bool system_fail(const char *what)
{
    fprintf(stderr, "cctalk-simulator: %s: %s\n", what, strerror(errno));
    return false;
}

static int64_t simulator_now(const struct simulator *simulator)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    int64_t nanoseconds = now.tv_nsec - simulator->began.tv_nsec;
    return ((int64_t)(now.tv_sec - simulator->began.tv_sec) * 1000000000 + nanoseconds) / 1000000;
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
static bool port_bind(struct simulator *simulator)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)simulator->options.port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof address;
    int yes = 1;
    simulator->listener = socket(AF_INET, SOCK_STREAM, 0);
    if (simulator->listener < 0)
        return system_fail("cannot open a socket");
    setsockopt(simulator->listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(simulator->listener, (const struct sockaddr *)&address, length) != 0 ||
        !nonblocking(simulator->listener) ||
        getsockname(simulator->listener, (struct sockaddr *)&address, &length) != 0)
        return system_fail("cannot take the port");
    simulator->options.port = ntohs(address.sin_port);
    return true;
}

static bool listener_plug(struct simulator *simulator)
{
    simulator->plugged = listen(simulator->listener, 4) == 0;
    return simulator->plugged || system_fail("cannot listen");
}

/* The port stays taken but deaf: connections are refused, and no client can be given it as its own port and so meet
 * itself. */
static bool listener_unplug(struct simulator *simulator)
{
    descriptor_close(&simulator->listener);
    simulator->plugged = false;
    return port_bind(simulator);
}

static bool port_file_write(const struct simulator *simulator)
{
    const char *name = simulator->options.port_file;
    if (name == NULL)
        return true;
    char draft[4096];
    if (snprintf(draft, sizeof draft, "%s.new", name) >= (int)sizeof draft) {
        errno = ENAMETOOLONG;
        return system_fail(name);
    }
    FILE *stream = fopen(draft, "w");
    if (stream == NULL)
        return system_fail(draft);
    bool good = fprintf(stream, "%ld\n", simulator->options.port) > 0;
    good = fclose(stream) == 0 && good;
    return (good && rename(draft, name) == 0) || system_fail(name);
}

static void client_close(struct simulator *simulator, int64_t now_ms)
{
    if (simulator->client < 0)
        return;
    descriptor_close(&simulator->client);
    line_clear(&simulator->line);
    simulator->blocked = false;
    simulator->runner.connected = false;
    truth_say(&simulator->truth, now_ms, "disconnected", NULL, 0);
}

static void client_accept(struct simulator *simulator, int64_t now_ms)
{
    int client = accept(simulator->listener, NULL, NULL);
    if (client < 0)
        return; /* it has gone again; the next poll tells */
    int yes = 1;
    setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
#ifdef SO_NOSIGPIPE
    setsockopt(client, SOL_SOCKET, SO_NOSIGPIPE, &yes, sizeof yes);
#endif
    simulator->client = client;
    simulator->had_client = true;
    simulator->broken = !nonblocking(client);
    simulator->runner.connected = true;
    truth_say(&simulator->truth, now_ms, "connected", NULL, 0);
}

static void wish_grant(struct simulator *simulator, int64_t now_ms)
{
    enum wish wish = simulator->runner.wish;
    simulator->runner.wish = WISH_NOTHING;
    if (wish == WISH_UNPLUG) { /* before the client can notice, or it might slip in again */
        simulator->broken = !listener_unplug(simulator);
        truth_say(&simulator->truth, now_ms, "unplugged", NULL, 0);
    }
    if (wish == WISH_DROP || wish == WISH_UNPLUG)
        client_close(simulator, now_ms);
    if (wish == WISH_REPLUG) {
        simulator->broken = !simulator->plugged && !listener_plug(simulator);
        truth_say(&simulator->truth, now_ms, "replugged", NULL, 0);
    }
}

/* One round: notes move, the script goes on, bytes go out. True if another round may find something to do. */
static bool round_run(struct simulator *simulator)
{
    int64_t now_ms = simulator_now(simulator);
    device_advance(&simulator->device, now_ms);
    bool again = runner_run(&simulator->runner, now_ms);
    wish_grant(simulator, now_ms);
    if (simulator->client < 0)
        return again;
    bool sent = false;
    if (!line_send(&simulator->line, simulator->client, &sent, now_ms))
        client_close(simulator, now_ms);
    simulator->blocked = simulator->client >= 0 && line_deadline(&simulator->line) <= now_ms;
    return again || sent;
}

static bool rounds_run(struct simulator *simulator)
{
    bool busy = true;
    for (int round = 0; round < ROUNDS_MOST && busy; round++)
        busy = round_run(simulator);
    return busy;
}

/* After each message the script gets its turn, however the messages were packed on their way. */
static void client_read(struct simulator *simulator)
{
    uint8_t bytes[256];
    ssize_t count = recv(simulator->client, bytes, sizeof bytes, 0);
    bool closed = count == 0 || (count < 0 && errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR);
    if (closed)
        client_close(simulator, simulator_now(simulator));
    size_t left = count > 0 ? (size_t)count : 0;
    for (const uint8_t *at = bytes; left > 0 && simulator->client >= 0;) {
        size_t used = line_receive(&simulator->line, at, left, simulator_now(simulator));
        at += used;
        left -= used;
        rounds_run(simulator);
    }
}

static void earlier(int64_t *deadline, int64_t candidate)
{
    if (candidate < *deadline)
        *deadline = candidate;
}

static int poll_timeout(const struct simulator *simulator, bool busy)
{
    if (busy)
        return 0;
    int64_t now_ms = simulator_now(simulator);
    int64_t deadline = now_ms + LONGEST_POLL_MS;
    earlier(&deadline, device_deadline(&simulator->device));
    earlier(&deadline, runner_deadline(&simulator->runner, now_ms));
    if (now_ms < simulator->device.off_until_ms)
        earlier(&deadline, simulator->device.off_until_ms);
    if (!simulator->blocked)
        earlier(&deadline, line_deadline(&simulator->line));
    if (simulator->options.stop_after_ms > 0)
        earlier(&deadline, simulator->options.stop_after_ms);
    return deadline > now_ms ? (int)(deadline - now_ms) : 0;
}

static void sockets_serve(struct simulator *simulator, int timeout_ms)
{
    struct pollfd watched = {.fd = simulator->client, .events = POLLIN};
    bool waiting = simulator->client < 0;
    if (waiting)
        watched.fd = simulator->plugged ? simulator->listener : -1; /* -1 is passed over */
    else if (simulator->blocked)
        watched.events = POLLIN | POLLOUT;
    if (poll(&watched, 1, timeout_ms) <= 0)
        return;
    if (waiting)
        client_accept(simulator, simulator_now(simulator));
    else if ((watched.revents & (POLLIN | POLLHUP | POLLERR)) != 0)
        client_read(simulator);
}

/* A script that has ended still lets its last bytes go out. */
static bool simulator_over(const struct simulator *simulator, int *status)
{
    bool gone = simulator->client < 0;
    long stop = simulator->options.stop_after_ms;
    if (simulator->broken) {
        *status = EXIT_SYSTEM;
    } else if (simulator->runner.gave_up || (stop > 0 && simulator_now(simulator) >= stop)) {
        *status = EXIT_IN_VAIN;
    } else {
        *status = EXIT_GOOD;
        bool said = gone || simulator->blocked || simulator->line.chunk_count == 0;
        bool left = simulator->options.once && simulator->had_client && gone && runner_finished(&simulator->runner);
        return (simulator->runner.ended && said) || left;
    }
    return true;
}

static int simulator_run(struct simulator *simulator)
{
    int status = EXIT_GOOD;
    for (;;) {
        bool busy = rounds_run(simulator);
        if (simulator_over(simulator, &status))
            break;
        sockets_serve(simulator, poll_timeout(simulator, busy));
    }
    truth_say(&simulator->truth, simulator_now(simulator), "ended", "status", status);
    return status;
}

static bool simulator_open(struct simulator *simulator)
{
    clock_gettime(CLOCK_MONOTONIC, &simulator->began);
    if (simulator->options.log != NULL) {
        simulator->truth.stream = fopen(simulator->options.log, "w");
        if (simulator->truth.stream == NULL)
            return system_fail(simulator->options.log);
    }
    if (!port_bind(simulator) || !listener_plug(simulator) || !port_file_write(simulator))
        return false;
    const struct settings *settings = &simulator->script.settings;
    device_start(&simulator->device, settings, &simulator->truth, 0);
    line_start(&simulator->line, &simulator->device, settings, &simulator->truth);
    runner_start(&simulator->runner, &simulator->script, &simulator->device, &simulator->line, 0);
    printf("listening on 127.0.0.1:%ld\n", simulator->options.port);
    return fflush(stdout) == 0;
}

int main(int count, char **arguments)
{
    static struct simulator simulator = {.listener = -1, .client = -1};
    int status = EXIT_SYSTEM;
    if (!options_read(&simulator.options, count, arguments))
        return EXIT_USAGE;
    if (simulator.options.help) {
        fputs(usage, stdout);
        return EXIT_GOOD;
    }
    if (!script_read(&simulator.script, simulator.options.script))
        return EXIT_USAGE;
    if (simulator.options.check)
        return EXIT_GOOD;
    if (simulator_open(&simulator))
        status = simulator_run(&simulator);
    descriptor_close(&simulator.client);
    descriptor_close(&simulator.listener);
    if (simulator.truth.stream != NULL)
        fclose(simulator.truth.stream);
    return status;
}
