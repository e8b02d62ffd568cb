/*
 * Reads options and words against the command's table, and says in one line what is wrong with them.
 */
#include "arguments.h"

#include "print.h"
#include "values.h"

#include <counterfoil/counterfoil.h>
#include <getopt.h>
#include <stddef.h>
#include <string.h>

/* getopt_long() answers with these numbers, which no short option uses. */
#define OPTION_VALUE_FIRST 256

static const char *const option_names[OPTION_TOTAL] = {
    [OPTION_ACCEPT] = "accept",
    [OPTION_ADAPTER] = "adapter",
    [OPTION_ADAPTER_FILE] = "adapter-file",
    [OPTION_AREA] = "area",
    [OPTION_BAR] = "bar",
    [OPTION_BOUND] = "bound",
    [OPTION_CASE] = "case",
    [OPTION_CONDITION] = "condition",
    [OPTION_COUNT] = "count",
    [OPTION_CURRENCY] = "currency",
    [OPTION_DAYS] = "days",
    [OPTION_DESCRIPTION] = "description",
    [OPTION_DRY_RUN] = "dry-run",
    [OPTION_ENVELOPE] = "envelope",
    [OPTION_FORMAT] = "format",
    [OPTION_FROM] = "from",
    [OPTION_HELP] = "help",
    [OPTION_HOLDER] = "holder",
    [OPTION_JSON] = "json",
    [OPTION_JURISDICTION] = "jurisdiction",
    [OPTION_KEEPER] = "keeper",
    [OPTION_KEY] = "key",
    [OPTION_LANE] = "lane",
    [OPTION_LANGUAGE] = "language",
    [OPTION_LEDGER] = "ledger",
    [OPTION_LISTEN] = "listen",
    [OPTION_MONTH] = "month",
    [OPTION_NOTED] = "noted",
    [OPTION_MISSING] = "missing",
    [OPTION_NUMBER] = "number",
    [OPTION_OFFSET] = "offset",
    [OPTION_OPEN] = "open",
    [OPTION_PACKS] = "packs",
    [OPTION_PIN] = "pin",
    [OPTION_PLACE] = "place",
    [OPTION_POLYGON] = "polygon",
    [OPTION_PORT] = "port",
    [OPTION_PROBE] = "probe",
    [OPTION_RECEIPT] = "receipt",
    [OPTION_RECORD] = "record",
    [OPTION_RESUME] = "resume",
    [OPTION_SALE] = "sale",
    [OPTION_SECONDS] = "seconds",
    [OPTION_SECOND] = "second",
    [OPTION_SERIES] = "series",
    [OPTION_SETTINGS] = "settings",
    [OPTION_SHOP] = "shop",
    [OPTION_SIDE] = "side",
    [OPTION_SQUARES] = "squares",
    [OPTION_STAFF] = "staff",
    [OPTION_STATE] = "state",
    [OPTION_STORE] = "store",
    [OPTION_TABLE] = "table",
    [OPTION_TOOLS] = "tools",
    [OPTION_TO] = "to",
    [OPTION_VALUE] = "value",
    [OPTION_WHY] = "why",
};

const char *option_name(enum option_id id)
{
    return option_names[id];
}

static void table_fill(const struct command *command, struct option table[OPTION_USES_MAX + 2])
{
    int count = 0;
    for (const struct option_use *use = command->options; use->id != OPTION_TOTAL && count < OPTION_USES_MAX; use++) {
        int has_value = use->placeholder != NULL ? required_argument : no_argument;
        table[count++] = (struct option){option_names[use->id], has_value, NULL, OPTION_VALUE_FIRST + (int)use->id};
    }
    table[count++] = (struct option){"help", no_argument, NULL, OPTION_VALUE_FIRST + OPTION_HELP};
    table[count] = (struct option){NULL, 0, NULL, 0};
}

/* The option as it was typed, when getopt_long() has just read a long one. */
static const char *option_word(char *const *argv)
{
    const char *word = argv[optind - 1];
    return optarg != NULL && optarg == word ? argv[optind - 2] : word;
}

/* getopt_long() also takes a shortened name; we do not, so that a script keeps its meaning when options are added. */
static bool name_is_whole(const char *name, const char *word)
{
    return strncmp(word, "--", 2) != 0 || strncmp(word + 2, name, strlen(name)) == 0;
}

static int unknown_report(const struct command *command, const char *word)
{
    complain("unknown option '%s'; see 'counterfoil help %s'", word, command->name);
    return TOOL_USAGE;
}

/* What getopt_long() could not read: optopt is 0 for an unknown name, a letter, or the number of a known option. */
static int mistake_report(const struct command *command, int answer, char *const *argv)
{
    if (optopt == 0)
        return unknown_report(command, argv[optind - 1]);
    if (optopt < OPTION_VALUE_FIRST) {
        char word[3] = {'-', (char)optopt, '\0'};
        return unknown_report(command, word);
    }
    complain("--%s %s; see 'counterfoil help %s'", option_names[optopt - OPTION_VALUE_FIRST],
             answer == ':' ? "needs a value" : "takes no value", command->name);
    return TOOL_USAGE;
}

