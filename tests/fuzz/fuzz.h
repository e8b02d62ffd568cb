/*
 * What do fuzz targets share? The entry point, a demand that stops at once, and a walk over the bytes of an input.
 */
#ifndef FUZZ_H
#define FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static inline void demand(bool condition)
{
    if (!condition)
        abort();
}

/* In a block of the exact size, so that one byte read too far is seen. */
static inline uint8_t *bytes_copy(const uint8_t *data, size_t size)
{
    uint8_t *bytes = calloc(1, size > 0 ? size : 1);
    demand(bytes != NULL);
    if (size > 0)
        memcpy(bytes, data, size);
    return bytes;
}

/* The same as a text that ends with a zero byte. */
static inline char *text_copied(const uint8_t *data, size_t size)
{
    char *text = malloc(size + 1);
    demand(text != NULL);
    if (size > 0)
        memcpy(text, data, size);
    text[size] = '\0';
    return text;
}

struct walk {
    const uint8_t *bytes;
    size_t left;
};

/* 0 at the end. */
static inline uint8_t walk_byte(struct walk *walk)
{
    if (walk->left == 0)
        return 0;
    walk->left--;
    return *walk->bytes++;
}

/* At most `most` bytes; gives how many there were. */
static inline uint32_t walk_bytes(struct walk *walk, uint32_t most, uint8_t *bytes)
{
    uint32_t count = most < walk->left ? most : (uint32_t)walk->left;
    if (count > 0)
        memcpy(bytes, walk->bytes, count);
    walk->bytes += count;
    walk->left -= count;
    return count;
}

#endif
