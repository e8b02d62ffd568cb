/*
 * Places of a character from ICU's properties. See icu_cells.h.
 */
#include "icu_cells.h"

#include <unicode/uchar.h>

static bool takes_no_place(UChar32 point)
{
    const int category = u_charType(point);
    if (category == U_NON_SPACING_MARK || category == U_ENCLOSING_MARK)
        return true;
    if (category == U_FORMAT_CHAR)
        return point != 0xAD && !u_hasBinaryProperty(point, UCHAR_PREPENDED_CONCATENATION_MARK);
    const int syllable = u_getIntPropertyValue(point, UCHAR_HANGUL_SYLLABLE_TYPE);
    return syllable == U_HST_VOWEL_JAMO || syllable == U_HST_TRAILING_JAMO;
}

int icu_cells(uint32_t point)
{
    UVersionInfo age;
    const UChar32 character = static_cast<UChar32>(point);
    u_charAge(character, age);
    if (age[0] == 0 || age[0] > 15 || (age[0] == 15 && age[1] > 0))
        return -1;
    if (takes_no_place(character))
        return 0;
    const int width = u_getIntPropertyValue(character, UCHAR_EAST_ASIAN_WIDTH);
    return width == U_EA_WIDE || width == U_EA_FULLWIDTH ? 2 : 1;
}
