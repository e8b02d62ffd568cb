/*
 * The import: each record once, whole batches or nothing, counted like what the ledger recorded itself; another ledger only
 * when its chain is intact, and its notes never in our hands.
 */
#include "history.h"

#include "ledger/append.h"
#include "ledger/export.h"
#include "ledger/import.h"
#include "ledger/keep.h"
#include "ledger/rebuild.h"
#include "ledger/rollup.h"
#include "model/text.h"

/* ---- What is read and written ---- */

struct stream {
    char text[1 << 20];
    size_t length;
    size_t piece;      /* bytes given at once, 0 = as many as fit */
    int64_t refuse_at; /* from this place on the host refuses, -1 = never */
};

static struct stream stream, other_stream;

static void stream_set(struct stream *to, const char *text)
{
    to->length = strlen(text);
    memcpy(to->text, text, to->length + 1);
    to->piece = 0;
    to->refuse_at = -1;
}

static int32_t stream_read(void *user, uint64_t offset, char *buffer, size_t capacity, size_t *length)
{
    struct stream *from = user;
    if (from->refuse_at >= 0 && offset >= (uint64_t)from->refuse_at)
        return CFOIL_E_DATA_FILE;
    assert_true(offset <= from->length);
    size_t left = from->length - (size_t)offset;
    size_t most = from->piece != 0 && from->piece < capacity ? from->piece : capacity;
    *length = left < most ? left : most;
    memcpy(buffer, from->text + offset, *length);
    return CFOIL_OK;
}

static int32_t stream_write(void *user, const char *bytes, size_t length)
{
    struct stream *to = user;
    assert_true(to->length + length < sizeof to->text);
    memcpy(to->text + to->length, bytes, length);
    to->length += length;
    to->text[to->length] = '\0';
    return CFOIL_OK;
}

static void export_all(struct world *world, struct stream *to)
{
    cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
    stream_set(to, "");
    options.format = CFOIL_EXPORT_JSON_LINES;
    options.write = stream_write;
    options.user = to;
    assert_int_equal(ledger_export(world->ledger, &options, &world->error), CFOIL_OK);
}

static cfoil_import_result told;

static int32_t import_try(struct world *world, struct stream *from, uint32_t batch, int32_t dry_run)
{
    cfoil_import_options options = CFOIL_IMPORT_OPTIONS_INIT;
    struct actor actor = {"07", false};
    options.read = stream_read;
    options.user = from;
    options.batch = batch;
    options.dry_run = dry_run;
    memset(&world->error, 0, sizeof world->error);
    return ledger_import(world->ledger, &options, &actor, &told, &world->error);
}

/* Imports, and holds what was told against these numbers. */
static void import_is(struct world *world, struct stream *from, int64_t taken, int64_t there, int64_t left_out)
{
    int32_t result = import_try(world, from, 0, 0);
    if (result != CFOIL_OK)
        fail_msg("%s", world->error.text);
    assert_int_equal(told.taken, taken);
    assert_int_equal(told.there, there);
    assert_int_equal(told.left_out, left_out);
    assert_int_equal(told.bad_line, 0);
    assert_int_equal(world_verify(world).intact, 1);
}

static int64_t entries(struct world *world)
{
    return world_query(world, "SELECT count(*) FROM entry");
}

/* ---- Event histories ---- */

#define HEAD(number)                                                                                                   \
    "{\"schema\":\"counterfoil.event/1\",\"record\":\"018f22e2-79b0-7cc3-98c4-0000000000" number                       \
    "\",\"lane\":\"1\",\"time\":\"2025-11-24T16:00:" number ".000Z\",\"seq\":" number
#define GOOD_1                                                                                                         \
    HEAD("11")                                                                                                         \
    ",\"kind\":\"stacked\",\"presentation\":1,\"currency\":\"EUR\",\"value_minor\":2000,\"store\":\"North\"}\n"
#define GOOD_2 HEAD("12") ",\"kind\":\"rejected\",\"reason\":\"authenticity\",\"entry\":55}\n"
#define GOOD_3 HEAD("13") ",\"kind\":\"device\",\"condition\":\"jam_safe\"}\n"

