/*
 * Reading a request. See request.h.
 */
#include "damaged/request.h"

#include "packs/fields.h"

#include <string.h>

#define SCHEMA    "counterfoil.damaged/1"
#define MONEY_MAX 1000000000000

static const struct field request_fields[] = {
    {"schema", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"currency", FIELD_TEXT, true, 3, 3},
    {"value_minor", FIELD_INTEGER, true, 1, MONEY_MAX},
    {"series", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"language", FIELD_TEXT, false, 1, 16},
    {"conditions", FIELD_ARRAY, false, 0, CONDITION_COUNT},
    {"pieces", FIELD_ARRAY, false, 0, PIECES_MAX},
    {"notes", FIELD_INTEGER, false, 1, 1000000},
    {"total_minor", FIELD_INTEGER, false, 1, MONEY_MAX},
    {"defects", FIELD_ARRAY, false, 0, DEFECTS_MAX},
};

static const struct field piece_fields[] = {
    {"area_mm2", FIELD_ANY, false, 0, 0},
    {"bound_mm2", FIELD_ANY, false, 0, 0},
    {"squares", FIELD_OBJECT, false, 1, 5},
    {"missing_squares", FIELD_OBJECT, false, 1, 5},
    {"outline_mm", FIELD_ARRAY, false, 1, OUTLINE_MAX},
    {"missing_mm", FIELD_ARRAY, false, 1, STRIPS_MAX},
    {"bound_mm", FIELD_ANY, false, 0, 0},
};

static const struct field square_fields[] = {
    {"whole", FIELD_INTEGER, true, 0, SQUARES_MAX},
    {"partly", FIELD_INTEGER, true, 0, SQUARES_MAX},
    {"side_mm", FIELD_ANY, true, 0, 0},
    {"bar_mm", FIELD_ANY, true, 0, 0},
    {"bar_bound_mm", FIELD_ANY, true, 0, 0},
};

static const struct field strip_fields[] = {
    {"length_mm", FIELD_ANY, true, 0, 0},
    {"width_mm", FIELD_ANY, true, 0, 0},
    {"corner", FIELD_FLAG, false, 0, 0},
};

static const struct field defect_fields[] = {
    {"defect", FIELD_TEXT, true, 1, TEXT_ID_MAX}, {"how", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"length_mm", FIELD_ANY, false, 0, 0},        {"width_mm", FIELD_ANY, false, 0, 0},
    {"area_mm2", FIELD_ANY, false, 0, 0},         {"thickness_um", FIELD_ANY, false, 0, 0},
    {"density", FIELD_ANY, false, 0, 0},
};

/* ---- Lengths and areas: three decimals of a millimetre are whole micrometres ---- */

static int32_t length_read(struct reader *reader, const cJSON *object, const char *key, int32_t least_um, int32_t *um)
{
    int64_t thousandths = 0;
    int32_t result = thousandths_read(reader, object, key, least_um, LENGTH_UM_MAX, &thousandths);
    *um = (int32_t)thousandths;
    return result;
}

static int32_t area_read(struct reader *reader, const cJSON *object, const char *key, int64_t *um2)
{
    int64_t thousandths = 0;
    int32_t result = thousandths_read(reader, object, key, 0, AREA_UM2_MAX / UM_PER_MM, &thousandths);
    *um2 = thousandths * UM_PER_MM;
    return result;
}

static int32_t measure_fault_tell(const struct reader *reader, enum measure_fault fault)
{
    static const char *const words[] = {
        [MEASURE_FEW_POINTS] = "an outline needs at least three points that differ",
        [MEASURE_TWICE] = "a point stands twice; give each corner once",
        [MEASURE_CROSSING] = "the outline crosses or touches itself; give the corners in order, once round",
        [MEASURE_LARGE] = "the area is far larger than any note; check the units",
    };
    return fault == MEASURE_GOOD ? CFOIL_OK : reader_fault(reader, "%s", words[fault]);
}

/* ---- One piece ---- */

