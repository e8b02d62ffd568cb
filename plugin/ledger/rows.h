/*
 * Short SQL on the look-up tables: values in, done or one row out. Not for the chain, whose statements are kept.
 */
#ifndef LEDGER_ROWS_H
#define LEDGER_ROWS_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct row_value {
    const char *text; /* NULL = `number` is meant */
    int64_t number;
    const void *bytes; /* not NULL = `length` bytes are meant */
    int length;
};

struct row_value row_text(const char *text); /* NULL counts as "" */
struct row_value row_number(int64_t number);
struct row_value row_bytes(const void *bytes, int length);

/* Makes a statement with ?1, ?2, ... set. The texts must live until it is finalized. Answers an SQLite code. */
int rows_begin(sqlite3 *database, const char *sql, const struct row_value *values, int count, sqlite3_stmt **statement);

/* Runs a statement that gives no rows. */
int rows_run(sqlite3 *database, const char *sql, const struct row_value *values, int count);

/* The text of a column in a place of that size, cut where it is too long. SQLITE_OK or SQLITE_NOMEM. */
int row_text_read(sqlite3_stmt *row, int column, char *target, size_t capacity);

#endif
