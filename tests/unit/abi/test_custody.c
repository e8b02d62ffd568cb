/*
 * Kept notes through the exported functions: each step, what it needs, what is refused; lists; the count of envelopes.
 */
#include "shop.h"

static char case_id[40];

static cfoil_custody_options step_make(int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.case_id = case_id;
    options.staff = "07";
    options.envelope = move == CFOIL_CUSTODY_SEAL ? "E 7" : NULL;
    options.place = "safe";
    options.holder = CFOIL_HOLDER_POLICE;
    options.receipt = "R 12";
    options.why = "as told";
    return options;
}

static int32_t step_try(int32_t move)
{
    cfoil_custody_options options = step_make(move);
    return cfoil_custody_move(shop.ledger, &options, NULL);
}

static void note_keep(const char *envelope)
{
    cfoil_record record = shop_note_keep("S1", envelope);
    snprintf(case_id, sizeof case_id, "%s", record.case_id);
}

static void state_is(const char *state)
{
    cJSON *items = shop_list(CFOIL_LIST_CUSTODY, NULL);
    const cJSON *item;
    const char *found = "";
    cJSON_ArrayForEach(item, items)
    {
        if (strcmp(shop_text_in(item, "case_id"), case_id) == 0)
            found = shop_text_in(item, "state");
    }
    assert_string_equal(found, state);
    cJSON_Delete(items);
}

static void the_usual_way(void **state)
{
    (void)state;
    note_keep(NULL);
    state_is("set_aside");
    assert_int_equal(step_try(CFOIL_CUSTODY_SEAL), CFOIL_OK);
    state_is("sealed");
    assert_int_equal(step_try(CFOIL_CUSTODY_CARRY), CFOIL_OK);
    state_is("sealed");
    assert_int_equal(step_try(CFOIL_CUSTODY_HAND_OVER), CFOIL_OK);
    state_is("handed_over");
    assert_int_equal(shop_list_count(CFOIL_LIST_CUSTODY, "held"), 0);
    assert_int_equal(step_try(CFOIL_CUSTODY_NOT_GENUINE), CFOIL_OK);
    state_is("not_genuine");
    assert_int_equal(shop_list_count(CFOIL_LIST_CASE, case_id), 5);
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
}

static void a_step_says_who_where_and_why(void **state)
{
    (void)state;
    note_keep("E 1");
    cfoil_custody_options options = step_make(CFOIL_CUSTODY_HAND_OVER);
    cfoil_record record = CFOIL_RECORD_INIT;
    options.keeper = "Station 3";
    options.happened_utc_ms = INT64_C(1764000000000);
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, &record), CFOIL_OK);
    assert_int_equal(cfoil_ledger_entry_json(shop.ledger, record.entry, shop_text, sizeof shop_text, NULL), CFOIL_OK);
    cJSON *entry = cJSON_Parse(shop_text);
    assert_string_equal(shop_text_in(entry, "kind"), "custody");
    assert_string_equal(shop_text_in(entry, "hash"), record.hash);
    const cJSON *body = cJSON_GetObjectItem(entry, "body");
    assert_string_equal(shop_text_in(body, "schema"), "counterfoil.custody/1");
    assert_string_equal(shop_text_in(body, "case"), case_id);
    assert_string_equal(record.case_id, case_id);
    assert_string_equal(shop_text_in(body, "move"), "hand_over");
    assert_string_equal(shop_text_in(body, "from"), "sealed");
    assert_string_equal(shop_text_in(body, "state"), "handed_over");
    assert_string_equal(shop_text_in(body, "staff"), "07");
    assert_string_equal(shop_text_in(body, "holder"), "police");
    assert_string_equal(shop_text_in(body, "keeper"), "Station 3");
    assert_string_equal(shop_text_in(body, "receipt"), "R 12");
    assert_string_equal(shop_text_in(body, "envelope"), "E 1");
    assert_string_equal(shop_text_in(body, "why"), "as told");
    assert_string_equal(shop_text_in(body, "happened"), "2025-11-24T16:00:00.000Z");
    cJSON_Delete(entry);
}

