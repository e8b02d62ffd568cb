/*
 * The events that wait for the host: a ring of fixed length that says how many it had to drop. No lock of its own.
 */
#ifndef LANE_QUEUE_H
#define LANE_QUEUE_H

#include "model/memory.h"

#include <counterfoil/counterfoil.h>
#include <stdbool.h>

struct queue {
    cfoil_event *events;
    uint32_t capacity;
    uint32_t first;
    uint32_t count;
    uint32_t dropped; /* since the last LOST_EVENTS; while it is not 0 everything else is dropped too */
};

bool queue_create(struct queue *queue, const struct memory *memory, uint32_t capacity); /* false = no memory */
void queue_destroy(struct queue *queue, const struct memory *memory);

/* Puts an event at the end, or drops and counts it: the newest go, so that what the host gets is without a gap up to
 * the LOST_EVENTS event that explains the one gap. */
bool queue_push(struct queue *queue, const cfoil_event *event);
bool queue_pop(struct queue *queue, cfoil_event *event);
bool queue_full(const struct queue *queue);

/* Is a LOST_EVENTS event due, and is there room for it? */
bool queue_overflow_due(const struct queue *queue);

/* Puts that event (with lost_count = queue->dropped) at the end, and lets events in again. Only when it was due. */
void queue_overflow_push(struct queue *queue, const cfoil_event *event);

#endif
