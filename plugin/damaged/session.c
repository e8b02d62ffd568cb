/*
 * From the text of a request to its answer. See answer.h.
 */
#include "damaged/answer.h"

#include "model/json_scan.h"

#include <string.h>

struct damaged_session {
    struct memory memory;
    struct arena arena;
    const char *text;
    size_t length;
    cJSON *tree;
    struct damaged_request request;
    struct judgement judgement;
};

static int32_t text_check(const char *text, size_t length, cfoil_error_info *error)
{
    struct json_fault fault;
    if (length > REQUEST_SIZE_MAX)
        return error_set(error, CFOIL_E_DATA_SIZE, 0, "damaged", "The request is larger than 64 KiB.");
    if (json_scan(text, length, &fault))
        return CFOIL_OK;
    error_set(error, fault.result, 0, "damaged", "The request: line %d: %s.", (int)fault.line, fault.what);
    if (error != NULL)
        error->line = fault.line;
    return fault.result;
}

int32_t damaged_session_open(const struct memory *memory, const char *text, struct damaged_session **session,
                             cfoil_error_info *error)
{
    *session = NULL;
    size_t length = strlen(text);
    int32_t result = text_check(text, length, error);
    if (result != CFOIL_OK)
        return result;
    struct damaged_session *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return error_memory_set(error, "damaged");
    made->memory = *memory;
    made->arena.memory = &made->memory;
    made->text = text;
    made->length = length;
    made->tree = cJSON_ParseWithLength(text, length);
    if (made->tree == NULL) {
        damaged_session_close(made);
        return error_memory_set(error, "damaged");
    }
    *session = made;
    return CFOIL_OK;
}

void damaged_session_close(struct damaged_session *session)
{
    if (session == NULL)
        return;
    struct memory memory = session->memory;
    cJSON_Delete(session->tree);
    arena_release(&session->arena);
    memory_release(&memory, session);
}

struct pack_wanted damaged_session_wanted(const struct damaged_session *session)
{
    const cJSON *currency = member(session->tree, "currency");
    const cJSON *language = member(session->tree, "language");
    const char *code = cJSON_IsString(currency) ? currency->valuestring : NULL;
    return (struct pack_wanted){
        .currency = code, .exchange = code, .language = cJSON_IsString(language) ? language->valuestring : ""};
}

static int32_t session_judge(struct damaged_session *session, const struct pack_set *packs, cfoil_error_info *error)
{
    struct reader reader = {
        .file = "request", .text = session->text, .length = session->length, .arena = &session->arena, .error = error};
    int32_t result = request_read(&reader, packs, session->tree, &session->request);
    if (result == CFOIL_OK)
        damaged_judge(&session->request, &session->judgement);
    return result;
}

int32_t damaged_session_answer(struct damaged_session *session, const struct pack_set *packs, cJSON **answer,
                               cfoil_error_info *error)
{
    *answer = NULL;
    int32_t result = session_judge(session, packs, error);
    if (result != CFOIL_OK)
        return result;
    cJSON *made = cJSON_CreateObject();
    if (!answer_fill(made, packs, &session->request, &session->judgement)) {
        cJSON_Delete(made);
        return error_memory_set(error, "damaged");
    }
    *answer = made;
    return CFOIL_OK;
}

int32_t damaged_session_text(struct damaged_session *session, const struct pack_set *packs, char **text,
                             cfoil_error_info *error)
{
    *text = NULL;
    int32_t result = session_judge(session, packs, error);
    if (result != CFOIL_OK)
        return result;
    struct drawing words = {NULL, 0, 0};
    damaged_words_write(packs, &session->request, &session->judgement, &words);
    size_t capacity = words.length + 1;
    char *made = memory_allocate(&session->memory, capacity);
    if (made == NULL)
        return error_memory_set(error, "damaged");
    words = (struct drawing){made, capacity, 0};
    damaged_words_write(packs, &session->request, &session->judgement, &words);
    *text = made;
    return CFOIL_OK;
}
