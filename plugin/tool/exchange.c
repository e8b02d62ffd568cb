/*
 * counterfoil export and import: the ledger's entries for other programs, and records from elsewhere.
 */
#include "commands.h"
#include "host.h"
#include "pin_ask.h"
#include "print.h"
#include "values.h"

#include <stdio.h>

/* In the order of CFOIL_EXPORT_* and CFOIL_TABLE_*. */
static const char *const formats[] = {"json", "csv", NULL};
static const char *const tables[] = {"presentations", "cases", "custody", NULL};

static bool export_options_read(const struct arguments *arguments, cfoil_export_options *options)
{
    if (!arguments_word(arguments, OPTION_FORMAT, formats, "json or csv", &options->format) ||
        !arguments_word(arguments, OPTION_TABLE, tables, "presentations, cases or custody", &options->table) ||
        !arguments_period(arguments, &options->from_utc_ms, &options->until_utc_ms))
        return false;
    if (options->table != 0 && options->format != CFOIL_EXPORT_CSV) {
        complain("--table needs --format csv; JSON Lines hold everything");
        return false;
    }
    return true;
}

static int32_t file_write(void *user, const char *bytes, size_t length)
{
    return fwrite(bytes, 1, length, user) == length ? CFOIL_OK : CFOIL_E_DATA_FILE;
}

int export_run(const struct arguments *arguments)
{
    cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
    if (!export_options_read(arguments, &options))
        return TOOL_USAGE;
    options.write = file_write;
    options.user = stdout;
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    int32_t result = cfoil_ledger_export(host.ledger, &options);
    if (result == CFOIL_E_STATE_STOPPED)
        code = TOOL_FAILED; /* the program's end tells what is wrong with standard output */
    else if (result != CFOIL_OK)
        code = failure_report(host.ledger, result, "cannot export the ledger");
    host_close(&host);
    return code;
}

/* ---- import ---- */

/* The library asks for places in order, and begins anew at most once. */
static int32_t file_read(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length)
{
    FILE *file = user;
    if (offset == 0 && fseek(file, 0, SEEK_SET) != 0)
        return CFOIL_E_DATA_FILE;
    *length = fread(buffer, 1, capacity, file);
    return ferror(file) == 0 ? CFOIL_OK : CFOIL_E_DATA_FILE;
}

static void import_print(bool json, const cfoil_import_result *result)
{
    if (!json) {
        printf("%s\n", result->text);
        return;
    }
    printf("{\"lines\":%lld,\"taken\":%lld,\"there\":%lld,\"left_out\":%lld,\"bad_line\":%lld,\"text\":",
           (long long)result->lines, (long long)result->taken, (long long)result->there, (long long)result->left_out,
           (long long)result->bad_line);
    print_json_string(stdout, result->text);
    printf("}\n");
}

static int file_import(const struct arguments *arguments, struct host *host, FILE *file)
{
    cfoil_import_options options = CFOIL_IMPORT_OPTIONS_INIT;
    cfoil_import_result result = CFOIL_IMPORT_RESULT_INIT;
    options.read = file_read;
    options.user = file;
    options.dry_run = arguments->values[OPTION_DRY_RUN] != NULL;
    options.staff = arguments->values[OPTION_STAFF];
    int code = TOOL_OK;
    if (arguments->values[OPTION_PIN] != NULL)
        code = pin_sign_in(host, options.staff, "PIN", &options.session);
    if (code != TOOL_OK)
        return code;
    int32_t answer = cfoil_ledger_import(host->ledger, &options, &result);
    if (answer != CFOIL_OK)
        code = failure_report(host->ledger, answer, "the import ended early");
    if (answer == CFOIL_OK || result.taken > 0)
        import_print(arguments->values[OPTION_JSON] != NULL, &result);
    cfoil_sign_out(options.session);
    return code;
}

int import_run(const struct arguments *arguments)
{
    const char *path = arguments->words[0];
    struct host host;
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        complain("cannot read '%s'; check its name and the rights on it", path);
        return TOOL_USAGE;
    }
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code == TOOL_OK) {
        code = file_import(arguments, &host, file);
        host_close(&host);
    }
    fclose(file);
    return code;
}
