/*
 * The working of a case in words for an expert. See explain.h.
 */
#include "statistics/explain.h"

#include "ledger/ledger.h"
#include "model/error.h"
#include "model/json_scan.h"
#include "statistics/page.h"
#include "statistics/report.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define EXPLAIN_SIZE_MAX 1048576u
#define AREA             "explain"

/* ---- Reading ---- */

static const cJSON *in(const cJSON *object, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

static const char *words_in(const cJSON *object, const char *key)
{
    const cJSON *item = in(object, key);
    return cJSON_IsString(item) ? item->valuestring : "";
}

static double number_in(const cJSON *object, const char *key)
{
    const cJSON *item = in(object, key);
    return cJSON_IsNumber(item) ? item->valuedouble : 0;
}

static bool flag_in(const cJSON *object, const char *key)
{
    return cJSON_IsTrue(in(object, key));
}

static bool says(const cJSON *object, const char *key, const char *word)
{
    return strcmp(words_in(object, key), word) == 0;
}

/* A record that other hands have changed must not steer the reader's screen. */
static void texts_clean(cJSON *item)
{
    for (char *at = cJSON_IsString(item) ? item->valuestring : NULL; at != NULL && *at != '\0'; at++) {
        if ((unsigned char)*at < 0x20 || *at == 0x7f)
            *at = '?';
    }
    for (cJSON *child = item->child; child != NULL; child = child->next)
        texts_clean(child);
}

/* ---- Numbers in words ---- */

/* Two digits that count are more than the figures can bear. */
static double two_digits(double value)
{
    double step = pow(10, floor(log10(value)) - 1);
    return round(value / step) * step;
}

/* "5,800" */
static void grouped(double value, char *text, size_t capacity)
{
    char digits[40];
    (void)snprintf(digits, sizeof digits, "%.0f", value);
    size_t length = strlen(digits);
    size_t at = 0;
    for (size_t i = 0; i < length && at + 2 < capacity; i++) {
        if (i > 0 && (length - i) % 3 == 0)
            text[at++] = ',';
        text[at++] = digits[i];
    }
    text[at] = '\0';
}

void one_in_text(double log_odds, char text[ONE_IN_SIZE])
{
    double of = 1 + exp(-fmax(log_odds, -40)); /* 1 in 2e17 is far beyond any figure that exists */
    char number[ONE_IN_SIZE - 8];
    if (of < 10)
        (void)snprintf(number, sizeof number, "%.1f", of);
    else
        grouped(two_digits(of), number, sizeof number);
    (void)snprintf(text, ONE_IN_SIZE, "1 in %s", number);
}

#define RATIO_SIZE 96

/* "0.32 times as likely (0.16 to 0.64)" of thousandths of a logarithm. */
static void ratio_text(const cJSON *span, char text[RATIO_SIZE])
{
    (void)snprintf(text, RATIO_SIZE, "%.2g times as likely (%.2g to %.2g)", exp(number_in(span, "centre") / 1000),
                   exp(number_in(span, "low") / 1000), exp(number_in(span, "high") / 1000));
}

static void chance_text(const cJSON *span, char text[RATIO_SIZE + 64])
{
    char low[ONE_IN_SIZE];
    char centre[ONE_IN_SIZE];
    char high[ONE_IN_SIZE];
    one_in_text(number_in(span, "low") / 1000, low);
    one_in_text(number_in(span, "centre") / 1000, centre);
    one_in_text(number_in(span, "high") / 1000, high);
    (void)snprintf(text, RATIO_SIZE + 64, "%s (from %s to %s)", centre, low, high);
}

/* ---- Parts ---- */

static void say(struct page *page, const char *text)
{
    page_paragraph(page, 2, text);
}

static void prior_say(struct page *page, const cJSON *working)
{
    const cJSON *prior = in(working, "prior");
    char chance[RATIO_SIZE + 64];
    char text[1024];
    page_line(page, "Before anything was said");
    if (!cJSON_IsObject(prior)) {
        say(page, "The pack has no published yearly rate for this currency: no chance can be said.");
        return;
    }
    chance_text(prior, chance);
    (void)snprintf(
        text, sizeof text,
        "Of each million notes in circulation %.0f were withdrawn as not genuine in %.0f (%.240s; %.40s). How "
        "that becomes the chance for the next note offered was not published; taken: %s. The range is %.120s "
        "(%.40s).",
        number_in(prior, "per_million"), number_in(prior, "year"), words_in(prior, "source"),
        words_in(prior, "confidence"), chance, words_in(prior, "range_source"), words_in(prior, "range_confidence"));
    say(page, text);
}

static void refusal_say(struct page *page, const cJSON *machine, double refusals)
{
    const cJSON *rates = in(machine, "false_rejects_per_million");
    char ratio[RATIO_SIZE];
    char text[1024];
    ratio_text(machine, ratio);
    (void)snprintf(
        text, sizeof text,
        "It refused the note (%.0f time(s): one machine, one test). It refuses about %.2g in a hundred genuine "
        "notes (%.2g to %.2g).",
        refusals, number_in(rates, "centre") / 1e4, number_in(rates, "low") / 1e4, number_in(rates, "high") / 1e4);
    say(page, text);
    if (says(rates, "from", "record"))
        (void)snprintf(text, sizeof text,
                       "That is from its own record: %.0f refusals of %.0f notes, with a small default weight.",
                       number_in(rates, "refusals"), number_in(rates, "presentations"));
    else
        (void)snprintf(text, sizeof text,
                       "That is a default, for want of a long enough record (%.0f notes so far): %.400s (%.40s).",
                       number_in(rates, "presentations"), words_in(rates, "source"), words_in(rates, "confidence"));
    say(page, text);
    (void)snprintf(text, sizeof text,
                   "So the refusal makes a note that is not genuine at most %s. 'At most', because how many such notes "
                   "the machine refuses is not known: all of them are assumed.",
                   ratio);
    say(page, text);
}

static void machine_say(struct page *page, const cJSON *object, const cJSON *working)
{
    static const struct {
        const char *word;
        const char *text;
    } rows[] = {
        {"no_refusal", "It refused nothing: it weighs nothing."},
        {"accepted", "It took the note in the end. What that weighs is not known: it is counted as nothing."},
        {"no_doubt", "What it reported (feeding, settings, its own condition) says nothing about the note."},
        {"tampering", "It reported interference. No figure exists; a rule of its own applies."},
    };
    const cJSON *machine = in(working, "machine");
    page_line(page, "The machine");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (says(machine, "word", rows[i].word))
            say(page, rows[i].text);
    }
    if (says(machine, "word", "refused"))
        refusal_say(page, machine, number_in(in(object, "combined"), "refusals"));
}

