/* What can a script say about an MDB bill validator and its bus controller? Tables and readers; common/ reads what
 * all simulators share. */
#include "language.h"

#include "common/settings.h"

#include <stdlib.h>
#include <string.h>

static const char *const switch_words[] = {"no", "yes", NULL};
static const char *const power_loss_words[] = {"returns", "stacks", NULL};
static const char *const events_words[] = {"cleared", "kept", NULL};
static const char *const counting_words[] = {"right", "stuck", "jumps", NULL};
static const char *const statuses_words[] = {"repeated", "once", NULL};
static const char *const saying_words[] = {"never", "once", "always", NULL};
static const char *const unknown_words[] = {"silence", "nak", "ack", NULL};
static const char *const strays_words[] = {"dropped", "passed", NULL};
static const char *const retransmit_words[] = {"answered", "ignored", NULL};

#define AT(member) offsetof(struct settings, member)

static const struct setting device_settings[] = {
    {"level", SETTING_NUMBERS, AT(level), 1, 2, 1, 1, NULL},
    {"scaling", SETTING_NUMBERS, AT(scaling), 0, 65535, 1, 1, NULL},
    {"places", SETTING_NUMBERS, AT(places), 0, 255, 1, 1, NULL},
    {"capacity", SETTING_NUMBERS, AT(capacity), 0, 32767, 1, 1, NULL},
    {"count", SETTING_NUMBERS, AT(count), 0, 32767, 1, 1, NULL},
    {"security", SETTING_NUMBERS, AT(security), 0, 65535, 1, 1, NULL},
    {"software", SETTING_NUMBERS, AT(software), 0, 9999, 1, 1, NULL},
    {"setup_bytes", SETTING_NUMBERS, AT(setup_bytes), SETUP_BYTES_LEAST, SETUP_BYTES, 1, 1, NULL},
    {"poll_bytes", SETTING_NUMBERS, AT(poll_bytes), 1, 34, 1, 1, NULL},
    {"holds", SETTING_NUMBERS, AT(holds), 0, 32767, 1, 1, NULL},
    {"escrow_timeout_ms", SETTING_NUMBERS, AT(escrow_timeout_ms), 1, 3600000, 1, 1, NULL},
    {"start_ms", SETTING_NUMBERS, AT(start_ms), 0, 3600000, 1, 1, NULL},
    {"move_ms", SETTING_NUMBERS, AT(move_ms), 0, 60000, 1, 1, NULL},
    {"reply_ms", SETTING_NUMBERS, AT(reply_ms), 0, 60000, 1, 1, NULL},
    {"escrow", SETTING_CHOICE, AT(escrow), 0, 0, 0, 0, switch_words},
    {"counting", SETTING_CHOICE, AT(counting), 0, 0, 0, 0, counting_words},
    {"on_power_loss", SETTING_CHOICE, AT(stacks_on_power_loss), 0, 0, 0, 0, power_loss_words},
    {"events", SETTING_CHOICE, AT(keeps_events), 0, 0, 0, 0, events_words},
    {"statuses", SETTING_CHOICE, AT(statuses_once), 0, 0, 0, 0, statuses_words},
    {"says_disabled", SETTING_CHOICE, AT(says_disabled), 0, 0, 0, 0, saying_words},
    {"count_clears", SETTING_CHOICE, AT(count_clears), 0, 0, 0, 0, switch_words},
    {"recycling", SETTING_CHOICE, AT(recycling), 0, 0, 0, 0, switch_words},
    {"unknown", SETTING_CHOICE, AT(unknown), 0, 0, 0, 0, unknown_words},
    {"strays", SETTING_CHOICE, AT(passes_strays), 0, 0, 0, 0, strays_words},
    {"retransmit", SETTING_CHOICE, AT(ignores_retransmit), 0, 0, 0, 0, retransmit_words},
    {"maker", SETTING_TEXT, AT(maker), 0, 3, 0, 0, NULL},
    {"serial", SETTING_TEXT, AT(serial), 0, 12, 0, 0, NULL},
    {"model", SETTING_TEXT, AT(model), 0, 12, 0, 0, NULL},
};

/* Sources of the defaults: 16 poll bytes, 27 SETUP bytes and all types at high security are the standard's; 400 bills
 * is its example; the rest is invented. */
void settings_default(struct settings *settings)
{
    *settings = (struct settings){.level = 1,
                                  .country = 0x1978,
                                  .scaling = 100,
                                  .places = 2,
                                  .capacity = 400,
                                  .security = 0xFFFF,
                                  .software = 100,
                                  .setup_bytes = SETUP_BYTES,
                                  .poll_bytes = 16,
                                  .holds = 30,
                                  .escrow_timeout_ms = 30000,
                                  .start_ms = 100,
                                  .move_ms = 40,
                                  .reply_ms = 1,
                                  .escrow = 1,
                                  .count_clears = 1,
                                  .maker = "SIM",
                                  .serial = "000000001234",
                                  .model = "SIMULATED"};
    for (int type = 0; type < TYPES; type++)
        settings->credit[type] = -1;
}

