/*
 * The ccTalk bill-validator adapter.
 */
#ifndef CCTALK_CCTALK_H
#define CCTALK_CCTALK_H

#include <counterfoil/adapter.h>

extern const cfoil_adapter cctalk_adapter;

#endif
