/*
 * The invented device of README.md in software, over TCP: written from the protocol, not from the adapter. Whenever notes
 * are taken one comes: good ones and refused ones take turns.
 */
#define _POSIX_C_SOURCE 200809L

#include <netinet/in.h>
#include <poll.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { LINE_MAX = 80, EVENTS_KEPT = 8, TYPES = 4, PAUSE_MS = 120, SILENT_MS = 2000, KEEP_MS = 10000 };

struct event {
    char what;
    unsigned argument;
};

struct device {
    unsigned boot;
    unsigned newest;
    struct event events[EVENTS_KEPT]; /* event n is at n % EVENTS_KEPT */
    bool introduced;                  /* `I` was asked since it was switched on */
    unsigned mode;
    unsigned held; /* the number of the event that held a note; 0 = none */
    unsigned held_type;
    int64_t kept_ms;
    int64_t asked_ms;
    int64_t note_ms; /* when the next note comes */
    unsigned turn;
    unsigned restart_after; /* notes; 0 = never */
};

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static void event_add(struct device *device, char what, unsigned argument)
{
    device->newest++;
    device->events[device->newest % EVENTS_KEPT] = (struct event){what, argument};
    printf("event %u: %c,%u\n", device->newest, what, argument);
}

static void power_cut(struct device *device)
{
    unsigned boot = device->boot + 1;
    unsigned turn = device->turn;
    *device = (struct device){.boot = boot, .turn = turn, .asked_ms = now_ms()};
    printf("switched off and on\n");
}

static void note_come(struct device *device)
{
    device->turn++;
    if (device->restart_after != 0 && device->turn >= device->restart_after) {
        power_cut(device);
    } else if (device->turn % 2 == 0) {
        event_add(device, 'R', device->turn / 2 % 3 + 1);
    } else if (device->mode == 2) {
        event_add(device, 'S', device->turn / 2 % TYPES + 1);
    } else {
        device->held_type = device->turn / 2 % TYPES + 1;
        event_add(device, 'H', device->held_type);
        device->held = device->newest;
        device->kept_ms = now_ms();
    }
}

static void note_end(struct device *device, char what)
{
    event_add(device, what, device->held_type);
    device->held = 0;
    device->note_ms = now_ms() + PAUSE_MS;
}

/* What happens without a question. */
static void device_tick(struct device *device)
{
    int64_t now = now_ms();
    if (now > device->asked_ms + SILENT_MS)
        device->mode = 0;
    if (device->held != 0 && (now > device->kept_ms + KEEP_MS || now > device->asked_ms + SILENT_MS))
        note_end(device, 'B');
    if (device->mode == 0)
        device->note_ms = now + PAUSE_MS;
    if (device->mode != 0 && device->held == 0 && now >= device->note_ms) {
        device->note_ms = now + PAUSE_MS;
        note_come(device);
    }
}

static void poll_answer(const struct device *device, unsigned after, char *answer, size_t capacity)
{
    unsigned oldest = device->newest > EVENTS_KEPT ? device->newest - EVENTS_KEPT + 1 : 1;
    unsigned number = after + 1 > oldest ? after + 1 : oldest;
    if (number > device->newest) {
        snprintf(answer, capacity, "N,%u", device->newest);
        return;
    }
    const struct event *event = &device->events[number % EVENTS_KEPT];
    snprintf(answer, capacity, "E,%u,%c,%u", number, event->what, event->argument);
}

static void held_answer(struct device *device, char word, unsigned number, char *answer, size_t capacity)
{
    bool right = device->held != 0 && device->held == number;
    snprintf(answer, capacity, "%c,%u,%d", word, number, right ? 1 : 0);
    if (right && word == 'K')
        device->kept_ms = now_ms();
    else if (right)
        note_end(device, word);
}

/* An empty answer is silence. */
static void question_answer(struct device *device, const char *text, char *answer, size_t capacity)
{
    unsigned argument = 0;
    char word = text[0];
    bool plain = strcmp(text, "I") == 0;
    answer[0] = '\0';
    if (!plain && (sscanf(text, "%*c,%u", &argument) != 1 || strchr("MPSBK", word) == NULL))
        return;
    device->asked_ms = now_ms();
    if (plain) {
        device->introduced = true;
        snprintf(answer, capacity, "I,4711,%u,%u,EUR,500,1000,2000,5000", device->boot, device->newest);
    } else if (!device->introduced) {
        snprintf(answer, capacity, "R");
    } else if (word == 'M' && argument <= 2) {
        device->mode = argument;
        snprintf(answer, capacity, "M,%u", argument);
    } else if (word == 'P') {
        poll_answer(device, argument, answer, capacity);
    } else if (word != 'M') {
        held_answer(device, word, argument, answer, capacity);
    }
}

