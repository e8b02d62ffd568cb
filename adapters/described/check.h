/*
 * Checks over the bytes of a message: sums, exclusive or, and cyclic redundancy checks of any parameters.
 */
#ifndef DESCRIBED_CHECK_H
#define DESCRIBED_CHECK_H

#include "description.h"

/* What the check's own bytes must hold. */
struct check_progress {
    uint32_t value;
};
void check_begin(const struct described_check *check, struct check_progress *progress);
void check_add(const struct described_check *check, struct check_progress *progress, uint8_t byte);
uint32_t check_end(const struct described_check *check, const struct check_progress *progress);

/* Writes the check into its places, or looks whether it is there. False when the message is too short for it. */
bool check_put(const struct described_check *check, uint8_t *bytes, uint32_t length);
bool check_fits(const struct described_check *check, const uint8_t *bytes, uint32_t length);

/* The index of a place counted from the beginning or, below 0, from the end; false = outside. */
bool place_find(int32_t at, uint32_t length, uint32_t *index);

#endif
