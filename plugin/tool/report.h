/*
 * The report of a period, for the report command and for the till.
 */
#ifndef TOOL_REPORT_H
#define TOOL_REPORT_H

#include <counterfoil/counterfoil.h>
#include <stdio.h>

/* Writes the report; on failure writes one line on standard error and returns the exit code. */
int report_print(FILE *out, cfoil_ledger *ledger, const cfoil_report_options *options);

#endif
