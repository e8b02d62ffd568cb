/*
 * What counts as a trial of a machine: one note, once, and only what speaks of notes.
 */
#include "../ledger/world.h"

#include "model/names.h"
#include "statistics/lane_record.h"

static void tell(struct world *world, const char *lane, int32_t kind, int presentation, const char *reason)
{
    char body[256];
    snprintf(body, sizeof body, "{\"kind\":\"%s\",\"lane\":\"%s\",\"presentation\":%d%s%s%s}", name_kind(kind), lane,
             presentation, reason[0] != '\0' ? ",\"reason\":\"" : "", reason, reason[0] != '\0' ? "\"" : "");
    assert_int_equal(world_append(world, item_make(LEDGER_KIND_PRESENTATION, body), NULL), CFOIL_OK);
}

static void counts(struct world *world, const char *lane, uint64_t presentations, uint64_t refusals)
{
    struct lane_record record;
    assert_int_equal(lane_record_count(world->ledger, lane, &record, &world->error), CFOIL_OK);
    assert_int_equal(record.presentations, presentations);
    assert_int_equal(record.refusals, refusals);
}

static void one_note_is_one_trial(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    counts(&world, "lane 1", 0, 0);
    tell(&world, "lane 1", CFOIL_KIND_HELD, 1, "");
    tell(&world, "lane 1", CFOIL_KIND_STACKED, 1, "");
    counts(&world, "lane 1", 1, 0);
    tell(&world, "lane 1", CFOIL_KIND_STACKED, 2, "");
    tell(&world, "lane 1", CFOIL_KIND_HELD, 3, "");
    tell(&world, "lane 1", CFOIL_KIND_RETURNED, 3, "");
    counts(&world, "lane 1", 3, 0);
    tell(&world, "lane 1", CFOIL_KIND_REJECTED, 4, "authenticity");
    tell(&world, "lane 1", CFOIL_KIND_REJECTED, 5, "not_recognised"); /* fed again */
    counts(&world, "lane 1", 4, 1);
    tell(&world, "lane 1", CFOIL_KIND_STACKED, 0, "");
    tell(&world, "lane 1", CFOIL_KIND_REJECTED, 7, "");
    counts(&world, "lane 1", 6, 2);
    tell(&world, "lane 1", CFOIL_KIND_STACKED, 0, "");
    for (int32_t reason = CFOIL_REASON_HANDLING; reason <= CFOIL_REASON_TAMPERING; reason++)
        tell(&world, "lane 1", CFOIL_KIND_REJECTED, 8, name_reason(reason));
    tell(&world, "lane 2", CFOIL_KIND_REJECTED, 1, "authenticity");
    counts(&world, "lane 1", 7, 2);
    counts(&world, "lane 2", 1, 1);
    counts(&world, "lane 3", 0, 0);
    world_close(&world);
}

static void other_entries_and_other_hands_do_not_matter(void **state)
{
    (void)state;
    struct world world;
    world_open(&world);
    assert_int_equal(world_append(&world, item_make(LEDGER_KIND_DEVICE, "{\"kind\":\"held\",\"lane\":\"a\"}"), NULL),
                     CFOIL_OK);
    assert_int_equal(world_append(&world, item_make(LEDGER_KIND_PRESENTATION, "not JSON"), NULL), CFOIL_OK);
    assert_int_equal(world_append(&world, item_make(LEDGER_KIND_PRESENTATION, "{\"lane\":1}"), NULL), CFOIL_OK);
    counts(&world, "a", 0, 0);
    assert_int_equal(
        world_append(&world, item_make(LEDGER_KIND_PRESENTATION, "{\"kind\":\"held\",\"lane\":\"a\"}"), NULL),
        CFOIL_OK);
    counts(&world, "a", 1, 0);
    world_close(&world);
}

static bool numbers_take(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    (void)kind;
    (void)time_utc_ms;
    (void)body;
    int64_t *numbers = user;
    numbers[++numbers[0]] = number;
    return true;
}

static void only_the_newest_entries_are_read(void **state)
{
    (void)state;
    struct world world;
    int64_t numbers[8] = {0};
    world_open(&world);
    for (int i = 0; i < 5; i++)
        tell(&world, "a", CFOIL_KIND_STACKED, i + 1, "");
    assert_int_equal(ledger_walk_newest(world.ledger, 2, numbers_take, numbers, &world.error), CFOIL_OK);
    assert_int_equal(numbers[0], 2);
    assert_int_equal(numbers[1], 5);
    assert_int_equal(numbers[2], 6);
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_note_is_one_trial),
        cmocka_unit_test(other_entries_and_other_hands_do_not_matter),
        cmocka_unit_test(only_the_newest_entries_are_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
