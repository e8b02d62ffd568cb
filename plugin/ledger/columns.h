/*
 * Columns of a row as members of a JSON object, for the lists that go to screens and papers.
 */
#ifndef LEDGER_COLUMNS_H
#define LEDGER_COLUMNS_H

#include <cjson/cJSON.h>
#include <sqlite3.h>
#include <stdbool.h>

/* Each returns false when there is no memory. "" and NULL become null. Texts from the file may be anything: what is no
 * UTF-8 becomes "?". */
bool column_text_add(cJSON *item, const char *key, sqlite3_stmt *row, int column);
bool column_number_add(cJSON *item, const char *key, sqlite3_stmt *row, int column);
bool column_time_add(cJSON *item, const char *key, sqlite3_stmt *row, int column);
/* The body of an entry as an object; null when there is none, or other hands have made it unreadable. */
bool column_body_add(cJSON *item, const char *key, sqlite3_stmt *row, int column);

/* Adds an object for each row that is left. SQLITE_DONE when all rows are in. */
int columns_list(sqlite3_stmt *rows, bool (*add)(cJSON *item, sqlite3_stmt *row), cJSON *items);

#endif
