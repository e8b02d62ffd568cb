/* What can a script say about the validator with status bits? Tables and readers; common/ reads what all share. */
#include "language.h"

#include "common/settings.h"

#include <stdlib.h>
#include <string.h>

static const char *const unread_words[] = {"kept", "forgotten", NULL};

#define AT(member) offsetof(struct settings, member)

static const struct setting device_settings[] = {
    {"model", SETTING_TEXT, AT(model), 0, 4, 0, 0, NULL},
    {"serial", SETTING_TEXT, AT(serial), 0, 4, 0, 0, NULL},
    {"start_ms", SETTING_NUMBERS, AT(start_ms), 0, 60000, 1, 1, NULL},
    {"move_ms", SETTING_NUMBERS, AT(move_ms), 0, 60000, 1, 1, NULL},
    {"escrow_timeout_ms", SETTING_NUMBERS, AT(escrow_timeout_ms), 1, 3600000, 1, 1, NULL},
    {"reply_ms", SETTING_NUMBERS, AT(reply_ms), 0, 60000, 1, 1, NULL},
    {"unread", SETTING_CHOICE, AT(forgets_unread), 0, 0, 0, 0, unread_words},
};

/* The device is invented, and so are these. */
void settings_default(struct settings *settings)
{
    *settings = (struct settings){
        .model = "SBV1", .serial = "0042", .start_ms = 50, .move_ms = 40, .escrow_timeout_ms = 30000};
}

static bool device_read(struct words *words, void *user)
{
    const struct settings *settings = user;
    if (!setting_read(words, user, device_settings, sizeof device_settings / sizeof device_settings[0]))
        return false;
    bool four = strlen(settings->model) == 4 && strlen(settings->serial) == 4;
    return (four && text_plain(settings->model) && text_plain(settings->serial)) ||
           words_fail(words, "model and serial have four letters or digits");
}

static const struct setting_word setting_words[] = {{"device", device_read}, {NULL, NULL}};

/* ---- The timeline ---- */

static const char *const way_words[] = {"genuine",     "refused", "transport", "magnetic",
                                        "ultraviolet", "strange", "jams",      NULL};
static const char *const stacker_words[] = {"ok", "full", "removed", NULL};
static const char *const command_words[] = {"poll", "identity", "stack", "return", NULL};

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_number(words, "the note type", 1, TYPES, &statement->first) &&
           words_choice(words, "how the note fares", way_words, &statement->second);
}

static bool stacker_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the stacker", stacker_words, &statement->first);
}

static bool byte_read(struct words *words, long *byte)
{
    const char *word = words_peek(words);
    if (strlen(word) != 2 || strspn(word, "0123456789ABCDEF") != 2)
        return words_fail(words, "a byte has two hexadecimal digits, for example 0C, not '%s'", word);
    *byte = strtol(word, NULL, 16);
    words->next++;
    return true;
}

/* Bits that are set in every answer from now on. */
static bool bits_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return byte_read(words, &statement->first) && byte_read(words, &statement->second);
}

static const struct action_word action_words[] = {
    {"insert", ACTION_INSERT, insert_read}, {"stacker", ACTION_STACKER, stacker_read}, {"jam", ACTION_JAM, NULL},
    {"tampering", ACTION_TAMPERING, NULL},  {"bits", ACTION_BITS, bits_read},          {NULL, ACTION_NONE, NULL},
};

static const struct fault_word fault_words[] = {
    {"lost", EFFECT_LOST, 0, OWN_NONE},       {"doubled", EFFECT_DOUBLED, 0, OWN_NONE},
    {"flip", EFFECT_FLIP, 0, OWN_NONE},       {"cut", EFFECT_CUT, 0, OWN_NONE},
    {"late", EFFECT_LATE, 0, OWN_NONE},       {"pause", EFFECT_PAUSE, 0, OWN_NONE},
    {"silence", EFFECT_SILENCE, 0, OWN_NONE}, {"garbage", EFFECT_GARBAGE, 0, OWN_NONE},
    {"deaf", EFFECT_OWN, 0, OWN_DEAF},        {"stale", EFFECT_OWN, 0, OWN_STALE},
    {NULL, EFFECT_OWN, 0, OWN_NONE},
};

static bool command_read(struct words *words, long *command)
{
    return words_choice(words, "the command", command_words, command);
}

static bool fault_on_read(struct words *words, struct fault *fault)
{
    return command_read(words, &fault->command);
}

const struct language bits_language = {.settings = setting_words,
                                       .actions = action_words,
                                       .faults = fault_words,
                                       .command_read = command_read,
                                       .fault_on_read = fault_on_read};
