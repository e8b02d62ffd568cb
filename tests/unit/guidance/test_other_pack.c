/*
 * A case on a pack of another currency, made from the euro pack: its marks of trust, a check without a hint, no euro
 * categories; and the few words of the machine that no other test meets.
 */
#include "unit/guidance/case.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static struct pack_set *euro_packs;

static cJSON *euro_pack_read(void)
{
    FILE *file = fopen(SOURCE_DIR "/plugin/packs/eur.json", "rb");
    assert_non_null(file);
    static char text[PACK_SIZE_MAX + 1];
    size_t length = fread(text, 1, PACK_SIZE_MAX, file);
    fclose(file);
    text[length] = '\0';
    cJSON *pack = cJSON_Parse(text);
    assert_non_null(pack);
    return pack;
}

/* Code XTS (ISO 4217: for testing), no hints, and each place as well known as its feature. */
static void pack_change(cJSON *pack)
{
    cJSON_ReplaceItemInObjectCaseSensitive(pack, "id", cJSON_CreateString("XTS"));
    cJSON *feature;
    cJSON_ArrayForEach(feature, cJSON_GetObjectItemCaseSensitive(pack, "features"))
    {
        cJSON_DeleteItemFromObjectCaseSensitive(feature, "hint");
        const cJSON *confidence = cJSON_GetObjectItemCaseSensitive(feature, "confidence");
        cJSON *box = cJSON_GetObjectItemCaseSensitive(feature, "box");
        if (cJSON_IsObject(box) && cJSON_IsString(confidence))
            cJSON_ReplaceItemInObjectCaseSensitive(box, "confidence", cJSON_CreateString(confidence->valuestring));
    }
}

static int other_pack_load(void **state)
{
    if (case_packs_load(state) != 0)
        return -1;
    euro_packs = case_packs;
    char directory[] = "/tmp/guidance-pack-XXXXXX";
    char path[sizeof directory + 16];
    assert_non_null(mkdtemp(directory));
    snprintf(path, sizeof path, "%s/xts.json", directory);
    cJSON *pack = euro_pack_read();
    pack_change(pack);
    char *text = cJSON_Print(pack);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
    cJSON_free(text);
    cJSON_Delete(pack);
    int32_t result = pack_set_extend(euro_packs, directory, &case_packs, &case_error);
    if (result != CFOIL_OK)
        print_error("%s\n", case_error.text);
    assert_int_equal(remove(path), 0);
    assert_int_equal(rmdir(directory), 0);
    return result == CFOIL_OK ? 0 : -1;
}

static int other_pack_release(void **state)
{
    pack_set_release(euro_packs);
    return case_packs_release(state);
}

static cJSON *standards_of_refusal(const char *currency)
{
    cfoil_case_options options = case_options(5000);
    options.currency = currency;
    struct guidance *guidance = case_open(&options);
    case_refuse(guidance, CFOIL_REASON_NOT_RECOGNISED);
    cJSON *object = guidance_json(guidance, NULL, 0);
    case_close(guidance);
    cJSON *first = cJSON_GetArrayItem(cJSON_GetObjectItemCaseSensitive(object, "presentations"), 0);
    cJSON *standards = cJSON_DetachItemFromObjectCaseSensitive(first, "standards");
    cJSON_Delete(object);
    return standards;
}

static void only_euro_notes_have_euro_categories(void **state)
{
    (void)state;
    cJSON *euro = standards_of_refusal("EUR");
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(euro, "ecb_category")->valuestring, "1");
    cJSON *other = standards_of_refusal("XTS");
    assert_true(cJSON_IsNull(cJSON_GetObjectItemCaseSensitive(other, "ecb_category")));
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(other, "xfs4iot_item_class")->valuestring, "unrecognized");
    cJSON_Delete(euro);
    cJSON_Delete(other);
}

static void a_check_without_a_hint_has_an_empty_one(void **state)
{
    (void)state;
    cfoil_case_options options = case_options(5000);
    options.currency = "XTS";
    struct guidance *guidance = case_open(&options);
    int places = 0;
    cfoil_step step = case_step(guidance);
    for (; step.kind == CFOIL_STEP_CHECK; step = case_step(guidance)) {
        assert_string_equal(step.hint, "");
        assert_null(strstr(step.source, "place on the note"));
        places += step.box_known;
        case_answer(guidance, GOOD);
    }
    assert_true(places > 0);
    case_close(guidance);
    /* With attempts that do not agree, that alone is the hint. */
    guidance = case_open(&options);
    case_refuse_on(guidance, CFOIL_CHANNEL_INFRARED);
    case_refuse_on(guidance, CFOIL_CHANNEL_THREAD);
    assert_string_equal(case_step(guidance).hint, pack_message(case_packs, "en", "machine.attempts.differing"));
    case_close(guidance);
}

static void the_place_of_a_euro_feature_is_marked_as_an_estimate(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    case_refuse_on(guidance, CFOIL_CHANNEL_INFRARED);
    cfoil_step step = case_step(guidance);
    assert_int_equal(step.box_known, 1);
    assert_true(step.left_permille < step.right_permille && step.top_permille < step.bottom_permille);
    assert_true(step.right_permille <= 1000 && step.bottom_permille <= 1000);
    assert_non_null(strstr(step.source, "place on the note: estimate"));
    case_close(guidance);
}

/* The words for a machine that refused without a reason, and for one that was in trouble while somebody looked. */
static void a_machine_that_gave_no_reason_is_told_so(void **state)
{
    (void)state;
    struct guidance *guidance = case_plain();
    case_refuse(guidance, CFOIL_REASON_NONE);
    cfoil_step step = case_answer_all(guidance, GOOD);
    assert_int_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_non_null(strstr(step.reasons, pack_message(case_packs, "en", "machine.reason.none")));
    case_close(guidance);
    guidance = case_plain();
    case_condition_add(guidance, CFOIL_CONDITION_FAULT);
    case_advises(guidance, CFOIL_ADVICE_CHECK_MACHINE);
    const struct pack_note *note = pack_note_find(pack_currency_find(case_packs, "EUR"), 5000, NULL);
    assert_int_equal(guidance_answer(guidance, note->checks[0].id, GOOD, &case_error), CFOIL_OK);
    step = case_answer_all(guidance, GOOD);
    assert_int_equal(step.advice, CFOIL_ADVICE_TAKE);
    assert_non_null(strstr(step.reasons, pack_message(case_packs, "en", "machine.reason.device_condition")));
    case_close(guidance);
    guidance = case_plain();
    step = case_answer_all(guidance, GOOD);
    assert_non_null(strstr(step.reasons, pack_message(case_packs, "en", "machine.said_nothing")));
    case_close(guidance);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_euro_notes_have_euro_categories),
        cmocka_unit_test(a_check_without_a_hint_has_an_empty_one),
        cmocka_unit_test(the_place_of_a_euro_feature_is_marked_as_an_estimate),
        cmocka_unit_test(a_machine_that_gave_no_reason_is_told_so),
    };
    return cmocka_run_group_tests(tests, other_pack_load, other_pack_release);
}
