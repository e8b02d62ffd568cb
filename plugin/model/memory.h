/*
 * The one way the library allocates memory of its own: through the allocator of the context.
 * (SQLite, cJSON and libserialport use the C heap; their hooks are process-wide and stay untouched.)
 */
#ifndef MODEL_MEMORY_H
#define MODEL_MEMORY_H

#include <stddef.h>

struct memory {
    void *user;
    void *(*allocate)(void *user, size_t size);
    void (*release)(void *user, void *block);
};

/* The C heap, for a context without an allocator and for tests. */
extern const struct memory memory_heap;

/* Zeroed block, or NULL. A size of 0 counts as 1. */
void *memory_allocate(const struct memory *memory, size_t size);

/* NULL is harmless. */
void memory_release(const struct memory *memory, void *block);

/* Copy of a text, or NULL when there is no memory. A NULL text is copied as "". */
char *memory_text_copy(const struct memory *memory, const char *text);

#endif
