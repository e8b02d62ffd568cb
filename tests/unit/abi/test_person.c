/*
 * Personal data through the exported functions: who may, that it shows nowhere else, and that what is erased is gone from
 * every byte of the files.
 */
#include "shop.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <sys/stat.h>

/* What is planted, and looked for everywhere. */
#define MARK_NAME    "Zqxname Wvkperson"
#define MARK_CONTACT "zqxmail.wvk@example.org"
#define MARK_ID      "zqxid 55-wvk"
#define MARK_NOTE    "zqxnote tall, wvk"
static const char *const marks[] = {"Zqxname", "Wvkperson", "zqxmail", "zqxid", "zqxnote", "wvk"};
enum { MARKS = sizeof marks / sizeof marks[0] };

static char text[262144];
static char case_id[40];
static char logged[65536];

static void log_take(void *user, const cfoil_log_record *record)
{
    (void)user;
    size_t length = strlen(logged);
    snprintf(logged + length, sizeof logged - length, "%s %s %s\n", record->area, record->key, record->text);
}

static void staff_make(void)
{
    cfoil_session *session;
    assert_int_equal(cfoil_staff_set(shop.ledger, NULL, "01", CFOIL_ROLE_SUPERVISOR, "7391"), CFOIL_OK);
    assert_int_equal(cfoil_sign_in(shop.ledger, "01", "7391", 0, &session), CFOIL_OK);
    assert_int_equal(cfoil_staff_set(shop.ledger, session, "02", CFOIL_ROLE_CASHIER, "7392"), CFOIL_OK);
    assert_int_equal(cfoil_staff_set(shop.ledger, session, "03", CFOIL_ROLE_AUDITOR, "7393"), CFOIL_OK);
    cfoil_sign_out(session);
}

static cfoil_session *signed_in(const char *staff)
{
    char pin[8];
    cfoil_session *session;
    snprintf(pin, sizeof pin, "739%c", staff[1]);
    assert_int_equal(cfoil_sign_in(shop.ledger, staff, pin, 0, &session), CFOIL_OK);
    return session;
}

/* As shop_open(), with a log that tells everything, staff, and a kept note. */
static int world_open(void **state)
{
    (void)state;
    logged[0] = '\0';
    strcpy(shop.folder, "/tmp/counterfoil-person-XXXXXX");
    assert_non_null(mkdtemp(shop.folder));
    snprintf(shop.path, sizeof shop.path, "%s/ledger", shop.folder);
    cfoil_context_options options = CFOIL_CONTEXT_OPTIONS_INIT;
    options.log = log_take;
    options.log_level = CFOIL_LOG_DEBUG;
    assert_int_equal(cfoil_context_open(&options, &shop.context), CFOIL_OK);
    shop_ledger_open();
    cfoil_record record = shop_note_keep("S1", "E 1");
    snprintf(case_id, sizeof case_id, "%s", record.case_id);
    return 0;
}

static cfoil_person_options person_make(cfoil_session *session)
{
    cfoil_person_options options = CFOIL_PERSON_OPTIONS_INIT;
    options.session = session;
    options.case_id = case_id;
    options.days = 30;
    options.name = MARK_NAME;
    options.contact = MARK_CONTACT;
    options.id_shown = MARK_ID;
    options.note = MARK_NOTE;
    return options;
}

static int32_t person_set(cfoil_session *session)
{
    cfoil_person_options options = person_make(session);
    return cfoil_person_set(shop.ledger, &options, NULL);
}

static int32_t person_show(cfoil_session *session)
{
    return cfoil_person_json(shop.ledger, session, case_id, text, sizeof text, NULL);
}

static int32_t person_erase(cfoil_session *session)
{
    return cfoil_person_erase(shop.ledger, session, NULL, case_id, NULL);
}

/* ---- Looking everywhere ---- */

static bool bytes_contain(const char *bytes, size_t length, const char *wanted, size_t wanted_length)
{
    for (size_t i = 0; i + wanted_length <= length; i++) {
        if (memcmp(bytes + i, wanted, wanted_length) == 0)
            return true;
    }
    return false;
}

