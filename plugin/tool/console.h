/*
 * Keyboard, clock and stop signals: everything here that depends on the operating system.
 */
#ifndef TOOL_CONSOLE_H
#define TOOL_CONSOLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CONSOLE_LINE_MAX 512
#define CONSOLE_SLICE_MS 200 /* longest wait before a stop signal is seen */

struct console {
    bool terminal; /* a person sits there; otherwise the lines come from a script */
    bool ended;    /* nothing more will come */
    bool skipping; /* inside a line that was too long */
    size_t length;
    char buffer[4096];
};

void console_init(struct console *console);

/* Takes the next line that is there, without its end, blanks at its ends and control characters. */
bool console_line_take(struct console *console, char line[CONSOLE_LINE_MAX]);

/* Waits until the keyboard (when `keyboard`) or the lane's handle (unless -1) has something, at most `timeout_ms`, and
 * takes in what was typed. True when the lane's handle has something. */
bool console_wait(struct console *console, bool keyboard, intptr_t handle, uint32_t timeout_ms);

/* Files that are opened later never take the place of closed standard input, output or error. */
void standard_files_ensure(void);

/* From now on Ctrl-C and the terminate signal only ask to stop, and a reader that has gone is a failed write. */
void stop_prepare(void);
bool stop_asked(void);

uint64_t clock_ms(void);

/* What is left until `deadline_ms` (0 = none), at most one slice. */
uint32_t slice_ms(uint64_t deadline_ms);
bool deadline_passed(uint64_t deadline_ms);

#endif
