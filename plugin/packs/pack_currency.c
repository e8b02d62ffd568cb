/*
 * One currency: its series, notes, serial numbers and published figures.
 */
#include "model/text.h"
#include "packs/fields.h"
#include "packs/pack_data.h"

#include <stdio.h>
#include <string.h>

static const struct field currency_fields[] = {
    FIELDS_OF_EVERY_PACK,
    FIELDS_OF_A_FACT,
    {"title", FIELD_TEXT, true, 1, TEXT_ID_MAX},
    {"decimals", FIELD_INTEGER, true, 0, 4},
    {"sources", FIELD_OBJECT, true, 1, 100},
    {"series", FIELD_ARRAY, true, 1, 16},
    {"features", FIELD_OBJECT, true, 1, 200},
    {"notes", FIELD_ARRAY, true, 1, 200},
    {"serials", FIELD_ARRAY, false, 0, 16},
    {"base_rates", FIELD_ARRAY, false, 0, 50},
    {"background", FIELD_ARRAY, false, 0, 100},
};

/* ---- Series ---- */

static const struct field series_fields[] = {
    FIELDS_OF_A_FACT,
    {"id", FIELD_TEXT, true, 1, 15},
    {"title", FIELD_TEXT, true, 1, TEXT_LONG_MAX},
    {"status", FIELD_TEXT, true, 1, TEXT_LINE_MAX},
    FIELDS_OF_TENDER,
};

int32_t tender_take(struct reader *reader, const cJSON *object, const char **until, const char **after)
{
    if (member(object, "after_tender") != NULL)
        *after = member_text(object, "after_tender");
    int32_t result = reader_text_pattern_check(reader, object, "after_tender");
    if (result == CFOIL_OK && member(object, "tender_until") != NULL)
        result = reader_date(reader, object, "tender_until", until);
    return result;
}

static int32_t one_series_read(struct reader *reader, const cJSON *object, const struct pack_currency *currency,
                               struct pack_series *series)
{
    int32_t result = reader_object_check(reader, object, series_fields, FIELD_COUNT(series_fields));
    if (result == CFOIL_OK)
        result = reader_id_check(reader, object, "id");
    if (result != CFOIL_OK)
        return result;
    const char *id = member_text(object, "id");
    for (const struct pack_series *other = currency->series; other < series; other++) {
        if (strcmp(other->id, id) == 0)
            return reader_fault_at(reader, "id", "the series '%s' stands twice", id);
    }
    series->id = id;
    series->title = member_text(object, "title");
    series->status = member_text(object, "status");
    series->tender_until = series->after_tender = "";
    result = tender_take(reader, object, &series->tender_until, &series->after_tender);
    if (result == CFOIL_OK)
        result = reader_source(reader, object, "source", &series->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &series->confidence);
    return result;
}

static int32_t series_read(struct reader *reader, const cJSON *list, struct pack_currency *currency)
{
    currency->series = reader_array_make(reader, list, sizeof *currency->series, &currency->series_count);
    if (currency->series == NULL)
        return reader_memory_fault(reader);
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "series");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = one_series_read(reader, item, currency, &currency->series[index]);
        if (result != CFOIL_OK)
            return result;
        index++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- Yearly figures ---- */

static const struct field rate_fields[] = {
    FIELDS_OF_A_FACT,
    {"year", FIELD_INTEGER, true, 1900, 2200},
    {"withdrawn", FIELD_INTEGER, true, 1, 1000000000},
    {"per_million", FIELD_INTEGER, false, 1, 1000000},
    {"shares", FIELD_ARRAY, false, 0, 50},
};

static const struct field share_fields[] = {
    {"value_minor", FIELD_INTEGER, true, 1, 1000000000000},
    {"permille", FIELD_INTEGER, true, 0, 1000},
};

static int32_t shares_read(struct reader *reader, const cJSON *list, struct pack_rate *rate)
{
    struct pack_rate_share *share = reader_array_make(reader, list, sizeof *share, &rate->share_count);
    if (share == NULL)
        return reader_memory_fault(reader);
    rate->shares = share;
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "shares");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index++);
        int32_t result = reader_object_check(reader, item, share_fields, FIELD_COUNT(share_fields));
        if (result != CFOIL_OK)
            return result;
        share->value_minor = member_integer(item, "value_minor");
        share->permille = (uint32_t)member_integer(item, "permille");
        share++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

static int32_t rate_read(struct reader *reader, const cJSON *object, const struct pack_currency *currency,
                         struct pack_rate *rate)
{
    int32_t result = reader_object_check(reader, object, rate_fields, FIELD_COUNT(rate_fields));
    if (result != CFOIL_OK)
        return result;
    rate->year = (uint32_t)member_integer(object, "year");
    rate->withdrawn = (uint32_t)member_integer(object, "withdrawn");
    rate->per_million = (uint32_t)member_integer(object, "per_million");
    if (rate > currency->rates && rate[-1].year <= rate->year)
        return reader_fault_at(reader, "year", "the newest year must come first, and no year twice");
    result = reader_source(reader, object, "source", &rate->source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, object, "confidence", &rate->confidence);
    if (result == CFOIL_OK)
        result = shares_read(reader, member(object, "shares"), rate);
    return result;
}

