/*
 * The report as a page for the store manager's browser, and for paper.
 */
#ifndef STATISTICS_REPORT_HTML_H
#define STATISTICS_REPORT_HTML_H

#include "statistics/figures.h"

/* One file: words, tables, and charts that are drawn from the report inside it. To be freed with cJSON_free(); NULL = no memory. */
char *report_html(const struct report *report);

#endif
