/*
 * A C heap that fails on demand, for the whole process: every library included.
 */
#ifndef FAILING_HEAP_H
#define FAILING_HEAP_H

#include <stdbool.h>

/* From now on the n-th allocation of this thread fails, and (when `for_ever`) every one after it. n counts from 1. */
void heap_fail_arm(long n, bool for_ever);

/* Ends it; tells whether an allocation was refused. */
bool heap_fail_disarm(void);

/* Blocks that are allocated and not yet freed, in the whole process. */
long heap_blocks(void);

#endif
