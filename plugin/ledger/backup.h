/*
 * A copy of the ledger's file beside it, made while the ledger is in use.
 */
#ifndef LEDGER_BACKUP_H
#define LEDGER_BACKUP_H

#include "ledger/store.h"

/* Copies what is committed now to PATH + ending, a file of its owner alone, flushed to the disk before its name is
 * there. A copy that is there already and ends with the same entry is taken as this one; any other is left alone:
 * CFOIL_E_LEDGER_BACKUP. The caller holds the ledger's write lock, so that nothing is committed meanwhile. */
int32_t backup_make(const struct memory *memory, const struct store *store, const char *path, const char *ending,
                    cfoil_error_info *error);

#endif
