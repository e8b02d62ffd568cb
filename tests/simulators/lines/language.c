/* What can a script say about the detector that prints lines? Tables and readers; common/ reads what all share. */
#include "language.h"

#include "common/settings.h"

#define AT(member) offsetof(struct settings, member)

static const struct setting device_settings[] = {
    {"alive_ms", SETTING_NUMBERS, AT(alive_ms), 0, 3600000, 1, 1, NULL},
    {"start_ms", SETTING_NUMBERS, AT(start_ms), 0, 60000, 1, 1, NULL},
    {"move_ms", SETTING_NUMBERS, AT(move_ms), 0, 60000, 1, 1, NULL},
};

/* The device is invented, and so are these. */
void settings_default(struct settings *settings)
{
    *settings = (struct settings){.alive_ms = 5000, .start_ms = 20, .move_ms = 30};
}

static bool device_read(struct words *words, void *user)
{
    return setting_read(words, user, device_settings, sizeof device_settings / sizeof device_settings[0]);
}

static const struct setting_word setting_words[] = {{"device", device_read}, {NULL, NULL}};

/* ---- The timeline ---- */

static const char *const way_words[] = {"passed", "uv",    "ir",    "mg",      "thread", "size",
                                        "thick",  "image", "uv_ir", "strange", "skewed", NULL};
static const long values[] = {5, 10, 20, 50, 100, 200};

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    if (!words_number(words, "the value in euro", 1, 500, &statement->first))
        return false;
    bool known = false;
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        known = known || values[i] == statement->first;
    if (!known)
        return words_fail(words, "there is no note of %ld euro here", statement->first);
    return words_choice(words, "how the note fares", way_words, &statement->second);
}

/* The script is constant when it runs: its texts live with the settings. */
static bool say_read(const struct script *script, struct words *words, struct statement *statement)
{
    struct settings *settings = script->settings;
    if (settings->text_count == TEXTS)
        return words_fail(words, "more than %d texts", TEXTS);
    statement->first = settings->text_count++;
    return words_text(words, "the line", TEXT_BYTES - 1, settings->texts[statement->first]);
}

static const struct action_word action_words[] = {
    {"insert", ACTION_INSERT, insert_read}, {"say", ACTION_SAY, say_read}, {"jam", ACTION_JAM, NULL},
    {"dirty", ACTION_DIRTY, NULL},          {NULL, ACTION_NONE, NULL},
};

static const struct fault_word fault_words[] = {
    {"lost", EFFECT_LOST, 0, 0},       {"doubled", EFFECT_DOUBLED, 0, 0}, {"flip", EFFECT_FLIP, 0, 0},
    {"cut", EFFECT_CUT, 0, 0},         {"late", EFFECT_LATE, 0, 0},       {"pause", EFFECT_PAUSE, 0, 0},
    {"silence", EFFECT_SILENCE, 0, 0}, {"garbage", EFFECT_GARBAGE, 0, 0}, {NULL, EFFECT_OWN, 0, 0},
};

static bool command_read(struct words *words, long *command)
{
    (void)command;
    return words_fail(words, "a detector that only talks is asked nothing");
}

static bool fault_on_read(struct words *words, struct fault *fault)
{
    return command_read(words, &fault->command);
}

const struct language lines_language = {.settings = setting_words,
                                        .actions = action_words,
                                        .faults = fault_words,
                                        .command_read = command_read,
                                        .fault_on_read = fault_on_read};