static int options_read(const struct command *command, int argc, char **argv, struct arguments *arguments)
{
    struct option table[OPTION_USES_MAX + 2];
    table_fill(command, table);
    opterr = 0;
    int answer;
    while ((answer = getopt_long(argc, argv, ":h", table, NULL)) != -1) {
        if (answer == 'h')
            answer = OPTION_VALUE_FIRST + OPTION_HELP;
        else if (answer == ':' || answer == '?')
            return mistake_report(command, answer, argv);
        else if (!name_is_whole(option_names[answer - OPTION_VALUE_FIRST], option_word(argv)))
            return unknown_report(command, option_word(argv));
        arguments->values[answer - OPTION_VALUE_FIRST] = optarg != NULL ? optarg : "";
    }
    arguments->words = argv + optind;
    arguments->word_count = argc - optind;
    return TOOL_OK;
}

static int options_check(const struct command *command, const struct arguments *arguments)
{
    for (const struct option_use *use = command->options; use->id != OPTION_TOTAL; use++) {
        const char *value = arguments->values[use->id];
        if (value == NULL && use->required) {
            complain("%s needs --%s %s; see 'counterfoil help %s'", command->name, option_names[use->id],
                     use->placeholder, command->name);
            return TOOL_USAGE;
        }
        if (value != NULL && value[0] == '\0' && use->placeholder != NULL) {
            complain("--%s has an empty value; give %s", option_names[use->id], use->placeholder);
            return TOOL_USAGE;
        }
    }
    return TOOL_OK;
}

int arguments_parse(const struct command *command, int argc, char **argv, struct arguments *arguments)
{
    *arguments = (struct arguments){.word_count = 0};
    int result = options_read(command, argc, argv, arguments);
    if (result != TOOL_OK || arguments->values[OPTION_HELP] != NULL)
        return result;
    if (arguments->word_count > command->words_max) {
        complain("'%s' is one word too many; see 'counterfoil help %s'", arguments->words[command->words_max],
                 command->name);
        return TOOL_USAGE;
    }
    if (arguments->word_count < command->words_min) {
        complain("%s needs more words: %s %s; see 'counterfoil help %s'", command->name, command->name, command->usage,
                 command->name);
        return TOOL_USAGE;
    }
    return options_check(command, arguments);
}

bool arguments_whole(const struct arguments *arguments, enum option_id id, int64_t least, int64_t most, int64_t *value)
{
    const char *text = arguments->values[id];
    if (text == NULL || whole_parse(text, least, most, value))
        return true;
    complain("--%s '%s' is not good; give a whole number from %lld to %lld", option_names[id], text, (long long)least,
             (long long)most);
    return false;
}

bool arguments_day(const struct arguments *arguments, enum option_id id, int64_t *utc_ms)
{
    const char *text = arguments->values[id];
    if (text == NULL || day_parse(text, utc_ms))
        return true;
    complain("--%s '%s' is not a date; give YYYY-MM-DD, 1970-01-01 or later", option_names[id], text);
    return false;
}

bool arguments_accept(const struct arguments *arguments, int32_t *accept)
{
    const char *text = arguments->values[OPTION_ACCEPT];
    if (text == NULL)
        return true;
    static const char *const words[] = {"none", "hold", "all"};
    for (int32_t i = 0; i < 3; i++) {
        if (strcmp(text, words[i]) == 0) {
            *accept = CFOIL_ACCEPT_NONE + i;
            return true;
        }
    }
    complain("--accept '%s' is unknown; give none, hold or all", text);
    return false;
}

bool arguments_tools(const struct arguments *arguments, uint32_t *tools)
{
    const char *text = arguments->values[OPTION_TOOLS];
    if (text == NULL || tools_parse(text, tools))
        return true;
    complain("--tools '%s' is not good; give magnifier, uv, ruler or known-note, with commas between", text);
    return false;
}

/* The number of a word in a list that ends with NULL, counted from 1; 0 = it is not there. */
static int32_t word_find(const char *const *words, const char *word)
{
    for (int32_t i = 0; words[i] != NULL; i++) {
        if (strcmp(words[i], word) == 0)
            return i + 1;
    }
    return 0;
}

bool arguments_word(const struct arguments *arguments, enum option_id id, const char *const *words, const char *choices,
                    int32_t *value)
{
    const char *text = arguments->values[id];
    if (text == NULL)
        return true;
    *value = word_find(words, text);
    if (*value == 0)
        complain("--%s '%s' is unknown; give %s", option_name(id), text, choices);
    return *value != 0;
}

bool arguments_period(const struct arguments *arguments, int64_t *from_utc_ms, int64_t *until_utc_ms)
{
    int64_t last_day_ms = -1;
    if (!arguments_day(arguments, OPTION_FROM, from_utc_ms) || !arguments_day(arguments, OPTION_TO, &last_day_ms))
        return false;
    if (last_day_ms >= 0 && last_day_ms < *from_utc_ms) {
        complain("--to is before --from; give the earlier day with --from");
        return false;
    }
    *until_utc_ms = last_day_ms >= 0 ? last_day_ms + DAY_MS : 0;
    return true;
}
