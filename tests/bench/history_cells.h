/*
 * A history counted as the report counts it, without a ledger between: for many histories in a short time.
 */
#ifndef HISTORY_CELLS_H
#define HISTORY_CELLS_H

#include "statistics/cells.h"

#include "history.h"

/* Counts the first `days` days. False when there is no memory. */
bool history_count(const struct history_plan *plan, struct cells *cells);

#endif
