/*
 * Rules for damaged notes: reading them. Fitness has a file of its own.
 */
#include "packs/pack_exchange.h"

#include "packs/fields.h"
#include "packs/pack_data.h"
#include "packs/pack_exchange_read.h"

#include <string.h>

#define MONEY_MAX 1000000000000

static const struct field exchange_fields[] = {
    FIELDS_OF_EVERY_PACK,
    {"title", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    {"scales", FIELD_ARRAY, true, 1, 8},
    {"areas", FIELD_ARRAY, false, 1, 100},
    {"designs", FIELD_ARRAY, false, 1, 40},
    {"conditions", FIELD_ARRAY, true, 0, 40},
    {"quotas", FIELD_ARRAY, false, 1, 20},
    {"topics", FIELD_ARRAY, true, 1, 40},
    {"fitness", FIELD_ARRAY, false, 1, 80},
    {"sources", FIELD_OBJECT, true, 1, 100},
};

#define FIELDS_OF_A_RULE                                                                                               \
    FIELDS_OF_A_FACT,                                                                                                  \
    {                                                                                                                  \
        "text", FIELD_TEXT, true, 1, TEXT_LONG_MAX                                                                     \
    }
#define FIELDS_OF_VALUES                                                                                               \
    {"from_minor", FIELD_INTEGER, false, 1, MONEY_MAX},                                                                \
    {                                                                                                                  \
        "below_minor", FIELD_INTEGER, false, 1, MONEY_MAX                                                              \
    }

static const struct field scale_fields[] = {
    FIELDS_OF_VALUES,
    {"measured", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"round_up_mm2", FIELD_INTEGER, false, 1, 10000},
    {"steps", FIELD_ARRAY, true, 1, EXCHANGE_STEPS_MAX},
    {"rest", FIELD_OBJECT, true, 1, 10},
    {"pair", FIELD_OBJECT, false, 1, 10},
};

static const struct field step_fields[] = {
    FIELDS_OF_A_RULE,
    {"outcome", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"above_permille", FIELD_INTEGER, false, 0, 1000},
    {"at_least_permille", FIELD_INTEGER, false, 1, 1000},
};

static const struct field rest_fields[] = {
    FIELDS_OF_A_RULE,
    {"outcome", FIELD_TEXT, true, 1, TEXT_ID_MAX},
};

static const struct field pair_fields[] = {
    FIELDS_OF_A_RULE,
    {"each", FIELD_TEXT, true, 1, TEXT_ID_MAX},
};

static const struct field area_fields[] = {
    FIELDS_OF_A_FACT,
    {"value_minor", FIELD_INTEGER, false, 1, MONEY_MAX},
    {"series", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"area_mm2", FIELD_INTEGER, true, 1, 160000},
    {"limits", FIELD_ARRAY, false, 1, EXCHANGE_STEPS_MAX},
};

static const struct field limit_fields[] = {
    {"at_least_mm2", FIELD_INTEGER, true, 1, 160000},
    {"confidence", FIELD_TEXT, true, 1, TEXT_ID_MAX},
};

static const struct field design_fields[] = {
    FIELDS_OF_A_RULE,
    {"value_minor", FIELD_INTEGER, false, 1, MONEY_MAX},
    {"series", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"outcome", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"where", FIELD_TEXT, false, 1, TEXT_LONG_MAX},
};

static const struct field condition_fields[] = {
    FIELDS_OF_A_RULE,
    FIELDS_OF_VALUES,
    {"condition", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"effect", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"outcome", FIELD_TEXT, false, 1, TEXT_ID_MAX},
    {"decline", FIELD_FLAG, false, 0, 0},
    {"where", FIELD_TEXT, false, 1, TEXT_LONG_MAX},
    {"packing", FIELD_TEXT, false, 1, TEXT_LONG_MAX},
};

static const struct field quota_fields[] = {
    FIELDS_OF_A_RULE,
    {"kind", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"notes_from", FIELD_INTEGER, false, 1, 1000000},
    {"notes_to", FIELD_INTEGER, false, 1, 1000000},
    {"total_from_minor", FIELD_INTEGER, false, 1, MONEY_MAX},
    {"total_to_minor", FIELD_INTEGER, false, 1, MONEY_MAX},
};

static const struct field topic_fields[] = {
    FIELDS_OF_A_RULE,
    {"topic", FIELD_TEXT, true, 1, TEXT_ID_MAX},
};

/* ---- Words ---- */

static const char *const worth_words[WORTH_COUNT] = {
    [WORTH_UNKNOWN] = "not_known",
    [WORTH_FULL] = "full",
    [WORTH_HALF] = "half",
    [WORTH_NIL] = "nil",
    [WORTH_WITH_PROOF] = "with_proof",
    [WORTH_SPECIAL_OFFICE] = "special_office",
    [WORTH_REFUSED] = "refused",
};

static const char *const condition_words[CONDITION_COUNT] = {
    [CONDITION_SOILED] = "soiled",
    [CONDITION_SCRIBBLED] = "scribbled",
    [CONDITION_WASHED] = "washed",
    [CONDITION_TWO_PIECES] = "two_pieces",
    [CONDITION_SEVERAL_PIECES] = "several_pieces",
    [CONDITION_PART_MISSING] = "part_missing",
    [CONDITION_MISMATCHED] = "mismatched",
    [CONDITION_FEATURES_MISSING] = "features_missing",
    [CONDITION_BRITTLE] = "brittle",
    [CONDITION_BURNT] = "burnt",
    [CONDITION_STUCK_TOGETHER] = "stuck_together",
    [CONDITION_CONTAMINATED] = "contaminated",
    [CONDITION_DYE_STAINED] = "dye_stained",
    [CONDITION_DAMAGED_ON_PURPOSE] = "damaged_on_purpose",
    [CONDITION_MESSAGE] = "message",
    [CONDITION_ALTERED] = "altered",
    [CONDITION_STAMPED] = "stamped",
    [CONDITION_DESTROYED] = "destroyed",
};

static const char *const topic_words[TOPIC_COUNT] = {
    [TOPIC_DECIDES] = "decides",   [TOPIC_WHERE] = "where",     [TOPIC_PACKING] = "packing",
    [TOPIC_FEATURES] = "features", [TOPIC_PAYMENT] = "payment", [TOPIC_SHOP] = "shop",
};

static const char *const effect_words[] = {
    [EFFECT_BY_AREA] = "by_area",
    [EFFECT_PART] = "part",
    [EFFECT_EACH_PIECE] = "each_piece",
    [EFFECT_OUTCOME] = "outcome",
};

static const char *const kind_words[] = {
    [EXCHANGE_SOILED] = "soiled", [EXCHANGE_DAMAGED] = "damaged", [EXCHANGE_ANY] = "any"};

int32_t word_find(const char *const *words, size_t count, const char *word)
{
    for (size_t i = 0; i < count; i++) {
        if (words[i] != NULL && strcmp(words[i], word) == 0)
            return (int32_t)i;
    }
    return -1;
}

const char *worth_word(enum worth worth)
{
    return worth_words[worth];
}

const char *condition_word(enum condition condition)
{
    return condition_words[condition];
}

int32_t condition_find(const char *word)
{
    return word_find(condition_words, CONDITION_COUNT, word);
}

const char *topic_word(enum exchange_topic topic)
{
    return topic_words[topic];
}

/* ---- Parts of a row ---- */

int32_t word_read(struct reader *reader, const cJSON *object, const char *key, const char *const *words, size_t count,
                  int32_t *found)
{
    *found = word_find(words, count, member_text(object, key));
    if (*found >= 0)
        return CFOIL_OK;
    return reader_fault_at(reader, key, "'%.40s' is not a word that is known here; docs/packs.md lists them",
                           member_text(object, key));
}

static int32_t worth_read(struct reader *reader, const cJSON *object, enum worth *worth)
{
    int32_t found;
    int32_t result = word_read(reader, object, "outcome", worth_words, WORTH_COUNT, &found);
    if (result == CFOIL_OK)
        *worth = (enum worth)found;
    return result;
}

static int32_t exchange_rule_read(struct reader *reader, const cJSON *object, struct pack_rule *rule)
{
    rule->text = member_text(object, "text");
    reader_enter(reader, "text");
    int32_t result = reader_pattern_check(reader, "en", rule->text, NULL, 0, NULL);
    if (result != CFOIL_OK)
        return result;
    reader_leave(reader);
    result = reader_source(reader, object, "source", &rule->source);
    return result == CFOIL_OK ? reader_confidence(reader, object, "confidence", &rule->confidence) : result;
}

/* An object of an array or under a key: its keys, then its rule. */
static int32_t ruled_read(struct reader *reader, const cJSON *object, const struct field *fields, size_t count,
                          struct pack_rule *rule)
{
    int32_t result = reader_object_check(reader, object, fields, count);
    return result == CFOIL_OK ? exchange_rule_read(reader, object, rule) : result;
}

static int32_t values_read(struct reader *reader, const cJSON *object, int64_t *from_minor, int64_t *below_minor)
{
    *from_minor = member_integer(object, "from_minor");
    *below_minor = member_integer(object, "below_minor");
    if (*below_minor != 0 && *below_minor <= *from_minor)
        return reader_fault(reader, "below_minor must be greater than from_minor");
    return CFOIL_OK;
}

int32_t exchange_rows_read(struct reader *reader, const cJSON *tree, const char *key, size_t size, exchange_row row,
                           void **rows, uint32_t *count)
{
    const cJSON *list = member(tree, key);
    unsigned char *made = reader_array_make(reader, list, size, count);
    if (made == NULL)
        return reader_memory_fault(reader);
    *rows = made;
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, key);
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = row(reader, item, made + index++ * size);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Scales ---- */

static int32_t step_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_step *step = target;
    int32_t result = ruled_read(reader, object, step_fields, FIELD_COUNT(step_fields), &step->rule);
    if (result == CFOIL_OK)
        result = worth_read(reader, object, &step->outcome);
    if (result != CFOIL_OK)
        return result;
    step->inclusive = member(object, "at_least_permille") != NULL;
    if (step->inclusive == (member(object, "above_permille") != NULL))
        return reader_fault(reader, "give either above_permille or at_least_permille");
    step->permille = (int32_t)member_integer(object, step->inclusive ? "at_least_permille" : "above_permille");
    return CFOIL_OK;
}

