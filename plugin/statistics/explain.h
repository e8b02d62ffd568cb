/*
 * The working of a case in words for an expert: what was weighed with what, from where, and what cannot be known.
 */
#ifndef STATISTICS_EXPLAIN_H
#define STATISTICS_EXPLAIN_H

#include "model/memory.h"

#include <counterfoil/counterfoil.h>

/* `json` is a case ("counterfoil.case/1"), or a ledger entry that holds one. *text is to be freed with cJSON_free().
 * CFOIL_OK, CFOIL_E_DATA_SIZE, _SYNTAX, _SCHEMA (no case, or one without its working), CFOIL_E_MEMORY. */
int32_t explain_text(const struct memory *memory, const char *json, char **text, cfoil_error_info *error);

/* "1 in 5,800" of log odds: no percentage is ever shown. */
#define ONE_IN_SIZE 48
void one_in_text(double log_odds, char text[ONE_IN_SIZE]);

#endif
