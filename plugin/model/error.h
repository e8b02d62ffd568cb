/*
 * Filling cfoil_error_info: the code, the system's number, and one English line that says what to do.
 */
#ifndef MODEL_ERROR_H
#define MODEL_ERROR_H

#include <counterfoil/counterfoil.h>

#if defined(__GNUC__)
#define ERROR_FORMAT(position, first) __attribute__((format(printf, position, first)))
#else
#define ERROR_FORMAT(position, first)
#endif

/* Fills *error (may be NULL) and returns `result`, so that a failing function can `return error_set(...)`.
 * `area` is at most 15 bytes; `line` in *error becomes 0. */
int32_t error_set(cfoil_error_info *error, int32_t result, int32_t os_code, const char *area, const char *format, ...)
    ERROR_FORMAT(5, 6);

/* The commonest failure. Returns CFOIL_E_MEMORY. */
int32_t error_memory_set(cfoil_error_info *error, const char *area);

#endif