static void a_history_becomes_entries_once(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    stream_set(&stream, GOOD_1 GOOD_2 GOOD_3);
    import_is(&world, &stream, 3, 0, 0);
    assert_int_equal(entries(&world), 5); /* the first, three, and the one that tells of them */
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'import' AND number = 5 AND body ="
                                         " '{\"by\":\"07\",\"first\":2,\"last\":4,\"ledger\":null,\"records\":3,"
                                         "\"schema\":\"counterfoil.import/1\",\"store\":null}'"),
                     1);
    assert_int_equal(
        world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'presentation' AND number = 2 AND time_utc_ms ="
                            " 1764000011000 AND body = '{\"currency\":\"EUR\",\"kind\":\"stacked\",\"lane\":\"1\","
                            "\"origin\":{\"record\":\"018f22e2-79b0-7cc3-98c4-000000000011\",\"store\":\"North\"},"
                            "\"presentation\":1,\"schema\":\"counterfoil.event/1\",\"seq\":11,"
                            "\"time\":\"2025-11-24T16:00:11.000Z\",\"value_minor\":2000}'"),
        1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE kind = 'device' AND number = 4"), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry WHERE instr(body, '55') > 0"), 0);
    import_is(&world, &stream, 0, 3, 0);
    assert_int_equal(entries(&world), 5);
    assert_string_equal(told.text, "Took 0 of 3 lines; 3 were there already, 0 stay with their ledger.");
    world_close(&world);
}

/* However the host's bytes are cut. */
static void pieces_of_any_size_are_the_same(void **state)
{
    (void)state;
    for (size_t piece = 1; piece < 200; piece += 33) {
        struct world world;
        world_open(&world);
        stream_set(&stream, GOOD_1 GOOD_2 GOOD_3);
        stream.piece = piece;
        import_is(&world, &stream, 3, 0, 0);
        world_close(&world);
    }
}

static void a_dry_run_takes_nothing(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    stream_set(&stream, GOOD_1 GOOD_2);
    assert_int_equal(import_try(&world, &stream, 0, 1), CFOIL_OK);
    assert_int_equal(told.taken, 2);
    assert_string_equal(told.text, "Would take 2 of 2 lines; 0 were there already, 0 stay with their ledger.");
    assert_int_equal(entries(&world), 1);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM record"), 0);
    import_is(&world, &stream, 2, 0, 0);
    world_close(&world);
}

/* Batches of one line: what came before the bad line stays, and importing the mended file goes on. */
static void a_bad_line_takes_its_batch_with_it(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    stream_set(&stream, GOOD_1 GOOD_2 "{\"schema\":\n" GOOD_3);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_DATA_SYNTAX);
    assert_int_equal(told.bad_line, 3);
    assert_int_equal(told.taken, 0);
    assert_int_equal(world.error.line, 3);
    assert_non_null(strstr(world.error.text, "Line 3: "));
    assert_int_equal(entries(&world), 1);
    assert_int_equal(import_try(&world, &stream, 1, 0), CFOIL_E_DATA_SYNTAX);
    assert_int_equal(told.bad_line, 3);
    assert_int_equal(told.taken, 2);
    stream_set(&stream, GOOD_1 GOOD_2 GOOD_3);
    import_is(&world, &stream, 1, 2, 0);
    world_close(&world);
}

