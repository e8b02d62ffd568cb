/*
 * Columns as JSON. See columns.h.
 */
#include "ledger/columns.h"

#include "ledger/ledger.h"
#include "model/json.h"
#include "model/text.h"

#include <string.h>

static const char *text_of(sqlite3_stmt *row, int column)
{
    return (const char *)sqlite3_column_text(row, column);
}

/* A text that SQLite had no memory for is NULL though the column is not. */
static bool none(const char *text, sqlite3_stmt *row, int column)
{
    return text == NULL && sqlite3_column_type(row, column) == SQLITE_NULL;
}

bool column_text_add(cJSON *item, const char *key, sqlite3_stmt *row, int column)
{
    const char *text = text_of(row, column);
    if (text == NULL)
        return none(text, row, column) && json_null_add(item, key);
    if (text[0] == '\0')
        return json_null_add(item, key);
    return json_text_add(item, key, text_utf8_valid(text, strlen(text)) ? text : "?");
}

bool column_number_add(cJSON *item, const char *key, sqlite3_stmt *row, int column)
{
    return json_integer_add(item, key, sqlite3_column_int64(row, column));
}

bool column_time_add(cJSON *item, const char *key, sqlite3_stmt *row, int column)
{
    char time[TEXT_TIME_SIZE];
    int64_t time_utc_ms = sqlite3_column_int64(row, column);
    text_time(time_utc_ms, time);
    return time_utc_ms > 0 ? json_text_add(item, key, time) : json_null_add(item, key);
}

bool column_body_add(cJSON *item, const char *key, sqlite3_stmt *row, int column)
{
    cJSON *body = NULL;
    const char *text = text_of(row, column);
    if (text == NULL)
        return none(text, row, column) && json_null_add(item, key);
    bool good = ledger_body_parse(text, &body) == CFOIL_OK;
    if (good && body != NULL && cJSON_AddItemToObject(item, key, body))
        return true;
    cJSON_Delete(body);
    return good && body == NULL && json_null_add(item, key);
}

int columns_list(sqlite3_stmt *rows, bool (*add)(cJSON *item, sqlite3_stmt *row), cJSON *items)
{
    int code;
    while ((code = sqlite3_step(rows)) == SQLITE_ROW) {
        cJSON *item = json_object_add(items, NULL);
        if (item == NULL || !add(item, rows))
            return SQLITE_NOMEM;
    }
    return code;
}
