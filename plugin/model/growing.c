/*
 * A text that grows. See growing.h.
 */
#include "model/growing.h"

#include <string.h>

bool growing_reserve(struct growing *growing, size_t more)
{
    size_t needed = growing->length + more + 1;
    if (growing->failed || needed <= growing->capacity)
        return !growing->failed;
    size_t capacity = 2 * needed + 64;
    char *text = memory_allocate(growing->memory, capacity);
    if (text == NULL) {
        growing->failed = true;
        return false;
    }
    if (growing->text != NULL)
        memcpy(text, growing->text, growing->length);
    memory_release(growing->memory, growing->text);
    growing->text = text;
    growing->capacity = capacity;
    return true;
}

void growing_add(struct growing *growing, const char *bytes, size_t length)
{
    if (!growing_reserve(growing, length))
        return;
    memcpy(growing->text + growing->length, bytes, length);
    growing->length += length;
    growing->text[growing->length] = '\0';
}

void growing_text_add(struct growing *growing, const char *text)
{
    growing_add(growing, text, strlen(text));
}

const char *growing_text(const struct growing *growing)
{
    return growing->text != NULL ? growing->text : "";
}

void growing_release(struct growing *growing)
{
    memory_release(growing->memory, growing->text);
    growing->text = NULL;
    growing->length = 0;
    growing->capacity = 0;
}

const char *growing_html_name(char letter)
{
    static const struct {
        char letter;
        const char *name;
    } names[] = {{'&', "&amp;"}, {'<', "&lt;"}, {'>', "&gt;"}, {'"', "&quot;"}, {'\'', "&#39;"}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (names[i].letter == letter)
            return names[i].name;
    }
    return NULL;
}

void growing_html_add(struct growing *growing, const char *text)
{
    for (; *text != '\0'; text++) {
        const char *name = growing_html_name(*text);
        if (name != NULL)
            growing_text_add(growing, name);
        else
            growing_add(growing, text, 1);
    }
}
