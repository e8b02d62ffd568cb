/*
 * Reading measures strictly: digits, at most three decimals, a unit. See measures.h.
 */
#include "measures.h"

#include "print.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- JSON that grows ---- */

void request_add(struct request *request, const char *text)
{
    size_t length = strlen(text);
    if (request->length + length >= sizeof request->text) {
        request->full = true;
        return;
    }
    memcpy(request->text + request->length, text, length + 1);
    request->length += length;
}

void request_add_whole(struct request *request, int64_t number)
{
    char text[32];
    snprintf(text, sizeof text, "%lld", (long long)number);
    request_add(request, text);
}

void request_add_text(struct request *request, const char *text)
{
    request_add(request, "\"");
    for (; *text != '\0'; text++) {
        char one[8] = {*text, '\0'};
        if ((unsigned char)*text < 0x20 || *text == '"' || *text == '\\')
            snprintf(one, sizeof one, "\\u%04x", (unsigned)(unsigned char)*text);
        request_add(request, one);
    }
    request_add(request, "\"");
}

/* ---- Numbers with units ---- */

/* A number as typed: its thousandths, and half of its last place, also in thousandths. */
struct measure {
    int64_t thousandths;
    int64_t half_place;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Up to seven digits, then at most three decimals; moves *text behind them. */
static bool measure_take(const char **text, struct measure *measure)
{
    const char *at = *text;
    int64_t place = 1000;
    int digits = 0;
    *measure = (struct measure){0, 500};
    for (; is_digit(*at); at++, digits++)
        measure->thousandths = measure->thousandths * 10 + (*at - '0') * 1000;
    if (digits == 0 || digits > 7)
        return false;
    if (*at == '.') {
        at++;
        if (!is_digit(*at))
            return false;
        for (; is_digit(*at) && place > 1; at++) {
            place /= 10;
            measure->thousandths += (*at - '0') * place;
        }
        measure->half_place = place / 2;
    }
    *text = at;
    return !is_digit(*at);
}

static bool word_take(const char **text, const char *word)
{
    size_t length = strlen(word);
    if (strncmp(*text, word, length) != 0)
        return false;
    *text += length;
    return true;
}

/* A comma or the end. */
static bool list_goes_on(const char **text)
{
    return **text == ',' ? (++*text, true) : false;
}

static void thousandths_add(struct request *request, const char *key, int64_t thousandths)
{
    char text[64];
    snprintf(text, sizeof text, "%s%lld.%03lld", key, (long long)(thousandths / 1000), (long long)(thousandths % 1000));
    request_add(request, text);
}

/* Square millimetres; square centimetres are a hundred of them. */
static bool area_take(const char **text, struct measure *measure)
{
    if (!measure_take(text, measure))
        return false;
    if (word_take(text, "mm2"))
        return true;
    measure->thousandths *= 100;
    measure->half_place *= 100;
    return word_take(text, "cm2");
}

static bool length_take(const char **text, struct measure *measure)
{
    return measure_take(text, measure) && word_take(text, "mm");
}

/* LENGTHxWIDTHmm. */
static bool sides_take(const char **text, struct measure *length, struct measure *width)
{
    return measure_take(text, length) && word_take(text, "x") && length_take(text, width);
}

/* The bound of lengths: half a millimetre, what a ruler reads (common practice, no source), unless one is given. */
static bool length_bound_read(const struct arguments *arguments, int64_t *thousandths)
{
    const char *text = arguments->values[OPTION_BOUND];
    struct measure bound = {500, 0};
    if (text != NULL && (!length_take(&text, &bound) || *text != '\0')) {
        complain("--bound '%s' is not good; here give millimetres, for example 0.5mm", arguments->values[OPTION_BOUND]);
        return false;
    }
    *thousandths = bound.thousandths;
    return true;
}

/* ---- Pieces ---- */

static bool areas_write(const struct arguments *arguments, struct request *request, int *count)
{
    const char *text = arguments->values[OPTION_AREA];
    const char *bound_text = arguments->values[OPTION_BOUND];
    struct measure bound = {0, 0};
    if (bound_text != NULL && (!area_take(&bound_text, &bound) || *bound_text != '\0')) {
        complain("--bound '%s' is not good; here give an area, for example 50mm2", arguments->values[OPTION_BOUND]);
        return false;
    }
    bool good = true;
    do {
        struct measure area;
        good = area_take(&text, &area);
        thousandths_add(request, *count > 0 ? ",{\"area_mm2\":" : "{\"area_mm2\":", area.thousandths);
        thousandths_add(request, ",\"bound_mm2\":", bound_text != NULL ? bound.thousandths : area.half_place);
        request_add(request, "}");
        ++*count;
    } while (good && list_goes_on(&text));
    if (good && *text == '\0')
        return true;
    complain("--area '%s' is not good; give areas of pieces with commas between, for example 62cm2 or 6200mm2",
             arguments->values[OPTION_AREA]);
    return false;
}

static bool strips_write(const struct arguments *arguments, struct request *request, int *count)
{
    const char *text = arguments->values[OPTION_MISSING];
    int64_t bound = 0;
    if (!length_bound_read(arguments, &bound))
        return false;
    const char *key = "{\"missing_mm\":[{\"length_mm\":";
    bool good = true;
    do {
        struct measure length = {0, 0};
        struct measure width = {0, 0};
        bool corner = word_take(&text, "corner:");
        good = sides_take(&text, &length, &width);
        thousandths_add(request, key, length.thousandths);
        thousandths_add(request, ",\"width_mm\":", width.thousandths);
        request_add(request, corner ? ",\"corner\":true}" : "}");
        key = ",{\"length_mm\":";
    } while (good && list_goes_on(&text));
    thousandths_add(request, "],\"bound_mm\":", bound);
    request_add(request, "}");
    *count = 1;
    if (good && *text == '\0')
        return true;
    complain("--missing '%s' is not good; give what is gone with commas between, for example 30x20mm or corner:15x10mm",
             arguments->values[OPTION_MISSING]);
    return false;
}

/* [missing:]WHOLE+PARTLY; side and bar in whole or tenth millimetres. */
static bool squares_write(const struct arguments *arguments, struct request *request, int *count)
{
    const char *text = arguments->values[OPTION_SQUARES];
    const char *bar_text = arguments->values[OPTION_BAR];
    const char *side_text = arguments->values[OPTION_SIDE];
    struct measure whole = {0, 0};
    struct measure partly = {0, 0};
    struct measure bar = {100000, 0};
    struct measure side = {5000, 0};
    int64_t bound = 0;
    bool missing = word_take(&text, "missing:");
    bool good = measure_take(&text, &whole) && word_take(&text, "+") && measure_take(&text, &partly) && *text == '\0' &&
                whole.half_place == 500 && partly.half_place == 500;
    if (!good) {
        complain("--squares '%s' is not good; give whole+cut, for example 300+40, or missing:50+12",
                 arguments->values[OPTION_SQUARES]);
        return false;
    }
    if (bar_text != NULL && (!measure_take(&bar_text, &bar) || *bar_text != '\0')) {
        complain("--bar '%s' is not good; give its length in millimetres, for example 99.5",
                 arguments->values[OPTION_BAR]);
        return false;
    }
    if (side_text != NULL && (!measure_take(&side_text, &side) || *side_text != '\0')) {
        complain("--side '%s' is not good; give millimetres, for example 5", arguments->values[OPTION_SIDE]);
        return false;
    }
    if (!length_bound_read(arguments, &bound))
        return false;
    request_add(request, missing ? "{\"missing_squares\":{\"whole\":" : "{\"squares\":{\"whole\":");
    request_add_whole(request, whole.thousandths / 1000);
    request_add(request, ",\"partly\":");
    request_add_whole(request, partly.thousandths / 1000);
    thousandths_add(request, ",\"side_mm\":", side.thousandths);
    thousandths_add(request, ",\"bar_mm\":", bar.thousandths);
    thousandths_add(request, ",\"bar_bound_mm\":", bound);
    request_add(request, "}}");
    *count = 1;
    return true;
}

static void blanks_skip(const char **text)
{
    while (**text == ' ' || **text == '\t' || **text == ',' || **text == ';')
        ++*text;
}

static bool coordinate_add(struct request *request, const char **text)
{
    struct measure number;
    blanks_skip(text);
    if (word_take(text, "-"))
        request_add(request, "-");
    if (!measure_take(text, &number))
        return false;
    thousandths_add(request, "", number.thousandths);
    return true;
}

/* One corner: two numbers with a blank or a comma between. Empty lines and lines that begin with '#' say nothing. */
static bool corner_write(struct request *request, char *line, int *corners)
{
    const char *text = line;
    line[strcspn(line, "\r\n")] = '\0';
    blanks_skip(&text);
    if (*text == '\0' || *text == '#')
        return true;
    request_add(request, *corners > 0 ? ",[" : "[");
    bool good = coordinate_add(request, &text);
    request_add(request, ",");
    good = good && coordinate_add(request, &text);
    request_add(request, "]");
    blanks_skip(&text);
    ++*corners;
    return good && *text == '\0';
}

static bool outline_write(const struct arguments *arguments, struct request *request, int *count)
{
    const char *path = arguments->values[OPTION_POLYGON];
    int64_t bound = 0;
    char line[256];
    int number = 0;
    int corners = 0;
    bool good = true;
    if (!length_bound_read(arguments, &bound))
        return false;
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        complain("cannot read '%s'; check its name and permissions", path);
        return false;
    }
    request_add(request, "{\"outline_mm\":[");
    while (good && fgets(line, sizeof line, file) != NULL) {
        number++;
        good = corner_write(request, line, &corners);
    }
    bool failed = ferror(file) != 0;
    fclose(file);
    if (failed)
        complain("cannot read '%s'; check its name and permissions", path);
    else if (!good)
        complain("%s: line %d is not good; give two numbers in millimetres for a corner, for example 12.5 66", path,
                 number);
    thousandths_add(request, "],\"bound_mm\":", bound);
    request_add(request, "}");
    *count = 1;
    return good && !failed;
}

