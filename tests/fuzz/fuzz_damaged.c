/*
 * Any bytes as a request about a damaged note: refused with a reason, or answered. An answer is well-formed JSON; its text
 * is whole; an outcome that is sure has one value, and a range is never upside down.
 */
#include "fuzz.h"

#include "damaged/answer.h"
#include "model/json.h"

#include <cjson/cJSON.h>

static struct pack_set *packs;

static void packs_make(void)
{
    demand(pack_set_create(&memory_heap, &packs, NULL) == CFOIL_OK);
}

static void packs_end(void)
{
    pack_set_release(packs);
}

static void answer_is_whole(const cJSON *answer)
{
    char *line = json_line(answer);
    demand(line != NULL && strchr(line, '\n') == NULL);
    cJSON *read = cJSON_ParseWithOpts(line, NULL, 1);
    demand(read != NULL);
    const cJSON *worth = cJSON_GetObjectItemCaseSensitive(read, "worth");
    const cJSON *least = cJSON_GetObjectItemCaseSensitive(worth, "value_at_least_minor");
    const cJSON *most = cJSON_GetObjectItemCaseSensitive(worth, "value_at_most_minor");
    const cJSON *value = cJSON_GetObjectItemCaseSensitive(read, "value_minor");
    if (cJSON_IsNumber(least))
        demand(cJSON_IsNumber(most) && least->valuedouble >= 0 && most->valuedouble >= least->valuedouble);
    /* Only pieces of different notes can be worth more than one note. */
    const cJSON *claims = cJSON_GetObjectItemCaseSensitive(worth, "claims");
    if (cJSON_IsNumber(most) && cJSON_GetArraySize(claims) == 0)
        demand(most->valuedouble <= value->valuedouble);
    cJSON_Delete(read);
    cJSON_free(line);
}

static void request_answer(const char *request)
{
    struct damaged_session *session;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    cJSON *answer = NULL;
    int32_t result = damaged_session_open(&memory_heap, request, &session, &error);
    if (result == CFOIL_OK)
        result = damaged_session_answer(session, packs, &answer, &error);
    demand((result == CFOIL_OK) == (answer != NULL));
    if (answer == NULL)
        demand(error.result == result && error.text[0] != '\0');
    else
        answer_is_whole(answer);
    cJSON_Delete(answer);
    damaged_session_close(session);
}

static void request_word(const char *request)
{
    struct damaged_session *session;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char *text = NULL;
    if (damaged_session_open(&memory_heap, request, &session, &error) != CFOIL_OK)
        return;
    if (damaged_session_text(session, packs, &text, &error) == CFOIL_OK)
        demand(text[0] != '\0' && text[strlen(text) - 1] == '\n');
    memory_release(&memory_heap, text);
    damaged_session_close(session);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (packs == NULL) {
        packs_make();
        (void)atexit(packs_end);
    }
    char *request = text_copied(data, size);
    request_answer(request);
    request_word(request);
    free(request);
    return 0;
}
