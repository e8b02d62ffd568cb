/*
 * The export: every entry a line that can be checked against the chain, tables that a spreadsheet opens safely, and a
 * writer that may refuse.
 */
#include "world.h"

#include "ledger/export.h"
#include "model/text.h"

struct taken {
    char text[65536];
    size_t used;
    size_t limit; /* bytes that are taken before the writer refuses; 0 = all */
    int calls;
};

static int32_t take(void *user, const char *bytes, size_t length)
{
    struct taken *taken = user;
    taken->calls++;
    if (taken->limit != 0 && taken->used + length > taken->limit)
        return CFOIL_E_DATA_FILE;
    assert_true(length > 0 && taken->used + length < sizeof taken->text);
    memcpy(taken->text + taken->used, bytes, length);
    taken->used += length;
    taken->text[taken->used] = '\0';
    return CFOIL_OK;
}

static int32_t export(struct world *world, struct taken *taken, int32_t format, int32_t table, int64_t from,
                      int64_t until)
{
    cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
    options.format = format;
    options.table = table;
    options.from_utc_ms = from;
    options.until_utc_ms = until;
    options.write = take;
    options.user = taken;
    taken->used = 0;
    taken->text[0] = '\0';
    return ledger_export(world->ledger, &options, &world->error);
}

static void every_entry_is_a_line(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    world_fill(&world, 30);
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_JSON_LINES, 0, 0, 0), CFOIL_OK);
    int lines = 0;
    char identity[65] = "";
    for (char *line = strtok(taken.text, "\n"); line != NULL; line = strtok(NULL, "\n"), lines++) {
        if (lines == 0) {
            cJSON *first = cJSON_Parse(line);
            assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(first, "schema")), "counterfoil.export/1");
            assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(first, "store")), "Example store");
            assert_int_equal(cJSON_GetObjectItem(first, "entries")->valueint, 30);
            assert_int_equal(cJSON_GetObjectItem(cJSON_GetObjectItem(first, "head"), "entry")->valueint, 30);
            text_copy(identity, sizeof identity, cJSON_GetStringValue(cJSON_GetObjectItem(first, "ledger")));
            cJSON_Delete(first);
            continue;
        }
        char *text;
        assert_int_equal(ledger_entry_text(world.ledger, lines, &text, &world.error), CFOIL_OK);
        assert_string_equal(line, text);
        if (lines == 1)
            assert_non_null(strstr(text, identity)); /* the ledger is named by the hash of its first entry */
        cJSON_free(text);
    }
    assert_int_equal(lines, 31);
    world_close(&world);
}

static void a_period_is_cut_out(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    world_fill(&world, 10);
    int64_t begin = item_make("", "").time_utc_ms;
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_JSON_LINES, 0, begin + 3, begin + 6), CFOIL_OK);
    assert_non_null(strstr(taken.text, "\"entries\":3,\"first\":3,\"last\":5,"));
    assert_non_null(strstr(taken.text, "\"entry\":5,"));
    assert_null(strstr(taken.text, "\"entry\":6,\"time\""));
    world_close(&world);
}

/* The writer gets nothing more after it refused, whatever the size of its pieces. */
static void a_writer_may_refuse(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    world_fill(&world, 60);
    for (int32_t format = CFOIL_EXPORT_JSON_LINES; format <= CFOIL_EXPORT_CSV; format++) {
        taken.limit = 1;
        taken.calls = 0;
        assert_int_equal(export(&world, &taken, format, CFOIL_TABLE_PRESENTATIONS, 0, 0), CFOIL_E_STATE_STOPPED);
        assert_int_equal(taken.calls, 1);
        assert_int_equal(taken.used, 0);
        taken.limit = 0;
        assert_int_equal(export(&world, &taken, format, CFOIL_TABLE_PRESENTATIONS, 0, 0), CFOIL_OK);
    }
    world_close(&world);
}

static void body_append(struct world *world, const char *kind, const char *body)
{
    struct ledger_item item = item_make(kind, body);
    assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
}

/* RFC 4180 section 2: rules 1 (CR LF), 3 (header), 5 to 7 (quotes). What looks like a formula becomes a text. */
static void cells_are_quoted_and_harmless(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    body_append(
        &world, LEDGER_KIND_CUSTODY,
        "{\"case\":\"c1\",\"move\":\"find\",\"place\":\"=1+1\",\"keeper\":\"a,b\",\"receipt\":\"say \\\"x\\\"\","
        "\"why\":\"line\\r\\nline\",\"value_minor\":5000,\"signed_in\":false,\"second\":null,"
        "\"envelope\":\"+7\",\"lane\":\"@SUM(A1)\",\"serial\":\"-5\",\"holder\":\"\\tx\"}");
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_CSV, CFOIL_TABLE_CUSTODY, 0, 0), CFOIL_OK);
    assert_string_equal(
        taken.text,
        "entry,time,case,move,from,state,happened,staff,signed_in,second,envelope,place,holder,keeper,receipt,why,"
        "currency,value_minor,serial,lane\r\n"
        "2,2025-11-24T16:00:00.000Z,c1,find,,,,,false,,\"'+7\",\"'=1+1\",\"'\tx\",\"a,b\",\"say \"\"x\"\"\","
        "\"line\r\nline\",,5000,\"'-5\",\"'@SUM(A1)\"\r\n");
    world_close(&world);
}

static void lists_in_a_body_are_joined(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    body_append(
        &world, LEDGER_KIND_PRESENTATION,
        "{\"findings\":[{\"channel\":\"infrared\"},{\"channel\":\"image\"}],\"kind\":\"rejected\","
        "\"lane\":\"lane 1\",\"reason\":\"authenticity\",\"reasons_possible\":[\"authenticity\",\"handling\"]}");
    body_append(&world, LEDGER_KIND_DEVICE, "{\"kind\":\"device\",\"lane\":\"lane 1\"}");
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_CSV, CFOIL_TABLE_PRESENTATIONS, 0, 0), CFOIL_OK);
    assert_non_null(strstr(taken.text, ",authenticity,authenticity handling,infrared image,"));
    const char *row = strstr(taken.text, "\r\n");
    assert_null(strstr(strstr(row + 2, "\r\n") + 2, "\r\n")); /* the device's word is in no row */
    world_close(&world);
}

static void what_cannot_be_read_has_empty_cells(void **state)
{
    (void)state;
    static struct taken taken;
    struct world world;
    world_open(&world);
    body_append(&world, LEDGER_KIND_PRESENTATION, "{\"kind\":\"stacked\"}");
    world_unlock_entries(&world);
    world_tamper(&world, "UPDATE entry SET body = 'no json' WHERE number = 2");
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_CSV, CFOIL_TABLE_PRESENTATIONS, 0, 0), CFOIL_OK);
    assert_non_null(strstr(taken.text, "\r\n2,2025-11-24T16:00:00.000Z,,,,,,,,,,,,,,,\r\n"));
    world_tamper(&world, "DELETE FROM entry WHERE number = 1; DELETE FROM head");
    assert_int_equal(export(&world, &taken, CFOIL_EXPORT_JSON_LINES, 0, 0, 0), CFOIL_OK);
    assert_non_null(strstr(taken.text, "\"ledger\":null"));
    assert_non_null(strstr(taken.text, "\"body\":\"no json\""));
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_entry_is_a_line),      cmocka_unit_test(a_period_is_cut_out),
        cmocka_unit_test(a_writer_may_refuse),        cmocka_unit_test(cells_are_quoted_and_harmless),
        cmocka_unit_test(lists_in_a_body_are_joined), cmocka_unit_test(what_cannot_be_read_has_empty_cells),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
