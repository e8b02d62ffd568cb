/*
 * Plain text that grows. See page.h.
 */
#include "statistics/page.h"

#include <cjson/cJSON.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void page_line(struct page *page, const char *format, ...)
{
    char line[256] = "";
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    growing_add(&page->growing, line, strlen(line));
    growing_add(&page->growing, "\n", 1);
}

void page_paragraph(struct page *page, int indent, const char *text)
{
    int column = 0;
    while (text[0] != '\0') {
        size_t length = strcspn(text, " ");
        if (column > 0 && column + 1 + (int)length > PAGE_COLUMNS) {
            growing_add(&page->growing, "\n", 1);
            column = 0;
        }
        int blanks = column == 0 ? indent : 1;
        for (int i = 0; i < blanks; i++)
            growing_add(&page->growing, " ", 1);
        growing_add(&page->growing, text, length);
        column += blanks + (int)length;
        text += length + strspn(text + length, " ");
    }
    growing_add(&page->growing, "\n", 1);
}

char *page_take(struct page *page)
{
    struct growing *growing = &page->growing;
    char *text = growing->failed ? NULL : cJSON_malloc(growing->length + 1);
    if (text != NULL)
        memcpy(text, growing_text(growing), growing->length + 1);
    growing_release(growing);
    return text;
}
