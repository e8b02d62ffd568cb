/*
 * The picture of a place on a note. See picture.h.
 * SVG 1.1, units of the drawing are millimetres; title and desc for screen readers (WAI-ARIA Graphics Module, role img).
 */
#include "guidance/picture.h"

#include "model/drawing.h"

#include <string.h>

#define MARGIN_MM 8
#define STRIP_MM  22 /* below the note: the side in words, and what to do as a sign */

/* ---- The place in words ---- */

/* A box that covers more than two thirds is a place across everything; else its middle decides. */
static const char *third_of(int32_t low_permille, int32_t high_permille, const char *const names[4])
{
    if (high_permille - low_permille > 667)
        return names[3];
    int32_t middle = (low_permille + high_permille) / 2;
    return middle < 334 ? names[0] : middle > 666 ? names[2] : names[1];
}

static const char *how_of(const struct pack_check *check)
{
    if (check->sense == CFOIL_SENSE_FEEL)
        return "feel";
    if (check->sense == CFOIL_SENSE_TILT)
        return "tilt";
    if ((check->tool & CFOIL_TOOL_UV_A) != 0)
        return "ultraviolet";
    if ((check->tool & CFOIL_TOOL_MAGNIFIER) != 0)
        return "magnifier";
    if ((check->tool & CFOIL_TOOL_RULER) != 0)
        return "ruler";
    if ((check->tool & CFOIL_TOOL_KNOWN_NOTE) != 0)
        return "known_note";
    return (check->needs & CFOIL_WITHOUT_BACK_LIGHT) != 0 ? "light" : "look";
}

void picture_place_find(const struct pack_check *check, struct picture_place *place)
{
    static const char *const sides[] = {"whole", "front", "back"};
    static const char *const across[] = {"left", "middle", "right", "all"};
    static const char *const down[] = {"top", "middle", "bottom", "all"};
    *place = (struct picture_place){sides[check->side], "all", "all", how_of(check)};
    if (!check->box.known)
        return;
    place->across = third_of(check->box.left_permille, check->box.right_permille, across);
    place->down = third_of(check->box.top_permille, check->box.bottom_permille, down);
}

/* ---- Signs: what to do, drawn around 0,0 in a square of 16 mm ---- */

#define RAYS "M0-7V-5M0 7V5M-7 0H-5M7 0H5M-5-5-3.6-3.6M5-5 3.6-3.6M-5 5-3.6 3.6M5 5 3.6 3.6"

static const struct {
    const char *how;
    const char *shapes;
} signs[] = {
    {"feel", "<path d=\"M-3.5 8V1a3.5 3.5 0 0 1 7 0V8\"/><path d=\"M-8-7q2-2 4 0t4 0 4 0 4 0\"/>"},
    {"look", "<path d=\"M-8 0Q0-9 8 0 0 9-8 0z\"/><circle r=\"2.5\"/>"},
    {"tilt", "<path d=\"M-7 5 3 7 7 1-3-1z\"/><path d=\"M-6-3A8 8 0 0 1 6-4M6-8v4H2\"/>"},
    {"light", "<circle r=\"3\"/><path d=\"" RAYS "\"/>"},
    {"magnifier", "<circle cx=\"-2\" cy=\"-2\" r=\"5\"/><path d=\"M2 2 8 8\"/>"},
    {"ultraviolet", "<path d=\"M-7-7H7v4H-7z\"/><path d=\"M-5 0-6 7M0 0V7M5 0 6 7\" stroke-dasharray=\"2 1\"/>"},
    {"ruler", "<path d=\"M-8-3H8V3H-8z\"/><path d=\"M-5-3V0M-2-3V-1M1-3V0M4-3V-1\"/>"},
    {"known_note", "<path d=\"M-8-6H4V1H-8z\"/><path d=\"M-4-1H8V6H-4z\"/>"},
};

static void sign_draw(struct drawing *drawing, const char *how, uint32_t x_mm, uint32_t y_mm)
{
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
        if (strcmp(signs[i].how, how) != 0)
            continue;
        drawing_format(drawing,
                       "<g transform=\"translate(%u %u)\" fill=\"none\" stroke=\"#1a1a1a\" stroke-width=\"1.3\" ",
                       (unsigned)x_mm, (unsigned)y_mm);
        drawing_put(drawing, "stroke-linecap=\"round\" stroke-linejoin=\"round\">");
        drawing_put(drawing, signs[i].shapes);
        drawing_put(drawing, "</g>");
    }
}