/* What becomes of an answer that is not weighed by itself. */
static const char *weight_text(const cJSON *answer)
{
    static const struct {
        const char *word;
        const char *text;
    } rows[] = {
        {"same_sense", "not counted again: another answer by the same sense speaks already (same eyes, same light)"},
        {"cannot_tell", "moves nothing, and is no pass"},
        {"no_figure", "no figure was published: it counts for the rules and the order of checks only"},
        {"same_physics", "not counted: the machine sensed the same, the two are closer to one test"},
        {"ends", "no figure: such wording ends a case at once, and its absence proves nothing"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (says(answer, "weight", rows[i].word))
            return rows[i].text;
    }
    return "not known to this version";
}

/* The answer itself stands in the case's own list, at the same place. */
static void answer_say(struct page *page, const cJSON *answer, const cJSON *given)
{
    char ratio[RATIO_SIZE];
    char text[512];
    char word[40];
    (void)snprintf(word, sizeof word, "%.39s", words_in(given, "answer"));
    for (char *at = word; *at != '\0'; at++)
        *at = *at == '_' ? ' ' : *at;
    ratio_text(answer, ratio);
    if (says(answer, "weight", "counted"))
        (void)snprintf(text, sizeof text, "%.40s (%.40s), %s: %s, weighed as '%.40s'%s", words_in(answer, "check"),
                       words_in(answer, "feature"), word, ratio, words_in(answer, "look"),
                       flag_in(answer, "at_least") ? ", and better than that by an unknown amount." : ".");
    else
        (void)snprintf(text, sizeof text, "%.40s (%.40s), %s: %s.", words_in(answer, "check"),
                       words_in(answer, "feature"), word, weight_text(answer));
    say(page, text);
}

static void answers_say(struct page *page, const cJSON *object, const cJSON *working)
{
    const cJSON *list = in(object, "answers");
    const cJSON *given = list != NULL ? list->child : NULL;
    const cJSON *manual = in(working, "manual");
    const cJSON *answer;
    char ratio[RATIO_SIZE];
    char text[512];
    page_line(page, "The checks by hand");
    cJSON_ArrayForEach(answer, in(working, "answers"))
    {
        answer_say(page, answer, given);
        given = given != NULL ? given->next : NULL;
    }
    if (cJSON_GetArraySize(in(working, "answers")) == 0) {
        say(page, "None was answered.");
        return;
    }
    ratio_text(manual, ratio);
    (void)snprintf(text, sizeof text, "Together: %s.%s", ratio,
                   flag_in(manual, "capped")
                       ? " The sum was cut to what one person's look at the whole note was found to "
                         "weigh: single features are parts of it."
                       : "");
    say(page, text);
}

static void sum_say(struct page *page, const cJSON *working)
{
    const cJSON *sum = in(working, "sum");
    const cJSON *bounds = in(working, "bounds");
    char figure[RATIO_SIZE + 64];
    char text[512];
    page_line(page, "All together");
    if (flag_in(sum, "with_prior")) {
        chance_text(sum, figure);
        (void)snprintf(text, sizeof text, "%s. The ends of the ranges are simply added, which makes them wide.",
                       figure);
    } else {
        ratio_text(sum, figure);
        (void)snprintf(text, sizeof text, "Machine and checks: %s than before. Before what is not known.", figure);
    }
    say(page, text);
    (void)snprintf(
        text, sizeof text,
        "One person's looks can move this between %.2g and %.2g times (Wald's bounds for the risks of a look "
        "at the whole note)%s",
        exp(number_in(bounds, "lower") / 1000), exp(number_in(bounds, "upper") / 1000),
        cJSON_IsString(in(bounds, "reached")) ? ", and that is reached: the same eyes can tell no more." : ".");
    say(page, text);
}

struct reason_row {
    const char *word;
    const char *text;
};

static const char *reason_text(const struct reason_row *rows, size_t count, const char *word)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(rows[i].word, word) == 0)
            return rows[i].text;
    }
    return word;
}

