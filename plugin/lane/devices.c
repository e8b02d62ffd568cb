/*
 * What did a device ask to have remembered, and does the ledger hold it? See devices.h.
 */
#include "lane/devices.h"

#include <string.h>

bool device_name_valid(const char *device)
{
    size_t length = device != NULL ? strnlen(device, DEVICE_NAME_MAX + 1) : 0;
    for (size_t i = 0; i < length; i++) {
        if (device[i] <= ' ' || device[i] > '~')
            return false;
    }
    return length >= 1 && length <= DEVICE_NAME_MAX;
}

struct device *device_find(struct devices *devices, const char *device)
{
    for (uint32_t i = 0; i < devices->count; i++) {
        if (strcmp(devices->items[i].memory.device, device) == 0)
            return &devices->items[i];
    }
    return NULL;
}

static bool same(const struct device_memory *one, const struct device_memory *other)
{
    return one->length == other->length && memcmp(one->bytes, other->bytes, one->length) == 0;
}

struct device *device_set(struct devices *devices, const struct device_memory *memory)
{
    struct device *found = device_find(devices, memory->device);
    if (found == NULL) {
        if (devices->count == DEVICES_MAX)
            return NULL;
        found = &devices->items[devices->count++];
        found->stored = false;
    } else if (!same(&found->memory, memory)) {
        found->stored = false;
    }
    found->memory = *memory;
    return found;
}

bool device_differs(struct devices *devices, const struct device_memory *memory)
{
    const struct device *found = device_find(devices, memory->device);
    return found == NULL || !found->stored || !same(&found->memory, memory);
}

void device_stored(struct devices *devices, const struct device_memory *memory)
{
    struct device *found = device_find(devices, memory->device);
    if (found != NULL && same(&found->memory, memory))
        found->stored = true;
}
