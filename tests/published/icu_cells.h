/*
 * What ICU knows about a character: its places by UAX #11 and general category, and the version of Unicode that brought it.
 */
#ifndef ICU_CELLS_H
#define ICU_CELLS_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* 0, 1 or 2; -1 = not assigned, or younger than Unicode 15.0. */
int icu_cells(uint32_t point);

#ifdef __cplusplus
}
#endif
#endif
