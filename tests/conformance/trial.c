/*
 * How does a case say what it found, and how does it ask the tester for a note?
 */
#include "suite.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

SUITE_FORMAT(2, 0)
static void text_add(char *text, const char *format, va_list arguments)
{
    size_t used = strlen(text);
    vsnprintf(text + used, TEXT_MAX - used, format, arguments);
}

bool expect(struct trial *trial, bool good, const char *format, ...)
{
    if (good)
        return true;
    if (trial->result == RESULT_FAILED)
        return false;
    trial->result = RESULT_FAILED;
    trial->why[0] = '\0';
    va_list arguments;
    va_start(arguments, format);
    text_add(trial->why, format, arguments);
    va_end(arguments);
    return false;
}

void skip(struct trial *trial, const char *format, ...)
{
    if (trial->result != RESULT_PASSED)
        return;
    trial->result = RESULT_SKIPPED;
    va_list arguments;
    va_start(arguments, format);
    text_add(trial->why, format, arguments);
    va_end(arguments);
}

void figure(struct trial *trial, const char *format, ...)
{
    if (trial->figures[0] != '\0' && strlen(trial->figures) + 3 < sizeof trial->figures)
        strcat(trial->figures, "; ");
    va_list arguments;
    va_start(arguments, format);
    text_add(trial->figures, format, arguments);
    va_end(arguments);
}

bool note_ask(struct trial *trial, const char *wish)
{
    const struct options *options = trial->options;
    if (!options->attended && !options->notes_come) {
        skip(trial, "needs a note, and nobody is there: use --attended, or --notes-come when notes come by themselves");
        return false;
    }
    if (options->attended)
        fprintf(stderr, "\a>>> %s: %s (within %u s)\n", trial->item->id, wish, options->seconds);
    return true;
}

void hex_text(const uint8_t *bytes, size_t length, char *text, size_t capacity)
{
    size_t used = 0;
    if (capacity > 0)
        text[0] = '\0';
    for (size_t i = 0; i < length; i++) {
        if (used + 8 > capacity) {
            snprintf(text + used, capacity - used, " ...");
            return;
        }
        used += (size_t)snprintf(text + used, capacity - used, i == 0 ? "%02x" : " %02x", bytes[i]);
    }
}
