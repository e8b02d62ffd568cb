/*
 * What several adapters need to talk to the core: formatted log lines and states.
 */
#ifndef COMMON_SAY_H
#define COMMON_SAY_H

#include <counterfoil/adapter.h>

#if defined(__GNUC__)
#define SAY_FORMAT(position, first) __attribute__((format(printf, position, first)))
#else
#define SAY_FORMAT(position, first)
#endif

/* host->log() with a formatted text, cut at 159 bytes. */
void say_log(const cfoil_adapter_host *host, int32_t level, const char *key, const char *format, ...) SAY_FORMAT(4, 5);

/* host->state() with a formatted text, cut at 159 bytes. */
void say_state(const cfoil_adapter_host *host, int32_t state, int32_t result, const char *format, ...) SAY_FORMAT(4, 5);

#endif
