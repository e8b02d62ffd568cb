/*
 * The pack of figures: what it is read as, one spoilt copy for each kind of fault, and the matrix of channels and checks.
 */
#include "pack_texts.h"
#include "packs/pack_data.h"
#include "test.h"
#include "unit/model/failing.h"

static char evidence[65536];

static int evidence_load(void **state)
{
    (void)state;
    FILE *file = fopen(SOURCE_DIR "/plugin/packs/evidence.json", "rb");
    assert_non_null(file);
    evidence[fread(evidence, 1, sizeof evidence - 1, file)] = '\0';
    fclose(file);
    return 0;
}

struct fault {
    const char *from;
    const char *to;
    const char *says; /* somewhere in the error text */
};

static const struct fault faults[] = {
    {"\"id\": \"evidence\"", "\"id\": \"other\"", "id: line 3: must be 'evidence'"},
    {"\"id\": \"evidence\"", "\"id\": \"a b\"", "id: line 3: "},
    {"\"title\": \"What", "\"name\": \"What", "name: line 4: this key is not known"},
    {"\"sources\": {", "\"sources\": {\"\": \"x\",", "sources"},
    {"\"id\": \"glance\"", "\"id\": \"\"", "looks[0].id"},
    {"\"id\": \"sight\"", "\"id\": \"glance\"", "looks[1]: line 17: the look 'glance' stands twice"},
    {"\"d_prime\": 1.25", "\"d_prime\": 0", "looks[0].d_prime: line 11: must be a number greater than 0"},
    {"\"d_prime\": 1.25", "\"d_prime\": \"1\"", "must be a number"},
    {"\"d_prime\": 1.25,", "", "looks[0]: line 8: give 'hit'"},
    {"\"d_prime\": 1.25", "\"false_alarm\": 0.1", "give 'hit'"},
    {"\"d_prime\": 1.25", "\"d_prime\": 1, \"hit\": 0.5", "give 'hit'"},
    {"\"d_prime\": 1.25", "\"d_prime\": 1, \"false_alarm\": 0.5", "give 'hit'"},
    {"\"hit\": 0.74", "\"hit\": 1", "looks[2].hit"},
    {"\"false_alarm\": 0.26", "\"false_alarm\": 0.75", "looks[2].false_alarm"},
    {"{\"low\": 1.4, \"high\": 5.6}", "{\"low\": 0.9, \"high\": 5.6}", "looks[0].differs.low"},
    {"{\"low\": 1.4, \"high\": 5.6}", "{\"low\": 1.4, \"high\": 5000}", "looks[0].differs.high"},
    {"{\"low\": 1.4, \"high\": 5.6}", "{\"low\": 5.7, \"high\": 5.6}", "low must not be greater than high"},
    {"{\"low\": 1.4, \"high\": 5.6}", "{\"low\": 1.4, \"top\": 5.6}", "looks[0].differs"},
    {"{\"low\": 0.18, \"high\": 0.72}", "{\"low\": 0.18, \"high\": 1.1}", "looks[0].passes.high"},
    {"[\"four-banks\", \"judgement\"]", "[\"nobody\"]", "'nobody' is not in the table"},
    {"\"confidence\": \"derived\"", "\"confidence\": \"sure\"", "looks[0].confidence"},
    {"\"feel\": {", "\"smell\": {", "senses.smell: line 67: must be feel, look, tilt or tool"},
    {"\"look\": \"touch\"", "\"look\": \"taste\"", "senses.feel.look: line 67: there is no look 'taste'"},
    {"\"look\": \"touch\"", "\"look\": \"whole-cashier\"", "the false alarms of this look are not known"},
    {"\"look\": \"touch\"", "\"see\": \"touch\"", "senses.feel"},
    {"\"whole\": \"whole-consumer\"", "\"whole\": \"half\"", "whole: line 71: there is no look"},
    {"\"rank\": \"best\"", "\"rank\": \"first\"", "ranks[0].rank: line 73: must be best, middle or last"},
    {"\"rank\": \"best\"", "\"rang\": \"best\"", "ranks[0]"},
    {"[\"hologram\",", "[1,", "ranks[0].features[0]"},
    {"\"features\": [\"hologram\", \"optical device\"], \"source\": [\"canada-2004\"]",
     "\"features\": [\"hologram\"], \"source\": [\"x\"]", "ranks[0].source"},
    {"\"prior\": {\"low\": 0.01,", "\"prior\": {", "prior"},
    {"\"prior\": {\"low\": 0.01", "\"prior\": {\"low\": 0", "prior.low"},
    {"\"prior\": {\"low\": 0.01", "\"prior\": {\"low\": 0.2", "must rise"},
    {"\"centre\": 0.1", "\"centre\": -1", "prior.centre"},
    {"\"centre\": 0.1", "\"centre\": 11", "must rise"},
    {"\"high\": 10,", "\"high\": 1000,", "prior.high"},
    {"\"high\": 10, \"source\": [\"judgement\"]", "\"high\": 10, \"source\": [\"x\"]", "prior.source"},
    {"\"low\": 0.02", "\"low\": 0", "false_rejects.low"},
    {"\"low\": 0.02", "\"low\": 0.06", "false_rejects: line 88: low must not"},
    {"\"high\": 0.05", "\"high\": 1", "false_rejects.high"},
    {"\"worth\": 20", "\"worth\": 0", "false_rejects.worth"},
    {"[\"trade-press\", \"judgement\"]", "[\"x\"]", "false_rejects.source"},
};

