/*
 * The exported functions about cases: guidance leads, the ledger keeps the disposition.
 */
#include "abi/case.h"
#include "abi/session.h"
#include "abi/structs.h"
#include "guidance/case_state.h"
#include "ledger/keep.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"
#include "model/uuid.h"
#include "packs/pack.h"
#include "statistics/explain.h"
#include "statistics/lane_record.h"

#include <stddef.h>
#include <string.h>

void open_case_free(cfoil_context *context, struct open_case *open)
{
    if (open == NULL)
        return;
    guidance_close(open->guidance);
    ledger_release(open->ledger);
    memory_release(&context->memory, open);
}

/* ---- Opening ---- */

int32_t case_id_make(char text[UUID_TEXT_SIZE], cfoil_error_info *error)
{
    uint8_t random[10];
    if (!os_random(random, sizeof random))
        return error_set(error, CFOIL_E_SYSTEM_OS, 0, "case", "The system gave no random bytes: try again.");
    uuid_v7_text(os_time_utc_ms(), random, text);
    return CFOIL_OK;
}

static int32_t ledger_of_case(const cfoil_case_options *options, struct ledger **ledger)
{
    if (options->ledger == NULL)
        return CFOIL_OK;
    struct handle *handle;
    int32_t result = handle_enter(options->ledger, HANDLE_LEDGER, &handle);
    if (result != CFOIL_OK)
        return result;
    *ledger = ledger_retain(handle->body);
    return handle_leave(handle, CFOIL_OK, NULL);
}

/* The host's clock for what guidance times, in milliseconds. */
static void time_tell(struct guidance *guidance)
{
    guidance_time_set(guidance, (int64_t)(os_monotonic_us() / 1000));
}

/* How the machine of this lane has been doing. A ledger that cannot be read now leaves the default: the case goes on. */
int32_t case_record_tell(struct open_case *open, const char *lane, cfoil_error_info *error)
{
    if (open->ledger == NULL || lane == NULL || lane[0] == '\0')
        return CFOIL_OK;
    struct lane_record record;
    int32_t result = lane_record_count(open->ledger, lane, &record, error);
    guidance_record_set(open->guidance, record.presentations, record.refusals);
    return result == CFOIL_E_MEMORY ? result : CFOIL_OK;
}

static int32_t case_begin(cfoil_context *context, const cfoil_case_options *options, const char *case_id,
                          struct open_case *open, cfoil_error_info *error)
{
    struct pack_set *packs;
    struct pack_wanted wanted = {
        .currency = options->currency,
        .jurisdiction = options->jurisdiction != NULL ? options->jurisdiction : "",
        .language = options->language != NULL ? options->language : "",
        .exchange = options->currency, /* for a worn note: what a bank gives for it */
    };
    int32_t result = context_packs_provide(context, &wanted, &packs, error);
    if (result != CFOIL_OK)
        return result;
    cfoil_case_options today = *options;
    if (today.today_utc_ms == 0)
        today.today_utc_ms = os_time_utc_ms();
    result = guidance_open(&context->memory, packs, &today, case_id, &open->guidance, error);
    pack_set_release(packs);
    return result;
}

static int32_t open_case_make(cfoil_context *context, const cfoil_case_options *options, struct open_case **made,
                              cfoil_error_info *error)
{
    char case_id[UUID_TEXT_SIZE];
    int32_t result = case_id_make(case_id, error);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = memory_allocate(&context->memory, sizeof *open);
    if (open == NULL)
        return CFOIL_E_MEMORY;
    result = ledger_of_case(options, &open->ledger);
    if (result == CFOIL_OK)
        result = case_begin(context, options, case_id, open, error);
    if (result == CFOIL_OK)
        result = case_record_tell(open, options->lane, error);
    if (result != CFOIL_OK) {
        open_case_free(context, open);
        return result;
    }
    time_tell(open->guidance);
    *made = open;
    return CFOIL_OK;
}

