/*
 * What does a ledger look like to another program? Its entries as JSON Lines, or one table of them as CSV.
 */
#ifndef LEDGER_EXPORT_H
#define LEDGER_EXPORT_H

#include "ledger/ledger.h"

#include <sqlite3.h>

/* Hands the export to options->write in pieces of any size, and stops at the first that is not taken. The options are
 * checked already. Other threads and processes may append meanwhile: what they add is not in it. */
int32_t ledger_export(struct ledger *ledger, const cfoil_export_options *options, cfoil_error_info *error);

/* ---- Inside the export ---- */

/* Collects small pieces before they are handed over. */
struct sink {
    const cfoil_export_options *options;
    bool refused; /* the host's function did not go on */
    size_t used;
    char bytes[8192];
};

void sink_write(struct sink *sink, const char *bytes, size_t length);
void sink_flush(struct sink *sink);

/* The header row of a table (CFOIL_TABLE_*), and one entry (its columns COLUMNS of body.h) as a row. Entries of another
 * kind write nothing. False = no memory. */
void csv_heading_write(struct sink *sink, int32_t table);
bool csv_row_write(struct sink *sink, int32_t table, sqlite3_stmt *row);

/* The kind of entries that a table shows. NULL = no such table. */
const char *csv_table_kind(int32_t table);

#endif
