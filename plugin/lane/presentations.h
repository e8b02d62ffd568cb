/*
 * Which presentation an event belongs to: one insertion of a note, from the first word about it to its end.
 */
#ifndef LANE_PRESENTATIONS_H
#define LANE_PRESENTATIONS_H

#include <counterfoil/counterfoil.h>

struct presentations {
    uint64_t last;       /* number given out last */
    uint64_t held;       /* the note in escrow now, 0 = none */
    uint64_t unresolved; /* was held when its outcome became unknown; the device may still tell, 0 = none */
    cfoil_event note;    /* the HELD event of the one or the other */
};

/* The number for an event of kind HELD, STACKED, RETURNED, REJECTED, DEVICE or LOST_EVENTS; 0 = of no presentation. */
uint64_t presentation_assign(struct presentations *presentations, const cfoil_event *event);

#endif
