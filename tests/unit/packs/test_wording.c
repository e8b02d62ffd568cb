/*
 * The words of every built-in pack, present and future: nobody is accused, lines are short, English is easy, and no fact
 * stands without a source.
 */
#include "accusing.h"
#include "packs/pack_data.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct pack_set *set;

static int set_open(void **state)
{
    (void)state;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (pack_set_create(&memory_heap, &set, &error) == CFOIL_OK)
        return 0;
    print_error("%s\n", error.text);
    return -1;
}

static int set_end(void **state)
{
    (void)state;
    pack_set_release(set);
    return 0;
}

/* ---- Every text that a person may read ---- */

/* `speech`: what a cashier reads while a customer waits; the rest is for a supervisor. */
typedef void (*visitor)(const char *language, const char *where, const char *text, bool speech);

static void check_visit(const struct pack_check *check, visitor visit)
{
    visit("en", check->id, check->title, true);
    visit("en", check->id, check->instruction, true);
    visit("en", check->id, check->genuine, true);
    visit("en", check->id, check->tell, true);
    visit("en", check->id, check->hint, true);
    visit("en", check->id, check->feature, false);
}

static void currency_visit(const struct pack_currency *currency, visitor visit)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        visit("en", currency->code, currency->notes[i].after_tender, true);
        for (uint32_t j = 0; j < currency->notes[i].check_count; j++)
            check_visit(&currency->notes[i].checks[j], visit);
    }
}

static void jurisdiction_visit(const struct pack_jurisdiction *place, visitor visit)
{
    const struct pack_rule *const rules[] = {&place->ask_another, &place->set_aside,     &place->tell_whom,
                                             &place->write_down,  &place->never,         &place->caution,
                                             &place->found_later, &place->deadline,      &place->customer,
                                             &place->pieces.rule, &place->days_kept.rule};
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        visit("en", place->id, rules[i]->text, true);
    for (uint32_t i = 0; i < place->law_count; i++)
        visit("en", place->id, place->law[i].text, false);
}

static void messages_visit(const struct pack_messages *messages, visitor visit)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, messages->messages)
    {
        visit(messages->language, item->string, item->valuestring, strncmp(item->string, "source", 6) != 0);
    }
    for (uint32_t i = 0; i < messages->translation_count; i++)
        visit(messages->language, messages->translations[i].english, messages->translations[i].text, false);
}

static visitor exchange_visitor_now;

static void rule_visit(void *user, const struct pack_rule *rule)
{
    exchange_visitor_now("en", user, rule->text, true);
}

static void exchange_texts_visit(const struct pack *pack, visitor visit)
{
    static char where[32];
    (void)snprintf(where, sizeof where, "exchange-%.16s", pack->id);
    exchange_visitor_now = visit;
    pack_exchange_visit(&pack->as.exchange, rule_visit, where);
}

static void texts_visit(visitor visit)
{
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind == PACK_CURRENCY)
            currency_visit(&pack->as.currency, visit);
        else if (pack->kind == PACK_JURISDICTION)
            jurisdiction_visit(&pack->as.jurisdiction, visit);
        else if (pack->kind == PACK_MESSAGES)
            messages_visit(&pack->as.messages, visit);
        else if (pack->kind == PACK_EXCHANGE)
            exchange_texts_visit(pack, visit);
    }
}

static unsigned failures;

/* ---- Nobody is accused ---- */

static void accusation_visit(const char *language, const char *where, const char *text, bool speech)
{
    (void)speech;
    const char *word = accusing_word(language, text);
    if (word != NULL) {
        print_error("%s: %s: '%s' in '%s'\n", language, where, word, text);
        failures++;
    }
    if (strstr(text, "  ") != NULL || text[0] == ' ') {
        print_error("%s: %s: blanks in '%s'\n", language, where, text);
        failures++;
    }
}

static void nobody_is_accused(void **state)
{
    (void)state;
    failures = 0;
    texts_visit(accusation_visit);
    assert_int_equal(failures, 0);
}

/* Every language that comes built in has its list above. */
static void every_language_has_its_list(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        bool listed = pack->kind != PACK_MESSAGES;
        for (size_t j = 0; !listed && j < sizeof accusing / sizeof accusing[0]; j++)
            listed = strncmp(pack->as.messages.language, accusing[j].language, 2) == 0;
        assert_true(listed);
    }
}

/* ---- Lines are short ---- */

/* A line is a sentence: up to . ! ? or the danda of Hindi with a blank behind it, or a ; or : with one, or the end. That
 * is where a screen may break. Counted in characters (code points), the limit is our own. */
#define LINE_MAX_CHARACTERS 90

static size_t line_end(const char *text)
{
    for (size_t i = 0; text[i] != '\0'; i++) {
        bool danda = strncmp(text + i, "\xE0\xA5\xA4", 3) == 0;
        if (danda || (strchr(".!?;:", text[i]) != NULL && (text[i + 1] == ' ' || text[i + 1] == '\0')))
            return i + (danda ? 3 : 1);
    }
    return strlen(text);
}