static int32_t rates_read(struct reader *reader, const cJSON *list, struct pack_currency *currency)
{
    currency->rates = reader_array_make(reader, list, sizeof *currency->rates, &currency->rate_count);
    if (currency->rates == NULL)
        return reader_memory_fault(reader);
    uint32_t index = 0;
    const cJSON *item;
    reader_enter(reader, "base_rates");
    cJSON_ArrayForEach(item, list)
    {
        reader_enter_element(reader, index);
        int32_t result = rate_read(reader, item, currency, &currency->rates[index]);
        if (result != CFOIL_OK)
            return result;
        index++;
        reader_leave(reader);
    }
    reader_leave(reader);
    return CFOIL_OK;
}

/* ---- The whole ---- */

/* ISO 4217: three capital letters. */
static bool code_valid(const char *code)
{
    for (int i = 0; i < 3; i++) {
        if (code[i] < 'A' || code[i] > 'Z')
            return false;
    }
    return code[3] == '\0';
}

static int32_t head_read(struct reader *reader, const cJSON *tree, struct pack_currency *currency)
{
    currency->code = member_text(tree, "id");
    currency->title = member_text(tree, "title");
    currency->decimals = (int32_t)member_integer(tree, "decimals");
    if (!code_valid(currency->code))
        return reader_fault_at(reader, "id", "must be the ISO 4217 code of the currency, such as EUR");
    int32_t result = reader_sources_read(reader, tree);
    /* The sources of title and decimals are asked for, and checked, but nobody looks them up. */
    const char *source;
    enum confidence confidence;
    if (result == CFOIL_OK)
        result = reader_source(reader, tree, "source", &source);
    if (result == CFOIL_OK)
        result = reader_confidence(reader, tree, "confidence", &confidence);
    return result;
}

int32_t pack_currency_read(struct reader *reader, const cJSON *tree, struct pack_currency *currency)
{
    int32_t result = reader_object_check(reader, tree, currency_fields, FIELD_COUNT(currency_fields));
    if (result == CFOIL_OK)
        result = head_read(reader, tree, currency);
    if (result == CFOIL_OK)
        result = series_read(reader, member(tree, "series"), currency);
    if (result == CFOIL_OK)
        result = checks_read(reader, tree, currency);
    if (result == CFOIL_OK)
        result = serials_read(reader, member(tree, "serials"), currency);
    if (result == CFOIL_OK)
        result = rates_read(reader, member(tree, "base_rates"), currency);
    if (result == CFOIL_OK)
        result = facts_read(reader, tree, "background", &currency->background, &currency->background_count);
    return result;
}

/* ---- Looking up ---- */

const struct pack_series *pack_series_find(const struct pack_currency *currency, const char *series)
{
    for (uint32_t i = 0; i < currency->series_count; i++) {
        if (series != NULL && strcmp(currency->series[i].id, series) == 0)
            return &currency->series[i];
    }
    return NULL;
}

static const struct pack_note *note_of_series(const struct pack_currency *currency, int64_t value_minor,
                                              const char *series)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        if (note->value_minor == value_minor && strcmp(note->series, series) == 0)
            return note;
    }
    return NULL;
}

const struct pack_note *pack_note_find(const struct pack_currency *currency, int64_t value_minor, const char *series)
{
    if (series != NULL)
        return note_of_series(currency, value_minor, series);
    const struct pack_note *note = NULL;
    for (uint32_t i = 0; note == NULL && i < currency->series_count; i++)
        note = note_of_series(currency, value_minor, currency->series[i].id);
    return note;
}

const char *pack_currency_code(const struct pack_currency *currency)
{
    return currency->code;
}

int32_t pack_currency_decimals(const struct pack_currency *currency)
{
    return currency->decimals;
}

void pack_value_write(const struct pack_currency *currency, int64_t value_minor, char *target, size_t capacity)
{
    int64_t unit = 1;
    for (int32_t i = 0; i < currency->decimals; i++)
        unit *= 10;
    int64_t rest = value_minor % unit;
    char places[24]; /* a 1 before the rest keeps its leading zeros */
    char text[64];
    long long padded = unit + rest;
    (void)snprintf(places, sizeof places, "%lld", padded);
    if (rest == 0)
        (void)snprintf(text, sizeof text, "%lld", (long long)(value_minor / unit));
    else
        (void)snprintf(text, sizeof text, "%lld.%s", (long long)(value_minor / unit), places + 1);
    text_copy(target, capacity, text);
}

const struct pack_rate *pack_currency_rates(const struct pack_currency *currency, uint32_t *count)
{
    *count = currency->rate_count;
    return currency->rates;
}
