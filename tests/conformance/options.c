/*
 * What does the tester want? See options.h.
 */
#include "options.h"

#include <stdlib.h>
#include <string.h>

static const char help[] =
    "counterfoil-conform: does a note validator, and the adapter for it, keep to the protocol?\n"
    "\n"
    "  counterfoil-conform --adapter NAME --port PORT [option]...\n"
    "  counterfoil-conform --adapter NAME --list\n"
    "\n"
    "  --adapter NAME         cctalk, mdb, described, or another built-in adapter; not needed with --adapter-file\n"
    "  --port PORT            serial:DEVICE, tcp:HOST:PORT, or trace:FILE (repeats a wire case offline)\n"
    "  --description FILE     the device's description, for --adapter described\n"
    "  --adapter-file PATH    the adapter in this shared library, ./FILE or /FOLDER/FILE; its code runs with your "
    "rights\n"
    "  --wire cctalk          what the described device speaks: adapter cases look at the wire, too\n"
    "  --settings TEXT        settings of the adapter, \"key=value;key=value\"; address and check are used by wire "
    "cases\n"
    "  --cases GLOB           only cases whose id fits, for example 'cctalk/framing/*'\n"
    "  --list                 show the cases: id, trust, what each proves, what the tester must do\n"
    "  --attended             somebody is there: ask for notes\n"
    "  --notes-come           notes come by themselves, as from a simulator's script; cases wait for the one they "
    "need\n"
    "  --seconds-per-case N   longest wait for a note, 1 to 600; 30 if not given\n"
    "  --latency-ms N         what the way to the device may add to a reply, 0 to 200; 20 if not given\n"
    "  --tap                  results as TAP version 14\n"
    "  --junit FILE           results also as JUnit XML\n"
    "  --trace DIR            keep a trace of each failed case there\n"
    "  --help                 this text\n"
    "\n"
    "Status: 0 every case passed or was skipped; 1 a case failed; 2 wrong use, or the port cannot be opened.\n"
    "docs/conformance.md says how to read the result. Only connect a device that no till uses at the moment: cases\n"
    "reset it and switch notes on and off.\n";

struct rule {
    const char *name;
    const char **text; /* takes a value */
    bool *flag;        /* takes none */
    uint32_t *number;
    uint32_t low, high;
};

static int mistake(const char *word, const char *why)
{
    fprintf(stderr, "counterfoil-conform: %s %s; see --help\n", word, why);
    return 2;
}

static bool number_read(const char *text, const struct rule *rule)
{
    char *end;
    if (text[0] < '0' || text[0] > '9' || strlen(text) > 6)
        return false;
    unsigned long value = strtoul(text, &end, 10);
    *rule->number = (uint32_t)value;
    return *end == '\0' && value >= rule->low && value <= rule->high;
}

static int rule_apply(const struct rule *rule, const char *name, const char *value)
{
    if (rule->flag != NULL) {
        *rule->flag = true;
        return 0;
    }
    if (value == NULL)
        return mistake(name, "needs a value");
    if (rule->number != NULL)
        return number_read(value, rule) ? 0 : mistake(name, "has a value outside its range");
    *rule->text = value;
    return 0;
}

static int options_check(struct options *options)
{
    if (options->adapter_file != NULL && (options->adapter != NULL || options->description != NULL))
        return mistake("--adapter-file", "names the adapter itself: leave --adapter and --description out");
    if (options->adapter_file != NULL)
        options->adapter = ""; /* its id is known once it is loaded */
    if (options->adapter == NULL)
        return mistake("--adapter", "is required");
    if (options->port == NULL && !options->list)
        return mistake("--port", "is required");
    if (options->wire != NULL && (options->description == NULL || strcmp(options->wire, "cctalk") != 0))
        return mistake("--wire", "is cctalk, and only with --description");
    if (options->description == NULL && strcmp(options->adapter, "described") == 0 && !options->list)
        return mistake("--adapter described", "needs --description FILE");
    return 0;
}

int options_read(int count, char **arguments, struct options *options)
{
    *options = (struct options){.seconds = 30, .latency_ms = 20, .settings = ""};
    bool asked = false;
    const struct rule rules[] = {
        {.name = "--adapter", .text = &options->adapter},
        {.name = "--port", .text = &options->port},
        {.name = "--description", .text = &options->description},
        {.name = "--adapter-file", .text = &options->adapter_file},
        {.name = "--wire", .text = &options->wire},
        {.name = "--settings", .text = &options->settings},
        {.name = "--cases", .text = &options->cases},
        {.name = "--junit", .text = &options->junit},
        {.name = "--trace", .text = &options->trace_folder},
        {.name = "--list", .flag = &options->list},
        {.name = "--tap", .flag = &options->tap},
        {.name = "--attended", .flag = &options->attended},
        {.name = "--notes-come", .flag = &options->notes_come},
        {.name = "--help", .flag = &asked},
        {.name = "--seconds-per-case", .number = &options->seconds, .low = 1, .high = 600},
        {.name = "--latency-ms", .number = &options->latency_ms, .low = 0, .high = 200},
    };
    for (int i = 1; i < count; i++) {
        const struct rule *rule = NULL;
        for (size_t k = 0; k < sizeof rules / sizeof rules[0]; k++)
            rule = strcmp(arguments[i], rules[k].name) == 0 ? &rules[k] : rule;
        if (rule == NULL)
            return mistake(arguments[i], "is not an option");
        int result = rule_apply(rule, arguments[i], i + 1 < count ? arguments[i + 1] : NULL);
        if (result != 0)
            return result;
        i += rule->flag == NULL;
    }
    if (asked) {
        fputs(help, stdout);
        return 1;
    }
    return options_check(options);
}
