/*
 * Languages: which text is found, what is missing, and that nobody is left without words.
 */
#include "pack_texts.h"
#include "packs/pack_data.h"
#include "test.h"

#include <unistd.h>

static char folder[64];
static struct pack_set *set;

#define HEAD(id, language, review)                                                                                     \
    "{\"schema\":\"counterfoil.messages/1\",\"id\":\"" id "\",\"language\":\"" language                                \
    "\",\"version\":\"1\",\"reviewed\":\"2026-11-25\",\"source\":\"own\",\"native_review\":" review ","

static const char german[] = HEAD(
    "messages-de", "de", "\"2026-11-20\"") "\"messages\":{\"caution\":\"Vorsicht.\",\"till.back_to\":\"Zur\xC3\xBC"
                                           "ck\",\"till.odd\":\"?\"},"
                                           "\"texts\":[{\"en\":\"watermark\",\"to\":\"Wasserzeichen\"},{\"en\":"
                                           "\"paper\",\"to\":\"Papier\"}]}";
static const char austrian[] = HEAD("messages-at", "de-AT", "false") "\"messages\":{\"till.end\":\"Servus.\"}}";
static const char shop[] = HEAD("shop-de", "de", "\"2026-11-10\"") "\"texts\":[{\"en\":\"paper\",\"to\":\"Stoff\"}]}";

static void file_write(const char *name, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
}

static int set_make(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct pack_set *plain;
    strcpy(folder, "/tmp/counterfoil-language-XXXXXX");
    if (mkdtemp(folder) == NULL || pack_set_create(&memory_heap, &plain, &error) != CFOIL_OK)
        return -1;
    file_write("1.json", german);
    file_write("2.json", austrian);
    file_write("3.json", shop);
    int32_t result = pack_set_extend(plain, folder, &set, &error);
    if (result != CFOIL_OK)
        print_error("%s\n", error.text);
    pack_set_release(plain);
    return result == CFOIL_OK ? 0 : -1;
}

static int set_end(void **state)
{
    (void)state;
    pack_set_release(set);
    for (char name = '1'; name <= '3'; name++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%c.json", folder, name);
        remove(path);
    }
    return rmdir(folder);
}

static void known_languages(void **state)
{
    (void)state;
    static const char *const known[] = {NULL, "", "en", "de", "DE", "de-AT", "de-at", "de-CH", "de-AT-1996"};
    static const char *const unknown[] = {"d", "deu", "xx", "-", "-de", "xx-de"};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        assert_true(pack_language_known(set, known[i]));
    for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++)
        assert_false(pack_language_known(set, unknown[i]));
}

static void a_message_is_looked_for_from_the_narrow_to_the_wide(void **state)
{
    (void)state;
    assert_string_equal(pack_message(set, "de-AT", "till.end"), "Servus.");
    assert_string_equal(pack_message(set, "de-AT", "caution"), "Vorsicht.");
    assert_string_equal(pack_phrase_of_key(set, "de-AT", "caution").language, "de");
    assert_string_equal(pack_message(set, "de", "till.end"), pack_message(set, "en", "till.end"));
    assert_string_equal(pack_phrase_of_key(set, "de", "till.end").language, "en");
    assert_string_equal(pack_message(set, NULL, "caution"), pack_message(set, "en", "caution"));
    assert_string_equal(pack_message(set, "de", "no.such"), "no.such");
    assert_null(pack_phrase_of_key(set, "de", "no.such").pattern);
}

static void a_text_of_a_pack_is_found_by_its_english(void **state)
{
    (void)state;
    assert_string_equal(pack_text(set, "de", "watermark"), "Wasserzeichen");
    assert_string_equal(pack_text(set, "de-AT", "watermark"), "Wasserzeichen");
    assert_string_equal(pack_text(set, "de", "paper"), "Stoff"); /* of the pack added last */
    assert_string_equal(pack_text(set, "de", "no such text"), "no such text");
    assert_string_equal(pack_phrase_of_text(set, "de", "no such text").language, "en");
    assert_string_equal(pack_text(set, "en", "paper"), "paper");
}

static void the_review_is_that_of_the_least_reviewed_pack(void **state)
{
    (void)state;
    assert_string_equal(pack_language_review(set, "de"), "2026-11-10");
    assert_string_equal(pack_language_review(set, "de-AT"), "");
    assert_string_equal(pack_language_review(set, "xx"), pack_language_review(set, "en"));
    assert_string_equal(pack_language_review(set, NULL), pack_language_review(set, ""));
}

static void what_is_missing_is_listed(void **state)
{
    (void)state;
    char *lines;
    uint32_t missing;
    assert_int_equal(pack_language_check(set, &memory_heap, "de", &lines, &missing), CFOIL_OK);
    uint32_t count = 0;
    for (const char *at = lines; *at != '\0'; at++)
        count += *at == '\n';
    assert_int_equal(count, missing);
    assert_true(missing > 100);
    assert_non_null(strstr(lines, "message till.end: Good-bye.\n"));
    assert_non_null(strstr(lines, "names in till.back_to: Back to: {title}\n"));
    assert_non_null(strstr(lines, "no such message till.odd: ?\n"));
    assert_null(strstr(lines, "message caution:"));
    assert_null(strstr(lines, "text: watermark\n"));
    const char *thread = strstr(lines, "text: thread\n");
    assert_non_null(thread);
    assert_null(strstr(thread + 1, "text: thread\n")); /* each once */
    memory_release(&memory_heap, lines);
}

static void english_lacks_nothing(void **state)
{
    (void)state;
    static const char *const english[] = {"en", "EN", "en-GB"};
    for (size_t i = 0; i < 3; i++) {
        char *lines;
        uint32_t missing = 1;
        assert_int_equal(pack_language_check(set, &memory_heap, english[i], &lines, &missing), CFOIL_OK);
        assert_int_equal(missing, 0);
        assert_string_equal(lines, "");
        memory_release(&memory_heap, lines);
    }
}

/* A serial number's words in English are those that serial_check() gives by itself. */
static void serial_numbers_are_worded(void **state)
{
    (void)state;
    static const char *const serials[] = {"X04940051213", "X04940051214", "VA0436214792", "AA0000000000", "nothing"};
    const struct pack_currency *euro = pack_currency_find(set, "EUR");
    for (size_t i = 0; i < sizeof serials / sizeof serials[0]; i++) {
        cfoil_serial plain = CFOIL_SERIAL_INIT;
        serial_check(euro, serials[i], &plain);
        cfoil_serial worded = plain;
        serial_words(set, "en", euro, &worded);
        assert_string_equal(worded.text, plain.text);
        assert_string_equal(worded.issuer, plain.issuer);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(known_languages),
        cmocka_unit_test(a_message_is_looked_for_from_the_narrow_to_the_wide),
        cmocka_unit_test(a_text_of_a_pack_is_found_by_its_english),
        cmocka_unit_test(the_review_is_that_of_the_least_reviewed_pack),
        cmocka_unit_test(what_is_missing_is_listed),
        cmocka_unit_test(english_lacks_nothing),
        cmocka_unit_test(serial_numbers_are_worded),
    };
    return cmocka_run_group_tests(tests, set_make, set_end);
}
