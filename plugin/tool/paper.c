/*
 * counterfoil paper: receipts, labels and lists about refused and kept notes, on standard output.
 */
#include "commands.h"
#include "host.h"
#include "print.h"
#include "values.h"

#include <stdio.h>
#include <string.h>

#define MINUTE_MS 60000

/* ---- Reading the wish ---- */

static bool word_read(const char *what, const char *word, const char *const *words, int32_t count, int32_t *place)
{
    for (int32_t i = 0; i < count; i++) {
        if (strcmp(word, words[i]) == 0) {
            *place = i + 1;
            return true;
        }
    }
    complain("%s '%s' is unknown; see 'counterfoil help paper'", what, word);
    return false;
}

/* "+05:30" */
static bool offset_read(const char *text, int32_t *minutes)
{
    char hours[3] = "";
    char rest[3] = "";
    int64_t hour;
    int64_t minute;
    bool good = text == NULL || (strlen(text) == 6 && (text[0] == '+' || text[0] == '-') && text[3] == ':');
    if (text == NULL)
        return true;
    if (good) {
        memcpy(hours, text + 1, 2);
        memcpy(rest, text + 4, 2);
        good = whole_parse(hours, 0, 14, &hour) && whole_parse(rest, 0, 59, &minute) && hour * 60 + minute <= 840;
    }
    if (!good) {
        complain("--offset '%s' is no time difference; give for example +05:30", text);
        return false;
    }
    *minutes = (int32_t)(text[0] == '-' ? -(hour * 60 + minute) : hour * 60 + minute);
    return true;
}

/* The first day of the month, and of the one that follows. */
static bool month_read(const char *text, int64_t *from_utc_ms, int64_t *until_utc_ms)
{
    char day[32];
    int64_t next_ms;
    bool good = strlen(text) == 7;
    (void)snprintf(day, sizeof day, "%.7s-01", text);
    if (!good || !day_parse(day, from_utc_ms)) {
        complain("--month '%s' is no month; give YYYY-MM, 1970-01 or later", text);
        return false;
    }
    for (next_ms = *from_utc_ms + 28 * (int64_t)DAY_MS;; next_ms += DAY_MS) {
        int64_t same_ms;
        (void)snprintf(day, sizeof day, "%.7s-%02d", text, (int)((next_ms - *from_utc_ms) / DAY_MS) + 1);
        if (!day_parse(day, &same_ms))
            break;
    }
    *until_utc_ms = next_ms;
    return true;
}

static bool period_read(const struct arguments *arguments, cfoil_paper_options *options)
{
    const char *month = arguments->values[OPTION_MONTH];
    const char *from = arguments->values[OPTION_FROM];
    const char *last = arguments->values[OPTION_TO];
    int64_t last_ms = 0;
    if (month != NULL && (from != NULL || last != NULL)) {
        complain("--month stands beside --from or --to; give one of the two");
        return false;
    }
    if (month != NULL && !month_read(month, &options->from_utc_ms, &options->until_utc_ms))
        return false;
    if (!arguments_day(arguments, OPTION_FROM, &options->from_utc_ms) || !arguments_day(arguments, OPTION_TO, &last_ms))
        return false;
    if (last != NULL)
        options->until_utc_ms = last_ms + DAY_MS;
    int64_t shift_ms = (int64_t)options->utc_offset_minutes * MINUTE_MS;
    if (options->from_utc_ms > shift_ms)
        options->from_utc_ms -= shift_ms;
    if (options->until_utc_ms > 0)
        options->until_utc_ms -= shift_ms;
    return true;
}

static bool wish_read(const struct arguments *arguments, cfoil_paper_options *options)
{
    static const char *const kinds[] = {"receipt", "label", "hand-over", "period"};
    static const char *const formats[] = {"42", "48", "html"};
    const char *format = arguments->values[OPTION_FORMAT];
    if (!word_read("the paper", arguments->words[0], kinds, 4, &options->kind) ||
        (format != NULL && !word_read("--format", format, formats, 3, &options->format)) ||
        !offset_read(arguments->values[OPTION_OFFSET], &options->utc_offset_minutes) ||
        !period_read(arguments, options))
        return false;
    options->case_id = arguments->values[OPTION_CASE];
    options->language = arguments->values[OPTION_LANGUAGE];
    options->jurisdiction = arguments->values[OPTION_JURISDICTION];
    options->shop = arguments->values[OPTION_SHOP];
    return true;
}

/* ---- Printing ---- */

struct paper_wish {
    cfoil_ledger *ledger;
    cfoil_paper_options options;
};

static int32_t paper_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct paper_wish *wish = user;
    return cfoil_paper_write(wish->ledger, &wish->options, buffer, capacity, needed);
}

int paper_run(const struct arguments *arguments)
{
    struct paper_wish wish = {NULL, CFOIL_PAPER_OPTIONS_INIT};
    struct host host;
    if (!wish_read(arguments, &wish.options))
        return TOOL_USAGE;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    wish.ledger = host.ledger;
    code = text_print(paper_source, &wish, "", host.ledger, "cannot write the paper");
    host_close(&host);
    return code;
}