static size_t characters_of(const char *text, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++)
        count += ((unsigned char)text[i] & 0xC0) != 0x80;
    return count;
}

static void line_visit(const char *language, const char *where, const char *text, bool speech)
{
    /* Choices are not lines: only one of them is shown. */
    if (!speech || strstr(text, "select,") != NULL || strstr(text, "plural,") != NULL)
        return;
    while (*text != '\0') {
        size_t length = line_end(text);
        if (characters_of(text, length) > LINE_MAX_CHARACTERS) {
            print_error("%s: %s: %zu characters: %.*s\n", language, where, characters_of(text, length), (int)length,
                        text);
            failures++;
        }
        text += length;
        text += strspn(text, " ");
    }
}

static void lines_are_short(void **state)
{
    (void)state;
    failures = 0;
    texts_visit(line_visit);
    assert_int_equal(failures, 0);
}

/* ---- English is easy ---- */

/* Flesch-Kincaid grade: 0.39 words/sentences + 11.8 syllables/words - 15.59 (J. P. Kincaid, R. P. Fishburne, R. L. Rogers,
 * B. S. Chissom: Derivation of new readability formulas for Navy enlisted personnel, Research Branch Report 8-75, 1975).
 * Syllables are counted by the usual rule of thumb: groups of vowels, without a silent e at the end. */
struct reading {
    unsigned sentences, words, syllables;
};

static bool is_vowel(char letter)
{
    return letter != '\0' && strchr("aeiouy", small(letter)) != NULL;
}

static bool is_letter(char letter)
{
    return small(letter) >= 'a' && small(letter) <= 'z';
}

static unsigned syllables_of(const char *word, size_t length)
{
    unsigned count = 0;
    for (size_t i = 0; i < length; i++)
        count += is_vowel(word[i]) && (i == 0 || !is_vowel(word[i - 1]));
    bool silent = length > 2 && small(word[length - 1]) == 'e' && !is_vowel(word[length - 2]) &&
                  small(word[length - 2]) != 'l';
    if (silent && count > 1)
        count--;
    return count > 0 ? count : 1;
}

static void text_read(const char *text, struct reading *reading)
{
    while (*text != '\0') {
        size_t length = 0;
        while (is_letter(text[length]))
            length++;
        if (length > 0) {
            reading->words++;
            reading->syllables += syllables_of(text, length);
            text += length;
            continue;
        }
        reading->sentences += strchr(".!?:;", *text) != NULL && (text[1] == ' ' || text[1] == '\0');
        if (text[1] == '\0' && strchr(".!?:;", *text) == NULL)
            reading->sentences++;
        text++;
    }
}

static double grade_of(const struct reading *reading)
{
    double words = reading->words;
    return 0.39 * words / reading->sentences + 11.8 * reading->syllables / words - 15.59;
}

static void the_formula_gives_known_grades(void **state)
{
    (void)state;
    /* Worked by hand: 6 words, 1 sentence, 6 syllables; 8 words, 2 sentences, 12 syllables. */
    struct reading reading = {0, 0, 0};
    text_read("The cat sat on the mat.", &reading);
    assert_int_equal(reading.words, 6);
    assert_int_equal(reading.syllables, 6);
    assert_int_equal(reading.sentences, 1);
    assert_true(grade_of(&reading) > -1.46 && grade_of(&reading) < -1.44);
    reading = (struct reading){0, 0, 0};
    text_read("Tilt the yellow paper. Watch a silver number!", &reading);
    assert_int_equal(reading.words, 8);
    assert_int_equal(reading.syllables, 12);
    assert_int_equal(reading.sentences, 2);
    assert_true(grade_of(&reading) > 3.66 && grade_of(&reading) < 3.68);
}

static struct reading all;

/* One check as it is read: what to do, how it should be, how not, what to keep in mind. A few long words weigh much in so
 * short a text, hence the wider bound for one check. Age 12 is grade 6 to 7. */
#define GRADE_MEAN  7.0
#define GRADE_CHECK 9.0

static void check_grade(const char *code, const struct pack_check *check)
{
    struct reading reading = {0, 0, 0};
    const char *const texts[] = {check->instruction, check->genuine, check->tell, check->hint};
    for (size_t i = 0; i < 4; i++)
        text_read(texts[i], &reading);
    all.sentences += reading.sentences;
    all.words += reading.words;
    all.syllables += reading.syllables;
    if (grade_of(&reading) <= GRADE_CHECK)
        return;
    print_error("%s: %s: grade %.1f: %s / %s / %s / %s\n", code, check->id, grade_of(&reading), check->instruction,
                check->genuine, check->tell, check->hint);
    failures++;
}

static void checks_read_like_the_sixth_grade(void **state)
{
    (void)state;
    failures = 0;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind != PACK_CURRENCY)
            continue;
        all = (struct reading){0, 0, 0};
        for (uint32_t j = 0; j < pack->as.currency.note_count; j++) {
            const struct pack_note *note = &pack->as.currency.notes[j];
            for (uint32_t k = 0; k < note->check_count; k++)
                check_grade(pack->id, &note->checks[k]);
        }
        print_message("%s: Flesch-Kincaid grade %.1f\n", pack->id, grade_of(&all));
        assert_true(grade_of(&all) <= GRADE_MEAN);
    }
    assert_int_equal(failures, 0);
}

