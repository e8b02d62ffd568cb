/*
 * Entries as rows of a table: CSV after RFC 4180, safe to open in a spreadsheet. See export.h.
 */
#include "ledger/export.h"

#include "ledger/body.h"
#include "model/names.h"
#include "model/text.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Where the value of a column stands: one of the entry's own columns, or a path into its body. On the way through a
 * list every element counts; the values are joined by a blank. */
struct csv_column {
    const char *name;
    const char *path; /* NULL = the entry's own */
};

#define ENTRY_OWN                                                                                                      \
    {"entry", NULL},                                                                                                   \
    {                                                                                                                  \
        "time", NULL                                                                                                   \
    }
#define ENTRY_OWN_COUNT 2

static const struct csv_column presentation_columns[] = {
    ENTRY_OWN,
    {"lane", "lane"},
    {"seq", "seq"},
    {"presentation", "presentation"},
    {"kind", "kind"},
    {"currency", "currency"},
    {"value_minor", "value_minor"},
    {"note_type", "note_type"},
    {"note_name", "note_name"},
    {"reason", "reason"},
    {"reasons_possible", "reasons_possible"},
    {"channels", "findings.channel"},
    {"raw", "raw"},
    {"raw_hex", "raw_hex"},
    {"while_away", "while_away"},
    {"text", "text"},
    {NULL, NULL},
};

static const struct csv_column case_columns[] = {
    ENTRY_OWN,
    {"case", "case"},
    {"lane", "lane"},
    {"sale", "sale"},
    {"staff", "staff"},
    {"currency", "currency"},
    {"value_minor", "value_minor"},
    {"series", "series"},
    {"serial", "serial"},
    {"checksum", "checksum"},
    {"refused_before", "refused_before"},
    {"jurisdiction", "jurisdiction"},
    {"machine_reasons", "presentations.reason"},
    {"checks", "answers.check"},
    {"answers", "answers.answer"},
    {"advice", "advice"},
    {"disposition", "disposition"},
    {"override_by", "override.by"},
    {"override_why", "override.why"},
    {"envelope", "envelope"},
    {NULL, NULL},
};

static const struct csv_column custody_columns[] = {
    ENTRY_OWN,
    {"case", "case"},
    {"move", "move"},
    {"from", "from"},
    {"state", "state"},
    {"happened", "happened"},
    {"staff", "staff"},
    {"signed_in", "signed_in"},
    {"second", "second"},
    {"envelope", "envelope"},
    {"place", "place"},
    {"holder", "holder"},
    {"keeper", "keeper"},
    {"receipt", "receipt"},
    {"why", "why"},
    {"currency", "currency"},
    {"value_minor", "value_minor"},
    {"serial", "serial"},
    {"lane", "lane"},
    {NULL, NULL},
};

static const struct csv_table {
    int32_t table;
    const char *kind;
    const struct csv_column *columns;
} tables[] = {
    {CFOIL_TABLE_PRESENTATIONS, LEDGER_KIND_PRESENTATION, presentation_columns},
    {CFOIL_TABLE_CASES, LEDGER_KIND_CASE, case_columns},
    {CFOIL_TABLE_CUSTODY, LEDGER_KIND_CUSTODY, custody_columns},
};

static const struct csv_table *table_find(int32_t table)
{
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        if (tables[i].table == table)
            return &tables[i];
    }
    return NULL;
}

const char *csv_table_kind(int32_t table)
{
    const struct csv_table *found = table_find(table);
    return found != NULL ? found->kind : NULL;
}

/* ---- Cells ---- */

/* A spreadsheet takes a cell that begins so for a formula and may run it; a text that a device or a person gave could
 * be one. An apostrophe makes it a text. The list is that of the usual advice against such cells (from memory). */
static bool formula_like(char first)
{
    return first != '\0' && strchr("=+-@\t\r\n", first) != NULL;
}