static int32_t steps_read(struct reader *reader, const cJSON *tree, struct pack_scale *scale)
{
    void *rows;
    int32_t result = exchange_rows_read(reader, tree, "steps", sizeof *scale->steps, step_read, &rows,
                                        &scale->step_count);
    if (result != CFOIL_OK)
        return result;
    memcpy(scale->steps, rows, scale->step_count * sizeof *scale->steps);
    for (uint32_t i = 1; i < scale->step_count; i++) {
        if (scale->steps[i].permille >= scale->steps[i - 1].permille)
            return reader_fault_at(reader, "steps", "each step must be lower than the one before");
    }
    return CFOIL_OK;
}

static int32_t rest_read(struct reader *reader, const cJSON *tree, struct pack_scale *scale)
{
    const cJSON *rest = member(tree, "rest");
    reader_enter(reader, "rest");
    int32_t result = ruled_read(reader, rest, rest_fields, FIELD_COUNT(rest_fields), &scale->rest_rule);
    if (result == CFOIL_OK)
        result = worth_read(reader, rest, &scale->rest);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* "each" names the step by its outcome. */
static int32_t pair_read(struct reader *reader, const cJSON *tree, struct pack_scale *scale)
{
    const cJSON *pair = member(tree, "pair");
    scale->pair_step = -1;
    if (pair == NULL)
        return CFOIL_OK;
    reader_enter(reader, "pair");
    int32_t result = ruled_read(reader, pair, pair_fields, FIELD_COUNT(pair_fields), &scale->pair_rule);
    if (result != CFOIL_OK)
        return result;
    for (uint32_t i = 0; i < scale->step_count; i++) {
        if (strcmp(worth_word(scale->steps[i].outcome), member_text(pair, "each")) == 0)
            scale->pair_step = (int32_t)i;
    }
    if (scale->pair_step < 0)
        return reader_fault_at(reader, "each", "must be the outcome of one of the steps");
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t scale_read(struct reader *reader, const cJSON *object, void *target)
{
    static const char *const measured[] = {"all_pieces", "largest_piece"};
    struct pack_scale *scale = target;
    int32_t found = 0;
    int32_t result = reader_object_check(reader, object, scale_fields, FIELD_COUNT(scale_fields));
    if (result == CFOIL_OK)
        result = values_read(reader, object, &scale->from_minor, &scale->below_minor);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "measured", measured, 2, &found);
    if (result == CFOIL_OK)
        result = steps_read(reader, object, scale);
    if (result == CFOIL_OK)
        result = rest_read(reader, object, scale);
    if (result == CFOIL_OK)
        result = pair_read(reader, object, scale);
    scale->largest_only = found == 1;
    scale->round_up_mm2 = (int32_t)member_integer(object, "round_up_mm2");
    return result;
}

/* ---- Published areas and designs ---- */

struct limit {
    int32_t mm2;
    enum confidence confidence;
};

static int32_t limit_read(struct reader *reader, const cJSON *object, void *target)
{
    struct limit *limit = target;
    int32_t result = reader_object_check(reader, object, limit_fields, FIELD_COUNT(limit_fields));
    if (result != CFOIL_OK)
        return result;
    limit->mm2 = (int32_t)member_integer(object, "at_least_mm2");
    return reader_confidence(reader, object, "confidence", &limit->confidence);
}

static int32_t area_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_area *area = target;
    int32_t result = reader_object_check(reader, object, area_fields, FIELD_COUNT(area_fields));
    void *rows = NULL;
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &area->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &area->confidence);
    if (result == CFOIL_OK)
        result = exchange_rows_read(reader, object, "limits", sizeof(struct limit), limit_read, &rows,
                                    &area->limit_count);
    if (result != CFOIL_OK)
        return result;
    area->value_minor = member_integer(object, "value_minor");
    area->series = member_text(object, "series");
    area->area_mm2 = (int32_t)member_integer(object, "area_mm2");
    const struct limit *limits = rows;
    for (uint32_t i = 0; limits != NULL && i < area->limit_count; i++) {
        area->limits_mm2[i] = limits[i].mm2;
        area->limit_confidence[i] = limits[i].confidence;
        if (limits[i].mm2 > (i == 0 ? area->area_mm2 : limits[i - 1].mm2))
            return reader_fault_at(reader, "limits", "must fall, from at most the note's area");
    }
    return CFOIL_OK;
}

