/*
 * The sums that the ledger keeps: what each entry adds, and that they are always what counting all entries gives.
 */
#include "history.h"
#include "version_1.h"

#include "ledger/append.h"
#include "ledger/rollup.h"

/* ---- Cells, collected ---- */

struct cells {
    struct rollup_cell all[4096];
    size_t count;
};

static bool cell_collect(void *user, const struct rollup_cell *cell)
{
    struct cells *cells = user;
    assert_true(cells->count < sizeof cells->all / sizeof cells->all[0]);
    cells->all[cells->count++] = *cell;
    return true;
}

static int cell_order(const void *one, const void *other)
{
    const struct rollup_key *a = &((const struct rollup_cell *)one)->key;
    const struct rollup_key *b = &((const struct rollup_cell *)other)->key;
    char texts[2][400];
    const struct rollup_key *keys[2] = {a, b};
    for (int i = 0; i < 2; i++)
        snprintf(texts[i], sizeof texts[i], "%lld|%lld|%s|%s|%lld|%s|%d|%u|%d|%d|%d|%d", (long long)keys[i]->hour,
                 (long long)keys[i]->source, keys[i]->lane, keys[i]->currency, (long long)keys[i]->value_minor,
                 keys[i]->type, keys[i]->reason, keys[i]->channels, keys[i]->condition, keys[i]->disposition,
                 keys[i]->advice, keys[i]->move);
    return strcmp(texts[0], texts[1]);
}

static int64_t total(const struct cells *cells, enum rollup_count which)
{
    int64_t sum = 0;
    for (size_t i = 0; i < cells->count; i++)
        sum += cells->all[i].counts[which];
    return sum;
}

static void cells_kept(struct world *world, const struct rollup_query *query, struct cells *cells)
{
    bool kept;
    cells->count = 0;
    assert_int_equal(rollup_kept_cells(world->ledger, query, cell_collect, cells, &kept, NULL), CFOIL_OK);
    assert_true(kept);
}

static void cells_counted(struct world *world, const struct rollup_query *query, struct cells *cells)
{
    cells->count = 0;
    assert_int_equal(rollup_counted_cells(world->ledger, query, cell_collect, cells, NULL), CFOIL_OK);
}

static void cells_equal(struct cells *one, struct cells *other)
{
    assert_int_equal(one->count, other->count);
    qsort(one->all, one->count, sizeof one->all[0], cell_order);
    qsort(other->all, other->count, sizeof other->all[0], cell_order);
    for (size_t i = 0; i < one->count; i++) {
        assert_int_equal(cell_order(&one->all[i], &other->all[i]), 0);
        assert_memory_equal(one->all[i].counts, other->all[i].counts, sizeof one->all[i].counts);
    }
}

static struct cells first, second;
static const struct rollup_query everything = {0, 0, NULL, false};

/* ---- What an entry adds ---- */

static void event_append(struct world *world, int64_t after_ms, const char *body)
{
    struct ledger_item item = item_make(LEDGER_KIND_PRESENTATION, body);
    item.time_utc_ms += after_ms;
    assert_int_equal(world_append(world, item, NULL), CFOIL_OK);
}

#define REFUSED                                                                                                        \
    "{\"kind\":\"rejected\",\"lane\":\"1\",\"reason\":\"authenticity\",\"findings\":[{\"channel\":\"infrared\"}]}"
#define STACKED                                                                                                        \
    "{\"kind\":\"stacked\",\"lane\":\"1\",\"currency\":\"EUR\",\"value_minor\":2000,\"note_name\":\"EU0020B\"}"
#define HELD "{\"kind\":\"held\",\"lane\":\"1\",\"currency\":\"EUR\",\"value_minor\":2000,\"presentation\":7,\"seq\":9}"
#define RETURNED                                                                                                       \
    "{\"kind\":\"returned\",\"lane\":\"1\",\"currency\":\"EUR\",\"value_minor\":2000,\"presentation\":7,\"seq\":10}"

