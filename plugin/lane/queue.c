/*
 * Which events wait for the host, and how many were dropped because it did not come? See queue.h.
 */
#include "lane/queue.h"

bool queue_create(struct queue *queue, const struct memory *memory, uint32_t capacity)
{
    *queue = (struct queue){.capacity = capacity};
    queue->events = memory_allocate(memory, capacity * sizeof *queue->events);
    return queue->events != NULL;
}

void queue_destroy(struct queue *queue, const struct memory *memory)
{
    memory_release(memory, queue->events);
    queue->events = NULL;
}

bool queue_full(const struct queue *queue)
{
    return queue->count == queue->capacity;
}

static void event_put(struct queue *queue, const cfoil_event *event)
{
    queue->events[(queue->first + queue->count) % queue->capacity] = *event;
    queue->count++;
}

bool queue_push(struct queue *queue, const cfoil_event *event)
{
    if (queue->dropped > 0 || queue_full(queue)) {
        if (queue->dropped < UINT32_MAX)
            queue->dropped++;
        return false;
    }
    event_put(queue, event);
    return true;
}

bool queue_pop(struct queue *queue, cfoil_event *event)
{
    if (queue->count == 0)
        return false;
    *event = queue->events[queue->first];
    queue->first = (queue->first + 1) % queue->capacity;
    queue->count--;
    return true;
}

bool queue_overflow_due(const struct queue *queue)
{
    return queue->dropped > 0 && !queue_full(queue);
}

void queue_overflow_push(struct queue *queue, const cfoil_event *event)
{
    queue->dropped = 0;
    event_put(queue, event);
}
