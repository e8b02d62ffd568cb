/*
 * Appending entries inside a transaction that is open already, for the first entry of a new ledger.
 */
#ifndef LEDGER_APPEND_H
#define LEDGER_APPEND_H

#include "ledger/ledger.h"

/* Adds entry 1, which hangs on 32 zero bytes. */
int32_t append_first(struct ledger *ledger, const struct ledger_item *item, cfoil_error_info *error);

#endif
