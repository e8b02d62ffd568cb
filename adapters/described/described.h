/*
 * The adapter of devices that a description tells about.
 */
#ifndef DESCRIBED_DESCRIBED_H
#define DESCRIBED_DESCRIBED_H

#include "description.h"

/* Fills the table of the described device. Description and table must stay as they are while a lane uses the table. */
void described_adapter_make(const struct description *description, cfoil_adapter *adapter);

#endif
