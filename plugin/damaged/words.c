/*
 * The answer in words: messages of the catalogue and texts of the packs, one a line. No text of this file reaches a person.
 */
#include "damaged/answer.h"
#include "damaged/fitness.h"
#include "packs/message_format.h"

#include <stdio.h>
#include <string.h>

#define PHRASE_SIZE 1024

struct words {
    const struct pack_set *packs;
    const struct damaged_request *request;
    const struct judgement *judgement;
    struct drawing *text;
};

/* ---- Numbers ---- */

void thousandths_write(int64_t thousandths, char text[NUMBER_TEXT_SIZE])
{
    int length = snprintf(text, NUMBER_TEXT_SIZE, "%lld.%03d", (long long)(thousandths / 1000),
                          (int)(thousandths % 1000));
    while (text[length - 1] == '0')
        length--;
    if (text[length - 1] == '.')
        length--;
    text[length] = '\0';
}

/* Square millimetres with two decimals at most; `up` rounds upward, so that a bound never looks smaller than it is. */
static void mm2_write(int64_t um2, bool up, char text[NUMBER_TEXT_SIZE])
{
    int64_t hundredths = (um2 + (up ? 9999 : 5000)) / 10000;
    thousandths_write(hundredths * 10, text);
}

static void amount_write(const struct words *words, int64_t minor, char *text, size_t capacity)
{
    char value[NUMBER_TEXT_SIZE];
    pack_value_write(words->request->currency, minor, value, sizeof value);
    (void)snprintf(text, capacity, "%s %s", pack_currency_code(words->request->currency), value);
}

/* ---- Phrases ---- */

static void phrase_put(const struct words *words, struct pack_phrase phrase, const cfoil_argument *arguments,
                       size_t count)
{
    struct drawing *text = words->text;
    size_t room = text->capacity > text->length ? text->capacity - text->length : 0;
    char *at = room > 0 ? text->buffer + text->length : NULL;
    text->length += message_format(phrase.language, phrase.pattern, arguments, count, at, room);
}

static void message_put(const struct words *words, const char *key, const cfoil_argument *arguments, size_t count)
{
    struct pack_phrase phrase = pack_phrase_of_key(words->packs, words->request->language, key);
    if (phrase.pattern == NULL)
        phrase.pattern = key;
    phrase_put(words, phrase, arguments, count);
}

static void line_put(const struct words *words, const char *key, const cfoil_argument *arguments, size_t count)
{
    message_put(words, key, arguments, count);
    drawing_put(words->text, "\n");
}

/* The same into a text of its own, to stand inside another message. */
static const char *message_make(const struct words *words, const char *key, const cfoil_argument *arguments,
                                size_t count, char text[PHRASE_SIZE])
{
    struct drawing inner = {text, PHRASE_SIZE, 0};
    struct words into = *words;
    into.text = &inner;
    text[0] = '\0';
    message_put(&into, key, arguments, count);
    return text;
}

static const char *confidence_make(const struct words *words, enum confidence confidence, char text[PHRASE_SIZE])
{
    char key[48];
    (void)snprintf(key, sizeof key, "confidence.%s", confidence_word(confidence));
    return message_make(words, key, NULL, 0, text);
}

/* A rule behind a label, and how far it can be trusted. */
static void rule_put(const struct words *words, const char *key, const struct pack_rule *rule)
{
    char title[PHRASE_SIZE] = "";
    char confidence[PHRASE_SIZE];
    struct pack_phrase phrase = pack_phrase_of_text(words->packs, words->request->language, rule->text);
    (void)message_format(phrase.language, phrase.pattern, NULL, 0, title, sizeof title);
    const cfoil_argument arguments[] = {{"title", title, 0},
                                        {"confidence", confidence_make(words, rule->confidence, confidence), 0}};
    line_put(words, key, arguments, 2);
}

/* ---- Worth ---- */