/* RFC 4180 section 2, rules 5 to 7: quotes around what holds a comma, a quote or a line end; quotes inside doubled. */
static void cell_write(struct sink *sink, const char *text)
{
    bool quoted = strpbrk(text, ",\"\r\n") != NULL || formula_like(text[0]);
    if (!quoted) {
        sink_write(sink, text, strlen(text));
        return;
    }
    sink_write(sink, "\"", 1);
    if (formula_like(text[0]))
        sink_write(sink, "'", 1);
    for (const char *end; (end = strchr(text, '"')) != NULL; text = end + 1) {
        sink_write(sink, text, (size_t)(end - text) + 1);
        sink_write(sink, "\"", 1);
    }
    sink_write(sink, text, strlen(text));
    sink_write(sink, "\"", 1);
}

/* The values of one cell, joined; longer ones are cut. */
struct cell {
    char text[2048];
    size_t used;
};

static void cell_join(struct cell *cell, const char *text)
{
    if (cell->used > 0 && cell->used + 1 < sizeof cell->text)
        cell->text[cell->used++] = ' ';
    text_copy(cell->text + cell->used, sizeof cell->text - cell->used, text);
    cell->used += strlen(cell->text + cell->used);
}

static void value_join(struct cell *cell, const cJSON *value)
{
    char number[32];
    if (cJSON_IsString(value)) {
        cell_join(cell, value->valuestring);
    } else if (cJSON_IsBool(value)) {
        cell_join(cell, cJSON_IsTrue(value) ? "true" : "false");
    } else if (cJSON_IsNumber(value)) {
        (void)snprintf(number, sizeof number, "%.17g", value->valuedouble);
        cell_join(cell, number);
    }
}

/* The path has at most one step into what a key leads to: `value` is what the first key gave. */
static void path_join(struct cell *cell, const cJSON *value, const char *second)
{
    if (cJSON_IsArray(value)) {
        const cJSON *element;
        cJSON_ArrayForEach(element, value)
            value_join(cell, second != NULL ? cJSON_GetObjectItemCaseSensitive(element, second) : element);
        return;
    }
    value_join(cell, second != NULL ? cJSON_GetObjectItemCaseSensitive(value, second) : value);
}

static void body_cell_write(struct sink *sink, const cJSON *body, const char *path)
{
    struct cell cell = {.used = 0};
    char first[32];
    const char *dot = strchr(path, '.');
    (void)snprintf(first, sizeof first, "%.*s", dot != NULL ? (int)(dot - path) : (int)strlen(path), path);
    path_join(&cell, cJSON_GetObjectItemCaseSensitive(body, first), dot != NULL ? dot + 1 : NULL);
    cell_write(sink, cell.text);
}

/* ---- Rows ---- */

/* RFC 4180 section 2, rule 1: each record ends with CR LF. */
static void row_end_write(struct sink *sink)
{
    sink_write(sink, "\r\n", 2);
}

void csv_heading_write(struct sink *sink, int32_t table)
{
    const struct csv_column *columns = table_find(table)->columns;
    for (int i = 0; columns[i].name != NULL; i++) {
        if (i > 0)
            sink_write(sink, ",", 1);
        cell_write(sink, columns[i].name);
    }
    row_end_write(sink);
}

bool csv_row_write(struct sink *sink, int32_t table, sqlite3_stmt *row)
{
    const struct csv_column *columns = table_find(table)->columns;
    const char *text = (const char *)sqlite3_column_text(row, COLUMN_BODY);
    cJSON *body = NULL; /* stays NULL when other hands have made it unreadable: its cells are empty then */
    if (text == NULL || ledger_body_parse(text, &body) != CFOIL_OK)
        return false;
    char number[24];
    char time[TEXT_TIME_SIZE];
    (void)snprintf(number, sizeof number, "%" PRId64, (int64_t)sqlite3_column_int64(row, COLUMN_NUMBER));
    text_time(sqlite3_column_int64(row, COLUMN_TIME), time);
    cell_write(sink, number);
    sink_write(sink, ",", 1);
    cell_write(sink, time);
    for (int i = ENTRY_OWN_COUNT; columns[i].name != NULL; i++) {
        sink_write(sink, ",", 1);
        body_cell_write(sink, body, columns[i].path);
    }
    row_end_write(sink);
    cJSON_Delete(body);
    return true;
}
