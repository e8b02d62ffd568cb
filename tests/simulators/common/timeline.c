/* What happens, and when? Waits, and the actions that every simulator has; the others are read by its language. */
#include "script.h"

/* In the order of enum wait, from WAIT_ENABLED on. */
static const char *const condition_words[] = {"enabled",  "inhibited", "held",        "stacked",   "returned",
                                              "rejected", "finished",  "events_read", "connected", "disconnected",
                                              "polls",    "request",   "answered",    NULL};

enum { REPEAT_DEPTH = 4 };

static bool own_condition(const struct language *language, struct words *words, struct statement *statement)
{
    for (int i = 0; language->conditions != NULL && language->conditions[i] != NULL; i++) {
        if (words_skip(words, language->conditions[i])) {
            statement->wait = (enum wait)(WAIT_OWN + i);
            return true;
        }
    }
    return false;
}

static bool condition(const struct language *language, struct words *words, struct statement *statement)
{
    long index = 0;
    if (own_condition(language, words, statement))
        return true;
    if (!words_choice(words, "the condition", condition_words, &index))
        return false;
    statement->wait = (enum wait)(WAIT_ENABLED + index);
    if (statement->wait == WAIT_POLLS)
        return words_number(words, "the number of polls", 1, 1000000, &statement->wait_value);
    if (statement->wait == WAIT_REQUEST || statement->wait == WAIT_ANSWERED)
        return language->command_read(words, &statement->wait_value);
    return true;
}

/* "wait": a step of its own; "at", "then", "after": before an action on the same line. */
static bool wait_read(const struct language *language, struct words *words, struct statement *statement, bool *alone)
{
    *alone = false;
    if (words_skip(words, "at")) {
        statement->wait = WAIT_AT;
        return words_milliseconds(words, &statement->wait_value);
    }
    if (words_skip(words, "then")) {
        statement->wait = WAIT_PAUSE;
        return words_milliseconds(words, &statement->wait_value);
    }
    if (words_skip(words, "after"))
        return condition(language, words, statement);
    if (!words_skip(words, "wait"))
        return true;
    *alone = true;
    if (words_digit_next(words)) {
        statement->wait = WAIT_PAUSE;
        return words_milliseconds(words, &statement->wait_value);
    }
    return condition(language, words, statement);
}

static bool power_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    if (!words_skip(words, "off"))
        return words_fail(words, "write 'power off' and the time in ms");
    return words_milliseconds(words, &statement->first);
}

static bool silence_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    return words_milliseconds(words, &statement->first);
}

static bool fault_action_read(const struct script *script, struct words *words, struct statement *statement)
{
    return fault_read(words, script->language->faults, script->language->fault_on_read, &statement->fault);
}

static bool faults_read(const struct script *script, struct words *words, struct statement *statement)
{
    (void)script;
    (void)statement;
    return words_skip(words, "off") || words_fail(words, "write 'faults off' or 'fault' and its kind");
}

static bool repeat_read(const struct script *script, struct words *words, struct statement *statement)
{
    int depth = 0;
    for (size_t i = 0; i < script->count; i++) {
        int action = script->statements[i].action;
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
        int action = script->statements[i - 1].action;
        inner += action == ACTION_REPEAT_END;
        if (action == ACTION_REPEAT && inner-- == 0) {
            statement->first = (long)i - 1;
            return true;
        }
    }
    return words_fail(words, "there is no 'repeat' to end");
}

static const struct action_word shared_actions[] = {
    {"pull", ACTION_PULL, NULL},
    {"clear", ACTION_CLEAR, NULL},
    {"reset", ACTION_RESET, NULL},
    {"power", ACTION_POWER_OFF, power_read},
    {"silence", ACTION_SILENCE, silence_read},
    {"drop", ACTION_DROP, NULL},
    {"unplug", ACTION_UNPLUG, NULL},
    {"replug", ACTION_REPLUG, NULL},
    {"fault", ACTION_FAULT, fault_action_read},
    {"faults", ACTION_FAULTS_OFF, faults_read},
    {"repeat", ACTION_REPEAT, repeat_read},
    {"end", ACTION_END, end_read},
    {NULL, ACTION_NONE, NULL},
};

static const struct action_word *action_word_find(struct words *words, const struct action_word *table)
{
    for (; table->word != NULL; table++) {
        if (words_skip(words, table->word))
            return table;
    }
    return NULL;
}

static bool action_read(const struct script *script, struct words *words, struct statement *statement)
{
    const struct action_word *word = action_word_find(words, script->language->actions);
    if (word == NULL)
        word = action_word_find(words, shared_actions);
    if (word == NULL)
        return words_fail(words, "'%s' is no word this simulator knows; the README lists them", words_peek(words));
    statement->action = word->action;
    return word->read == NULL || word->read(script, words, statement);
}

bool timeline_read(struct script *script, struct words *words)
{
    if (script->count == SCRIPT_STATEMENTS)
        return words_fail(words, "more than %d steps; use 'repeat'", SCRIPT_STATEMENTS);
    struct statement statement = {.line = words->line};
    bool alone = false;
    if (!wait_read(script->language, words, &statement, &alone))
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
        int action = script->statements[i].action;
        if (action == ACTION_REPEAT && depth++ == 0)
            line = script->statements[i].line;
        depth -= action == ACTION_REPEAT_END;
    }
    if (depth == 0)
        return true;
    struct words words = {.file = script->file, .line = line};
    return words_fail(&words, "'repeat' without 'end repeat'");
}
