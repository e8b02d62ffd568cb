/* What can a script say about a ccTalk note validator? Tables and readers; common/ reads what all simulators share. */
#include "language.h"

#include "common/settings.h"

#include <string.h>

static const char *const check_words[] = {"sum", "crc", NULL};
static const char *const switch_words[] = {"off", "on", NULL};
static const char *const power_loss_words[] = {"returns", "stacks", NULL};
static const char *const counters_words[] = {"cleared", "kept", NULL};
static const char *const empty_words[] = {"dots", "spaces", "zeros", "nak", "silence", NULL};

#define AT(member) offsetof(struct settings, member)

static const struct setting device_settings[] = {
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
void settings_default(struct settings *settings)
{
    *settings = (struct settings){.address = 40,
                                  .serial = 1193046,
                                  .escrow_timeout_ms = 30000,
                                  .start_ms = 100,
                                  .move_ms = 40,
                                  .watchdog_ms = 1000,
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

static bool device_read(struct words *words, void *user)
{
    struct settings *settings = user;
    if (words_skip(words, "silent"))
        return headers_read(words, settings, TREAT_SILENT);
    if (words_skip(words, "nak"))
        return headers_read(words, settings, TREAT_NAK);
    if (words_skip(words, "busy"))
        return headers_read(words, settings, TREAT_BUSY);
    if (words_skip(words, "earlier"))
        return earlier_read(words, settings);
    return setting_read(words, settings, device_settings, sizeof device_settings / sizeof device_settings[0]);
}

/* Identifiers are kept plain: enough for any form, and safe to print in a log. */
static bool note_read(struct words *words, void *user)
{
    struct settings *settings = user;
    long type = 0;
    char id[8];
    if (!words_number(words, "the bill type", 1, SCRIPT_TYPES, &type) || !words_text(words, "the bill id", 7, id))
        return false;
    if (strlen(id) != 7 || !text_plain(id))
        return words_fail(words, "a bill id has 7 letters and digits, for example EU0005A, not '%s'", id);
    if (settings->notes[type][0] != '\0')
        return words_fail(words, "bill type %ld is already %s", type, settings->notes[type]);
    strcpy(settings->notes[type], id);
    return words_finish(words);
}

static bool country_read(struct words *words, void *user)
{
    struct settings *settings = user;
    if (settings->country_count == SCRIPT_COUNTRIES)
        return words_fail(words, "more than %d countries", SCRIPT_COUNTRIES);
    struct country *country = &settings->countries[settings->country_count];
    if (!words_text(words, "the country", 2, country->letters))
        return false;
    if (strlen(country->letters) != 2 || !text_plain(country->letters))
        return words_fail(words, "a country has 2 letters, for example EU, not '%s'", country->letters);
    for (size_t i = 0; i < settings->country_count; i++) {
        if (strcmp(settings->countries[i].letters, country->letters) == 0)
            return words_fail(words, "country %s is already described", country->letters);
    }
    settings->country_count++;
    return words_number(words, "the scaling factor", 0, 65535, &country->scale) &&
           words_number(words, "the number of decimal places", 0, 255, &country->places) && words_finish(words);
}

static const struct setting_word setting_words[] = {
    {"device", device_read}, {"note", note_read}, {"country", country_read}, {NULL, NULL}};

/* ---- The timeline ---- */

static const char *const way_words[] = {"genuine", "refused",  "transport",       "switched_off",
                                        "pulled",  "tampered", "optical",         "string",
                                        "unknown", "jams",     "jams_in_stacker", NULL};
static const char *const jam_words[] = {"transport", "safe", "stacker", NULL};
static const char *const stacker_words[] = {"ok", "removed", "inserted", "faulty", "full", "jammed", NULL};

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    const struct settings *settings = script->settings;
    bool numbered = words_digit_next(words);
    if (numbered && !words_number(words, "the bill type", 1, SCRIPT_TYPES, &statement->first))
        return false;
    if (numbered && settings->notes[statement->first][0] == '\0')
        return words_fail(words, "bill type %ld is not in the bill table", statement->first);
    if (!words_choice(words, "how the note fares", way_words, &statement->second))
        return false;
    bool needs_type = statement->second == WAY_GENUINE || statement->second == WAY_JAMS_IN_STACKER;
    if (needs_type && !numbered)
        return words_fail(words, "say which bill type, for example 'insert 3 genuine'");
    return true;
}

static bool event_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_number(words, "event byte A", 0, 255, &statement->first) &&
           words_number(words, "event byte B", 0, 255, &statement->second);
}

static bool jam_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the jam", jam_words, &statement->first);
}

static bool stacker_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the stacker", stacker_words, &statement->first);
}

static bool self_check_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    statement->second = -1;
    if (!words_number(words, "the fault code", 0, 255, &statement->first))
        return false;
    return words_at_end(words) || words_number(words, "the extra byte", 0, 255, &statement->second);
}

static bool route_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    if (!words_skip(words, "fails"))
        return words_fail(words, "write 'route fails' and how many times");
    return words_number(words, "how many times", 1, 1000, &statement->first);
}

static const struct action_word action_words[] = {
    {"insert", ACTION_INSERT, insert_read},
    {"event", ACTION_EVENT, event_read},
    {"jam", ACTION_JAM, jam_read},
    {"stacker", ACTION_STACKER, stacker_read},
    {"self_check", ACTION_SELF_CHECK, self_check_read},
    {"route", ACTION_ROUTE_FAILS, route_read},
    {NULL, ACTION_NONE, NULL},
};

static const struct fault_word fault_words[] = {
    {"lost", EFFECT_LOST, 0, OWN_NONE},       {"doubled", EFFECT_DOUBLED, 0, OWN_NONE},
    {"flip", EFFECT_FLIP, 0, OWN_NONE},       {"cut", EFFECT_CUT, 0, OWN_NONE},
    {"late", EFFECT_LATE, 0, OWN_NONE},       {"pause", EFFECT_PAUSE, 0, OWN_NONE},
    {"silence", EFFECT_SILENCE, 0, OWN_NONE}, {"deaf", EFFECT_OWN, 0, OWN_DEAF},
    {"stale", EFFECT_OWN, 0, OWN_STALE},      {"garbage", EFFECT_GARBAGE, 0, OWN_NONE},
    {"echo", EFFECT_OWN, 0, OWN_ECHO},        {NULL, EFFECT_OWN, 0, OWN_NONE},
};

static bool command_read(struct words *words, long *command)
{
    return words_number(words, "the command header", 1, 255, command);
}

static bool fault_on_read(struct words *words, struct fault *fault)
{
    return command_read(words, &fault->command);
}

const struct language cctalk_language = {.settings = setting_words,
                                         .actions = action_words,
                                         .faults = fault_words,
                                         .command_read = command_read,
                                         .fault_on_read = fault_on_read};
