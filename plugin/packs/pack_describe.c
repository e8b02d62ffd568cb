/*
 * What is loaded, as JSON for the catalogue (schema "counterfoil.catalogue/1").
 */
#include "model/json.h"
#include "model/names.h"
#include "packs/pack_data.h"

#include <string.h>

/* Texts with sources of their own: what is shown to an expert or a supervisor, not to the customer. */
static bool facts_describe(const struct pack_rule *facts, uint32_t count, cJSON *object, const char *key)
{
    cJSON *list = json_array_add(object, key);
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < count; i++) {
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "text", facts[i].text) &&
               json_text_add(item, "confidence", confidence_name(facts[i].confidence)) &&
               json_text_add(item, "source", facts[i].source);
    }
    return good;
}

static bool series_describe(const struct pack_currency *currency, cJSON *object)
{
    cJSON *list = json_array_add(object, "series");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < currency->series_count; i++) {
        const struct pack_series *series = &currency->series[i];
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "id", series->id) && json_text_add(item, "title", series->title) &&
               json_text_add(item, "status", series->status);
    }
    return good;
}

static bool notes_describe(const struct pack_currency *currency, cJSON *object)
{
    cJSON *list = json_array_add(object, "denominations");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        cJSON *item = json_object_add(list, NULL);
        good = json_integer_add(item, "value_minor", note->value_minor) &&
               json_text_add(item, "series", note->series) && json_integer_add(item, "length_mm", note->length_mm) &&
               json_integer_add(item, "height_mm", note->height_mm) &&
               json_text_add(item, "colour", note->colour[0] != '\0' ? note->colour : NULL) &&
               json_text_add(item, "status", note->status) &&
               json_text_add(item, "tender_until", note->tender_until[0] != '\0' ? note->tender_until : NULL) &&
               json_text_add(item, "after_tender", note->after_tender[0] != '\0' ? note->after_tender : NULL) &&
               json_integer_add(item, "checks", note->check_count) &&
               json_text_add(item, "confidence", confidence_name(note->confidence)) &&
               json_text_add(item, "source", note->source);
    }
    return good;
}

static bool serials_describe(const struct pack_currency *currency, cJSON *object)
{
    cJSON *list = json_array_add(object, "serials");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < currency->serial_count; i++) {
        const struct serial_rule *rule = &currency->serials[i];
        cJSON *item = json_object_add(list, NULL);
        good = json_text_add(item, "series", rule->series) && json_text_add(item, "form", rule->form) &&
               json_flag_add(item, "check_figure", rule->has_checksum) &&
               json_flag_add(item, "repeats", rule->repeats) && json_text_add(item, "hint", rule->hint) &&
               json_text_add(item, "confidence", confidence_name(rule->confidence)) &&
               json_text_add(item, "source", rule->source);
    }
    return good;
}

static bool rates_describe(const struct pack_currency *currency, cJSON *object)
{
    cJSON *list = json_array_add(object, "base_rates");
    bool good = list != NULL;
    for (uint32_t i = 0; good && i < currency->rate_count; i++) {
        const struct pack_rate *rate = &currency->rates[i];
        cJSON *item = json_object_add(list, NULL);
        good = json_integer_add(item, "year", rate->year) && json_integer_add(item, "withdrawn", rate->withdrawn) &&
               (rate->per_million > 0 ? json_integer_add(item, "per_million", rate->per_million)
                                      : json_null_add(item, "per_million")) &&
               json_text_add(item, "confidence", confidence_name(rate->confidence)) &&
               json_text_add(item, "source", rate->source);
    }
    return good;
}

static bool currency_describe(const struct pack *pack, cJSON *list)
{
    const struct pack_currency *currency = &pack->as.currency;
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "currency", currency->code) && json_text_add(item, "title", currency->title) &&
           json_integer_add(item, "decimals", currency->decimals) && series_describe(currency, item) &&
           notes_describe(currency, item) && serials_describe(currency, item) && rates_describe(currency, item) &&
           facts_describe(currency->background, currency->background_count, item, "background");
}

