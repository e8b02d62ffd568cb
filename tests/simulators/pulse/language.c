/* What can a script say about a contact-pulse device? Tables and readers; common/ reads what all simulators share. */
#include "language.h"

#include "common/settings.h"

static const char *const line_words[] = {"cts", "dsr", "dcd", "ri", NULL};
static const char *const active_words[] = {"high", "low", NULL};
static const char *const level_words[] = {"low", "high", NULL};
static const char *const inhibit_words[] = {"none", "dtr", "rts", NULL};

#define AT(member) offsetof(struct settings, member)

static const struct setting device_settings[] = {
    {"line", SETTING_CHOICE, AT(line), 0, 0, 0, 0, line_words},
    {"active", SETTING_CHOICE, AT(active_low), 0, 0, 0, 0, active_words},
    {"inhibit", SETTING_CHOICE, AT(inhibit), 0, 0, 0, 0, inhibit_words},
    {"inhibit_active", SETTING_CHOICE, AT(inhibit_high), 0, 0, 0, 0, level_words},
    {"pulse_ms", SETTING_NUMBERS, AT(pulse_ms), 1, 10000, 1, 1, NULL},
    {"pause_ms", SETTING_NUMBERS, AT(pause_ms), 1, 10000, 1, 1, NULL},
    {"rest_ms", SETTING_NUMBERS, AT(rest_ms), 0, 60000, 1, 1, NULL},
    {"move_ms", SETTING_NUMBERS, AT(move_ms), 0, 60000, 1, 1, NULL},
    {"bounce_ms", SETTING_NUMBERS, AT(bounce_ms), 0, 20, 1, 1, NULL},
};

/* Pulse lengths are set by switches in the device: these are common practice, no source. */
void settings_default(struct settings *settings)
{
    *settings = (struct settings){.pulse_ms = 50, .pause_ms = 50, .rest_ms = 500, .move_ms = 40};
}

static bool device_read(struct words *words, void *user)
{
    return setting_read(words, user, device_settings, sizeof device_settings / sizeof device_settings[0]);
}

static bool note_read(struct words *words, void *user)
{
    struct settings *settings = user;
    long type = 0;
    long pulses = 0;
    if (!words_number(words, "the note type", 1, TYPES, &type) ||
        !words_number(words, "its pulses", 1, PULSES_MOST, &pulses))
        return false;
    if (settings->pulses[type] != 0)
        return words_fail(words, "note type %ld has %ld pulses already", type, settings->pulses[type]);
    settings->pulses[type] = pulses;
    return words_finish(words);
}

static const struct setting_word setting_words[] = {{"device", device_read}, {"note", note_read}, {NULL, NULL}};

/* ---- The timeline ---- */

static const char *const way_words[] = {"genuine", "refused", NULL};
static const char *const contact_words[] = {"open", "closed", NULL};
static const char *const switch_words[] = {"off", "on", NULL};

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    const struct settings *settings = script->settings;
    if (!words_number(words, "the note type", 1, TYPES, &statement->first))
        return false;
    if (settings->pulses[statement->first] == 0)
        return words_fail(words, "note type %ld has no pulses", statement->first);
    return words_choice(words, "how the note fares", way_words, &statement->second);
}

static bool pulses_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_number(words, "how many pulses", 1, PULSES_MOST, &statement->first);
}

static bool contact_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the contact", contact_words, &statement->first);
}

static bool other_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the line", line_words, &statement->first) &&
           words_choice(words, "its level", switch_words, &statement->second);
}

static const struct action_word action_words[] = {
    {"insert", ACTION_INSERT, insert_read},
    {"pulses", ACTION_PULSES, pulses_read},
    {"contact", ACTION_CONTACT, contact_read},
    {"other", ACTION_OTHER, other_read},
    {NULL, ACTION_NONE, NULL},
};

/* The common effects stand for what happens to a pulse, not to bytes. */
static const struct fault_word fault_words[] = {
    {"lost", EFFECT_SILENCE, 0, OWN_NONE}, {"lasts", EFFECT_LATE, 0, OWN_NONE}, {"rests", EFFECT_PAUSE, 0, OWN_NONE},
    {"split", EFFECT_OWN, 0, OWN_SPLIT},   {NULL, EFFECT_OWN, 0, OWN_NONE},
};

static bool command_read(struct words *words, long *command)
{
    (void)command;
    return words_fail(words, "a pulse device is asked nothing");
}

static bool fault_on_read(struct words *words, struct fault *fault)
{
    return command_read(words, &fault->command);
}

const struct language pulse_language = {.settings = setting_words,
                                        .actions = action_words,
                                        .faults = fault_words,
                                        .command_read = command_read,
                                        .fault_on_read = fault_on_read};
