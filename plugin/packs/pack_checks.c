/*
 * The manual checks of a currency: features are described once, each note lists the ones it has, in order, with what
 * differs on that note.
 */
#include "model/names.h"
#include "model/text.h"
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <string.h>

#define CHECKS_MAX 40 /* of one note */

#define FIELDS_OF_A_FEATURE(needed)                                                                                    \
    {"feature", FIELD_TEXT, needed, 1, TEXT_ID_MAX}, {"group", FIELD_TEXT, needed, 1, TEXT_ID_MAX},                    \
        {"sense", FIELD_TEXT, needed, 1, TEXT_ID_MAX}, {"side", FIELD_TEXT, needed, 1, TEXT_ID_MAX},                   \
        {"tools", FIELD_ARRAY, false, 0, 4}, {"channels", FIELD_ARRAY, needed, 0, 8},                                  \
        {"needs", FIELD_ARRAY, false, 0, 3}, {"ends", FIELD_FLAG, false, 0, 0},                                        \
        {"wear_sensitive", FIELD_FLAG, false, 0, 0}, {"title", FIELD_TEXT, needed, 1, 48},                             \
        {"instruction", FIELD_TEXT, needed, 1, TEXT_LINE_MAX}, {"genuine", FIELD_TEXT, needed, 1, TEXT_LONG_MAX},      \
        {"tell", FIELD_TEXT, needed, 1, TEXT_LONG_MAX}, {"hint", FIELD_TEXT, false, 1, TEXT_LONG_MAX},                 \
        {"source", FIELD_ARRAY, needed, 1, 12}, {"confidence", FIELD_TEXT, needed, 1, TEXT_ID_MAX},                    \
        {"tell_confidence", FIELD_TEXT, needed, 1, TEXT_ID_MAX},                                                       \
    {                                                                                                                  \
        "box", FIELD_ANY, false, 0, 0                                                                                  \
    }

static const struct field feature_fields[] = {FIELDS_OF_A_FEATURE(true)};
static const struct field use_fields[] = {FIELDS_OF_A_FEATURE(false), {"use", FIELD_TEXT, true, 1, TEXT_ID_MAX}};

static const struct field box_fields[] = {
    {"left", FIELD_FRACTION, true, 0, 0},    {"top", FIELD_FRACTION, true, 0, 0},
    {"right", FIELD_FRACTION, true, 0, 0},   {"bottom", FIELD_FRACTION, true, 0, 0},
    {"confidence", FIELD_TEXT, true, 1, 16},
};

/* ---- Words ---- */

/* Each gives a bit mask, or 0 for a word that is not known. */
static uint32_t tool_of(const char *word)
{
    static const struct {
        const char *word;
        uint32_t tool;
    } tools[] = {
        {"magnifier", CFOIL_TOOL_MAGNIFIER},
        {"uv_a", CFOIL_TOOL_UV_A},
        {"ruler", CFOIL_TOOL_RULER},
        {"known_note", CFOIL_TOOL_KNOWN_NOTE},
    };
    for (size_t i = 0; i < sizeof tools / sizeof tools[0]; i++) {
        if (strcmp(tools[i].word, word) == 0)
            return tools[i].tool;
    }
    return 0;
}

static uint32_t need_of(const char *word)
{
    if (strcmp(word, "back_light") == 0)
        return CFOIL_WITHOUT_BACK_LIGHT;
    if (strcmp(word, "colour_vision") == 0)
        return CFOIL_WITHOUT_COLOUR_VISION;
    return strcmp(word, "both_hands") == 0 ? CFOIL_WITHOUT_BOTH_HANDS : 0;
}

static uint32_t channel_of(const char *word)
{
    int32_t channel = name_channel_find(word);
    return channel > CFOIL_CHANNEL_UNKNOWN ? 1u << channel : 0;
}

