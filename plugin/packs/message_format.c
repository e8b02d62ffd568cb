/*
 * Message patterns: one walk reads a pattern, finds its first fault, and writes what is chosen. See message_format.h.
 */
#include "packs/message_format.h"

#include <stdio.h>
#include <string.h>

/* ---- Plural rules: Unicode CLDR 42, supplemental/plurals.xml, for whole numbers ---- */

enum { ONE_IS_0 = 1, MANY_IS_MILLIONS = 2 }; /* every language here has "one" for 1 */

static const struct {
    const char *language;
    unsigned rules;
} plural_languages[] = {
    {"en", 0},
    {"de", 0},
    {"it", MANY_IS_MILLIONS},
    {"es", MANY_IS_MILLIONS},
    {"fr", ONE_IS_0 | MANY_IS_MILLIONS},
    {"hi", ONE_IS_0},
};

/* False = the language has no rules here. */
static bool plural_rules_find(const char *language, unsigned *rules)
{
    size_t length = strcspn(language, "-");
    for (size_t i = 0; i < sizeof plural_languages / sizeof plural_languages[0]; i++) {
        const char *known = plural_languages[i].language;
        if (length == 2 && (language[0] | 0x20) == known[0] && (language[1] | 0x20) == known[1]) {
            *rules = plural_languages[i].rules;
            return true;
        }
    }
    return false;
}

const char *message_plural(const char *language, int64_t number)
{
    unsigned rules;
    if (!plural_rules_find(language, &rules))
        return "other";
    if (number == 1 || number == -1 || (number == 0 && (rules & ONE_IS_0) != 0))
        return "one";
    return number != 0 && number % 1000000 == 0 && (rules & MANY_IS_MILLIONS) != 0 ? "many" : "other";
}

static bool plural_word_known(const char *language, const char *word)
{
    unsigned rules = 0;
    bool known = plural_rules_find(language, &rules);
    if (strcmp(word, "other") == 0)
        return true;
    return known && (strcmp(word, "one") == 0 || (strcmp(word, "many") == 0 && (rules & MANY_IS_MILLIONS) != 0));
}

/* ---- The walk ---- */

struct walk {
    const char *language;
    const char *pattern;
    const char *at;
    const struct message_name *names; /* NULL = every name will do: the pattern is only written */
    size_t name_count;
    uint32_t used;
    const cfoil_argument *arguments;
    size_t argument_count;
    char *buffer;
    size_t capacity;
    size_t length;
    unsigned depth;
    struct message_fault fault; /* what == NULL: none so far */
};

/* What a part of a pattern stands in. */
struct setting {
    bool inside; /* a choice: a closing brace ends it */
    bool plural; /* # stands for `number` */
    int64_t number;
    bool shown; /* it is the part that was chosen */
};

static bool fail(struct walk *walk, const char *what)
{
    if (walk->fault.what == NULL)
        walk->fault = (struct message_fault){(size_t)(walk->at - walk->pattern), what};
    return false;
}

static void put(struct walk *walk, const char *text, size_t length)
{
    if (walk->length + 1 < walk->capacity) {
        size_t room = walk->capacity - walk->length - 1;
        memcpy(walk->buffer + walk->length, text, length < room ? length : room);
    }
    walk->length += length;
}

static void put_number(struct walk *walk, int64_t number)
{
    char digits[24];
    int length = snprintf(digits, sizeof digits, "%lld", (long long)number);
    put(walk, digits, (size_t)length);
}

static void blanks_skip(struct walk *walk)
{
    walk->at += strspn(walk->at, " ");
}

/* Takes one character; false = another one stands there. */
static bool take(struct walk *walk, char character)
{
    if (*walk->at != character)
        return false;
    walk->at++;
    return true;
}