static void next_say(struct page *page, const cJSON *next)
{
    static const struct reason_row rows[] = {
        {"machine_doubted_it", "it speaks to what the machine doubted"},
        {"ends_the_case", "a difference in it would end the case at once"},
        {"sense_missing", "a sense, or an independent feature, is still missing"},
        {"independent_of_the_one_that_differs", "it is independent of the one that differs"},
    };
    const cJSON *looks = in(next, "looks");
    char text[768];
    (void)snprintf(
        text, sizeof text,
        "The next check is %.40s: %s. Among equals the order is by what it is expected to tell, then by rank "
        "(%.16s), then the pack's. Expected: %.2g millionths of a bit, from %.2g to %.2g; seconds for each "
        "feature were never published, so all count alike.",
        words_in(next, "check"), reason_text(rows, sizeof rows / sizeof rows[0], words_in(next, "why")),
        words_in(next, "rank"), number_in(in(next, "expected_nanobits"), "centre") / 1000,
        number_in(in(next, "expected_nanobits"), "low") / 1000,
        number_in(in(next, "expected_nanobits"), "high") / 1000);
    say(page, text);
    if (!cJSON_IsObject(looks))
        return;
    (void)snprintf(text, sizeof text,
                   "Were each look independent, Wald's test would take about %.1f such looks with a genuine note, %.1f "
                   "with another. One person's looks are not.",
                   number_in(looks, "genuine_hundredths") / 100, number_in(looks, "not_genuine_hundredths") / 100);
    say(page, text);
}

