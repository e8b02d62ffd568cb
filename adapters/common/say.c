/*
 * What several adapters need to talk to the core. See say.h.
 */
#include "say.h"

#include <stdarg.h>
#include <stdio.h>

void say_log(const cfoil_adapter_host *host, int32_t level, const char *key, const char *format, ...)
{
    char text[160];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    host->log(host->user, level, key, text);
}

void say_state(const cfoil_adapter_host *host, int32_t state, int32_t result, const char *format, ...)
{
    char text[160];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    host->state(host->user, state, result, text);
}
