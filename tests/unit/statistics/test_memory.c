/*
 * Does the report survive every failing allocation, SQLite's and cJSON's included, and never tell wrong figures instead?
 */
#include "../ledger/world.h"

#include "../ledger/scarce_heap.h"
#include "statistics/statistics.h"

struct trial {
    struct world world;
    cfoil_report_options options;
    char *text;
    char *right; /* the text with memory enough */
};

static int32_t report_call(void *user)
{
    struct trial *trial = user;
    return report_text(trial->world.ledger, &trial->options, &trial->text, &trial->world.error);
}

static void report_check(void *user, int32_t result)
{
    struct trial *trial = user;
    assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
    assert_true((result == CFOIL_OK) == (trial->text != NULL));
    if (trial->text != NULL)
        assert_string_equal(trial->text, trial->right);
    cJSON_free(trial->text);
    trial->text = NULL;
}

static const char *const bodies[][2] = {
    {LEDGER_KIND_PRESENTATION,
     "{\"kind\":\"stacked\",\"currency\":\"EUR\",\"value_minor\":500,\"lane\":\"1\",\"seq\":1,\"presentation\":1}"},
    {LEDGER_KIND_PRESENTATION, "{\"kind\":\"rejected\",\"reason\":\"handling\",\"lane\":\"2\",\"seq\":1}"},
    {LEDGER_KIND_DEVICE, "{\"kind\":\"device\",\"condition\":\"jam_safe\",\"lane\":\"1\",\"seq\":2}"},
    {LEDGER_KIND_CASE, "{\"disposition\":\"set_aside\",\"advice\":\"set_aside\",\"currency\":\"EUR\",\"value_minor\":"
                       "500,\"lane\":\"1\"}"},
};

static void report_with_scarce_memory(int32_t format)
{
    for (int for_ever = 0; for_ever < 2; for_ever++) {
        struct trial trial = {.options = CFOIL_REPORT_OPTIONS_INIT};
        trial.options.format = format;
        world_folder_make(&trial.world);
        assert_int_equal(world_try(&trial.world, &heap_memory, 0), CFOIL_OK);
        for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++)
            assert_int_equal(world_append(&trial.world, item_make(bodies[i][0], bodies[i][1]), NULL), CFOIL_OK);
        assert_int_equal(report_text(trial.world.ledger, &trial.options, &trial.right, &trial.world.error), CFOIL_OK);
        long blocks = heap.blocks;
        assert_true(heap_fail_each(for_ever != 0, 1, report_call, report_check, &trial) > 100);
        assert_int_equal(heap.blocks, blocks);
        cJSON_free(trial.right);
        ledger_release(trial.world.ledger);
        trial.world.ledger = NULL;
        assert_int_equal(heap.blocks, 0);
        world_close(&trial.world);
    }
}

static void as_json(void **state)
{
    (void)state;
    report_with_scarce_memory(CFOIL_FORMAT_JSON);
}

static void as_text(void **state)
{
    (void)state;
    report_with_scarce_memory(CFOIL_FORMAT_TEXT);
}

static void as_page(void **state)
{
    (void)state;
    report_with_scarce_memory(CFOIL_FORMAT_HTML);
}

int main(void)
{
    if (!heap_hooks_set())
        return 1;
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_json), cmocka_unit_test(as_text), cmocka_unit_test(as_page)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
