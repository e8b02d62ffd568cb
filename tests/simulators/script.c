/* What does a script say? Its settings: the device, the bill table, the countries; timeline.c reads the rest. */
#include "script.h"
#include "words.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum setting_kind { SETTING_NUMBERS, SETTING_TEXT, SETTING_CHOICE };

struct setting {
    const char *word;
    enum setting_kind kind;
    size_t offset;
    long least, most;
    int needed, allowed; /* how many numbers */
    const char *const *choices;
};

static const char *const check_words[] = {"sum", "crc", NULL};
static const char *const switch_words[] = {"off", "on", NULL};
static const char *const power_loss_words[] = {"returns", "stacks", NULL};
static const char *const counters_words[] = {"cleared", "kept", NULL};
static const char *const empty_words[] = {"dots", "spaces", "zeros", "nak", "silence", NULL};

#define AT(member) offsetof(struct settings, member)

static const struct setting settings_table[] = {
    {"address", SETTING_NUMBERS, AT(address), 2, 255, 1, 1, NULL},
    {"serial", SETTING_NUMBERS, AT(serial), 0, 16777215, 1, 1, NULL},
    {"counter", SETTING_NUMBERS, AT(counter), 0, 255, 1, 1, NULL},
    {"mode", SETTING_NUMBERS, AT(mode), 0, 3, 1, 1, NULL},
    {"escrow_timeout_ms", SETTING_NUMBERS, AT(escrow_timeout_ms), 1, 3600000, 1, 1, NULL},
    {"start_ms", SETTING_NUMBERS, AT(start_ms), 0, 3600000, 1, 1, NULL},
    {"move_ms", SETTING_NUMBERS, AT(move_ms), 0, 60000, 1, 1, NULL},
    {"watchdog_ms", SETTING_NUMBERS, AT(watchdog_ms), 0, 3600000, 1, 1, NULL},
    {"reply_ms", SETTING_NUMBERS, AT(reply_ms), 0, 60000, 1, 1, NULL},
    {"comms", SETTING_NUMBERS, AT(comms), 0, 255, 3, 3, NULL},
    {"priority", SETTING_NUMBERS, AT(priority), 0, 255, 2, 2, NULL},
    {"fault", SETTING_NUMBERS, AT(fault), 0, 255, 1, 2, NULL},
    {"check", SETTING_CHOICE, AT(crc), 0, 0, 0, 0, check_words},
    {"echo", SETTING_CHOICE, AT(echo), 0, 0, 0, 0, switch_words},
    {"on_power_loss", SETTING_CHOICE, AT(stacks_on_power_loss), 0, 0, 0, 0, power_loss_words},
    {"counters", SETTING_CHOICE, AT(keeps_counters), 0, 0, 0, 0, counters_words},
    {"empty", SETTING_CHOICE, AT(empty), 0, 0, 0, 0, empty_words},
    {"category", SETTING_TEXT, AT(category), 0, 32, 0, 0, NULL},
    {"maker", SETTING_TEXT, AT(maker), 0, 32, 0, 0, NULL},
    {"product", SETTING_TEXT, AT(product), 0, 32, 0, 0, NULL},
    {"software", SETTING_TEXT, AT(software), 0, 32, 0, 0, NULL},
    {"build", SETTING_TEXT, AT(build), 0, 32, 0, 0, NULL},
};

/* Sources of the defaults: address 40 and the category text are the standard's (from memory); escrow 30 s, restart
 * 100 ms, watchdog 1 s and polling 200 ms are common device values; the rest is invented. */
static void settings_default(struct settings *settings)
{
    *settings = (struct settings){.address = 40,
                                  .serial = 1193046,
                                  .escrow_timeout_ms = 30000,
                                  .start_ms = 100,
                                  .move_ms = 40,
                                  .watchdog_ms = 1000,
                                  .patience_ms = 60000,
                                  .comms = {1, 4, 7},
                                  .priority = {2, 20},
                                  .fault = {0, -1},
                                  .category = "Bill Validator",
                                  .maker = "SIM",
                                  .product = "SIMULATED",
                                  .software = "SIM-1.0",
                                  .build = "TEST"};
}

static bool headers_read(struct words *words, struct settings *settings, enum header_treatment treatment)
{
    do {
        if (words_at_end(words))
            return words_fail(words, "name the command headers, for example 241,192");
        char *list = words->word[words->next];
        for (char *part = strtok(list, ","); part != NULL; part = strtok(NULL, ",")) {
            struct words one = {.file = words->file, .line = words->line, .word = {part}, .count = 1};
            long header = 0;
            if (!words_number(&one, "a command header", 1, 255, &header))
                return false;
            settings->treatment[header] = (unsigned char)treatment;
        }
        words->next++;
    } while (!words_at_end(words));
    return true;
}

static bool earlier_read(struct words *words, struct settings *settings)
{
    if (settings->earlier_count == SCRIPT_EARLIER)
        return words_fail(words, "the event buffer holds only %d events", SCRIPT_EARLIER);
    long *pair = settings->earlier[settings->earlier_count++];
    return words_number(words, "event byte A", 0, 255, &pair[0]) &&
           words_number(words, "event byte B", 0, 255, &pair[1]) && words_finish(words);
}

