/*
 * What the misbehaving devices share: one TCP client, a command that is run against them, and nothing of any protocol.
 */
#ifndef CONFORMANCE_MISBEHAVING_H
#define CONFORMANCE_MISBEHAVING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct misbehaving {
    const char *const *names; /* of the faults */
    int count;
    void (*take)(const uint8_t *bytes, size_t length, int64_t now_ms);
    bool (*pass)(int64_t now_ms); /* true = something is due soon */
    void (*gone)(void);           /* the client has closed */
};

enum { MISBEHAVING_LISTED = -1, MISBEHAVING_USAGE = -2 };

int64_t misbehaving_clock_ms(void);
void misbehaving_pause(int ms);
void misbehaving_send(const uint8_t *bytes, size_t length);
bool misbehaving_connected(void);

/* Reads "--fault NAME -- COMMAND..." or "--list"; the fault's number, or MISBEHAVING_*. */
int misbehaving_fault(const struct misbehaving *device, int count, char **arguments);

/* Both, with the fault kept where the device looks for it. */
int misbehaving_main(const struct misbehaving *device, int count, char **arguments, int *fault);

/* Listens, runs the command with @PORT@ replaced, serves until it ends; its status. */
int misbehaving_run(const struct misbehaving *device, char **command);

#endif