static void message_read(const char *language, const char *where, const char *text, bool speech)
{
    (void)where;
    if (speech && strcmp(language, "en") == 0)
        text_read(text, &all);
}

static void messages_read_like_the_sixth_grade(void **state)
{
    (void)state;
    all = (struct reading){0, 0, 0};
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        if (pack_set_at(set, i)->kind == PACK_MESSAGES)
            messages_visit(&pack_set_at(set, i)->as.messages, message_read);
    }
    print_message("messages: Flesch-Kincaid grade %.1f\n", grade_of(&all));
    assert_true(grade_of(&all) <= GRADE_MEAN);
}

/* ---- No fact without a source ---- */

static void source_check(const char *where, const char *source, enum confidence confidence)
{
    if (source != NULL && strlen(source) > 5 && confidence >= CONFIDENCE_SEVERAL && confidence <= CONFIDENCE_ESTIMATE)
        return;
    print_error("%s: source '%s'\n", where, source != NULL ? source : "none");
    failures++;
}

static void currency_sources_check(const struct pack_currency *currency)
{
    for (uint32_t i = 0; i < currency->series_count; i++)
        source_check(currency->series[i].id, currency->series[i].source, currency->series[i].confidence);
    for (uint32_t i = 0; i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        source_check(note->series, note->source, note->confidence);
        for (uint32_t j = 0; j < note->check_count; j++) {
            source_check(note->checks[j].id, note->checks[j].source, note->checks[j].confidence);
            source_check(note->checks[j].id, note->checks[j].source, note->checks[j].tell_confidence);
        }
    }
    for (uint32_t i = 0; i < currency->serial_count; i++)
        source_check(currency->serials[i].form, currency->serials[i].source, currency->serials[i].confidence);
    for (uint32_t i = 0; i < currency->rate_count; i++)
        source_check("base_rates", currency->rates[i].source, currency->rates[i].confidence);
}

static void jurisdiction_sources_check(const struct pack_jurisdiction *place)
{
    const struct pack_rule *const rules[] = {&place->ask_another, &place->set_aside, &place->tell_whom,
                                             &place->write_down,  &place->never,     &place->caution,
                                             &place->found_later, &place->deadline};
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        source_check(place->id, rules[i]->source, rules[i]->confidence);
    for (uint32_t i = 0; i < place->law_count; i++)
        source_check(place->id, place->law[i].source, place->law[i].confidence);
}

static void exchange_rule_check(void *user, const struct pack_rule *rule)
{
    (void)user;
    source_check(rule->text, rule->source, rule->confidence);
}

static void exchange_sources_check(const struct pack_exchange *exchange)
{
    pack_exchange_visit(exchange, exchange_rule_check, NULL);
    for (uint32_t i = 0; i < exchange->area_count; i++)
        source_check("area", exchange->areas[i].source, exchange->areas[i].confidence);
    for (uint32_t i = 0; i < exchange->fitness_count; i++)
        source_check(defect_word(exchange->fitness[i].defect), exchange->fitness[i].source,
                     exchange->fitness[i].confidence);
}

static void every_fact_has_a_source(void **state)
{
    (void)state;
    failures = 0;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind == PACK_CURRENCY)
            currency_sources_check(&pack->as.currency);
        if (pack->kind == PACK_JURISDICTION)
            jurisdiction_sources_check(&pack->as.jurisdiction);
        if (pack->kind == PACK_EXCHANGE)
            exchange_sources_check(&pack->as.exchange);
    }
    assert_int_equal(failures, 0);
}

/* ---- What must fit into a member of a public struct, in any language ---- */

static void serial_visit(const char *language, const char *where, const char *text, bool speech)
{
    (void)speech;
    cfoil_serial serial;
    size_t room = strncmp(where, "serial.issuer", 13) == 0 ? sizeof serial.issuer : sizeof serial.text;
    if (strncmp(where, "serial.", 7) == 0 && strlen(text) >= room) {
        print_error("%s: %s: %zu bytes, but room for %zu\n", language, where, strlen(text), room - 1);
        failures++;
    }
}

static void messages_of_serial_numbers_fit(void **state)
{
    (void)state;
    failures = 0;
    texts_visit(serial_visit);
    assert_int_equal(failures, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nobody_is_accused),
        cmocka_unit_test(every_language_has_its_list),
        cmocka_unit_test(lines_are_short),
        cmocka_unit_test(the_formula_gives_known_grades),
        cmocka_unit_test(checks_read_like_the_sixth_grade),
        cmocka_unit_test(messages_read_like_the_sixth_grade),
        cmocka_unit_test(every_fact_has_a_source),
        cmocka_unit_test(messages_of_serial_numbers_fit),
    };
    return cmocka_run_group_tests(tests, set_open, set_end);
}
