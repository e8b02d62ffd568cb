/*
 * Strict JSON: what passes, what is refused and on which line, and where a value stands.
 */
#include "model/json_scan.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

static bool scan(const char *text, struct json_fault *fault)
{
    return json_scan(text, strlen(text), fault);
}

static void good_texts_pass(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "0",
        "-0",
        "0.5",
        "-12.25e+10",
        "1E9",
        "1e-3",
        "\"\"",
        "true",
        "false",
        "null",
        "{}",
        "[]",
        " [ ] \r\n\t",
        "{\"a\":1,\"b\":{\"a\":2}}",
        "[{\"a\":1},{\"a\":1}]",
        "\"\\\"\\\\\\/\\b\\f\\n\\r\\t\\u00e9\\uD83D\\uDE00\"",
        "\"\xC3\xA9 \xE2\x82\xAC \xF0\x9F\x98\x80 \x7F\"",
        "[1,[2,[3]],\"]}\"]",
        "{\"\\u0041\":1,\"a\":2}",
        "{\"\":1}",
        "\"\\uabCD\\uAFaf\\u09F0\\uE000\"", /* every kind of hexadecimal digit; just above the surrogates */
        "{\"costarring\":1,\"liquid\":2}",  /* two keys of one FNV-1a hash */
    };
    struct json_fault fault;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (!scan(texts[i], &fault))
            print_error("%s: %s\n", texts[i], fault.what);
        assert_true(scan(texts[i], &fault));
    }
}

struct bad {
    const char *text;
    int32_t line;
    const char *what; /* part of the message */
};

static const struct bad bad_texts[] = {
    {"", 1, "ends where a value"},
    {" \n", 2, "ends where a value"},
    {"[1,", 1, "ends where a value"},
    {"{\"a\":", 1, "ends where a value"},
    {"[1\n,2\n", 3, "',' or ']'"},
    {"{\"a\":1\n", 2, "',' or '}'"},
    {"{\"a\":1,}", 1, "double quotes"},
    {"{a:1}", 1, "double quotes"},
    {"{\"a\"\n1}", 2, "':'"},
    {"[1,]", 1, "not written as JSON"},
    {"[1 2]", 1, "',' or ']'"},
    {"[]\n[]", 2, "more text"},
    {"{} // end", 1, "more text"},
    {"01", 1, "more text"},
    {"+1", 1, "not written as JSON"},
    {".5", 1, "not written as JSON"},
    {"1.", 1, "not written as JSON"},
    {"1.e5", 1, "not written as JSON"},
    {"1e", 1, "not written as JSON"},
    {"1e+", 1, "not written as JSON"},
    {"-", 1, "not written as JSON"},
    {"0x10", 1, "more text"},
    {"NaN", 1, "not written as JSON"},
    {"Infinity", 1, "not written as JSON"},
    {"tru", 1, "a word"},
    {"fals", 1, "a word"},
    {"nul", 1, "a word"},
    {"truE", 1, "a word"},
    {"'a'", 1, "not written as JSON"},
    {"\"a", 1, "not closed"},
    {"\"a\nb\"", 1, "control character"},
    {"\"a\tb\"", 1, "control character"},
    {"\"\x01\"", 1, "control character"},
    {"\"\\x\"", 1, "an escape"},
    {"\"\\", 1, "an escape"},
    {"\"\\u12\"", 1, "four hexadecimal"},
    {"\"\\u12", 1, "four hexadecimal"},
    {"\"\\u12g4\"", 1, "four hexadecimal"},
    {"\"\\u12G4\"", 1, "four hexadecimal"},
    {"\"\\u12@4\"", 1, "four hexadecimal"},
    {"\"\\u12/4\"", 1, "four hexadecimal"},
    {"\"\\u12:4\"", 1, "four hexadecimal"},
    {"\"\\u0000\"", 1, "u0000"},
    {"\"\\uDC00\"", 1, "surrogate"},
    {"\"\\uD800\"", 1, "surrogate"},
    {"\"\\uD800x\"", 1, "surrogate"},
    {"\"\\uD800\\n\"", 1, "surrogate"},
    {"\"\\uD800\\u0041\"", 1, "surrogate"},
    {"\"\\uD800\\uD800\"", 1, "surrogate"},
    {"\"\\uD800\\u00", 1, "surrogate"},
    {"[\n\"\xC3\"]", 2, "not UTF-8"},
    {"\"\xC0\x80\"", 1, "not UTF-8"},
    {"\"\xED\xA0\x80\"", 1, "not UTF-8"},
    {"[1,\n2]\n\xFF", 3, "not UTF-8"},
    {"\xEF\xBB\xBF{}", 1, "byte-order mark"},
    {"{\"a\":1,\n\"a\":2}", 2, "twice"},
    {"{\"a\":1,\n\"\\u0061\":2}", 2, "twice"},
    {"{\"\xC3\xA9\":1,\n\"\\u00E9\":2}", 2, "twice"},
    {"{\"\xE2\x82\xAC\":1,\n\"\\u20ac\":2}", 2, "twice"},
    {"{\"\xF0\x9F\x98\x80\":1,\n\"\\uD83D\\uDE00\":2}", 2, "twice"},
    {"{\"\\n\\/\":1,\n\"\\u000A/\":2}", 2, "twice"},
    {"{\"x\":{\"b\":1},\n\"y\":{\"b\":1,\n\"b\":2}}", 3, "twice"},
    {"{\"\":1,\"\":2}", 1, "twice"},
};