static int32_t design_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_design *design = target;
    int32_t result = ruled_read(reader, object, design_fields, FIELD_COUNT(design_fields), &design->rule);
    design->has_outcome = member(object, "outcome") != NULL;
    if (result == CFOIL_OK && design->has_outcome)
        result = worth_read(reader, object, &design->outcome);
    design->value_minor = member_integer(object, "value_minor");
    design->series = member_text(object, "series");
    design->where = member_text(object, "where");
    return result;
}

/* ---- Conditions, quotas, topics ---- */

static int32_t condition_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_condition *row = target;
    int32_t condition = 0;
    int32_t effect = 0;
    int32_t result = ruled_read(reader, object, condition_fields, FIELD_COUNT(condition_fields), &row->rule);
    if (result == CFOIL_OK)
        result = values_read(reader, object, &row->from_minor, &row->below_minor);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "condition", condition_words, CONDITION_COUNT, &condition);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "effect", effect_words, FIELD_COUNT(effect_words), &effect);
    if (result != CFOIL_OK)
        return result;
    row->condition = (enum condition)condition;
    row->effect = (enum condition_effect)effect;
    row->decline = cJSON_IsTrue(member(object, "decline"));
    row->where = member_text(object, "where");
    row->packing = member_text(object, "packing");
    if ((row->effect == EFFECT_OUTCOME) != (member(object, "outcome") != NULL))
        return reader_fault(reader, "effect 'outcome' and an outcome belong together");
    return row->effect == EFFECT_OUTCOME ? worth_read(reader, object, &row->outcome) : CFOIL_OK;
}