/* A list of words as one mask, when it is there. */
static int32_t words_take(struct reader *reader, const cJSON *object, const char *key,
                          uint32_t (*mask_of)(const char *word), uint32_t *mask)
{
    const cJSON *list = member(object, key);
    if (list == NULL)
        return CFOIL_OK;
    uint32_t index = 0;
    const cJSON *item;
    *mask = 0;
    reader_enter(reader, key);
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index++);
        uint32_t bit = cJSON_IsString(item) ? mask_of(item->valuestring) : 0;
        if (bit == 0)
            return reader_fault(reader, "not a word that is known here; docs/packs.md lists them");
        *mask |= bit;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t sense_take(struct reader *reader, const cJSON *object, struct pack_check *check)
{
    if (member(object, "sense") == NULL)
        return CFOIL_OK;
    check->sense = name_sense_find(member_text(object, "sense"));
    if (check->sense < 0)
        return reader_fault_at(reader, "sense", "must be feel, look, tilt or tool");
    return CFOIL_OK;
}

static int32_t side_take(struct reader *reader, const cJSON *object, struct pack_check *check)
{
    static const char *const sides[] = {"whole", "front", "back"};
    if (member(object, "side") == NULL)
        return CFOIL_OK;
    for (int32_t i = 0; i < 3; i++) {
        if (strcmp(sides[i], member_text(object, "side")) == 0) {
            check->side = i;
            return CFOIL_OK;
        }
    }
    return reader_fault_at(reader, "side", "must be whole, front or back");
}

/* ---- Boxes ---- */

static int32_t permille_of(const cJSON *box, const char *key)
{
    return (int32_t)(member(box, key)->valuedouble * 1000.0 + 0.5);
}

