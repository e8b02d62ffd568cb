/*
 * Loading a device description strictly: a JSON file becomes the plain struct that the adapter of described devices reads,
 * or is refused with file, path and line.
 */
#ifndef PACKS_DESCRIPTION_H
#define PACKS_DESCRIPTION_H

#include "described/description.h"
#include "model/memory.h"

#include <stddef.h>

/* The caller frees *description with memory_release(). NULL on failure. */
int32_t description_load(const struct memory *memory, const char *path, struct description **description,
                         cfoil_error_info *error);

/* The same from a text, which need not outlive the call. `file` is for messages only. */
int32_t description_parse(const struct memory *memory, const char *file, const char *text, size_t length,
                          struct description **description, cfoil_error_info *error);

#endif
