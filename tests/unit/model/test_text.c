/*
 * Text helpers: UTF-8 by RFC 3629, bounded copies, the buffer rule, times by RFC 3339, hexadecimal digits.
 */
#include "model/text.h"

#include "test.h"

#include <stdlib.h>

/* RFC 3629 section 4, the grammar of well-formed characters, written down on its own for the comparison. */
static bool well_formed(const unsigned char *bytes, size_t length)
{
    static const unsigned char grammar[][8] = {
        /* number of bytes, then low and high of the first, second, third */
        {1, 0x01, 0x7F, 0, 0, 0, 0, 0},
        {2, 0xC2, 0xDF, 0x80, 0xBF, 0, 0, 0},
        {3, 0xE0, 0xE0, 0xA0, 0xBF, 0x80, 0xBF, 0},
        {3, 0xE1, 0xEC, 0x80, 0xBF, 0x80, 0xBF, 0},
        {3, 0xED, 0xED, 0x80, 0x9F, 0x80, 0xBF, 0},
        {3, 0xEE, 0xEF, 0x80, 0xBF, 0x80, 0xBF, 0},
    };
    for (size_t row = 0; row < sizeof grammar / sizeof grammar[0]; row++) {
        if (grammar[row][0] != length)
            continue;
        bool fits = true;
        for (size_t i = 0; i < length; i++)
            fits = fits && bytes[i] >= grammar[row][1 + 2 * i] && bytes[i] <= grammar[row][2 + 2 * i];
        if (fits)
            return true;
    }
    return false;
}

static void utf8_of_one_to_three_bytes_is_as_the_grammar_says(void **state)
{
    (void)state;
    for (unsigned first = 0; first < 256; first++) {
        unsigned char bytes[3] = {(unsigned char)first, 0, 0};
        assert_int_equal(text_utf8_valid((const char *)bytes, 1), well_formed(bytes, 1));
        for (unsigned second = 0; second < 256; second++) {
            bytes[1] = (unsigned char)second;
            bool two = well_formed(bytes, 2) || (well_formed(bytes, 1) && well_formed(bytes + 1, 1));
            assert_int_equal(text_utf8_valid((const char *)bytes, 2), two);
            if (first < 0xE0)
                continue;
            for (unsigned third = 0; third < 256; third++) {
                bytes[2] = (unsigned char)third;
                assert_int_equal(text_utf8_valid((const char *)bytes, 3), well_formed(bytes, 3));
            }
        }
    }
}

static void utf8_of_four_bytes_ends_at_the_last_plane(void **state)
{
    (void)state;
    assert_true(text_utf8_valid("\xF0\x90\x80\x80", 4));  /* U+10000 */
    assert_true(text_utf8_valid("\xF4\x8F\xBF\xBF", 4));  /* U+10FFFF */
    assert_false(text_utf8_valid("\xF0\x8F\xBF\xBF", 4)); /* over-long */
    assert_false(text_utf8_valid("\xF4\x90\x80\x80", 4)); /* U+110000 */
    assert_false(text_utf8_valid("\xF5\x80\x80\x80", 4));
    assert_false(text_utf8_valid("\xF1\x80\x80", 3));
    assert_false(text_utf8_valid("\xF1\x80\x80\x7F", 4));
    assert_false(text_utf8_valid("\xF1\x80\xC0\x80", 4));
    assert_true(text_utf8_valid("\xF1\x80\x80\x80", 4));
    assert_true(text_utf8_valid("", 0));
    assert_false(text_utf8_valid("a\0b", 3));
}

static void acceptable_texts_are_bounded_and_plain(void **state)
{
    (void)state;
    assert_false(text_acceptable(NULL, 0, 5));
    assert_true(text_acceptable("", 0, 5));
    assert_false(text_acceptable("", 1, 5));
    assert_true(text_acceptable("12345", 1, 5));
    assert_false(text_acceptable("123456", 1, 5));
    assert_false(text_acceptable("a\tb", 1, 5));
    assert_false(text_acceptable("a\x7F", 1, 5));
    assert_false(text_acceptable("\xFF", 1, 5));
    assert_true(text_acceptable("\xC3\xA4 x", 1, 5));
}

static void copies_are_cut_between_characters(void **state)
{
    (void)state;
    char target[4] = "zzz";
    text_copy(target, 0, "a");
    assert_string_equal(target, "zzz");
    text_copy(target, sizeof target, NULL);
    assert_string_equal(target, "");
    text_copy(target, sizeof target, "abc");
    assert_string_equal(target, "abc");
    text_copy(target, sizeof target, "abcd");
    assert_string_equal(target, "abc");
    text_copy(target, sizeof target, "ab\xC3\xA4");
    assert_string_equal(target, "ab");
    text_copy(target, sizeof target, "\xF0\x90\x80\x80");
    assert_string_equal(target, "");
    text_copy(target, 1, "abc");
    assert_string_equal(target, "");
}

