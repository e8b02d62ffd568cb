/*
 * The exported functions about personal data.
 */
#include "abi/context.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "ledger/person.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <string.h>

#define AREA     "person"
#define DAY_MS   INT64_C(86400000)
#define DAYS_MAX 36500u

/* ---- Writing ---- */

static int32_t texts_check(const cfoil_person_options *options, cfoil_error_info *error)
{
    const struct {
        const char *text;
        size_t most;
    } texts[] = {
        {options->name, 200}, {options->contact, 200}, {options->id_shown, 200}, {options->note, PERSON_TEXT_MAX}};
    bool given = false;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        const char *text = texts[i].text;
        if (text != NULL && !text_acceptable(text, 0, texts[i].most))
            return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                             "A text is too long or not UTF-8: see cfoil_person_options.");
        given = given || (text != NULL && text[0] != '\0');
    }
    return given ? CFOIL_OK : error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Give at least one of the texts.");
}

static int32_t options_check(const cfoil_person_options *options, cfoil_error_info *error)
{
    if (options->case_id == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Name the case.");
    if (!text_acceptable(options->case_id, 1, 64) ||
        (options->jurisdiction != NULL && !text_acceptable(options->jurisdiction, 0, 40)))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                         "The case or the jurisdiction is too long, or no UTF-8.");
    if (options->days > DAYS_MAX)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "days must be at most 36500.");
    return texts_check(options, error);
}

/* How many days: the host's word, or that of the jurisdiction. */
static int32_t days_find(cfoil_context *context, const cfoil_person_options *options, uint32_t *days,
                         cfoil_error_info *error)
{
    const char *id = options->jurisdiction != NULL ? options->jurisdiction : "";
    struct pack_set *packs;
    *days = options->days;
    if (*days > 0)
        return CFOIL_OK;
    int32_t result = context_packs_provide(context, &(struct pack_wanted){.jurisdiction = id}, &packs, error);
    if (result != CFOIL_OK)
        return result;
    const struct pack_jurisdiction *place = pack_jurisdiction_find(packs, id);
    if (place != NULL)
        *days = place->days_kept.number;
    if (place == NULL)
        result = error_set(error, CFOIL_E_MISSING_JURISDICTION, 0, AREA,
                           "No pack holds the jurisdiction %s: load it, or name another.", id);
    else if (*days == 0)
        result = error_set(
            error, CFOIL_E_RULE_PERIOD, 0, AREA,
            "Say how many days it is kept: no source for a number was found, choose it with your adviser.");
    pack_set_release(packs);
    return result;
}

static int32_t set_entered(struct handle *entered, const cfoil_person_options *options, cfoil_record *record,
                           cfoil_error_info *error)
{
    char own[STAFF_MAX + 1];
    struct actor actor;
    struct ledger_receipt receipt;
    uint32_t days;
    int32_t result = options_check(options, error);
    if (result == CFOIL_OK)
        result = session_actor(options->session, entered->body, NULL, own, &actor, error);
    if (result == CFOIL_OK)
        result = days_find(entered->context, options, &days, error);
    if (result != CFOIL_OK)
        return result;
    int64_t now_utc_ms = os_time_utc_ms();
    const struct person person = {
        options->case_id,
        options->name,
        options->contact,
        options->id_shown,
        options->note,
        now_utc_ms,
        now_utc_ms + (int64_t)days * DAY_MS,
    };
    result = person_write(entered->body, &actor, &person, &receipt, error);
    if (result != CFOIL_OK)
        return result;
    record->entry = receipt.number;
    record->time_utc_ms = now_utc_ms;
    text_copy(record->hash, sizeof record->hash, receipt.hash);
    text_copy(record->case_id, sizeof record->case_id, options->case_id);
    return CFOIL_OK;
}

int32_t cfoil_person_set(cfoil_ledger *ledger, const cfoil_person_options *given, cfoil_record *record)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_record filled = CFOIL_RECORD_INIT;
    cfoil_person_options options;
    result = struct_read(given, sizeof options, sizeof options, &options);
    if (result == CFOIL_OK && record != NULL)
        result = struct_check(record, sizeof *record);
    if (result == CFOIL_OK)
        result = set_entered(entered, &options, &filled, &error);
    if (result == CFOIL_OK && record != NULL)
        struct_write(record, &filled, sizeof filled);
    return handle_leave(entered, result, &error);
}

/* ---- Reading, erasing ---- */

static int32_t id_check(const char *case_id, cfoil_error_info *error)
{
    if (case_id == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Name the case.");
    return text_acceptable(case_id, 1, 64)
               ? CFOIL_OK
               : error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA, "The case is too long, or no UTF-8.");
}

int32_t cfoil_person_json(cfoil_ledger *ledger, cfoil_session *session, const char *case_id, char *buffer,
                          size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char own[STAFF_MAX + 1];
    struct actor actor;
    char *text = NULL;
    result = id_check(case_id, &error);
    if (result == CFOIL_OK)
        result = session_actor(session, entered->body, NULL, own, &actor, &error);
    if (result == CFOIL_OK)
        result = person_read(entered->body, &actor, case_id, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    person_text_free(text);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_person_erase(cfoil_ledger *ledger, cfoil_session *session, const char *staff, const char *case_id,
                           uint32_t *erased)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char own[STAFF_MAX + 1];
    struct actor actor;
    uint32_t count = 0;
    if (case_id == NULL) {
        result = person_sweep(entered->body, &count, &error);
    } else {
        result = id_check(case_id, &error);
        if (result == CFOIL_OK)
            result = session_actor(session, entered->body, staff, own, &actor, &error);
        if (result == CFOIL_OK)
            result = person_erase(entered->body, &actor, case_id, &error);
        count = result == CFOIL_OK;
    }
    if (erased != NULL)
        *erased = count;
    return handle_leave(entered, result, &error);
}
