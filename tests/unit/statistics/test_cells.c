/*
 * The table of counts: notes that are fed again, notes that a case names later, sums by view, many cells.
 */
#include "statistics/cells.h"

#include "test.h"

#define HOUR INT64_C(3600000)

struct shop {
    struct cells cells;
    struct lane_watch watch;
    uint16_t lane, unknown, ten, ten_b, twenty;
    uint64_t sequence;
};

static void shop_open(struct shop *shop)
{
    *shop = (struct shop){.cells = {.memory = &memory_heap}};
    assert_true(cells_lane(&shop->cells, "one", &shop->lane));
    assert_true(cells_note(&shop->cells, "", 5, "x", &shop->unknown));
    assert_true(cells_note(&shop->cells, "XTS", 1000, "", &shop->ten));
    assert_true(cells_note(&shop->cells, "XTS", 1000, "B", &shop->ten_b));
    assert_true(cells_note(&shop->cells, "XTS", 2000, "", &shop->twenty));
}

static uint64_t put_in(struct shop *shop, int64_t time_ms, uint16_t note, uint8_t outcome)
{
    struct insertion insertion = {
        .time_utc_ms = time_ms, .sequence = ++shop->sequence, .lane = shop->lane, .note = note, .outcome = outcome};
    if (outcome == CELL_REFUSED) {
        insertion.reason = CFOIL_REASON_AUTHENTICITY;
        insertion.channel = CFOIL_CHANNEL_INFRARED;
    }
    assert_true(insertion_count(&shop->cells, &shop->watch, &insertion));
    return shop->sequence;
}

static struct cell_sums sums_of(const struct cells *cells)
{
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < cells->count; i++)
        cell_sums_add(&sums, &cells->cells[i]);
    return sums;
}

static void a_note_that_is_fed_again_is_one_note(void **state)
{
    (void)state;
    struct shop shop;
    shop_open(&shop);
    put_in(&shop, 0, shop.unknown, CELL_REFUSED);
    put_in(&shop, 9000, shop.unknown, CELL_FEEDING);
    put_in(&shop, 29000, shop.ten, CELL_ACCEPTED); /* just soon enough */
    put_in(&shop, 30000, shop.ten, CELL_ACCEPTED); /* after an acceptance it is another note */
    put_in(&shop, 80000, shop.unknown, CELL_REFUSED);
    put_in(&shop, 90000, shop.unknown, CELL_NO_TRIAL); /* changes nothing */
    put_in(&shop, 100001, shop.ten, CELL_ACCEPTED);    /* too late to be the same */
    struct cell_sums sums = sums_of(&shop.cells);
    assert_int_equal(cell_trials(sums.insertions), 6);
    assert_int_equal(cell_trials(sums.firsts), 4);
    assert_int_equal(cell_trials(sums.lasts), 4);
    assert_int_equal(sums.firsts[CELL_REFUSED], 2);
    assert_int_equal(sums.lasts[CELL_REFUSED], 1);
    assert_int_equal(sums.firsts[CELL_FEEDING], 0);
    assert_int_equal(sums.lasts[CELL_ACCEPTED], 3);
    assert_int_equal(sums.insertions[CELL_NO_TRIAL], 1);
    assert_int_equal(sums.firsts[CELL_NO_TRIAL], 0);
    cells_free(&shop.cells);
}

static void another_value_is_another_note(void **state)
{
    (void)state;
    struct shop shop;
    shop_open(&shop);
    put_in(&shop, 0, shop.ten, CELL_REFUSED);
    put_in(&shop, 1000, shop.twenty, CELL_REFUSED);
    put_in(&shop, 2000, shop.unknown, CELL_ACCEPTED);
    struct cell_sums sums = sums_of(&shop.cells);
    assert_int_equal(cell_trials(sums.firsts), 2);
    assert_int_equal(sums.lasts[CELL_REFUSED], 1);
    cells_free(&shop.cells);
}

static uint32_t insertions_of(const struct shop *shop, uint16_t note, uint8_t outcome)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < shop->cells.count; i++) {
        const struct cell *cell = &shop->cells.cells[i];
        count += cell->key.note == note && cell->key.outcome == outcome ? cell->counts.insertions : 0;
    }
    return count;
}

static void a_case_names_the_note_later(void **state)
{
    (void)state;
    struct shop shop;
    shop_open(&shop);
    uint64_t first = put_in(&shop, 0, shop.unknown, CELL_REFUSED);
    uint64_t again = put_in(&shop, 5000, shop.unknown, CELL_REFUSED);
    put_in(&shop, HOUR, shop.ten, CELL_ACCEPTED);
    assert_true(insertion_identify(&shop.cells, &shop.watch, first, shop.ten_b));
    assert_true(insertion_identify(&shop.cells, &shop.watch, again, shop.ten_b));
    assert_true(insertion_identify(&shop.cells, &shop.watch, 0, shop.ten_b));
    assert_true(insertion_identify(&shop.cells, &shop.watch, 99, shop.ten_b));
    assert_int_equal(insertions_of(&shop, shop.unknown, CELL_REFUSED), 0);
    assert_int_equal(insertions_of(&shop, shop.ten_b, CELL_REFUSED), 2);
    struct cell_sums sums = sums_of(&shop.cells);
    assert_int_equal(sums.firsts[CELL_REFUSED], 1);
    assert_int_equal(sums.lasts[CELL_REFUSED], 1);
    /* One that was named is named again: the newer word counts, and nothing is doubled. */
    assert_true(insertion_identify(&shop.cells, &shop.watch, first, shop.twenty));
    assert_int_equal(insertions_of(&shop, shop.ten_b, CELL_REFUSED), 1);
    assert_int_equal(insertions_of(&shop, shop.twenty, CELL_REFUSED), 1);
    cells_free(&shop.cells);
}

