/*
 * The lane as watch and till use it: opening it, showing its events, and what its end means.
 */
#ifndef TOOL_MACHINE_H
#define TOOL_MACHINE_H

#include "host.h"

#include <stdio.h>

/* Opens the lane that the options describe. On failure writes one line and returns the exit code. */
int machine_open(const struct arguments *arguments, const struct host *host, int32_t accept, cfoil_lane **lane);

/* Writes the event as one line and flushes it; false when the line could not be written. */
bool event_print(FILE *out, bool json, const cfoil_event *event);

/* Gives a held note back; a failure that matters is told on standard error. */
void held_note_return(cfoil_lane *lane, uint64_t presentation);

/* Is this the last event of the lane? If so *code is the exit code, and a failure was told on standard error. */
bool event_is_end(cfoil_lane *lane, const cfoil_event *event, int *code);

#endif
