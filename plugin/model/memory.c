/*
 * The one way the library allocates memory of its own. See memory.h.
 */
#include "model/memory.h"

#include <stdlib.h>
#include <string.h>

static void *heap_allocate(void *user, size_t size)
{
    (void)user;
    return malloc(size);
}

static void heap_release(void *user, void *block)
{
    (void)user;
    free(block);
}

const struct memory memory_heap = {NULL, heap_allocate, heap_release};

void *memory_allocate(const struct memory *memory, size_t size)
{
    if (size == 0)
        size = 1;
    void *block = memory->allocate(memory->user, size);
    if (block != NULL)
        memset(block, 0, size);
    return block;
}

void memory_release(const struct memory *memory, void *block)
{
    if (block != NULL)
        memory->release(memory->user, block);
}

char *memory_text_copy(const struct memory *memory, const char *text)
{
    if (text == NULL)
        text = "";
    size_t size = strlen(text) + 1;
    char *copy = memory_allocate(memory, size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}
