/*
 * counterfoil pack check and catalogue: are these packs good, and what is loaded?
 */
#include "commands.h"
#include "host.h"
#include "print.h"

#include <stdio.h>
#include <string.h>

static void pack_print(bool json, const char *path, bool good, const char *line)
{
    if (!json) {
        printf("%s: %s: %s\n", path, good ? "good" : "bad", line);
        return;
    }
    printf("{\"file\":");
    print_json_string(stdout, path);
    printf(",\"good\":%s,\"text\":", good ? "true" : "false");
    print_json_string(stdout, line);
    printf("}\n");
}

/* One file, one line: on standard output, or on standard error when it could not be read. */
static int pack_check(const struct host *host, bool json, const char *path)
{
    char line[1024] = "";
    int32_t result = cfoil_pack_check(host->context, path, line, sizeof line, NULL);
    if ((result & 0xff) != CFOIL_CLASS_DATA && result != CFOIL_OK)
        return failure_report(host->context, result, "cannot check a pack");
    if (result == CFOIL_E_DATA_FILE) {
        complain("cannot read '%s'; check its name and permissions", path);
        return TOOL_USAGE;
    }
    pack_print(json, path, result == CFOIL_OK, line[0] != '\0' ? line : cfoil_error_text(result));
    return result == CFOIL_OK ? TOOL_OK : TOOL_FAILED;
}

struct matrix_wish {
    cfoil_context *context;
    const char *currency;
};

static int32_t matrix_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct matrix_wish *wish = user;
    return cfoil_matrix_json(wish->context, wish->currency, buffer, capacity, needed);
}

static int matrix_print(const struct arguments *arguments)
{
    if (arguments->word_count != 2) {
        complain("pack matrix takes one currency; use 'counterfoil pack matrix EUR'");
        return TOOL_USAGE;
    }
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    struct matrix_wish wish = {host.context, arguments->words[1]};
    code = text_print(matrix_source, &wish, "\n", host.context, "cannot make the matrix");
    host_close(&host);
    return code;
}

int pack_run(const struct arguments *arguments)
{
    if (strcmp(arguments->words[0], "matrix") == 0)
        return matrix_print(arguments);
    if (strcmp(arguments->words[0], "check") != 0) {
        complain("pack knows no '%s'; use 'counterfoil pack check FILE...' or 'counterfoil pack matrix CODE'",
                 arguments->words[0]);
        return TOOL_USAGE;
    }
    if (arguments->values[OPTION_LANGUAGE] != NULL)
        return language_check_run(arguments);
    if (arguments->word_count < 2) {
        complain("pack check needs a file; use 'counterfoil pack check FILE...'");
        return TOOL_USAGE;
    }
    struct host host;
    int worst = host_open(arguments, LEDGER_READ, &host);
    if (worst != TOOL_OK)
        return worst;
    for (int i = 1; i < arguments->word_count; i++) {
        int code = pack_check(&host, arguments->values[OPTION_JSON] != NULL, arguments->words[i]);
        worst = code > worst ? code : worst;
    }
    host_close(&host);
    return worst;
}

static int32_t catalogue_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    return cfoil_catalogue_json(user, buffer, capacity, needed);
}

int catalogue_run(const struct arguments *arguments)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    code = text_print(catalogue_source, host.context, "\n", host.context, "cannot list what is loaded");
    host_close(&host);
    return code;
}
