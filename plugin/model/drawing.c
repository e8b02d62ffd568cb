/*
 * A text that is counted when it does not fit. See drawing.h.
 */
#include "model/drawing.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void drawing_put(struct drawing *drawing, const char *text)
{
    size_t length = strlen(text);
    if (drawing->length < drawing->capacity) {
        size_t room = drawing->capacity - drawing->length - 1;
        size_t kept = length < room ? length : room;
        memcpy(drawing->buffer + drawing->length, text, kept);
        drawing->buffer[drawing->length + kept] = '\0';
    }
    drawing->length += length;
}

void drawing_format(struct drawing *drawing, const char *format, ...)
{
    char text[256];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    drawing_put(drawing, text);
}

void drawing_escape(struct drawing *drawing, const char *text)
{
    for (; *text != '\0'; text++) {
        const char one[] = {*text, '\0'};
        if (*text == '&')
            drawing_put(drawing, "&amp;");
        else if (*text == '<')
            drawing_put(drawing, "&lt;");
        else if (*text == '>')
            drawing_put(drawing, "&gt;");
        else
            drawing_put(drawing, one);
    }
}