/* ---- The drawing ---- */

static void heading_draw(struct drawing *drawing, const struct pack_note *note, const struct picture_words *words)
{
    drawing_format(drawing, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %u %u\" role=\"img\">",
                   (unsigned)(note->length_mm + 2 * MARGIN_MM), (unsigned)(note->height_mm + 2 * MARGIN_MM + STRIP_MM));
    drawing_put(drawing, "<title>");
    drawing_escape(drawing, words->title);
    drawing_put(drawing, "</title><desc>");
    drawing_escape(drawing, words->where);
    drawing_put(drawing, "</desc><rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>");
}

/* Tenths of a millimetre from thousandths of a length. */
static unsigned tenths(uint32_t length_mm, int32_t permille)
{
    return (unsigned)((int64_t)length_mm * permille / 100);
}

/* Millimetres with one decimal place, so that no locale writes a comma. */
#define TENTHS_FORMAT    "%u.%u"
#define TENTHS_OF(value) (value) / 10, (value) % 10

static void place_draw(struct drawing *drawing, const struct pack_note *note, const struct pack_box *box)
{
    unsigned left = tenths(note->length_mm, box->left_permille) + 10 * MARGIN_MM;
    unsigned top = tenths(note->height_mm, box->top_permille) + 10 * MARGIN_MM;
    unsigned right = tenths(note->length_mm, box->right_permille) + 10 * MARGIN_MM;
    unsigned bottom = tenths(note->height_mm, box->bottom_permille) + 10 * MARGIN_MM;
    drawing_format(drawing,
                   "<rect x=\"" TENTHS_FORMAT "\" y=\"" TENTHS_FORMAT "\" width=\"" TENTHS_FORMAT
                   "\" height=\"" TENTHS_FORMAT
                   "\" rx=\"1\" fill=\"#ffe08a\" stroke=\"#1a1a1a\" stroke-width=\"1.6\"/>",
                   TENTHS_OF(left), TENTHS_OF(top), TENTHS_OF(right - left), TENTHS_OF(bottom - top));
    /* Two strokes from the edge that point at the place: it is found without seeing its colour. */
    unsigned across = (left + right) / 2;
    unsigned down = (top + bottom) / 2;
    drawing_format(drawing,
                   "<path d=\"M" TENTHS_FORMAT " 1v5m-2-2 2 2 2-2M1 " TENTHS_FORMAT "h5m-2-2 2 2-2 2\" fill=\"none\" "
                   "stroke=\"#1a1a1a\" stroke-width=\"1.2\"/>",
                   TENTHS_OF(across), TENTHS_OF(down));
}

size_t picture_write(const struct pack_note *note, const struct pack_check *check, const struct picture_words *words,
                     char *buffer, size_t capacity)
{
    struct drawing drawing = {buffer, capacity, 0};
    struct picture_place place;
    picture_place_find(check, &place);
    heading_draw(&drawing, note, words);
    drawing_format(&drawing,
                   "<rect x=\"%d\" y=\"%d\" width=\"%u\" height=\"%u\" rx=\"1\" fill=\"#eceff1\" stroke=\"#55606a\"/>",
                   MARGIN_MM, MARGIN_MM, (unsigned)note->length_mm, (unsigned)note->height_mm);
    if (check->box.known)
        place_draw(&drawing, note, &check->box);
    uint32_t strip_mm = note->height_mm + 2 * MARGIN_MM + STRIP_MM / 2 - 3;
    drawing_format(&drawing, "<text x=\"%d\" y=\"%u\" font-family=\"sans-serif\" font-size=\"9\" fill=\"#1a1a1a\">",
                   MARGIN_MM, (unsigned)(strip_mm + 3));
    drawing_escape(&drawing, words->side);
    drawing_put(&drawing, "</text>");
    sign_draw(&drawing, place.how, note->length_mm + MARGIN_MM - 10, strip_mm);
    drawing_put(&drawing, "</svg>\n");
    return drawing.length;
}
