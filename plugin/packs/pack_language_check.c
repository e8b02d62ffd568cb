/*
 * What does a language lack? Every message of the English catalogue, and every text of the packs that a cashier may read.
 */
#include "packs/pack_data.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- The texts of the packs, each once, in the order of the packs ---- */

struct text_place {
    const char *text;
    uint32_t place;
};

struct texts {
    struct text_place *rows; /* NULL while they are counted only */
    uint32_t count;
};

static void text_put(struct texts *texts, const char *text)
{
    if (text[0] == '\0')
        return;
    if (texts->rows != NULL)
        texts->rows[texts->count] = (struct text_place){text, texts->count};
    texts->count++;
}

static void currency_put(struct texts *texts, const struct pack_currency *currency)
{
    for (uint32_t i = 0; i < currency->note_count; i++) {
        const struct pack_note *note = &currency->notes[i];
        text_put(texts, note->after_tender);
        for (uint32_t j = 0; j < note->check_count; j++) {
            const struct pack_check *check = &note->checks[j];
            text_put(texts, check->feature);
            text_put(texts, check->title);
            text_put(texts, check->instruction);
            text_put(texts, check->genuine);
            text_put(texts, check->tell);
            text_put(texts, check->hint);
        }
    }
    for (uint32_t i = 0; i < currency->serial_count; i++)
        text_put(texts, currency->serials[i].prefix_means);
}

static void jurisdiction_put(struct texts *texts, const struct pack_jurisdiction *jurisdiction)
{
    text_put(texts, jurisdiction->ask_another.text);
    text_put(texts, jurisdiction->set_aside.text);
    text_put(texts, jurisdiction->tell_whom.text);
    text_put(texts, jurisdiction->write_down.text);
    text_put(texts, jurisdiction->never.text);
    text_put(texts, jurisdiction->caution.text);
    text_put(texts, jurisdiction->found_later.text);
    text_put(texts, jurisdiction->deadline.text);
    text_put(texts, jurisdiction->customer.text);
    text_put(texts, jurisdiction->pieces.rule.text);
    text_put(texts, jurisdiction->days_kept.rule.text);
    for (uint32_t i = 0; i < jurisdiction->law_count; i++)
        text_put(texts, jurisdiction->law[i].text);
}

static void rule_put(void *user, const struct pack_rule *rule)
{
    text_put(user, rule->text);
}

static void texts_put(struct texts *texts, const struct pack_set *set)
{
    texts->count = 0;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind == PACK_CURRENCY)
            currency_put(texts, &pack->as.currency);
        if (pack->kind == PACK_JURISDICTION)
            jurisdiction_put(texts, &pack->as.jurisdiction);
        if (pack->kind == PACK_EXCHANGE)
            pack_exchange_visit(&pack->as.exchange, rule_put, texts);
    }
}

static int place_compare(const void *first, const void *second)
{
    const struct text_place *a = first;
    const struct text_place *b = second;
    return (a->place > b->place) - (a->place < b->place);
}

static int text_compare(const void *first, const void *second)
{
    const struct text_place *a = first;
    const struct text_place *b = second;
    int order = strcmp(a->text, b->text);
    return order != 0 ? order : place_compare(first, second);
}

/* Keeps each text at the first of its places. */
static void texts_unite(struct texts *texts)
{
    uint32_t kept = 0;
    qsort(texts->rows, texts->count, sizeof *texts->rows, text_compare);
    for (uint32_t i = 0; i < texts->count; i++) {
        if (kept == 0 || strcmp(texts->rows[kept - 1].text, texts->rows[i].text) != 0)
            texts->rows[kept++] = texts->rows[i];
    }
    texts->count = kept;
    qsort(texts->rows, kept, sizeof *texts->rows, place_compare);
}

/* ---- The lines ---- */

struct lines {
    char *text; /* NULL while they are measured only */
    size_t length;
    uint32_t count;
};

static void line_put(struct lines *lines, const char *kind, const char *what, const char *english)
{
    static const char form[] = "%s%s: %s\n";
    size_t length = (size_t)snprintf(NULL, 0, form, kind, what, english);
    if (lines->text != NULL)
        (void)snprintf(lines->text + lines->length, length + 1, form, kind, what, english);
    lines->length += length;
    lines->count++;
}

static uint32_t names_of(const char *language, const char *pattern)
{
    struct message_fault fault;
    uint32_t used = 0;
    (void)message_check(language, pattern, pack_message_names, PACK_MESSAGE_NAME_COUNT, &used, &fault);
    return used;
}

static void messages_compare(const struct pack_set *set, const char *language, const struct pack_messages *english,
                             struct lines *lines)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, english->messages)
    {
        struct pack_phrase phrase = pack_phrase_own_key(set, language, item->string);
        if (phrase.pattern == NULL)
            line_put(lines, "message ", item->string, item->valuestring);
        else if (names_of(phrase.language, phrase.pattern) != names_of("en", item->valuestring))
            line_put(lines, "names in ", item->string, item->valuestring);
    }
}

/* Keys of the language that English has not: most likely misspelt. */
static void strangers_find(const struct pack_set *set, const struct pack_messages *messages, struct lines *lines)
{
    const cJSON *item;
    cJSON_ArrayForEach(item, messages->messages)
    {
        if (pack_phrase_own_key(set, "en", item->string).pattern == NULL)
            line_put(lines, "no such message ", item->string, item->valuestring);
    }
}

static void lines_make(const struct pack_set *set, const char *language, const struct texts *texts, struct lines *lines)
{
    lines->length = 0;
    lines->count = 0;
    for (uint32_t i = 0; i < pack_set_count(set); i++) {
        const struct pack *pack = pack_set_at(set, i);
        if (pack->kind != PACK_MESSAGES)
            continue;
        if (strcmp(pack->as.messages.language, "en") == 0)
            messages_compare(set, language, &pack->as.messages, lines);
        else if (strcmp(pack->as.messages.language, language) == 0)
            strangers_find(set, &pack->as.messages, lines);
    }
    for (uint32_t i = 0; i < texts->count; i++) {
        if (pack_phrase_own_text(set, language, texts->rows[i].text).pattern == NULL)
            line_put(lines, "text", "", texts->rows[i].text);
    }
}

static bool is_english(const char *language)
{
    return (language[0] | 0x20) == 'e' && (language[1] | 0x20) == 'n' && (language[2] == '\0' || language[2] == '-');
}

int32_t pack_language_check(const struct pack_set *set, const struct memory *memory, const char *language, char **lines,
                            uint32_t *missing)
{
    struct texts texts = {NULL, 0};
    texts_put(&texts, set);
    texts.rows = memory_allocate(memory, (texts.count + 1) * sizeof *texts.rows);
    *lines = NULL;
    *missing = 0;
    if (texts.rows == NULL)
        return CFOIL_E_MEMORY;
    texts_put(&texts, set);
    texts_unite(&texts);
    struct lines made = {NULL, 0, 0};
    if (!is_english(language))
        lines_make(set, language, &texts, &made);
    made.text = memory_allocate(memory, made.length + 1);
    if (made.text != NULL && !is_english(language))
        lines_make(set, language, &texts, &made);
    memory_release(memory, texts.rows);
    *lines = made.text;
    *missing = made.count;
    return made.text != NULL ? CFOIL_OK : CFOIL_E_MEMORY;
}