static bool dispositions_describe(const struct pack_jurisdiction *jurisdiction, cJSON *object)
{
    cJSON *list = json_array_add(object, "dispositions");
    bool good = json_text_add(list, NULL, name_disposition(jurisdiction->first_disposition));
    for (int32_t code = CFOIL_DISPOSITION_TAKEN; good && code <= CFOIL_DISPOSITION_ABANDONED; code++) {
        if (code != jurisdiction->first_disposition && (jurisdiction->dispositions & 1u << code) != 0)
            good = json_text_add(list, NULL, name_disposition(code));
    }
    return good;
}

/* null where the jurisdiction has no such rule; "number" is null where no source for one was found. */
static bool limit_describe(cJSON *object, const char *key, const struct pack_limit *limit)
{
    if (limit->rule.text[0] == '\0')
        return json_null_add(object, key);
    cJSON *item = json_object_add(object, key);
    return json_text_add(item, "text", limit->rule.text) &&
           (limit->number > 0 ? json_integer_add(item, "number", limit->number) : json_null_add(item, "number")) &&
           json_text_add(item, "source", limit->rule.source) &&
           json_text_add(item, "confidence", confidence_name(limit->rule.confidence));
}

static bool jurisdiction_describe(const struct pack *pack, cJSON *list)
{
    const struct pack_jurisdiction *jurisdiction = &pack->as.jurisdiction;
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "id", jurisdiction->id) && json_text_add(item, "title", jurisdiction->title) &&
           dispositions_describe(jurisdiction, item) && json_text_add(item, "as_of", jurisdiction->date) &&
           json_text_add(item, "caution", jurisdiction->caution.text) &&
           json_text_add(item, "found_later", jurisdiction->found_later.text) &&
           json_text_add(item, "deadline", jurisdiction->deadline.text) &&
           json_text_add(item, "customer",
                         jurisdiction->customer.text[0] != '\0' ? jurisdiction->customer.text : NULL) &&
           limit_describe(item, "pieces_at_once", &jurisdiction->pieces) &&
           limit_describe(item, "days_kept", &jurisdiction->days_kept) &&
           facts_describe(jurisdiction->law, jurisdiction->law_count, item, "law") &&
           json_text_add(item, "confidence", confidence_name(jurisdiction->confidence)) &&
           json_text_add(item, "source", jurisdiction->source);
}

static bool pack_describe(const struct pack *pack, cJSON *list)
{
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "id", pack->id) && json_text_add(item, "kind", pack_kind_name(pack->kind)) &&
           json_text_add(item, "version", pack->version) && json_text_add(item, "reviewed", pack->reviewed);
}

/* Each language once, and whether a native speaker has looked at it. */
static bool language_describe(const struct pack_set *set, uint32_t index, cJSON *list)
{
    const char *language = pack_set_at(set, index)->as.messages.language;
    for (uint32_t i = 0; i < index; i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind == PACK_MESSAGES && strcmp(pack->as.messages.language, language) == 0)
            return true;
    }
    const char *review = pack_language_review(set, language);
    cJSON *item = json_object_add(list, NULL);
    return json_text_add(item, "language", language) &&
           (review[0] != '\0' ? json_text_add(item, "native_review", review)
                              : json_flag_add(item, "native_review", false));
}

bool pack_set_describe(const struct pack_set *set, cJSON *object)
{
    cJSON *packs = json_array_add(object, "packs");
    cJSON *currencies = json_array_add(object, "currencies");
    cJSON *jurisdictions = json_array_add(object, "jurisdictions");
    cJSON *languages = json_array_add(object, "languages");
    bool good = packs != NULL && currencies != NULL && jurisdictions != NULL && languages != NULL;
    for (uint32_t i = 0; good && i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        good = pack_describe(pack, packs);
        if (good && pack->kind == PACK_CURRENCY)
            good = currency_describe(pack, currencies);
        if (good && pack->kind == PACK_JURISDICTION)
            good = jurisdiction_describe(pack, jurisdictions);
        if (good && pack->kind == PACK_MESSAGES)
            good = language_describe(set, i, languages);
    }
    return good;
}
