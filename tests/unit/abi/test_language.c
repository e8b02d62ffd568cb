/*
 * Languages at the interface: one message, what a language lacks, and a case in another language.
 */
#include "test.h"

#include <counterfoil/counterfoil.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static cfoil_context *context;
static char folder[64];
static char path[96];

static const char french[] =
    "{\"schema\":\"counterfoil.messages/1\",\"id\":\"messages-fr\",\"language\":\"fr\",\"version\":\"1\","
    "\"reviewed\":\"2026-11-25\",\"source\":\"own\",\"native_review\":false,"
    "\"messages\":{\"caution\":\"Une aide, pas une preuve.\",\"till.back_to\":\"Retour\xC2\xA0: {title}\","
    "\"serial.figure_fits\":\"La cl\xC3\xA9 est juste.\"},"
    "\"texts\":[{\"en\":\"Words such as COPY\",\"to\":\"Des mots comme COPY\"}]}";

static int context_make(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/counterfoil-language-XXXXXX");
    if (mkdtemp(folder) == NULL || cfoil_context_open(NULL, &context) != CFOIL_OK)
        return -1;
    snprintf(path, sizeof path, "%s/fr.json", folder);
    FILE *file = fopen(path, "wb");
    if (file == NULL || fwrite(french, 1, strlen(french), file) != strlen(french) || fclose(file) != 0)
        return -1;
    return cfoil_pack_directory_add(context, folder) == CFOIL_OK ? 0 : -1;
}

static int context_end(void **state)
{
    (void)state;
    cfoil_context_close(context);
    remove(path);
    return rmdir(folder);
}

static int32_t message(const char *language, const char *key, char *buffer, size_t capacity, size_t *needed)
{
    const cfoil_argument title = {"title", "A", 0};
    return cfoil_message(context, language, key, &title, 1, buffer, capacity, needed);
}

static void a_message_comes_in_its_language(void **state)
{
    (void)state;
    char text[200];
    size_t needed;
    assert_int_equal(message("fr-CA", "till.back_to", text, sizeof text, &needed), CFOIL_OK);
    assert_string_equal(text, "Retour\xC2\xA0: A");
    assert_int_equal(needed, strlen(text) + 1);
    assert_int_equal(message(NULL, "till.back_to", text, sizeof text, NULL), CFOIL_OK);
    assert_string_equal(text, "Back to: A");
    assert_int_equal(message("fr", "till.end", text, sizeof text, NULL), CFOIL_OK);
    assert_string_equal(text, "Good-bye.");
    assert_int_equal(cfoil_message(context, "fr", "till.back_to", NULL, 0, text, sizeof text, NULL), CFOIL_OK);
    assert_string_equal(text, "Retour\xC2\xA0: {title}");
    assert_int_equal(cfoil_message(context, "fr", "language.review", NULL, 0, text, sizeof text, NULL), CFOIL_OK);
    assert_non_null(strstr(text, "not yet reviewed"));
}

static int32_t place_text(const char *key, char *text, size_t capacity)
{
    return cfoil_message(context, "de", key, NULL, 0, text, capacity, NULL);
}

static void the_rules_of_a_place_have_keys(void **state)
{
    (void)state;
    static const char *const there[] = {
        "title", "date",    "source",      "ask_another", "set_aside", "tell_whom",          "write_down",
        "never", "caution", "found_later", "deadline",    "law.1",     "found_later.source", "law.1.source",
    };
    static const char *const missing[] = {
        "jurisdiction.DE.law.0",        "jurisdiction.DE.law.99",     "jurisdiction.DE.law.",
        "jurisdiction.DE.law.x",        "jurisdiction.DE.law.1x",     "jurisdiction.DE.law.100",
        "jurisdiction.DE.title.source", "jurisdiction.DE.",           "jurisdiction.DE",
        "jurisdiction..title",          "jurisdiction.nowhere.title", "jurisdiction.12345678901234567.title",
        "jurisdiction.DE.found",        "jurisdiction.DE..source"};
    char text[1024];
    char key[64];
    for (size_t i = 0; i < sizeof there / sizeof there[0]; i++) {
        snprintf(key, sizeof key, "jurisdiction.DE.%s", there[i]);
        assert_int_equal(place_text(key, text, sizeof text), CFOIL_OK);
        assert_true(strlen(text) > 1);
    }
    for (size_t i = 0; i < sizeof missing / sizeof missing[0]; i++)
        assert_int_equal(place_text(missing[i], text, sizeof text), CFOIL_E_MISSING_MESSAGE);
    assert_int_equal(place_text("jurisdiction.DE.tell_whom", text, sizeof text), CFOIL_OK);
    assert_non_null(strstr(text, "110"));
    assert_non_null(strstr(text, "Polizei")); /* in the language that was asked for */
}

