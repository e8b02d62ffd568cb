/*
 * The report as one page that needs nothing else: what it says stands in words and tables, the charts only draw it.
 */
#include "statistics/report_html.h"

#include "model/growing.h"
#include "model/text.h"
#include "statistics/page_files.h"
#include "statistics/report_parts.h"

#include <stdio.h>
#include <string.h>

static const cJSON *in(const cJSON *object, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

static const char *text_in(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(in(object, key));
    return text != NULL ? text : "";
}

static double number_in(const cJSON *object, const char *key)
{
    const cJSON *item = in(object, key);
    return cJSON_IsNumber(item) ? item->valuedouble : 0.0;
}

/* ---- Small parts ---- */

static void put(struct growing *page, const char *markup)
{
    growing_text_add(page, markup);
}

static void text_put(struct growing *page, const char *text)
{
    growing_html_add(page, text);
}

static void element_put(struct growing *page, const char *name, const char *text)
{
    put(page, "<");
    put(page, name);
    put(page, ">");
    text_put(page, text);
    put(page, "</");
    put(page, name);
    put(page, ">");
}

static void whole_put(struct growing *page, double number)
{
    char text[32];
    (void)snprintf(text, sizeof text, "%.0f", number);
    put(page, text);
}

static void whole_cell(struct growing *page, const cJSON *object, const char *key)
{
    put(page, "<td>");
    whole_put(page, number_in(object, key));
    put(page, "</td>");
}

/* "94.4 % (94.1 to 94.7) of 25466"; sorts by the rate. */
static void share_cell(struct growing *page, const cJSON *share)
{
    char text[128];
    if (!cJSON_IsNumber(in(share, "rate"))) {
        put(page, "<td data-key=\"\">none</td>");
        return;
    }
    (void)snprintf(text, sizeof text, "<td data-key=\"%.9f\">%.1f %% (%.1f to %.1f) of %.0f</td>",
                   number_in(share, "rate"), 100 * number_in(share, "rate"), 100 * number_in(share, "lower"),
                   100 * number_in(share, "upper"), number_in(share, "of"));
    put(page, text);
}

static void table_begin(struct growing *page, const char *id, const char *caption, const char *const *columns)
{
    put(page, "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"");
    text_put(page, caption);
    put(page, "\"><table class=\"sorts\" id=\"");
    put(page, id);
    put(page, "\"><caption>");
    text_put(page, caption);
    put(page, "</caption><thead><tr>");
    for (; *columns != NULL; columns++) {
        put(page, "<th scope=\"col\">");
        text_put(page, *columns);
        put(page, "</th>");
    }
    put(page, "</tr></thead><tbody>");
}

static void table_end(struct growing *page)
{
    put(page, "</tbody></table></div>\n");
}

/* ---- Rows of shares ---- */

static const char *const share_keys[] = {"first_pass", "final", "refused_for_the_note", "refused_for_feeding"};
#define SHARE_COLUMNS                                                                                                  \
    "notes", "accepted at once", "accepted in the end", "first refused for the note", "first fed badly", NULL

static void note_name(const cJSON *row, char text[NOTE_SHOWN_SIZE])
{
    struct cell_note note = {.value_minor = (int64_t)number_in(row, "value_minor")};
    text_copy(note.currency, sizeof note.currency, text_in(row, "currency"));
    text_copy(note.series, sizeof note.series, text_in(row, "series"));
    note_shown(&note, text);
}

static void row_name_put(struct growing *page, const cJSON *row, const char *key)
{
    char text[NOTE_SHOWN_SIZE];
    put(page, "<tr><th scope=\"row\">");
    if (key == NULL) {
        note_name(row, text);
        text_put(page, text);
    } else if (cJSON_IsNumber(in(row, key))) {
        (void)snprintf(text, sizeof text, "%02.0f:00", number_in(row, key));
        put(page, text);
    } else {
        text_put(page, text_in(row, key)[0] != '\0' ? text_in(row, key) : "not named");
    }
    put(page, "</th>");
}

/* One row for each of a list; key NULL = rows of notes. */
static void shares_table(struct growing *page, const cJSON *list, const char *id, const char *caption,
                         const char *first, const char *key)
{
    const char *const columns[] = {first, SHARE_COLUMNS};
    const cJSON *row;
    table_begin(page, id, caption, columns);
    cJSON_ArrayForEach(row, list)
    {
        row_name_put(page, row, key);
        whole_cell(page, row, "insertions");
        for (size_t i = 0; i < sizeof share_keys / sizeof share_keys[0]; i++)
            share_cell(page, in(row, share_keys[i]));
        put(page, "</tr>\n");
    }
    table_end(page);
}

/* ---- Lanes and channels ---- */

static const cJSON *heat_find(const cJSON *list, const char *lane, const char *channel)
{
    const cJSON *row;
    cJSON_ArrayForEach(row, list)
    {
        if (strcmp(text_in(row, "lane"), lane) == 0 && strcmp(text_in(row, "channel"), channel) == 0)
            return in(row, "refused");
    }
    return NULL;
}

static double heat_most(const cJSON *list)
{
    double most = 0.0;
    const cJSON *row;
    cJSON_ArrayForEach(row, list)
    {
        double rate = number_in(in(row, "refused"), "rate");
        most = rate > most ? rate : most;
    }
    return most;
}

/* The deepest shade is the highest rate of the table; each cell also says its number. */
static void heat_cell(struct growing *page, const cJSON *share, double most)
{
    char text[128];
    double rate = number_in(share, "rate");
    if (share == NULL || !cJSON_IsNumber(in(share, "rate"))) {
        put(page, "<td data-key=\"0\">0</td>");
        return;
    }
    (void)snprintf(text, sizeof text,
                   "<td data-key=\"%.9f\" data-heat=\"1\" style=\"--share:%.3f\">%.2f %% (%.0f)</td>", rate,
                   most > 0.0 ? rate / most : 0.0, 100 * rate, number_in(share, "count"));
    put(page, text);
}

/* The words that come in a list under a key, each once, in the order in which they come. */
#define WORDS_MAX 32u
struct words {
    const char *word[WORDS_MAX + 1]; /* ends with NULL */
    uint32_t count;
};

static void words_collect(struct words *words, const cJSON *list, const char *key)
{
    const cJSON *row;
    cJSON_ArrayForEach(row, list)
    {
        const char *word = text_in(row, key);
        uint32_t i = 0;
        while (i < words->count && strcmp(words->word[i], word) != 0)
            i++;
        if (i == words->count && words->count < WORDS_MAX)
            words->word[words->count++] = word;
    }
}

static void heat_table(struct growing *page, const cJSON *list, const cJSON *lanes)
{
    struct words columns = {.word = {"lane"}, .count = 1};
    double most = heat_most(list);
    const cJSON *lane;
    words_collect(&columns, list, "channel");
    put(page, "<div class=\"heat\">");
    table_begin(page, "heat", "First refusals by lane and by what the machine named, of all notes of the lane",
                columns.word);
    cJSON_ArrayForEach(lane, lanes)
    {
        row_name_put(page, lane, "lane");
        for (uint32_t i = 1; i < columns.count; i++)
            heat_cell(page, heat_find(list, text_in(lane, "lane"), columns.word[i]), most);
        put(page, "</tr>\n");
    }
    table_end(page);
    put(page, "</div>");
}

/* ---- Sections ---- */

static void signals_put(struct growing *page, const cJSON *signals)
{
    const cJSON *signal;
    if (cJSON_GetArraySize(signals) == 0)
        return;
    put(page, "<ol class=\"signals\">\n");
    cJSON_ArrayForEach(signal, signals)
    {
        put(page, "<li>");
        element_put(page, "h3", text_in(signal, "title"));
        element_put(page, "p", text_in(signal, "what"));
        element_put(page, "p", text_in(signal, "evidence"));
        put(page, "<p><strong>Next:</strong> ");
        text_put(page, text_in(signal, "next"));
        put(page, "</p></li>\n");
    }
    put(page, "</ol>\n");
}

static void heading_put(struct growing *page, const cJSON *tree)
{
    const char *from = text_in(tree, "from");
    const char *until = text_in(tree, "until");
    put(page, "<h1>Note validator report");
    if (text_in(tree, "store")[0] != '\0') {
        put(page, ": ");
        text_put(page, text_in(tree, "store"));
    }
    put(page, "</h1>\n<p class=\"quiet\">From ");
    text_put(page, from[0] != '\0' ? from : "the beginning");
    put(page, " until ");
    text_put(page, until[0] != '\0' ? until : "now");
    put(page, "; lane: ");
    text_put(page, text_in(tree, "lane")[0] != '\0' ? text_in(tree, "lane") : "all");
    put(page, ". Days are UTC days. Ranges are where the true rate is likely (95 %).</p>\n");
}

static void glance_put(struct growing *page, const cJSON *tree)
{
    put(page, "<section><h2>At a glance</h2><p class=\"verdict\">");
    text_put(page, text_in(tree, "verdict"));
    put(page, "</p>\n");
    signals_put(page, in(tree, "signals"));
    put(page, "</section>\n");
}

static void figure_put(struct growing *page, const char *id, const char *caption)
{
    put(page, "<figure hidden><div id=\"");
    put(page, id);
    put(page, "\"></div><figcaption>");
    text_put(page, caption);
    put(page, "</figcaption></figure>\n");
}

static void tables_put(struct growing *page, const cJSON *figures)
{
    put(page, "<section><h2>Day by day</h2>\n");
    figure_put(
        page, "chart-days",
        "First refusals for the note, day by day, with limits at three standard deviations about the mean of the "
        "period. Striped: what stands out above, by its number. The numbers stand in the table of days.");
    put(page, "<details><summary>Table of days</summary>");
    shares_table(page, in(figures, "by_day"), "days", "Notes by day", "day", "day");
    put(page, "</details>");
    shares_table(page, in(figures, "by_week"), "weeks", "Notes by week", "week from", "week_from");
    shares_table(page, in(figures, "by_hour_of_day"), "hours", "Notes by hour of the day (UTC)", "hour", "hour");
    put(page, "</section>\n<section><h2>Lanes</h2>\n");
    shares_table(page, in(figures, "by_lane"), "lanes", "Notes by lane", "lane", "lane");
    heat_table(page, in(figures, "refusals_by_lane_and_channel"), in(figures, "by_lane"));
    put(page, "</section>\n<section><h2>Notes</h2>\n");
    figure_put(
        page, "chart-notes",
        "First refusals for the note by value, all series together, with the range that the true rate is likely in. "
        "The table below tells series apart: a machine that accepts a note seldom tells its series.");
    shares_table(page, in(figures, "by_note"), "notes", "Notes by value and series", "note", NULL);
    put(page, "</section>\n");
}

static void counts_table(struct growing *page, const cJSON *object, const char *id, const char *caption,
                         const char *first)
{
    const char *const columns[] = {first, "notes", NULL};
    char word[WORD_SIZE];
    const cJSON *item;
    table_begin(page, id, caption, columns);
    cJSON_ArrayForEach(item, object)
    {
        put(page, "<tr><th scope=\"row\">");
        text_put(page, word_shown(item->string, word));
        put(page, "</th><td>");
        whole_put(page, cJSON_IsNumber(item) ? item->valuedouble : 0.0);
        put(page, "</td></tr>\n");
    }
    table_end(page);
}

static void custody_put(struct growing *page, const cJSON *custody)
{
    put(page, "<section><h2>Notes that the shop keeps</h2><p>In the shop's hands now: ");
    whole_put(page, number_in(custody, "held_now"));
    put(page, ".</p>\n");
    counts_table(page, in(custody, "held_for"), "ages", "Kept for how long", "days");
    counts_table(page, in(custody, "came_into_state"), "steps", "Steps of the period", "step");
    put(page, "</section>\n");
}

static void meaning_put(struct growing *page, const struct report *report, const cJSON *tree)
{
    put(page, "<section><h2>What a refusal means</h2>\n");
    for (const struct money *money = report->total.money_stacked; money != NULL; money = money->next) {
        struct prediction prediction;
        char text[SENTENCE_SIZE];
        if (!prediction_make(report, money->currency, &prediction))
            continue;
        prediction_text(&prediction, text);
        element_put(page, "p", text);
    }
    const cJSON *note;
    put(page, "<ul>");
    cJSON_ArrayForEach(note, in(tree, "notes")) element_put(page, "li", cJSON_IsString(note) ? note->valuestring : "");
    put(page, "</ul><p><strong>");
    text_put(page, text_in(tree, "caution"));
    put(page, "</strong></p></section>\n");
}

/* ---- The page ---- */

/* JSON inside a page: what could end the script element is written by its number (RFC 8259, section 7). */
static void document_put(struct growing *page, const char *json)
{
    for (; *json != '\0'; json++) {
        if (*json == '<')
            put(page, "\\u003c");
        else
            growing_add(page, json, 1);
    }
}

static void page_put(struct growing *page, const struct report *report, const cJSON *tree, const char *json)
{
    put(page, "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
              "content=\"width=device-width, initial-scale=1\"><title>Note validator report</title>\n<style>");
    put(page, page_chart_style);
    put(page, page_style);
    put(page, "</style></head><body><header>\n");
    heading_put(page, tree);
    put(page, "</header><main>\n");
    glance_put(page, tree);
    tables_put(page, in(tree, "figures"));
    custody_put(page, in(in(tree, "figures"), "custody"));
    meaning_put(page, report, tree);
    put(page, "</main>\n<script type=\"application/json\" id=\"report\">");
    document_put(page, json);
    put(page, "</script>\n<script>");
    put(page, page_chart_script);
    put(page, "</script>\n<script>");
    put(page, page_script);
    put(page, "</script></body></html>\n");
}

char *report_html(const struct report *report)
{
    char *json = report_json(report);
    cJSON *tree = cJSON_Parse(json); /* its numbers are numbers now, and no longer their texts */
    struct growing page = {.memory = report->memory};
    char *text = NULL;
    if (tree != NULL) {
        page_put(&page, report, tree, json);
        text = page.failed ? NULL : cJSON_malloc(page.length + 1);
    }
    if (text != NULL)
        memcpy(text, growing_text(&page), page.length + 1);
    growing_release(&page);
    cJSON_Delete(tree);
    cJSON_free(json);
    return text;
}