bool pieces_write(const struct arguments *arguments, struct request *request, int *count)
{
    static const struct {
        enum option_id id;
        bool (*write)(const struct arguments *arguments, struct request *request, int *count);
    } ways[] = {{OPTION_AREA, areas_write},
                {OPTION_MISSING, strips_write},
                {OPTION_SQUARES, squares_write},
                {OPTION_POLYGON, outline_write}};
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        if (arguments->values[ways[i].id] == NULL)
            continue;
        request_add(request, ",\"pieces\":[");
        bool good = ways[i].write(arguments, request, count);
        request_add(request, "]");
        return good;
    }
    return true;
}

/* ---- Conditions and faults ---- */

/* The word up to the next separator, '-' as '_'; true when more follows. */
static bool word_add(struct request *request, const char **text, char separator)
{
    char word[64];
    size_t length = 0;
    for (; **text != '\0' && **text != separator; ++*text) {
        if (length + 1 < sizeof word)
            word[length++] = **text == '-' ? '_' : **text;
    }
    word[length] = '\0';
    request_add_text(request, word);
    return **text == separator ? (++*text, true) : false;
}

void conditions_write(struct request *request, const char *words, const char *more)
{
    request_add(request, ",\"conditions\":[");
    for (bool goes_on = words != NULL; goes_on;) {
        goes_on = word_add(request, &words, ',');
        request_add(request, goes_on ? "," : "");
    }
    if (more != NULL) {
        request_add(request, request->text[request->length - 1] == '[' ? "" : ",");
        request_add_text(request, more);
    }
    request_add(request, "]");
}

