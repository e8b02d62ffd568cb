/*
 * Plain text that grows. See page.h.
 */
#include "statistics/page.h"

#include <cjson/cJSON.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static void bytes_add(struct page *page, const char *bytes, size_t length)
{
    size_t needed = page->length + length + 1;
    if (!page->failed && needed > page->capacity) {
        size_t capacity = 2 * needed;
        char *grown = memory_allocate(page->memory, capacity);
        page->failed = grown == NULL;
        if (grown != NULL && page->length > 0)
            memcpy(grown, page->text, page->length);
        if (grown != NULL) {
            memory_release(page->memory, page->text);
            page->text = grown;
            page->capacity = capacity;
        }
    }
    if (page->failed)
        return;
    memcpy(page->text + page->length, bytes, length);
    page->length += length;
    page->text[page->length] = '\0';
}

void page_line(struct page *page, const char *format, ...)
{
    char line[256] = "";
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    bytes_add(page, line, strlen(line));
    bytes_add(page, "\n", 1);
}

void page_paragraph(struct page *page, int indent, const char *text)
{
    int column = 0;
    while (text[0] != '\0') {
        size_t length = strcspn(text, " ");
        if (column > 0 && column + 1 + (int)length > PAGE_COLUMNS) {
            bytes_add(page, "\n", 1);
            column = 0;
        }
        int blanks = column == 0 ? indent : 1;
        for (int i = 0; i < blanks; i++)
            bytes_add(page, " ", 1);
        bytes_add(page, text, length);
        column += blanks + (int)length;
        text += length + strspn(text + length, " ");
    }
    bytes_add(page, "\n", 1);
}

char *page_take(struct page *page)
{
    char *text = page->failed ? NULL : cJSON_malloc(page->length + 1);
    if (text != NULL)
        memcpy(text, page->text, page->length + 1);
    memory_release(page->memory, page->text);
    page->text = NULL;
    return text;
}
