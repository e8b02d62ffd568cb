/*
 * A row of the entries as one JSON text (schema "counterfoil.entry/1"), for reading one and for exporting many.
 */
#ifndef LEDGER_ENTRY_JSON_H
#define LEDGER_ENTRY_JSON_H

#include <sqlite3.h>

/* The row has the columns COLUMNS of body.h. To be freed with cJSON_free(); NULL = no memory. */
char *entry_row_json(sqlite3_stmt *row);

#endif