static void every_departure_is_named_with_its_line(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        int32_t result;
        const char *says;
    } rows[] = {
        {"\n", CFOIL_E_DATA_SYNTAX, "the text ends"},
        {"[]\n", CFOIL_E_DATA_SCHEMA, "must be a JSON object"},
        {"{}\n", CFOIL_E_DATA_SCHEMA, "\"schema\" is missing"},
        {HEAD("11") ",\"kind\":\"stacked\"}", CFOIL_E_DATA_SYNTAX, "no line end"},
        {HEAD("11") ",\"kind\":\"sold\"}\n", CFOIL_E_DATA_SCHEMA, "\"kind\""},
        {HEAD("11") ",\"kind\":\"stacked\",\"seq\":1}\n", CFOIL_E_DATA_SYNTAX, "a key stands twice"},
        {HEAD("11") ",\"kind\":\"stacked\",\"currency\":\"eur\",\"value_minor\":1}\n", CFOIL_E_DATA_SCHEMA,
         "\"currency\""},
        {HEAD("11") ",\"kind\":\"stacked\",\"currency\":\"EUR\"}\n", CFOIL_E_DATA_SCHEMA, "needs a value"},
        {HEAD("11") ",\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":-1}\n", CFOIL_E_DATA_SCHEMA,
         "\"value_minor\""},
        {HEAD("11") ",\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":20.5}\n", CFOIL_E_DATA_SCHEMA,
         "\"value_minor\""},
        {HEAD("11") ",\"kind\":\"rejected\",\"reason\":\"none\"}\n", CFOIL_E_DATA_SCHEMA, "\"reason\""},
        {HEAD("11") ",\"kind\":\"rejected\",\"findings\":[{\"channel\":\"smell\"}]}\n", CFOIL_E_DATA_SCHEMA,
         "\"findings\""},
        {HEAD("11") ",\"kind\":\"rejected\",\"raw_hex\":\"0G\"}\n", CFOIL_E_DATA_SCHEMA, "\"raw_hex\""},
        {HEAD("11") ",\"kind\":\"rejected\",\"new\":{\"a\":[1.5]}}\n", CFOIL_E_DATA_SCHEMA, "not whole"},
        {HEAD("11") ",\"kind\":\"rejected\",\"origin\":{}}\n", CFOIL_E_DATA_SCHEMA, "written by the import"},
        {"{\"schema\":\"counterfoil.event/1\",\"record\":\"x\"}\n", CFOIL_E_DATA_SCHEMA, "\"record\""},
        {"{\"schema\":\"counterfoil.event/2\"}\n", CFOIL_E_DATA_SCHEMA, "\"schema\""},
        {"{\"lane\":\"\"}\n", CFOIL_E_DATA_SCHEMA, "\"lane\""},
        {"{\"time\":\"2025-02-29T00:00:00.000Z\"}\n", CFOIL_E_DATA_SCHEMA, "\"time\""},
        {"\xFF\n", CFOIL_E_DATA_SYNTAX, "UTF-8"},
    };
    struct world world;
    world_open(&world);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[2000];
        snprintf(text, sizeof text, "%s%s", GOOD_2, rows[i].line);
        stream_set(&stream, text);
        int32_t result = import_try(&world, &stream, 0, 0);
        if (result != rows[i].result || strstr(world.error.text, rows[i].says) == NULL)
            fail_msg("%s: %#x %s", rows[i].line, (unsigned)result, world.error.text);
        assert_int_equal(told.bad_line, 2);
        assert_int_equal(entries(&world), 1);
    }
    world_close(&world);
}

static void a_line_has_its_greatest_length(void **state)
{
    (void)state;
    struct world world;
    static struct stream large;
    world_open(&world);
    memset(large.text, ' ', sizeof large.text);
    large.length = sizeof large.text;
    large.refuse_at = -1;
    assert_int_equal(import_try(&world, &large, 0, 0), CFOIL_E_DATA_SYNTAX); /* 1 MiB without a line end */
    assert_int_equal(told.bad_line, 1);
    world_close(&world);
}

static void a_host_may_refuse(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    stream_set(&stream, GOOD_1 GOOD_2);
    stream.piece = strlen(GOOD_1);
    stream.refuse_at = (int64_t)strlen(GOOD_1);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_STATE_STOPPED);
    assert_int_equal(told.bad_line, 0);
    assert_int_equal(entries(&world), 1);
    stream_set(&stream, "");
    import_is(&world, &stream, 0, 0, 0);
    assert_int_equal(entries(&world), 1);
    world_close(&world);
}

/* ---- Whole ledgers ---- */

static void other_fill(struct world *other, uint64_t seed)
{
    world_open(other);
    history_append(other, seed, 60, false);
}

static bool counts_add(void *user, const struct rollup_cell *cell)
{
    int64_t *counts = user;
    for (int i = 0; i < ROLLUP_COUNTS; i++)
        counts[i] += cell->counts[i];
    return true;
}

static void counts_read(struct world *world, int64_t counts[ROLLUP_COUNTS])
{
    struct rollup_query query = {0};
    bool kept;
    memset(counts, 0, ROLLUP_COUNTS * sizeof counts[0]);
    assert_int_equal(rollup_kept_cells(world->ledger, &query, counts_add, counts, &kept, NULL), CFOIL_OK);
    assert_true(kept);
}

/* Counted once, and like what the other ledger counted, even though both use the same lane names. */
static void another_ledger_is_counted_as_it_was(void **state)
{
    (void)state;
    struct world world, other;
    int64_t before[ROLLUP_COUNTS], theirs[ROLLUP_COUNTS], after[ROLLUP_COUNTS];
    world_open(&world);
    other_fill(&other, 5);
    history_append(&world, 6, 40, false);
    counts_read(&world, before);
    counts_read(&other, theirs);
    export_all(&other, &stream);
    int64_t records = world_query(&other, "SELECT count(*) FROM entry"
                                          " WHERE kind IN ('presentation', 'device', 'case', 'custody')");
    import_is(&world, &stream, records, 0, entries(&other) - records);
    counts_read(&world, after);
    for (int i = 0; i < ROLLUP_COUNTS; i++)
        assert_int_equal(after[i], before[i] + theirs[i]);
    import_is(&world, &stream, 0, records, entries(&other) - records);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM source"), 1);
    world_close(&world);
    world_close(&other);
}

