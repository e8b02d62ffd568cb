/*
 * The parts that every page of the report carries: our style and script, and those of the chart library.
 */
#ifndef STATISTICS_PAGE_FILES_H
#define STATISTICS_PAGE_FILES_H

extern const char *const page_style; /* all UTF-8 */
extern const char *const page_script;
extern const char *const page_chart_style;
extern const char *const page_chart_script;

#endif
