/*
 * The mapping to open standards: what each outcome is there, and above all what stays unset.
 */
#include "model/standards.h"

#include "model/combine.h"
#include "unit/model/failing.h"

#include "test.h"

#define BIT(code) (1u << (code))

static struct standard_terms terms_of(int32_t kind, int32_t reason, uint32_t possible, int32_t condition)
{
    struct presentation presentation = {
        .kind = kind, .reason = reason, .reasons_possible = possible, .condition = condition};
    struct standard_terms terms;
    memset(&terms, 0xA5, sizeof terms);
    standard_terms_find(&presentation, &terms);
    return terms;
}

static void text_is(const char *text, const char *expected)
{
    if (expected == NULL)
        assert_null(text);
    else
        assert_string_equal(text, expected);
}

static void each_outcome_has_its_terms(void **state)
{
    (void)state;
    static const struct {
        int32_t kind;
        int32_t reason;
        uint32_t possible;
        int32_t condition;
        struct standard_terms terms;
    } rows[] = {
        {CFOIL_KIND_HELD, 0, 0, 0, {0}},
        {CFOIL_KIND_RETURNED, 0, 0, 0, {0}},
        {CFOIL_KIND_STACKED, 0, 0, 0, {0, NULL, 4, NULL, NULL, "FITU", "DataEvent"}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_AUTHENTICITY, BIT(1), 0, {2, "invalidBill", 0, NULL, NULL, NULL, NULL}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_AUTHENTICITY,
         BIT(1) | BIT(2) | BIT(3),
         0,
         {2, "invalidBill", 0, NULL, NULL, NULL, NULL}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_NOT_RECOGNISED,
         BIT(2),
         0,
         {2, "invalidBill", 1, "unrecognized", "1", "UNRG", NULL}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_NOT_RECOGNISED,
         BIT(1) | BIT(2),
         0,
         {2, "invalidBill", 0, NULL, NULL, NULL, NULL}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_HANDLING, BIT(3), 0, {4, "depositFailure", 0, NULL, "1", NULL, NULL}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_HANDLING,
         BIT(3) | BIT(2),
         0,
         {4, "depositFailure", 0, NULL, NULL, NULL, NULL}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_NOT_ENABLED, BIT(4), 0, {2, "invalidBill", 0, NULL, NULL, NULL, NULL}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_DEVICE,
         BIT(5),
         CFOIL_CONDITION_STACKER_FULL,
         {1, "cashInUnitFull", 0, NULL, NULL, NULL, "BACC_STATUS_FULL"}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_DEVICE,
         BIT(5),
         CFOIL_CONDITION_JAM_REACHABLE,
         {0, NULL, 0, NULL, NULL, NULL, "BACC_STATUS_JAM"}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_DEVICE,
         BIT(5),
         CFOIL_CONDITION_JAM_SAFE,
         {0, NULL, 0, NULL, NULL, NULL, "BACC_STATUS_JAM"}},
        {CFOIL_KIND_REJECTED,
         CFOIL_REASON_DEVICE,
         BIT(5),
         CFOIL_CONDITION_FAULT,
         {0, NULL, 0, NULL, NULL, NULL, "E_FAILURE"}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_DEVICE, BIT(5), 0, {0}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_TAMPERING, BIT(6), 0, {0}},
        {CFOIL_KIND_REJECTED, CFOIL_REASON_NONE, 0, 0, {0}},
        {CFOIL_KIND_DEVICE,
         0,
         0,
         CFOIL_CONDITION_STACKER_FULL,
         {1, "cashInUnitFull", 0, NULL, NULL, NULL, "BACC_STATUS_FULL"}},
        {CFOIL_KIND_DEVICE, 0, 0, CFOIL_CONDITION_JAM_REACHABLE, {0, NULL, 0, NULL, NULL, NULL, "BACC_STATUS_JAM"}},
        {CFOIL_KIND_DEVICE, 0, 0, CFOIL_CONDITION_JAM_SAFE, {0, NULL, 0, NULL, NULL, NULL, "BACC_STATUS_JAM"}},
        {CFOIL_KIND_DEVICE, 0, 0, CFOIL_CONDITION_FAULT, {0, NULL, 0, NULL, NULL, NULL, "E_FAILURE"}},
        {CFOIL_KIND_DEVICE,
         0,
         0,
         CFOIL_CONDITION_UNKNOWN_NOTE_STACKED,
         {0, NULL, 1, "unrecognized", NULL, "UNRG", "CapDiscrepancy"}},
        {CFOIL_KIND_DEVICE, CFOIL_REASON_TAMPERING, BIT(6), CFOIL_CONDITION_TAMPERING, {0}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct standard_terms terms = terms_of(rows[i].kind, rows[i].reason, rows[i].possible, rows[i].condition);
        assert_int_equal(terms.xfs_refuse_reason, rows[i].terms.xfs_refuse_reason);
        text_is(terms.xfs4iot_refuse_reason, rows[i].terms.xfs4iot_refuse_reason);
        assert_int_equal(terms.xfs_level, rows[i].terms.xfs_level);
        text_is(terms.xfs4iot_item_class, rows[i].terms.xfs4iot_item_class);
        text_is(terms.ecb_category, rows[i].terms.ecb_category);
        text_is(terms.iso20022_note_type, rows[i].terms.iso20022_note_type);
        text_is(terms.unifiedpos, rows[i].terms.unifiedpos);
    }
}

/* Category 2 asks for an authentication feature that the device itself calls clearly out of tolerance, nothing else. */
static void category_two_needs_the_device_to_say_so(void **state)
{
    (void)state;
    static const struct {
        uint32_t possible;
        cfoil_finding findings[2];
        uint32_t count;
        const char *category;
    } rows[] = {
        {BIT(1), {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, "2"},
        {BIT(1), {{CFOIL_CHANNEL_ULTRAVIOLET, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, "2"},
        {BIT(1), {{CFOIL_CHANNEL_MAGNETIC, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, "2"},
        {BIT(1),
         {{CFOIL_CHANNEL_THREAD, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0},
          {CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}},
         2,
         "2"},
        {BIT(1), {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_WEAK, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_LIBRARY, 0}}, 1, NULL},
        {BIT(1), {{CFOIL_CHANNEL_IMAGE, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{CFOIL_CHANNEL_UNKNOWN, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{31, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{-1, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1),
         {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0},
          {CFOIL_CHANNEL_SIZE, CFOIL_STRENGTH_CLEAR, CFOIL_ORIGIN_DEVICE, 0}},
         2,
         NULL},
        {BIT(1) | BIT(2), {{CFOIL_CHANNEL_INFRARED, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0}}, 1, NULL},
        {BIT(1), {{0, 0, 0, 0}}, 0, NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct presentation presentation = {.kind = CFOIL_KIND_REJECTED,
                                            .reason = CFOIL_REASON_AUTHENTICITY,
                                            .reasons_possible = rows[i].possible,
                                            .finding_count = rows[i].count};
        memcpy(presentation.findings, rows[i].findings, sizeof rows[i].findings);
        struct standard_terms terms;
        standard_terms_find(&presentation, &terms);
        text_is(terms.ecb_category, rows[i].category);
        assert_int_equal(terms.xfs_refuse_reason, 2);
        assert_int_equal(terms.xfs_level, 0);
    }
    struct presentation full = {.kind = CFOIL_KIND_REJECTED,
                                .reason = CFOIL_REASON_AUTHENTICITY,
                                .reasons_possible = BIT(1),
                                .finding_count = 1000};
    for (size_t i = 0; i < CFOIL_FINDINGS_MAX; i++)
        full.findings[i] = (cfoil_finding){CFOIL_CHANNEL_THREAD, CFOIL_STRENGTH_STRONG, CFOIL_ORIGIN_DEVICE, 0};
    struct standard_terms terms;
    standard_terms_find(&full, &terms);
    text_is(terms.ecb_category, "2");
}

/* Over every kind, reason, mask and condition: no level 2 or 3, no refuse reason 9, no class that is a finding. */
static void no_outcome_is_called_a_finding_about_authenticity(void **state)
{
    (void)state;
    for (int32_t kind = 0; kind <= CFOIL_KIND_LANE_STATE; kind++) {
        for (int32_t reason = 0; reason <= CFOIL_REASON_TAMPERING; reason++) {
            for (uint32_t possible = 0; possible < 128; possible++) {
                for (int32_t condition = 0; condition <= CFOIL_CONDITION_IDENTIFIED; condition++) {
                    struct standard_terms terms = terms_of(kind, reason, possible, condition);
                    assert_true(terms.xfs_level == 0 || terms.xfs_level == 1 || terms.xfs_level == 4);
                    assert_int_not_equal(terms.xfs_refuse_reason, 9);
                    assert_true(terms.xfs4iot_item_class == NULL ||
                                strcmp(terms.xfs4iot_item_class, "unrecognized") == 0);
                    assert_true(terms.iso20022_note_type == NULL || strcmp(terms.iso20022_note_type, "FITU") == 0 ||
                                strcmp(terms.iso20022_note_type, "UNRG") == 0);
                }
            }
        }
    }
}

static void json_writes_null_for_what_is_unset(void **state)
{
    (void)state;
    struct standard_terms nothing = {0};
    cJSON *object = standard_terms_json(&nothing);
    char *text = cJSON_PrintUnformatted(object);
    assert_string_equal(text, "{\"xfs_refuse_reason\":null,\"xfs4iot_refuse_reason\":null,\"xfs_level\":null,"
                              "\"xfs4iot_item_class\":null,\"ecb_category\":null,\"iso20022_note_type\":null,"
                              "\"unifiedpos\":null}");
    cJSON_free(text);
    cJSON_Delete(object);
    struct standard_terms all = {2, "invalidBill", 1, "unrecognized", "1", "UNRG", "none"};
    object = standard_terms_json(&all);
    text = cJSON_PrintUnformatted(object);
    assert_string_equal(text, "{\"xfs_refuse_reason\":2,\"xfs4iot_refuse_reason\":\"invalidBill\",\"xfs_level\":1,"
                              "\"xfs4iot_item_class\":\"unrecognized\",\"ecb_category\":\"1\","
                              "\"iso20022_note_type\":\"UNRG\",\"unifiedpos\":\"none\"}");
    cJSON_free(text);
    cJSON_Delete(object);
}

static void no_memory_gives_null_and_leaves_nothing(void **state)
{
    (void)state;
    failing_json();
    struct standard_terms all = {2, "invalidBill", 1, "unrecognized", "1", "UNRG", "none"};
    cJSON *object = NULL;
    long tries = 0;
    for (; object == NULL; tries++) {
        failing_after(tries);
        object = standard_terms_json(&all);
        failing_stop();
        assert_true(object != NULL || failing_blocks == 0);
    }
    assert_true(tries > 10);
    cJSON_Delete(object);
    assert_int_equal(failing_blocks, 0);
    cJSON_InitHooks(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_outcome_has_its_terms),
        cmocka_unit_test(category_two_needs_the_device_to_say_so),
        cmocka_unit_test(no_outcome_is_called_a_finding_about_authenticity),
        cmocka_unit_test(json_writes_null_for_what_is_unset),
        cmocka_unit_test(no_memory_gives_null_and_leaves_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