static void totals_are(struct world *world, int64_t accepted_first, int64_t accepted_retry, int64_t rejected_first,
                       int64_t rejected_retry, int64_t recovered)
{
    cells_kept(world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_ACCEPTED_FIRST), accepted_first);
    assert_int_equal(total(&first, ROLLUP_ACCEPTED_RETRY), accepted_retry);
    assert_int_equal(total(&first, ROLLUP_REJECTED_FIRST), rejected_first);
    assert_int_equal(total(&first, ROLLUP_REJECTED_RETRY), rejected_retry);
    assert_int_equal(total(&first, ROLLUP_RECOVERED), recovered);
}

static void a_note_put_in_again_is_one_note(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    event_append(&world, 0, REFUSED);
    event_append(&world, 8000, REFUSED);
    event_append(&world, 8000 + ROLLUP_RETRY_MS, STACKED);
    totals_are(&world, 0, 1, 1, 1, 1);
    /* The recovery stands where the first refusal stands: with its reason and its channel. */
    bool found = false;
    for (size_t i = 0; i < first.count; i++) {
        const struct rollup_cell *cell = &first.all[i];
        if (cell->counts[ROLLUP_RECOVERED] == 0)
            continue;
        found = true;
        assert_int_equal(cell->key.reason, CFOIL_REASON_AUTHENTICITY);
        assert_int_equal(cell->key.channels, 1u << CFOIL_CHANNEL_INFRARED);
        assert_int_equal(cell->counts[ROLLUP_REJECTED], 2);
    }
    assert_true(found);
    event_append(&world, 30000, STACKED); /* after the acceptance a new note begins */
    totals_are(&world, 1, 1, 1, 1, 1);
    world_close(&world);
}

static void what_comes_too_late_is_another_note(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    event_append(&world, 0, REFUSED);
    event_append(&world, ROLLUP_RETRY_MS + 1, STACKED);
    totals_are(&world, 1, 0, 1, 0, 0);
    event_append(&world, 100000, REFUSED);
    event_append(&world, 99000, STACKED); /* the clock was set back: nothing can be said */
    totals_are(&world, 2, 0, 2, 0, 0);
    world_close(&world);
}

static void a_note_of_another_value_is_another_note(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    event_append(&world, 0, "{\"kind\":\"rejected\",\"lane\":\"1\",\"currency\":\"EUR\",\"value_minor\":5000}");
    event_append(&world, 1000, STACKED);
    totals_are(&world, 1, 0, 1, 0, 0);
    world_close(&world);
}

static void settings_and_troubles_are_no_trials(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    event_append(&world, 0, REFUSED);
    event_append(&world, 1000, "{\"kind\":\"rejected\",\"lane\":\"1\",\"reason\":\"not_enabled\"}");
    event_append(&world, 2000, "{\"kind\":\"rejected\",\"lane\":\"1\",\"reason\":\"device_condition\"}");
    event_append(&world, 3000, "{\"kind\":\"rejected\",\"lane\":\"1\",\"reason\":\"tampering\"}");
    event_append(&world, 4000, STACKED);
    totals_are(&world, 0, 1, 1, 0, 1);
    assert_int_equal(total(&first, ROLLUP_REJECTED), 4);
    world_close(&world);
}

/* Held, then returned: one insertion, one trial; the hour of each counts for itself. */
static void a_held_note_counts_once(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    event_append(&world, 0, HELD);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_HELD), 1);
    event_append(&world, ROLLUP_HOUR_MS, RETURNED);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_HELD), 0);
    assert_int_equal(total(&first, ROLLUP_RETURNED), 1);
    assert_int_equal(total(&first, ROLLUP_ACCEPTED_FIRST), 1);
    assert_int_equal(first.count, 2);
    world_close(&world);
}

/* ---- Always what counting gives ---- */