static void what_is_missing_is_named(void **state)
{
    (void)state;
    note_keep(NULL);
    cfoil_custody_options options = step_make(CFOIL_CUSTODY_SEAL);
    options.envelope = "";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_CUSTODY);
    options = step_make(CFOIL_CUSTODY_HAND_OVER);
    options.receipt = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_CUSTODY);
    options = step_make(CFOIL_CUSTODY_HAND_OVER);
    options.holder = 0;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_CUSTODY);
    options = step_make(CFOIL_CUSTODY_LOSE);
    options.why = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_CUSTODY);
    options = step_make(CFOIL_CUSTODY_CARRY);
    options.place = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_CUSTODY);
    options = step_make(CFOIL_CUSTODY_SEAL);
    options.staff = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_TEXT);
    state_is("set_aside");
}

static void mistakes_of_the_host_are_refused(void **state)
{
    (void)state;
    note_keep(NULL);
    char long_text[300];
    memset(long_text, 'x', sizeof long_text - 1);
    long_text[sizeof long_text - 1] = '\0';
    cfoil_custody_options options = step_make(99);
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_RANGE);
    options = step_make(CFOIL_CUSTODY_SEAL);
    options.case_id = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    options = step_make(CFOIL_CUSTODY_FIND);
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    options = step_make(CFOIL_CUSTODY_SEAL);
    options.why = long_text;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_TEXT);
    options = step_make(CFOIL_CUSTODY_SEAL);
    options.happened_utc_ms = INT64_C(4000000000000);
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_RANGE);
    options.happened_utc_ms = 0;
    options.reserved = 1;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_RANGE);
    options.reserved = 0;
    options.currency = "EURO";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_custody_move(shop.ledger, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    options = step_make(CFOIL_CUSTODY_SEAL);
    options.case_id = "019abcde-0000-7000-8000-000000000001";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_MISSING_CASE);
    assert_int_equal(cfoil_ledger_list_json(shop.ledger, 9, NULL, shop_text, sizeof shop_text, NULL),
                     CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_ledger_list_json(shop.ledger, CFOIL_LIST_CASE, NULL, shop_text, sizeof shop_text, NULL),
                     CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(
        cfoil_ledger_list_json(shop.ledger, CFOIL_LIST_CUSTODY, long_text, shop_text, sizeof shop_text, NULL),
        CFOIL_E_ARGUMENT_TEXT);
}

static void a_refused_note_has_no_further_way(void **state)
{
    (void)state;
    cfoil_case *doubt = shop_case_open("S2", 2000);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    cfoil_record record = shop_case_end(doubt, CFOIL_DISPOSITION_NOT_TAKEN, NULL);
    snprintf(case_id, sizeof case_id, "%s", record.case_id);
    state_is("with_customer");
    for (int32_t move = CFOIL_CUSTODY_SEAL; move <= CFOIL_CUSTODY_GIVE_BACK; move++)
        assert_int_equal(step_try(move), CFOIL_E_RULE_CUSTODY);
}

static void a_note_found_later_begins_a_case_and_never_goes_back(void **state)
{
    (void)state;
    cfoil_custody_options options = step_make(CFOIL_CUSTODY_FIND);
    cfoil_record record = CFOIL_RECORD_INIT;
    options.case_id = NULL;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, &record), CFOIL_E_RULE_CUSTODY);
    options.currency = "EUR";
    options.value_minor = 2000;
    options.serial = "VA0436214792";
    options.lane = "3";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, &record), CFOIL_OK);
    snprintf(case_id, sizeof case_id, "%s", record.case_id);
    state_is("found");
    assert_int_equal(step_try(CFOIL_CUSTODY_GIVE_BACK), CFOIL_E_RULE_CUSTODY);
    assert_int_equal(step_try(CFOIL_CUSTODY_SEAL), CFOIL_OK);
    assert_int_equal(step_try(CFOIL_CUSTODY_GIVE_BACK), CFOIL_E_RULE_CUSTODY);
    assert_int_equal(shop_list_count(CFOIL_LIST_CUSTODY, "held"), 1);
    cJSON *items = shop_list(CFOIL_LIST_CUSTODY, "sealed");
    const cJSON *item = cJSON_GetArrayItem(items, 0);
    assert_string_equal(shop_text_in(item, "serial"), "VA0436214792");
    assert_string_equal(shop_text_in(item, "lane"), "3");
    assert_int_equal(cJSON_GetObjectItem(item, "value_minor")->valueint, 2000);
    assert_true(cJSON_IsNull(cJSON_GetObjectItem(item, "disposition")));
    cJSON_Delete(items);
}

