/*
 * Memory of one pack: many small blocks that end together.
 */
#ifndef PACKS_ARENA_H
#define PACKS_ARENA_H

#include "model/memory.h"

struct arena_block;
struct arena {
    const struct memory *memory; /* must outlive the arena */
    struct arena_block *blocks;
};

/* Zeroed, or NULL. Freed by arena_release() only. */
void *arena_allocate(struct arena *arena, size_t size);
void arena_release(struct arena *arena);

#endif
