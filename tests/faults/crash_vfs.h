/*
 * A file system for SQLite that fails or loses power at a chosen moment: what was written and not flushed is then there,
 * half there, or not there, whichever the seed says. For test programs only: it takes the place of the default one.
 */
#ifndef CRASH_VFS_H
#define CRASH_VFS_H

#include <stdbool.h>
#include <stdint.h>

enum crash_kind {
    CRASH_POWER,      /* the machine stops at that operation */
    CRASH_FAIL_ONCE,  /* that operation fails with an input/output error, the next ones do not */
    CRASH_FAIL_ON,    /* it and all later ones fail */
    CRASH_FULL,       /* from there on no room: writing fails, the rest goes on */
    CRASH_READ_ONLY,  /* from there on nothing may be written */
    CRASH_READ_FAILS, /* that reading fails; counts readings instead of writes, flushes, truncations and deletions */
    CRASH_KINDS
};

/* Wraps the default file system and takes its place, once for the process. */
void crash_vfs_register(void);

/* From now on the n-th operation is the moment, 1 = the next one, 0 = never (only counting). Forgets what was not
 * flushed: what is in the files now counts as flushed. */
void crash_arm(enum crash_kind kind, long at, uint32_t seed);

/* Operations since crash_arm(), and whether the moment came. */
long crash_operations(void);
bool crash_happened(void);

/* After everything is closed: brings the files into the state in which the power left them, and ends the counting. */
void crash_settle(void);

#endif
