/*
 * Plain text that grows: lines, and paragraphs broken at the width of a page.
 */
#ifndef STATISTICS_PAGE_H
#define STATISTICS_PAGE_H

#include "model/growing.h"

#define PAGE_COLUMNS 80

#if defined(__GNUC__)
#define PAGE_FORMAT __attribute__((format(printf, 2, 3)))
#else
#define PAGE_FORMAT
#endif

/* Zeroed but for `growing.memory`. */
struct page {
    struct growing growing;
};

/* One line, or as much of it as 255 bytes hold. */
void page_line(struct page *page, const char *format, ...) PAGE_FORMAT;

/* A paragraph with `indent` blanks before each line. */
void page_paragraph(struct page *page, int indent, const char *text);

/* The text for cJSON_free(), or NULL. Frees the page in any case. */
char *page_take(struct page *page);

#endif
