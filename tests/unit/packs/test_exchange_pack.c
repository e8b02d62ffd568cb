/*
 * The packs of rules for damaged notes: one spoilt copy of the rupee's for each kind of fault.
 */
#include "pack_texts.h"
#include "packs/pack_data.h"
#include "test.h"

static char rupee[65536];

static int rupee_load(void **state)
{
    (void)state;
    FILE *file = fopen(SOURCE_DIR "/plugin/packs/exchange-inr.json", "rb");
    assert_non_null(file);
    rupee[fread(rupee, 1, sizeof rupee - 1, file)] = '\0';
    fclose(file);
    return 0;
}

static const struct {
    const char *from, *to, *says;
} faults[] = {
    {"\"id\": \"INR\"", "\"id\": \"I R\"", "id: line 3"},
    {"\"title\"", "\"name\"", "name: line 6: this key is not known"},
    {"\"sources\": {", "\"sources\": {\"\": \"x\",", "sources"},
    {"\"below_minor\": 5000", "\"below_minor\": 5001", "two scales speak of the same value"},
    {"\"below_minor\": 5000,", "\"from_minor\": 5000, \"below_minor\": 5000,", "must be greater than from_minor"},
    {"\"largest_piece\"", "\"any\"", "scales[0].measured"},
    {"\"round_up_mm2\": 100", "\"round_up_mm2\": 0", "round_up_mm2"},
    {"\"above_permille\": 500", "\"at_least_permille\": 500, \"above_permille\": 500", "give either"},
    {"\"above_permille\": 500,", "", "give either"},
    {"\"above_permille\": 800", "\"above_permille\": 400", "each step must be lower"},
    {"\"outcome\": \"full\"", "\"outcome\": \"all\"", "scales[0].steps[0].outcome"},
    {"\"outcome\": \"nil\"", "\"outcome\": \"none\"", "scales[0].rest.outcome"},
    {"\"text\": \"Below 50: full", "\"text\": \"{x} Below 50: full", "scales[0].steps[0].text"},
    {"\"text\": \"Below 50: nothing", "\"word\": \"Below 50: nothing", "scales[0].rest.word"},
    {"\"source\": [\"refund-half\"]", "\"source\": [\"nobody\"]", "'nobody' is not in the table"},
    {"\"confidence\": \"several\"", "\"confidence\": \"sure\"", "confidence"},
    {"\"each\": \"half\"", "\"each\": \"nil\"", "scales[1].pair.each"},
    {"\"each\": \"half\"", "\"all\": \"half\"", "scales[1].pair"},
    {"\"area_mm2\": 6111", "\"area_mm2\": 0", "areas[0].area_mm2"},
    {"\"area_mm2\": 6111", "\"area_mm2\": 3000", "must fall"},
    {"\"at_least_mm2\": 3100", "\"at_least_mm2\": -1", "areas[0].limits[0]"},
    {"{\"at_least_mm2\": 3100, \"confidence\": \"one\"}", "{\"at_least_mm2\": 3100, \"confidence\": \"sure\"}",
     "areas[0].limits[0].confidence"},
    {"{\"at_least_mm2\": 3100, \"confidence\": \"one\"}",
     "{\"at_least_mm2\": 3100, \"confidence\": \"one\"}, {\"at_least_mm2\": 31, \"confidence\": \"one\"}",
     "one limit for each step"},
    {"[\"refund-table-1\"]", "[\"x\"]", "areas[0].source"},
    {"\"outcome\": \"nil\",\n      \"text\": \"This", "\"outcome\": \"zero\",\n      \"text\": \"This",
     "designs[0].outcome"},
    {"\"condition\": \"features_missing\"", "\"condition\": \"sad\"", "conditions[0].condition"},
    {"\"effect\": \"outcome\"", "\"effect\": \"luck\"", "conditions[0].effect"},
    {"\"effect\": \"outcome\"", "\"effect\": \"part\"", "belong together"},
    {"\"outcome\": \"refused\"", "\"outcome\": \"no\"", "conditions[0].outcome"},
    {"\"kind\": \"soiled\"", "\"kind\": \"clean\"", "quotas[0].kind"},
    {"\"notes_to\": 20", "\"notes_to\": 0", "quotas[0].notes_to"},
    {"\"topic\": \"decides\"", "\"topic\": \"weather\"", "topics[0].topic"},
    {"\"defect\": \"soil\"", "\"defect\": \"age\"", "fitness[0].defect"},
    {"\"by\": \"machine\"", "\"by\": \"nose\"", "fitness[0].by"},
    {"\"unfit\": \"no_limit_known\"", "\"unfit\": \"maybe\"", "fitness[0].unfit"},
    {"\"unfit\": \"beyond_bounds\"", "\"unfit\": \"when_seen\"", "belong together"},
    {"\"gauge\": \"area_mm2\"", "\"gauge\": \"weight_g\"", "bounds[0].gauge"},
    {"\"above\": 100", "\"above\": 100, \"at_least\": 100", "give either above or at_least"},
    {"\"above\": 100", "\"above\": 100.0001", "at most three decimals"},
    {"\"above\": 100", "\"above\": \"100\"", "must be a number"},
    {"\"above\": 100", "\"below\": 100", "bounds[0].below"},
    {"\"sorting\"]", "\"sorted\"]", "fitness[0].source"},
};

static void each_fault_is_told(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char *spoilt = text_spoil(rupee, faults[i].from, faults[i].to);
        if (spoilt == NULL)
            fail_msg("the pack has no %s", faults[i].from);
        struct pack *pack;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        int32_t result = pack_parse(&memory_heap, "test.json", spoilt, strlen(spoilt), &pack, &error);
        if (result != CFOIL_E_DATA_SCHEMA || strstr(error.text, faults[i].says) == NULL)
            fail_msg("fault %zu: \"%s\" does not say \"%s\"", i, error.text, faults[i].says);
        assert_null(pack);
        free(spoilt);
    }
}

static void text_count(void *user, const struct pack_rule *rule)
{
    assert_true(rule->text[0] != '\0' && rule->source[0] != '\0');
    ++*(unsigned *)user;
}

static void the_pack_is_read_as_it_stands(void **state)
{
    (void)state;
    struct pack *pack;
    assert_int_equal(pack_parse(&memory_heap, "test.json", rupee, strlen(rupee), &pack, NULL), CFOIL_OK);
    const struct pack_exchange *exchange = &pack->as.exchange;
    assert_string_equal(exchange->currency, "INR");
    assert_int_equal(exchange->scale_count, 2);
    assert_int_equal(exchange->area_count, 16);
    assert_true(exchange->scales[0].largest_only && exchange->scales[0].pair_step == -1);
    assert_int_equal(exchange->scales[1].pair_step, 1);
    assert_ptr_equal(pack_scale_find(exchange, 4999), &exchange->scales[0]);
    assert_ptr_equal(pack_scale_find(exchange, 5000), &exchange->scales[1]);
    assert_int_equal(condition_find("burnt"), CONDITION_BURNT);
    assert_int_equal(condition_find("sad"), -1);
    assert_int_equal(defect_find("hole"), DEFECT_HOLE);
    unsigned texts = 0;
    pack_exchange_visit(exchange, text_count, &texts);
    /* 3 + 3 steps, rests and pair; 6 designs with 2 places; 16 conditions with 3 places; 6 quotas; 6 topics. */
    assert_int_equal(texts, 2 + 4 + 8 + 19 + 6 + 6);
    pack_release(pack);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_told),
        cmocka_unit_test(the_pack_is_read_as_it_stands),
    };
    return cmocka_run_group_tests(tests, rupee_load, NULL);
}
