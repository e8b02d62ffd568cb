/*
 * A history put on record, as lanes and cases would have put it.
 */
#ifndef HISTORY_LEDGER_H
#define HISTORY_LEDGER_H

#include "ledger/ledger.h"

#include "history.h"

/* Appends the whole history. CFOIL_OK, or what the ledger said. */
int32_t history_append(const struct history_plan *plan, struct ledger *ledger, cfoil_error_info *error);

#endif