/* The ledger, its helper files, the key file. */
static bool files_contain(const char *wanted, size_t length)
{
    bool found = false;
    DIR *folder = opendir(shop.folder);
    assert_non_null(folder);
    for (struct dirent *file; (file = readdir(folder)) != NULL;) {
        char path[400];
        snprintf(path, sizeof path, "%s/%s", shop.folder, file->d_name);
        FILE *stream = file->d_name[0] == '.' ? NULL : fopen(path, "rb");
        if (stream == NULL)
            continue;
        fseek(stream, 0, SEEK_END);
        size_t size = (size_t)ftell(stream);
        char *bytes = malloc(size + 1);
        rewind(stream);
        assert_non_null(bytes);
        assert_int_equal(fread(bytes, 1, size, stream), size);
        found = found || bytes_contain(bytes, size, wanted, length);
        free(bytes);
        fclose(stream);
    }
    closedir(folder);
    return found;
}

static void no_mark_in(const char *where, const char *words)
{
    for (int i = 0; i < MARKS; i++) {
        if (strstr(words, marks[i]) != NULL)
            fail_msg("%s: '%s' in %s", where, marks[i], words);
    }
}

static void lists_look(void)
{
    for (int32_t list = CFOIL_LIST_OPEN_CASES; list <= CFOIL_LIST_SETTINGS; list++) {
        const char *only = list == CFOIL_LIST_CASE ? case_id : NULL;
        assert_int_equal(cfoil_ledger_list_json(shop.ledger, list, only, text, sizeof text, NULL), CFOIL_OK);
        no_mark_in("a list", text);
    }
    assert_int_equal(cfoil_ledger_case_json(shop.ledger, case_id, text, sizeof text, NULL), CFOIL_OK);
    no_mark_in("the case", text);
    for (int64_t entry = 1; cfoil_ledger_entry_json(shop.ledger, entry, text, sizeof text, NULL) == CFOIL_OK; entry++)
        no_mark_in("an entry", text);
}

static void reports_look(void)
{
    for (int32_t format = CFOIL_FORMAT_JSON; format <= CFOIL_FORMAT_TEXT; format++) {
        cfoil_report_options options = CFOIL_REPORT_OPTIONS_INIT;
        options.format = format;
        assert_int_equal(cfoil_report_write(shop.ledger, &options, text, sizeof text, NULL), CFOIL_OK);
        no_mark_in("the report", text);
    }
    for (int32_t kind = CFOIL_PAPER_RECEIPT; kind <= CFOIL_PAPER_PERIOD; kind++) {
        cfoil_paper_options options = CFOIL_PAPER_OPTIONS_INIT;
        options.kind = kind;
        options.case_id = kind == CFOIL_PAPER_PERIOD ? NULL : case_id;
        assert_int_equal(cfoil_paper_write(shop.ledger, &options, text, sizeof text, NULL), CFOIL_OK);
        no_mark_in("a paper", text);
    }
}

static int32_t export_take(void *user, const char *bytes, size_t length)
{
    int *pieces = user;
    ++*pieces;
    for (int i = 0; i < MARKS; i++)
        assert_false(bytes_contain(bytes, length, marks[i], strlen(marks[i])));
    return CFOIL_OK;
}

static void exports_look(void)
{
    for (int32_t table = 0; table <= CFOIL_TABLE_CUSTODY; table++) {
        int pieces = 0;
        cfoil_export_options options = CFOIL_EXPORT_OPTIONS_INIT;
        options.format = table == 0 ? CFOIL_EXPORT_JSON_LINES : CFOIL_EXPORT_CSV;
        options.table = table;
        options.write = export_take;
        options.user = &pieces;
        assert_int_equal(cfoil_ledger_export(shop.ledger, &options), CFOIL_OK);
        assert_true(pieces > 0);
    }
}

static void everywhere_look(void)
{
    lists_look();
    reports_look();
    exports_look();
    no_mark_in("the log", logged);
    for (int i = 0; i < MARKS; i++)
        assert_false(files_contain(marks[i], strlen(marks[i])));
}

