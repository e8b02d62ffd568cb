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

/* Clopper-Pearson interval with at most `alpha` outside, half on each side; at least that sure, so never too narrow.
 * False when n is 0 or x > n. 0 < alpha < 1. */
bool interval_exact(uint64_t x, uint64_t n, double alpha, double *lower, double *upper);

/* Newcombe's hybrid score interval of x1/n1 - x2/n2, for independent samples only. False when either has no interval. */
bool interval_newcombe(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2, double z, double *lower, double *upper);

/* Normal quantile at 0.975, for 95 % intervals. */
#define QUANTILE_975 1.959963984540054

/* The report as text in the format asked for, to be freed with cJSON_free(). */
int32_t report_text(struct ledger *ledger, const cfoil_report_options *options, char **text, cfoil_error_info *error);

#endif
