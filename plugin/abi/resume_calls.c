/*
 * Keeping open cases in the ledger, taking one up again, and what the cases of a sale mean for its end.
 */
#include "abi/case.h"
#include "abi/structs.h"
#include "guidance/case_state.h"
#include "ledger/keep.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "packs/pack.h"

#include <string.h>

/* ---- Keeping ---- */

/* A ledger that is open for reading only keeps nothing, which is what its host asked for. */
static void failure_log(cfoil_context *context, int32_t result, const char *key, cfoil_error_info *error)
{
    if (result != CFOIL_OK && result != CFOIL_E_LEDGER_READ_ONLY)
        context_log(context, CFOIL_LOG_WARNING, "case", key, error);
}

static int32_t state_save(const struct open_case *open, cfoil_error_info *error)
{
    cJSON *state = guidance_state(open->guidance);
    char *text = json_line(state);
    cJSON_Delete(state);
    if (text == NULL)
        return error_memory_set(error, "case");
    struct working_case working = {
        .case_id = guidance_case_id(open->guidance),
        .lane = guidance_lane(open->guidance),
        .sale = guidance_sale(open->guidance),
        .currency = guidance_currency(open->guidance),
        .serial = guidance_serial(open->guidance),
        .state = text,
    };
    int32_t result = keep_case_save(open->ledger, &working, error);
    cJSON_free(text);
    return result;
}

void case_keep(cfoil_context *context, const struct open_case *open)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (open->ledger != NULL)
        failure_log(context, state_save(open, &error), "case_not_saved", &error);
}

void case_forget(cfoil_context *context, const struct open_case *open)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (open->ledger == NULL || guidance_disposition(open->guidance) != CFOIL_DISPOSITION_NONE)
        return;
    failure_log(context, keep_case_remove(open->ledger, guidance_case_id(open->guidance), &error), "case_not_removed",
                &error);
}

/* ---- Taking up again ---- */

static int32_t state_parse(char *text, cJSON **state, cfoil_error_info *error)
{
    int32_t result = ledger_body_parse(text, state);
    keep_text_free(text);
    if (result == CFOIL_OK && *state == NULL)
        return error_set(error, CFOIL_E_DATA_SCHEMA, 0, "case", "The saved case cannot be read: open a new one.");
    return result;
}

static int32_t case_restore(cfoil_context *context, const cJSON *state, struct open_case *open, cfoil_error_info *error)
{
    struct pack_set *packs;
    struct pack_wanted wanted = guidance_state_wanted(state);
    int32_t result = context_packs_provide(context, &wanted, &packs, error);
    if (result != CFOIL_OK)
        return result;
    result = guidance_restore(&context->memory, packs, state, (int64_t)(os_monotonic_us() / 1000), &open->guidance,
                              error);
    pack_set_release(packs);
    return result;
}

static int32_t open_case_resume(cfoil_context *context, struct ledger *ledger, const char *case_id,
                                struct open_case **made, cfoil_error_info *error)
{
    char *text;
    cJSON *state = NULL;
    int32_t result = keep_case_load(ledger, case_id, &text, error);
    if (result == CFOIL_OK)
        result = state_parse(text, &state, error);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = memory_allocate(&context->memory, sizeof *open);
    result = open != NULL ? case_restore(context, state, open, error) : CFOIL_E_MEMORY;
    cJSON_Delete(state);
    if (result == CFOIL_OK && strcmp(guidance_case_id(open->guidance), case_id) != 0)
        result = error_set(error, CFOIL_E_DATA_SCHEMA, 0, "case", "The saved case is another one: open a new one.");
    if (result == CFOIL_OK) {
        open->ledger = ledger_retain(ledger);
        result = case_record_tell(open, guidance_lane(open->guidance), error);
    }
    if (result != CFOIL_OK) {
        open_case_free(context, open);
        return result;
    }
    *made = open;
    return CFOIL_OK;
}

static int32_t resume_entered(cfoil_context *context, cfoil_ledger *ledger, const char *case_id, cfoil_case **handle,
                              cfoil_error_info *error)
{
    struct handle *entered;
    struct open_case *open = NULL;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    result = open_case_resume(context, entered->body, case_id, &open, error);
    (void)handle_leave(entered, CFOIL_OK, NULL);
    if (result != CFOIL_OK)
        return result;
    *handle = (cfoil_case *)handle_create(context, HANDLE_CASE, open);
    if (*handle != NULL)
        return CFOIL_OK;
    open_case_free(context, open);
    return CFOIL_E_MEMORY;
}

int32_t cfoil_case_resume(cfoil_context *context, cfoil_ledger *ledger, const char *case_id, cfoil_case **handle)
{
    if (handle == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *handle = NULL;
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (!text_acceptable(case_id, 1, 64))
        result = case_id == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT;
    else
        result = resume_entered(context, ledger, case_id, handle, &error);
    return handle_leave(entered, result, &error);
}

/* ---- The sale ---- */

int32_t cfoil_tender_check(cfoil_ledger *ledger, const char *sale, cfoil_tender *tender)
{
    struct handle *entered;
    int32_t result = handle_enter(ledger, HANDLE_LEDGER, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_tender filled = CFOIL_TENDER_INIT;
    result = struct_check(tender, sizeof *tender);
    if (result == CFOIL_OK && !text_acceptable(sale, 1, 64))
        result = sale == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT;
    if (result == CFOIL_OK)
        result = keep_tender_check(entered->body, sale, &filled, &error);
    if (result == CFOIL_OK)
        struct_write(tender, &filled, sizeof filled);
    return handle_leave(entered, result, &error);
}
