/*
 * The manager's figures: intervals and the report of a period, computed from the ledger.
 */
#ifndef STATISTICS_STATISTICS_H
#define STATISTICS_STATISTICS_H

#include <counterfoil/counterfoil.h>
#include <stdbool.h>

struct ledger;

/* Wilson score interval for x events in n trials at the two-sided normal quantile z. False when n is 0 or x > n. */
bool interval_wilson(uint64_t x, uint64_t n, double z, double *lower, double *upper);

/* Normal quantile at 0.975, for 95 % intervals. */
#define QUANTILE_975 1.959963984540054

/* The report as text in the format asked for, to be freed with cJSON_free(). */
int32_t report_text(struct ledger *ledger, const cfoil_report_options *options, char **text, cfoil_error_info *error);

#endif
