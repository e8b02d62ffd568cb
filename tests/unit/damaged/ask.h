/*
 * Asking about a damaged note with the built-in packs, and looking into the answer.
 */
#ifndef TESTS_DAMAGED_ASK_H
#define TESTS_DAMAGED_ASK_H

#include "damaged/answer.h"
#include "model/json.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

static struct pack_set *ask_packs;

static inline int ask_open(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (pack_set_create(&memory_heap, &ask_packs, &error) == CFOIL_OK)
        return 0;
    print_error("%s\n", error.text);
    return -1;
}

static inline int ask_end(void **state)
{
    (void)state;
    pack_set_release(ask_packs);
    return 0;
}

/* Answers as JSON; a failure gives NULL and fills *error. */
static inline cJSON *ask_try(const char *request, int32_t *result, cfoil_error_info *error)
{
    struct damaged_session *session;
    cJSON *answer = NULL;
    *error = (cfoil_error_info)CFOIL_ERROR_INFO_INIT;
    *result = damaged_session_open(&memory_heap, request, &session, error);
    if (*result == CFOIL_OK)
        *result = damaged_session_answer(session, ask_packs, &answer, error);
    damaged_session_close(session);
    if (answer == NULL)
        return NULL;
    /* As a reader sees it: whole numbers are kept as text inside. */
    char *line = json_line(answer);
    cJSON *read = cJSON_Parse(line);
    cJSON_free(line);
    cJSON_Delete(answer);
    assert_non_null(read);
    return read;
}

/* The answer to {"schema":..., BODY}; the caller deletes it. */
static inline cJSON *ask(const char *body)
{
    char request[4096];
    (void)snprintf(request, sizeof request, "{\"schema\":\"counterfoil.damaged/1\",%s}", body);
    int32_t result;
    cfoil_error_info error;
    cJSON *answer = ask_try(request, &result, &error);
    if (answer == NULL)
        print_error("%s: %s\n", request, error.text);
    assert_non_null(answer);
    return answer;
}

static inline const cJSON *look(const cJSON *answer, const char *first, const char *second)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(answer, first);
    return second != NULL ? cJSON_GetObjectItemCaseSensitive(item, second) : item;
}

static inline const char *look_text(const cJSON *answer, const char *first, const char *second)
{
    const cJSON *item = look(answer, first, second);
    return cJSON_IsString(item) ? item->valuestring : "none";
}

/* The outcome for a note of which so much was measured, thousandths of a square millimetre. */
static inline void outcome_expect(const char *currency, int64_t value_minor, const char *series, int64_t thousandths,
                                  int64_t bound_thousandths, const char *expected)
{
    char body[512];
    (void)snprintf(body, sizeof body,
                   "\"currency\":\"%s\",\"value_minor\":%lld,\"series\":\"%s\",\"pieces\":[{\"area_mm2\":%lld.%03lld,"
                   "\"bound_mm2\":%lld.%03lld}]",
                   currency, (long long)value_minor, series, (long long)(thousandths / 1000),
                   (long long)(thousandths % 1000), (long long)(bound_thousandths / 1000),
                   (long long)(bound_thousandths % 1000));
    cJSON *answer = ask(body);
    const char *outcome = look_text(answer, "worth", "outcome");
    if (strcmp(outcome, expected) != 0)
        print_error("%s: %s instead of %s\n", body, outcome, expected);
    assert_string_equal(outcome, expected);
    cJSON_Delete(answer);
}

/* At a limit, just below it, and just above it; then with bounds that reach it and that do not. */
static inline void limit_expect(const char *currency, int64_t value_minor, const char *series,
                                int64_t limit_thousandths, bool inclusive, const char *above, const char *below)
{
    outcome_expect(currency, value_minor, series, limit_thousandths, 0, inclusive ? above : below);
    outcome_expect(currency, value_minor, series, limit_thousandths + 1, 0, above);
    outcome_expect(currency, value_minor, series, limit_thousandths - 1, 0, below);
    outcome_expect(currency, value_minor, series, limit_thousandths + 50000, 50000, inclusive ? above : "too_close");
    outcome_expect(currency, value_minor, series, limit_thousandths + 50000, 50001, "too_close");
    outcome_expect(currency, value_minor, series, limit_thousandths + 50001, 50000, above);
    outcome_expect(currency, value_minor, series, limit_thousandths - 50000, 50000, inclusive ? "too_close" : below);
    outcome_expect(currency, value_minor, series, limit_thousandths - 50001, 50000, below);
    outcome_expect(currency, value_minor, series, limit_thousandths, 1, "too_close");
}

#endif
