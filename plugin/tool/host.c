/*
 * Opens the library for a command, and turns its failures into one line and an exit code.
 */
#include "host.h"

#include "print.h"

#include <stdio.h>
#include <stdlib.h>

const char *failure_text(const void *handle, int32_t result, cfoil_error_info *info)
{
    *info = (cfoil_error_info)CFOIL_ERROR_INFO_INIT;
    if (handle != NULL && cfoil_error_read(handle, info) == CFOIL_OK && info->result == result && info->text[0] != '\0')
        return info->text;
    return cfoil_error_text(result);
}

/* What the user typed or named is at fault (2), or something that happened (1). */
static int exit_code(int32_t result)
{
    if (result == CFOIL_E_MISSING_ENTRY)
        return TOOL_FAILED;
    int32_t class = result & 0xff;
    if (class == CFOIL_CLASS_ARGUMENT || class == CFOIL_CLASS_MISSING)
        return TOOL_USAGE;
    return result == CFOIL_E_DATA_FILE || result == CFOIL_E_LEDGER_OPEN ? TOOL_USAGE : TOOL_FAILED;
}

int failure_report(const void *handle, int32_t result, const char *what)
{
    cfoil_error_info info;
    complain("%s; %s", what, failure_text(handle, result, &info));
    return exit_code(result);
}

static int ledger_open(const char *path, enum ledger_use use, struct host *host)
{
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = path;
    options.read_only = use == LEDGER_READ;
    int32_t result = cfoil_ledger_open(host->context, &options, &host->ledger);
    if (result == CFOIL_OK)
        return TOOL_OK;
    char what[400];
    snprintf(what, sizeof what, "cannot open the ledger '%.360s'", path);
    return failure_report(host->context, result, what);
}

int host_open(const struct arguments *arguments, enum ledger_use use, struct host *host)
{
    *host = (struct host){NULL, NULL};
    int32_t result = cfoil_context_open(NULL, &host->context);
    if (result != CFOIL_OK)
        return failure_report(NULL, result, "cannot start");
    int code = TOOL_OK;
    const char *packs = arguments->values[OPTION_PACKS];
    if (packs != NULL) {
        result = cfoil_pack_directory_add(host->context, packs);
        if (result != CFOIL_OK)
            code = failure_report(host->context, result, "cannot use the packs of --packs");
    }
    const char *description = arguments->values[OPTION_DESCRIPTION];
    if (code == TOOL_OK && description != NULL) {
        result = cfoil_adapter_describe(host->context, description);
        if (result != CFOIL_OK)
            code = failure_report(host->context, result, "cannot use the description of --description");
    }
    const char *adapter_file = arguments->values[OPTION_ADAPTER_FILE];
    if (code == TOOL_OK && adapter_file != NULL) {
        result = cfoil_adapter_load(host->context, adapter_file);
        if (result != CFOIL_OK)
            code = failure_report(host->context, result, "cannot load the adapter of --adapter-file");
    }
    const char *path = arguments->values[OPTION_LEDGER];
    if (code == TOOL_OK && path != NULL)
        code = ledger_open(path, use, host);
    if (code != TOOL_OK)
        host_close(host);
    return code;
}

void host_close(struct host *host)
{
    cfoil_ledger_close(host->ledger);
    cfoil_context_close(host->context);
    *host = (struct host){NULL, NULL};
}

char *text_fetch(text_source source, void *user, int32_t *result)
{
    size_t capacity = 16384;
    char *text = NULL;
    /* The text may grow between two calls (a ledger in use), hence more than two rounds. */
    for (int round = 0; round < 8; round++) {
        char *larger = realloc(text, capacity);
        if (larger == NULL) {
            *result = CFOIL_E_MEMORY;
            break;
        }
        text = larger;
        size_t needed = 0;
        *result = source(user, text, capacity, &needed);
        if (*result == CFOIL_OK)
            return text;
        if (*result != CFOIL_E_ARGUMENT_BUFFER)
            break;
        capacity = needed + 4096;
    }
    free(text);
    return NULL;
}

int text_print(text_source source, void *user, const char *end, const void *handle, const char *failure)
{
    int32_t result;
    char *text = text_fetch(source, user, &result);
    if (text == NULL)
        return failure_report(handle, result, failure);
    printf("%s%s", text, end);
    free(text);
    return TOOL_OK;
}
