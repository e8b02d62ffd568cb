/*
 * counterfoil person: what a customer told about themselves. It comes from standard input, never from an option: others could
 * read it there.
 */
#include "commands.h"
#include "host.h"
#include "pin_ask.h"
#include "print.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LINE_SIZE 512

/* A plain memset() of what is not read again may be left out. */
static void wipe(char *bytes, size_t size)
{
    volatile char *at = bytes;
    for (size_t i = 0; i < size; i++)
        at[i] = '\0';
}

struct person_lines {
    char name[LINE_SIZE], contact[LINE_SIZE], id_shown[LINE_SIZE], note[LINE_SIZE];
};

/* Byte by byte, as the PIN before it: nothing stays in a buffer of the C library. A missing line is an empty one. */
static bool line_take(char line[LINE_SIZE])
{
    size_t length = 0;
    char byte;
    while (read(STDIN_FILENO, &byte, 1) == 1 && byte != '\n') {
        if (length + 1 >= LINE_SIZE)
            return false;
        line[length++] = byte;
    }
    line[length] = '\0';
    return true;
}

static int lines_ask(struct person_lines *lines)
{
    const struct {
        const char *question;
        char *line;
    } rows[] = {{"Name (empty = none)", lines->name},
                {"Contact (empty = none)", lines->contact},
                {"Document shown (empty = none)", lines->id_shown},
                {"Note (empty = none)", lines->note}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (isatty(STDIN_FILENO))
            fprintf(stderr, "%s > ", rows[i].question);
        if (!line_take(rows[i].line)) {
            complain("a line is longer than %d bytes; give it in fewer words", LINE_SIZE - 1);
            return TOOL_USAGE;
        }
    }
    return TOOL_OK;
}

static int person_write(const struct arguments *arguments, const struct host *host, cfoil_session *session)
{
    cfoil_person_options options = CFOIL_PERSON_OPTIONS_INIT;
    struct person_lines lines;
    int64_t days = 0;
    if (!arguments_whole(arguments, OPTION_DAYS, 1, 36500, &days))
        return TOOL_USAGE;
    int code = lines_ask(&lines);
    options.days = (uint32_t)days;
    options.session = session;
    options.case_id = arguments->words[1];
    options.jurisdiction = arguments->values[OPTION_JURISDICTION];
    options.name = lines.name;
    options.contact = lines.contact;
    options.id_shown = lines.id_shown;
    options.note = lines.note;
    int32_t result = code == TOOL_OK ? cfoil_person_set(host->ledger, &options, NULL) : CFOIL_OK;
    wipe((char *)&lines, sizeof lines);
    return result == CFOIL_OK ? code : failure_report(host->ledger, result, "nothing was kept");
}

static int person_show(const struct arguments *arguments, const struct host *host, cfoil_session *session)
{
    char text[16384];
    int32_t result = cfoil_person_json(host->ledger, session, arguments->words[1], text, sizeof text, NULL);
    if (result == CFOIL_OK)
        printf("%s\n", text);
    wipe(text, sizeof text);
    return result == CFOIL_OK ? TOOL_OK : failure_report(host->ledger, result, "there is nothing to show");
}

static int person_erase(const struct arguments *arguments, const struct host *host, cfoil_session *session)
{
    uint32_t erased = 0;
    const char *case_id = arguments->word_count > 1 ? arguments->words[1] : NULL;
    int32_t result = cfoil_person_erase(host->ledger, session, session == NULL ? arguments->values[OPTION_STAFF] : NULL,
                                        case_id, &erased);
    if (result != CFOIL_OK)
        return failure_report(host->ledger, result, "nothing was erased");
    printf("erased %u\n", (unsigned)erased);
    return TOOL_OK;
}

static const struct step {
    const char *word;
    bool of_case;
    int (*run)(const struct arguments *arguments, const struct host *host, cfoil_session *session);
} steps[] = {
    {"set", true, person_write},
    {"show", true, person_show},
    {"erase", true, person_erase},
    {"sweep", false, person_erase},
};

static const struct step *step_find(const struct arguments *arguments)
{
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        if (strcmp(steps[i].word, arguments->words[0]) == 0) {
            if (steps[i].of_case == (arguments->word_count == 2))
                return &steps[i];
            complain("%s needs %s; see 'counterfoil help person'", steps[i].word,
                     steps[i].of_case ? "a case" : "no case");
            return NULL;
        }
    }
    complain("'%s' is no step; give set, show, erase or sweep", arguments->words[0]);
    return NULL;
}

int person_run(const struct arguments *arguments)
{
    const struct step *step = step_find(arguments);
    cfoil_session *session = NULL;
    struct host host;
    if (step == NULL)
        return TOOL_USAGE;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    if (arguments->values[OPTION_PIN] != NULL)
        code = pin_sign_in(&host, arguments->values[OPTION_STAFF], "PIN", &session);
    if (code == TOOL_OK)
        code = step->run(arguments, &host, session);
    cfoil_sign_out(session);
    host_close(&host);
    return code;
}
