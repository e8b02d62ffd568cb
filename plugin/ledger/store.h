/*
 * The ledger's SQLite file: opening it safely, its tables, and SQLite's answers in our codes.
 */
#ifndef LEDGER_STORE_H
#define LEDGER_STORE_H

#include "model/memory.h"

#include <counterfoil/counterfoil.h>
#include <sqlite3.h>
#include <stdbool.h>

/* 'CFLG' in the file's header (SQLite's application_id), and the version of the tables (user_version). */
#define STORE_APPLICATION 0x43464c47
#define STORE_VERSION     3

struct store {
    sqlite3 *database;
    char *uri; /* how further connections open the same file */
    uint32_t busy_ms;
    int64_t version; /* of the tables in the file; 0 = none yet */
};

/* Translates and describes; returns our code. `database` may be NULL. */
int32_t store_error(sqlite3 *database, int code, cfoil_error_info *error);

/* CFOIL_OK for SQLITE_OK, else as store_error(). */
int32_t store_result(sqlite3 *database, int code, cfoil_error_info *error);

/* Opens or makes the file. A file that is not a ledger, or a newer one, is left as it is. A ledger that was just made
 * (or whose making was cut off) has no tables yet: *fresh is true then. */
int32_t store_open(const struct memory *memory, const cfoil_ledger_options *options, struct store *store, bool *fresh,
                   cfoil_error_info *error);
void store_close(const struct memory *memory, struct store *store);

/* Makes the tables. Call it inside a transaction; another process may have made them: *made tells. */
int32_t store_tables_make(const struct store *store, bool *made, cfoil_error_info *error);

/* Reads one whole number. */
int store_integer_read(sqlite3 *database, const char *sql, int64_t *value);

/* A connection of its own, inside one read transaction: long reading neither waits for writers nor delays them. */
int32_t store_reader_open(const struct store *store, sqlite3 **reader, cfoil_error_info *error);

#endif
