/*
 * Drawing the page. See grid.h. Units of the drawing are millimetres; no part of a note's picture is in it.
 */
#include "damaged/grid.h"

#include "packs/message_format.h"

#include <stdio.h>

/* A4 across, ISO 216. The margin is what most printers leave white. */
#define PAGE_LENGTH_MM 297
#define PAGE_HEIGHT_MM 210
#define MARGIN_MM      15
#define GRID_TOP_MM    45
#define BAR_MM         (GRID_BAR_UM / UM_PER_MM)

static void text_line_draw(struct drawing *drawing, const struct pack_set *packs, const char *language, const char *key,
                           uint32_t y_mm)
{
    char text[1024] = "";
    struct pack_phrase phrase = pack_phrase_of_key(packs, language, key);
    (void)message_format(phrase.language, phrase.pattern != NULL ? phrase.pattern : key, NULL, 0, text, sizeof text);
    drawing_format(drawing, "<text x=\"%d\" y=\"%u\" font-family=\"sans-serif\" font-size=\"4\" fill=\"#1a1a1a\">",
                   MARGIN_MM, (unsigned)y_mm);
    drawing_escape(drawing, text);
    drawing_put(drawing, "</text>");
}

static void line_draw(struct drawing *drawing, uint32_t x1, uint32_t y1, uint32_t x2, uint32_t y2, const char *width)
{
    drawing_format(drawing, "<path d=\"M%u %uL%u %u\" stroke=\"#7b8794\" stroke-width=\"%s\"/>", (unsigned)x1,
                   (unsigned)y1, (unsigned)x2, (unsigned)y2, width);
}

/* Every line that falls on whole centimetres is drawn stronger: whole blocks are counted at once. */
static const char *width_of(uint32_t mm)
{
    return mm % 10 == 0 ? "0.4" : "0.15";
}

static void squares_draw(struct drawing *drawing, uint32_t length_mm, uint32_t height_mm, uint32_t side_mm)
{
    uint32_t across = (length_mm + side_mm - 1) / side_mm * side_mm;
    uint32_t down = (height_mm + side_mm - 1) / side_mm * side_mm;
    for (uint32_t x = 0; x <= across; x += side_mm)
        line_draw(drawing, MARGIN_MM + x, GRID_TOP_MM, MARGIN_MM + x, GRID_TOP_MM + down, width_of(x));
    for (uint32_t y = 0; y <= down; y += side_mm)
        line_draw(drawing, MARGIN_MM, GRID_TOP_MM + y, MARGIN_MM + across, GRID_TOP_MM + y, width_of(y));
}

/* The bar with a stroke at each end, so that its length is measured between strokes. */
static void bar_draw(struct drawing *drawing)
{
    drawing_format(drawing, "<path d=\"M%d 36h%d\" stroke=\"#1a1a1a\" stroke-width=\"0.3\"/>", MARGIN_MM, BAR_MM);
    drawing_format(drawing, "<path d=\"M%d 33v6M%d 33v6\" stroke=\"#1a1a1a\" stroke-width=\"0.3\"/>", MARGIN_MM,
                   MARGIN_MM + BAR_MM);
}

void grid_write(const struct pack_set *packs, const char *language, const struct damaged_request *note,
                uint32_t side_mm, struct drawing *drawing)
{
    uint32_t length = note->note->length_mm;
    uint32_t height = note->note->height_mm;
    char value[32];
    pack_value_write(note->currency, note->note->value_minor, value, sizeof value);
    drawing_format(drawing,
                   "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%dmm\" height=\"%dmm\" viewBox=\"0 0 %d %d\" "
                   "role=\"img\">",
                   PAGE_LENGTH_MM, PAGE_HEIGHT_MM, PAGE_LENGTH_MM, PAGE_HEIGHT_MM);
    drawing_format(drawing, "<title>%s %s: %u x %u mm, %u mm</title>", pack_currency_code(note->currency), value,
                   (unsigned)length, (unsigned)height, (unsigned)side_mm);
    drawing_put(drawing, "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>");
    text_line_draw(drawing, packs, language, "grid.how", 16);
    text_line_draw(drawing, packs, language, "grid.count", 22);
    text_line_draw(drawing, packs, language, "grid.bar", 29);
    bar_draw(drawing);
    squares_draw(drawing, length, height, side_mm);
    drawing_format(drawing,
                   "<rect x=\"%d\" y=\"%d\" width=\"%u\" height=\"%u\" fill=\"none\" stroke=\"#1a1a1a\" "
                   "stroke-width=\"0.6\"/>",
                   MARGIN_MM, GRID_TOP_MM, (unsigned)length, (unsigned)height);
    drawing_format(drawing, "<text x=\"%d\" y=\"%u\" font-family=\"sans-serif\" font-size=\"4\" fill=\"#1a1a1a\">",
                   MARGIN_MM, (unsigned)(GRID_TOP_MM + height + 12));
    drawing_format(drawing, "%s %s: %u x %u mm; %u mm", pack_currency_code(note->currency), value, (unsigned)length,
                   (unsigned)height, (unsigned)side_mm);
    drawing_put(drawing, "</text></svg>\n");
}
