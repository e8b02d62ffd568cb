/*
 * Who may do what: the first code, roles, sessions and their end, wrong PINs, and that no PIN is ever in the file.
 */
#include "shop.h"

#include <sqlite3.h>
#include <stdbool.h>

static void staff_make(const char *staff, int32_t role)
{
    cfoil_session *session = NULL;
    if (shop_list_count(CFOIL_LIST_STAFF, NULL) > 0)
        assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391-01", 0, &session), CFOIL_OK);
    char pin[40];
    snprintf(pin, sizeof pin, "7391-%s", staff);
    assert_int_equal(cfoil_staff_set(shop.ledger, session, staff, role, pin), CFOIL_OK);
    cfoil_sign_out(session);
}

static cfoil_session *signed_in(const char *staff)
{
    char pin[40];
    cfoil_session *session;
    snprintf(pin, sizeof pin, "7391-%s", staff);
    assert_int_equal(cfoil_sign_in(shop.ledger, staff, pin, 0, &session), CFOIL_OK);
    return session;
}

static void staff_of_three(void)
{
    staff_make("01", CFOIL_ROLE_SUPERVISOR);
    staff_make("02", CFOIL_ROLE_CASHIER);
    staff_make("03", CFOIL_ROLE_AUDITOR);
}

static int32_t step_try(cfoil_session *session, const char *case_id, int32_t move)
{
    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = move;
    options.case_id = case_id;
    options.session = session;
    options.staff = session == NULL ? "07" : NULL;
    options.envelope = "E 1";
    options.place = "safe";
    options.holder = CFOIL_HOLDER_BANK;
    options.receipt = "R 1";
    options.why = "as told";
    return cfoil_custody_move(shop.ledger, &options, NULL);
}

static void the_first_code_is_a_supervisors(void **state)
{
    (void)state;
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "02", CFOIL_ROLE_CASHIER, "7391"), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, "739"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "", CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, NULL, CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", 7, "7391"), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_OK);
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "02", CFOIL_ROLE_CASHIER, "7391"), CFOIL_E_STATE_SIGNED_OUT);
}

static void roles_are_kept(void **state)
{
    (void)state;
    cfoil_record kept = shop_note_keep("S1", NULL);
    staff_of_three();
    assert_int_equal(shop_list_count(CFOIL_LIST_STAFF, NULL), 3);
    assert_int_equal(step_try(NULL, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_E_STATE_SIGNED_OUT);
    cfoil_session *auditor = signed_in("03");
    cfoil_session *cashier = signed_in("02");
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(step_try(auditor, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_E_RULE_ROLE);
    assert_int_equal(step_try(cashier, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_OK);
    assert_int_equal(step_try(cashier, kept.case_id, CFOIL_CUSTODY_HAND_OVER), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_staff_set(shop.ledger, cashier, "04", CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_setting_set(shop.ledger, cashier, NULL, "two_persons", "yes"), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_setting_set(shop.ledger, supervisor, NULL, "two_persons", "yes"), CFOIL_OK);

    cfoil_custody_options options = CFOIL_CUSTODY_OPTIONS_INIT;
    options.move = CFOIL_CUSTODY_HAND_OVER;
    options.case_id = kept.case_id;
    options.session = supervisor;
    options.holder = CFOIL_HOLDER_POLICE;
    options.receipt = "R 1";
    options.second = "02";
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_STATE_SIGNED_OUT);
    options.second_session = auditor;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_ROLE);
    options.second_session = supervisor;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_RULE_SECOND);
    options.second_session = cashier;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_OK);
    cfoil_sign_out(cashier);
    options.session = cashier;
    assert_int_equal(cfoil_custody_move(shop.ledger, &options, NULL), CFOIL_E_STATE_STALE);
    cfoil_sign_out(supervisor);
    cfoil_sign_out(auditor);
}

