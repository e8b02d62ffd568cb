/*
 * counterfoil worth, fit and grid: what is a damaged note worth, may a worn one go out again, and a page to measure on.
 */
#include "commands.h"
#include "host.h"
#include "measures.h"
#include "print.h"
#include "values.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Asking ---- */

struct question {
    cfoil_context *context;
    const char *request;
    bool json;
};

static int32_t answer_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct question *question = user;
    return (question->json ? cfoil_damaged_json : cfoil_damaged_text)(question->context, question->request, buffer,
                                                                      capacity, needed);
}

/* A line at a time, the words behind its label indented. */
static void lines_print(char *text)
{
    for (char *line = text; line != NULL && line[0] != '\0';) {
        char *end = strchr(line, '\n');
        if (end != NULL)
            *end = '\0';
        print_wrapped(stdout, "", 0, line);
        line = end != NULL ? end + 1 : NULL;
    }
}

static int request_ask(const struct arguments *arguments, const struct request *request)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    struct question question = {host.context, request->text, arguments->values[OPTION_JSON] != NULL};
    int32_t result;
    char *text = text_fetch(answer_source, &question, &result);
    if (text == NULL) {
        code = failure_report(host.context, result, "cannot answer");
        bool call_wrong = (result & 0xff) == CFOIL_CLASS_DATA || (result & 0xff) == CFOIL_CLASS_MISSING;
        code = call_wrong ? TOOL_USAGE : code;
    } else if (question.json) {
        printf("%s\n", text);
    } else {
        lines_print(text);
    }
    free(text);
    host_close(&host);
    return code;
}

/* ---- The note ---- */

static bool value_read(const struct arguments *arguments, int64_t *value_minor)
{
    const char *value = arguments->values[OPTION_VALUE];
    if (amount_parse(value, arguments->values[OPTION_CURRENCY], value_minor))
        return true;
    complain("--value '%s' is not good; give the value of the note, for example 50", value);
    return false;
}

static bool note_write(const struct arguments *arguments, struct request *request)
{
    int64_t value_minor = 0;
    int64_t notes = 0;
    if (!value_read(arguments, &value_minor) || !arguments_whole(arguments, OPTION_COUNT, 1, 1000000, &notes))
        return false;
    request_add(request, "{\"schema\":\"counterfoil.damaged/1\",\"currency\":");
    request_add_text(request, arguments->values[OPTION_CURRENCY]);
    request_add(request, ",\"value_minor\":");
    request_add_whole(request, value_minor);
    static const struct {
        enum option_id id;
        const char *key;
    } texts[] = {{OPTION_SERIES, ",\"series\":"}, {OPTION_LANGUAGE, ",\"language\":"}};
    for (size_t i = 0; i < 2; i++) {
        if (arguments->values[texts[i].id] == NULL)
            continue;
        request_add(request, texts[i].key);
        request_add_text(request, arguments->values[texts[i].id]);
    }
    if (notes > 0) {
        request_add(request, ",\"notes\":");
        request_add_whole(request, notes);
    }
    return true;
}

/* ---- Worth ---- */

/* Pieces of one note, unless they were said to be of different ones. */
static const char *pieces_word(const char *conditions, int count)
{
    if (count < 2 || (conditions != NULL && strstr(conditions, "mismatched") != NULL))
        return NULL;
    const char *word = count == 2 ? "two_pieces" : "several_pieces";
    return conditions != NULL && strstr(conditions, "pieces") != NULL ? NULL : word;
}

static bool ways_check(const struct arguments *arguments)
{
    static const enum option_id ways[] = {OPTION_AREA, OPTION_MISSING, OPTION_POLYGON, OPTION_SQUARES};
    int count = 0;
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++)
        count += arguments->values[ways[i]] != NULL;
    if (count == 0 && arguments->values[OPTION_CONDITION] == NULL)
        complain("worth needs what is wrong with the note; give --condition or one of --area, --missing, --polygon and "
                 "--squares");
    else if (count > 1)
        complain("the note is measured in more than one way; give one of --area, --missing, --polygon and --squares");
    return count <= 1 && (count == 1 || arguments->values[OPTION_CONDITION] != NULL);
}

int worth_run(const struct arguments *arguments)
{
    struct request request = {.length = 0};
    if (!ways_check(arguments) || !note_write(arguments, &request))
        return TOOL_USAGE;
    int pieces = 0;
    bool good = pieces_write(arguments, &request, &pieces);
    const char *conditions = arguments->values[OPTION_CONDITION];
    if (good)
        conditions_write(&request, conditions, pieces_word(conditions, pieces));
    request_add(&request, "}");
    if (good && request.full) {
        complain("that is too much for one question; give fewer points or pieces");
        good = false;
    }
    return good ? request_ask(arguments, &request) : TOOL_USAGE;
}

/* ---- Fit ---- */

int fit_run(const struct arguments *arguments)
{
    struct request request = {.length = 0};
    if (!note_write(arguments, &request))
        return TOOL_USAGE;
    request_add(&request, ",\"defects\":[");
    for (int i = 0; i < arguments->word_count; i++) {
        request_add(&request, i > 0 ? "," : "");
        if (!defect_write(&request, arguments->words[i])) {
            complain(
                "'%s' is not good; give a fault and what was measured, for example tear:vertical:9x5mm or hole:12mm2",
                arguments->words[i]);
            return TOOL_USAGE;
        }
    }
    request_add(&request, "]}");
    return request_ask(arguments, &request);
}

/* ---- Grid ---- */

struct page {
    cfoil_context *context;
    const struct arguments *arguments;
    int64_t value_minor;
    int64_t side_mm;
};

static int32_t page_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct page *page = user;
    const char *const *values = page->arguments->values;
    return cfoil_damaged_grid(page->context, values[OPTION_CURRENCY], page->value_minor, values[OPTION_SERIES],
                              (uint32_t)page->side_mm, values[OPTION_LANGUAGE], buffer, capacity, needed);
}

int grid_run(const struct arguments *arguments)
{
    struct host host;
    struct page page = {NULL, arguments, 0, 5};
    if (!value_read(arguments, &page.value_minor) || !arguments_whole(arguments, OPTION_SIDE, 1, 10, &page.side_mm))
        return TOOL_USAGE;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    page.context = host.context;
    code = text_print(page_source, &page, "", host.context, "cannot draw the page");
    host_close(&host);
    return code;
}
