/*
 * The kept sums say what the report says: each figure of the report against the same figure added up from cells.
 */
#include "unit/ledger/history.h"

#include "ledger/rollup.h"
#include "model/names.h"
#include "statistics/statistics.h"

struct sums {
    int64_t counts[ROLLUP_COUNTS];
    int64_t rejected[16]; /* by reason */
    int64_t conditions[32];
    int64_t cases[8]; /* by disposition */
    int64_t stacked_euros, stacked_euros_minor, stacked_without_value, set_aside_minor;
};

static bool cell_add(void *user, const struct rollup_cell *cell)
{
    struct sums *sums = user;
    const struct rollup_key *key = &cell->key;
    for (int i = 0; i < ROLLUP_COUNTS; i++)
        sums->counts[i] += cell->counts[i];
    sums->rejected[key->reason] += cell->counts[ROLLUP_REJECTED];
    sums->conditions[key->condition] += cell->counts[ROLLUP_CONDITIONS];
    sums->cases[key->disposition] += cell->counts[ROLLUP_CASES];
    if (strcmp(key->currency, "EUR") == 0) {
        sums->stacked_euros += cell->counts[ROLLUP_STACKED];
        sums->stacked_euros_minor += cell->counts[ROLLUP_STACKED] * key->value_minor;
    }
    if (key->currency[0] == '\0')
        sums->stacked_without_value += cell->counts[ROLLUP_STACKED];
    if (key->disposition == CFOIL_DISPOSITION_SET_ASIDE)
        sums->set_aside_minor += cell->counts[ROLLUP_CASES] * key->value_minor;
    return true;
}

static int64_t number_at(const cJSON *object, const char *first, const char *second, const char *third)
{
    object = cJSON_GetObjectItem(object, first);
    if (second != NULL)
        object = cJSON_GetObjectItem(object, second);
    if (third != NULL)
        object = cJSON_GetObjectItem(object, third);
    return cJSON_IsNumber(object) ? (int64_t)object->valuedouble : 0;
}

static int64_t money_in(const cJSON *list, const char *key)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, list)
    {
        if (strcmp(cJSON_GetStringValue(cJSON_GetObjectItem(item, "currency")), "EUR") == 0)
            return number_at(item, key, NULL, NULL);
    }
    return 0;
}

static void same(const cJSON *total, const struct sums *sums)
{
    const int64_t *counts = sums->counts;
    int64_t accepted = counts[ROLLUP_STACKED] + counts[ROLLUP_RETURNED] + counts[ROLLUP_HELD];
    assert_int_equal(number_at(total, "presentations", "stacked", NULL), counts[ROLLUP_STACKED]);
    assert_int_equal(number_at(total, "presentations", "returned", NULL), counts[ROLLUP_RETURNED]);
    assert_int_equal(number_at(total, "presentations", "held_open", NULL), counts[ROLLUP_HELD]);
    assert_int_equal(number_at(total, "presentations", "rejected", NULL), counts[ROLLUP_REJECTED]);
    for (int32_t reason = CFOIL_REASON_AUTHENTICITY; reason <= CFOIL_REASON_TAMPERING + 1; reason++)
        assert_int_equal(number_at(total, "presentations", "rejected_by_reason", name_reason(reason)),
                         sums->rejected[reason]);
    const cJSON *rate = cJSON_GetArrayItem(cJSON_GetObjectItem(total, "rates"), 0);
    assert_string_equal(cJSON_GetStringValue(cJSON_GetObjectItem(rate, "name")), "accepted");
    /* Every trial is a first one or a retry; every retry that was accepted recovers one first refusal. */
    assert_int_equal(number_at(rate, "count", NULL, NULL), accepted);
    assert_int_equal(accepted, counts[ROLLUP_ACCEPTED_FIRST] + counts[ROLLUP_ACCEPTED_RETRY]);
    assert_int_equal(number_at(rate, "of", NULL, NULL),
                     accepted + counts[ROLLUP_REJECTED_FIRST] + counts[ROLLUP_REJECTED_RETRY]);
    assert_int_equal(counts[ROLLUP_RECOVERED], counts[ROLLUP_ACCEPTED_RETRY]);
    assert_int_equal(money_in(cJSON_GetObjectItem(total, "money_stacked"), "notes"), sums->stacked_euros);
    assert_int_equal(money_in(cJSON_GetObjectItem(total, "money_stacked"), "value_minor"), sums->stacked_euros_minor);
    assert_int_equal(number_at(total, "stacked_without_value", NULL, NULL), sums->stacked_without_value);
    for (int32_t condition = 1; condition <= CFOIL_CONDITION_IDENTIFIED + 1; condition++)
        assert_int_equal(number_at(total, "device", "conditions", name_condition(condition)),
                         sums->conditions[condition]);
    assert_int_equal(number_at(total, "device", "loss_reports", NULL), counts[ROLLUP_LOSSES]);
    assert_int_equal(number_at(total, "device", "loss_reports_without_number", NULL), counts[ROLLUP_LOSSES_UNCOUNTED]);
    assert_int_equal(number_at(total, "device", "events_lost", NULL), counts[ROLLUP_EVENTS_LOST]);
    assert_int_equal(number_at(total, "device", "connections_lost", NULL), counts[ROLLUP_CONNECTIONS_LOST]);
    assert_int_equal(number_at(total, "cases", "count", NULL), counts[ROLLUP_CASES]);
    assert_int_equal(number_at(total, "cases", "overrides", NULL), counts[ROLLUP_OVERRIDES]);
    const cJSON *ended = cJSON_GetObjectItem(cJSON_GetObjectItem(total, "cases"), "by_disposition");
    for (int32_t end = CFOIL_DISPOSITION_TAKEN; end <= CFOIL_DISPOSITION_ABANDONED; end++)
        assert_int_equal(number_at(ended, name_disposition(end), "count", NULL), sums->cases[end]);
    assert_int_equal(
        money_in(cJSON_GetObjectItem(cJSON_GetObjectItem(total, "cases"), "money_set_aside"), "value_minor"),
        sums->set_aside_minor);
}

static void the_sums_say_what_the_report_says(void **state)
{
    (void)state;
    int64_t accepted_again = 0;
    int64_t rejected_again = 0;
    for (uint64_t seed = 21; seed <= 26; seed++) {
        struct world world;
        struct sums sums = {0};
        struct rollup_query query = {0};
        cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
        char *text;
        bool kept;
        world_open(&world);
        history_append(&world, seed, 250, seed % 2 == 0); /* half of them with imported entries */
        assert_int_equal(report_text(world.ledger, &options, &text, NULL), CFOIL_OK);
        assert_int_equal(rollup_kept_cells(world.ledger, &query, cell_add, &sums, &kept, NULL), CFOIL_OK);
        assert_true(kept);
        accepted_again += sums.counts[ROLLUP_ACCEPTED_RETRY];
        rejected_again += sums.counts[ROLLUP_REJECTED_RETRY];
        cJSON *report = cJSON_Parse(text);
        assert_non_null(report);
        same(cJSON_GetObjectItem(report, "total"), &sums);
        cJSON_Delete(report);
        cJSON_free(text);
        world_close(&world);
    }
    assert_true(accepted_again > 4 && rejected_again > 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_sums_say_what_the_report_says)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