/* The file as other hands see it. */
static void row_read(uint8_t bytes[64], int *length)
{
    sqlite3 *other;
    sqlite3_stmt *row;
    assert_int_equal(sqlite3_open(shop.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(other, "SELECT cipher FROM person", -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    *length = sqlite3_column_bytes(row, 0);
    assert_true(*length >= 64);
    memcpy(bytes, sqlite3_column_blob(row, 0), 64);
    sqlite3_finalize(row);
    sqlite3_close(other);
}

static void other_hand(const char *sql)
{
    sqlite3 *other;
    assert_int_equal(sqlite3_open(shop.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(other);
}

static int steps_count(const char *step)
{
    char wanted[64];
    int count = 0;
    snprintf(wanted, sizeof wanted, "\"step\":\"%s\"", step);
    for (int64_t entry = 1; cfoil_ledger_entry_json(shop.ledger, entry, text, sizeof text, NULL) == CFOIL_OK; entry++)
        count += strstr(text, "counterfoil.person_step/1") != NULL && strstr(text, wanted) != NULL;
    return count;
}

static void chain_is_whole(void)
{
    cfoil_ledger_check check = CFOIL_LEDGER_CHECK_INIT;
    assert_int_equal(cfoil_ledger_verify(shop.ledger, &check), CFOIL_OK);
    assert_int_equal(check.intact, 1);
}

/* ---- Tests ---- */

static void it_is_shown_to_few_and_nowhere_else(void **state)
{
    (void)state;
    assert_int_equal(person_set(NULL), CFOIL_E_STATE_SIGNED_OUT); /* a ledger without staff codes holds none */
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    cfoil_session *cashier = signed_in("02");
    cfoil_session *auditor = signed_in("03");
    assert_int_equal(person_set(NULL), CFOIL_E_STATE_SIGNED_OUT);
    assert_int_equal(person_set(auditor), CFOIL_E_RULE_ROLE);
    assert_int_equal(person_show(supervisor), CFOIL_E_MISSING_ENTRY);
    cfoil_person_options options = person_make(cashier);
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, &record), CFOIL_OK);
    assert_string_equal(record.case_id, case_id);
    assert_int_equal(steps_count("written"), 1);
    everywhere_look();
    assert_int_equal(person_show(NULL), CFOIL_E_STATE_SIGNED_OUT);
    assert_int_equal(person_show(cashier), CFOIL_E_RULE_ROLE);
    assert_int_equal(person_show(auditor), CFOIL_OK);
    assert_int_equal(person_show(supervisor), CFOIL_OK);
    cJSON *shown = cJSON_Parse(text);
    assert_string_equal(shop_text_in(shown, "schema"), "counterfoil.person/1");
    assert_string_equal(shop_text_in(shown, "case"), case_id);
    assert_string_equal(shop_text_in(shown, "name"), MARK_NAME);
    assert_string_equal(shop_text_in(shown, "contact"), MARK_CONTACT);
    assert_string_equal(shop_text_in(shown, "id_shown"), MARK_ID);
    assert_string_equal(shop_text_in(shown, "note"), MARK_NOTE);
    assert_int_equal(strlen(shop_text_in(shown, "erase_after")), 24);
    cJSON_Delete(shown);
    everywhere_look();
    assert_int_equal(person_erase(cashier), CFOIL_E_RULE_ROLE);
    assert_int_equal(person_erase(auditor), CFOIL_E_RULE_ROLE);
    cfoil_sign_out(auditor);
    assert_int_equal(person_show(auditor), CFOIL_E_STATE_STALE);
}

static void what_is_erased_is_gone_from_every_byte(void **state)
{
    (void)state;
    uint8_t first[64];
    uint8_t second[64];
    int length;
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    row_read(first, &length);
    assert_true(files_contain((const char *)first, 64)); /* the search finds what is there */
    assert_int_equal(person_set(supervisor), CFOIL_OK);  /* takes the place of the first */
    row_read(second, &length);
    assert_memory_not_equal(first + 8, second + 8, 56); /* 8 bytes name the key, the rest is never the same */
    assert_int_equal(person_erase(supervisor), CFOIL_OK);
    assert_int_equal(person_erase(supervisor), CFOIL_E_MISSING_ENTRY);
    assert_int_equal(person_show(supervisor), CFOIL_E_MISSING_ENTRY);
    assert_false(files_contain((const char *)first + 8, 24));
    assert_false(files_contain((const char *)second + 8, 24));
    everywhere_look();
    assert_int_equal(steps_count("written"), 2);
    assert_int_equal(steps_count("erased"), 1);
    chain_is_whole();
}

/* While another process reads, the log keeps the sealed bytes; the last one to close takes them away. */
static void a_reader_delays_the_end_of_the_log_only(void **state)
{
    (void)state;
    uint8_t sealed[64];
    int length;
    staff_make();
    cfoil_ledger_close(shop.ledger);
    cfoil_ledger_options options = CFOIL_LEDGER_OPTIONS_INIT;
    options.path = shop.path;
    options.busy_ms = 1;
    assert_int_equal(cfoil_ledger_open(shop.context, &options, &shop.ledger), CFOIL_OK);
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    row_read(sealed, &length);
    sqlite3 *other;
    assert_int_equal(sqlite3_open(shop.path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN; SELECT count(*) FROM person", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(person_erase(supervisor), CFOIL_OK);
    assert_int_equal(person_show(supervisor), CFOIL_E_MISSING_ENTRY);
    assert_true(files_contain((const char *)sealed + 8, 24));
    sqlite3_close(other);
    cfoil_sign_out(supervisor);
    cfoil_ledger_close(shop.ledger);
    assert_false(files_contain((const char *)sealed + 8, 24));
    shop_ledger_open();
    chain_is_whole();
}

/* The row is not hashed: other hands can make it due, as time does. */
static void due_make(void)
{
    other_hand("UPDATE person SET erase_after_utc_ms = 1");
}

static void what_is_over_its_time_goes_by_itself(void **state)
{
    (void)state;
    uint32_t erased = 7;
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    assert_int_equal(cfoil_person_erase(shop.ledger, NULL, NULL, NULL, &erased), CFOIL_OK);
    assert_int_equal(erased, 0); /* thirty days are not over */
    due_make();
    assert_int_equal(cfoil_person_erase(shop.ledger, NULL, NULL, NULL, &erased), CFOIL_OK);
    assert_int_equal(erased, 1);
    assert_int_equal(person_show(supervisor), CFOIL_E_MISSING_ENTRY);
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    due_make();
    cfoil_sign_out(supervisor);
    supervisor = signed_in("01"); /* signing in looks */
    assert_int_equal(person_show(supervisor), CFOIL_E_MISSING_ENTRY);
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    due_make();
    cfoil_ledger_close(shop.ledger);
    shop_ledger_open(); /* opening looks */
    assert_int_equal(steps_count("erased"), 3);
    assert_non_null(strstr((cfoil_ledger_entry_json(shop.ledger, 0, text, sizeof text, NULL), text), "\"by\":null"));
    assert_int_equal(cfoil_person_erase(shop.ledger, NULL, NULL, NULL, &erased), CFOIL_OK);
    assert_int_equal(erased, 0);
    chain_is_whole();
}

static void a_pack_may_say_how_many_days(void **state)
{
    (void)state;
    static const char pack[] =
        "{\"schema\":\"counterfoil.jurisdiction/1\",\"id\":\"XX\",\"version\":\"1\",\"reviewed\":\"2026-02-28\","
        "\"title\":\"Test\",\"as_of\":\"2026-01-31\",\"source\":[\"law\"],\"confidence\":\"one\",\"dispositions\":"
        "[\"not_taken\",\"abandoned\"],\"ask_another\":\"a\",\"set_aside\":\"b\",\"tell_whom\":\"c\",\"write_down\":"
        "\"d\",\"never\":\"e\",\"caution\":\"f\",\"found_later\":\"g\",\"deadline\":\"h\",\"days_kept\":{\"number\":2,"
        "\"text\":\"Two days.\",\"source\":[\"law\"],\"confidence\":\"one\"},\"sources\":{\"law\":\"a law\"}}";
    char folder[100];
    char path[120];
    snprintf(folder, sizeof folder, "%s/packs", shop.folder);
    snprintf(path, sizeof path, "%s/xx.json", folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(pack, file);
    fclose(file);
    assert_int_equal(cfoil_pack_directory_add(shop.context, folder), CFOIL_OK);
    unlink(path);
    rmdir(folder);
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    cfoil_person_options options = person_make(supervisor);
    options.days = 0;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_RULE_PERIOD);
    options.jurisdiction = "DE";
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_RULE_PERIOD);
    options.jurisdiction = "YY";
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_MISSING_JURISDICTION);
    options.jurisdiction = "XX";
    cfoil_record record = CFOIL_RECORD_INIT;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, &record), CFOIL_OK);
    sqlite3 *other;
    sqlite3_stmt *row;
    assert_int_equal(sqlite3_open(shop.path, &other), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(other, "SELECT erase_after_utc_ms - written_utc_ms FROM person", -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    assert_int_equal(sqlite3_column_int64(row, 0), 2 * 86400000);
    sqlite3_finalize(row);
    sqlite3_close(other);
}

static void only_the_key_opens_it(void **state)
{
    (void)state;
    char key[120];
    char away[120];
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    assert_int_equal(person_set(supervisor), CFOIL_OK);
    assert_int_equal(cfoil_ledger_sign(shop.ledger, CFOIL_SIGN_NEW_KEY, supervisor, NULL, NULL), CFOIL_OK);
    assert_int_equal(person_show(supervisor), CFOIL_OK); /* the replaced key opens what it sealed */
    snprintf(key, sizeof key, "%s.key", shop.path);
    snprintf(away, sizeof away, "%s/away", shop.folder);
    assert_int_equal(rename(key, away), 0);
    assert_int_equal(person_show(supervisor), CFOIL_E_LEDGER_KEY_MISSING);
    assert_int_equal(person_set(supervisor), CFOIL_E_LEDGER_KEY_MISSING);
    assert_int_equal(rename(away, key), 0);
    assert_int_equal(person_show(supervisor), CFOIL_OK);
    other_hand("UPDATE person SET case_id = 'another'"); /* sealed for the case, not for another one */
    snprintf(case_id, sizeof case_id, "another");
    assert_int_equal(person_show(supervisor), CFOIL_E_LEDGER_DAMAGED);
    other_hand("UPDATE person SET cipher = x'00'");
    assert_int_equal(person_show(supervisor), CFOIL_E_LEDGER_DAMAGED);
    assert_int_equal(rename(key, away), 0);
    assert_int_equal(person_erase(supervisor), CFOIL_OK); /* erasing needs no key */
    assert_int_equal(rename(away, key), 0);
}

static void mistakes_have_their_answer(void **state)
{
    (void)state;
    char large[402];
    staff_make();
    cfoil_session *supervisor = signed_in("01");
    memset(large, 'a', sizeof large - 1);
    large[sizeof large - 1] = '\0';
    cfoil_person_options options = person_make(supervisor);
    options.case_id = "no-such-case";
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_MISSING_CASE);
    options.case_id = NULL;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    options = person_make(supervisor);
    options.days = 36501;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_RANGE);
    options = person_make(supervisor);
    options.note = large;
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_TEXT);
    cfoil_error_info info = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(cfoil_error_read(shop.ledger, &info), CFOIL_OK);
    no_mark_in("an error", info.text);
    options.note = large + 1; /* the longest that is taken */
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_OK);
    options = person_make(supervisor);
    options.name = options.contact = options.id_shown = NULL;
    options.note = "";
    assert_int_equal(cfoil_person_set(shop.ledger, &options, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_person_set(shop.ledger, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_person_json(shop.ledger, supervisor, NULL, text, 9, NULL), CFOIL_E_ARGUMENT_NULL);
    size_t needed = 0;
    assert_int_equal(cfoil_person_json(shop.ledger, supervisor, case_id, text, 9, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_true(needed > 400);
    assert_int_equal(cfoil_person_erase(shop.ledger, supervisor, NULL, "", NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_person_erase(NULL, NULL, NULL, NULL, NULL), CFOIL_E_ARGUMENT_NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_is_shown_to_few_and_nowhere_else, world_open, shop_close),
        cmocka_unit_test_setup_teardown(what_is_erased_is_gone_from_every_byte, world_open, shop_close),
        cmocka_unit_test_setup_teardown(a_reader_delays_the_end_of_the_log_only, world_open, shop_close),
        cmocka_unit_test_setup_teardown(what_is_over_its_time_goes_by_itself, world_open, shop_close),
        cmocka_unit_test_setup_teardown(a_pack_may_say_how_many_days, world_open, shop_close),
        cmocka_unit_test_setup_teardown(only_the_key_opens_it, world_open, shop_close),
        cmocka_unit_test_setup_teardown(mistakes_have_their_answer, world_open, shop_close),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