/* A name or a word: letters, digits, '_' and '-', the first one a letter. */
static bool word_take(struct walk *walk, char word[MESSAGE_WORD_MAX + 1])
{
    static const char first[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
    static const char rest[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_";
    if (*walk->at == '\0' || strchr(first, *walk->at) == NULL)
        return fail(walk, "a name of letters, digits and _ is missing here");
    size_t length = strspn(walk->at, rest);
    if (length > MESSAGE_WORD_MAX)
        return fail(walk, "this name is longer than 24 letters");
    memcpy(word, walk->at, length);
    word[length] = '\0';
    walk->at += length;
    return true;
}

static const cfoil_argument *argument_find(const struct walk *walk, const char *name)
{
    for (size_t i = 0; i < walk->argument_count; i++) {
        if (strcmp(walk->arguments[i].name, name) == 0)
            return &walk->arguments[i];
    }
    return NULL;
}

/* Is the name one of those that may stand here, and of the kind that is needed? */
static bool name_check(struct walk *walk, const char *name, bool any, bool number)
{
    for (size_t i = 0; i < walk->name_count; i++) {
        if (strcmp(walk->names[i].name, name) != 0)
            continue;
        walk->used |= 1u << i;
        if (any || walk->names[i].number == number)
            return true;
        return fail(walk, number ? "a plural needs a number" : "a select needs a word, not a number");
    }
    return walk->names == NULL || fail(walk, "nothing has this name here");
}

static bool message_walk(struct walk *walk, const struct setting *setting);

/* ---- Choices ---- */

/* Which variant is wanted, and which were seen. */
struct choice {
    bool plural;
    bool shown;
    int64_t number;
    const char *word;  /* a select's value, or the plural form */
    const char *exact; /* the messages found: of =N, of the word, of "other" */
    const char *match;
    const char *other;
    unsigned count;
    char words[16][MESSAGE_WORD_MAX + 1];
};

/* "=5", as "5" with a sign before it that no word has. */
static bool exact_take(struct walk *walk, struct choice *choice, char word[MESSAGE_WORD_MAX + 1], bool *fits)
{
    size_t digits = strspn(walk->at, "0123456789");
    if (digits == 0 || digits > 9)
        return fail(walk, "after = a number of one to nine digits is missing");
    if (digits > 1 && *walk->at == '0')
        return fail(walk, "a number does not begin with 0");
    int64_t number = 0;
    for (size_t i = 0; i < digits; i++)
        number = number * 10 + (walk->at[i] - '0');
    (void)snprintf(word, MESSAGE_WORD_MAX + 1, "=%lld", (long long)number);
    walk->at += digits;
    *fits = number == choice->number;
    return true;
}

static bool word_new(struct walk *walk, struct choice *choice, const char *word)
{
    if (choice->count == sizeof choice->words / sizeof choice->words[0])
        return fail(walk, "more than 16 variants");
    for (unsigned i = 0; i < choice->count; i++) {
        if (strcmp(choice->words[i], word) == 0)
            return fail(walk, "this variant stands twice");
    }
    memcpy(choice->words[choice->count++], word, MESSAGE_WORD_MAX + 1);
    return true;
}

/* One "word {message}"; the message is read for faults and its place kept. */
static bool variant_walk(struct walk *walk, struct choice *choice)
{
    char word[MESSAGE_WORD_MAX + 1] = "";
    bool exact = choice->plural && take(walk, '=');
    bool fits = false;
    if (exact ? !exact_take(walk, choice, word, &fits) : !word_take(walk, word))
        return false;
    if (choice->plural && !exact && !plural_word_known(walk->language, word))
        return fail(walk, "this language has no such plural form");
    if (!word_new(walk, choice, word))
        return false;
    blanks_skip(walk);
    if (!take(walk, '{'))
        return fail(walk, "a { must follow the variant");
    if (exact && fits)
        choice->exact = walk->at;
    if (!exact && choice->word != NULL && strcmp(choice->word, word) == 0)
        choice->match = walk->at;
    if (strcmp(word, "other") == 0)
        choice->other = walk->at;
    struct setting setting = {.inside = true, .plural = choice->plural};
    return message_walk(walk, &setting);
}

static bool chosen_write(struct walk *walk, const struct choice *choice)
{
    const char *end = walk->at;
    walk->at = choice->exact != NULL ? choice->exact : choice->match != NULL ? choice->match : choice->other;
    struct setting setting = {
        .inside = true, .plural = choice->plural, .number = choice->number, .shown = choice->shown};
    bool good = message_walk(walk, &setting);
    walk->at = end;
    return good;
}

/* After "name, plural," or "name, select,": variants up to the closing brace. */
static bool choice_walk(struct walk *walk, struct choice *choice)
{
    for (;;) {
        blanks_skip(walk);
        if (take(walk, '}'))
            break;
        if (*walk->at == '\0')
            return fail(walk, "a } is missing");
        if (!variant_walk(walk, choice))
            return false;
    }
    if (choice->other == NULL)
        return fail(walk, "the variant 'other' is missing");
    return !choice->shown || chosen_write(walk, choice);
}

/* ---- Arguments ---- */

static void argument_put(struct walk *walk, const char *name)
{
    const cfoil_argument *argument = argument_find(walk, name);
    if (argument == NULL) {
        put(walk, "{", 1);
        put(walk, name, strlen(name));
        put(walk, "}", 1);
    } else if (argument->text != NULL) {
        put(walk, argument->text, strlen(argument->text));
    } else {
        put_number(walk, argument->number);
    }
}

/* After "name,". */
static bool kind_walk(struct walk *walk, const char *name, bool shown)
{
    char kind[MESSAGE_WORD_MAX + 1];
    blanks_skip(walk);
    if (!word_take(walk, kind))
        return false;
    struct choice choice = {.plural = strcmp(kind, "plural") == 0, .shown = shown};
    if (!choice.plural && strcmp(kind, "select") != 0)
        return fail(walk, "only plural and select are known");
    if (!name_check(walk, name, false, choice.plural))
        return false;
    const cfoil_argument *argument = argument_find(walk, name);
    choice.number = argument != NULL ? argument->number : 0;
    if (choice.plural)
        choice.word = message_plural(walk->language, choice.number);
    else if (argument != NULL)
        choice.word = argument->text;
    blanks_skip(walk);
    if (!take(walk, ','))
        return fail(walk, "a comma must follow plural or select");
    return choice_walk(walk, &choice);
}

/* After '{'. */
static bool argument_walk(struct walk *walk, bool shown)
{
    char name[MESSAGE_WORD_MAX + 1];
    blanks_skip(walk);
    if (!word_take(walk, name))
        return false;
    blanks_skip(walk);
    if (take(walk, '}')) {
        if (shown)
            argument_put(walk, name);
        return name_check(walk, name, true, false);
    }
    if (!take(walk, ','))
        return fail(walk, "after a name comes } or a comma");
    return kind_walk(walk, name, shown);
}

/* ---- Text ---- */

/* Behind the apostrophe that opens a quotation, up to behind the one that closes it. */
static bool quotation_walk(struct walk *walk, bool shown)
{
    for (; *walk->at != '\0'; walk->at++) {
        if (*walk->at == '\'' && walk->at[1] != '\'') {
            walk->at++;
            return true;
        }
        walk->at += *walk->at == '\'';
        if (shown)
            put(walk, walk->at, 1);
    }
    return fail(walk, "the quotation that an apostrophe opened is not closed");
}

/* At an apostrophe: two are one, before a character with a meaning it opens a quotation, else it is itself. */
static bool apostrophe_walk(struct walk *walk, const struct setting *setting)
{
    char next = walk->at[1];
    bool opens = next == '{' || next == '}' || (next == '#' && setting->plural);
    walk->at++;
    if (opens)
        return quotation_walk(walk, setting->shown);
    walk->at += next == '\'';
    if (setting->shown)
        put(walk, "'", 1);
    return true;
}

/* Texts and arguments up to the end of the pattern, or up to behind the brace that closes a variant. */
static bool parts_walk(struct walk *walk, const struct setting *setting)
{
    bool good = true;
    while (good && *walk->at != '\0') {
        if (*walk->at == '\'') {
            good = apostrophe_walk(walk, setting);
        } else if (take(walk, '{')) {
            good = argument_walk(walk, setting->shown);
        } else if (*walk->at == '}') {
            if (!setting->inside)
                return fail(walk, "this } has no {");
            walk->at++;
            return true;
        } else if (setting->plural && take(walk, '#')) {
            if (setting->shown)
                put_number(walk, setting->number);
        } else {
            if (setting->shown)
                put(walk, walk->at, 1);
            walk->at++;
        }
    }
    return good && (!setting->inside || fail(walk, "a } is missing"));
}

static bool message_walk(struct walk *walk, const struct setting *setting)
{
    if (walk->depth > MESSAGE_DEPTH_MAX)
        return fail(walk, "choices stand too deep inside each other");
    walk->depth++;
    bool good = parts_walk(walk, setting);
    walk->depth--;
    return good;
}

/* ---- What others call ---- */

bool message_check(const char *language, const char *pattern, const struct message_name *names, size_t count,
                   uint32_t *used, struct message_fault *fault)
{
    static const struct message_name none[1];
    struct walk walk = {.language = language, .pattern = pattern, .at = pattern};
    walk.names = names != NULL ? names : none;
    walk.name_count = count;
    struct setting setting = {.inside = false};
    bool good = message_walk(&walk, &setting);
    if (used != NULL)
        *used = walk.used;
    if (!good)
        *fault = walk.fault;
    return good;
}

size_t message_format(const char *language, const char *pattern, const cfoil_argument *arguments, size_t count,
                      char *buffer, size_t capacity)
{
    struct walk walk = {.language = language, .pattern = pattern, .at = pattern, .buffer = buffer};
    walk.arguments = arguments;
    walk.argument_count = count;
    walk.capacity = capacity;
    struct setting setting = {.shown = true};
    (void)message_walk(&walk, &setting);
    if (capacity > 0)
        buffer[walk.length < capacity ? walk.length : capacity - 1] = '\0';
    return walk.length;
}
