/*
 * The exported functions that carry a ledger's entries out, and others in.
 */
#include "abi/context.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "ledger/export.h"
#include "ledger/import.h"
#include "model/error.h"
#include "model/text.h"

#define AREA "ledger"

static int32_t export_options_read(const cfoil_export_options *given, cfoil_export_options *options,
                                   cfoil_error_info *error)
{
    int32_t result = struct_read(given, sizeof *options, sizeof *options, options);
    if (result != CFOIL_OK)
        return result;
    if (options->format == 0)
        options->format = CFOIL_EXPORT_JSON_LINES;
    if (options->table == 0)
        options->table = CFOIL_TABLE_PRESENTATIONS;
    if (options->write == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Give a function that takes the export.");
    if (options->format != CFOIL_EXPORT_JSON_LINES && options->format != CFOIL_EXPORT_CSV)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The format must be one of CFOIL_EXPORT_*.");
    if (csv_table_kind(options->table) == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "The table must be one of CFOIL_TABLE_*.");
    if (options->from_utc_ms < 0 || options->until_utc_ms < 0)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "Times must not be negative.");
    return CFOIL_OK;
}

int32_t cfoil_ledger_export(cfoil_ledger *ledger, const cfoil_export_options *given)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_export_options options;
    result = export_options_read(given, &options, &error);
    if (result == CFOIL_OK)
        result = ledger_export(handle->body, &options, &error);
    return handle_leave(handle, result, &error);
}

static int32_t import_options_read(const cfoil_import_options *given, cfoil_import_options *options,
                                   cfoil_error_info *error)
{
    int32_t result = struct_read(given, sizeof *options, sizeof *options, options);
    if (result != CFOIL_OK)
        return result;
    if (options->read == NULL)
        return error_set(error, CFOIL_E_ARGUMENT_NULL, 0, AREA, "Give a function that reads what is imported.");
    if (options->batch > IMPORT_BATCH_MAX)
        return error_set(error, CFOIL_E_ARGUMENT_RANGE, 0, AREA, "A batch has at most 100000 lines.");
    if (options->staff != NULL && !text_acceptable(options->staff, 1, STAFF_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_TEXT, 0, AREA, "A staff code is 1 to 32 bytes of UTF-8.");
    return CFOIL_OK;
}

int32_t cfoil_ledger_import(cfoil_ledger *ledger, const cfoil_import_options *given, cfoil_import_result *told)
{
    struct handle *handle;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_import_options options;
    cfoil_import_result filled = CFOIL_IMPORT_RESULT_INIT;
    struct actor actor;
    char staff[STAFF_MAX + 1];
    result = told == NULL ? CFOIL_OK : struct_check(told, sizeof *told);
    if (result == CFOIL_OK)
        result = import_options_read(given, &options, &error);
    if (result == CFOIL_OK)
        result = session_actor(options.session, handle->body, options.staff, staff, &actor, &error);
    if (result == CFOIL_OK) {
        result = ledger_import(handle->body, &options, &actor, &filled, &error);
        if (told != NULL)
            struct_write(told, &filled, sizeof filled);
    }
    return handle_leave(handle, result, &error);
}