/* ---- Lines and the connection ---- */

static unsigned sum_of(const char *text)
{
    unsigned sum = 0;
    for (; *text != '\0'; text++)
        sum += (unsigned char)*text;
    return sum % 256;
}

static bool line_open(char *line)
{
    char *star = strrchr(line, '*');
    char expected[8];
    if (star == NULL)
        return false;
    *star = '\0';
    snprintf(expected, sizeof expected, "%02X", sum_of(line));
    return strcmp(star + 1, expected) == 0;
}

static void line_take(struct device *device, int client, char *line)
{
    char answer[LINE_MAX];
    char whole[LINE_MAX + 8];
    if (!line_open(line))
        return;
    question_answer(device, line, answer, sizeof answer);
    if (answer[0] == '\0')
        return;
    int length = snprintf(whole, sizeof whole, "%s*%02X\n", answer, sum_of(answer));
    (void)!send(client, whole, (size_t)length, MSG_NOSIGNAL);
}

struct link {
    int listener;
    int client; /* -1 = none */
    size_t length;
    char line[LINE_MAX + 1];
};

static void link_read(struct link *link, struct device *device)
{
    char bytes[256];
    ssize_t count = recv(link->client, bytes, sizeof bytes, 0);
    if (count <= 0) {
        close(link->client);
        link->client = -1;
        link->length = 0;
        return;
    }
    for (ssize_t i = 0; i < count; i++) {
        if (bytes[i] == '\n') {
            link->line[link->length] = '\0';
            line_take(device, link->client, link->line);
            link->length = 0;
        } else if (link->length < LINE_MAX) {
            link->line[link->length++] = bytes[i];
        }
    }
}

static bool link_open(struct link *link, const char *port_file)
{
    struct sockaddr_in address = {.sin_family = AF_INET};
    socklen_t size = sizeof address;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    link->client = -1;
    link->listener = socket(AF_INET, SOCK_STREAM, 0);
    if (link->listener < 0 || bind(link->listener, (struct sockaddr *)&address, size) != 0 ||
        listen(link->listener, 4) != 0 || getsockname(link->listener, (struct sockaddr *)&address, &size) != 0)
        return false;
    char name[512];
    snprintf(name, sizeof name, "%s.new", port_file);
    FILE *file = fopen(name, "w");
    if (file == NULL)
        return false;
    fprintf(file, "%u\n", (unsigned)ntohs(address.sin_port));
    return fclose(file) == 0 && rename(name, port_file) == 0; /* it appears all at once */
}

static void serve(struct link *link, struct device *device, int64_t until_ms)
{
    while (now_ms() < until_ms) {
        struct pollfd items[2] = {{.fd = link->listener, .events = POLLIN}, {.fd = link->client, .events = POLLIN}};
        if (link->client >= 0)
            items[0].fd = -1; /* one host at a time: the next one waits */
        if (poll(items, 2, 10) < 0)
            return;
        if (items[0].revents != 0)
            link->client = accept(link->listener, NULL, NULL);
        else if (items[1].revents != 0)
            link_read(link, device);
        device_tick(device);
        fflush(stdout);
    }
}

int main(int count, char **arguments)
{
    struct device device = {.boot = 1};
    struct link link = {.length = 0};
    const char *port_file = NULL;
    long stop_after_ms = 3600000;
    for (int i = 1; i + 1 < count; i += 2) {
        if (strcmp(arguments[i], "--port-file") == 0)
            port_file = arguments[i + 1];
        else if (strcmp(arguments[i], "--stop-after-ms") == 0)
            stop_after_ms = strtol(arguments[i + 1], NULL, 10);
        else if (strcmp(arguments[i], "--restart-after") == 0)
            device.restart_after = (unsigned)strtoul(arguments[i + 1], NULL, 10);
    }
    if (port_file == NULL || count % 2 == 0) {
        fprintf(stderr, "usage: skeleton-device --port-file FILE [--stop-after-ms N] [--restart-after NOTES]\n");
        return 2;
    }
    if (!link_open(&link, port_file)) {
        perror("skeleton-device");
        return 1;
    }
    serve(&link, &device, now_ms() + stop_after_ms);
    return 0;
}
