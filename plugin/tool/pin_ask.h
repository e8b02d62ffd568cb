/*
 * Asking for a PIN on standard input, unseen on a terminal. A PIN is never an option: others could read it there.
 */
#ifndef TOOL_PIN_ASK_H
#define TOOL_PIN_ASK_H

#include "host.h"

#define PIN_SIZE 80

/* Reads one line. On failure writes one line and returns the exit code. */
int pin_ask(const char *question, char pin[PIN_SIZE]);

/* Asks and signs in. */
int pin_sign_in(struct host *host, const char *staff, const char *question, cfoil_session **session);

void pin_wipe(char pin[PIN_SIZE]);

#endif
