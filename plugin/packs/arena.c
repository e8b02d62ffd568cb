/*
 * Memory of one pack. See arena.h.
 */
#include "packs/arena.h"

#include <stdint.h>

#define BLOCK_SIZE 4096u

struct arena_block {
    struct arena_block *next;
    size_t used;
    size_t size;
    max_align_t bytes[];
};

static struct arena_block *block_add(struct arena *arena, size_t size)
{
    size_t room = size > BLOCK_SIZE ? size : BLOCK_SIZE;
    struct arena_block *block = memory_allocate(arena->memory, sizeof *block + room);
    if (block == NULL)
        return NULL;
    block->size = room;
    block->next = arena->blocks;
    arena->blocks = block;
    return block;
}

void *arena_allocate(struct arena *arena, size_t size)
{
    if (size > SIZE_MAX / 2)
        return NULL;
    size = (size + sizeof(max_align_t) - 1) / sizeof(max_align_t) * sizeof(max_align_t);
    struct arena_block *block = arena->blocks;
    if (block == NULL || block->size - block->used < size)
        block = block_add(arena, size);
    if (block == NULL)
        return NULL;
    void *made = (char *)block->bytes + block->used;
    block->used += size;
    return made;
}

void arena_release(struct arena *arena)
{
    while (arena->blocks != NULL) {
        struct arena_block *next = arena->blocks->next;
        memory_release(arena->memory, arena->blocks);
        arena->blocks = next;
    }
}