static void safety_comes_first_for_what_was_not_taken(void **state)
{
    (void)state;
    note_keep("E 9");
    assert_int_equal(step_try(CFOIL_CUSTODY_GIVE_BACK), CFOIL_OK);
    state_is("given_back");
    cJSON *items = shop_list(CFOIL_LIST_CUSTODY, "given_back");
    assert_string_equal(shop_text_in(cJSON_GetArrayItem(items, 0), "holder"), "customer");
    cJSON_Delete(items);
}

static void one_envelope_holds_one_note(void **state)
{
    (void)state;
    note_keep("E 7");
    note_keep(NULL);
    assert_int_equal(step_try(CFOIL_CUSTODY_SEAL), CFOIL_E_STATE_EXISTS);
    cfoil_custody_options options = step_make(CFOIL_CUSTODY_SEAL);
    options.envelope = "E 8";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
    options.envelope = "E 8a";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
}

static void two_persons_when_the_store_asks_for_it(void **state)
{
    (void)state;
    note_keep(NULL);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, "01", "three_persons", "yes"), CFOIL_E_ARGUMENT_SETTING);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, "01", "two_persons", "perhaps"), CFOIL_E_ARGUMENT_SETTING);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, "01", NULL, "yes"), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, NULL, "two_persons", "yes"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, "01", "two_persons", "yes"), CFOIL_OK);
    assert_int_equal(shop_list_count(CFOIL_LIST_SETTINGS, NULL), 1);
    assert_int_equal(step_try(CFOIL_CUSTODY_SEAL), CFOIL_E_RULE_SECOND);
    cfoil_custody_options options = step_make(CFOIL_CUSTODY_SEAL);
    options.second = "07";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_SECOND);
    options.second = "";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_SECOND);
    options.second = "08";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
    assert_int_equal(step_try(CFOIL_CUSTODY_CARRY), CFOIL_OK);
    assert_int_equal(cfoil_setting_set(shop.ledger, NULL, "01", "two_persons", "no"), CFOIL_OK);
    assert_int_equal(step_try(CFOIL_CUSTODY_HAND_OVER), CFOIL_OK);
}

/* ---- The count ---- */

static cJSON *count(const char *envelopes)
{
    cfoil_reconcile_options options = CFOIL_RECONCILE_OPTIONS_INIT;
    options.envelopes = envelopes;
    assert_int_equal(cfoil_reconcile_json(shop.ledger, &options, shop_text, sizeof shop_text, NULL), CFOIL_OK);
    cJSON *object = cJSON_Parse(shop_text);
    assert_non_null(object);
    return object;
}

static int size_of(const cJSON *object, const char *key)
{
    const cJSON *list = cJSON_GetObjectItem(object, key);
    assert_true(cJSON_IsArray(list));
    return cJSON_GetArraySize(list);
}

static void the_count_agrees(void **state)
{
    (void)state;
    cJSON *object = count("[]");
    assert_true(cJSON_IsTrue(cJSON_GetObjectItem(object, "agrees")));
    cJSON_Delete(object);
    note_keep("E 1");
    note_keep("E 2");
    object = count("[\"E 2\",\"E 1\"]");
    assert_true(cJSON_IsTrue(cJSON_GetObjectItem(object, "agrees")));
    assert_int_equal(size_of(object, "present"), 2);
    assert_int_equal(cJSON_GetObjectItem(object, "held")->valueint, 2);
    cJSON_Delete(object);
}