static void end_say(struct page *page, const cJSON *working)
{
    static const struct reason_row rows[] = {
        {"serial_refused", "the serial number was refused before; no arithmetic can outweigh that"},
        {"two_differ", "two independent features differ; no arithmetic can outweigh that"},
        {"one_differs", "one feature differs and an independent one was looked at: in doubt the note is not taken"},
        {"tampering", "the machine reported interference"},
        {"device", "the machine is in trouble: nothing was said about the note"},
        {"not_enabled", "the machine was told not to take it: nothing was said about the note"},
        {"accepted", "the machine took it in the end"},
        {"handling_first", "it was fed badly: nothing was said about the note"},
        {"handling_again", "it was fed badly again: nothing was said about the note"},
        {"all_good", "feel, look and tilt are as they should be, and what the machine doubted"},
        {"not_complete", "too much could not be told, or the time was up"},
        {"withdrawn", "the note is no longer money in shops: nothing is said against it"},
        {"check_ends", "it bears wording that no genuine note has"},
        {"too_plain",
         "feel, look and tilt cannot all be had from this note; after a doubt it is not taken without them"},
    };
    char text[256];
    page_line(page, "What follows");
    if (cJSON_IsObject(in(working, "next"))) {
        next_say(page, in(working, "next"));
        return;
    }
    (void)snprintf(text, sizeof text, "No more checks, by rule: %.160s.",
                   reason_text(rows, sizeof rows / sizeof rows[0], words_in(working, "stop")));
    say(page, text);
}

static void looks_say(struct page *page, const cJSON *working)
{
    const cJSON *look;
    char text[1024];
    page_line(page, "What it was weighed with");
    cJSON_ArrayForEach(look, in(working, "looks"))
    {
        (void)snprintf(text, sizeof text,
                       "'%.40s': %.120s: %.3g of a hundred found, %.3g of a hundred genuine ones "
                       "doubted, d' %.2f. %.500s (%.40s).",
                       words_in(look, "id"), words_in(look, "title"), number_in(look, "hit_per_thousand") / 10,
                       number_in(look, "false_alarm_per_thousand") / 10, number_in(look, "d_prime_thousandths") / 1000,
                       words_in(look, "source"), words_in(look, "confidence"));
        say(page, text);
    }
    say(page,
        "No figure was published for any single feature or tool: those are ranked, never numbered. The people tested "
        "knew that notes were mixed in; a cashier in a queue expects none.");
}

static char *explained(const struct memory *memory, const cJSON *object, const cJSON *working)
{
    struct page page = {{.memory = memory}};
    page_line(&page, "How the evidence stands: case %.64s, %.3s %.0f minor units", words_in(object, "case"),
              words_in(object, "currency"), number_in(object, "value_minor"));
    say(&page, "Chances are of a note that is not genuine, with the range in brackets.");
    prior_say(&page, working);
    machine_say(&page, object, working);
    answers_say(&page, object, working);
    sum_say(&page, working);
    end_say(&page, working);
    looks_say(&page, working);
    page_paragraph(&page, 0, report_caution);
    return page_take(&page);
}

int32_t explain_text(const struct memory *memory, const char *json, char **text, cfoil_error_info *error)
{
    struct json_fault fault;
    *text = NULL;
    if (strlen(json) > EXPLAIN_SIZE_MAX)
        return error_set(error, CFOIL_E_DATA_SIZE, 0, AREA, "Give one case of at most 1 MiB.");
    if (json[0] == '\0' || !json_scan(json, strlen(json), &fault))
        return error_set(error, CFOIL_E_DATA_SYNTAX, 0, AREA, "Give a case, or the ledger entry of one, as JSON.");
    cJSON *parsed = cJSON_Parse(json);
    if (parsed == NULL)
        return error_memory_set(error, AREA);
    texts_clean(parsed);
    const cJSON *body = in(parsed, "body");
    const cJSON *object = cJSON_IsObject(body) ? body : parsed;
    const cJSON *working = in(object, "working");
    int32_t result = CFOIL_OK;
    if (!says(object, "schema", "counterfoil.case/1") || !cJSON_IsObject(working)) {
        result = error_set(error, CFOIL_E_DATA_SCHEMA, 0, AREA,
                           "This is no case with its working: give what cfoil_case_json() or the ledger gave.");
    } else {
        *text = explained(memory, object, working);
        if (*text == NULL)
            result = error_memory_set(error, AREA);
    }
    cJSON_Delete(parsed);
    return result;
}
