/*
 * Serial numbers of US notes against the built-in pack. No worked example was found in a source: the numbers are made
 * from the published rules, which stand beside each check.
 */
#include "pack_facts.h"

#include <stdio.h>

/* Two letters, eight digits, one letter or star on 5 and up since Series 1996; one letter less on 1 and 2 and on all
 * earlier ones. US Currency Education Program, page on the identifiers of notes; Federal Reserve Banks, article on note
 * symbols, July 2018. */
static struct pack_facts dollars;

static int dollars_open(void **state)
{
    (void)state;
    return facts_open(&dollars, "USD");
}

static int dollars_end(void **state)
{
    (void)state;
    facts_end(&dollars);
    return 0;
}

static void both_forms_are_known(void **state)
{
    (void)state;
    static const struct {
        const char *serial, *normalised, *issuer;
    } rows[] = {
        {"MB 12345678 C", "MB12345678C", "printed series: 2013"},
        {"mb12345678*", "MB12345678*", "printed series: 2013"},
        /* A star is a replacement note and genuine: US Currency Education Program; a bankers' page. */
        {"AA00000001*", "AA00000001*", "printed series: 1996"},
        {"B 12345678 A", "B12345678A", "issuing bank: New York"},
        {"L12345678*", "L12345678*", "issuing bank: San Francisco"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        cfoil_serial result = facts_serial(&dollars, rows[i].serial);
        assert_int_equal(result.format_known, 1);
        assert_string_equal(result.normalised, rows[i].normalised);
        assert_string_equal(result.series, ""); /* several designs share each form */
        assert_string_equal(result.issuer, rows[i].issuer);
        assert_int_equal(result.checksum, CFOIL_CHECKSUM_NONE); /* no check figure is published */
    }
}

static void wrong_forms_are_not_taken(void **state)
{
    (void)state;
    static const char *const serials[] = {
        "MB1234567C", "MB123456789C", "MBC12345678", "12345678", "MB12345678", "MB12345678**", "*B12345678C", "",
        /* The last letter is never O or Z: a collectors' page of 2023. */
        "MB12345678O", "B12345678O", "B12345678Z",
        /* The table of series letters skips O: US Currency Education Program and a second copy of its table. */
        "OB12345678C"};
    for (size_t i = 0; i < COUNT_OF(serials); i++)
        assert_int_equal(facts_serial(&dollars, serials[i]).format_known, 0);
}

/* US Currency Education Program, page on the identifiers of notes, and a second copy of its table. */
static void first_letters_name_the_printed_series(void **state)
{
    (void)state;
    static const struct {
        char letter;
        const char *series;
    } rows[] = {{'A', "1996"},  {'B', "1999"}, {'C', "2001"},  {'D', "2003"},  {'F', "2003A"}, {'E', "2004"},
                {'G', "2004A"}, {'H', "2006"}, {'I', "2006"},  {'K', "2006A"}, {'J', "2009"},  {'L', "2009A"},
                {'M', "2013"},  {'N', "2017"}, {'P', "2017A"}, {'Q', "2021"}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char serial[16];
        char expected[32];
        snprintf(serial, sizeof serial, "%cA00000001A", rows[i].letter);
        snprintf(expected, sizeof expected, "printed series: %s", rows[i].series);
        assert_string_equal(facts_serial(&dollars, serial).issuer, expected);
    }
}

/* A letter after Q is newer than the table and nothing against the note (own rule: the letters go on). */
static void later_letters_are_told_and_tolerated(void **state)
{
    (void)state;
    for (char letter = 'R'; letter <= 'Z'; letter++) {
        char serial[16];
        snprintf(serial, sizeof serial, "%cA00000001A", letter);
        cfoil_serial result = facts_serial(&dollars, serial);
        assert_int_equal(result.format_known, 1);
        assert_string_equal(result.issuer, "printed series not in this pack's list");
    }
}

/* The twelve banks: US Currency Education Program; Federal Reserve Banks, article on note symbols, July 2018. */
static void the_letter_of_a_1_names_the_bank(void **state)
{
    (void)state;
    static const char *const banks[] = {"Boston",      "New York",    "Philadelphia", "Cleveland",
                                        "Richmond",    "Atlanta",     "Chicago",      "St. Louis",
                                        "Minneapolis", "Kansas City", "Dallas",       "San Francisco"};
    for (size_t i = 0; i < COUNT_OF(banks); i++) {
        char serial[16];
        char expected[64];
        snprintf(serial, sizeof serial, "%c00000001A", (char)('A' + (int)i));
        snprintf(expected, sizeof expected, "issuing bank: %s", banks[i]);
        assert_string_equal(facts_serial(&dollars, serial).issuer, expected);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_forms_are_known),
        cmocka_unit_test(wrong_forms_are_not_taken),
        cmocka_unit_test(first_letters_name_the_printed_series),
        cmocka_unit_test(later_letters_are_told_and_tolerated),
        cmocka_unit_test(the_letter_of_a_1_names_the_bank),
    };
    return cmocka_run_group_tests(tests, dollars_open, dollars_end);
}
