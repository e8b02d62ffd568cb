/*
 * A heap for SQLite, cJSON and the library whose n-th allocation fails, through their own hooks: it works under
 * sanitizers too. Only a test may set such hooks, since they hold for the whole process.
 */
#ifndef SCARCE_HEAP_H
#define SCARCE_HEAP_H

#include "model/memory.h"

#include <cjson/cJSON.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static struct {
    long left; /* the allocation that fails: 1 = the next, 0 = none */
    bool for_ever;
    bool refused;
    long blocks;
} heap;

static bool heap_refuses(void)
{
    if (heap.left == 0)
        return false;
    if (heap.left > 1) {
        heap.left--;
        return false;
    }
    if (heap.refused && !heap.for_ever)
        return false;
    heap.refused = true;
    return true;
}

/* The size stands before the block, since SQLite asks for it. */
static void *heap_allocate(size_t size)
{
    if (heap_refuses())
        return NULL;
    size_t *block = malloc(16 + size);
    if (block == NULL)
        return NULL;
    *block = size;
    heap.blocks++;
    return (char *)block + 16;
}

static void heap_release(void *block)
{
    if (block == NULL)
        return;
    heap.blocks--;
    free((char *)block - 16);
}

static int heap_size(void *block)
{
    size_t size = 0;
    if (block != NULL)
        memcpy(&size, (char *)block - 16, sizeof size);
    return (int)size;
}

static void *heap_sqlite_allocate(int size)
{
    return heap_allocate((size_t)size);
}

static void *heap_sqlite_resize(void *block, int size)
{
    void *grown = heap_allocate((size_t)size);
    int kept = heap_size(block) < size ? heap_size(block) : size;
    if (grown == NULL)
        return NULL;
    if (block != NULL)
        memcpy(grown, block, (size_t)kept);
    heap_release(block);
    return grown;
}

static int heap_sqlite_round(int size)
{
    return (size + 7) & ~7;
}

static int heap_sqlite_begin(void *user)
{
    (void)user;
    return SQLITE_OK;
}

static void heap_sqlite_end(void *user)
{
    (void)user;
}

static void *heap_ours_allocate(void *user, size_t size)
{
    (void)user;
    return heap_allocate(size);
}

static void heap_ours_release(void *user, void *block)
{
    (void)user;
    heap_release(block);
}

static const struct memory heap_memory = {NULL, heap_ours_allocate, heap_ours_release};

/* Before the first use of SQLite in the process. */
static inline bool heap_hooks_set(void)
{
    static sqlite3_mem_methods methods = {heap_sqlite_allocate, heap_release,      heap_sqlite_resize, heap_size,
                                          heap_sqlite_round,    heap_sqlite_begin, heap_sqlite_end,    NULL};
    static cJSON_Hooks hooks = {heap_allocate, heap_release};
    cJSON_InitHooks(&hooks);
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &methods) == SQLITE_OK;
}

/* Runs `call` with its n-th allocation refused, for n = 1, 1 + step, 1 + 2 * step, ... until it makes fewer. `check` looks
 * at the result of each run. Answers the last n that was refused. */
static inline long heap_fail_each(bool for_ever, long step, int32_t (*call)(void *user),
                                  void (*check)(void *user, int32_t result), void *user)
{
    for (long n = 1;; n += step) {
        heap.refused = false;
        heap.for_ever = for_ever;
        heap.left = n;
        int32_t result = call(user);
        heap.left = 0;
        bool refused = heap.refused;
        check(user, result);
        if (!refused)
            return n - step;
    }
}

#endif
