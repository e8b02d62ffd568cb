/*
 * Sets of packs: made, extended by a directory, shared, and never half done when memory runs out.
 */
#include "model/memory.h"
#include "pack_texts.h"
#include "packs/builtin.h"
#include "packs/pack_data.h"
#include "test.h"
#include "unit/model/failing.h"

#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

static void path_make(char *path, size_t size, const char *name)
{
    snprintf(path, size, "%s/%s", folder, name);
}

static void file_write(const char *name, const char *text)
{
    char path[128];
    path_make(path, sizeof path, name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
}

static void file_remove(const char *name)
{
    char path[128];
    path_make(path, sizeof path, name);
    assert_int_equal(remove(path), 0);
}

static int folder_make(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/counterfoil-packs-XXXXXX");
    return mkdtemp(folder) != NULL ? 0 : -1;
}

static int folder_remove(void **state)
{
    (void)state;
    return rmdir(folder);
}

static struct pack_set *set_create(void)
{
    struct pack_set *set;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (pack_set_create(&memory_heap, &set, &error) != CFOIL_OK)
        print_error("%s\n", error.text);
    assert_non_null(set);
    return set;
}

/* ---- Extending ---- */

static void a_directory_adds_and_replaces(void **state)
{
    (void)state;
    char *changed = text_spoil(good_jurisdiction, "\"XX\"", "\"DE\"");
    file_write("b.json", good_currency);
    file_write("a.json", changed);
    file_write("c.json", good_messages);
    file_write(".hidden.json", "not read");
    file_write("readme.txt", "not read");
    file_write("x", "not read");
    struct pack_set *set = set_create();
    struct pack_set *more;
    assert_int_equal(pack_set_extend(set, folder, &more, NULL), CFOIL_OK);
    assert_null(pack_currency_find(set, "XTS"));
    assert_non_null(pack_currency_find(more, "XTS"));
    assert_ptr_equal(pack_currency_find(more, "EUR"), pack_currency_find(set, "EUR"));
    assert_string_equal(pack_jurisdiction_find(more, "DE")->title, "Test");
    assert_string_not_equal(pack_jurisdiction_find(set, "DE")->title, "Test");
    /* A shop's own words come before the built-in ones. */
    assert_string_equal(pack_message(more, "en", "caution"), "Take care.");
    assert_string_not_equal(pack_message(set, "en", "caution"), "Take care.");
    assert_string_equal(pack_message(more, "en", "advice.take.title"), pack_message(set, "en", "advice.take.title"));
    assert_string_equal(pack_message(more, "en", "no.such.key"), "no.such.key");
    /* The packs that both hold outlive the older set. */
    pack_set_release(set);
    assert_non_null(pack_note_find(pack_currency_find(more, "EUR"), 5000, NULL));
    pack_set_release(more);
    file_remove("a.json");
    file_remove("b.json");
    file_remove("c.json");
    file_remove(".hidden.json");
    file_remove("readme.txt");
    file_remove("x");
    free(changed);
}

static void messages_of_another_language_are_kept_apart(void **state)
{
    (void)state;
    char *german = text_spoil(good_messages, "\"en\"", "\"de\"");
    file_write("de.json", german);
    struct pack_set *set = set_create();
    struct pack_set *more;
    assert_int_equal(pack_set_extend(set, folder, &more, NULL), CFOIL_OK);
    assert_string_equal(pack_message(more, "en", "caution"), pack_message(set, "en", "caution"));
    assert_string_equal(pack_message(more, "en", "other"), "other");
    pack_set_release(more);
    pack_set_release(set);
    file_remove("de.json");
    free(german);
}

static void of_two_files_with_one_id_the_later_name_wins(void **state)
{
    (void)state;
    char *second = text_spoil(good_jurisdiction, "\"title\": \"Test\"", "\"title\": \"Second\"");
    file_write("2.json", second);
    file_write("1.json", good_jurisdiction);
    struct pack_set *set = set_create();
    struct pack_set *more;
    assert_int_equal(pack_set_extend(set, folder, &more, NULL), CFOIL_OK);
    assert_string_equal(pack_jurisdiction_find(more, "XX")->title, "Second");
    assert_int_equal(pack_set_count(more), pack_set_count(set) + 1);
    pack_set_release(more);
    pack_set_release(set);
    file_remove("1.json");
    file_remove("2.json");
    free(second);
}

static void extend_fails(const struct pack_set *set, const char *directory, int32_t expected, const char *words)
{
    struct pack_set *more = (struct pack_set *)&folder;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(pack_set_extend(set, directory, &more, &error), expected);
    assert_null(more);
    assert_int_equal(error.result, expected);
    if (strstr(error.text, words) == NULL)
        print_error("%s\n", error.text);
    assert_non_null(strstr(error.text, words));
}

static void a_directory_is_taken_whole_or_not_at_all(void **state)
{
    (void)state;
    struct pack_set *set = set_create();
    uint32_t count = pack_set_count(set);
    file_write("a.json", good_currency);
    file_write("b.json", "{\"schema\": 1}");
    extend_fails(set, folder, CFOIL_E_DATA_SCHEMA, "b.json: schema: line 1: must be");
    file_write("b.json", "[1,\n2");
    extend_fails(set, folder, CFOIL_E_DATA_SYNTAX, "b.json: line 2: ");
    file_write("b.json", "");
    extend_fails(set, folder, CFOIL_E_DATA_SYNTAX, "b.json: line 1: the file is empty");
    file_remove("b.json");
    char path[128];
    path_make(path, sizeof path, "b.json");
    assert_int_equal(mkdir(path, 0700), 0);
    extend_fails(set, folder, CFOIL_E_DATA_FILE, "b.json: not a file");
    assert_int_equal(rmdir(path), 0);
    assert_int_equal(mkfifo(path, 0600), 0);
    extend_fails(set, folder, CFOIL_E_DATA_FILE, "b.json: not a file");
    file_remove("b.json");
    assert_int_equal(symlink("nowhere", path), 0);
    extend_fails(set, folder, CFOIL_E_DATA_FILE, "b.json: no such file");
    file_remove("b.json");
    file_remove("a.json");
    extend_fails(set, "/no/such/folder", CFOIL_E_DATA_FILE, "/no/such/folder: the directory cannot be opened");
    assert_int_equal(pack_set_count(set), count);
    assert_null(pack_currency_find(set, "XTS"));
    pack_set_release(set);
}

static void too_many_files_are_refused(void **state)
{
    (void)state;
    char name[32];
    for (unsigned i = 0; i <= PACK_FILES_MAX; i++) {
        snprintf(name, sizeof name, "%03u.json", i);
        file_write(name, good_messages);
    }
    struct pack_set *set = set_create();
    extend_fails(set, folder, CFOIL_E_DATA_SIZE, "more than 256 packs");
    file_remove("000.json");
    struct pack_set *more;
    assert_int_equal(pack_set_extend(set, folder, &more, NULL), CFOIL_OK);
    pack_set_release(more);
    pack_set_release(set);
    for (unsigned i = 1; i <= PACK_FILES_MAX; i++) {
        snprintf(name, sizeof name, "%03u.json", i);
        file_remove(name);
    }
}

static void an_empty_directory_adds_nothing(void **state)
{
    (void)state;
    struct pack_set *set = set_create();
    struct pack_set *more;
    assert_int_equal(pack_set_extend(set, folder, &more, NULL), CFOIL_OK);
    assert_int_equal(pack_set_count(more), pack_set_count(set));
    assert_ptr_equal(pack_set_retain(more), more);
    pack_set_release(more);
    assert_non_null(pack_currency_find(more, "EUR"));
    pack_set_release(more);
    pack_set_release(set);
    pack_set_release(NULL);
    pack_release(NULL);
}

static void a_set_without_a_jurisdiction_of_that_name(void **state)
{
    (void)state;
    struct pack_set *set = set_create();
    assert_null(pack_jurisdiction_find(set, "ZZ"));
    assert_null(pack_currency_find(set, "ZZZ"));
    assert_string_equal(pack_jurisdiction_find(set, NULL)->id, "common");
    assert_string_equal(pack_jurisdiction_find(set, "")->id, "common");
    pack_set_release(set);
}

/* ---- One file ---- */

static void check_expect(const char *text, int32_t expected, const char *words)
{
    char path[128];
    char summary[256] = "untouched";
    path_make(path, sizeof path, "one.json");
    file_write("one.json", text);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(pack_file_check(&memory_heap, path, summary, sizeof summary, &error), expected);
    if (expected == CFOIL_OK) {
        assert_string_equal(summary, words);
    } else {
        assert_non_null(strstr(error.text, words));
        assert_string_equal(summary, "untouched");
    }
    file_remove("one.json");
}

static void one_file_is_checked(void **state)
{
    (void)state;
    check_expect(good_currency, CFOIL_OK,
                 "XTS pack: 2 denomination rows, 2 series, 3 checks, every fact with a source");
    check_expect(good_jurisdiction, CFOIL_OK, "XX jurisdiction: Test; as of 2026-01-31, one source; local law decides");
    check_expect(good_messages, CFOIL_OK,
                 "shop messages: 2 messages, 0 texts of packs, language en, not reviewed by a native speaker");
    check_expect("{}", CFOIL_E_DATA_SCHEMA, "one.json: top level: line 1: the key 'schema' is missing");
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    char summary[16];
    assert_int_equal(pack_file_check(&memory_heap, "/no/such.json", summary, sizeof summary, &error),
                     CFOIL_E_DATA_FILE);
    assert_string_equal(error.text, "/no/such.json: no such file");
    assert_true(error.os_code != 0);
}

static void a_large_file_is_refused(void **state)
{
    (void)state;
    char *text = malloc(PACK_SIZE_MAX + 2);
    assert_non_null(text);
    memset(text, ' ', PACK_SIZE_MAX + 1);
    text[PACK_SIZE_MAX + 1] = '\0';
    check_expect(text, CFOIL_E_DATA_SIZE, "larger than 1 MiB");
    free(text);
}

static void an_unreadable_file_is_told(void **state)
{
    (void)state;
    if (geteuid() == 0)
        skip(); /* root may read everything */
    char path[128];
    char summary[16];
    path_make(path, sizeof path, "secret.json");
    file_write("secret.json", "{}");
    assert_int_equal(chmod(path, 0), 0);
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    assert_int_equal(pack_file_check(&memory_heap, path, summary, sizeof summary, &error), CFOIL_E_DATA_FILE);
    assert_non_null(strstr(error.text, "cannot be opened"));
    file_remove("secret.json");
}

/* ---- Memory that runs out ---- */

static void a_set_is_made_whole_or_not_at_all(void **state)
{
    (void)state;
    int32_t result = CFOIL_E_MEMORY;
    long step = 1;
    /* Every count up to 600 (the whole of the small packs and the head of the euro pack), then wider steps. */
    for (long count = 0; result != CFOIL_OK; count += step) {
        struct pack_set *set;
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        failing_begin(count);
        result = pack_set_create(&failing_memory, &set, &error);
        if (result != CFOIL_OK) {
            assert_int_equal(result, CFOIL_E_MEMORY);
            assert_int_equal(error.result, CFOIL_E_MEMORY);
            assert_null(set);
        }
        pack_set_release(set);
        failing_end();
        assert_int_equal(failing_blocks, 0);
        step = count < 600 ? 1 : 37;
    }
}

static int32_t extend_once(long count, const struct pack_set *set)
{
    struct pack_set *more;
    failing_begin(count);
    int32_t result = pack_set_extend(set, folder, &more, NULL);
    pack_set_release(more);
    failing_end();
    return result;
}

static void a_set_is_extended_whole_or_not_at_all(void **state)
{
    (void)state;
    file_write("a.json", good_currency);
    file_write("b.json", good_jurisdiction);
    file_write("c.json", good_messages);
    struct pack_set *set;
    failing_begin(-1);
    assert_int_equal(pack_set_create(&failing_memory, &set, NULL), CFOIL_OK);
    failing_end();
    long before = failing_blocks;
    int32_t result = CFOIL_E_MEMORY;
    for (long count = 0; result != CFOIL_OK; count++) {
        result = extend_once(count, set);
        assert_true(result == CFOIL_OK || result == CFOIL_E_MEMORY);
        assert_int_equal(failing_blocks, before);
    }
    failing_begin(-1);
    pack_set_release(set);
    failing_end();
    assert_int_equal(failing_blocks, 0);
    file_remove("a.json");
    file_remove("b.json");
    file_remove("c.json");
}

static void the_list_of_packs_is_written_or_memory_is_told(void **state)
{
    (void)state;
    struct pack_set *set = set_create();
    bool good = false;
    for (long count = 1; !good; count++) {
        failing_begin(count);
        cJSON *object = cJSON_CreateObject();
        good = pack_set_describe(set, object);
        cJSON_Delete(object);
        failing_end();
        assert_int_equal(failing_blocks, 0);
    }
    pack_set_release(set);
}

static void a_spoilt_pack_leaks_nothing(void **state)
{
    (void)state;
    static const char *const spoilt[][2] = {
        {"\"tell_confidence\": \"derived\"", "\"tell_confidence\": \"x\""},
        {"\"permille\": 1000", "\"permille\": 1001"},
        {"\"remainder\": 3", "\"remainder\": 30"},
    };
    for (size_t i = 0; i < sizeof spoilt / sizeof spoilt[0]; i++) {
        char *text = text_spoil(good_currency, spoilt[i][0], spoilt[i][1]);
        failing_begin(-1);
        struct pack *pack;
        assert_int_equal(pack_parse(&failing_memory, "x", text, strlen(text), &pack, NULL), CFOIL_E_DATA_SCHEMA);
        failing_end();
        assert_int_equal(failing_blocks, 0);
        free(text);
    }
}

static void an_impossible_size_is_refused(void **state)
{
    (void)state;
    struct arena arena = {.memory = &memory_heap};
    assert_null(arena_allocate(&arena, SIZE_MAX));
    char *large = arena_allocate(&arena, 100000);
    assert_non_null(large);
    large[99999] = 1;
    assert_non_null(arena_allocate(&arena, 0));
    arena_release(&arena);
}

/* ---- The catalogue ---- */

static void the_catalogue_lists_what_is_loaded(void **state)
{
    (void)state;
    struct pack_set *set = set_create();
    cJSON *made = cJSON_CreateObject();
    assert_true(pack_set_describe(set, made));
    char *text = cJSON_PrintUnformatted(made);
    cJSON *object = cJSON_Parse(text); /* the numbers are raw text until they are read again */
    assert_non_null(object);
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItem(object, "packs")), (int)builtin_pack_count);
    const cJSON *euro = cJSON_GetArrayItem(cJSON_GetObjectItem(object, "currencies"), 0);
    assert_string_equal(cJSON_GetObjectItem(euro, "currency")->valuestring, "EUR");
    assert_int_equal(cJSON_GetArraySize(cJSON_GetObjectItem(euro, "denominations")), 13);
    const cJSON *rate = cJSON_GetArrayItem(cJSON_GetObjectItem(euro, "base_rates"), 0);
    assert_int_equal(cJSON_GetObjectItem(rate, "year")->valueint, 2025);
    assert_true(cJSON_IsNull(cJSON_GetObjectItem(rate, "per_million")));
    const cJSON *jurisdiction;
    bool found = false;
    cJSON_ArrayForEach(jurisdiction, cJSON_GetObjectItem(object, "jurisdictions"))
    {
        const cJSON *first = cJSON_GetArrayItem(cJSON_GetObjectItem(jurisdiction, "dispositions"), 0);
        if (strcmp(cJSON_GetObjectItem(jurisdiction, "id")->valuestring, "DE") == 0) {
            assert_string_equal(first->valuestring, "set_aside");
            found = true;
        }
    }
    assert_true(found);
    cJSON_Delete(object);
    cJSON_Delete(made);
    cJSON_free(text);
    assert_false(pack_set_describe(set, NULL));
    pack_set_release(set);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_directory_adds_and_replaces),
        cmocka_unit_test(messages_of_another_language_are_kept_apart),
        cmocka_unit_test(of_two_files_with_one_id_the_later_name_wins),
        cmocka_unit_test(a_directory_is_taken_whole_or_not_at_all),
        cmocka_unit_test(too_many_files_are_refused),
        cmocka_unit_test(an_empty_directory_adds_nothing),
        cmocka_unit_test(a_set_without_a_jurisdiction_of_that_name),
        cmocka_unit_test(one_file_is_checked),
        cmocka_unit_test(a_large_file_is_refused),
        cmocka_unit_test(an_unreadable_file_is_told),
        cmocka_unit_test(a_set_is_made_whole_or_not_at_all),
        cmocka_unit_test(a_set_is_extended_whole_or_not_at_all),
        cmocka_unit_test(the_list_of_packs_is_written_or_memory_is_told),
        cmocka_unit_test(a_spoilt_pack_leaks_nothing),
        cmocka_unit_test(an_impossible_size_is_refused),
        cmocka_unit_test(the_catalogue_lists_what_is_loaded),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