static void rows_take(struct world *world, char *text, size_t size)
{
    sqlite3 *other;
    sqlite3_stmt *rows;
    size_t used = 0;
    static const char *const queries[] = {"SELECT * FROM rollup ORDER BY 1,2,3,4,5,6,7,8,9,10,11,12,13",
                                          "SELECT * FROM rollup_lane ORDER BY 1, 2", "SELECT * FROM rollup_head",
                                          "SELECT * FROM source ORDER BY 1"};
    assert_int_equal(sqlite3_open(world->path, &other), SQLITE_OK);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(sqlite3_prepare_v2(other, queries[i], -1, &rows, NULL), SQLITE_OK);
        while (sqlite3_step(rows) == SQLITE_ROW) {
            for (int column = 0; column < sqlite3_column_count(rows); column++)
                used += (size_t)snprintf(text + used, size - used, "%s|",
                                         (const char *)sqlite3_column_text(rows, column));
            assert_true(used + 1000 < size);
            text[used++] = '\n';
        }
        sqlite3_finalize(rows);
    }
    text[used] = '\0';
    sqlite3_close(other);
}

static int32_t make_again(struct ledger *ledger, void *user, cfoil_error_info *error)
{
    (void)user;
    (void)error;
    return rollup_make(ledger) == SQLITE_OK ? CFOIL_OK : CFOIL_E_LEDGER_FAILED;
}

/* In the file: kept in many small transactions, and made again in one. By the walk: kept against counted, for hours, for
 * days, and for one lane. */
static void random_histories_are_counted_exactly(void **state)
{
    (void)state;
    static char before[1 << 20], after[1 << 20];
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct world world;
        world_open(&world);
        history_append(&world, seed, 150, true);
        rows_take(&world, before, sizeof before);
        assert_int_equal(ledger_transact(world.ledger, make_again, NULL, &world.error), CFOIL_OK);
        rows_take(&world, after, sizeof after);
        assert_string_equal(before, after);

        cells_kept(&world, &everything, &first);
        cells_counted(&world, &everything, &second);
        assert_true(first.count > 20);
        cells_equal(&first, &second);
        struct rollup_query lane = {0, 0, "2", false};
        cells_kept(&world, &lane, &first);
        cells_counted(&world, &lane, &second);
        assert_true(first.count > 0);
        cells_equal(&first, &second);
        struct rollup_query days = {0, 0, NULL, true};
        cells_kept(&world, &everything, &first);
        cells_kept(&world, &days, &second);
        assert_true(second.count < first.count);
        for (int which = 0; which < ROLLUP_COUNTS; which++)
            assert_int_equal(total(&first, which), total(&second, which));
        world_close(&world);
    }
}

/* The hours of a period: each cell whose hour lies in it, from hour cells alone and from days with hours around them. */
static void a_period_is_its_hours(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    history_append(&world, 99, 300, false);
    cells_kept(&world, &everything, &first);
    int64_t lowest = first.all[0].key.hour;
    for (size_t i = 0; i < first.count; i++)
        lowest = first.all[i].key.hour < lowest ? first.all[i].key.hour : lowest;
    for (int64_t length = 1; length <= 80; length += 13) {
        struct rollup_query part = {(lowest + 5) * ROLLUP_HOUR_MS, (lowest + 5 + length) * ROLLUP_HOUR_MS, NULL, false};
        for (int days = 0; days < 2; days++) {
            int64_t want[ROLLUP_COUNTS] = {0};
            part.days = days != 0;
            cells_kept(&world, &part, &second);
            for (size_t i = 0; i < first.count; i++) {
                int64_t hour = first.all[i].key.hour;
                for (int which = 0; hour >= lowest + 5 && hour < lowest + 5 + length && which < ROLLUP_COUNTS; which++)
                    want[which] += first.all[i].counts[which];
            }
            for (int which = 0; which < ROLLUP_COUNTS; which++)
                assert_int_equal(total(&second, which), want[which]);
        }
    }
    struct rollup_query inside = {lowest * ROLLUP_HOUR_MS + 1, 0, NULL, false};
    bool kept = true;
    assert_int_equal(rollup_kept_cells(world.ledger, &inside, cell_collect, &second, &kept, NULL), CFOIL_OK);
    assert_false(kept);
    world_close(&world);
}

