/*
 * The tables of a ledger by version, and how an older file is brought to the present one.
 */
#ifndef LEDGER_SCHEMA_H
#define LEDGER_SCHEMA_H

#include "ledger/ledger.h"
#include "ledger/store.h"

/* What version 2 adds to version 1, and version 3 to version 2: statements for sqlite3_exec(). */
extern const char schema_tables_2[];
extern const char schema_tables_3[];

/* Brings an older ledger to STORE_VERSION in one transaction, after a copy of the file as it was was made beside it:
 * NAME.before-3. Another process may have been faster; then nothing is done. */
int32_t schema_move_on(struct ledger *ledger, const char *path, cfoil_error_info *error);

#endif
