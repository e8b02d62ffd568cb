/*
 * A signal for the moment in which a USB device comes, so that who waits for one need not look so often.
 */
#ifndef TRANSPORT_ARRIVAL_H
#define TRANSPORT_ARRIVAL_H

#include "model/memory.h"

#include <stdint.h>

struct arrival;

/* NULL where the system tells nothing of the kind, or gives no memory, pipe or thread for it: then look again from time
 * to time. All other functions take NULL. */
struct arrival *arrival_begin(const struct memory *memory);
void arrival_end(struct arrival *arrival);

/* Readable once any USB device has come, until it is cleared; -1 = nothing to wait for. A serial adapter's port may
 * appear a moment after its device. */
intptr_t arrival_handle(const struct arrival *arrival);
void arrival_clear(struct arrival *arrival);

#endif
