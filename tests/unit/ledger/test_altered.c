/*
 * What other hands have put into the file instead of an entry's body: does the entry still come out as one line of
 * well-formed JSON and UTF-8?
 */
#include "world.h"

#include "model/text.h"

#include <cjson/cJSON.h>

static cJSON *entry_read(struct world *world, int64_t number)
{
    char *text;
    assert_int_equal(ledger_entry_text(world->ledger, number, &text, NULL), CFOIL_OK);
    assert_true(text_utf8_valid(text, strlen(text)));
    assert_null(strchr(text, '\n'));
    cJSON *entry = cJSON_ParseWithOpts(text, NULL, 1);
    if (entry == NULL)
        fail_msg("not JSON: %s", text);
    cJSON_free(text);
    return entry;
}

static void body_set(struct world *world, const char *literal)
{
    char sql[400];
    snprintf(sql, sizeof sql, "UPDATE entry SET body = %s WHERE number = 2", literal);
    world_tamper(world, sql);
}

static void expect_shown_as_text(struct world *world, const char *literal, const char *shown)
{
    body_set(world, literal);
    cJSON *entry = entry_read(world, 2);
    const cJSON *body = cJSON_GetObjectItemCaseSensitive(entry, "body");
    if (!cJSON_IsString(body) || strcmp(body->valuestring, shown) != 0)
        fail_msg("%s came out otherwise", literal);
    cJSON_Delete(entry);
}

static void unreadable_bodies_are_shown_as_text(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 2);
    world_unlock_entries(&world);
    expect_shown_as_text(&world, "''", "");
    expect_shown_as_text(&world, "'{\"a\":1'", "{\"a\":1");
    expect_shown_as_text(&world, "'{\"a\":1}x'", "{\"a\":1}x");
    expect_shown_as_text(&world, "'{\"a\":01}'", "{\"a\":01}");
    expect_shown_as_text(&world, "'{\"a\":1,\"a\":2}'", "{\"a\":1,\"a\":2}");
    expect_shown_as_text(&world, "'{' || char(10) || '}'", "{\n}");
    expect_shown_as_text(&world, "CAST(x'7B2261223A22E4227D' AS TEXT)", "{\"a\":\"?\"}");
    world_close(&world);
}

static void only_strict_json_on_one_line_is_parsed(void **state)
{
    (void)state;
    static const char *const unreadable[] = {"", "{", "{}x", "{\"a\":01}", "{\n}", "{\r}", "{\"a\":\"\xE4\"}"};
    cJSON *parsed;
    for (size_t i = 0; i < sizeof unreadable / sizeof unreadable[0]; i++) {
        assert_int_equal(ledger_body_parse(unreadable[i], &parsed), CFOIL_OK);
        assert_null(parsed);
    }
    assert_int_equal(ledger_body_parse("{\"a\":\"\xC3\xA4\"}", &parsed), CFOIL_OK);
    assert_non_null(parsed);
    cJSON_Delete(parsed);
}

/* Kinds and ids of cases are texts from the file, too. */
static void other_texts_are_shown_in_utf8(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 2);
    world_unlock_entries(&world);
    world_tamper(&world,
                 "UPDATE entry SET kind = CAST(x'C3' AS TEXT), case_id = CAST(x'61FF' AS TEXT) WHERE number = 2");
    cJSON *entry = entry_read(&world, 2);
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(entry, "kind")->valuestring, "?");
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(entry, "case_id")->valuestring, "a?");
    cJSON_Delete(entry);
    world_close(&world);
}

/* A number that no double holds stays as it was written. */
static void readable_bodies_are_shown_as_they_are(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_fill(&world, 2);
    world_unlock_entries(&world);
    body_set(&world, "'{\"b\":9007199254740993,\"a\":[1.50]}'");
    char *text;
    assert_int_equal(ledger_entry_text(world.ledger, 2, &text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "\"body\":{\"b\":9007199254740993,\"a\":[1.50]}"));
    cJSON_free(text);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(unreadable_bodies_are_shown_as_text),
        cmocka_unit_test(only_strict_json_on_one_line_is_parsed),
        cmocka_unit_test(other_texts_are_shown_in_utf8),
        cmocka_unit_test(readable_bodies_are_shown_as_they_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
