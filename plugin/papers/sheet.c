/*
 * Plain text and HTML. See sheet.h.
 */
#include "papers/sheet.h"

#include "model/cells.h"
#include "model/text.h"
#include "packs/phrase.h"

#include <string.h>

/* Prints on A4 as on a roll of 80 mm: nothing is wider than the page, and a slip stays narrow everywhere. */
static const char style[] =
    "@page{margin:8mm 4mm}*{box-sizing:border-box}"
    "body{margin:0 auto;max-width:180mm;font:11pt/1.35 sans-serif;color:#000;background:#fff;overflow-wrap:anywhere}"
    "body.slip{max-width:72mm;font-size:10pt;margin:0}"
    "h1{font-size:1.3em;margin:0 0 .4em;border-bottom:1px solid}p{margin:.3em 0}"
    ".field{display:flex;gap:.6em}.field span{flex:none;min-width:38%;max-width:60%}.field b{flex:1;font-weight:600}"
    "section{border-top:1px solid;margin-top:.7em;padding-top:.2em;break-inside:avoid}"
    ".blank{margin-top:1em;break-inside:avoid}.blank i{display:block;height:1.6em;border-bottom:1px solid}"
    "@media screen{body,body.slip{padding:4mm}}@media(min-width:150mm){body:not(.slip) .field span{min-width:45mm}}";

/* ---- One character after the other ---- */

/* Characters that would steer a printer or turn the direction of what follows: controls (Unicode general category Cc),
 * line and paragraph separators, and the explicit directions of UAX #9. */
static bool steers(const char *at, size_t length)
{
    const unsigned char *bytes = (const unsigned char *)at;
    if (length == 1)
        return bytes[0] < 0x20 || bytes[0] >= 0x7F;
    if (length == 2)
        return bytes[0] == 0xC2 && bytes[1] < 0xA0;
    if (length != 3 || bytes[0] != 0xE2)
        return false;
    bool lines = bytes[1] == 0x80 && bytes[2] >= 0xA8 && bytes[2] <= 0xAE;
    bool isolates = bytes[1] == 0x81 && bytes[2] >= 0xA6 && bytes[2] <= 0xA9;
    return lines || isolates;
}

/* Adds a text from anywhere; `html`: with HTML's own signs as their names. */
static void clean_add(struct growing *growing, const char *text, bool html)
{
    size_t cells;
    for (size_t step; (step = cells_step(text, &cells)) > 0; text += step) {
        const char *name = html ? growing_html_name(text[0]) : NULL;
        if (steers(text, step))
            growing_text_add(growing, "?");
        else if (name != NULL)
            growing_text_add(growing, name);
        else
            growing_add(growing, text, step);
    }
}

static void html_add(struct sheet *sheet, const char *text)
{
    clean_add(&sheet->growing, text, true);
}

static void raw_add(struct sheet *sheet, const char *text)
{
    growing_text_add(&sheet->growing, text);
}

/* ---- Plain lines ---- */

static void fill_add(struct sheet *sheet, const char *sign, size_t count)
{
    for (size_t i = 0; i < count; i++)
        raw_add(sheet, sign);
}

/* A line in the making: its places, and where the next one begins. */
struct line {
    size_t used, start, indent;
};

static void newline_add(struct sheet *sheet, struct line *line)
{
    raw_add(sheet, "\n");
    fill_add(sheet, " ", line->indent);
    line->start = line->indent;
    line->used = line->indent;
}

/* A word that is wider than a line is cut. */
static void word_add(struct sheet *sheet, struct line *line, const char *word, size_t length)
{
    size_t width = cells_count(word, length);
    bool begins = line->used == line->start;
    if (!begins && line->used + 1 + width > sheet->columns) {
        newline_add(sheet, line);
    } else if (!begins) {
        raw_add(sheet, " ");
        line->used++;
    }
    while (line->used + width > sheet->columns) {
        size_t part = cells_fit(word, sheet->columns - line->used);
        if (part >= length)
            break;
        growing_add(&sheet->growing, word, part);
        newline_add(sheet, line);
        word += part;
        length -= part;
        width = cells_count(word, length);
    }
    growing_add(&sheet->growing, word, length);
    line->used += width;
}

/* Lines of at most the sheet's width; all but the first begin with `indent` blanks. What steers is replaced before places
 * are counted: some of it takes none. */