/* ---- Settings ---- */

/* Packed BCD: 978 becomes 0978H. */
static long decimal_pack(long number)
{
    return number / 1000 % 10 << 12 | number / 100 % 10 << 8 | number / 10 % 10 << 4 | number % 10;
}

static bool country_read(struct words *words, struct settings *settings)
{
    bool telephone = words_skip(words, "telephone");
    long number = 0;
    if (!words_number(words, telephone ? "the telephone code" : "the ISO 4217 number", 0, 999, &number))
        return false;
    settings->country = decimal_pack(telephone ? number : number + 1000);
    return words_finish(words);
}

static bool recycles_read(struct words *words, struct settings *settings)
{
    do {
        long type = 0;
        if (!words_number(words, "the bill type", 0, TYPES - 1, &type))
            return false;
        settings->recycles |= 1U << type;
    } while (!words_at_end(words));
    return true;
}

static bool stored_read(struct words *words, struct settings *settings)
{
    long type = 0;
    return words_number(words, "the bill type", 0, TYPES - 1, &type) &&
           words_number(words, "how many bills", 0, 32767, &settings->stored[type]) && words_finish(words);
}

static bool device_read(struct words *words, void *user)
{
    struct settings *settings = user;
    if (words_skip(words, "country"))
        return country_read(words, settings);
    if (words_skip(words, "recycles"))
        return recycles_read(words, settings);
    if (words_skip(words, "stored"))
        return stored_read(words, settings);
    if (!setting_read(words, settings, device_settings, sizeof device_settings / sizeof device_settings[0]))
        return false;
    bool plain = text_plain(settings->maker) && text_plain(settings->serial) && text_plain(settings->model);
    return plain || words_fail(words, "use letters, digits, blanks and dots only");
}

static bool note_read(struct words *words, void *user)
{
    struct settings *settings = user;
    long type = 0;
    long credit = CREDIT_TOKEN;
    if (!words_number(words, "the bill type", 0, TYPES - 1, &type))
        return false;
    if (!words_skip(words, "token") && !words_number(words, "the credit in scaling units", 0, 255, &credit))
        return false;
    if (settings->credit[type] >= 0)
        return words_fail(words, "bill type %ld is already %ld", type, settings->credit[type]);
    settings->credit[type] = credit;
    return words_finish(words);
}

static const struct setting_word setting_words[] = {{"device", device_read}, {"note", note_read}, {NULL, NULL}};

/* ---- The timeline ---- */

static const char *const way_words[] = {"genuine",         "refused",           "pulled", "jams",
                                        "jams_in_stacker", "jams_within_reach", "unsaid", NULL};
static const char *const status_words[] = {"good", "motor", "sensor", "busy", "rom", NULL};
static const char *const stacker_words[] = {"ok", "removed", "inserted", "full", NULL};
static const char *const transfer_words[] = {"fill", "dispense", "to_cash_box", NULL};

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    const struct settings *settings = script->settings;
    bool numbered = words_digit_next(words);
    if (numbered && !words_number(words, "the bill type", 0, TYPES - 1, &statement->first))
        return false;
    if (numbered && settings->credit[statement->first] < 0)
        return words_fail(words, "bill type %ld is not in the bill table", statement->first);
    if (!words_choice(words, "how the note fares", way_words, &statement->second))
        return false;
    bool needs_type = statement->second != WAY_REFUSED && statement->second != WAY_JAMS;
    if (needs_type && !numbered)
        return words_fail(words, "say which bill type, for example 'insert 3 genuine'");
    if (!numbered)
        statement->first = -1;
    return true;
}

static bool event_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    const char *word = words_peek(words);
    if (strlen(word) != 2 || strspn(word, "0123456789ABCDEF") != 2)
        return words_fail(words, "a poll byte has two hexadecimal digits, for example 0C, not '%s'", word);
    statement->first = strtol(word, NULL, 16);
    words->next++;
    return true;
}

static bool status_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the status", status_words, &statement->first);
}

static bool stacker_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_choice(words, "the stacker", stacker_words, &statement->first);
}

static bool count_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_number(words, "the count", 0, 32767, &statement->first);
}

static bool recycler_read(const struct script *script, struct words *words, struct statement *statement)
{
    const struct settings *settings = script->settings;
    if (settings->recycles == 0)
        return words_fail(words, "this device has no recycler; write 'device recycles' and the types");
    return words_choice(words, "what the recycler does", transfer_words, &statement->second) &&
           words_number(words, "the bill type", 0, TYPES - 1, &statement->first);
}

static bool controller_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    if (!words_skip(words, "restarts"))
        return words_fail(words, "write 'controller restarts', and the time in ms for which it is off");
    return words_at_end(words) || words_milliseconds(words, &statement->first);
}

