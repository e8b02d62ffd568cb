/*
 * What the user typed after the command's name: options by number, and the words that are no options.
 */
#ifndef TOOL_ARGUMENTS_H
#define TOOL_ARGUMENTS_H

#include <stdbool.h>
#include <stdint.h>

/* How the program ends. */
enum { TOOL_OK = 0, TOOL_FAILED = 1, TOOL_USAGE = 2 };

enum option_id {
    OPTION_ACCEPT,
    OPTION_ADAPTER,
    OPTION_ADAPTER_FILE,
    OPTION_AREA,
    OPTION_BAR,
    OPTION_BOUND,
    OPTION_CASE,
    OPTION_CONDITION,
    OPTION_COUNT,
    OPTION_CURRENCY,
    OPTION_DAYS,
    OPTION_DESCRIPTION,
    OPTION_DRY_RUN,
    OPTION_ENVELOPE,
    OPTION_FORMAT,
    OPTION_FROM,
    OPTION_HELP,
    OPTION_HOLDER,
    OPTION_JSON,
    OPTION_JURISDICTION,
    OPTION_KEEPER,
    OPTION_KEY,
    OPTION_LANE,
    OPTION_LANGUAGE,
    OPTION_LEDGER,
    OPTION_LISTEN,
    OPTION_MONTH,
    OPTION_NOTED,
    OPTION_MISSING,
    OPTION_NUMBER,
    OPTION_OFFSET,
    OPTION_OPEN,
    OPTION_PACKS,
    OPTION_PIN,
    OPTION_PLACE,
    OPTION_POLYGON,
    OPTION_PORT,
    OPTION_PROBE,
    OPTION_RECEIPT,
    OPTION_RECORD,
    OPTION_RESUME,
    OPTION_SALE,
    OPTION_SECOND,
    OPTION_SECONDS,
    OPTION_SERIES,
    OPTION_SETTINGS,
    OPTION_SHOP,
    OPTION_SIDE,
    OPTION_SQUARES,
    OPTION_STAFF,
    OPTION_STATE,
    OPTION_STORE,
    OPTION_TABLE,
    OPTION_TO,
    OPTION_TOOLS,
    OPTION_VALUE,
    OPTION_WHY,
    OPTION_TOTAL
};

/* One option of one command. The last of a list has the id OPTION_TOTAL. */
struct option_use {
    enum option_id id;
    bool required;
    const char *placeholder; /* what stands for the value in the help; NULL = the option takes none */
    const char *text;        /* for the help */
};

#define OPTION_USES_MAX 24

struct arguments {
    const char *values[OPTION_TOTAL]; /* NULL = not given; "" for an option that takes no value */
    char *const *words;
    int word_count;
};

struct command {
    const char *name;
    const char *summary; /* one line for the list of commands */
    const char *usage;   /* what follows the name */
    const char *about;   /* the help's paragraphs */
    const struct option_use *options;
    int words_min, words_max; /* words that are no options */
    int (*run)(const struct arguments *arguments);
};

/* The name after the two dashes. */
const char *option_name(enum option_id id);

/* Reads what follows the command's name (argv[0]). On a mistake writes one line and returns TOOL_USAGE. */
int arguments_parse(const struct command *command, int argc, char **argv, struct arguments *arguments);

/* Reads the value of an option. Each leaves *value as it is when the option is not there, and writes one line and
 * returns false when the value is not good. */
bool arguments_whole(const struct arguments *arguments, enum option_id id, int64_t least, int64_t most, int64_t *value);
bool arguments_day(const struct arguments *arguments, enum option_id id, int64_t *utc_ms);
/* --from and --to as moments; the last day is included, 0 = open. */
bool arguments_period(const struct arguments *arguments, int64_t *from_utc_ms, int64_t *until_utc_ms);
/* The place of the option's word in a list that ends with NULL, counted from 1; `choices` for the complaint. */
bool arguments_word(const struct arguments *arguments, enum option_id id, const char *const *words, const char *choices,
                    int32_t *value);
bool arguments_accept(const struct arguments *arguments, int32_t *accept);
bool arguments_tools(const struct arguments *arguments, uint32_t *tools);

#endif
