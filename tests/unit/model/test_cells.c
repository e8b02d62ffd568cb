/*
 * Places of texts: where a line of equal places may be cut.
 */
#include "model/cells.h"
#include "test.h"

#include <string.h>

/* Worked by hand. Devanagari: a vowel sign that stands under or over its letter takes none, one beside it takes one. */
static void texts_take_their_places(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t places;
    } rows[] = {
        {"", 0},
        {"receipt", 7},
        {"Beleg f\xC3\xBCr Sie", 13},
        {"e\xCC\x81", 1},                                        /* e and a combining acute accent */
        {"\xE0\xA4\xA8\xE0\xA5\x8B\xE0\xA4\x9F", 3},             /* na, o beside it, tta */
        {"\xE0\xA4\x95\xE0\xA5\x81\xE0\xA4\x9B", 2},             /* ka, u under it, cha */
        {"\xE0\xA4\xB0\xE0\xA4\xB8\xE0\xA5\x80\xE0\xA4\xA6", 4}, /* ra, sa, ii beside it, da */
        {"\xE7\xB4\x99\xE5\xB9\xA3", 4},                         /* two wide signs */
        {"\xEA\xB0\x80 \xE1\x84\x80\xE1\x85\xA1", 5},            /* a syllable whole, and in parts */
        {"\xE2\x82\xAC", 1},                                     /* the euro sign is ambiguous: one */
        {"a\xE2\x80\x8D"
         "b",
         2},             /* joiner */
        {"\xFF\xC3", 2}, /* no UTF-8: one each */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(cells_count(rows[i].text, strlen(rows[i].text)), rows[i].places);
}

static void marks_stay_with_their_letter(void **state)
{
    (void)state;
    assert_int_equal(cells_fit("abcdef", 4), 4);
    assert_int_equal(cells_fit("ab", 4), 2);
    assert_int_equal(cells_fit("", 4), 0);
    assert_int_equal(cells_fit("e\xCC\x81"
                               "a",
                               1),
                     3);
    assert_int_equal(cells_fit("\xE7\xB4\x99\xE5\xB9\xA3", 3), 3); /* the second one does not fit into one place */
    assert_int_equal(cells_fit("\xE7\xB4\x99", 1), 3);             /* something is always taken */
    assert_int_equal(cells_fit("ab", 0), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_take_their_places),
        cmocka_unit_test(marks_stay_with_their_letter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
