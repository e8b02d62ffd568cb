/*
 * Asking for a PIN. See pin_ask.h.
 */
#include "pin_ask.h"

#include "print.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

void pin_wipe(char pin[PIN_SIZE])
{
    volatile char *at = pin; /* a plain memset() of what is not read again may be left out */
    for (int i = 0; i < PIN_SIZE; i++)
        at[i] = '\0';
}

/* Byte by byte: what follows the line belongs to the next question. False = no line. */
static bool line_read(char pin[PIN_SIZE], bool *too_long)
{
    size_t length = 0;
    char byte;
    ssize_t got;
    *too_long = false;
    while ((got = read(STDIN_FILENO, &byte, 1)) == 1 && byte != '\n') {
        if (length + 1 < PIN_SIZE)
            pin[length++] = byte;
        else
            *too_long = true;
    }
    pin[length] = '\0';
    return got == 1 || length > 0;
}

int pin_ask(const char *question, char pin[PIN_SIZE])
{
    struct termios seen;
    bool too_long;
    bool terminal = tcgetattr(STDIN_FILENO, &seen) == 0;
    if (terminal) {
        struct termios unseen = seen;
        unseen.c_lflag &= ~(tcflag_t)ECHO;
        fprintf(stderr, "%s > ", question);
        (void)tcsetattr(STDIN_FILENO, TCSAFLUSH, &unseen);
    }
    bool good = line_read(pin, &too_long);
    if (terminal) {
        (void)tcsetattr(STDIN_FILENO, TCSAFLUSH, &seen);
        fputc('\n', stderr);
    }
    if (good && !too_long)
        return TOOL_OK;
    pin_wipe(pin);
    complain("%s; give each PIN as a line on standard input", too_long ? "a PIN is too long" : "a PIN is missing");
    return TOOL_USAGE;
}

int pin_sign_in(struct host *host, const char *staff, const char *question, cfoil_session **session)
{
    char pin[PIN_SIZE];
    if (staff == NULL) {
        complain("--pin needs --staff CODE; say whose PIN it is");
        return TOOL_USAGE;
    }
    int code = pin_ask(question, pin);
    if (code != TOOL_OK)
        return code;
    int32_t result = cfoil_sign_in(host->ledger, staff, pin, 0, session);
    pin_wipe(pin);
    return result == CFOIL_OK ? TOOL_OK : failure_report(host->ledger, result, "nobody was signed in");
}
