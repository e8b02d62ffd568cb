/* What happens, and when? The timeline of a script: waits, notes, faults of the device and of the byte stream. */
#include "words.h"

#include <stdio.h>
#include <string.h>

static const char *const way_words[] = {"genuine", "refused",  "transport",       "switched_off",
                                        "pulled",  "tampered", "optical",         "string",
                                        "unknown", "jams",     "jams_in_stacker", NULL};
static const char *const jam_words[] = {"transport", "safe", "stacker", NULL};
static const char *const stacker_words[] = {"ok", "removed", "inserted", "faulty", "full", "jammed", NULL};
static const char *const fault_words[] = {"lost",    "doubled", "flip",  "cut",     "late", "pause",
                                          "silence", "deaf",    "stale", "garbage", "echo", NULL};

/* In the order of enum wait, from WAIT_ENABLED on. */
static const char *const condition_words[] = {"enabled",  "inhibited", "held",        "stacked",   "returned",
                                              "rejected", "finished",  "events_read", "connected", "disconnected",
                                              "polls",    "request",   "answered",    NULL};

enum { MILLISECONDS_MOST = 86400000, REPEAT_DEPTH = 4 };

const char *fault_name(enum fault_kind kind)
{
    return fault_words[kind];
}

static bool milliseconds(struct words *words, long *value)
{
    if (!words_number(words, "the time in ms", 0, MILLISECONDS_MOST, value))
        return false;
    words_skip(words, "ms");
    return true;
}

static bool condition(struct words *words, struct statement *statement)
{
    long index = 0;
    if (!words_choice(words, "the condition", condition_words, &index))
        return false;
    statement->wait = (enum wait)(WAIT_ENABLED + index);
    if (statement->wait == WAIT_POLLS)
        return words_number(words, "the number of polls", 1, 1000000, &statement->wait_value);
    if (statement->wait == WAIT_REQUEST || statement->wait == WAIT_ANSWERED)
        return words_number(words, "the command header", 1, 255, &statement->wait_value);
    return true;
}

/* "wait": a step of its own; "at", "then", "after": before an action on the same line. */
static bool wait_read(struct words *words, struct statement *statement, bool *alone)
{
    *alone = false;
    if (words_skip(words, "at")) {
        statement->wait = WAIT_AT;
        return milliseconds(words, &statement->wait_value);
    }
    if (words_skip(words, "then")) {
        statement->wait = WAIT_PAUSE;
        return milliseconds(words, &statement->wait_value);
    }
    if (words_skip(words, "after"))
        return condition(words, statement);
    if (!words_skip(words, "wait"))
        return true;
    *alone = true;
    if (!words_at_end(words) && words->word[words->next][0] >= '0' && words->word[words->next][0] <= '9') {
        statement->wait = WAIT_PAUSE;
        return milliseconds(words, &statement->wait_value);
    }
    return condition(words, statement);
}

static bool insert_read(const struct script *script, struct words *words, struct statement *statement)
{
    bool numbered = !words_at_end(words) && words->word[words->next][0] >= '0' && words->word[words->next][0] <= '9';
    if (numbered && !words_number(words, "the bill type", 1, SCRIPT_TYPES, &statement->first))
        return false;
    if (numbered && script->settings.notes[statement->first][0] == '\0')
        return words_fail(words, "bill type %ld is not in the bill table", statement->first);
    if (!words_choice(words, "how the note fares", way_words, &statement->second))
        return false;
    bool needs_type = statement->second == WAY_GENUINE || statement->second == WAY_JAMS_IN_STACKER;
    if (needs_type && !numbered)
        return words_fail(words, "say which bill type, for example 'insert 3 genuine'");
    return true;
}

static bool pair_read(struct words *words, struct statement *statement, const char *first, const char *second)
{
    return words_number(words, first, 0, 255, &statement->first) &&
           words_number(words, second, 0, 255, &statement->second);
}

static bool self_check_read(struct words *words, struct statement *statement)
{
    statement->second = -1;
    if (!words_number(words, "the fault code", 0, 255, &statement->first))
        return false;
    return words_at_end(words) || words_number(words, "the extra byte", 0, 255, &statement->second);
}

/* One "every 7"-like condition of a fault; *known is false if the next word begins none. */
static bool fault_condition_read(struct words *words, struct fault *fault, bool *known)
{
    *known = true;
    if (words_skip(words, "on"))
        return words_number(words, "the command header", 1, 255, &fault->header);
    if (words_skip(words, "every"))
        return words_number(words, "every", 1, 1000000, &fault->every);
    if (words_skip(words, "reply"))
        return words_number(words, "the reply number", 1, 1000000, &fault->reply);
    if (words_skip(words, "chance"))
        return words_number(words, "the chance in percent", 1, 100, &fault->chance);
    if (words_skip(words, "times"))
        return words_number(words, "times", 1, 1000000, &fault->times);
    if (words_skip(words, "byte"))
        return words_number(words, "the byte position", 0, 256, &fault->byte);
    if (words_skip(words, "seed")) {
        long seed = 0;
        bool good = words_number(words, "the seed", 1, 1000000000, &seed);
        fault->random = (unsigned long)seed;
        return good;
    }
    *known = words_skip(words, "once");
    if (*known)
        fault->times = 1;
    return true;
}

