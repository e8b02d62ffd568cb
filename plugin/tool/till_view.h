/*
 * What the cashier sees of a case: checks, advice, choices and the record.
 */
#ifndef TOOL_TILL_VIEW_H
#define TOOL_TILL_VIEW_H

#include "till.h"

#define CHECK_QUESTION "1 as it should be, 2 not as it should be, 3 cannot tell (? = help)"

void check_view(FILE *out, const cfoil_step *step);
void help_view(FILE *out, const cfoil_step *step);

/* Fills `choices` with the dispositions offered, in the order shown, and returns how many. */
#define CHOICES_MAX 4
int advice_view(FILE *out, const cfoil_step *step, int32_t choices[CHOICES_MAX]);

void record_view(struct till *till, const cfoil_record *record);

/* Writes the whole case as one line on standard output, when the output is JSON. */
void case_json_view(const struct till *till, cfoil_case *doubt);

#endif