static void each_fault_is_told(void **state)
{
    (void)state;
    static char spoilt[65536];
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        const char *at = strstr(evidence, faults[i].from);
        if (at == NULL)
            fail_msg("the pack has no %s", faults[i].from);
        snprintf(spoilt, sizeof spoilt, "%.*s%s%s", (int)(at - evidence), evidence, faults[i].to,
                 at + strlen(faults[i].from));
        struct pack *pack;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        assert_int_equal(pack_parse(&memory_heap, "test.json", spoilt, strlen(spoilt), &pack, &error),
                         CFOIL_E_DATA_SCHEMA);
        assert_null(pack);
        if (strstr(error.text, faults[i].says) == NULL)
            fail_msg("fault %zu: \"%s\" does not say \"%s\"", i, error.text, faults[i].says);
    }
}

static void the_pack_is_read_as_it_stands(void **state)
{
    (void)state;
    struct pack_set *packs;
    assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
    const struct pack_evidence *figures = pack_evidence_find(packs);
    assert_int_equal(figures->look_count, 6);
    assert_string_equal(figures->senses[CFOIL_SENSE_FEEL].look->id, "touch");
    assert_true(figures->senses[CFOIL_SENSE_TILT].at_least && !figures->senses[CFOIL_SENSE_LOOK].at_least);
    assert_null(figures->senses[CFOIL_SENSE_TOOL].look);
    assert_string_equal(figures->whole->id, "whole-consumer");
    assert_int_equal(pack_feature_rank(figures, "hologram"), FEATURE_RANK_BEST);
    assert_int_equal(pack_feature_rank(figures, "latent image"), FEATURE_RANK_LAST);
    assert_int_equal(pack_feature_rank(figures, "watermark"), FEATURE_RANK_NONE);
    assert_string_equal(feature_rank_name(FEATURE_RANK_MIDDLE), "middle");
    assert_string_equal(feature_rank_name(FEATURE_RANK_NONE), "none");
    pack_set_release(packs);
}

/* Every check that names a channel stands under it, and nothing else does. */
static void matrix_of_note(const struct pack_note *note, const cJSON *row)
{
    static const char *const names[] = {"image",  "ultraviolet", "infrared",  "magnetic",
                                        "thread", "size",        "thickness", "transport"};
    const cJSON *channels = cJSON_GetObjectItemCaseSensitive(row, "channels");
    assert_int_equal(cJSON_GetArraySize(channels), 8);
    for (uint32_t channel = 0; channel < 8; channel++) {
        const cJSON *list = cJSON_GetObjectItemCaseSensitive(channels, names[channel]);
        const cJSON *entry = list->child;
        for (uint32_t i = 0; i < note->check_count; i++) {
            if ((note->checks[i].channels & 2u << channel) == 0)
                continue;
            assert_string_equal(cJSON_GetObjectItemCaseSensitive(entry, "check")->valuestring, note->checks[i].id);
            bool same = strcmp(cJSON_GetObjectItemCaseSensitive(entry, "dependence")->valuestring, "same_physics") == 0;
            assert_int_equal(same, pack_check_same_physics(&note->checks[i], (int32_t)channel + 1));
            entry = entry->next;
        }
        assert_null(entry);
    }
}

static void the_matrix_is_whole_for_every_currency(void **state)
{
    (void)state;
    struct pack_set *packs;
    uint32_t currencies = 0;
    assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
    for (uint32_t i = 0; i < pack_set_count(packs); i++) {
        const struct pack *pack = pack_set_at(packs, i);
        if (pack->kind != PACK_CURRENCY)
            continue;
        cJSON *matrix = pack_matrix(pack_evidence_find(packs), &pack->as.currency);
        const cJSON *notes = cJSON_GetObjectItemCaseSensitive(matrix, "notes");
        assert_int_equal(cJSON_GetArraySize(notes), pack->as.currency.note_count);
        for (uint32_t note = 0; note < pack->as.currency.note_count; note++)
            matrix_of_note(&pack->as.currency.notes[note], cJSON_GetArrayItem(notes, (int)note));
        cJSON_Delete(matrix);
        currencies++;
    }
    assert_true(currencies >= 1);
    pack_set_release(packs);
}

static void the_matrix_is_whole_or_not_there(void **state)
{
    (void)state;
    struct pack_set *packs;
    assert_int_equal(pack_set_create(&memory_heap, &packs, NULL), CFOIL_OK);
    const struct pack_evidence *figures = pack_evidence_find(packs);
    struct pack_currency euro = *pack_currency_find(packs, "EUR");
    euro.note_count = 1; /* enough to come by every line */
    cJSON *matrix = NULL;
    for (long count = 0; matrix == NULL; count++) {
        failing_begin(count);
        matrix = pack_matrix(figures, &euro);
        if (matrix == NULL)
            assert_int_equal(failing_blocks, 0);
        failing_stop();
    }
    cJSON_Delete(matrix);
    failing_end();
    assert_int_equal(failing_blocks, 0);
    pack_set_release(packs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_told),
        cmocka_unit_test(the_pack_is_read_as_it_stands),
        cmocka_unit_test(the_matrix_is_whole_for_every_currency),
        cmocka_unit_test(the_matrix_is_whole_or_not_there),
    };
    return cmocka_run_group_tests(tests, evidence_load, NULL);
}