/* ---- Both or neither ---- */

static void what_is_taken_back_is_not_counted(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    struct ledger_item items[2] = {item_make(LEDGER_KIND_PRESENTATION, STACKED),
                                   case_make("01900000-0000-7000-8000-000000000001", CFOIL_DISPOSITION_TAKEN)};
    assert_int_equal(
        world_append(&world, case_make("01900000-0000-7000-8000-000000000001", CFOIL_DISPOSITION_TAKEN), NULL),
        CFOIL_OK);
    assert_int_equal(ledger_append(world.ledger, items, 2, NULL, NULL, NULL), CFOIL_E_STATE_CASE_ENDED);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_STACKED), 0);
    assert_int_equal(total(&first, ROLLUP_CASES), 1);
    event_append(&world, 0, STACKED);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_STACKED), 1);
    world_close(&world);
}

/* An entry cannot be there without its sums: when they cannot be written, nothing is. */
static void without_the_sums_there_is_no_entry(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    world_tamper(&world, "CREATE TRIGGER no_sums BEFORE INSERT ON rollup BEGIN SELECT RAISE(ABORT, 'no'); END");
    assert_int_not_equal(world_append(&world, item_make(LEDGER_KIND_PRESENTATION, STACKED), NULL), CFOIL_OK);
    assert_int_equal(world_query(&world, "SELECT count(*) FROM entry"), 1);
    world_tamper(&world, "DROP TRIGGER no_sums");
    event_append(&world, 0, STACKED);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_STACKED), 1);
    world_close(&world);
}

/* A program of an older version that has the file open goes on appending without counting. */
static void what_an_older_program_appends_is_counted_later(void **state)
{
    (void)state;
    struct world world;
    uint8_t hash[32];
    sqlite3 *other;
    sqlite3_stmt *head;
    world_open(&world);
    assert_int_equal(sqlite3_open(world.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(other, "SELECT hash FROM head", -1, &head, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(head), SQLITE_ROW);
    memcpy(hash, sqlite3_column_blob(head, 0), sizeof hash);
    sqlite3_finalize(head);
    struct chain_entry entry = {.number = 2,
                                .time_utc_ms = INT64_C(1764000000000),
                                .kind = chain_text_of(LEDGER_KIND_PRESENTATION),
                                .body = chain_text_of(STACKED)};
    version_1_entry_add(other, &entry, hash);
    sqlite3_close(other);

    bool kept = true;
    first.count = 0;
    assert_int_equal(rollup_kept_cells(world.ledger, &everything, cell_collect, &first, &kept, NULL), CFOIL_OK);
    assert_false(kept);
    assert_int_equal(rollup_cells(world.ledger, &everything, cell_collect, &first, NULL), CFOIL_OK);
    assert_int_equal(total(&first, ROLLUP_STACKED), 1);
    event_append(&world, 0, STACKED);
    cells_kept(&world, &everything, &first);
    assert_int_equal(total(&first, ROLLUP_STACKED), 2);
    assert_int_equal(world_verify(&world).intact, 1);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_put_in_again_is_one_note),
        cmocka_unit_test(what_comes_too_late_is_another_note),
        cmocka_unit_test(a_note_of_another_value_is_another_note),
        cmocka_unit_test(settings_and_troubles_are_no_trials),
        cmocka_unit_test(a_held_note_counts_once),
        cmocka_unit_test(random_histories_are_counted_exactly),
        cmocka_unit_test(a_period_is_its_hours),
        cmocka_unit_test(what_is_taken_back_is_not_counted),
        cmocka_unit_test(without_the_sums_there_is_no_entry),
        cmocka_unit_test(what_an_older_program_appends_is_counted_later),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
