/*
 * Places of characters against ICU's copy of the Unicode Character Database (East_Asian_Width of UAX #11,
 * General_Category, Hangul_Syllable_Type): every character of Unicode 15.0.
 */
#include "icu_cells.h"
#include "model/cells.h"
#include "test.h"

static size_t utf8_write(uint32_t point, char *target)
{
    if (point < 0x80) {
        target[0] = (char)point;
        return 1;
    }
    size_t length = point < 0x800 ? 2 : point < 0x10000 ? 3 : 4;
    for (size_t i = length; i-- > 1; point >>= 6)
        target[i] = (char)(0x80 | (point & 0x3F));
    target[0] = (char)((0xF00u >> length & 0xF0) | point);
    return length;
}

static void every_character_takes_its_places(void **state)
{
    (void)state;
    long compared = 0;
    for (uint32_t point = 0x20; point <= 0x10FFFF; point++) {
        int expected = point >= 0xD800 && point <= 0xDFFF ? -1 : icu_cells(point);
        if (expected < 0 || (point >= 0x7F && point < 0xA0))
            continue;
        char text[8] = "";
        size_t cells;
        size_t length = utf8_write(point, text);
        assert_int_equal(cells_step(text, &cells), length);
        if ((int)cells != expected)
            fail_msg("U+%04X: %zu places, ICU's properties say %d", (unsigned)point, cells, expected);
        compared++;
    }
    print_message("%ld characters\n", compared);
    assert_true(compared > 280000); /* Unicode 15.0 has 149,186 beside the private ones (its own count) */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_character_takes_its_places)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
