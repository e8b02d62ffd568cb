/*
 * From when on a note should not go out again: reading the limits.
 */
#include "packs/fields.h"
#include "packs/pack_exchange_read.h"

#include <string.h>

static const struct field fitness_fields[] = {
    FIELDS_OF_A_FACT,
    {"defect", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"by", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"unfit", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"how", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"series", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"value_minor", FIELD_INTEGER, false, 1, 1000000000000},
    {"bounds", FIELD_ARRAY, false, 1, FITNESS_BOUNDS_MAX},
};

static const struct field bound_fields[] = {
    {"gauge", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"above", FIELD_ANY, false, 0, 0},
    {"at_least", FIELD_ANY, false, 0, 0},
};

static const char *const defect_words[DEFECT_COUNT] = {
    [DEFECT_SOIL] = "soil",         [DEFECT_STAIN] = "stain",
    [DEFECT_GRAFFITI] = "graffiti", [DEFECT_WASHED_OUT] = "washed_out",
    [DEFECT_TEAR] = "tear",         [DEFECT_HOLE] = "hole",
    [DEFECT_MISSING] = "missing",   [DEFECT_REPAIR] = "repair",
    [DEFECT_CRUMPLED] = "crumpled", [DEFECT_LIMP] = "limp",
    [DEFECT_FOLD] = "fold",         [DEFECT_FOLDED_CORNER] = "folded_corner",
};

static const char *const gauge_words[GAUGE_COUNT] = {
    [GAUGE_LENGTH_MM] = "length_mm",       [GAUGE_WIDTH_MM] = "width_mm", [GAUGE_AREA_MM2] = "area_mm2",
    [GAUGE_THICKNESS_UM] = "thickness_um", [GAUGE_DENSITY] = "density",
};

static const char *const unfit_words[] = {
    [FITNESS_LIMITS] = "beyond_bounds",
    [FITNESS_SEEN] = "when_seen",
    [FITNESS_UNFOLD] = "not_once_unfolded",
    [FITNESS_GAP] = "no_limit_known",
};

const char *defect_word(enum defect defect)
{
    return defect_words[defect];
}

int32_t defect_find(const char *word)
{
    return word_find(defect_words, DEFECT_COUNT, word);
}

const char *gauge_word(enum gauge gauge)
{
    return gauge_words[gauge];
}

static int32_t bound_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_bound *bound = target;
    int32_t gauge = 0;
    int32_t result = reader_object_check(reader, object, bound_fields, FIELD_COUNT(bound_fields));
    if (result == CFOIL_OK)
        result = word_read(reader, object, "gauge", gauge_words, GAUGE_COUNT, &gauge);
    if (result != CFOIL_OK)
        return result;
    bound->gauge = (enum gauge)gauge;
    bound->inclusive = member(object, "at_least") != NULL;
    if (bound->inclusive == (member(object, "above") != NULL))
        return reader_fault(reader, "give either above or at_least");
    return thousandths_read(reader, object, bound->inclusive ? "at_least" : "above", 0, GAUGE_MAX, &bound->thousandths);
}

int32_t fitness_row_read(struct reader *reader, const cJSON *object, void *target)
{
    static const char *const by[] = {"hand", "machine"};
    struct pack_fitness *row = target;
    int32_t defect = 0;
    int32_t unfit = 0;
    int32_t machine = 0;
    void *bounds = NULL;
    int32_t result = reader_object_check(reader, object, fitness_fields, FIELD_COUNT(fitness_fields));
    if (result == CFOIL_OK)
        result = word_read(reader, object, "defect", defect_words, DEFECT_COUNT, &defect);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "by", by, 2, &machine);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "unfit", unfit_words, FIELD_COUNT(unfit_words), &unfit);
    if (result == CFOIL_OK)
        result = exchange_rows_read(reader, object, "bounds", sizeof *row->bounds, bound_read, &bounds,
                                    &row->bound_count);
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &row->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &row->confidence);
    if (result != CFOIL_OK)
        return result;
    row->defect = (enum defect)defect;
    row->kind = (enum fitness_rule)unfit;
    row->by_machine = machine == 1;
    row->how = member_text(object, "how");
    row->series = member_text(object, "series");
    row->value_minor = member_integer(object, "value_minor");
    if ((row->kind == FITNESS_LIMITS) != (row->bound_count != 0))
        return reader_fault(reader, "'beyond_bounds' and bounds belong together");
    memcpy(row->bounds, bounds, row->bound_count * sizeof *row->bounds);
    return CFOIL_OK;
}