static int32_t squares_read(struct reader *reader, const cJSON *piece, const char *key, struct area *area)
{
    const cJSON *squares = member(piece, key);
    int32_t side = 0;
    int32_t bar = 0;
    int32_t bound = 0;
    reader_enter(reader, key);
    int32_t result = reader_object_check(reader, squares, square_fields, FIELD_COUNT(square_fields));
    if (result == CFOIL_OK)
        result = length_read(reader, squares, "side_mm", 1, &side);
    if (result == CFOIL_OK)
        result = length_read(reader, squares, "bar_mm", GRID_BAR_UM / 2, &bar);
    if (result == CFOIL_OK)
        result = length_read(reader, squares, "bar_bound_mm", 0, &bound);
    if (result == CFOIL_OK && bound > bar)
        result = reader_fault_at(reader, "bar_bound_mm", "must not be larger than the bar");
    if (result == CFOIL_OK)
        result = measure_fault_tell(reader, squares_measure((uint32_t)member_integer(squares, "whole"),
                                                            (uint32_t)member_integer(squares, "partly"), side, bar,
                                                            bound, area));
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* A number of a pair. cJSON keeps arrays and objects alike: the element goes by its place. */
static int32_t coordinate_read(struct reader *reader, const cJSON *pair, int index, int32_t *um)
{
    const cJSON *value = cJSON_GetArrayItem(pair, index);
    reader_enter_element(reader, (uint32_t)index);
    int64_t thousandths = 0;
    int32_t result = thousandths_of(reader, value, -LENGTH_UM_MAX, LENGTH_UM_MAX, &thousandths);
    *um = (int32_t)thousandths;
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t outline_read(struct reader *reader, const cJSON *piece, int32_t bound_um, struct area *area)
{
    static const struct field pair_field = {"", FIELD_ARRAY, true, 2, 2};
    struct point points[OUTLINE_MAX];
    uint32_t count = 0;
    const cJSON *pair;
    reader_enter(reader, "outline_mm");
    cJSON_ArrayForEach(pair, member(piece, "outline_mm"))
    {
        reader_enter_element(reader, count);
        int32_t result = reader_value_check(reader, pair, &pair_field);
        if (result == CFOIL_OK)
            result = coordinate_read(reader, pair, 0, &points[count].x_um);
        if (result == CFOIL_OK)
            result = coordinate_read(reader, pair, 1, &points[count].y_um);
        if (result != CFOIL_OK)
            return result;
        count++;
        reader_leave(reader);
    }
    int32_t result = measure_fault_tell(reader, outline_measure(points, count, bound_um, area));
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t strips_read(struct reader *reader, const cJSON *piece, int32_t bound_um, struct area *missing)
{
    uint32_t index = 0;
    const cJSON *item;
    *missing = (struct area){0, 0};
    reader_enter(reader, "missing_mm");
    cJSON_ArrayForEach(item, member(piece, "missing_mm"))
    {
        int32_t length = 0;
        int32_t width = 0;
        reader_enter_element(reader, index++);
        int32_t result = reader_object_check(reader, item, strip_fields, FIELD_COUNT(strip_fields));
        if (result == CFOIL_OK)
            result = length_read(reader, item, "length_mm", 1, &length);
        if (result == CFOIL_OK)
            result = length_read(reader, item, "width_mm", 1, &width);
        if (result != CFOIL_OK)
            return result;
        struct area strip = strip_measure(length, width, bound_um, cJSON_IsTrue(member(item, "corner")));
        missing->um2 += strip.um2;
        missing->bound_um2 += strip.bound_um2;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* The one way in which this piece was measured, with the bound that belongs to it. */
static int32_t way_check(struct reader *reader, const cJSON *piece, const char **way)
{
    static const char *const ways[] = {"area_mm2", "squares", "missing_squares", "outline_mm", "missing_mm"};
    int count = 0;
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        if (member(piece, ways[i]) != NULL) {
            *way = ways[i];
            count++;
        }
    }
    if (count != 1)
        return reader_fault(reader, "give one of area_mm2, squares, missing_squares, outline_mm or missing_mm");
    bool by_area = strcmp(*way, "area_mm2") == 0;
    bool by_ruler = strcmp(*way, "outline_mm") == 0 || strcmp(*way, "missing_mm") == 0;
    if (by_area != (member(piece, "bound_mm2") != NULL))
        return reader_fault(reader, "area_mm2 and bound_mm2 belong together");
    if (by_ruler != (member(piece, "bound_mm") != NULL))
        return reader_fault(reader, "outline_mm or missing_mm and bound_mm belong together");
    return CFOIL_OK;
}

static int32_t area_given_read(struct reader *reader, const cJSON *piece, struct area *area)
{
    int32_t result = area_read(reader, piece, "area_mm2", &area->um2);
    return result == CFOIL_OK ? area_read(reader, piece, "bound_mm2", &area->bound_um2) : result;
}

static int32_t piece_measure(struct reader *reader, const cJSON *piece, int64_t note_um2, struct area *area)
{
    const char *way = "";
    int32_t bound_um = 0;
    struct area whole = {note_um2, 0};
    struct area missing = {0, 0};
    int32_t result = reader_object_check(reader, piece, piece_fields, FIELD_COUNT(piece_fields));
    if (result == CFOIL_OK)
        result = way_check(reader, piece, &way);
    if (result == CFOIL_OK && member(piece, "bound_mm") != NULL)
        result = length_read(reader, piece, "bound_mm", 0, &bound_um);
    if (result != CFOIL_OK)
        return result;
    if (strcmp(way, "area_mm2") == 0)
        return area_given_read(reader, piece, area);
    if (strcmp(way, "squares") == 0)
        return squares_read(reader, piece, way, area);
    if (strcmp(way, "outline_mm") == 0)
        return outline_read(reader, piece, bound_um, area);
    result = strcmp(way, "missing_squares") == 0 ? squares_read(reader, piece, way, &missing)
                                                 : strips_read(reader, piece, bound_um, &missing);
    *area = area_left(whole, missing);
    if (result == CFOIL_OK && area_least(missing) > note_um2)
        return reader_fault(reader, "more is missing than the note has; check the value, the series and the units");
    return result;
}

/* A piece may seem a little larger than its note (paper stretches, rulers slip); 5 % is our own limit for a slip. */
static bool larger_than_note(struct area area, int64_t note_um2)
{
    return area_least(area) > note_um2 + note_um2 / 20;
}

static int32_t pieces_read(struct reader *reader, const cJSON *tree, struct damaged_request *request)
{
    const cJSON *item;
    struct area sum = {0, 0};
    reader_enter(reader, "pieces");
    cJSON_ArrayForEach(item, member(tree, "pieces"))
    {
        struct area *piece = &request->pieces[request->piece_count];
        reader_enter_element(reader, request->piece_count);
        int32_t result = piece_measure(reader, item, request->area_um2, piece);
        if (result == CFOIL_OK && larger_than_note(*piece, request->area_um2))
            result = reader_fault(reader, "larger than the note; check the value, the series and the units");
        if (result != CFOIL_OK)
            return result;
        sum.um2 += piece->um2;
        sum.bound_um2 += piece->bound_um2;
        request->piece_count++;
        reader_leave(reader);
    }
    bool one_note = (request->conditions & 1u << CONDITION_MISMATCHED) == 0;
    if (one_note && larger_than_note(sum, request->area_um2))
        return reader_fault(reader, "the pieces together are larger than one note; pieces of different notes are "
                                    "'mismatched'");
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Conditions and defects ---- */

static int32_t conditions_read(struct reader *reader, const cJSON *tree, struct damaged_request *request)
{
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "conditions");
    cJSON_ArrayForEach(item, member(tree, "conditions"))
    {
        reader_enter_element(reader, index++);
        int32_t condition = cJSON_IsString(item) ? condition_find(item->valuestring) : -1;
        if (condition < 0)
            return reader_fault(reader, "not a condition that is known here; docs/damaged-notes.md lists them");
        request->conditions |= 1u << condition;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t defect_read(struct reader *reader, const cJSON *object, struct found_defect *found)
{
    int32_t result = reader_object_check(reader, object, defect_fields, FIELD_COUNT(defect_fields));
    if (result != CFOIL_OK)
        return result;
    int32_t defect = defect_find(member_text(object, "defect"));
    if (defect < 0)
        return reader_fault_at(reader, "defect", "not a defect that is known here; docs/damaged-notes.md lists them");
    found->defect = (enum defect)defect;
    found->how = member_text(object, "how");
    for (int gauge = 0; result == CFOIL_OK && gauge < GAUGE_COUNT; gauge++) {
        const char *key = gauge_word((enum gauge)gauge);
        if (member(object, key) == NULL)
            continue;
        result = thousandths_read(reader, object, key, 0, GAUGE_MAX, &found->thousandths[gauge]);
        found->gauges |= 1u << gauge;
    }
    return result;
}

static int32_t defects_read(struct reader *reader, const cJSON *tree, struct damaged_request *request)
{
    const cJSON *item;
    reader_enter(reader, "defects");
    cJSON_ArrayForEach(item, member(tree, "defects"))
    {
        reader_enter_element(reader, request->defect_count);
        int32_t result = defect_read(reader, item, &request->defects[request->defect_count]);
        if (result != CFOIL_OK)
            return result;
        request->defect_count++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The note ---- */

static const struct pack_area *published_find(const struct pack_exchange *exchange, const struct pack_note *note)
{
    for (uint32_t i = 0; i < exchange->area_count; i++) {
        const struct pack_area *area = &exchange->areas[i];
        if ((area->value_minor == 0 || area->value_minor == note->value_minor) &&
            (area->series[0] == '\0' || strcmp(area->series, note->series) == 0))
            return area;
    }
    return NULL;
}

int32_t damaged_note_find(const struct pack_set *packs, const char *currency, int64_t value_minor, const char *series,
                          struct damaged_request *request, cfoil_error_info *error)
{
    request->currency = pack_currency_find(packs, currency);
    request->exchange = pack_exchange_find(packs, currency);
    if (request->currency == NULL || request->exchange == NULL)
        return error_set(error, CFOIL_E_MISSING_PACK, 0, "damaged",
                         "No rules for damaged notes are loaded for the currency %.10s: add its exchange pack.",
                         currency);
    request->note = pack_note_find(request->currency, value_minor, series);
    if (request->note == NULL)
        return error_set(error, CFOIL_E_MISSING_NOTE, 0, "damaged",
                         "The pack of %.10s has no such note: give a value and series that the catalogue lists.",
                         currency);
    request->published = published_find(request->exchange, request->note);
    int64_t area_mm2 = request->published != NULL ? request->published->area_mm2
                                                  : (int64_t)request->note->length_mm * request->note->height_mm;
    request->area_um2 = area_mm2 * UM2_PER_MM2;
    return CFOIL_OK;
}

static int32_t note_read(struct reader *reader, const struct pack_set *packs, const cJSON *tree,
                         struct damaged_request *request)
{
    request->language = member_text(tree, "language");
    if (!pack_language_known(packs, request->language))
        return error_set(reader->error, CFOIL_E_MISSING_LANGUAGE, 0, "damaged",
                         "There are no texts in the language %.16s: load a pack, or leave it out for English.",
                         request->language);
    const char *series = member(tree, "series") != NULL ? member_text(tree, "series") : NULL;
    return damaged_note_find(packs, member_text(tree, "currency"), member_integer(tree, "value_minor"), series, request,
                             reader->error);
}

int32_t request_read(struct reader *reader, const struct pack_set *packs, const cJSON *tree,
                     struct damaged_request *request)
{
    memset(request, 0, sizeof *request);
    int32_t result = reader_object_check(reader, tree, request_fields, FIELD_COUNT(request_fields));
    if (result == CFOIL_OK && strcmp(member_text(tree, "schema"), SCHEMA) != 0)
        result = reader_fault_at(reader, "schema", "must be " SCHEMA);
    if (result == CFOIL_OK)
        result = note_read(reader, packs, tree, request);
    if (result == CFOIL_OK)
        result = conditions_read(reader, tree, request);
    if (result == CFOIL_OK)
        result = pieces_read(reader, tree, request);
    if (result == CFOIL_OK)
        result = defects_read(reader, tree, request);
    if (result != CFOIL_OK)
        return result;
    if (request->conditions == 0 && request->piece_count == 0 && request->defect_count == 0)
        return reader_fault(reader, "say what is wrong with the note: conditions, pieces or defects");
    request->notes = member(tree, "notes") != NULL ? member_integer(tree, "notes") : 1;
    request->total_minor = member(tree, "total_minor") != NULL ? member_integer(tree, "total_minor")
                                                               : request->notes * request->note->value_minor;
    return CFOIL_OK;
}
