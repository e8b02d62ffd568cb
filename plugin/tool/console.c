/*
 * Keyboard, clock and stop signals for POSIX systems.
 */
#include "console.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static volatile sig_atomic_t stop_flag;

void standard_files_ensure(void)
{
    for (int number = STDIN_FILENO; number <= STDERR_FILENO; number++) {
        /* Read only: a write to it fails and is told, instead of being lost. */
        if (fcntl(number, F_GETFD) == -1 && open("/dev/null", O_RDONLY) == -1)
            return;
    }
}

static void stop_note(int number)
{
    (void)number;
    stop_flag = 1;
}

void stop_prepare(void)
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    sigemptyset(&action.sa_mask);
    action.sa_handler = stop_note;
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
}

bool stop_asked(void)
{
    return stop_flag != 0;
}

uint64_t clock_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u;
}

uint32_t slice_ms(uint64_t deadline_ms)
{
    if (deadline_ms == 0)
        return CONSOLE_SLICE_MS;
    uint64_t now = clock_ms();
    if (now >= deadline_ms)
        return 0;
    return deadline_ms - now < CONSOLE_SLICE_MS ? (uint32_t)(deadline_ms - now) : CONSOLE_SLICE_MS;
}

bool deadline_passed(uint64_t deadline_ms)
{
    return deadline_ms != 0 && clock_ms() >= deadline_ms;
}

void console_init(struct console *console)
{
    memset(console, 0, sizeof *console);
    console->terminal = isatty(STDIN_FILENO) == 1;
}

/* Copies what a line may hold; a longer one is cut and matches no answer. */
static void line_copy(const char *from, size_t length, char line[CONSOLE_LINE_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < length && count + 1 < CONSOLE_LINE_MAX; i++) {
        unsigned char c = (unsigned char)from[i];
        if (c == '\t')
            c = ' ';
        if (c < ' ' || c == 0x7f || (c == ' ' && count == 0))
            continue;
        line[count++] = (char)c;
    }
    while (count > 0 && line[count - 1] == ' ')
        count--;
    line[count] = '\0';
}

bool console_line_take(struct console *console, char line[CONSOLE_LINE_MAX])
{
    char *end = memchr(console->buffer, '\n', console->length);
    bool full = console->length == sizeof console->buffer;
    if (end == NULL && !full && !(console->ended && console->length > 0))
        return false;
    size_t length = end != NULL ? (size_t)(end - console->buffer) : console->length;
    size_t used = end != NULL ? length + 1 : length;
    bool rest_of_long_line = console->skipping;
    console->skipping = end == NULL && full;
    line_copy(console->buffer, length, line);
    memmove(console->buffer, console->buffer + used, console->length - used);
    console->length -= used;
    return rest_of_long_line ? console_line_take(console, line) : true;
}

static void keyboard_read(struct console *console)
{
    ssize_t count = read(STDIN_FILENO, console->buffer + console->length, sizeof console->buffer - console->length);
    if (count > 0)
        console->length += (size_t)count;
    else if (count == 0 || (errno != EINTR && errno != EAGAIN))
        console->ended = true;
}

bool console_wait(struct console *console, bool keyboard, intptr_t handle, uint32_t timeout_ms)
{
    bool listen = keyboard && !console->ended && console->length < sizeof console->buffer;
    struct pollfd items[2] = {
        {.fd = listen ? STDIN_FILENO : -1, .events = POLLIN},
        {.fd = (int)handle, .events = POLLIN},
    };
    if (poll(items, 2, (int)timeout_ms) <= 0)
        return false;
    if (items[0].revents != 0)
        keyboard_read(console);
    return items[1].revents != 0;
}
