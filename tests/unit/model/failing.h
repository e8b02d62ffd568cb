/*
 * Memory that fails on demand: the n-th allocation from now returns NULL, in our own memory and in cJSON's alike.
 * Every block is counted, so that a leak is seen.
 */
#ifndef FAILING_H
#define FAILING_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <stdlib.h>

static long failing_left = -1; /* allocations until the failing one; negative = none fails */
static long failing_blocks;    /* blocks in use */

static inline void *failing_take(size_t size)
{
    if (failing_left == 0)
        return NULL;
    if (failing_left > 0)
        failing_left--;
    failing_blocks++;
    return malloc(size);
}

static inline void failing_give(void *block)
{
    if (block != NULL)
        failing_blocks--;
    free(block);
}

static inline void *failing_allocate(void *user, size_t size)
{
    (void)user;
    return failing_take(size);
}

static inline void failing_release(void *user, void *block)
{
    (void)user;
    failing_give(block);
}

static const struct memory failing_memory = {NULL, failing_allocate, failing_release};

/* Makes cJSON use the same memory. Process-wide, which only a test may do. */
static inline void failing_json(void)
{
    cJSON_Hooks hooks = {failing_take, failing_give};
    cJSON_InitHooks(&hooks);
}

static inline void failing_after(long allocations)
{
    failing_left = allocations;
}

static inline void failing_stop(void)
{
    failing_left = -1;
}

/* Both for one call: memory that fails after so many allocations (negative = never), and back to the heap. */
static inline void failing_begin(long allocations)
{
    failing_json();
    failing_after(allocations);
}

static inline void failing_end(void)
{
    cJSON_InitHooks(NULL);
    failing_stop();
}

#endif
