/*
 * Making the look-up tables again from the entries, which alone are the record.
 */
#ifndef LEDGER_REBUILD_H
#define LEDGER_REBUILD_H

#include "ledger/ledger.h"

/* Empties and fills every table that is made from entries (list in rebuild.c), in one transaction: all or nothing. */
int32_t ledger_rebuild(struct ledger *ledger, cfoil_error_info *error);

#endif
