/*
 * How does a misbehaving device meet the suite? See misbehaving.h.
 */
#include "misbehaving.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static int client = -1;

int64_t misbehaving_clock_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Part of a fault, not of a test: the device's reply really takes that long. */
void misbehaving_pause(int ms)
{
    struct pollfd left = {.fd = client}; /* ends early when the line is torn down */
    (void)poll(&left, client >= 0, ms);
}

bool misbehaving_connected(void)
{
    return client >= 0;
}

static void client_close(const struct misbehaving *device)
{
    close(client);
    client = -1;
    device->gone();
}

void misbehaving_send(const uint8_t *bytes, size_t length)
{
    if (client >= 0)
        (void)send(client, bytes, length, MSG_NOSIGNAL); /* a closed connection is seen at the next read */
}

static void client_read(const struct misbehaving *device, int64_t now_ms)
{
    uint8_t bytes[512];
    ssize_t count = recv(client, bytes, sizeof bytes, 0);
    if (count <= 0)
        client_close(device);
    else
        device->take(bytes, (size_t)count, now_ms);
}

static void client_take(int listener)
{
    int one = 1;
    client = accept(listener, NULL, NULL);
    if (client >= 0)
        setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
}

static int serve(const struct misbehaving *device, int listener, pid_t child)
{
    for (;;) {
        bool soon = device->pass(misbehaving_clock_ms());
        struct pollfd items[2] = {{.fd = client, .events = POLLIN},
                                  {.fd = client < 0 ? listener : -1, .events = POLLIN}};
        int ready = poll(items, 2, soon ? 5 : 50);
        if (ready > 0 && items[1].revents != 0)
            client_take(listener);
        if (ready > 0 && client >= 0 && items[0].revents != 0)
            client_read(device, misbehaving_clock_ms());
        int status;
        if (waitpid(child, &status, WNOHANG) == child)
            return WIFEXITED(status) ? WEXITSTATUS(status) : 3;
    }
}

static int listener_open(char port[16])
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    int listener = socket(AF_INET, SOCK_STREAM, 0);
    if (listener < 0 || bind(listener, (struct sockaddr *)&address, length) != 0 || listen(listener, 1) != 0 ||
        getsockname(listener, (struct sockaddr *)&address, &length) != 0)
        return -1;
    snprintf(port, 16, "%u", (unsigned)ntohs(address.sin_port));
    fcntl(listener, F_SETFD, FD_CLOEXEC);
    return listener;
}

static pid_t command_start(char **arguments, const char *port)
{
    pid_t child = fork();
    if (child != 0)
        return child;
    for (char **argument = arguments; *argument != NULL; argument++) {
        char *at = strstr(*argument, "@PORT@");
        if (at == NULL)
            continue;
        static char text[256];
        snprintf(text, sizeof text, "%.*s%s%s", (int)(at - *argument), *argument, port, at + 6);
        *argument = text;
    }
    execvp(arguments[0], arguments);
    _exit(127);
}

int misbehaving_fault(const struct misbehaving *device, int count, char **arguments)
{
    if (count == 2 && strcmp(arguments[1], "--list") == 0) {
        for (int i = 0; i < device->count; i++)
            puts(device->names[i]);
        return MISBEHAVING_LISTED;
    }
    int fault = 0;
    while (count > 4 && fault < device->count && strcmp(arguments[2], device->names[fault]) != 0)
        fault++;
    if (count > 4 && fault < device->count && strcmp(arguments[1], "--fault") == 0 && strcmp(arguments[3], "--") == 0)
        return fault;
    fprintf(stderr, "usage: %s --fault NAME -- COMMAND with @PORT@; %s --list\n", arguments[0], arguments[0]);
    return MISBEHAVING_USAGE;
}

int misbehaving_run(const struct misbehaving *device, char **command)
{
    char port[16];
    int listener = listener_open(port);
    pid_t child = listener < 0 ? -1 : command_start(command, port);
    if (child >= 0)
        return serve(device, listener, child);
    fprintf(stderr, "misbehaving device: %s\n", strerror(errno));
    return 2;
}

int misbehaving_main(const struct misbehaving *device, int count, char **arguments, int *fault)
{
    *fault = misbehaving_fault(device, count, arguments);
    if (*fault < 0)
        return *fault == MISBEHAVING_LISTED ? 0 : 2;
    return misbehaving_run(device, arguments + 4);
}