/* "box": null takes the feature's box away. */
static int32_t box_take(struct reader *reader, const cJSON *object, struct pack_box *box)
{
    const cJSON *value = member(object, "box");
    if (value == NULL)
        return CFOIL_OK;
    *box = (struct pack_box){0};
    if (cJSON_IsNull(value))
        return CFOIL_OK;
    reader_enter(reader, "box");
    int32_t result = reader_object_check(reader, value, box_fields, FIELD_COUNT(box_fields));
    if (result == CFOIL_OK)
        result = reader_confidence(reader, value, "confidence", &box->confidence);
    if (result != CFOIL_OK)
        return result;
    box->known = true;
    box->left_permille = permille_of(value, "left");
    box->top_permille = permille_of(value, "top");
    box->right_permille = permille_of(value, "right");
    box->bottom_permille = permille_of(value, "bottom");
    if (box->left_permille >= box->right_permille)
        return reader_fault(reader, "left must be smaller than right");
    if (box->top_permille >= box->bottom_permille)
        return reader_fault(reader, "top must be smaller than bottom (0 is the upper edge)");
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- One check ---- */

static void text_take(const cJSON *object, const char *key, const char **target)
{
    const cJSON *value = member(object, key);
    if (value != NULL)
        *target = value->valuestring;
}

static void texts_take(const cJSON *object, struct pack_check *check)
{
    text_take(object, "feature", &check->feature);
    text_take(object, "group", &check->group);
    text_take(object, "title", &check->title);
    text_take(object, "instruction", &check->instruction);
    text_take(object, "genuine", &check->genuine);
    text_take(object, "tell", &check->tell);
    text_take(object, "hint", &check->hint);
    if (member(object, "ends") != NULL)
        check->ends = cJSON_IsTrue(member(object, "ends"));
    if (member(object, "wear_sensitive") != NULL)
        check->wear_sensitive = cJSON_IsTrue(member(object, "wear_sensitive"));
}

static int32_t source_take(struct reader *reader, const cJSON *object, struct pack_check *check)
{
    int32_t result = CFOIL_OK;
    if (member(object, "source") != NULL)
        result = reader_source(reader, object, "source", &check->source);
    if (result == CFOIL_OK && member(object, "confidence") != NULL)
        result = reader_confidence(reader, object, "confidence", &check->confidence);
    if (result == CFOIL_OK && member(object, "tell_confidence") != NULL)
        result = reader_confidence(reader, object, "tell_confidence", &check->tell_confidence);
    return result;
}

const struct message_name pack_text_names[PACK_TEXT_NAME_COUNT] = {
    {"value", false}, {"length_mm", true}, {"height_mm", true}};

int32_t reader_text_pattern_check(struct reader *reader, const cJSON *object, const char *key)
{
    if (member(object, key) == NULL)
        return CFOIL_OK;
    reader_enter(reader, key);
    int32_t result = reader_pattern_check(reader, "en", member_text(object, key), pack_text_names, PACK_TEXT_NAME_COUNT,
                                          NULL);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* The texts of a feature may name value and size of the note. */
static int32_t patterns_check(struct reader *reader, const cJSON *object)
{
    static const char *const keys[] = {"title", "instruction", "genuine", "tell", "hint"};
    int32_t result = CFOIL_OK;
    for (size_t i = 0; result == CFOIL_OK && i < sizeof keys / sizeof keys[0]; i++)
        result = reader_text_pattern_check(reader, object, keys[i]);
    return result;
}

/* Takes over what the object has; what it has not stays as it is. */
static int32_t check_take(struct reader *reader, const cJSON *object, struct pack_check *check)
{
    texts_take(object, check);
    int32_t result = patterns_check(reader, object);
    if (result == CFOIL_OK)
        result = sense_take(reader, object, check);
    if (result == CFOIL_OK)
        result = side_take(reader, object, check);
    if (result == CFOIL_OK)
        result = words_take(reader, object, "tools", tool_of, &check->tool);
    if (result == CFOIL_OK)
        result = words_take(reader, object, "needs", need_of, &check->needs);
    if (result == CFOIL_OK)
        result = words_take(reader, object, "channels", channel_of, &check->channels);
    if (result == CFOIL_OK)
        result = source_take(reader, object, check);
    if (result == CFOIL_OK)
        result = box_take(reader, object, &check->box);
    if (result == CFOIL_OK && (check->sense == CFOIL_SENSE_TOOL) != (check->tool != 0))
        result = reader_fault(reader, "sense 'tool' and a list of tools belong together");
    return result;
}

/* ---- Features and notes ---- */

struct features {
    uint32_t count;
    struct pack_check *checks;
};

static int32_t features_read(struct reader *reader, const cJSON *objects, struct features *features)
{
    features->checks = reader_array_make(reader, objects, sizeof *features->checks, &features->count);
    if (features->checks == NULL)
        return reader_memory_fault(reader);
    struct pack_check *check = features->checks;
    const cJSON *item;
    reader_enter(reader, "features");
    cJSON_ArrayForEach(item, objects)
    {
        reader_enter(reader, item->string);
        check->id = item->string;
        check->hint = "";
        int32_t result = reader_object_check(reader, item, feature_fields, FIELD_COUNT(feature_fields));
        if (result == CFOIL_OK && !text_acceptable(check->id, 1, TEXT_ID_MAX))
            result = reader_fault(reader, "the id of a feature has 1 to %d bytes without control characters",
                                  TEXT_ID_MAX);
        if (result == CFOIL_OK)
            result = check_take(reader, item, check);
        if (result != CFOIL_OK)
            return result;
        check++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static const struct pack_check *check_find(const struct pack_check *checks, uint32_t count, const char *id)
{
    for (uint32_t i = 0; i < count; i++) {
        if (strcmp(checks[i].id, id) == 0)
            return &checks[i];
    }
    return NULL;
}

/* One entry of a note's list: the id of a feature, or an object that uses a feature and says what differs. */
static int32_t use_read(struct reader *reader, const cJSON *item, const struct features *features,
                        struct pack_check *check)
{
    bool plain = cJSON_IsString(item);
    if (!plain && !cJSON_IsObject(item))
        return reader_fault(reader, "must be the id of a feature, or an object that uses one");
    int32_t result = plain ? CFOIL_OK : reader_object_check(reader, item, use_fields, FIELD_COUNT(use_fields));
    if (result != CFOIL_OK)
        return result;
    const char *id = plain ? item->valuestring : member_text(item, "use");
    const struct pack_check *feature = check_find(features->checks, features->count, id);
    if (feature == NULL)
        return reader_fault(reader, "there is no feature '%.40s'", id);
    *check = *feature;
    return plain ? CFOIL_OK : check_take(reader, item, check);
}

static int32_t note_checks_read(struct reader *reader, const cJSON *list, const struct features *features,
                                struct pack_note *note)
{
    uint32_t count;
    struct pack_check *checks = reader_array_make(reader, list, sizeof *checks, &count);
    if (checks == NULL)
        return reader_memory_fault(reader);
    note->checks = checks;
    const cJSON *item;
    reader_enter(reader, "checks");
    cJSON_ArrayForEach(item, list)
    {
        struct pack_check *check = &checks[note->check_count];
        reader_enter_element(reader, note->check_count);
        int32_t result = use_read(reader, item, features, check);
        if (result == CFOIL_OK && check_find(checks, note->check_count, check->id) != NULL)
            result = reader_fault(reader, "the check '%s' stands twice", check->id);
        if (result != CFOIL_OK)
            return result;
        note->check_count++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static const struct field note_fields[] = {
    FIELDS_OF_A_FACT,
    {"value_minor", FIELD_INTEGER, true, 1, 1000000000000},
    {"series", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"length_mm", FIELD_INTEGER, true, 1, 400},
    {"height_mm", FIELD_INTEGER, true, 1, 400},
    {"colour", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"style", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"issued", FIELD_TEXT, false, 10, 10},
    {"status", FIELD_TEXT, false, 1, TEXT_LINE_MAX},
    FIELDS_OF_TENDER,
    {"checks", FIELD_ARRAY, true, 1, CHECKS_MAX},
};

/* Value and series: known, and no row twice. */
static int32_t note_key_check(struct reader *reader, const struct pack_currency *currency, const struct pack_note *note)
{
    if (pack_series_find(currency, note->series) == NULL)
        return reader_fault_at(reader, "series", "there is no series '%s' in this pack", note->series);
    for (const struct pack_note *other = currency->notes; other < note; other++) {
        if (other->value_minor == note->value_minor && strcmp(other->series, note->series) == 0)
            return reader_fault(reader, "this value and series stand twice");
    }
    return CFOIL_OK;
}

/* The note's own word on its time as money, or else that of its series. */
static int32_t note_tender_read(struct reader *reader, const cJSON *object, const struct pack_currency *currency,
                                struct pack_note *note)
{
    const struct pack_series *series = pack_series_find(currency, note->series);
    note->tender_until = series->tender_until;
    note->after_tender = series->after_tender;
    int32_t result = tender_take(reader, object, &note->tender_until, &note->after_tender);
    if (result == CFOIL_OK && note->after_tender[0] != '\0' && note->tender_until[0] == '\0')
        return reader_fault(reader, "after_tender needs tender_until, here or in the series");
    return result;
}

static int32_t note_read(struct reader *reader, const cJSON *object, const struct features *features,
                         const struct pack_currency *currency, struct pack_note *note)
{
    int32_t result = reader_object_check(reader, object, note_fields, FIELD_COUNT(note_fields));
    if (result != CFOIL_OK)
        return result;
    note->value_minor = member_integer(object, "value_minor");
    note->series = member_text(object, "series");
    note->length_mm = (uint32_t)member_integer(object, "length_mm");
    note->height_mm = (uint32_t)member_integer(object, "height_mm");
    note->colour = member_text(object, "colour");
    note->style = member_text(object, "style");
    note->status = member_text(object, "status");
    result = note_key_check(reader, currency, note);
    if (result == CFOIL_OK)
        result = note_tender_read(reader, object, currency, note);
    if (result == CFOIL_OK)
        result = reader_date(reader, object, "issued", &note->issued);
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &note->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &note->confidence);
    if (result == CFOIL_OK)
        result = note_checks_read(reader, member(object, "checks"), features, note);
    return result;
}

int32_t checks_read(struct reader *reader, const cJSON *tree, struct pack_currency *currency)
{
    struct features features;
    int32_t result = features_read(reader, member(tree, "features"), &features);
    if (result != CFOIL_OK)
        return result;
    const cJSON *list = member(tree, "notes");
    currency->notes = reader_array_make(reader, list, sizeof *currency->notes, &currency->note_count);
    if (currency->notes == NULL)
        return reader_memory_fault(reader);
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "notes");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        result = note_read(reader, item, &features, currency, &currency->notes[index]);
        if (result != CFOIL_OK)
            return result;
        currency->check_count += currency->notes[index].check_count;
        index++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}