/* Through a third ledger it is still the same record, and what was ours stays ours. */
static void records_know_their_origin_on_every_way(void **state)
{
    (void)state;
    struct world one, two, three;
    other_fill(&one, 7);
    world_open(&two);
    world_open(&three);
    export_all(&one, &stream);
    assert_int_equal(import_try(&two, &stream, 0, 0), CFOIL_OK);
    int64_t records = told.taken;
    export_all(&two, &other_stream);
    import_is(&three, &other_stream, records, 0, 2); /* the first entry and that of the import stay */
    import_is(&three, &stream, 0, records, 1);
    int64_t had = entries(&one);
    import_is(&one, &other_stream, 0, records, 2);
    import_is(&one, &stream, 0, had, 0);
    assert_int_equal(entries(&one), had);
    world_close(&one);
    world_close(&two);
    world_close(&three);
}

/* Taking "origin" away gives back the bytes that the other ledger hashed. */
static void what_was_taken_can_be_held_against_its_ledger(void **state)
{
    (void)state;
    struct world world, other;
    other_fill(&other, 9);
    world_open(&world);
    export_all(&other, &stream);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_OK);
    world_tamper(&world, "CREATE TABLE theirs(number INTEGER, body TEXT)");
    char sql[700];
    snprintf(sql, sizeof sql, "ATTACH '%.500s' AS other; INSERT INTO theirs SELECT number, body FROM other.entry",
             other.path);
    world_tamper(&world, sql);
    int64_t same = world_query(
        &world, "SELECT count(*) FROM entry JOIN theirs ON theirs.number = json_extract(entry.body, '$.origin.entry')"
                " WHERE json(json_remove(entry.body, '$.origin')) = json(theirs.body)");
    assert_int_equal(same, told.taken);
    world_close(&world);
    world_close(&other);
}

/* Each byte of an export changed, one after the other: nothing is ever taken. Blanks that JSON allows change nothing. */
static void an_export_that_was_altered_is_refused(void **state)
{
    (void)state;
    struct world world, other;
    world_open(&world);
    world_open(&other);
    world_fill(&other, 4);
    export_all(&other, &stream);
    const char *first_line_end = strchr(stream.text, '\n');
    int refused = 0;
    for (size_t at = (size_t)(first_line_end - stream.text) + 1; at < stream.length; at += 3) {
        char kept = stream.text[at];
        stream.text[at] = kept == 'a' ? 'b' : kept == '1' ? '2' : 'a';
        assert_int_not_equal(import_try(&world, &stream, 1, 0), CFOIL_OK);
        assert_true(told.bad_line >= 2);
        stream.text[at] = kept;
        refused++;
    }
    assert_true(refused > 300);
    assert_int_equal(entries(&world), 1);
    import_is(&world, &stream, 3, 0, 1);
    world_close(&world);
    world_close(&other);
}

static void an_export_that_is_not_whole_is_refused(void **state)
{
    (void)state;
    struct world world, other;
    world_open(&world);
    world_open(&other);
    world_fill(&other, 6);
    export_all(&other, &stream);
    char *last = strstr(stream.text, "{\"schema\":\"counterfoil.entry/1\",\"entry\":6,");
    assert_non_null(last);
    memcpy(&other_stream, &stream, sizeof stream);
    stream.length = (size_t)(last - stream.text); /* cut off at the end */
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_DATA_CHAIN);
    memcpy(&stream, &other_stream, sizeof stream);
    char *third = strstr(stream.text, "{\"schema\":\"counterfoil.entry/1\",\"entry\":3,");
    char *fourth = strstr(stream.text, "{\"schema\":\"counterfoil.entry/1\",\"entry\":4,");
    memmove(third, fourth, strlen(fourth) + 1); /* one missing in the middle */
    stream.length = strlen(stream.text);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_DATA_CHAIN);
    assert_int_equal(told.bad_line, 4);

    cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
    options.format = CFOIL_EXPORT_JSON_LINES;
    options.write = stream_write;
    options.user = &stream;
    options.from_utc_ms = 1;
    stream_set(&stream, "");
    assert_int_equal(ledger_export(other.ledger, &options, NULL), CFOIL_OK);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_DATA_SCHEMA);
    assert_non_null(strstr(world.error.text, "a period only"));
    assert_int_equal(entries(&world), 1);
    world_close(&world);
    world_close(&other);
}