static void outcome_put(const struct words *words, const char *outcome, int64_t least_minor, int64_t most_minor)
{
    char key[48];
    char least[64];
    char most[64];
    char range[PHRASE_SIZE];
    amount_write(words, least_minor, least, sizeof least);
    amount_write(words, most_minor, most, sizeof most);
    const cfoil_argument ends[] = {{"first", least, 0}, {"second", most, 0}};
    const char *amount = least_minor == most_minor ? least : message_make(words, "worth.range", ends, 2, range);
    (void)snprintf(key, sizeof key, "worth.outcome.%s", outcome);
    const cfoil_argument arguments[] = {{"amount", amount, 0}};
    line_put(words, key, arguments, 1);
}

static void verdict_put(const struct words *words, const struct verdict *verdict)
{
    int64_t value = words->request->note->value_minor;
    int64_t paid = verdict->worth == WORTH_HALF ? value / 2 : value;
    outcome_put(words, worth_word(verdict->worth), paid, paid);
}

/* What an end of the measurement leads to; both ends when they differ. */
static void claim_put(const struct words *words, const struct claim *claim)
{
    if (claim->at_least.worth == claim->at_most.worth) {
        verdict_put(words, &claim->at_least);
        return;
    }
    outcome_put(words, "too_close", 0, 0);
    drawing_put(words->text, "- ");
    verdict_put(words, &claim->at_least);
    drawing_put(words->text, "- ");
    verdict_put(words, &claim->at_most);
}

static void measured_put(const struct words *words, struct area area)
{
    char first[NUMBER_TEXT_SIZE];
    char second[NUMBER_TEXT_SIZE];
    char whole[NUMBER_TEXT_SIZE];
    mm2_write(area.um2, false, first);
    mm2_write(area.bound_um2, true, second);
    mm2_write(words->request->area_um2, false, whole);
    const cfoil_argument arguments[] = {{"first", first, 0}, {"second", second, 0}, {"amount", whole, 0}};
    line_put(words, "worth.measured", arguments, 3);
}

static void claim_rules_put(const struct words *words, const struct claim *claim)
{
    if (claim->at_least.rule != NULL)
        rule_put(words, "worth.rule", claim->at_least.rule);
    if (claim->at_most.rule != NULL && claim->at_most.rule != claim->at_least.rule)
        rule_put(words, "worth.rule", claim->at_most.rule);
}

static void pieces_put(const struct words *words)
{
    const struct judgement *judgement = words->judgement;
    if (judgement->value_known)
        outcome_put(words, "each_piece", judgement->least_minor, judgement->most_minor);
    for (uint32_t i = 0; i < judgement->claim_count; i++) {
        drawing_format(words->text, "%u. ", (unsigned)(i + 1));
        claim_put(words, &judgement->claims[i]);
        measured_put(words, judgement->claims[i].area);
    }
    for (uint32_t i = 0; i < judgement->claim_count; i++)
        claim_rules_put(words, &judgement->claims[i]);
}

static void judgement_put(const struct words *words)
{
    const struct judgement *judgement = words->judgement;
    if (judgement->decline)
        line_put(words, "worth.decline", NULL, 0);
    if (judgement->state == JUDGE_EACH_PIECE) {
        pieces_put(words);
        return;
    }
    if (judgement->state == JUDGE_MEASURE) {
        outcome_put(words, "measure", 0, 0);
        return;
    }
    claim_put(words, &judgement->claim);
    if (judgement->scale != NULL && judgement->whole)
        line_put(words, "worth.whole", NULL, 0);
    else if (judgement->scale != NULL)
        measured_put(words, judgement->claim.area);
    claim_rules_put(words, &judgement->claim);
}

/* The rule of a condition that was said; NULL = none, or none in the pack. */
static const struct pack_rule *condition_rule(const struct words *words, int condition)
{
    bool said = (words->request->conditions & 1u << condition) != 0;
    const struct pack_condition *row = said ? condition_row_find(words->request, (enum condition)condition) : NULL;
    return row != NULL ? &row->rule : NULL;
}

static bool rules_alike(const struct pack_rule *a, const struct pack_rule *b)
{
    return a != NULL && b != NULL && strcmp(a->text, b->text) == 0;
}

