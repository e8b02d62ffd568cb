/*
 * Short SQL on the look-up tables. See rows.h.
 */
#include "ledger/rows.h"

#include "model/text.h"

struct row_value row_text(const char *text)
{
    return (struct row_value){.text = text != NULL ? text : ""};
}

struct row_value row_number(int64_t number)
{
    return (struct row_value){.number = number};
}

struct row_value row_bytes(const void *bytes, int length)
{
    return (struct row_value){.bytes = bytes, .length = length};
}

static int value_bind(sqlite3_stmt *statement, int place, const struct row_value *value)
{
    if (value->bytes != NULL)
        return sqlite3_bind_blob(statement, place, value->bytes, value->length, SQLITE_STATIC);
    if (value->text != NULL)
        return sqlite3_bind_text(statement, place, value->text, -1, SQLITE_STATIC);
    return sqlite3_bind_int64(statement, place, value->number);
}

int rows_begin(sqlite3 *database, const char *sql, const struct row_value *values, int count, sqlite3_stmt **statement)
{
    *statement = NULL;
    int code = sqlite3_prepare_v2(database, sql, -1, statement, NULL);
    for (int i = 0; code == SQLITE_OK && i < count; i++)
        code = value_bind(*statement, i + 1, &values[i]);
    if (code == SQLITE_OK)
        return code;
    (void)sqlite3_finalize(*statement);
    *statement = NULL;
    return code;
}

int rows_run(sqlite3 *database, const char *sql, const struct row_value *values, int count)
{
    sqlite3_stmt *statement;
    int code = rows_begin(database, sql, values, count, &statement);
    if (code != SQLITE_OK)
        return code;
    code = sqlite3_step(statement);
    (void)sqlite3_finalize(statement);
    return code == SQLITE_DONE || code == SQLITE_ROW ? SQLITE_OK : code;
}

int row_text_read(sqlite3_stmt *row, int column, char *target, size_t capacity)
{
    const char *text = (const char *)sqlite3_column_text(row, column);
    bool lost = text == NULL && sqlite3_column_type(row, column) != SQLITE_NULL;
    text_copy(target, capacity, text);
    return lost ? SQLITE_NOMEM : SQLITE_OK;
}
