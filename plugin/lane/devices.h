/*
 * What the devices of a lane asked to have remembered. It survives a lost port; the ledger makes it survive the host.
 */
#ifndef LANE_DEVICES_H
#define LANE_DEVICES_H

#include <stdbool.h>
#include <stdint.h>

#define DEVICES_MAX       8
#define DEVICE_NAME_MAX   63
#define DEVICE_MEMORY_MAX 64

struct device_memory {
    char device[DEVICE_NAME_MAX + 1];
    uint32_t length;
    uint8_t bytes[DEVICE_MEMORY_MAX];
};

struct device {
    struct device_memory memory; /* the latest */
    bool stored;                 /* the ledger holds exactly these bytes */
};

struct devices {
    uint32_t count;
    struct device items[DEVICES_MAX];
};

/* 1..63 printable ASCII characters without blanks. */
bool device_name_valid(const char *device);

struct device *device_find(struct devices *devices, const char *device); /* NULL = unknown */

/* Sets the latest bytes; `stored` stays only when they are the same. NULL = no place for another device. */
struct device *device_set(struct devices *devices, const struct device_memory *memory);

/* Does a memory differ from what the ledger is known to hold? */
bool device_differs(struct devices *devices, const struct device_memory *memory);

/* The ledger holds these bytes now. */
void device_stored(struct devices *devices, const struct device_memory *memory);

#endif
