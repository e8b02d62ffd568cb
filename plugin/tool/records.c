/*
 * counterfoil report, verify, rebuild and entry: what does the ledger hold, and is it whole?
 */
#include "commands.h"
#include "host.h"
#include "print.h"
#include "report.h"
#include "values.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- report ---- */

struct report_wish {
    cfoil_ledger *ledger;
    const cfoil_report_options *options;
};

static int32_t report_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct report_wish *wish = user;
    return cfoil_report_write(wish->ledger, wish->options, buffer, capacity, needed);
}

int report_print(FILE *out, cfoil_ledger *ledger, const cfoil_report_options *options)
{
    struct report_wish wish = {ledger, options};
    int32_t result;
    char *text = text_fetch(report_source, &wish, &result);
    if (text == NULL)
        return failure_report(ledger, result, "cannot make the report");
    size_t length = strlen(text);
    fprintf(out, "%s%s", text, length > 0 && text[length - 1] == '\n' ? "" : "\n");
    free(text);
    return TOOL_OK;
}

/* In the order of CFOIL_FORMAT_*. */
static const char *const formats[] = {"json", "text", "csv", "html", NULL};

int report_run(const struct arguments *arguments)
{
    cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
    options.format = arguments->values[OPTION_JSON] != NULL ? CFOIL_FORMAT_JSON : CFOIL_FORMAT_TEXT;
    options.lane = arguments->values[OPTION_LANE];
    options.store = arguments->values[OPTION_STORE];
    if (!arguments_word(arguments, OPTION_FORMAT, formats, "json, text, csv or html", &options.format) ||
        !arguments_period(arguments, &options.from_utc_ms, &options.until_utc_ms))
        return TOOL_USAGE;
    if (arguments->values[OPTION_JSON] != NULL && options.format != CFOIL_FORMAT_JSON) {
        complain("--json and --format differ; give one of them");
        return TOOL_USAGE;
    }
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code == TOOL_OK)
        code = report_print(stdout, host.ledger, &options);
    host_close(&host);
    return code;
}

/* ---- verify ---- */

static void check_print(bool json, const cfoil_ledger_check *check)
{
    if (!json) {
        printf("%s\n", check->text);
        printf("entries %lld", (long long)check->entries);
        if (check->first_bad != 0)
            printf(", first bad entry %lld", (long long)check->first_bad);
        printf("\nhead    %s\n", check->head);
        if (check->key[0] != '\0')
            printf("signed  up to entry %lld, %lld checkpoints, key %s\n", (long long)check->signed_until,
                   (long long)check->checkpoints, check->key);
        return;
    }
    printf("{\"intact\":%s,\"entries\":%lld,\"first_bad\":%lld,\"head\":", check->intact ? "true" : "false",
           (long long)check->entries, (long long)check->first_bad);
    print_json_string(stdout, check->head);
    printf(",\"text\":");
    print_json_string(stdout, check->text);
    printf(",\"signed_until\":%lld,\"checkpoints\":%lld,\"key\":", (long long)check->signed_until,
           (long long)check->checkpoints);
    print_json_string(stdout, check->key);
    printf("}\n");
}

/* NUMBER:HASH. The hash itself is checked by the library. */
static bool noted_read(const char *text, cfoil_ledger_check *check)
{
    char number[24];
    const char *colon = text != NULL ? strchr(text, ':') : NULL;
    if (text == NULL)
        return true;
    if (colon == NULL || (size_t)(colon - text) >= sizeof number)
        return false;
    snprintf(number, sizeof number, "%.*s", (int)(colon - text), text);
    check->noted_hash = colon + 1;
    return whole_parse(number, 1, INT64_MAX, &check->noted_entry);
}

int verify_run(const struct arguments *arguments)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    check.trusted_key = arguments->values[OPTION_KEY];
    if (!noted_read(arguments->values[OPTION_NOTED], &check)) {
        complain("'%s' is no noted entry; give its number, a colon and its hash", arguments->values[OPTION_NOTED]);
        return TOOL_USAGE;
    }
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    int32_t result = cfoil_ledger_verify(host.ledger, &check);
    if (result == CFOIL_OK) {
        check_print(arguments->values[OPTION_JSON] != NULL, &check);
        code = check.intact ? TOOL_OK : TOOL_FAILED;
    } else {
        code = failure_report(host.ledger, result, "cannot read the ledger to its end");
    }
    host_close(&host);
    return code;
}

/* ---- rebuild ---- */

int rebuild_run(const struct arguments *arguments)
{
    struct host host;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    int32_t result = cfoil_ledger_rebuild(host.ledger);
    if (result == CFOIL_OK)
        printf("The lists were made again from the entries.\n");
    else
        code = failure_report(host.ledger, result, "the lists stay as they were");
    host_close(&host);
    return code;
}

/* ---- entry ---- */

struct entry_wish {
    cfoil_ledger *ledger;
    int64_t number;
};

static int32_t entry_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct entry_wish *wish = user;
    return cfoil_ledger_entry_json(wish->ledger, wish->number, buffer, capacity, needed);
}

int entry_run(const struct arguments *arguments)
{
    struct entry_wish wish = {NULL, 0};
    if (!whole_parse(arguments->words[0], 0, INT64_MAX, &wish.number)) {
        complain("'%s' is no entry number; give 1 or more, or 0 for the newest", arguments->words[0]);
        return TOOL_USAGE;
    }
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    wish.ledger = host.ledger;
    int32_t result;
    char *text = text_fetch(entry_source, &wish, &result);
    if (text != NULL)
        printf("%s\n", text);
    else
        code = failure_report(host.ledger, result, "cannot read the entry");
    free(text);
    host_close(&host);
    return code;
}
