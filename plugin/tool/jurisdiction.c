/*
 * counterfoil jurisdiction: what a shop may do with a note in doubt at one place, in the reader's language, with sources.
 */
#include "commands.h"
#include "host.h"
#include "phrases.h"
#include "print.h"

#include <stdio.h>
#include <string.h>

#define RULE_INDENT 4

struct place {
    struct phrases phrases;
    const char *id;
};

/* False when the place has no such text. */
static bool text_fetch_of(const struct place *place, const char *name, char text[PHRASE_MAX])
{
    char key[80];
    snprintf(key, sizeof key, "jurisdiction.%s.%s", place->id, name);
    return cfoil_message(place->phrases.context, place->phrases.language, key, NULL, 0, text, PHRASE_MAX, NULL) ==
           CFOIL_OK;
}

/* A heading of the catalogue, the text, and where it comes from. */
static void rule_print(const struct place *place, const char *name, const char *heading)
{
    char text[PHRASE_MAX];
    char key[48];
    if (!text_fetch_of(place, name, text))
        return;
    snprintf(key, sizeof key, "rules.%s", heading);
    phrase_print(stdout, &place->phrases, key);
    print_wrapped(stdout, "", RULE_INDENT, text);
    snprintf(key, sizeof key, "%s.source", name);
    if (text_fetch_of(place, key, text)) {
        char line[PHRASE_MAX + 4];
        snprintf(line, sizeof line, "[%s]", text);
        print_wrapped(stdout, "", RULE_INDENT, line);
    }
}

static void place_print(const struct place *place)
{
    static const char *const rules[] = {"ask_another", "set_aside", "found_later", "tell_whom",
                                        "write_down",  "deadline",  "never",       "caution"};
    char title[PHRASE_MAX];
    char date[PHRASE_MAX] = "";
    char law[16];
    char text[PHRASE_MAX];
    (void)text_fetch_of(place, "title", title);
    (void)text_fetch_of(place, "date", date);
    printf("%s (%s, %s)\n\n", title, place->id, date);
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        rule_print(place, rules[i], rules[i]);
    for (int i = 1; snprintf(law, sizeof law, "law.%d", i) > 0 && text_fetch_of(place, law, text); i++)
        rule_print(place, law, "law");
}

int jurisdiction_run(const struct arguments *arguments)
{
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    struct place place = {{host.context, arguments->values[OPTION_LANGUAGE]}, arguments->words[0]};
    char text[PHRASE_MAX];
    int32_t result = cfoil_message(host.context, place.phrases.language, "caution", NULL, 0, text, sizeof text, NULL);
    if (result != CFOIL_OK) {
        code = failure_report(host.context, result, "cannot speak this language");
    } else if (!text_fetch_of(&place, "title", text)) {
        complain("there are no rules for '%s'; 'counterfoil catalogue' lists the jurisdictions", place.id);
        code = TOOL_USAGE;
    } else {
        place_print(&place);
    }
    host_close(&host);
    return code;
}