static void bad_texts_are_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof bad_texts / sizeof bad_texts[0]; i++) {
        struct json_fault fault = {0};
        bool good = scan(bad_texts[i].text, &fault);
        if (good || fault.line != bad_texts[i].line || strstr(fault.what, bad_texts[i].what) == NULL)
            print_error("%s: line %d, %s\n", bad_texts[i].text, (int)fault.line, good ? "passed" : fault.what);
        assert_false(good);
        assert_int_equal(fault.result, CFOIL_E_DATA_SYNTAX);
        assert_int_equal(fault.line, bad_texts[i].line);
        assert_non_null(strstr(fault.what, bad_texts[i].what));
    }
}

static void a_zero_byte_is_refused(void **state)
{
    (void)state;
    struct json_fault fault;
    assert_false(json_scan("[1]\n\0", 5, &fault));
    assert_int_equal(fault.line, 2);
    assert_false(json_scan("\"a\0b\"", 5, &fault));
}

/* ---- Limits ---- */

static void nesting_is_limited(void **state)
{
    (void)state;
    char text[2 * (JSON_DEPTH_MAX + 1) + 1];
    for (uint32_t depth = JSON_DEPTH_MAX; depth <= JSON_DEPTH_MAX + 1; depth++) {
        memset(text, '[', depth);
        memset(text + depth, ']', depth);
        text[2 * depth] = '\0';
        struct json_fault fault;
        assert_int_equal(scan(text, &fault), depth == JSON_DEPTH_MAX);
        if (depth > JSON_DEPTH_MAX)
            assert_string_equal(fault.what, "nested deeper than 32");
    }
}

static void long_keys_and_numbers_are_refused(void **state)
{
    (void)state;
    char text[JSON_KEY_MAX + 16];
    struct json_fault fault;
    snprintf(text, sizeof text, "{\"%0126d\":1}", 0);
    assert_true(scan(text, &fault));
    snprintf(text, sizeof text, "{\"%0127d\":1}", 0);
    assert_false(scan(text, &fault));
    assert_int_equal(fault.result, CFOIL_E_DATA_SIZE);
    snprintf(text, sizeof text, "1%031d", 0);
    assert_true(scan(text, &fault));
    snprintf(text, sizeof text, "1%032d", 0);
    assert_false(scan(text, &fault));
    assert_int_equal(fault.result, CFOIL_E_DATA_SIZE);
}

