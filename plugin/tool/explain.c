/*
 * counterfoil explain: what did a case's evidence weigh, and why?
 */
#include "commands.h"
#include "host.h"
#include "print.h"
#include "values.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct explain_wish {
    cfoil_context *context;
    cfoil_ledger *ledger;
    const char *case_id; /* NULL = by number */
    int64_t number;
    const char *json;
};

static int32_t case_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct explain_wish *wish = user;
    if (wish->case_id != NULL)
        return cfoil_ledger_case_json(wish->ledger, wish->case_id, buffer, capacity, needed);
    return cfoil_ledger_entry_json(wish->ledger, wish->number, buffer, capacity, needed);
}

static int32_t explain_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct explain_wish *wish = user;
    return cfoil_case_explain(wish->context, wish->json, buffer, capacity, needed);
}

static int explain_print(struct explain_wish *wish)
{
    int32_t result;
    char *entry = text_fetch(case_source, wish, &result);
    if (entry == NULL)
        return failure_report(wish->ledger, result, "cannot read the case");
    wish->json = entry;
    char *text = text_fetch(explain_source, wish, &result);
    free(entry);
    if (text == NULL)
        return failure_report(wish->context, result, "cannot explain it");
    printf("%s", text);
    free(text);
    return TOOL_OK;
}

int explain_run(const struct arguments *arguments)
{
    struct explain_wish wish = {0};
    if (!whole_parse(arguments->words[0], 0, INT64_MAX, &wish.number))
        wish.case_id = arguments->words[0];
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    wish.context = host.context;
    wish.ledger = host.ledger;
    code = explain_print(&wish);
    host_close(&host);
    return code;
}
