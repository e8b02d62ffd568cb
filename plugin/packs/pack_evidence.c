/*
 * The figures that evidence is weighed with: published looks at notes, ranks of features, base rate and false rejects.
 */
#include "packs/pack_evidence.h"

#include "model/names.h"
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <string.h>

#define EVIDENCE_ID "evidence"

static const struct field evidence_fields[] = {
    FIELDS_OF_EVERY_PACK,
    {"title", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    {"looks", FIELD_ARRAY, true, 1, 40},
    {"senses", FIELD_OBJECT, true, 0, 4},
    {"whole", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"ranks", FIELD_ARRAY, true, 0, 40},
    {"prior", FIELD_OBJECT, true, 1, 10},
    {"false_rejects", FIELD_OBJECT, true, 1, 10},
    {"sources", FIELD_OBJECT, true, 1, 100},
};

static const struct field look_fields[] = {
    FIELDS_OF_A_FACT,
    {"id", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"title", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    {"hit", FIELD_FRACTION, false, 0, 0},
    {"false_alarm", FIELD_FRACTION, false, 0, 0},
    {"d_prime", FIELD_ANY, false, 0, 0},
    {"differs", FIELD_OBJECT, true, 2, 2},
    {"passes", FIELD_OBJECT, true, 2, 2},
};

static const struct field range_fields[] = {{"low", FIELD_ANY, true, 0, 0}, {"high", FIELD_ANY, true, 0, 0}};

static const struct field sense_fields[] = {
    {"look", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"at_least", FIELD_FLAG, false, 0, 0},
};

static const struct field rank_fields[] = {
    FIELDS_OF_A_FACT,
    {"rank", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"features", FIELD_ARRAY, true, 1, 40},
};

static const struct field prior_fields[] = {
    FIELDS_OF_A_FACT,
    {"low", FIELD_ANY, true, 0, 0},
    {"centre", FIELD_ANY, true, 0, 0},
    {"high", FIELD_ANY, true, 0, 0},
};

static const struct field reject_fields[] = {
    FIELDS_OF_A_FACT,
    {"low", FIELD_FRACTION, true, 0, 0},
    {"high", FIELD_FRACTION, true, 0, 0},
    {"worth", FIELD_INTEGER, true, 1, 10000},
    {"needed", FIELD_INTEGER, true, 1, 1000000},
};

/* ---- Numbers ---- */

/* A number greater than `above` and smaller than `below`. */
static int32_t number_read(struct reader *reader, const cJSON *object, const char *key, double above, double below,
                           double *number)
{
    const cJSON *value = member(object, key);
    if (!cJSON_IsNumber(value) || !(value->valuedouble > above && value->valuedouble < below))
        return reader_fault_at(reader, key, "must be a number greater than %g and smaller than %g", above, below);
    *number = value->valuedouble;
    return CFOIL_OK;
}

static int32_t source_read(struct reader *reader, const cJSON *object, const char **source, enum confidence *confidence)
{
    int32_t result = reader_source(reader, object, "source", source);
    return result == CFOIL_OK ? reader_confidence(reader, object, "confidence", confidence) : result;
}

/* A range of likelihood ratios on one side of 1. */
static int32_t range_read(struct reader *reader, const cJSON *object, const char *key, double above, double below,
                          double *low, double *high)
{
    const cJSON *range = member(object, key);
    reader_enter(reader, key);
    int32_t result = reader_object_check(reader, range, range_fields, FIELD_COUNT(range_fields));
    if (result == CFOIL_OK)
        result = number_read(reader, range, "low", above, below, low);
    if (result == CFOIL_OK)
        result = number_read(reader, range, "high", above, below, high);
    if (result == CFOIL_OK && *low > *high)
        result = reader_fault(reader, "low must not be greater than high");
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

/* ---- Looks ---- */

/* Hits and false alarms, or d' alone; hits without false alarms make a look that nothing can be weighed with. */
static int32_t look_rates_read(struct reader *reader, const cJSON *object, struct pack_look *look)
{
    bool hit = member(object, "hit") != NULL;
    bool alarm = member(object, "false_alarm") != NULL;
    bool d_prime = member(object, "d_prime") != NULL;
    if (hit == d_prime || (alarm && !hit))
        return reader_fault(reader, "give 'hit' with 'false_alarm', 'hit' alone when that is not known, or 'd_prime'");
    if (d_prime)
        return number_read(reader, object, "d_prime", 0, 10, &look->d_prime);
    int32_t result = number_read(reader, object, "hit", 0, 1, &look->hit);
    if (result == CFOIL_OK && alarm)
        result = number_read(reader, object, "false_alarm", 0, look->hit, &look->false_alarm);
    return result;
}

static int32_t look_read(struct reader *reader, const cJSON *object, struct pack_look *look)
{
    int32_t result = reader_object_check(reader, object, look_fields, FIELD_COUNT(look_fields));
    if (result != CFOIL_OK)
        return result;
    look->id = member_text(object, "id");
    look->title = member_text(object, "title");
    result = look_rates_read(reader, object, look);
    if (result == CFOIL_OK)
        result = range_read(reader, object, "differs", 1, 1000, &look->differs_low, &look->differs_high);
    if (result == CFOIL_OK)
        result = range_read(reader, object, "passes", 0, 1, &look->passes_low, &look->passes_high);
    if (result == CFOIL_OK)
        result = source_read(reader, object, &look->source, &look->confidence);
    return result;
}

static struct pack_look *look_find(const struct pack_evidence *evidence, const char *id)
{
    for (uint32_t i = 0; i < evidence->look_count; i++) {
        if (strcmp(evidence->looks[i].id, id) == 0)
            return &evidence->looks[i];
    }
    return NULL;
}

static int32_t looks_read(struct reader *reader, const cJSON *list, struct pack_evidence *evidence)
{
    uint32_t count;
    evidence->looks = reader_array_make(reader, list, sizeof *evidence->looks, &count);
    if (evidence->looks == NULL)
        return reader_memory_fault(reader);
    const cJSON *item;
    reader_enter(reader, "looks");
    cJSON_ArrayForEach(item, list)
    {
        struct pack_look *look = &evidence->looks[evidence->look_count];
        reader_enter_element(reader, evidence->look_count);
        int32_t result = look_read(reader, item, look);
        if (result == CFOIL_OK && look_find(evidence, look->id) != NULL)
            result = reader_fault(reader, "the look '%s' stands twice", look->id);
        if (result != CFOIL_OK)
            return result;
        evidence->look_count++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* A look that something is weighed with: both rates must be known. */
static int32_t look_take(struct reader *reader, const struct pack_evidence *evidence, const cJSON *object,
                         const char *key, const struct pack_look **look)
{
    *look = look_find(evidence, member_text(object, key));
    if (*look == NULL)
        return reader_fault_at(reader, key, "there is no look '%.40s'", member_text(object, key));
    if ((*look)->d_prime > 0 || (*look)->false_alarm > 0)
        return CFOIL_OK;
    return reader_fault_at(reader, key, "the false alarms of this look are not known: it weighs nothing");
}

static int32_t senses_read(struct reader *reader, const cJSON *senses, struct pack_evidence *evidence)
{
    const cJSON *item;
    reader_enter(reader, "senses");
    cJSON_ArrayForEach(item, senses)
    {
        int32_t sense = name_sense_find(item->string);
        reader_enter(reader, item->string);
        if (sense < 0)
            return reader_fault(reader, "must be feel, look, tilt or tool");
        int32_t result = reader_object_check(reader, item, sense_fields, FIELD_COUNT(sense_fields));
        if (result == CFOIL_OK)
            result = look_take(reader, evidence, item, "look", &evidence->senses[sense].look);
        if (result != CFOIL_OK)
            return result;
        evidence->senses[sense].at_least = cJSON_IsTrue(member(item, "at_least"));
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Ranks ---- */

static const struct {
    enum feature_rank rank;
    const char *name;
} rank_names[] = {
    {FEATURE_RANK_BEST, "best"},
    {FEATURE_RANK_MIDDLE, "middle"},
    {FEATURE_RANK_LAST, "last"},
};

const char *feature_rank_name(enum feature_rank rank)
{
    for (size_t i = 0; i < sizeof rank_names / sizeof rank_names[0]; i++) {
        if (rank_names[i].rank == rank)
            return rank_names[i].name;
    }
    return "none";
}

static int32_t rank_read(struct reader *reader, const cJSON *object, struct pack_rank *rank)
{
    int32_t result = reader_object_check(reader, object, rank_fields, FIELD_COUNT(rank_fields));
    if (result != CFOIL_OK)
        return result;
    for (size_t i = 0; i < sizeof rank_names / sizeof rank_names[0]; i++) {
        if (strcmp(rank_names[i].name, member_text(object, "rank")) == 0)
            rank->rank = rank_names[i].rank;
    }
    if (rank->rank == FEATURE_RANK_NONE)
        return reader_fault_at(reader, "rank", "must be best, middle or last");
    rank->features = member(object, "features");
    const struct field text = {"", FIELD_TEXT, true, 1, TEXT_ID_MAX};
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "features");
    cJSON_ArrayForEach(item, rank->features)
    {
        reader_enter_element(reader, index++);
        result = reader_value_check(reader, item, &text);
        if (result != CFOIL_OK)
            return result;
        reader_leave(reader);
    }
    reader_leave(reader);
    return source_read(reader, object, &rank->source, &rank->confidence);
}

static int32_t ranks_read(struct reader *reader, const cJSON *list, struct pack_evidence *evidence)
{
    evidence->ranks = reader_array_make(reader, list, sizeof *evidence->ranks, &evidence->rank_count);
    if (evidence->ranks == NULL)
        return reader_memory_fault(reader);
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "ranks");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = rank_read(reader, item, &evidence->ranks[index]);
        if (result != CFOIL_OK)
            return result;
        index++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Base rate and false rejects ---- */

static int32_t prior_read(struct reader *reader, const cJSON *object, struct pack_evidence *evidence)
{
    struct pack_prior *prior = &evidence->prior;
    reader_enter(reader, "prior");
    int32_t result = reader_object_check(reader, object, prior_fields, FIELD_COUNT(prior_fields));
    if (result == CFOIL_OK)
        result = number_read(reader, object, "low", 0, 1000, &prior->low);
    if (result == CFOIL_OK)
        result = number_read(reader, object, "centre", 0, 1000, &prior->centre);
    if (result == CFOIL_OK)
        result = number_read(reader, object, "high", 0, 1000, &prior->high);
    if (result == CFOIL_OK && (prior->low > prior->centre || prior->centre > prior->high))
        result = reader_fault(reader, "low, centre and high must rise");
    if (result == CFOIL_OK)
        result = source_read(reader, object, &prior->source, &prior->confidence);
    if (result == CFOIL_OK)
        reader_leave(reader);
    return result;
}

static int32_t rejects_read(struct reader *reader, const cJSON *object, struct pack_evidence *evidence)
{
    struct pack_rejects *rejects = &evidence->rejects;
    reader_enter(reader, "false_rejects");
    int32_t result = reader_object_check(reader, object, reject_fields, FIELD_COUNT(reject_fields));
    if (result == CFOIL_OK)
        result = number_read(reader, object, "low", 0, 1, &rejects->low);
    if (result == CFOIL_OK)
        result = number_read(reader, object, "high", 0, 1, &rejects->high);
    if (result == CFOIL_OK && rejects->low > rejects->high)
        result = reader_fault(reader, "low must not be greater than high");
    if (result == CFOIL_OK)
        result = source_read(reader, object, &rejects->source, &rejects->confidence);
    if (result != CFOIL_OK)
        return result;
    rejects->worth = (uint32_t)member_integer(object, "worth");
    rejects->needed = (uint32_t)member_integer(object, "needed");
    reader_leave(reader);
    return CFOIL_OK;
}

int32_t pack_evidence_read(struct reader *reader, const cJSON *tree, struct pack_evidence *evidence)
{
    int32_t result = reader_object_check(reader, tree, evidence_fields, FIELD_COUNT(evidence_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, tree, "id");
    if (result == CFOIL_OK && strcmp(member_text(tree, "id"), EVIDENCE_ID) != 0)
        result = reader_fault_at(reader, "id", "must be '" EVIDENCE_ID "': there is one such pack");
    if (result == CFOIL_OK)
        result = reader_sources_read(reader, tree);
    if (result == CFOIL_OK)
        result = looks_read(reader, member(tree, "looks"), evidence);
    if (result == CFOIL_OK)
        result = senses_read(reader, member(tree, "senses"), evidence);
    if (result == CFOIL_OK)
        result = look_take(reader, evidence, tree, "whole", &evidence->whole);
    if (result == CFOIL_OK)
        result = ranks_read(reader, member(tree, "ranks"), evidence);
    if (result == CFOIL_OK)
        result = prior_read(reader, member(tree, "prior"), evidence);
    if (result == CFOIL_OK)
        result = rejects_read(reader, member(tree, "false_rejects"), evidence);
    return result;
}

/* ---- Looking up ---- */

const struct pack_evidence *pack_evidence_find(const struct pack_set *set)
{
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        if (pack_set_at(set, i)->kind == PACK_EVIDENCE)
            return &pack_set_at(set, i)->as.evidence;
    }
    return NULL;
}

enum feature_rank pack_feature_rank(const struct pack_evidence *evidence, const char *feature)
{
    for (uint32_t i = 0; i < evidence->rank_count; i++) {
        const cJSON *item;
        cJSON_ArrayForEach(item, evidence->ranks[i].features)
        {
            if (strcmp(item->valuestring, feature) == 0)
                return evidence->ranks[i].rank;
        }
    }
    return FEATURE_RANK_NONE;
}