static void a_small_buffer_stays_empty(void **state)
{
    (void)state;
    char text[8] = "xxxxxxx";
    size_t needed = 0;
    assert_int_equal(message("en", "till.back_to", text, sizeof text, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(needed, strlen("Back to: A") + 1);
    assert_string_equal(text, "");
    assert_int_equal(message("en", "till.back_to", NULL, 0, &needed), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(message("en", "till.back_to", NULL, 5, &needed), CFOIL_E_ARGUMENT_NULL);
}

static void wrong_calls_are_told(void **state)
{
    (void)state;
    char text[100];
    const cfoil_argument nameless = {NULL, "a", 0};
    const cfoil_argument broken = {"title", "\xC3", 0};
    static const cfoil_argument many[17] = {{"a", "a", 0}};
    assert_int_equal(message("xx", "till.end", text, sizeof text, NULL), CFOIL_E_MISSING_LANGUAGE);
    assert_int_equal(message("fr", "till.none", text, sizeof text, NULL), CFOIL_E_MISSING_MESSAGE);
    assert_int_equal(message("fr", NULL, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(message("fr", "", text, sizeof text, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(message("a-very-long-language", "till.end", text, sizeof text, NULL), CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_message(context, "fr", "till.end", NULL, 1, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_message(context, "fr", "till.end", &nameless, 1, text, sizeof text, NULL),
                     CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_message(context, "fr", "till.end", &broken, 1, text, sizeof text, NULL),
                     CFOIL_E_ARGUMENT_TEXT);
    assert_int_equal(cfoil_message(context, "fr", "till.end", many, 17, text, sizeof text, NULL),
                     CFOIL_E_ARGUMENT_RANGE);
    assert_int_equal(cfoil_message(NULL, "fr", "till.end", NULL, 0, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
}

static void what_a_language_lacks_is_told(void **state)
{
    (void)state;
    static char text[1048576];
    uint32_t missing = 0;
    size_t needed = 0;
    assert_int_equal(cfoil_language_check(context, "fr", &missing, text, sizeof text, &needed), CFOIL_OK);
    assert_true(missing > 100);
    assert_int_equal(needed, strlen(text) + 1);
    assert_non_null(strstr(text, "message till.end: Good-bye.\n"));
    missing = 7;
    assert_int_equal(cfoil_language_check(context, "fr", &missing, text, 10, NULL), CFOIL_E_ARGUMENT_BUFFER);
    assert_int_equal(missing, 7);
    assert_int_equal(cfoil_language_check(context, "en", &missing, text, sizeof text, NULL), CFOIL_OK);
    assert_int_equal(missing, 0);
    assert_string_equal(text, "");
    assert_int_equal(cfoil_language_check(context, "xx", &missing, text, sizeof text, NULL), CFOIL_E_MISSING_LANGUAGE);
    assert_int_equal(cfoil_language_check(context, NULL, &missing, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_language_check(context, "fr", NULL, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
    assert_int_equal(cfoil_language_check(NULL, "fr", &missing, text, sizeof text, NULL), CFOIL_E_ARGUMENT_NULL);
}

static void a_case_speaks_its_language(void **state)
{
    (void)state;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = "EUR";
    options.value_minor = 5000;
    options.language = "xx";
    cfoil_case *doubt;
    assert_int_equal(cfoil_case_open(context, &options, &doubt), CFOIL_E_MISSING_LANGUAGE);
    options.language = "a-very-long-language";
    assert_int_equal(cfoil_case_open(context, &options, &doubt), CFOIL_E_ARGUMENT_TEXT);
    options.language = "FR";
    assert_int_equal(cfoil_case_open(context, &options, &doubt), CFOIL_OK);
    cfoil_step step = CFOIL_STEP_INIT;
    bool translated = false;
    for (int i = 0; i < 12; i++) {
        assert_int_equal(cfoil_case_step(doubt, &step), CFOIL_OK);
        assert_string_equal(step.caution, "Une aide, pas une preuve.");
        if (step.kind != CFOIL_STEP_CHECK)
            break;
        translated = translated || strcmp(step.title, "Des mots comme COPY") == 0;
        assert_int_equal(cfoil_case_answer(doubt, step.check, CFOIL_ANSWER_AS_IT_SHOULD_BE), CFOIL_OK);
    }
    assert_int_equal(step.kind, CFOIL_STEP_ADVICE);
    assert_true(translated);
    assert_string_equal(step.title, "Take the note"); /* not translated: English */
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    assert_int_equal(cfoil_case_serial_set(doubt, "X04940051213", &serial), CFOIL_OK);
    assert_string_equal(serial.text, "La cl\xC3\xA9 est juste.");
    cfoil_case_close(doubt);
}

/* ---- Packs that are read when somebody wants them, by several threads at once ---- */

struct wanting {
    pthread_t thread;
    pthread_barrier_t *together;
    cfoil_context *shared;
    const char *currency, *jurisdiction, *language;
    bool good;
};

static void *want_in_thread(void *user)
{
    struct wanting *wanting = user;
    cfoil_case_options options = CFOIL_CASE_OPTIONS_INIT;
    options.currency = wanting->currency;
    options.value_minor = 10000;
    options.jurisdiction = wanting->jurisdiction;
    options.language = wanting->language;
    cfoil_case *doubt = NULL;
    cfoil_step step = CFOIL_STEP_INIT;
    cfoil_serial serial = CFOIL_SERIAL_INIT;
    char text[500];
    pthread_barrier_wait(wanting->together);
    wanting->good = cfoil_message(wanting->shared, wanting->language, "caution", NULL, 0, text, sizeof text, NULL) ==
                        CFOIL_OK &&
                    cfoil_serial_check(wanting->shared, wanting->currency, "AA123456", &serial) == CFOIL_OK &&
                    cfoil_case_open(wanting->shared, &options, &doubt) == CFOIL_OK &&
                    cfoil_case_step(doubt, &step) == CFOIL_OK;
    cfoil_case_close(doubt);
    return NULL;
}

static void threads_at_once_get_what_they_want(void **state)
{
    (void)state;
    static const char *const wants[][3] = {{"EUR", "DE", "de"}, {"EUR", "IT", "it"},   {"INR", "IN", "hi"},
                                           {"USD", "US", "es"}, {"USD", "common", ""}, {"EUR", "LU", "fr"}};
    enum { WANTS = sizeof wants / sizeof wants[0] };
    for (int round = 0; round < 10; round++) {
        struct wanting wanting[WANTS];
        pthread_barrier_t together;
        cfoil_context *shared;
        assert_int_equal(cfoil_context_open(NULL, &shared), CFOIL_OK);
        assert_int_equal(pthread_barrier_init(&together, NULL, WANTS), 0);
        for (int i = 0; i < WANTS; i++) {
            wanting[i] = (struct wanting){0, &together, shared, wants[i][0], wants[i][1], wants[i][2], false};
            assert_int_equal(pthread_create(&wanting[i].thread, NULL, want_in_thread, &wanting[i]), 0);
        }
        for (int i = 0; i < WANTS; i++) {
            assert_int_equal(pthread_join(wanting[i].thread, NULL), 0);
            assert_true(wanting[i].good);
        }
        pthread_barrier_destroy(&together);
        cfoil_context_close(shared);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_message_comes_in_its_language),    cmocka_unit_test(the_rules_of_a_place_have_keys),
        cmocka_unit_test(a_small_buffer_stays_empty),         cmocka_unit_test(wrong_calls_are_told),
        cmocka_unit_test(what_a_language_lacks_is_told),      cmocka_unit_test(a_case_speaks_its_language),
        cmocka_unit_test(threads_at_once_get_what_they_want),
    };
    return cmocka_run_group_tests(tests, context_make, context_end);
}
