/*
 * Message patterns and plural forms against ICU (International Components for Unicode, the implementation that the Unicode
 * Consortium publishes; release 72 holds CLDR 42). Whatever our reader lets pass, ICU must read the same way.
 */
#include "icu_message.h"
#include "packs/message_format.h"
#include "test.h"

#include <stdio.h>
#include <string.h>

static const char *const languages[] = {"en", "de", "fr", "it", "es", "hi", "de-AT", "hi-IN"};
enum { LANGUAGES = sizeof languages / sizeof languages[0] };

static const struct message_name names[] = {{"n", true}, {"m", true}, {"w", false}, {"text", false}};
static const char *const words[] = {"a", "b", "other", "zebra", ""};
static const char *const texts[] = {"50", "", "it's {so} #1", "\xE2\x82\xB9 500", "''"};

/* ---- Plural forms ---- */

static void plural_forms_are_those_of_cldr(void **state)
{
    (void)state;
    static const int64_t large[] = {999999, 1000000, 1000001, 2000000, 1500000, 1000000000, -1000000, -1, -2, -101};
    for (int language = 0; language < LANGUAGES; language++) {
        char form[16];
        for (int64_t number = -50; number <= 2500; number++) {
            icu_plural(languages[language], number, form, sizeof form);
            assert_string_equal(message_plural(languages[language], number), form);
        }
        for (size_t i = 0; i < sizeof large / sizeof large[0]; i++) {
            icu_plural(languages[language], large[i], form, sizeof form);
            assert_string_equal(message_plural(languages[language], large[i]), form);
        }
    }
}

/* ---- Patterns ---- */

/* The same values through both; # only with numbers that no language groups. */
static void compare(const char *language, const char *pattern, int64_t n, int64_t m, size_t pick)
{
    const char *word = words[pick % (sizeof words / sizeof words[0])];
    const char *text = texts[pick % (sizeof texts / sizeof texts[0])];
    const cfoil_argument ours[] = {{"n", NULL, n}, {"m", NULL, m}, {"w", word, 0}, {"text", text, 0}};
    const struct icu_value theirs[] = {{"n", NULL, n}, {"m", NULL, m}, {"w", word, 0}, {"text", text, 0}};
    char expected[2048];
    char made[2048];
    if (!icu_message(language, pattern, theirs, 4, expected, sizeof expected))
        fail_msg("ICU refuses '%s', which is let pass here", pattern);
    (void)message_format(language, pattern, ours, 4, made, sizeof made);
    if (strcmp(made, expected) != 0)
        fail_msg("%s, n=%lld: '%s': ICU makes '%s', we make '%s'", language, (long long)n, pattern, expected, made);
}

static const char *const patterns[] = {
    "",
    "plain",
    "{text}",
    "{ text }",
    "a {text} b {text}c",
    "{n}",
    "{n, plural, other {x}}",
    "{n,plural,one{# check}other{# checks}}",
    "{n, plural, =0 {none} one {one} other {#}}",
    "{n, plural, =0{none}=1{just one} =2 {a pair} one{one}other{many: #}}",
    "{n, plural, other {#} =3 {three}}",
    "{n , plural , one {1} other {n {m, plural, one {m one #} other {m #}} and # again}}",
    "{w, select, a {A} b {B} other {O}}",
    "{w,select,other{O}a{A}}",
    "{w, select, a {{n, plural, one {# a} other {# as}}} other {{text}: {n, plural, other {#}}}}",
    "{n, plural, one {{w, select, a {# x} other {# y}}} other {#}}",
    "it's",
    "it''s",
    "'{text}' is {text}",
    "'{'text'}'",
    "a '{b''c}' d",
    "'' '' ''",
    "# and '#'",
    "{n, plural, other {'#' # it's '{' '}'}}",
    "{n, plural, other {'#}' #}}",
    "{w, select, a {#} other {it's # '}'}}",
    "\xE0\xA4\xA8\xE0\xA5\x8B\xE0\xA4\x9F {n, plural, one {# \xE0\xA4\x9C\xE0\xA4\xBE\xE0\xA4\x81\xE0\xA4\x9A} "
    "other {#}}",
};