static void lines_add(struct sheet *sheet, const char *text, size_t indent)
{
    struct growing cleaned = {.memory = sheet->growing.memory};
    struct line line = {0, 0, indent};
    clean_add(&cleaned, text, false);
    for (const char *at = growing_text(&cleaned); *at != '\0'; at += strspn(at, " ")) {
        size_t length = strcspn(at, " ");
        if (length > 0)
            word_add(sheet, &line, at, length);
        at += length;
    }
    raw_add(sheet, "\n");
    sheet->growing.failed = sheet->growing.failed || cleaned.failed;
    growing_release(&cleaned);
}

/* ---- What papers are made of ---- */

static const char *message_of(const struct sheet *sheet, const char *key)
{
    return phrase_of_key(sheet->packs, sheet->language, key).pattern;
}

void sheet_begin(struct sheet *sheet, const char *title_key, bool slip)
{
    const char *title = message_of(sheet, title_key);
    if (sheet->columns > 0) {
        lines_add(sheet, title, 0);
        fill_add(sheet, "=", sheet->columns);
        raw_add(sheet, "\n");
        return;
    }
    raw_add(sheet, "<!DOCTYPE html>\n<html lang=\"");
    html_add(sheet, sheet->language);
    raw_add(sheet,
            "\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>");
    html_add(sheet, title);
    raw_add(sheet, "</title>\n<style>");
    raw_add(sheet, style);
    raw_add(sheet, slip ? "</style>\n</head>\n<body class=\"slip\">\n<h1>" : "</style>\n</head>\n<body>\n<h1>");
    html_add(sheet, title);
    raw_add(sheet, "</h1>\n");
}

void sheet_end(struct sheet *sheet)
{
    if (sheet->columns == 0)
        raw_add(sheet, "</body>\n</html>\n");
}

void sheet_text(struct sheet *sheet, const char *text)
{
    if (text[0] == '\0')
        return;
    if (sheet->columns > 0) {
        if (sheet->after_field)
            raw_add(sheet, "\n");
        sheet->after_field = false;
        lines_add(sheet, text, 0);
        return;
    }
    raw_add(sheet, "<p>");
    html_add(sheet, text);
    raw_add(sheet, "</p>\n");
}

void sheet_message(struct sheet *sheet, const char *key)
{
    sheet_text(sheet, message_of(sheet, key));
}

/* "label: value", as the language sets its colon. */
static struct growing labelled(const struct sheet *sheet, const char *label, const char *value)
{
    struct growing line = {.memory = sheet->growing.memory, .failed = sheet->growing.failed};
    const cfoil_argument arguments[] = {{"title", label, 0}, {"line", value, 0}};
    phrase_add(&line, phrase_of_key(sheet->packs, sheet->language, "paper.field"), arguments, 2);
    return line;
}

static void plain_field(struct sheet *sheet, const char *label, const char *value)
{
    struct growing line = labelled(sheet, label, value);
    sheet->growing.failed = line.failed;
    lines_add(sheet, growing_text(&line), 2);
    growing_release(&line);
}

void sheet_remark(struct sheet *sheet, const char *key, const char *text)
{
    struct growing line = labelled(sheet, message_of(sheet, key), text);
    sheet->growing.failed = line.failed;
    if (text[0] != '\0')
        sheet_text(sheet, growing_text(&line));
    growing_release(&line);
}

void sheet_field(struct sheet *sheet, const char *key, const char *value)
{
    const char *label = message_of(sheet, key);
    if (value[0] == '\0')
        return;
    if (sheet->columns > 0) {
        plain_field(sheet, label, value);
        sheet->after_field = true;
        return;
    }
    raw_add(sheet, "<p class=\"field\"><span>");
    html_add(sheet, label);
    raw_add(sheet, "</span><b>");
    html_add(sheet, value);
    raw_add(sheet, "</b></p>\n");
}

void sheet_blank(struct sheet *sheet, const char *key)
{
    const char *label = message_of(sheet, key);
    if (sheet->columns > 0) {
        raw_add(sheet, "\n");
        lines_add(sheet, label, 0);
        raw_add(sheet, "\n");
        fill_add(sheet, "_", sheet->columns);
        raw_add(sheet, "\n");
        sheet->after_field = true;
        return;
    }
    raw_add(sheet, "<p class=\"blank\">");
    html_add(sheet, label);
    raw_add(sheet, "<i></i></p>\n");
}

void sheet_group_begin(struct sheet *sheet)
{
    if (sheet->columns > 0) {
        sheet->after_field = false;
        fill_add(sheet, "-", sheet->columns);
        raw_add(sheet, "\n");
        return;
    }
    raw_add(sheet, "<section>\n");
}

void sheet_group_end(struct sheet *sheet)
{
    if (sheet->columns == 0)
        raw_add(sheet, "</section>\n");
}
