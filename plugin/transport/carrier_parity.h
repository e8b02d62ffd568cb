/*
 * Words on a plain serial line: mark parity is mode bit 1, space parity is mode bit 0. What the terminal driver makes
 * of that, as pure functions.
 */
#ifndef TRANSPORT_CARRIER_PARITY_H
#define TRANSPORT_CARRIER_PARITY_H

#include <stdbool.h>
#include <stdint.h>

/* A driver set to space parity, INPCK and PARMRK hands on a character with the parity bit set as FF 00 x, and a good FF
 * as FF FF. Begins zeroed. */
struct parity_reader {
    uint8_t marks; /* bytes of a mark that have come: 0, 1 = FF, 2 = FF 00 */
    bool asked;    /* something was sent, and its answer is not complete */
};

/* True when `byte` completes a word. */
bool parity_take(struct parity_reader *reader, uint8_t byte, uint16_t *word);

/* How many of these words go out under one setting of the parity: those in front that have the same mode bit. 0 when
 * the first is a break. */
uint32_t parity_run(const uint16_t *words, uint32_t count);

#endif