static int32_t quota_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_quota *quota = target;
    int32_t kind = 0;
    int32_t result = ruled_read(reader, object, quota_fields, FIELD_COUNT(quota_fields), &quota->rule);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "kind", kind_words, FIELD_COUNT(kind_words), &kind);
    quota->kind = (enum exchange_kind)kind;
    quota->notes_from = member_integer(object, "notes_from");
    quota->notes_to = member_integer(object, "notes_to");
    quota->total_from_minor = member_integer(object, "total_from_minor");
    quota->total_to_minor = member_integer(object, "total_to_minor");
    return result;
}

static int32_t topic_read(struct reader *reader, const cJSON *object, void *target)
{
    struct pack_topic *topic = target;
    int32_t found = 0;
    int32_t result = ruled_read(reader, object, topic_fields, FIELD_COUNT(topic_fields), &topic->rule);
    if (result == CFOIL_OK)
        result = word_read(reader, object, "topic", topic_words, TOPIC_COUNT, &found);
    topic->topic = (enum exchange_topic)found;
    return result;
}

/* ---- The whole ---- */

/* Nothing once something has failed. */
static void *rows_take(struct reader *reader, const cJSON *tree, const char *key, size_t size, exchange_row row,
                       uint32_t *count, int32_t *result)
{
    void *rows = NULL;
    if (*result == CFOIL_OK)
        *result = exchange_rows_read(reader, tree, key, size, row, &rows, count);
    return rows;
}