static void a_role_that_was_taken_away_is_gone_at_once(void **state)
{
    (void)state;
    cfoil_record kept = shop_note_keep("S1", NULL);
    staff_of_three();
    cfoil_session *cashier = signed_in("02");
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(cfoil_staff_set(shop.ledger, supervisor, "02", CFOIL_ROLE_NONE, NULL), CFOIL_OK);
    assert_int_equal(step_try(cashier, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_E_RULE_ROLE);
    cfoil_sign_out(cashier);
    assert_int_equal(cfoil_sign_in(shop.ledger, "02", "7391-02", 0, &cashier), CFOIL_E_RULE_PIN);
    assert_null(cashier);
    assert_int_equal(cfoil_staff_set(shop.ledger, supervisor, "02", CFOIL_ROLE_CASHIER, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_staff_set(shop.ledger, supervisor, "01", CFOIL_ROLE_CASHIER, NULL), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_staff_set(shop.ledger, supervisor, "01", CFOIL_ROLE_NONE, NULL), CFOIL_E_RULE_ROLE);
    cfoil_sign_out(supervisor);
}

static void everybody_changes_the_own_pin(void **state)
{
    (void)state;
    staff_of_three();
    cfoil_session *cashier = signed_in("02");
    assert_int_equal(cfoil_staff_set(shop.ledger, cashier, "02", CFOIL_ROLE_CASHIER, "another"), CFOIL_OK);
    assert_int_equal(cfoil_staff_set(shop.ledger, cashier, "02", CFOIL_ROLE_SUPERVISOR, NULL), CFOIL_E_RULE_ROLE);
    assert_int_equal(cfoil_staff_set(shop.ledger, cashier, "03", CFOIL_ROLE_AUDITOR, "another"), CFOIL_E_RULE_ROLE);
    cfoil_sign_out(cashier);
    assert_int_equal(cfoil_sign_in(shop.ledger, "02", "7391-02", 0, &cashier), CFOIL_E_RULE_PIN);
    assert_int_equal(cfoil_sign_in(shop.ledger, "02", "another", 0, &cashier), CFOIL_OK);
}

static void an_override_needs_a_supervisors_pin(void **state)
{
    (void)state;
    staff_of_three();
    cfoil_session *cashier = signed_in("02");
    cfoil_session *supervisor = signed_in("01");
    cfoil_case *doubt = shop_case_open("S1", 5000);
    shop_case_answer(doubt, CFOIL_ANSWER_NOT_AS_IT_SHOULD_BE);
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    cfoil_record record = CFOIL_RECORD_INIT;
    options.disposition = CFOIL_DISPOSITION_TAKEN;
    options.override_by = "01";
    options.override_why = "known customer";
    assert_int_equal(cfoil_case_dispose(doubt, &options, &record), CFOIL_E_STATE_SIGNED_OUT);
    options.session = cashier;
    assert_int_equal(cfoil_case_dispose(doubt, &options, &record), CFOIL_E_RULE_ROLE);
    options.session = supervisor;
    assert_int_equal(cfoil_case_dispose(doubt, &options, &record), CFOIL_OK);
}

/* ---- Wrong PINs ---- */

static void database_run(const char *sql)
{
    sqlite3 *database;
    assert_int_equal(sqlite3_open(shop.path, &database), SQLITE_OK);
    assert_int_equal(sqlite3_exec(database, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(database);
}

static int64_t database_ask(const char *sql)
{
    sqlite3 *database;
    sqlite3_stmt *row;
    assert_int_equal(sqlite3_open(shop.path, &database), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(database, sql, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(row, 0);
    sqlite3_finalize(row);
    sqlite3_close(database);
    return value;
}

static void wrong_pins_lock_a_code_for_longer_each_time(void **state)
{
    (void)state;
    cfoil_session *session;
    staff_make("01", CFOIL_ROLE_SUPERVISOR);
    for (int i = 0; i < 3; i++)
        assert_int_equal(cfoil_sign_in(shop.ledger, "01", "wrong", 0, &session), CFOIL_E_RULE_PIN);
    assert_int_equal(database_ask("SELECT failures FROM staff"), 3);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391-01", 0, &session), CFOIL_E_RULE_LOCKED);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(shop.ledger, &error), CFOIL_OK);
    assert_non_null(strstr(error.text, "seconds"));
    assert_int_equal(database_ask("SELECT failures FROM staff"), 3); /* a locked try tells nothing and counts nothing */

    database_run("UPDATE staff SET locked_until_utc_ms = locked_until_utc_ms - 40000");
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "wrong", 0, &session), CFOIL_E_RULE_PIN);
    assert_in_range(database_ask("SELECT locked_until_utc_ms - strftime('%s', 'now') * 1000 FROM staff"), 55000, 61000);
    database_run("UPDATE staff SET locked_until_utc_ms = 0");
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391-01", 0, &session), CFOIL_OK);
    assert_int_equal(database_ask("SELECT failures + locked_until_utc_ms FROM staff"), 0);
    cfoil_sign_out(session);
}

static void a_clock_that_was_set_back_does_not_lock_for_ever(void **state)
{
    (void)state;
    cfoil_session *session;
    staff_make("01", CFOIL_ROLE_SUPERVISOR);
    database_run("UPDATE staff SET failures = 1, locked_until_utc_ms = 9999999999999");
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391-01", 0, &session), CFOIL_OK);
}

static void a_code_that_nobody_has_is_answered_alike(void **state)
{
    (void)state;
    cfoil_session *session;
    staff_make("01", CFOIL_ROLE_SUPERVISOR);
    assert_int_equal(cfoil_sign_in(shop.ledger, "99", "7391", 0, &session), CFOIL_E_RULE_PIN);
    assert_int_equal(cfoil_sign_in(shop.ledger, NULL, "7391", 0, &session), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "", 0, &session), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391", 50000, &session), CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391-01", 0, NULL), CFOIL_E_ARGUMENT_NULL);
}

static void a_session_is_of_one_ledger(void **state)
{
    (void)state;
    cfoil_record kept = shop_note_keep("S1", NULL);
    staff_make("01", CFOIL_ROLE_SUPERVISOR);
    cfoil_session *session = signed_in("01");
    cfoil_ledger *first = shop.ledger;
    shop_ledger_open();
    assert_int_equal(step_try(session, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_E_STATE_SIGNED_OUT);
    cfoil_ledger_close(shop.ledger);
    shop.ledger = first;
    assert_int_equal(step_try(session, kept.case_id, CFOIL_CUSTODY_SEAL), CFOIL_OK);
    cfoil_sign_out(session);
    cfoil_sign_out(session);
    cfoil_sign_out(NULL);
}

static bool file_holds(const char *path, const char *text)
{
    FILE *in = fopen(path, "rb");
    static char bytes[1 << 20];
    if (in == NULL)
        return false;
    size_t length = fread(bytes, 1, sizeof bytes, in);
    fclose(in);
    for (size_t i = 0; i + strlen(text) <= length; i++) {
        if (memcmp(bytes + i, text, strlen(text)) == 0)
            return true;
    }
    return false;
}

static void no_pin_is_in_the_file(void **state)
{
    (void)state;
    char log_path[128];
    staff_of_three();
    snprintf(log_path, sizeof log_path, "%s-wal", shop.path);
    assert_true(file_holds(log_path, "argon2id") || file_holds(shop.path, "argon2id"));
    assert_false(file_holds(shop.path, "7391-0"));
    assert_false(file_holds(log_path, "7391-0"));
    assert_int_equal(database_ask("SELECT count(*) FROM entry WHERE kind = 'staff'"), 3);
    assert_int_equal(database_ask("SELECT count(*) FROM entry WHERE body LIKE '%argon%'"), 0);
}

int main(void)
{
#define SHOP_TEST(test) cmocka_unit_test_setup_teardown(test, shop_open, shop_close)
    const struct CMUnitTest tests[] = {
        SHOP_TEST(the_first_code_is_a_supervisors),
        SHOP_TEST(roles_are_kept),
        SHOP_TEST(a_role_that_was_taken_away_is_gone_at_once),
        SHOP_TEST(everybody_changes_the_own_pin),
        SHOP_TEST(an_override_needs_a_supervisors_pin),
        SHOP_TEST(wrong_pins_lock_a_code_for_longer_each_time),
        SHOP_TEST(a_clock_that_was_set_back_does_not_lock_for_ever),
        SHOP_TEST(a_code_that_nobody_has_is_answered_alike),
        SHOP_TEST(a_session_is_of_one_ledger),
        SHOP_TEST(no_pin_is_in_the_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