static void the_buffer_rule_holds(void **state)
{
    (void)state;
    char buffer[6] = "zzzzz";
    size_t needed = 0;
    assert_int_equal(text_export("hello", 5, NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(needed, 6);
    needed = 0;
    assert_int_equal(text_export("hello", 5, NULL, 6, &needed), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(needed, 6);
    assert_int_equal(text_export("hello", 5, buffer, 0, NULL), CFOIL_E_ARGUMENT_BUFFER);
    assert_string_equal(buffer, "zzzzz");
    assert_int_equal(text_export("hello", 5, buffer, 5, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_string_equal(buffer, "");
    assert_int_equal(text_export("hello", 5, buffer, 6, &needed), CFOIL_OK);
    assert_string_equal(buffer, "hello");
}

static void times_are_written_as_rfc_3339_says(void **state)
{
    (void)state;
    static const struct {
        int64_t time;
        const char *text;
    } rows[] = {
        {0, "1970-01-01T00:00:00.000Z"},
        {1, "1970-01-01T00:00:00.001Z"},
        {INT64_C(482196050520), "1985-04-12T23:20:50.520Z"}, /* RFC 3339 section 5.8, first example */
        {INT64_C(851042397000), "1996-12-20T00:39:57.000Z"}, /* RFC 3339 section 5.8, second example in UTC */
        {INT64_C(951782400000), "2000-02-29T00:00:00.000Z"},
        {INT64_C(253402300799999), "9999-12-31T23:59:59.999Z"},
        {INT64_C(253402300800000), ""},
        {-1, ""},
        {INT64_MIN, ""},
        {INT64_MAX, ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[TEXT_TIME_SIZE] = "not touched";
        text_time(rows[i].time, text);
        assert_string_equal(text, rows[i].text);
    }
}

static void hexadecimal_digits_are_lower_case(void **state)
{
    (void)state;
    static const uint8_t bytes[] = {0x00, 0x9f, 0xff, 0x10};
    char text[9];
    text_hex(bytes, sizeof bytes, text);
    assert_string_equal(text, "009fff10");
    text_hex(bytes, 0, text);
    assert_string_equal(text, "");
}

/* Known moments: 2^31 seconds (POSIX), the leap day of 2000, the last moment of RFC 3339. */
static void a_time_is_read_as_it_was_written(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t time_utc_ms;
    } rows[] = {
        {"1970-01-01T00:00:00.000Z", 0},
        {"2038-01-19T03:14:08.007Z", INT64_C(2147483648007)},
        {"2000-02-29T12:00:00.000Z", INT64_C(951825600000)},
        {"9999-12-31T23:59:59.999Z", INT64_C(253402300799999)},
    };
    static const char *const bad[] = {
        "",
        "2026-11-28T20:15:00Z",
        "2026-11-28 20:15:00.000Z",
        "2026-02-29T00:00:00.000Z",
        "2026-13-01T00:00:00.000Z",
        "2026-11-28T24:00:00.000Z",
        "1969-12-31T23:59:59.999Z",
        "2026-11-2\xFFT20:15:00.000Z",
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t time_utc_ms = -1;
        assert_true(text_time_read(rows[i].text, &time_utc_ms));
        assert_int_equal(time_utc_ms, rows[i].time_utc_ms);
    }
    for (int64_t day = 0; day < 200000; day += 37) {
        char text[TEXT_TIME_SIZE];
        int64_t time_utc_ms = 0;
        text_time(day * 86400000 + day, text);
        assert_true(text_time_read(text, &time_utc_ms));
        assert_int_equal(time_utc_ms, day * 86400000 + day);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        int64_t time_utc_ms = -1;
        assert_false(text_time_read(bad[i], &time_utc_ms));
        assert_int_equal(time_utc_ms, -1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_time_is_read_as_it_was_written),
        cmocka_unit_test(utf8_of_one_to_three_bytes_is_as_the_grammar_says),
        cmocka_unit_test(utf8_of_four_bytes_ends_at_the_last_plane),
        cmocka_unit_test(acceptable_texts_are_bounded_and_plain),
        cmocka_unit_test(copies_are_cut_between_characters),
        cmocka_unit_test(the_buffer_rule_holds),
        cmocka_unit_test(times_are_written_as_rfc_3339_says),
        cmocka_unit_test(hexadecimal_digits_are_lower_case),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