/* Each rule once; the condition that decided has said its own already. */
static void conditions_put(const struct words *words)
{
    for (int i = 0; i < CONDITION_COUNT; i++) {
        const struct pack_rule *rule = condition_rule(words, i);
        bool told = rule == NULL || rules_alike(rule, words->judgement->claim.at_least.rule);
        for (int j = 0; !told && j < i; j++)
            told = rules_alike(rule, condition_rule(words, j));
        if (!told)
            rule_put(words, "worth.rule", rule);
    }
}

static void worth_put(const struct words *words)
{
    const struct pack_exchange *exchange = words->request->exchange;
    judgement_put(words);
    conditions_put(words);
    if (words->judgement->design != NULL && !words->judgement->design->has_outcome)
        rule_put(words, "worth.rule", &words->judgement->design->rule);
    for (uint32_t i = 0; i < exchange->topic_count; i++) {
        char key[48];
        struct pack_rule rule;
        (void)snprintf(key, sizeof key, "worth.topic.%s", topic_word(exchange->topics[i].topic));
        topic_rule_take(words->judgement, &exchange->topics[i], &rule);
        rule_put(words, key, &rule);
    }
    for (uint32_t i = 0; i < exchange->quota_count; i++) {
        if (quota_shown(words->request, words->judgement, i))
            rule_put(words, "worth.quota", &exchange->quotas[i].rule);
    }
}

/* ---- Fitness ---- */

static void bounds_make(const struct words *words, const struct pack_fitness *row, char names[PHRASE_SIZE])
{
    struct drawing text = {names, PHRASE_SIZE, 0};
    names[0] = '\0';
    for (uint32_t i = 0; i < row->bound_count; i++) {
        char key[48];
        char number[NUMBER_TEXT_SIZE];
        char limit[NUMBER_TEXT_SIZE + 8];
        char phrase[PHRASE_SIZE];
        thousandths_write(row->bounds[i].thousandths, number);
        (void)snprintf(limit, sizeof limit, "%s %s", row->bounds[i].inclusive ? "\xE2\x89\xA5" : ">", number);
        (void)snprintf(key, sizeof key, "fit.gauge.%s", gauge_word(row->bounds[i].gauge));
        const cfoil_argument arguments[] = {{"amount", limit, 0}};
        drawing_put(&text, i == 0 ? ", " : " + ");
        drawing_put(&text, message_make(words, key, arguments, 1, phrase));
    }
}

static void limit_put(const struct words *words, const struct found_defect *found, const struct pack_fitness *row)
{
    char key[48];
    char name[PHRASE_SIZE];
    char bounds[PHRASE_SIZE];
    char confidence[PHRASE_SIZE];
    (void)snprintf(key, sizeof key, "fit.defect.%s", defect_word(found->defect));
    bounds_make(words, row, bounds);
    const cfoil_argument arguments[] = {
        {"name", message_make(words, key, NULL, 0, name), 0},
        {"how", row->by_machine ? "machine" : "hand", 0},
        {"names", bounds, 0},
        {"means", fitness_word(fitness_by_row(found, row)), 0},
        {"confidence", confidence_make(words, row->confidence, confidence), 0},
    };
    line_put(words, "fit.limit", arguments, 5);
}

static void fit_put(const struct words *words)
{
    const struct damaged_request *request = words->request;
    char key[48];
    (void)snprintf(key, sizeof key, "fit.note.%s", fitness_word(fitness_of_note(request)));
    line_put(words, key, NULL, 0);
    for (uint32_t i = 0; i < request->defect_count; i++) {
        for (uint32_t j = 0; j < request->exchange->fitness_count; j++) {
            if (fitness_applies(request, &request->defects[i], &request->exchange->fitness[j]))
                limit_put(words, &request->defects[i], &request->exchange->fitness[j]);
        }
    }
}

/* ---- The whole ---- */

void damaged_words_write(const struct pack_set *packs, const struct damaged_request *request,
                         const struct judgement *judgement, struct drawing *text)
{
    struct words words = {packs, request, judgement, text};
    if (request->conditions != 0 || request->piece_count != 0)
        worth_put(&words);
    if (request->defect_count != 0)
        fit_put(&words);
    line_put(&words, "caution", NULL, 0);
}
