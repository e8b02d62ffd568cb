/*
 * A counted report in its three forms, and the sentences that both carry.
 */
#ifndef STATISTICS_REPORT_H
#define STATISTICS_REPORT_H

#include "statistics/figures.h"

/* Each is to be freed with cJSON_free(); NULL = no memory. */
char *report_json(const struct report *report);
char *report_plain(const struct report *report);
char *report_csv(const struct report *report);

/* What the words of the report mean. Ends with NULL. */
extern const char *const report_notes[];
extern const char report_caution[];

#endif
