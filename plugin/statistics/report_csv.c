/*
 * The counts as a table: one row for each lane, note, outcome, reason and channel, in all, by week, by day and by hour. See report.h.
 */
#include "statistics/report_parts.h"

#include "model/names.h"
#include "statistics/page.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* A cell that begins so is taken for a formula by spreadsheets (from memory): an apostrophe makes it a text. */
static bool formula_like(char first)
{
    return first != '\0' && strchr("=+-@\t", first) != NULL;
}

/* RFC 4180 section 2, rules 5 to 7. The names were checked: they hold no line end and fit. */
#define FIELD_SIZE (2 * CELL_LANE_SIZE + 4)
static const char *field_text(const char *name, char text[FIELD_SIZE])
{
    size_t at = 0;
    text[at++] = '"';
    if (formula_like(name[0]))
        text[at++] = '\'';
    for (; name[0] != '\0' && at + 3 < FIELD_SIZE; name++) {
        if (name[0] == '"')
            text[at++] = '"';
        text[at++] = name[0];
    }
    text[at++] = '"';
    text[at] = '\0';
    return text;
}

static const char *span_text(enum cell_span span, int32_t hour, char text[MOMENT_SIZE])
{
    if (span == CELL_SPAN_ALL)
        return "";
    return span == CELL_SPAN_HOUR ? hour_text(hour, text) : day_text(hour * 24, text);
}

/* Six places, with a point in every locale. */
#define RATE_SIZE 16
static const char *rate_text(bool known, double rate, char text[RATE_SIZE])
{
    int millionths = (int)(rate * 1e6 + 0.5);
    text[0] = '\0';
    if (known)
        (void)snprintf(text, RATE_SIZE, "%d.%06d", millionths / 1000000, millionths % 1000000);
    return text;
}

/* First insertions of the same span and lane: of the note when it is known, of all notes when it is not. */
static uint64_t trials_of(const struct cells *by_lane, const struct cells *by_note, const struct cell_key *key,
                          bool note_known)
{
    uint64_t trials = 0;
    for (int outcome = CELL_ACCEPTED; outcome < CELL_NO_TRIAL; outcome++) {
        struct cell_key wanted = {key->hour, key->lane,        note_known ? key->note : CELL_ALL,
                                  CELL_ALL,  (uint8_t)outcome, UINT8_MAX};
        const struct cell *cell = cells_find(note_known ? by_note : by_lane, &wanted);
        trials += cell != NULL ? cell->counts.firsts : 0;
    }
    return trials;
}

struct span_tables {
    struct cells rows, by_lane, by_note;
};

static bool tables_fill(const struct cells *from, enum cell_span span, struct span_tables *tables)
{
    struct cell_view rows = {span, true, true, true, true, true, true};
    struct cell_view by_lane = {.span = span, .lane = true, .outcome = true};
    struct cell_view by_note = {.span = span, .lane = true, .note = true, .outcome = true};
    tables->rows.memory = tables->by_lane.memory = tables->by_note.memory = from->memory;
    return cells_sum(from, &rows, &tables->rows) && cells_sum(from, &by_lane, &tables->by_lane) &&
           cells_sum(from, &by_note, &tables->by_note);
}

static void row_line(struct page *page, enum cell_span span, const char *name, const struct span_tables *tables,
                     const struct cell *cell, const struct share *share)
{
    const struct cell_note *note = &tables->rows.notes[cell->key.note];
    char moment[MOMENT_SIZE];
    char lane[FIELD_SIZE];
    char series[FIELD_SIZE];
    char value[24] = "";
    char rate[RATE_SIZE];
    char lower[RATE_SIZE];
    char upper[RATE_SIZE];
    if (note->currency[0] != '\0')
        (void)snprintf(value, sizeof value, "%" PRId64, note->value_minor);
    bool refused = cell->key.outcome != CELL_ACCEPTED;
    page_line(page, "%s,%s,%s,%s,%s,%s,%s,%s,%s,%" PRIu32 ",%" PRIu64 ",%" PRIu64 ",%s,%s,%s\r", name,
              span_text(span, cell->key.hour, moment), field_text(tables->rows.lanes[cell->key.lane].name, lane),
              note->currency, value, field_text(note->series, series), cell_outcome_names[cell->key.outcome],
              refused ? (cell->key.reason == 0 ? "not_told" : name_reason(cell->key.reason)) : "",
              cell->key.outcome == CELL_REFUSED ? name_channel(cell->key.channel) : "", cell->counts.insertions,
              share->count, share->of, rate_text(share->known, share->rate, rate),
              rate_text(share->known, share->lower, lower), rate_text(share->known, share->upper, upper));
}

static bool span_rows(struct page *page, const struct cells *from, enum cell_span span, const char *name)
{
    struct span_tables tables = {.rows = {.memory = from->memory}};
    bool good = tables_fill(from, span, &tables);
    for (uint32_t i = 0; good && i < tables.rows.count; i++) {
        const struct cell *cell = &tables.rows.cells[i];
        const struct cell_note *note = &tables.rows.notes[cell->key.note];
        struct cell_key plain = cell->key;
        /* The places of values without their series differ from table to table: look the name up. */
        bool known = note->currency[0] != '\0' &&
                     cells_note(&tables.by_note, note->currency, note->value_minor, "", &plain.note);
        uint64_t trials = trials_of(&tables.by_lane, &tables.by_note, &plain, known);
        struct share share = share_make(cell->counts.firsts, trials);
        if (cell->key.outcome == CELL_NO_TRIAL)
            share.known = false;
        if (cell->counts.insertions > 0)
            row_line(page, span, name, &tables, cell, &share);
    }
    cells_free(&tables.rows);
    cells_free(&tables.by_lane);
    cells_free(&tables.by_note);
    return good;
}

char *report_csv(const struct report *report)
{
    struct page page = {{.memory = report->memory}};
    page_line(&page,
              "span,from,lane,currency,value_minor,series,outcome,reason,channel,insertions,first_insertions,of,rate,"
              "lower,upper\r");
    bool good = report->cells.memory == NULL || (span_rows(&page, &report->cells, CELL_SPAN_ALL, "all") &&
                                                 span_rows(&page, &report->cells, CELL_SPAN_WEEK, "week") &&
                                                 span_rows(&page, &report->cells, CELL_SPAN_DAY, "day") &&
                                                 span_rows(&page, &report->cells, CELL_SPAN_HOUR, "hour"));
    page.growing.failed = page.growing.failed || !good;
    return page_take(&page);
}