static const struct action_word action_words[] = {
    {"insert", ACTION_INSERT, insert_read},
    {"event", ACTION_EVENT, event_read},
    {"jam", ACTION_JAM, NULL},
    {"status", ACTION_STATUS, status_read},
    {"stacker", ACTION_STACKER, stacker_read},
    {"count", ACTION_COUNT, count_read},
    {"recycler", ACTION_RECYCLER, recycler_read},
    {"controller", ACTION_CONTROLLER, controller_read},
    {NULL, ACTION_NONE, NULL},
};

static const char *const condition_words[] = {"kept", NULL};

static const struct fault_word fault_words[] = {
    {"lost", EFFECT_LOST, ON_BUS, OWN_NONE},
    {"doubled", EFFECT_DOUBLED, ON_BUS, OWN_NONE},
    {"flip", EFFECT_FLIP, ON_BUS, OWN_NONE},
    {"cut", EFFECT_CUT, ON_BUS, OWN_NONE},
    {"late", EFFECT_LATE, ON_BUS, OWN_NONE},
    {"pause", EFFECT_PAUSE, ON_BUS, OWN_NONE},
    {"garbage", EFFECT_GARBAGE, ON_BUS, OWN_NONE},
    {"silence", EFFECT_SILENCE, ON_BUS, OWN_NONE},
    {"deaf", EFFECT_OWN, ON_BUS, OWN_DEAF},
    {"stale", EFFECT_OWN, ON_BUS, OWN_STALE},
    {"nak", EFFECT_OWN, ON_BUS, OWN_NAK},
    {"ack_lost", EFFECT_OWN, ON_BUS, OWN_ACK_LOST},
    {"framing", EFFECT_OWN, ON_BUS, OWN_FRAMING},
    {"carrier_lost", EFFECT_LOST, FROM_CONTROLLER, OWN_NONE},
    {"carrier_doubled", EFFECT_DOUBLED, FROM_CONTROLLER, OWN_NONE},
    {"carrier_flip", EFFECT_FLIP, FROM_CONTROLLER, OWN_NONE},
    {"carrier_cut", EFFECT_CUT, FROM_CONTROLLER, OWN_NONE},
    {"carrier_late", EFFECT_LATE, FROM_CONTROLLER, OWN_NONE},
    {"carrier_pause", EFFECT_PAUSE, FROM_CONTROLLER, OWN_NONE},
    {"carrier_garbage", EFFECT_GARBAGE, FROM_CONTROLLER, OWN_NONE},
    {"carrier_silence", EFFECT_SILENCE, FROM_CONTROLLER, OWN_NONE},
    {"carrier_stale", EFFECT_OWN, FROM_CONTROLLER, OWN_STALE},
    {"host_lost", EFFECT_LOST, TO_CONTROLLER, OWN_NONE},
    {"host_doubled", EFFECT_DOUBLED, TO_CONTROLLER, OWN_NONE},
    {"host_flip", EFFECT_FLIP, TO_CONTROLLER, OWN_NONE},
    {"host_cut", EFFECT_CUT, TO_CONTROLLER, OWN_NONE},
    {"host_garbage", EFFECT_GARBAGE, TO_CONTROLLER, OWN_NONE},
    {"host_silence", EFFECT_SILENCE, TO_CONTROLLER, OWN_NONE},
    {NULL, EFFECT_OWN, ON_BUS, OWN_NONE},
};

static const char *const command_words[] = {"reset",           "setup",           "security",         "poll",
                                            "bill_type",       "escrow",          "stacker",          "other",
                                            "identification",  "feature_enable",  "identification_2", "recycler_setup",
                                            "recycler_enable", "dispense_status", "dispense_bill",    "dispense_value",
                                            "payout_status",   "payout_poll",     "payout_cancel",    NULL};

const char *command_name(long command)
{
    return command_words[command];
}

static bool command_read(struct words *words, long *command)
{
    return words_choice(words, "the command", command_words, command);
}

static const char *const packet_words[] = {"hello", "acknowledge", "send", "block", "fault", NULL};
static const int packet_kinds[] = {PACKET_HELLO, PACKET_ACKNOWLEDGE, PACKET_SEND, PACKET_BLOCK, PACKET_FAULT};

const char *packet_name(long kind)
{
    for (size_t i = 0; packet_words[i] != NULL; i++) {
        if (packet_kinds[i] == kind)
            return packet_words[i];
    }
    return "unknown";
}

/* A fault on the bus strikes on a command, one on the carrier on a kind of packet. */
static bool fault_on_read(struct words *words, struct fault *fault)
{
    if (fault->kind->where == ON_BUS)
        return command_read(words, &fault->command);
    long index = 0;
    if (!words_choice(words, "the packet", packet_words, &index))
        return false;
    fault->command = packet_kinds[index];
    return true;
}

const struct language mdb_language = {.settings = setting_words,
                                      .actions = action_words,
                                      .conditions = condition_words,
                                      .faults = fault_words,
                                      .command_read = command_read,
                                      .fault_on_read = fault_on_read};
