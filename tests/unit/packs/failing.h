/*
 * A heap for our blocks and cJSON's that runs out after so many of them, and counts what was not given back.
 */
#ifndef UNIT_PACKS_FAILING_H
#define UNIT_PACKS_FAILING_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <stdlib.h>

/* Counts down over our allocator and cJSON's together; both are freed by the same C heap. */
static long allowed; /* blocks still to be had, -1 = any number */
static long live;

static void *failing_allocate(size_t size)
{
    if (allowed == 0)
        return NULL;
    allowed--;
    void *block = malloc(size);
    live += block != NULL;
    return block;
}

static void failing_free(void *block)
{
    live -= block != NULL;
    free(block);
}

static void *memory_failing_allocate(void *user, size_t size)
{
    (void)user;
    return failing_allocate(size);
}

static void memory_failing_release(void *user, void *block)
{
    (void)user;
    failing_free(block);
}

static const struct memory failing = {NULL, memory_failing_allocate, memory_failing_release};

/* -1 = never runs out. */
static void failing_begin(long count)
{
    static cJSON_Hooks hooks = {failing_allocate, failing_free};
    cJSON_InitHooks(&hooks);
    allowed = count;
}

static void failing_end(void)
{
    cJSON_InitHooks(NULL);
}

static long failing_live(void)
{
    return live;
}

#endif