/* ---- Cases of another ledger ---- */

#define CASE_ID "01900000-0000-7000-8000-000000000777"

static void case_append(struct world *world, int32_t disposition)
{
    struct ledger_item item = case_make(CASE_ID, disposition);
    item.body = "{\"currency\":\"EUR\",\"disposition\":\"set_aside\",\"envelope\":\"E 7\",\"lane\":\"1\","
                "\"sale\":\"S1\",\"schema\":\"counterfoil.case/1\",\"serial\":\"VA0436214792\",\"value_minor\":5000}";
    assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
}

/* A note that another store keeps is known by its number here, and nothing more: not held, counted, moved or in a sale. */
static void notes_of_another_store_are_not_in_our_hands(void **state)
{
    (void)state;
    struct world world, other;
    struct serial_known known;
    cfoil_tender tender = CFOIL_TENDER_INIT;
    cJSON *list;
    world_open(&world);
    world_open(&other);
    case_append(&other, CFOIL_DISPOSITION_SET_ASIDE);
    export_all(&other, &stream);
    import_is(&world, &stream, 1, 0, 1);
    assert_int_equal(keep_serial_look(world.ledger, "EUR", "VA0436214792", 5000, "", &known, NULL), CFOIL_OK);
    assert_true(known.refused);
    assert_int_equal(keep_list(world.ledger, CFOIL_LIST_CUSTODY, NULL, &list, NULL), CFOIL_OK);
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItem(list, "items")), 0);
    cJSON_Delete(list);
    assert_int_equal(keep_tender_check(world.ledger, "S1", &tender, NULL), CFOIL_OK);
    assert_int_equal(tender.verdict, CFOIL_TENDER_FREE);
    cfoil_custody_options move = CFOIL_CUSTODY_OPTIONS_INIT;
    move.move = CFOIL_CUSTODY_CARRY;
    move.place = "safe";
    struct custody_order order = {&move, CASE_ID, {"07", false}, {NULL, false}, 1};
    assert_int_equal(keep_move(world.ledger, &order, NULL, NULL), CFOIL_E_MISSING_CASE);

    /* It came back as genuine there: the number means nothing any more here. */
    struct ledger_item genuine = item_make(LEDGER_KIND_CUSTODY, "{\"case\":\"" CASE_ID "\",\"move\":\"genuine\","
                                                                "\"state\":\"genuine\"}");
    assert_int_equal(world_append(&other, genuine, NULL), CFOIL_OK);
    export_all(&other, &stream);
    import_is(&world, &stream, 1, 1, 1);
    assert_int_equal(keep_serial_look(world.ledger, "EUR", "VA0436214792", 5000, "", &known, NULL), CFOIL_OK);
    assert_false(known.refused);
    world_close(&world);
    world_close(&other);
}

static void a_case_has_one_end_wherever_it_was(void **state)
{
    (void)state;
    struct world world, other;
    world_open(&world);
    world_open(&other);
    case_append(&world, CFOIL_DISPOSITION_SET_ASIDE);
    case_append(&other, CFOIL_DISPOSITION_TAKEN);
    export_all(&other, &stream);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_RULE_REFUSED);
    assert_int_equal(told.bad_line, 3);
    assert_int_equal(entries(&world), 2);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM record"), 0);
    world_close(&world);
    world_close(&other);
}

/* A copy of this ledger that went on by itself. */
static void a_copy_that_went_on_is_refused(void **state)
{
    (void)state;
    struct world world, copy;
    char sql[700];
    world_open(&world);
    world_fill(&world, 3);
    world_folder_make(&copy);
    snprintf(sql, sizeof sql, "VACUUM INTO '%.500s'", copy.path);
    world_tamper(&world, sql);
    assert_int_equal(chmod(copy.path, 0600), 0);
    world_reopen(&copy);
    struct ledger_item item = item_make(LEDGER_KIND_PRESENTATION, "{\"kind\":\"stacked\",\"lane\":\"9\"}");
    assert_int_equal(world_append(&copy, item, NULL), CFOIL_OK);
    item.body = "{\"kind\":\"stacked\",\"lane\":\"8\"}";
    assert_int_equal(world_append(&world, item, NULL), CFOIL_OK);
    export_all(&copy, &stream);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_DATA_CHAIN);
    assert_non_null(strstr(world.error.text, "went on by itself"));
    assert_int_equal(entries(&world), 4);
    world_close(&world);
    world_close(&copy);
}