int32_t cfoil_case_open(cfoil_context *context, const cfoil_case_options *options, cfoil_case **handle)
{
    if (handle == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    *handle = NULL;
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_case_options copy;
    struct open_case *open = NULL;
    result = struct_read(options, offsetof(cfoil_case_options, language), sizeof copy, &copy);
    if (result == CFOIL_OK)
        result = open_case_make(context, &copy, &open, &error);
    if (result == CFOIL_OK) {
        *handle = (cfoil_case *)handle_create(context, HANDLE_CASE, open);
        if (*handle == NULL) {
            open_case_free(context, open);
            result = CFOIL_E_MEMORY;
        } else {
            case_keep(context, open);
        }
    }
    return handle_leave(entered, result, &error);
}

/* ---- Recording ---- */

/* Records the disposition and marks the case as ended; on failure the case stays as it is. */
static int32_t disposition_record(struct open_case *open, const cfoil_disposition_options *options,
                                  cfoil_record *record, cfoil_error_info *error)
{
    int64_t now = os_time_utc_ms();
    struct ledger_receipt receipt = {0, ""};
    if (open->ledger != NULL) {
        cJSON *body = guidance_json(open->guidance, options, now);
        char *text = json_canonical(body);
        cJSON_Delete(body);
        if (text == NULL)
            return error_memory_set(error, "case");
        bool refused = options->disposition == CFOIL_DISPOSITION_NOT_TAKEN ||
                       options->disposition == CFOIL_DISPOSITION_SET_ASIDE;
        const char *serial = guidance_serial(open->guidance);
        struct ledger_item item = {
            .kind = LEDGER_KIND_CASE,
            .time_utc_ms = now,
            .body = text,
            .case_id = guidance_case_id(open->guidance),
            .disposition = options->disposition,
            .currency = guidance_currency(open->guidance),
            .serial = refused && serial[0] != '\0' ? serial : NULL,
        };
        int32_t result = ledger_append(open->ledger, &item, 1, NULL, &receipt, error);
        cJSON_free(text);
        if (result != CFOIL_OK)
            return result;
    }
    guidance_end(open->guidance, options);
    record->disposition = options->disposition;
    record->entry = receipt.number;
    record->time_utc_ms = now;
    text_copy(record->case_id, sizeof record->case_id, guidance_case_id(open->guidance));
    text_copy(record->hash, sizeof record->hash, receipt.hash);
    return CFOIL_OK;
}

/* Taking a note against the advice is a supervisor's word; where staff codes are kept it needs the PIN behind it. */
static int32_t override_check(const struct open_case *open, cfoil_disposition_options *options,
                              char staff[STAFF_MAX + 1], cfoil_error_info *error)
{
    struct actor actor;
    bool overrides = options->override_by != NULL && options->override_by[0] != '\0';
    if (open->ledger == NULL || (!overrides && options->session == NULL))
        return CFOIL_OK;
    int32_t result = session_actor(options->session, open->ledger, options->override_by, staff, &actor, error);
    if (result != CFOIL_OK || !overrides)
        return result;
    options->override_by = actor.staff;
    return access_ask(open->ledger, &actor, ROLES_SUPERVISE, error);
}

int32_t cfoil_case_dispose(cfoil_case *handle, const cfoil_disposition_options *options, cfoil_record *record)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = entered->body;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_disposition_options copy;
    cfoil_record filled = CFOIL_RECORD_INIT;
    char staff[STAFF_MAX + 1];
    result = struct_read(options, offsetof(cfoil_disposition_options, session), sizeof copy, &copy);
    time_tell(open->guidance);
    if (result == CFOIL_OK && record != NULL)
        result = struct_check(record, sizeof *record);
    if (result == CFOIL_OK)
        result = guidance_disposition_check(open->guidance, &copy, &error);
    if (result == CFOIL_OK)
        result = override_check(open, &copy, staff, &error);
    if (result == CFOIL_OK)
        result = disposition_record(open, &copy, &filled, &error);
    if (result == CFOIL_OK && record != NULL)
        struct_write(record, &filled, sizeof filled);
    return handle_leave(entered, result, &error);
}

/* A case that nobody ended is part of the figures too. */
static void abandoned_record(cfoil_context *context, struct open_case *open)
{
    if (open->ledger == NULL || guidance_disposition(open->guidance) != CFOIL_DISPOSITION_NONE ||
        !guidance_touched(open->guidance))
        return;
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = CFOIL_DISPOSITION_ABANDONED;
    cfoil_record record;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (disposition_record(open, &options, &record, &error) != CFOIL_OK)
        context_log(context, CFOIL_LOG_ERROR, "case", "case_not_recorded", &error);
}

