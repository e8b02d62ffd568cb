/*
 * Taking up open cases at the beginning of a cashier's session. See till.h.
 */
#include "host.h"
#include "till.h"

#include <stdlib.h>
#include <string.h>

struct open_wish {
    cfoil_ledger *ledger;
    const char *lane;
};

static int32_t open_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct open_wish *wish = user;
    return cfoil_ledger_list_json(wish->ledger, CFOIL_LIST_OPEN_CASES, wish->lane, buffer, capacity, needed);
}

/* The library writes the three keys in this order, and none of their values holds a quote. */
static const char *value_after(const char *at, const char *key)
{
    const char *found = strstr(at, key);
    return found != NULL ? found + strlen(key) : NULL;
}

static const char *case_take_up(struct till *till, const char *at)
{
    char case_id[40] = "";
    char currency[4] = "";
    const char *id = value_after(at, "\"case_id\":\"");
    const char *code = id != NULL ? value_after(id, "\"currency\":\"") : NULL;
    const char *value = code != NULL ? value_after(code, "\"value_minor\":") : NULL;
    if (value == NULL || strcspn(id, "\"") >= sizeof case_id || strcspn(code, "\"") >= sizeof currency)
        return NULL;
    memcpy(case_id, id, strcspn(id, "\""));
    memcpy(currency, code, strcspn(code, "\""));
    till_case_resume(till, case_id, currency, strtoll(value, NULL, 10));
    return value;
}

void till_cases_resume(struct till *till)
{
    struct open_wish wish = {till->host.ledger, till->arguments->values[OPTION_LANE]};
    int32_t result;
    char *text = text_fetch(open_source, &wish, &result);
    if (text == NULL) {
        failure_report(till->host.ledger, result, "the open cases cannot be read");
        return;
    }
    const char *at = text;
    while (at != NULL && !till->finished)
        at = case_take_up(till, at);
    free(text);
}
