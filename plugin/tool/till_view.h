/*
 * What the cashier sees of a case: checks, advice, choices and the record.
 */
#ifndef TOOL_TILL_VIEW_H
#define TOOL_TILL_VIEW_H

#include "till.h"

/* One line of what the machine told, in the session's language. */
void event_view(const struct till *till, const cfoil_event *event);

void check_view(const struct till *till, const cfoil_step *step);
void help_view(const struct till *till, const cfoil_step *step);
void serial_view(const struct till *till, const cfoil_serial *serial);

/* A text under the label "till.label.WORD" of the catalogue; an empty text shows nothing. */
void line_view(const struct till *till, const char *word, const char *text);

/* Fills `choices` with the dispositions offered, in the order shown, and returns how many. */
#define CHOICES_MAX 4
int advice_view(const struct till *till, const cfoil_step *step, int32_t choices[CHOICES_MAX]);

void record_view(const struct till *till, const cfoil_record *record);

/* Writes the whole case as one line on standard output, when the output is JSON. */
void case_json_view(const struct till *till, cfoil_case *doubt);

#endif