/* ---- Who may, and what is kept ---- */

static void reading_only_cannot_import(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    ledger_release(world.ledger);
    assert_int_equal(world_try(&world, &memory_heap, 1), CFOIL_OK);
    stream_set(&stream, GOOD_1);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_LEDGER_READ_ONLY);
    world_close(&world);
}

static void only_a_supervisor_imports(void **state)
{
    (void)state;
    struct world world;
    struct actor nobody = {NULL, false};
    world_open(&world);
    assert_int_equal(access_staff_set(world.ledger, &nobody, "01", CFOIL_ROLE_SUPERVISOR, "7391", NULL, NULL),
                     CFOIL_OK);
    stream_set(&stream, GOOD_1);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_E_STATE_SIGNED_OUT);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM record"), 0);
    world_close(&world);
}

/* What stands in tables because of the entries comes out the same when it is made again from them. */
static void everything_can_be_made_again(void **state)
{
    (void)state;
    static const char *const tables[] = {"record", "source",      "case_elsewhere", "refused_serial",
                                         "rollup", "rollup_lane", "rollup_head"};
    struct world world, other;
    char sql[300];
    other_fill(&other, 11);
    case_append(&other, CFOIL_DISPOSITION_SET_ASIDE);
    world_open(&world);
    history_append(&world, 12, 40, false);
    export_all(&other, &stream);
    assert_int_equal(import_try(&world, &stream, 0, 0), CFOIL_OK);
    assert_true(told.taken > 30);
    stream_set(&other_stream, GOOD_1 GOOD_2);
    import_is(&world, &other_stream, 2, 0, 0);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        snprintf(sql, sizeof sql, "CREATE TABLE kept_%s AS SELECT * FROM %s", tables[i], tables[i]);
        world_tamper(&world, sql);
    }
    world_tamper(&world, "DELETE FROM record; DELETE FROM case_elsewhere; DELETE FROM refused_serial;"
                         " DELETE FROM rollup WHERE reason <> 0; UPDATE rollup SET stacked = 7;"
                         " UPDATE rollup_lane SET held = 99");
    assert_int_equal(ledger_rebuild(world.ledger, NULL), CFOIL_OK);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        snprintf(sql, sizeof sql,
                 "SELECT (SELECT count(*) FROM (SELECT * FROM %s EXCEPT SELECT * FROM kept_%s)) +"
                 " (SELECT count(*) FROM (SELECT * FROM kept_%s EXCEPT SELECT * FROM %s))",
                 tables[i], tables[i], tables[i], tables[i]);
        assert_int_equal(world_query(&world, sql), 0);
        snprintf(sql, sizeof sql, "SELECT count(*) FROM kept_%s", tables[i]);
        assert_true(world_query(&world, sql) > 0);
    }
    world_close(&world);
    world_close(&other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_history_becomes_entries_once),
        cmocka_unit_test(pieces_of_any_size_are_the_same),
        cmocka_unit_test(a_dry_run_takes_nothing),
        cmocka_unit_test(a_bad_line_takes_its_batch_with_it),
        cmocka_unit_test(every_departure_is_named_with_its_line),
        cmocka_unit_test(a_line_has_its_greatest_length),
        cmocka_unit_test(a_host_may_refuse),
        cmocka_unit_test(another_ledger_is_counted_as_it_was),
        cmocka_unit_test(records_know_their_origin_on_every_way),
        cmocka_unit_test(what_was_taken_can_be_held_against_its_ledger),
        cmocka_unit_test(an_export_that_was_altered_is_refused),
        cmocka_unit_test(an_export_that_is_not_whole_is_refused),
        cmocka_unit_test(notes_of_another_store_are_not_in_our_hands),
        cmocka_unit_test(a_case_has_one_end_wherever_it_was),
        cmocka_unit_test(a_copy_that_went_on_is_refused),
        cmocka_unit_test(reading_only_cannot_import),
        cmocka_unit_test(only_a_supervisor_imports),
        cmocka_unit_test(everything_can_be_made_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