static bool numbers_read(struct words *words, const struct setting *setting, long *values)
{
    for (int i = 0; i < setting->allowed; i++) {
        if (i >= setting->needed && words_at_end(words))
            break;
        if (!words_number(words, setting->word, setting->least, setting->most, &values[i]))
            return false;
    }
    return true;
}

static bool setting_read(struct words *words, struct settings *settings, const struct setting *setting)
{
    char *target = (char *)settings + setting->offset;
    void *numbers = target;
    bool good = false;
    if (setting->kind == SETTING_NUMBERS)
        good = numbers_read(words, setting, numbers);
    else if (setting->kind == SETTING_TEXT)
        good = words_text(words, setting->word, (size_t)setting->most, target);
    else
        good = words_choice(words, setting->word, setting->choices, numbers);
    return good && words_finish(words);
}

static bool device_read(struct words *words, struct settings *settings)
{
    if (words_skip(words, "silent"))
        return headers_read(words, settings, TREAT_SILENT);
    if (words_skip(words, "nak"))
        return headers_read(words, settings, TREAT_NAK);
    if (words_skip(words, "busy"))
        return headers_read(words, settings, TREAT_BUSY);
    if (words_skip(words, "earlier"))
        return earlier_read(words, settings);
    for (size_t i = 0; i < sizeof settings_table / sizeof settings_table[0]; i++) {
        if (words_skip(words, settings_table[i].word))
            return setting_read(words, settings, &settings_table[i]);
    }
    return words_fail(words, "the device has no setting '%s'",
                      words_at_end(words) ? "(nothing)" : words->word[words->next]);
}

/* Identifiers are kept to letters, digits and blanks: enough for any form, and safe to print in a log. */
static bool plain(const char *text)
{
    return strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .") == strlen(text);
}

static bool note_read(struct words *words, struct settings *settings)
{
    long type = 0;
    char id[8];
    if (!words_number(words, "the bill type", 1, SCRIPT_TYPES, &type) || !words_text(words, "the bill id", 7, id))
        return false;
    if (strlen(id) != 7 || !plain(id))
        return words_fail(words, "a bill id has 7 letters and digits, for example EU0005A, not '%s'", id);
    if (settings->notes[type][0] != '\0')
        return words_fail(words, "bill type %ld is already %s", type, settings->notes[type]);
    strcpy(settings->notes[type], id);
    return words_finish(words);
}

static bool country_read(struct words *words, struct settings *settings)
{
    if (settings->country_count == SCRIPT_COUNTRIES)
        return words_fail(words, "more than %d countries", SCRIPT_COUNTRIES);
    struct country *country = &settings->countries[settings->country_count];
    if (!words_text(words, "the country", 2, country->letters))
        return false;
    if (strlen(country->letters) != 2 || !plain(country->letters))
        return words_fail(words, "a country has 2 letters, for example EU, not '%s'", country->letters);
    for (size_t i = 0; i < settings->country_count; i++) {
        if (strcmp(settings->countries[i].letters, country->letters) == 0)
            return words_fail(words, "country %s is already described", country->letters);
    }
    settings->country_count++;
    return words_number(words, "the scaling factor", 0, 65535, &country->scale) &&
           words_number(words, "the number of decimal places", 0, 255, &country->places) && words_finish(words);
}

static bool patience_read(struct words *words, struct settings *settings)
{
    if (!words_number(words, "patience in ms", 0, 86400000, &settings->patience_ms))
        return false;
    words_skip(words, "ms");
    return words_finish(words);
}

static bool line_read(struct script *script, struct words *words)
{
    if (words->count == 0)
        return true;
    bool (*reader)(struct words *, struct settings *) = NULL;
    if (words_skip(words, "device"))
        reader = device_read;
    else if (words_skip(words, "note"))
        reader = note_read;
    else if (words_skip(words, "country"))
        reader = country_read;
    else if (words_skip(words, "patience"))
        reader = patience_read;
    if (reader == NULL)
        return timeline_read(script, words);
    if (script->count > 0)
        return words_fail(words, "'%s' must stand before the first step of the timeline", words->word[0]);
    return reader(words, &script->settings);
}

static bool lines_read(struct script *script, FILE *stream)
{
    struct words words = {.file = script->file};
    while (fgets(words.text, sizeof words.text, stream) != NULL) {
        words.line++;
        if (strchr(words.text, '\n') == NULL && !feof(stream))
            return words_fail(&words, "the line is longer than %d bytes", LINE_BYTES - 2);
        if (!words_split(&words) || !line_read(script, &words))
            return false;
    }
    if (ferror(stream))
        return words_fail(&words, "cannot read on: %s", strerror(errno));
    return timeline_check_end(script);
}

bool script_read(struct script *script, const char *file)
{
    memset(script, 0, sizeof *script);
    script->file = file;
    settings_default(&script->settings);
    FILE *stream = fopen(file, "r");
    if (stream == NULL) {
        fprintf(stderr, "%s: cannot open the script: %s\n", file, strerror(errno));
        return false;
    }
    bool good = lines_read(script, stream);
    fclose(stream);
    return good;
}