static void old_refusals_are_forgotten(void **state)
{
    (void)state;
    struct shop shop;
    shop_open(&shop);
    uint64_t first = put_in(&shop, 0, shop.unknown, CELL_REFUSED);
    for (uint32_t i = 0; i < LANE_WATCH_REFUSALS; i++)
        put_in(&shop, (i + 1) * HOUR, shop.unknown, CELL_REFUSED);
    assert_true(insertion_identify(&shop.cells, &shop.watch, first, shop.ten));
    assert_int_equal(insertions_of(&shop, shop.ten, CELL_REFUSED), 0);
    /* Numbers begin again when a lane is opened again: the newest one is meant. */
    shop.sequence = 0;
    put_in(&shop, 1000 * HOUR, shop.unknown, CELL_REFUSED);
    shop.sequence = 0;
    put_in(&shop, 2000 * HOUR, shop.unknown, CELL_REFUSED);
    assert_true(insertion_identify(&shop.cells, &shop.watch, 1, shop.ten));
    for (uint32_t i = 0; i < shop.cells.count; i++) {
        if (shop.cells.cells[i].key.note == shop.ten)
            assert_int_equal(shop.cells.cells[i].key.hour, 2000);
    }
    assert_int_equal(insertions_of(&shop, shop.ten, CELL_REFUSED), 1);
    cells_free(&shop.cells);
}

static struct cells seen(const struct shop *shop, struct cell_view view)
{
    struct cells sums = {.memory = &memory_heap};
    assert_true(cells_sum(&shop->cells, &view, &sums));
    return sums;
}

/* 1970-01-01 was a Thursday; its week began on the Monday before. */
static void sums_by_time_and_note(void **state)
{
    (void)state;
    struct shop shop;
    shop_open(&shop);
    put_in(&shop, -1, shop.ten, CELL_ACCEPTED); /* 1969-12-31, 23 h */
    put_in(&shop, 0, shop.ten_b, CELL_ACCEPTED);
    put_in(&shop, 4 * 24 * HOUR - 1, shop.ten, CELL_ACCEPTED); /* Sunday */
    put_in(&shop, 4 * 24 * HOUR, shop.twenty, CELL_ACCEPTED);  /* Monday */
    struct cells days = seen(&shop, (struct cell_view){.span = CELL_SPAN_DAY});
    static const int32_t expected_days[] = {-1, 0, 3, 4};
    assert_int_equal(days.count, 4);
    for (uint32_t i = 0; i < 4; i++)
        assert_int_equal(days.cells[i].key.hour, expected_days[i]);
    struct cells weeks = seen(&shop, (struct cell_view){.span = CELL_SPAN_WEEK});
    assert_int_equal(weeks.count, 2);
    assert_int_equal(weeks.cells[0].key.hour, -3);
    assert_int_equal(weeks.cells[0].counts.insertions, 3);
    assert_int_equal(weeks.cells[1].key.hour, 4);
    struct cells hours = seen(&shop, (struct cell_view){.span = CELL_SPAN_HOUR_OF_DAY});
    assert_int_equal(hours.count, 2);
    assert_int_equal(hours.cells[0].key.hour, 0);
    assert_int_equal(hours.cells[1].key.hour, 23);
    struct cells notes = seen(&shop, (struct cell_view){.note = true});
    assert_int_equal(notes.count, 2); /* series apart from the value are not asked for */
    struct cell_key key = {0, CELL_ALL, shop.ten, CELL_ALL, CELL_OUTCOMES, UINT8_MAX};
    assert_int_equal(cells_find(&notes, &key)->counts.insertions, 3);
    key.note = shop.unknown;
    assert_null(cells_find(&notes, &key));
    cells_free(&days);
    cells_free(&weeks);
    cells_free(&hours);
    cells_free(&notes);
    cells_free(&shop.cells);
}

static void many_cells_are_found_again(void **state)
{
    (void)state;
    struct cells cells = {.memory = &memory_heap};
    enum { MANY = 5000 };
    for (int32_t round = 0; round < 2; round++) {
        for (int32_t i = 0; i < MANY; i++) {
            struct cell_key key = {.hour = i / 7, .lane = (uint16_t)(i % 7), .reason = (uint8_t)(i % 5)};
            struct cell *cell = cells_at(&cells, &key);
            assert_non_null(cell);
            cell->counts.insertions += (uint32_t)i;
        }
    }
    assert_int_equal(cells.count, MANY);
    for (int32_t i = 0; i < MANY; i++) {
        struct cell_key key = {.hour = i / 7, .lane = (uint16_t)(i % 7), .reason = (uint8_t)(i % 5)};
        assert_int_equal(cells_find(&cells, &key)->counts.insertions, 2 * i);
    }
    cells_free(&cells);
    assert_null(cells_find(&cells, &(struct cell_key){.hour = 1}));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_note_that_is_fed_again_is_one_note),
        cmocka_unit_test(another_value_is_another_note),
        cmocka_unit_test(a_case_names_the_note_later),
        cmocka_unit_test(old_refusals_are_forgotten),
        cmocka_unit_test(sums_by_time_and_note),
        cmocka_unit_test(many_cells_are_found_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