static int32_t head_read(struct reader *reader, const cJSON *tree, struct pack_exchange *exchange)
{
    int32_t result = reader_object_check(reader, tree, exchange_fields, FIELD_COUNT(exchange_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "id");
    if (result == CFOIL_OK)
        result = reader_sources_read(reader, tree);
    if (result != CFOIL_OK)
        return result;
    exchange->currency = member_text(tree, "id");
    exchange->title = member_text(tree, "title");
    return CFOIL_OK;
}

static bool ranges_overlap(const struct pack_scale *a, const struct pack_scale *b)
{
    return (a->below_minor == 0 || b->from_minor < a->below_minor) &&
           (b->below_minor == 0 || a->from_minor < b->below_minor);
}

/* The scale a value is judged by must be one; a published row's limits must belong to it. */
static int32_t whole_check(struct reader *reader, const struct pack_exchange *exchange)
{
    for (uint32_t i = 0; i < exchange->scale_count; i++) {
        for (uint32_t j = 0; j < i; j++) {
            if (ranges_overlap(&exchange->scales[i], &exchange->scales[j]))
                return reader_fault_at(reader, "scales", "two scales speak of the same value");
        }
    }
    for (uint32_t i = 0; i < exchange->area_count; i++) {
        const struct pack_area *area = &exchange->areas[i];
        const struct pack_scale *scale = pack_scale_find(exchange, area->value_minor);
        if (area->limit_count != 0 && (scale == NULL || scale->step_count != area->limit_count))
            return reader_fault_at(reader, "areas", "row %u: give one limit for each step of the value's scale",
                                   (unsigned)i);
    }
    return CFOIL_OK;
}

int32_t pack_exchange_read(struct reader *reader, const cJSON *tree, struct pack_exchange *exchange)
{
    int32_t result = head_read(reader, tree, exchange);
    exchange->scales = rows_take(reader, tree, "scales", sizeof *exchange->scales, scale_read, &exchange->scale_count,
                                 &result);
    exchange->areas = rows_take(reader, tree, "areas", sizeof *exchange->areas, area_read, &exchange->area_count,
                                &result);
    exchange->designs = rows_take(reader, tree, "designs", sizeof *exchange->designs, design_read,
                                  &exchange->design_count, &result);
    exchange->conditions = rows_take(reader, tree, "conditions", sizeof *exchange->conditions, condition_read,
                                     &exchange->condition_count, &result);
    exchange->quotas = rows_take(reader, tree, "quotas", sizeof *exchange->quotas, quota_read, &exchange->quota_count,
                                 &result);
    exchange->topics = rows_take(reader, tree, "topics", sizeof *exchange->topics, topic_read, &exchange->topic_count,
                                 &result);
    exchange->fitness = rows_take(reader, tree, "fitness", sizeof *exchange->fitness, fitness_row_read,
                                  &exchange->fitness_count, &result);
    return result == CFOIL_OK ? whole_check(reader, exchange) : result;
}

/* ---- Looking up ---- */

static bool value_between(int64_t value_minor, int64_t from_minor, int64_t below_minor)
{
    return value_minor >= from_minor && (below_minor == 0 || value_minor < below_minor);
}

const struct pack_scale *pack_scale_find(const struct pack_exchange *exchange, int64_t value_minor)
{
    for (uint32_t i = 0; i < exchange->scale_count; i++) {
        if (value_between(value_minor, exchange->scales[i].from_minor, exchange->scales[i].below_minor))
            return &exchange->scales[i];
    }
    return NULL;
}

const struct pack_condition *pack_condition_find(const struct pack_exchange *exchange, enum condition condition,
                                                 int64_t value_minor)
{
    for (uint32_t i = 0; i < exchange->condition_count; i++) {
        const struct pack_condition *row = &exchange->conditions[i];
        if (row->condition == condition && value_between(value_minor, row->from_minor, row->below_minor))
            return row;
    }
    return NULL;
}

const struct pack_exchange *pack_exchange_find(const struct pack_set *set, const char *currency)
{
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind == PACK_EXCHANGE && strcmp(pack->id, currency) == 0)
            return &pack->as.exchange;
    }
    return NULL;
}