static void the_count_names_what_is_wrong(void **state)
{
    (void)state;
    note_keep("E 1"); /* missing */
    note_keep("E 2"); /* counted twice */
    note_keep(NULL);  /* in no envelope */
    note_keep("E 4"); /* handed over, but still here */
    assert_int_equal(step_try(CFOIL_CUSTODY_HAND_OVER), CFOIL_OK);
    note_keep("E 2"); /* the same number for another note */
    cJSON *object = count("[\"E 2\",\"E 2\",\"E 4\",\"E 99\"]");
    assert_true(cJSON_IsFalse(cJSON_GetObjectItem(object, "agrees")));
    assert_int_equal(size_of(object, "missing"), 1);
    assert_string_equal(shop_text_in(cJSON_GetArrayItem(cJSON_GetObjectItem(object, "missing"), 0), "envelope"), "E 1");
    assert_int_equal(size_of(object, "present"), 2);
    assert_int_equal(size_of(object, "not_in_an_envelope"), 1);
    assert_int_equal(size_of(object, "double"), 1);
    assert_int_equal(size_of(object, "wrong_state"), 1);
    assert_int_equal(size_of(object, "not_in_the_ledger"), 1);
    cJSON_Delete(object);
}

static void the_count_takes_envelopes_as_json_only(void **state)
{
    (void)state;
    static const char *const bad[] = {"E 1", "{}", "[1]", "[\"\"]", "", "[\"a\"] x"};
    cfoil_reconcile_options options = CFOIL_RECONCILE_OPTIONS_INIT;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        options.envelopes = bad[i];
        int32_t result = cfoil_reconcile_json(shop.ledger, &options, shop_text, sizeof shop_text, NULL);
        assert_true(result == CFOIL_E_DATA_SYNTAX || result == CFOIL_E_DATA_SCHEMA);
    }
    options.envelopes = NULL;
    assert_int_equal(cfoil_reconcile_json(shop.ledger, &options, shop_text, sizeof shop_text, NULL),
                     CFOIL_E_ARGUMENT_NULL);
    options.envelopes = "[]";
    options.from_utc_ms = -1;
    assert_int_equal(cfoil_reconcile_json(shop.ledger, &options, shop_text, sizeof shop_text, NULL),
                     CFOIL_E_ARGUMENT_RANGE);
}

static void the_count_of_a_period(void **state)
{
    (void)state;
    note_keep("E 1");
    cfoil_reconcile_options options = CFOIL_RECONCILE_OPTIONS_INIT;
    options.envelopes = "[\"E 1\"]";
    options.until_utc_ms = 1000;
    assert_int_equal(cfoil_reconcile_json(shop.ledger, &options, shop_text, sizeof shop_text, NULL), CFOIL_OK);
    cJSON *object = cJSON_Parse(shop_text);
    assert_int_equal(size_of(object, "present"), 0);
    assert_int_equal(size_of(object, "not_in_the_ledger"), 0);
    cJSON_Delete(object);
}

static void a_ledger_for_reading_takes_no_step(void **state)
{
    (void)state;
    note_keep(NULL);
    cfoil_ledger_close(shop.ledger);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = shop.path;
    options.read_only = 1;
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &shop.ledger), CFOIL_OK);
    assert_int_equal(step_try(CFOIL_CUSTODY_SEAL), CFOIL_E_LEDGER_READ_ONLY);
    state_is("set_aside");
}

int main(void)
{
#define SHOP_TEST(test) cmocka_unit_test_setup_teardown(test, shop_open, shop_close)
    const struct CMUnitTest tests[] = {
        SHOP_TEST(the_usual_way),
        SHOP_TEST(a_step_says_who_where_and_why),
        SHOP_TEST(what_is_missing_is_named),
        SHOP_TEST(mistakes_of_the_host_are_refused),
        SHOP_TEST(a_refused_note_has_no_further_way),
        SHOP_TEST(a_note_found_later_begins_a_case_and_never_goes_back),
        SHOP_TEST(safety_comes_first_for_what_was_not_taken),
        SHOP_TEST(one_envelope_holds_one_note),
        SHOP_TEST(two_persons_when_the_store_asks_for_it),
        SHOP_TEST(the_count_agrees),
        SHOP_TEST(the_count_names_what_is_wrong),
        SHOP_TEST(the_count_takes_envelopes_as_json_only),
        SHOP_TEST(the_count_of_a_period),
        SHOP_TEST(a_ledger_for_reading_takes_no_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
