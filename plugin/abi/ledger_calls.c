/*
 * The exported functions about the ledger and the report.
 */
#include "abi/context.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "ledger/checkpoint.h"
#include "ledger/key.h"
#include "ledger/rebuild.h"
#include "model/error.h"
#include "model/text.h"
#include "statistics/statistics.h"

#include <cjson/cJSON.h>
#include <string.h>

static int32_t options_check(const cfoil_ledger_options *options, cfoil_error_info *error)
{
    if (options->path == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, "ledger", "Name the file of the ledger.");
    if (!text_acceptable(options->path, 1, 4096))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "ledger", "The path must be 1 to 4096 bytes of UTF-8.");
    if (options->store != NULL && !text_acceptable(options->store, 0, 64))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "ledger",
                         "The store name must be at most 64 bytes of UTF-8.");
    if (options->busy_ms > 60000)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "ledger", "busy_ms must be at most 60000.");
    if (options->checkpoint_entries < -1)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "ledger", "checkpoint_entries must be -1 or more.");
    if (options->reserved != 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "ledger", "Set the reserved member to 0.");
    return CFOIL_OK;
}

static int32_t ledger_open_entered(cfoil_context *context, const cfoil_ledger_options *given, cfoil_ledger **ledger,
                                   cfoil_error_info *error)
{
    cfoil_ledger_options options;
    int32_t result = struct_read(given, offsetof(cfoil_ledger_options, checkpoint_entries), sizeof options, &options);
    if (result == CFOIL_OK)
        result = options_check(&options, error);
    if (result == CFOIL_OK && context_shutting_down(context))
        result = CFOIL_E_STATE_SHUTDOWN;
    struct ledger *body = NULL;
    if (result == CFOIL_OK)
        result = ledger_open(&context->memory, &options, &body, error);
    if (result != CFOIL_OK)
        return result;
    *ledger = (cfoil_ledger *)handle_create(context, HANDLE_LEDGER, body);
    if (*ledger == NULL) {
        ledger_release(body);
        return CFOIL_E_MEMORY;
    }
    return CFOIL_OK;
}

int32_t cfoil_ledger_open(cfoil_context *context, const cfoil_ledger_options *options, cfoil_ledger **ledger)
{
    if (ledger == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *ledger = NULL;
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = ledger_open_entered(context, options, ledger, &error);
    return handle_leave(entered, result, &error);
}

void cfoil_ledger_close(cfoil_ledger *ledger)
{
    struct handle *handle;
    if (handle_enter(ledger, HANDLE_LEDGER, &handle) != CFOIL_OK)
        return;
    int mine = handle_close_begin(handle);
    (void)handle_leave(handle, CFOIL_OK, NULL);
    if (mine)
        ledger_release(handle_close_end(handle));
}

int32_t cfoil_ledger_entry_json(cfoil_ledger *ledger, int64_t number, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    if (number < 0)
        return handle_leave(handle, CFOIL_E_ARGUMENT_RANGE, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char *text = NULL;
    result = ledger_entry_text(handle->body, number, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    cJSON_free(text);
    return handle_leave(handle, result, &error);
}

int32_t cfoil_ledger_case_json(cfoil_ledger *ledger, const char *case_id, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    if (!text_acceptable(case_id, 1, 64))
        return handle_leave(handle, case_id == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char *text = NULL;
    result = ledger_case_text(handle->body, case_id, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    cJSON_free(text);
    return handle_leave(handle, result, &error);
}

int32_t cfoil_ledger_verify(cfoil_ledger *ledger, cfoil_ledger_check *check)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_ledger_check filled;
    result = struct_read(check, offsetof(cfoil_ledger_check, trusted_key), sizeof filled, &filled);
    if (result == CFOIL_OK)
        result = ledger_verify(handle->body, &filled, &error);
    if (result == CFOIL_OK)
        struct_write(check, &filled, sizeof filled);
    return handle_leave(handle, result, &error);
}

int32_t cfoil_ledger_rebuild(cfoil_ledger *ledger)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    result = ledger_rebuild(handle->body, &error);
    return handle_leave(handle, result, &error);
}

static int32_t sign_entered(struct ledger *ledger, int32_t what, cfoil_session *session, const char *staff,
                            struct signed_receipt *receipt, cfoil_error_info *error)
{
    struct actor actor;
    char own[STAFF_MAX + 1];
    if (what == CFOIL_SIGN_CHECKPOINT)
        return checkpoint_write(ledger, receipt, error);
    if (what != CFOIL_SIGN_NEW_KEY)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "ledger", "What to sign must be one of CFOIL_SIGN_*.");
    int32_t result = session_actor(session, ledger, staff, own, &actor, error);
    return result == CFOIL_OK ? key_change(ledger, &actor, receipt, error) : result;
}

int32_t cfoil_ledger_sign(cfoil_ledger *ledger, int32_t what, cfoil_session *session, const char *staff,
                          cfoil_record *record)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_record filled = CFOIL_RECORD_INIT;
    struct signed_receipt receipt = {.time_utc_ms = 0};
    if (record != NULL)
        result = struct_check(record, sizeof *record);
    if (result == CFOIL_OK)
        result = sign_entered(handle->body, what, session, staff, &receipt, &error);
    if (result == CFOIL_OK && record != NULL) {
        filled.entry = receipt.entry.number;
        filled.time_utc_ms = receipt.time_utc_ms;
        text_copy(filled.hash, sizeof filled.hash, receipt.entry.hash);
        struct_write(record, &filled, sizeof filled);
    }
    return handle_leave(handle, result, &error);
}

#define REPORT_OPTIONS_FIRST offsetof(cfoil_report_options, store) /* as they were before there was a store */

static int32_t report_options_read(const cfoil_report_options *given, cfoil_report_options *options,
                                   cfoil_error_info *error)
{
    cfoil_report_options all = CFOIL_REPORT_OPTIONS_INIT;
    *options = all;
    int32_t result = given == NULL ? CFOIL_OK : struct_read(given, REPORT_OPTIONS_FIRST, sizeof *options, options);
    if (result != CFOIL_OK)
        return result;
    if (options->format == 0)
        options->format = CFOIL_FORMAT_JSON;
    if (options->format < CFOIL_FORMAT_JSON || options->format > CFOIL_FORMAT_HTML)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "report", "The format must be one of CFOIL_FORMAT_*.");
    if (options->from_utc_ms < 0 || options->until_utc_ms < 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, "report", "Times must not be negative.");
    if (options->lane != NULL && !text_acceptable(options->lane, 1, 32))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "report", "The lane must be 1 to 32 bytes of UTF-8.");
    if (options->store != NULL && !text_acceptable(options->store, 0, 64))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, "report", "The store must be at most 64 bytes of UTF-8.");
    return CFOIL_OK;
}

int32_t cfoil_report_write(cfoil_ledger *ledger, const cfoil_report_options *given, char *buffer, size_t capacity,
                           size_t *needed)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_report_options options;
    result = report_options_read(given, &options, &error);
    char *text = NULL;
    if (result == CFOIL_OK)
        result = report_text(handle->body, &options, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    cJSON_free(text);
    return handle_leave(handle, result, &error);
}
