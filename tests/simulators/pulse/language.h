/* What can a script say about a contact-pulse device? Its settings and its own words. */
#ifndef SIMULATOR_PULSE_LANGUAGE_H
#define SIMULATOR_PULSE_LANGUAGE_H

#include "common/script.h"

enum { TYPES = 16, PULSES_MOST = 200 };

enum { ACTION_PULSES = ACTION_OWN, ACTION_CONTACT, ACTION_OTHER };

enum way { WAY_GENUINE, WAY_REFUSED };

enum { OWN_NONE, OWN_SPLIT };

enum inhibit { INHIBIT_NONE, INHIBIT_DTR, INHIBIT_RTS };

struct settings {
    long pulses[TYPES + 1]; /* 0: no such note */
    long line;              /* bit number: CTS 0, DSR 1, DCD 2, RI 3 */
    long active_low;
    long inhibit, inhibit_high;
    long pulse_ms, pause_ms, rest_ms, move_ms, bounce_ms;
};

extern const struct language pulse_language;

void settings_default(struct settings *settings);

#endif