void cfoil_case_close(cfoil_case *handle)
{
    struct handle *entered;
    if (handle_enter(handle, HANDLE_CASE, &entered) != CFOIL_OK)
        return;
    cfoil_context *context = entered->context;
    int mine = handle_close_begin(entered);
    (void)handle_leave(entered, CFOIL_OK, NULL);
    if (!mine)
        return;
    struct open_case *open = handle_close_end(entered);
    abandoned_record(context, open);
    case_forget(context, open);
    open_case_free(context, open);
}

/* ---- Guidance ---- */

int32_t cfoil_case_presentation_add(cfoil_case *handle, const cfoil_event *event)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = entered->body;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_event copy;
    result = struct_read(event, sizeof copy, sizeof copy, &copy);
    if (result == CFOIL_OK)
        result = guidance_presentation_add(open->guidance, &copy, &error);
    if (result == CFOIL_OK)
        case_keep(entered->context, open);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_case_step(cfoil_case *handle, cfoil_step *step)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = entered->body;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_step filled = CFOIL_STEP_INIT;
    result = struct_check(step, offsetof(cfoil_step, where));
    time_tell(open->guidance);
    if (result == CFOIL_OK)
        result = guidance_step(open->guidance, &filled, &error);
    if (result == CFOIL_OK)
        struct_write(step, &filled, sizeof filled);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_case_answer(cfoil_case *handle, const char *check, int32_t answer)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = entered->body;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    time_tell(open->guidance);
    if (check == NULL)
        result = CFOIL_E_ARGUMENT_NULL;
    else
        result = guidance_answer(open->guidance, check, answer, &error);
    if (result == CFOIL_OK)
        case_keep(entered->context, open);
    return handle_leave(entered, result, &error);
}

static int32_t serial_put(struct open_case *open, const char *serial, cfoil_serial *result, cfoil_error_info *error)
{
    if (!text_acceptable(serial, 1, 64))
        return serial == NULL ? CFOIL_E_ARGUMENT_NULL : CFOIL_E_ARGUMENT_TEXT;
    int32_t code = guidance_serial_check(open->guidance, serial, result);
    struct serial_known known = {false, false};
    if (code == CFOIL_OK && open->ledger != NULL)
        code = keep_serial_look(open->ledger, guidance_currency(open->guidance), result->normalised,
                                guidance_value_minor(open->guidance), guidance_case_id(open->guidance), &known, error);
    if (code == CFOIL_OK)
        code = guidance_serial_set(open->guidance, result, known.refused, error);
    result->seen_refused = known.refused;
    result->seen_open = known.open;
    return code;
}

int32_t cfoil_case_serial_set(cfoil_case *handle, const char *serial, cfoil_serial *result)
{
    struct handle *entered;
    int32_t code = handle_enter(handle, HANDLE_CASE, &entered);
    if (code != CFOIL_OK)
        return code;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cfoil_serial filled = CFOIL_SERIAL_INIT;
    if (result != NULL)
        code = struct_check(result, offsetof(cfoil_serial, seen_open));
    if (code == CFOIL_OK)
        code = serial_put(entered->body, serial, &filled, &error);
    if (code == CFOIL_OK)
        case_keep(entered->context, entered->body);
    if (code == CFOIL_OK && result != NULL)
        struct_write(result, &filled, sizeof filled);
    return handle_leave(entered, code, &error);
}

int32_t cfoil_case_json(cfoil_case *handle, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    struct open_case *open = entered->body;
    time_tell(open->guidance);
    cJSON *object = guidance_json(open->guidance, NULL, os_time_utc_ms());
    bool good = object != NULL && guidance_step_add(object, open->guidance);
    result = good ? json_export(object, buffer, capacity, needed) : CFOIL_E_MEMORY;
    cJSON_Delete(object);
    return handle_leave(entered, result, NULL);
}

int32_t cfoil_case_explain(cfoil_context *context, const char *case_json, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char *text = NULL;
    if (case_json == NULL)
        result = CFOIL_E_ARGUMENT_NULL;
    else
        result = explain_text(&context->memory, case_json, &text, &error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), buffer, capacity, needed);
    cJSON_free(text);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_case_picture(cfoil_case *handle, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(handle, HANDLE_CASE, &entered);
    if (result != CFOIL_OK)
        return result;
    const struct open_case *open = entered->body;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (buffer == NULL && capacity != 0)
        result = CFOIL_E_ARGUMENT_NULL;
    else
        result = guidance_picture(open->guidance, buffer, capacity, needed, &error);
    return handle_leave(entered, result, &error);
}
