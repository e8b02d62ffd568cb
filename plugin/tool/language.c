/*
 * counterfoil pack check --language: what would a cashier read in English all the same?
 */
#include "commands.h"
#include "host.h"
#include "print.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct language_wish {
    cfoil_context *context;
    const char *language;
    uint32_t missing;
};

static int32_t language_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    struct language_wish *wish = user;
    return cfoil_language_check(wish->context, wish->language, &wish->missing, buffer, capacity, needed);
}

static void review_print(const struct language_wish *wish)
{
    char text[256];
    if (cfoil_message(wish->context, wish->language, "language.review", NULL, 0, text, sizeof text, NULL) == CFOIL_OK)
        printf("%s: %s\n", wish->language, text);
}

/* The lines as they are, or as a list of texts. Cuts `lines` apart. */
static void lines_print(const struct language_wish *wish, bool json, char *lines)
{
    if (!json) {
        review_print(wish);
        printf("%s%s: %u missing\n", lines, wish->language, (unsigned)wish->missing);
        return;
    }
    printf("{\"language\":");
    print_json_string(stdout, wish->language);
    printf(",\"missing\":%u,\"lines\":[", (unsigned)wish->missing);
    const char *between = "";
    for (char *line = strtok(lines, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        printf("%s", between);
        print_json_string(stdout, line);
        between = ",";
    }
    printf("]}\n");
}

static int language_check(const struct host *host, const struct arguments *arguments)
{
    struct language_wish wish = {host->context, arguments->values[OPTION_LANGUAGE], 0};
    int32_t result;
    char *lines = text_fetch(language_source, &wish, &result);
    if (result == CFOIL_E_MISSING_LANGUAGE) {
        complain("there is no language '%s'; 'counterfoil catalogue' lists them", wish.language);
        return TOOL_USAGE;
    }
    if (lines == NULL)
        return failure_report(host->context, result, "cannot check the language");
    lines_print(&wish, arguments->values[OPTION_JSON] != NULL, lines);
    free(lines);
    return wish.missing == 0 ? TOOL_OK : TOOL_FAILED;
}

int language_check_run(const struct arguments *arguments)
{
    if (arguments->word_count > 1) {
        complain("with --language no file is given; put it in a folder and use --packs DIR");
        return TOOL_USAGE;
    }
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    code = language_check(&host, arguments);
    host_close(&host);
    return code;
}