static bool fault_read(struct words *words, struct statement *statement)
{
    struct fault *fault = &statement->fault;
    *fault = (struct fault){.byte = -1, .header = -1, .random = 1, .value = 3};
    long kind = 0;
    if (!words_choice(words, "the fault", fault_words, &kind))
        return false;
    fault->kind = (enum fault_kind)kind;
    bool timed = fault->kind == FAULT_LATE || fault->kind == FAULT_PAUSE;
    if (timed && !milliseconds(words, &fault->value))
        return false;
    bool counted = fault->kind == FAULT_GARBAGE && words_skip(words, "bytes");
    if (counted && !words_number(words, "the number of bytes", 1, 64, &fault->value))
        return false;
    bool known = true;
    while (known && !words_at_end(words)) {
        if (!fault_condition_read(words, fault, &known))
            return false;
    }
    int whens = (fault->every > 0) + (fault->reply > 0) + (fault->chance > 0);
    return whens <= 1 || words_fail(words, "use only one of 'every', 'reply' and 'chance'");
}

static bool power_read(struct words *words, struct statement *statement)
{
    if (!words_skip(words, "off"))
        return words_fail(words, "write 'power off' and the time in ms");
    return milliseconds(words, &statement->first);
}

static bool route_read(struct words *words, struct statement *statement)
{
    if (!words_skip(words, "fails"))
        return words_fail(words, "write 'route fails' and how many times");
    return words_number(words, "how many times", 1, 1000, &statement->first);
}

static bool faults_read(struct words *words)
{
    return words_skip(words, "off") || words_fail(words, "write 'faults off' or 'fault' and its kind");
}

static bool repeat_read(const struct script *script, struct words *words, struct statement *statement)
{
    int depth = 0;
    for (size_t i = 0; i < script->count; i++) {
        enum action action = script->statements[i].action;
        depth += (action == ACTION_REPEAT) - (action == ACTION_REPEAT_END);
    }
    if (depth == REPEAT_DEPTH)
        return words_fail(words, "'repeat' inside more than %d others", REPEAT_DEPTH - 1);
    return words_number(words, "how many times", 1, 1000000, &statement->first);
}

/* "end repeat" points back to its "repeat"; "end" alone ends the run. */
static bool end_read(const struct script *script, struct words *words, struct statement *statement)
{
    if (!words_skip(words, "repeat"))
        return true;
    statement->action = ACTION_REPEAT_END;
    int inner = 0;
    for (size_t i = script->count; i > 0; i--) {
        enum action action = script->statements[i - 1].action;
        inner += action == ACTION_REPEAT_END;
        if (action == ACTION_REPEAT && inner-- == 0) {
            statement->first = (long)i - 1;
            return true;
        }
    }
    return words_fail(words, "there is no 'repeat' to end");
}

static const struct {
    const char *word;
    enum action action;
} action_words[] = {
    {"insert", ACTION_INSERT},
    {"event", ACTION_EVENT},
    {"pull", ACTION_PULL},
    {"jam", ACTION_JAM},
    {"clear", ACTION_CLEAR},
    {"stacker", ACTION_STACKER},
    {"self_check", ACTION_SELF_CHECK},
    {"route", ACTION_ROUTE_FAILS},
    {"reset", ACTION_RESET},
    {"power", ACTION_POWER_OFF},
    {"drop", ACTION_DROP},
    {"unplug", ACTION_UNPLUG},
    {"replug", ACTION_REPLUG},
    {"silence", ACTION_SILENCE},
    {"fault", ACTION_FAULT},
    {"faults", ACTION_FAULTS_OFF},
    {"repeat", ACTION_REPEAT},
    {"end", ACTION_END},
};

static bool action_word_read(struct words *words, struct statement *statement)
{
    for (size_t i = 0; i < sizeof action_words / sizeof action_words[0]; i++) {
        if (words_skip(words, action_words[i].word)) {
            statement->action = action_words[i].action;
            return true;
        }
    }
    return words_fail(words, "'%s' is no word this simulator knows; the README lists them",
                      words_at_end(words) ? "(nothing)" : words->word[words->next]);
}

static bool action_read(const struct script *script, struct words *words, struct statement *statement)
{
    if (!action_word_read(words, statement))
        return false;
    switch (statement->action) {
    case ACTION_INSERT:
        return insert_read(script, words, statement);
    case ACTION_EVENT:
        return pair_read(words, statement, "event byte A", "event byte B");
    case ACTION_JAM:
        return words_choice(words, "the jam", jam_words, &statement->first);
    case ACTION_STACKER:
        return words_choice(words, "the stacker", stacker_words, &statement->first);
    case ACTION_SELF_CHECK:
        return self_check_read(words, statement);
    case ACTION_ROUTE_FAILS:
        return route_read(words, statement);
    case ACTION_POWER_OFF:
        return power_read(words, statement);
    case ACTION_SILENCE:
        return milliseconds(words, &statement->first);
    case ACTION_FAULT:
        return fault_read(words, statement);
    case ACTION_FAULTS_OFF:
        return faults_read(words);
    case ACTION_REPEAT:
        return repeat_read(script, words, statement);
    case ACTION_END:
        return end_read(script, words, statement);
    default:
        return true;
    }
}

bool timeline_read(struct script *script, struct words *words)
{
    if (script->count == SCRIPT_STATEMENTS)
        return words_fail(words, "more than %d steps; use 'repeat'", SCRIPT_STATEMENTS);
    struct statement statement = {.line = words->line};
    bool alone = false;
    if (!wait_read(words, &statement, &alone))
        return false;
    if (!alone && !action_read(script, words, &statement))
        return false;
    if (!words_finish(words))
        return false;
    script->statements[script->count++] = statement;
    return true;
}

bool timeline_check_end(const struct script *script)
{
    int depth = 0;
    int line = 0;
    for (size_t i = 0; i < script->count; i++) {
        enum action action = script->statements[i].action;
        if (action == ACTION_REPEAT && depth++ == 0)
            line = script->statements[i].line;
        depth -= action == ACTION_REPEAT_END;
    }
    if (depth == 0)
        return true;
    struct words words = {.file = script->file, .line = line};
    return words_fail(&words, "'repeat' without 'end repeat'");
}
