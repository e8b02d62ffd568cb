/*
 * The contact-pulse adapter.
 */
#ifndef PULSE_PULSE_H
#define PULSE_PULSE_H

#include <counterfoil/adapter.h>

extern const cfoil_adapter pulse_adapter;

#endif
