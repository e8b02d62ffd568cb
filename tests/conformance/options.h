/*
 * The command line of counterfoil-conform.
 */
#ifndef CONFORMANCE_OPTIONS_H
#define CONFORMANCE_OPTIONS_H

#include "suite.h"

/* 0 = go on; 1 = help was asked for and shown; 2 = a mistake, told to stderr. */
int options_read(int count, char **arguments, struct options *options);

#endif
