/*
 * Message patterns: what they say, and that each fault is told with its place. tests/published compares them with ICU.
 */
#include "packs/message_format.h"
#include "test.h"

#include <stdio.h>
#include <string.h>

static const struct message_name names[] = {{"number", true}, {"word", false}, {"value", false}};

static char made[256];

static const char *say(const char *language, const char *pattern, int64_t number, const char *word)
{
    const cfoil_argument arguments[] = {{"number", NULL, number}, {"word", word, 0}, {"value", "50", 0}};
    size_t length = message_format(language, pattern, arguments, 3, made, sizeof made);
    assert_int_equal(length, strlen(made));
    return made;
}

static void values_stand_in_their_places(void **state)
{
    (void)state;
    assert_string_equal(say("en", "A {value} is { number } mm", 140, ""), "A 50 is 140 mm");
    assert_string_equal(say("en", "{number}", INT64_MIN, ""), "-9223372036854775808");
    assert_string_equal(say("en", "it's '{so}' and it''s", 0, ""), "it's {so} and it's");
    assert_string_equal(say("en", "# is # here", 3, ""), "# is # here");
    assert_string_equal(say("en", "{other}", 0, ""), "{other}");
    assert_string_equal(say("", "", 0, ""), "");
}

static void plurals_follow_the_language(void **state)
{
    (void)state;
    static const char pattern[] = "{number, plural, =7 {seven} one {# note} other {# notes}}";
    assert_string_equal(say("en", pattern, 0, ""), "0 notes");
    assert_string_equal(say("en", pattern, 1, ""), "1 note");
    assert_string_equal(say("en", pattern, 7, ""), "seven");
    assert_string_equal(say("fr", pattern, 0, ""), "0 note");
    assert_string_equal(say("FR-ca", pattern, 0, ""), "0 note");
    assert_string_equal(say("hi", pattern, 0, ""), "0 note");
    assert_string_equal(say("it", "{number, plural, many {m} other {o}}", 2000000, ""), "m");
    assert_string_equal(say("fra", "{number, plural, =7 {seven} other {# notes}}", 1, ""), "1 notes");
    assert_string_equal(say("f", "{number, plural, other {#}}", 1, ""), "1");
    assert_string_equal(message_plural("xx", 1), "other");
}

static void a_word_selects(void **state)
{
    (void)state;
    static const char pattern[] = "{word, select, front {front {number, plural, one {#} other {#s}}} other {back}}";
    assert_string_equal(say("en", pattern, 4, "front"), "front 4s");
    assert_string_equal(say("en", pattern, 4, "whole"), "back");
    assert_string_equal(say("en", "{number, select, a {A} other {O}}", 4, ""), "O");
    assert_int_equal(message_format("en", "{word, select, a {A} other {O}}", NULL, 0, made, sizeof made), 1);
    assert_string_equal(made, "O");
    assert_int_equal(message_format("en", "{word, plural, =0 {A} other {O}}", NULL, 0, made, sizeof made), 1);
}

static void a_small_buffer_is_filled_and_ended(void **state)
{
    (void)state;
    char room[6] = "xxxxx";
    assert_int_equal(message_format("en", "0123456789", NULL, 0, room, 4), 10);
    assert_string_equal(room, "012");
    assert_int_equal(room[4], 'x');
    assert_int_equal(message_format("en", "0123456789", NULL, 0, NULL, 0), 10);
}

static void used_names_are_told(void **state)
{
    (void)state;
    struct message_fault fault = {0, NULL};
    uint32_t used = 99;
    assert_true(message_check("en", "{value} {word, select, other {{value}}}", names, 3, &used, &fault));
    assert_int_equal(used, 6);
    assert_true(message_check("en", "none", NULL, 0, &used, &fault));
    assert_int_equal(used, 0);
    assert_false(message_check("en", "{value}", NULL, 0, &used, &fault));
}

