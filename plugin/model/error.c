/*
 * Filling cfoil_error_info. See error.h.
 */
#include "model/error.h"

#include "model/text.h"

#include <stdarg.h>
#include <stdio.h>

int32_t error_set(cfoil_error_info *error, int32_t result, int32_t os_code, const char *area, const char *format, ...)
{
    if (error == NULL)
        return result;
    error->result = result;
    error->os_code = os_code;
    error->line = 0;
    text_copy(error->area, sizeof error->area, area);
    char line[1024];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    /* vsnprintf may cut inside a character; text_copy cuts between characters. */
    text_copy(error->text, sizeof error->text, line);
    return result;
}

int32_t error_memory_set(cfoil_error_info *error, const char *area)
{
    return error_set(error, CFOIL_E_MEMORY, 0, area, "There is not enough memory.");
}