/* 9x5mm, 9mm, 12mm2, 50um, or a bare number for density. */
static bool gauge_write(struct request *request, const char **text)
{
    struct measure first;
    struct measure second;
    if (!measure_take(text, &first))
        return false;
    if (word_take(text, "x")) {
        bool good = length_take(text, &second);
        thousandths_add(request, ",\"length_mm\":", first.thousandths);
        thousandths_add(request, ",\"width_mm\":", second.thousandths);
        return good;
    }
    if (word_take(text, "mm2"))
        thousandths_add(request, ",\"area_mm2\":", first.thousandths);
    else if (word_take(text, "cm2"))
        thousandths_add(request, ",\"area_mm2\":", first.thousandths * 100);
    else if (word_take(text, "mm"))
        thousandths_add(request, ",\"length_mm\":", first.thousandths);
    else if (word_take(text, "um"))
        thousandths_add(request, ",\"thickness_um\":", first.thousandths);
    else
        thousandths_add(request, ",\"density\":", first.thousandths);
    return true;
}

bool defect_write(struct request *request, const char *text)
{
    request_add(request, "{\"defect\":");
    bool goes_on = word_add(request, &text, ':');
    if (goes_on && !is_digit(*text)) {
        request_add(request, ",\"how\":");
        goes_on = word_add(request, &text, ':');
    }
    bool good = true;
    while (good && goes_on) {
        good = gauge_write(request, &text);
        goes_on = *text == ':' ? (text++, true) : false;
    }
    request_add(request, "}");
    return good && *text == '\0';
}