static void every_fault_is_told_with_its_place(void **state)
{
    (void)state;
    static const struct {
        const char *pattern;
        size_t offset;
        const char *what;
    } rows[] = {
        {"ab}", 2, "this } has no {"},
        {"{", 1, "a name of letters"},
        {"{}", 1, "a name of letters"},
        {"{1}", 1, "a name of letters"},
        {"{abcdefghijklmnopqrstuvwxy}", 1, "longer than 24"},
        {"{wert}", 6, "nothing has this name"},
        {"{value", 6, "after a name comes"},
        {"{value!}", 6, "after a name comes"},
        {"{value, date}", 12, "only plural and select"},
        {"{value, }", 8, "a name of letters"},
        {"{value, plural, other {x}}", 14, "a plural needs a number"},
        {"{number, select, other {x}}", 15, "a select needs a word"},
        {"{wert, select, other {x}}", 13, "nothing has this name"},
        {"{word, select other {x}}", 14, "a comma must follow"},
        {"{word, select, other {x}", 24, "a } is missing"},
        {"{word, select, other {x", 23, "a } is missing"},
        {"{word, select, a {x}}", 21, "'other' is missing"},
        {"{word, select, a {x} a {y} other {z}}", 22, "stands twice"},
        {"{word, select, other x}", 21, "a { must follow"},
        {"{word, select, {x}}", 15, "a name of letters"},
        {"{word, select, =1 {x} other {y}}", 15, "a name of letters"},
        {"{number, plural, few {x} other {y}}", 20, "no such plural form"},
        {"{number, plural, =x {x} other {y}}", 18, "one to nine digits"},
        {"{number, plural, =1234567890 {x} other {y}}", 18, "one to nine digits"},
        {"{number, plural, =01 {x} other {y}}", 18, "does not begin with 0"},
        {"a '{ b", 6, "is not closed"},
        {"{word, select, other {'}}}", 26, "is not closed"},
        {"{word, select, a{} b{} c{} d{} e{} f{} g{} h{} i{} j{} k{} l{} m{} n{} o{} p{} q{} other{}}", 80,
         "more than 16"},
        {"{word,select,other{{word,select,other{{word,select,other{{word,select,other{{word,select,other{x}}}}}}}}}}",
         95, "too deep"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct message_fault fault = {0, NULL};
        if (message_check("en", rows[i].pattern, names, 3, NULL, &fault))
            fail_msg("passed: %s", rows[i].pattern);
        if (strstr(fault.what, rows[i].what) == NULL || fault.offset != rows[i].offset)
            fail_msg("%s: at %zu: %s", rows[i].pattern, fault.offset, fault.what);
        /* What was refused is harmless to write. */
        assert_true(message_format("en", rows[i].pattern, NULL, 0, made, sizeof made) < sizeof made);
    }
}

static void plural_forms_are_those_of_the_language(void **state)
{
    (void)state;
    struct message_fault fault = {0, NULL};
    static const char many[] = "{number, plural, one {x} many {y} other {z}}";
    static const char one[] = "{number, plural, one {x} other {z}}";
    static const char exact[] = "{number, plural, =1 {x} other {z}}";
    assert_true(message_check("fr", many, names, 3, NULL, &fault));
    assert_true(message_check("es-MX", many, names, 3, NULL, &fault));
    assert_false(message_check("de", many, names, 3, NULL, &fault));
    assert_true(message_check("hi", one, names, 3, NULL, &fault));
    assert_false(message_check("pl", one, names, 3, NULL, &fault));
    assert_true(message_check("pl", exact, names, 3, NULL, &fault));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_stand_in_their_places),
        cmocka_unit_test(plurals_follow_the_language),
        cmocka_unit_test(a_word_selects),
        cmocka_unit_test(a_small_buffer_is_filled_and_ended),
        cmocka_unit_test(used_names_are_told),
        cmocka_unit_test(every_fault_is_told_with_its_place),
        cmocka_unit_test(plural_forms_are_those_of_the_language),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