static void patterns_say_what_icu_says(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0]; i++) {
        struct message_fault fault = {0, NULL};
        for (int language = 0; language < LANGUAGES; language++) {
            if (!message_check(languages[language], patterns[i], names, 4, NULL, &fault))
                fail_msg("'%s': %s", patterns[i], fault.what);
            for (int64_t n = 0; n < 1000; n += n < 25 ? 1 : 97)
                compare(languages[language], patterns[i], n, n / 3, (size_t)n);
        }
    }
}

/* ---- Random patterns, and random damage to good ones ---- */

static uint32_t random_state = 20261125;

static uint32_t random_below(uint32_t limit)
{
    random_state = random_state * 1664525u + 1013904223u; /* Numerical Recipes, 3rd edition, section 7.1.4 */
    return (uint32_t)(((uint64_t)random_state * limit) >> 32);
}

static const char *piece_pick(void)
{
    static const char *const pieces[] = {
        "x",   "note ", "'",    "''",       "'{'", "'}'",     "#",   "'#'", "{text}", "{ text }",
        "{n}", " ",     "it's", "\xC3\xA9", "|",   "'{a b}'", "'|'", "{w}", "=",      ",",
    };
    return pieces[random_below(sizeof pieces / sizeof pieces[0])];
}

static void pattern_append(char *target, size_t capacity, const char *text)
{
    size_t length = strlen(target);
    snprintf(target + length, capacity - length, "%s", text);
}

static void pattern_make(char *target, size_t capacity, int depth)
{
    static const char *const plurals[] = {"=0 {", "=1{", "=7 {", "one {", "one{"};
    static const char *const selects[] = {"a {", "b{", "zebra {"};
    for (uint32_t parts = random_below(4) + 1; parts > 0; parts--) {
        uint32_t kind = depth < 3 ? random_below(5) : 4;
        if (kind >= 2) {
            pattern_append(target, capacity, piece_pick());
            continue;
        }
        bool plural = kind == 0;
        pattern_append(target, capacity, plural ? (random_below(2) ? "{n, plural, " : "{m,plural,") : "{w, select, ");
        for (uint32_t variants = random_below(3); variants > 0; variants--) {
            pattern_append(target, capacity, plural ? plurals[random_below(5)] : selects[random_below(3)]);
            pattern_make(target, capacity, depth + 1);
            pattern_append(target, capacity, "} ");
        }
        pattern_append(target, capacity, "other {");
        pattern_make(target, capacity, depth + 1);
        pattern_append(target, capacity, "}}");
    }
}

static void damage(char *pattern)
{
    static const char characters[] = "{}'#,=| nmwaotherplural0179";
    size_t length = strlen(pattern);
    for (uint32_t strokes = random_below(3); length > 0 && strokes > 0; strokes--) {
        uint32_t place = random_below((uint32_t)length);
        if ((unsigned char)pattern[place] < 0x80) /* characters of several bytes stay whole */
            pattern[place] = characters[random_below(sizeof characters - 1)];
    }
}

static void what_passes_here_passes_icu(void **state)
{
    (void)state;
    unsigned passed = 0;
    unsigned refused = 0;
    for (int round = 0; round < 60000; round++) {
        char pattern[1024] = "";
        pattern_make(pattern, sizeof pattern, 0);
        damage(pattern);
        const char *language = languages[random_below(LANGUAGES)];
        struct message_fault fault = {0, NULL};
        if (!message_check(language, pattern, names, 4, NULL, &fault)) {
            refused++;
            assert_non_null(fault.what);
            assert_true(fault.offset <= strlen(pattern));
            continue;
        }
        passed++;
        compare(language, pattern, random_below(12), random_below(999), random_below(100));
    }
    assert_true(passed > 5000 && refused > 5000);
}

/* Every one of these is a fault to ICU as well. */
static void faults_are_faults_to_icu(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "{",
        "{text",
        "{n, plural}",
        "{n, plural, one {x}}",
        "{w, select, a {x}}",
        "{n, plural, other x}",
        "{n, plural,",
        "{n, plural, other {x}",
        "{}",
        "{n, plural, =x {y} other {z}}",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct message_fault fault = {0, NULL};
        char made[64];
        assert_false(message_check("en", bad[i], names, 4, NULL, &fault));
        assert_false(icu_message("en", bad[i], NULL, 0, made, sizeof made));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plural_forms_are_those_of_cldr),
        cmocka_unit_test(patterns_say_what_icu_says),
        cmocka_unit_test(what_passes_here_passes_icu),
        cmocka_unit_test(faults_are_faults_to_icu),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
