/*
 * What cmocka wants included before it, in the order it wants, and the public interface.
 */
#ifndef TEST_H
#define TEST_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <counterfoil/adapter.h>

#endif
