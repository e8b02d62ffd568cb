/*
 * Canonical JSON against the samples of RFC 8785. All from memory. The samples of numbers with fractions or exponents
 * (section 3.2.2, appendix B) are left out: bodies of entries hold whole numbers only.
 */
#include "model/json.h"

#include "test.h"

#include <stdlib.h>

static void expect_canonical(const char *text, const char *expected)
{
    cJSON *value = cJSON_Parse(text);
    assert_non_null(value);
    char *canonical = json_canonical(value);
    assert_non_null(canonical);
    assert_string_equal(canonical, expected);
    cJSON_free(canonical);
    cJSON_Delete(value);
}

/* Section 3.2.2: the members "string" and "literals" of the sample; section 3.2.3 sorts them. */
static void strings_and_literals(void **state)
{
    (void)state;
    expect_canonical("{\n  \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\n"
                     "  \"literals\": [null, true, false]\n}",
                     "{\"literals\":[null,true,false],\"string\":\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
}

/* Section 3.2.3: keys in the order of their UTF-16 code units. */
static void keys_by_code_units(void **state)
{
    (void)state;
    expect_canonical(
        "{\"\\u20ac\":\"Euro Sign\",\"\\r\":\"Carriage Return\",\"\\ufb33\":\"Hebrew Letter Dalet With Dagesh\","
        "\"1\":\"One\",\"\\ud83d\\ude00\":\"Emoji: Grinning Face\",\"\\u0080\":\"Control\","
        "\"\\u00f6\":\"Latin Small Letter O With Diaeresis\"}",
        "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\xc2\x80\":\"Control\","
        "\"\xc3\xb6\":\"Latin Small Letter O With Diaeresis\",\"\xe2\x82\xac\":\"Euro Sign\","
        "\"\xf0\x9f\x98\x80\":\"Emoji: Grinning Face\","
        "\"\xef\xac\xb3\":\"Hebrew Letter Dalet With Dagesh\"}");
}

/* Section 3.2.2.2: the seven short escapes, and \u00xx in lower case for the other control characters. */
static void escapes(void **state)
{
    (void)state;
    expect_canonical("[\"\\u0008\\u0009\\u000A\\u000C\\u000D\\u0022\\u005C\\u0001\\u001F\\u007f\\u002f\"]",
                     "[\"\\b\\t\\n\\f\\r\\\"\\\\\\u0001\\u001f\x7f/\"]");
}

/* Appendix B: the largest whole numbers that every reader of JSON keeps, and zero without a sign. */
static void whole_numbers(void **state)
{
    (void)state;
    cJSON *value = cJSON_CreateArray();
    assert_true(json_integer_add(value, NULL, INT64_C(9007199254740992)));
    assert_true(json_integer_add(value, NULL, INT64_C(-9007199254740992)));
    assert_true(json_integer_add(value, NULL, 0));
    char *canonical = json_canonical(value);
    assert_string_equal(canonical, "[9007199254740992,-9007199254740992,0]");
    cJSON_free(canonical);
    cJSON_Delete(value);
}

/* Section 3.2.3: members of objects inside, too; arrays keep their order; no blanks (section 3.2.1). */
static void inner_objects_and_arrays(void **state)
{
    (void)state;
    expect_canonical("{ \"b\" : [ { \"z\" : 1 , \"a\" : 2 } , \"y\" , \"x\" ] , \"a\" : { } }",
                     "{\"a\":{},\"b\":[{\"a\":2,\"z\":1},\"y\",\"x\"]}");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strings_and_literals), cmocka_unit_test(keys_by_code_units),       cmocka_unit_test(escapes),
        cmocka_unit_test(whole_numbers),        cmocka_unit_test(inner_objects_and_arrays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