static void open_keys_are_limited(void **state)
{
    (void)state;
    size_t capacity = 16u * (JSON_KEYS_MAX + 2u);
    char *text = malloc(capacity);
    assert_non_null(text);
    for (uint32_t count = JSON_KEYS_MAX; count <= JSON_KEYS_MAX + 1; count++) {
        size_t length = 1;
        text[0] = '{';
        for (uint32_t i = 0; i < count; i++)
            length += (size_t)snprintf(text + length, capacity - length, "\"%u\":0%c", i, i + 1 < count ? ',' : '}');
        struct json_fault fault;
        assert_int_equal(json_scan(text, length, &fault), count == JSON_KEYS_MAX);
        if (count > JSON_KEYS_MAX)
            assert_int_equal(fault.result, CFOIL_E_DATA_SIZE);
    }
    free(text);
}

/* ---- Lines and paths ---- */

static const char lines[] = "\n{ \"a\\u0062\" : [1,\n"  /* 2 */
                            "  {\"x\": \"q\\\"],}\",\n" /* 3 */
                            "   \"y\": [[ ],{},\n"      /* 4 */
                            "   {\"z\": 1}]}],\n"       /* 5 */
                            "\"c\":\n"                  /* 6 */
                            "  true}";                  /* 7 */

static void lines_are_found(void **state)
{
    (void)state;
    struct json_fault fault;
    assert_true(scan(lines, &fault));
    static const struct {
        struct json_path path;
        const char *shown;
        int32_t line;
    } cases[] = {
        {{0, {{0}}}, "top level", 2},
        {{1, {{"ab", 0}}}, "ab", 2},
        {{2, {{"ab", 0}, {NULL, 0}}}, "ab[0]", 2},
        {{2, {{"ab", 0}, {NULL, 1}}}, "ab[1]", 3},
        {{3, {{"ab", 0}, {NULL, 1}, {"x", 0}}}, "ab[1].x", 3},
        {{3, {{"ab", 0}, {NULL, 1}, {"y", 0}}}, "ab[1].y", 4},
        {{4, {{"ab", 0}, {NULL, 1}, {"y", 0}, {NULL, 2}}}, "ab[1].y[2]", 5},
        {{5, {{"ab", 0}, {NULL, 1}, {"y", 0}, {NULL, 2}, {"z", 0}}}, "ab[1].y[2].z", 5},
        {{1, {{"c", 0}}}, "c", 6},
        /* Leading nowhere: the line of the last part that is there. */
        {{1, {{"d", 0}}}, "d", 2},
        {{2, {{"c", 0}, {"d", 0}}}, "c.d", 6},
        {{2, {{"c", 0}, {NULL, 0}}}, "c[0]", 6},
        {{2, {{"ab", 0}, {NULL, 9}}}, "ab[9]", 2},
        {{5, {{"ab", 0}, {NULL, 1}, {"y", 0}, {NULL, 0}, {NULL, 0}}}, "ab[1].y[0][0]", 4},
        {{5, {{"ab", 0}, {NULL, 1}, {"y", 0}, {NULL, 1}, {"k", 0}}}, "ab[1].y[1].k", 4},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char shown[64];
        json_path_print(&cases[i].path, shown, sizeof shown);
        assert_string_equal(shown, cases[i].shown);
        assert_int_equal(json_line_find(lines, strlen(lines), &cases[i].path), cases[i].line);
    }
}

static void odd_keys_print_without_harm(void **state)
{
    (void)state;
    struct json_path path = {2, {{"a\x1b[31m\x7f", 0}, {"a very long key", 0}}};
    char shown[16];
    json_path_print(&path, shown, sizeof shown);
    assert_string_equal(shown, "a?[31m?.a very ");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_texts_pass),        cmocka_unit_test(bad_texts_are_refused),
        cmocka_unit_test(a_zero_byte_is_refused), cmocka_unit_test(nesting_is_limited),
        cmocka_unit_test(open_keys_are_limited),  cmocka_unit_test(long_keys_and_numbers_are_refused),
        cmocka_unit_test(lines_are_found),        cmocka_unit_test(odd_keys_print_without_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
