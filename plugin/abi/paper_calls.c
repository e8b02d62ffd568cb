/*
 * The exported function about papers.
 */
#include "abi/context.h"
#include "abi/structs.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"
#include "papers/paper.h"

#include <string.h>

#define AREA           "paper"
#define OFFSET_MAX_MIN 840 /* the largest offset in use is 14 hours (tz database, from memory) */

static int32_t texts_check(const cfoil_paper_options *options, cfoil_error_info *error)
{
    const struct {
        const char *text;
        size_t most;
    } texts[] = {{options->case_id, 64}, {options->language, 16}, {options->jurisdiction, 40}, {options->shop, 200}};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].text != NULL && !text_acceptable(texts[i].text, 0, texts[i].most))
            return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                             "A text of the paper is too long or not UTF-8: see cfoil_paper_options.");
    }
    return CFOIL_OK;
}

static int32_t case_check(const cfoil_paper_options *options, cfoil_error_info *error)
{
    bool of_case = options->kind == CFOIL_PAPER_RECEIPT || options->kind == CFOIL_PAPER_LABEL;
    bool given = options->case_id != NULL;
    if (of_case && !given)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Name the case that the paper is about.");
    if (given && (options->kind == CFOIL_PAPER_PERIOD || options->from_utc_ms != 0 || options->until_utc_ms != 0))
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "Give a case or a period, not both.");
    return CFOIL_OK;
}

static int32_t options_check(cfoil_paper_options *options, cfoil_error_info *error)
{
    if (options->format == 0)
        options->format = CFOIL_PAPER_PLAIN_42;
    if (options->kind < CFOIL_PAPER_RECEIPT || options->kind > CFOIL_PAPER_PERIOD)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The kind must be one of CFOIL_PAPER_*.");
    if (options->format < CFOIL_PAPER_PLAIN_42 || options->format > CFOIL_PAPER_HTML)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA,
                         "The format must be CFOIL_PAPER_PLAIN_42, CFOIL_PAPER_PLAIN_48 or CFOIL_PAPER_HTML.");
    if (options->utc_offset_minutes < -OFFSET_MAX_MIN || options->utc_offset_minutes > OFFSET_MAX_MIN)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "utc_offset_minutes must be -840 to 840.");
    bool backwards = options->until_utc_ms != 0 && options->until_utc_ms <= options->from_utc_ms;
    if (options->from_utc_ms < 0 || options->until_utc_ms < 0 || backwards)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The period must end after it begins.");
    int32_t result = texts_check(options, error);
    return result == CFOIL_OK ? case_check(options, error) : result;
}

/* Packs with everything that the paper needs in them. What one round has read, the next ones find there. */
static int32_t packs_provide(cfoil_context *context, const cfoil_paper_options *options,
                             const struct paper_facts *facts, struct pack_set **packs, cfoil_error_info *error)
{
    struct pack_wanted wanted = {
        .jurisdiction = paper_jurisdiction(facts, options),
        .language = options->language != NULL ? options->language : "",
    };
    int32_t result = context_packs_provide(context, &wanted, packs, error);
    const char *currency;
    for (int i = 0; result == CFOIL_OK && (currency = paper_currency(facts, i)) != NULL; i++) {
        if (pack_currency_find(*packs, currency) != NULL)
            continue;
        pack_set_release(*packs);
        result = context_packs_provide(context, &(struct pack_wanted){.currency = currency}, packs, error);
    }
    return result;
}

static int32_t paper_entered(struct handle *entered, const cfoil_paper_options *options, char **text,
                             cfoil_error_info *error)
{
    struct paper_facts facts;
    struct pack_set *packs = NULL;
    int32_t result = paper_facts_read(entered->body, options, &facts, error);
    if (result == CFOIL_OK)
        result = packs_provide(entered->context, options, &facts, &packs, error);
    if (result == CFOIL_OK && !pack_language_known(packs, options->language))
        result = error_set(error, CFOIL_E_MISSING_LANGUAGE, 0, AREA,
                           "There are no texts in the language %s: load a pack, or give NULL for English.",
                           options->language);
    if (result == CFOIL_OK)
        result = paper_write(ledger_memory(entered->body), packs, options, &facts, os_time_utc_ms(), text, error);
    pack_set_release(packs);
    paper_facts_free(&facts);
    return result;
}

int32_t cfoil_paper_write(cfoil_ledger *ledger, const cfoil_paper_options *given, char *buffer, size_t capacity,
                          size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_paper_options options;
    char *text = NULL;
    result = struct_read(given, sizeof options, sizeof options, &options);
    if (result == CFOIL_OK)
        result = options_check(&options, &error);
    if (result == CFOIL_OK)
        result = paper_entered(entered, &options, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    memory_release(ledger_memory(entered->body), text);
    return handle_leave(entered, result, &error);
}
