/*
 * Signing through the exported functions: who may, what is told, and what older programs see.
 */
#include "shop.h"

static void a_checkpoint_is_told_and_listed(void **state)
{
    (void)state;
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, NULL), 0);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, &record), CFOIL_OK);
    assert_int_equal(record.entry, 3);
    assert_int_equal(strlen(record.hash), 64);
    assert_true(record.time_utc_ms > 0);
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, NULL), 1);
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.checkpoints, 1);
    assert_string_equal(check.head, record.hash);
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, check.key), 1);
    char key[68];
    strcpy(key, check.key);
    check.trusted_key = key;
    check.noted_hash = record.hash;
    check.noted_entry = record.entry;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    assert_ptr_equal(check.trusted_key, key); /* what was given stays */
    key[5] = key[5] == '0' ? '1' : '0';
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 0);
    key[5] = 'x';
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_E_ARGUMENT_TEXT);
}

static void a_new_key_is_a_supervisors(void **state)
{
    (void)state;
    cfoil_record first = CFOIL_RECORD_INIT;
    cfoil_record second = CFOIL_RECORD_INIT;
    cfoil_session *session;
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, NULL, NULL, &first), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, NULL, "01", &first), CFOIL_OK);
    assert_int_equal(first.entry, 2);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_OK);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, NULL, "01", NULL), CFOIL_E_STATE_SIGNED_OUT);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391", 0, &session), CFOIL_OK);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, session, NULL, &second), CFOIL_OK);
    assert_int_equal(second.entry, 4);
    assert_int_equal(cfoil_staff_set(shop.ledger, session, "02", CFOIL_ROLE_CASHIER, "5555"), CFOIL_OK);
    cfoil_sign_out(session);
    assert_int_equal(cfoil_sign_in(shop.ledger, "02", "5555", 0, &session), CFOIL_OK);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, session, NULL, NULL), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, NULL), CFOIL_OK);
    cfoil_sign_out(session);
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, NULL), 2);
}

static void wrong_calls_are_told(void **state)
{
    (void)state;
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(cfoil_ledger_sign(NULL, CFOIL_SIGN_CHECKPOINT, NULL, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, 0, NULL, NULL, NULL), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, 3, NULL, "01", NULL), CFOIL_E_ARGUMENT_RANGE);
    record.struct_size = 0;
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, &record),
                     CFOIL_E_ARGUMENT_STRUCT_SIZE);
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, NULL), 0);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    cfoil_ledger *other;
    options.path = shop.path;
    options.checkpoint_entries = -2;
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &other), CFOIL_E_ARGUMENT_RANGE);
    options.checkpoint_entries = -1;
    options.reserved = 1;
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &other), CFOIL_E_ARGUMENT_RANGE);
}

static void lists_are_made_again(void **state)
{
    (void)state;
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_CHECKPOINT, NULL, NULL, NULL), CFOIL_OK);
    assert_int_equal(cfoil_ledger_rebuild(shop.ledger), CFOIL_OK);
    assert_int_equal(shop_list_count(CFOIL_LIST_KEYS, NULL), 1);
    assert_int_equal(cfoil_ledger_rebuild(NULL), CFOIL_E_ARGUMENT_NULL);
}

/* The structs as they were before signing: the same calls with their sizes of then. */
static void older_programs_go_on(void **state)
{
    (void)state;
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    cfoil_ledger *other;
    options.path = shop.path;
    options.struct_size = offsetof(cfoil_ledger_options, checkpoint_entries);
    options.checkpoint_entries = -77; /* not a member of theirs */
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &other), CFOIL_OK);
    cfoil_ledger_close(other);
    check.struct_size = offsetof(cfoil_ledger_check, trusted_key);
    check.trusted_key = "what stands behind their struct";
    check.signed_until = 77;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
    assert_int_equal(check.signed_until, 77);
    check.struct_size--;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_E_ARGUMENT_STRUCT_SIZE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_checkpoint_is_told_and_listed, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(a_new_key_is_a_supervisors, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(wrong_calls_are_told, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(lists_are_made_again, shop_open, shop_close),
        cmocka_unit_test_setup_teardown(older_programs_go_on, shop_open, shop_close),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
