/* What can a script say about the polled validator with status bits? Its settings and its own words. */
#ifndef SIMULATOR_BITS_LANGUAGE_H
#define SIMULATOR_BITS_LANGUAGE_H

#include "common/script.h"

enum { TYPES = 15 };

/* What the host asks: the type byte without toggle, or what the control byte of a poll wants. */
enum { COMMAND_POLL, COMMAND_IDENTITY, COMMAND_STACK, COMMAND_RETURN, COMMANDS };

enum { ACTION_STACKER = ACTION_OWN, ACTION_JAM, ACTION_TAMPERING, ACTION_BITS };

enum way { WAY_GENUINE, WAY_REFUSED, WAY_TRANSPORT, WAY_MAGNETIC, WAY_ULTRAVIOLET, WAY_STRANGE, WAY_JAMS };

enum { OWN_NONE, OWN_DEAF, OWN_STALE };

struct settings {
    char model[5], serial[5];
    long start_ms, move_ms, escrow_timeout_ms, reply_ms;
    long forgets_unread; /* what no host has confirmed: told again after the next identity request, or forgotten */
};

extern const struct language bits_language;

void settings_default(struct settings *settings);

#endif
