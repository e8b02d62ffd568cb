/*
 * A C heap that fails on demand. The program's own malloc takes the place of the C library's for every shared library,
 * too, by the usual symbol look-up of ELF; the real work stays with glibc's own entry points.
 */
#include "failing_heap.h"

#include <errno.h>
#include <stdatomic.h>
#include <stddef.h>

/* glibc's names for its own allocator (malloc/malloc.c). */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *block, size_t size);
extern void __libc_free(void *block);

/* Visible, or the shared libraries would not find them. */
#pragma GCC visibility push(default)
void *malloc(size_t size);
void *calloc(size_t count, size_t size);
void *realloc(void *block, size_t size);
void free(void *block);
#pragma GCC visibility pop

static _Thread_local long left;
static _Thread_local bool stays;
static _Thread_local bool refused;
static atomic_long blocks;

void heap_fail_arm(long n, bool for_ever)
{
    refused = false;
    stays = for_ever;
    left = n;
}

bool heap_fail_disarm(void)
{
    left = 0;
    return refused;
}

long heap_blocks(void)
{
    return atomic_load(&blocks);
}

static bool refuse(void)
{
    if (left == 0)
        return false;
    if (left > 1) {
        left--;
        return false;
    }
    if (refused && !stays)
        return false;
    refused = true;
    errno = ENOMEM;
    return true;
}

void *malloc(size_t size)
{
    if (refuse())
        return NULL;
    void *block = __libc_malloc(size);
    if (block != NULL)
        atomic_fetch_add(&blocks, 1);
    return block;
}

void *calloc(size_t count, size_t size)
{
    if (refuse())
        return NULL;
    void *block = __libc_calloc(count, size);
    if (block != NULL)
        atomic_fetch_add(&blocks, 1);
    return block;
}

void *realloc(void *block, size_t size)
{
    if (refuse())
        return NULL;
    void *grown = __libc_realloc(block, size);
    if (block == NULL && grown != NULL)
        atomic_fetch_add(&blocks, 1);
    if (block != NULL && size == 0)
        atomic_fetch_sub(&blocks, 1);
    return grown;
}

void free(void *block)
{
    if (block != NULL)
        atomic_fetch_sub(&blocks, 1);
    __libc_free(block);
}
