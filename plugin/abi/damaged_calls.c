/*
 * The exported functions about damaged notes.
 */
#include "abi/context.h"
#include "damaged/answer.h"
#include "damaged/grid.h"
#include "model/error.h"
#include "model/json.h"
#include "model/text.h"

#include <string.h>

/* The request is opened and the packs it needs are there; on failure nothing is left open. */
static int32_t session_prepare(cfoil_context *context, const char *request, struct damaged_session **session,
                               struct pack_set **packs, cfoil_error_info *error)
{
    *packs = NULL;
    int32_t result = damaged_session_open(&context->memory, request, session, error);
    if (result != CFOIL_OK)
        return result;
    struct pack_wanted wanted = damaged_session_wanted(*session);
    result = context_packs_provide(context, &wanted, packs, error);
    if (result != CFOIL_OK)
        damaged_session_close(*session);
    return result;
}

/* Where the answer goes. */
struct answer_place {
    char *buffer;
    size_t capacity;
    size_t *needed;
};

static int32_t document_export(struct damaged_session *session, const struct pack_set *packs,
                               const struct answer_place *place, cfoil_error_info *error)
{
    cJSON *answer;
    int32_t result = damaged_session_answer(session, packs, &answer, error);
    if (result == CFOIL_OK)
        result = json_export(answer, place->buffer, place->capacity, place->needed);
    cJSON_Delete(answer);
    return result;
}

static int32_t lines_export(const struct memory *memory, struct damaged_session *session, const struct pack_set *packs,
                            const struct answer_place *place, cfoil_error_info *error)
{
    char *text;
    int32_t result = damaged_session_text(session, packs, &text, error);
    if (result == CFOIL_OK)
        result = text_export(text, strlen(text), place->buffer, place->capacity, place->needed);
    memory_release(memory, text);
    return result;
}

static int32_t request_answer(cfoil_context *context, const char *request, bool lines, const struct answer_place *place)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    if (request == NULL)
        return handle_leave(entered, CFOIL_E_ARGUMENT_NULL, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct damaged_session *session;
    struct pack_set *packs;
    result = session_prepare(context, request, &session, &packs, &error);
    if (result != CFOIL_OK)
        return handle_leave(entered, result, &error);
    result = lines ? lines_export(&context->memory, session, packs, place, &error)
                   : document_export(session, packs, place, &error);
    damaged_session_close(session);
    pack_set_release(packs);
    return handle_leave(entered, result, &error);
}

int32_t cfoil_damaged_json(cfoil_context *context, const char *request, char *buffer, size_t capacity, size_t *needed)
{
    return request_answer(context, request, false, &(struct answer_place){buffer, capacity, needed});
}

int32_t cfoil_damaged_text(cfoil_context *context, const char *request, char *buffer, size_t capacity, size_t *needed)
{
    return request_answer(context, request, true, &(struct answer_place){buffer, capacity, needed});
}

static int32_t grid_arguments_check(const char *currency, const char *series, uint32_t side_mm, const char *language)
{
    if (currency == NULL)
        return CFOIL_E_ARGUMENT_NULL;
    if (side_mm < GRID_SIDE_LEAST_MM || side_mm > GRID_SIDE_MOST_MM)
        return CFOIL_E_ARGUMENT_RANGE;
    bool good = text_acceptable(currency, 3, 3) && (series == NULL || text_acceptable(series, 1, 40)) &&
                (language == NULL || text_acceptable(language, 0, 16));
    return good ? CFOIL_OK : CFOIL_E_ARGUMENT_TEXT;
}

/* Draws straight into the caller's buffer; too small a one is left empty. */
static int32_t grid_export(const struct pack_set *packs, const char *language, const struct damaged_request *note,
                           uint32_t side_mm, char *buffer, size_t capacity, size_t *needed)
{
    if (buffer == NULL && capacity > 0)
        return CFOIL_E_ARGUMENT_NULL;
    struct drawing drawing = {buffer, capacity, 0};
    grid_write(packs, language, note, side_mm, &drawing);
    if (needed != NULL)
        *needed = drawing.length + 1;
    if (drawing.length < capacity)
        return CFOIL_OK;
    if (capacity > 0)
        buffer[0] = '\0';
    return CFOIL_E_ARGUMENT_BUFFER;
}

int32_t cfoil_damaged_grid(cfoil_context *context, const char *currency, int64_t value_minor, const char *series,
                           uint32_t side_mm, const char *language, char *buffer, size_t capacity, size_t *needed)
{
    struct handle *entered;
    int32_t result = handle_enter(context, HANDLE_CONTEXT, &entered);
    if (result != CFOIL_OK)
        return result;
    result = grid_arguments_check(currency, series, side_mm, language);
    if (result != CFOIL_OK)
        return handle_leave(entered, result, NULL);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *packs;
    struct damaged_request note = {0};
    struct pack_wanted wanted = {
        .currency = currency, .exchange = currency, .language = language != NULL ? language : ""};
    result = context_packs_provide(context, &wanted, &packs, &error);
    if (result == CFOIL_OK && !pack_language_known(packs, language))
        result = error_set(&error, CFOIL_E_MISSING_LANGUAGE, 0, "damaged",
                           "There are no texts in the language %s: load a pack, or give NULL for English.", language);
    if (result == CFOIL_OK)
        result = damaged_note_find(packs, currency, value_minor, series, &note, &error);
    if (result == CFOIL_OK)
        result = grid_export(packs, language, &note, side_mm, buffer, capacity, needed);
    pack_set_release(packs);
    return handle_leave(entered, result, &error);
}
