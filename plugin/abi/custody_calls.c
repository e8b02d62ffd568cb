/*
 * The exported functions about kept notes: moves of custody, lists, the count at the end of a shift.
 */
#include "abi/case.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "ledger/keep.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"

#include <string.h>

#define AREA "custody"

/* ---- Moves ---- */

static int32_t texts_check(const cfoil_custody_options *options, cfoil_error_info *error)
{
    const struct {
        const char *text;
        size_t most;
    } texts[] = {
        {options->case_id, 64}, {options->staff, STAFF_MAX}, {options->second, STAFF_MAX}, {options->envelope, 32},
        {options->place, 64},   {options->keeper, 64},       {options->receipt, 64},       {options->why, 200},
        {options->serial, 31},  {options->lane, 32},
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].text != NULL && !text_acceptable(texts[i].text, 0, texts[i].most))
            return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA,
                             "A text of the step is too long or not UTF-8: see cfoil_custody_options.");
    }
    if (options->currency != NULL && options->currency[0] != '\0' && !text_acceptable(options->currency, 3, 3))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA, "Give the currency as three letters of ISO 4217.");
    return CFOIL_OK;
}

static int32_t options_check(const cfoil_custody_options *options, int64_t now_utc_ms, cfoil_error_info *error)
{
    bool begins = options->move == CFOIL_CUSTODY_FIND;
    if (options->move < CFOIL_CUSTODY_FIND || options->move > CFOIL_CUSTODY_GIVE_BACK)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The step must be one of CFOIL_CUSTODY_*.");
    if (begins != (options->case_id == NULL))
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA,
                         "Name the case, except where a found note begins a new one.");
    if (options->happened_utc_ms < 0 || options->happened_utc_ms > now_utc_ms)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The time of the step must not be in the future.");
    if (options->reserved != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "Set the reserved member to 0.");
    return texts_check(options, error);
}

/* The two persons by name, or by session. */
struct persons {
    char first[STAFF_MAX + 1];
    char second[STAFF_MAX + 1];
};

static int32_t persons_read(struct ledger *ledger, const cfoil_custody_options *options, struct persons *persons,
                            struct custody_order *order, cfoil_error_info *error)
{
    int32_t result = session_actor(options->session, ledger, options->staff, persons->first, &order->actor, error);
    if (result == CFOIL_OK)
        result = session_actor(options->second_session, ledger, options->second, persons->second, &order->second,
                               error);
    bool nobody = order->second.staff != NULL && order->second.staff[0] == '\0';
    if (nobody)
        order->second.staff = NULL;
    return result;
}

static int32_t move_entered(struct ledger *ledger, const cfoil_custody_options *options, cfoil_record *record,
                            cfoil_error_info *error)
{
    char case_id[UUID_TEXT_SIZE];
    struct persons persons;
    struct ledger_receipt receipt = {0, ""};
    struct custody_order order = {.options = options, .case_id = options->case_id, .now_utc_ms = os_time_utc_ms()};
    int32_t result = options_check(options, order.now_utc_ms, error);
    if (result == CFOIL_OK)
        result = persons_read(ledger, options, &persons, &order, error);
    if (result == CFOIL_OK && options->case_id == NULL) {
        result = case_id_make(case_id, error);
        order.case_id = case_id;
    }
    if (result == CFOIL_OK)
        result = keep_move(ledger, &order, &receipt, error);
    if (result != CFOIL_OK)
        return result;
    record->entry = receipt.number;
    record->time_utc_ms = order.now_utc_ms;
    text_copy(record->case_id, sizeof record->case_id, order.case_id);
    text_copy(record->hash, sizeof record->hash, receipt.hash);
    return CFOIL_OK;
}

int32_t cfoil_custody_move(cfoil_ledger *ledger, const cfoil_custody_options *options, cfoil_record *record)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_custody_options copy;
    cfoil_record filled = CFOIL_RECORD_INIT;
    result = struct_read(options, sizeof copy, sizeof copy, &copy);
    if (result == CFOIL_OK && record != NULL)
        result = struct_check(record, sizeof *record);
    if (result == CFOIL_OK)
        result = move_entered(entered->body, &copy, &filled, &error);
    if (result == CFOIL_OK && record != NULL)
        struct_write(record, &filled, sizeof filled);
    return handle_leave(entered, result, &error);
}

/* ---- Lists and the count ---- */

int32_t cfoil_ledger_list_json(cfoil_ledger *ledger, int32_t list, const char *only, char *buffer, size_t capacity,
                               size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cJSON *object = NULL;
    if (only != NULL && !text_acceptable(only, 0, 64))
        result = CFOIL_E_ARGUMENT_TEXT;
    if (result == CFOIL_OK)
        result = keep_list(entered->body, list, only, &object, &error);
    if (result == CFOIL_OK)
        result = json_export(object, buffer, capacity, needed);
    cJSON_Delete(object);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_reconcile_json(cfoil_ledger *ledger, const cfoil_reconcile_options *options, char *buffer,
                             size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_reconcile_options copy;
    cJSON *object = NULL;
    result = struct_read(options, sizeof copy, sizeof copy, &copy);
    if (result == CFOIL_OK && copy.envelopes == NULL)
        result = error_set(&error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Give the numbers of the envelopes, [] for none.");
    if (result == CFOIL_OK && (copy.from_utc_ms < 0 || copy.until_utc_ms < 0))
        result = error_set(&error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "Times must not be negative.");
    if (result == CFOIL_OK)
        result = keep_reconcile(entered->body, &copy, &object, &error);
    if (result == CFOIL_OK)
        result = json_export(object, buffer, capacity, needed);
    cJSON_Delete(object);
    return handle_leave(entered, result, &error);
}