/* ---- Every text ---- */

static void scale_visit(const struct pack_scale *scale, exchange_visitor visit, void *user)
{
    for (uint32_t i = 0; i < scale->step_count; i++)
        visit(user, &scale->steps[i].rule);
    visit(user, &scale->rest_rule);
    if (scale->pair_step >= 0)
        visit(user, &scale->pair_rule);
}

/* A text that stands beside a rule and shares its source. */
static void beside_visit(const struct pack_rule *rule, const char *text, exchange_visitor visit, void *user)
{
    struct pack_rule beside = {text, rule->source, rule->confidence};
    if (text[0] != '\0')
        visit(user, &beside);
}

void pack_exchange_visit(const struct pack_exchange *exchange, exchange_visitor visit, void *user)
{
    for (uint32_t i = 0; i < exchange->scale_count; i++)
        scale_visit(&exchange->scales[i], visit, user);
    for (uint32_t i = 0; i < exchange->design_count; i++) {
        visit(user, &exchange->designs[i].rule);
        beside_visit(&exchange->designs[i].rule, exchange->designs[i].where, visit, user);
    }
    for (uint32_t i = 0; i < exchange->condition_count; i++) {
        const struct pack_condition *row = &exchange->conditions[i];
        visit(user, &row->rule);
        beside_visit(&row->rule, row->where, visit, user);
        beside_visit(&row->rule, row->packing, visit, user);
    }
    for (uint32_t i = 0; i < exchange->quota_count; i++)
        visit(user, &exchange->quotas[i].rule);
    for (uint32_t i = 0; i < exchange->topic_count; i++)
        visit(user, &exchange->topics[i].rule);
}
