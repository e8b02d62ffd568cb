/*
 * One note in words. See note.h.
 */
#include "papers/note.h"

#include "model/text.h"
#include "packs/phrase.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *note_text(const cJSON *note, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(note, key));
    return text != NULL ? text : "";
}

int64_t note_number(const cJSON *note, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(note, key);
    if (cJSON_IsRaw(item)) /* how whole numbers of our own are kept (model/json.h) */
        return strtoll(item->valuestring, NULL, 10);
    bool whole = cJSON_IsNumber(item) && item->valuedouble > -9.0e15 && item->valuedouble < 9.0e15;
    return whole ? (int64_t)item->valuedouble : 0;
}

static const cJSON *part(const cJSON *note, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(note, key);
}

bool note_value_write(const struct pack_set *packs, const char *currency, int64_t value_minor,
                      char value[NOTE_VALUE_SIZE])
{
    const struct pack_currency *pack = pack_currency_find(packs, currency);
    char units[32] = "";
    if (pack != NULL)
        pack_value_write(pack, value_minor, units, sizeof units);
    (void)snprintf(value, NOTE_VALUE_SIZE, "%.8s %s", currency, units);
    return pack != NULL;
}

void note_time_write(int64_t time_utc_ms, int32_t offset_minutes, char time[NOTE_TIME_SIZE])
{
    char utc[TEXT_TIME_SIZE];
    int32_t size = offset_minutes < 0 ? -offset_minutes : offset_minutes;
    text_time(time_utc_ms + (int64_t)offset_minutes * 60000, utc);
    time[0] = '\0';
    if (utc[0] != '\0')
        (void)snprintf(time, NOTE_TIME_SIZE, "%.10s %.5s %c%02d:%02d", utc, utc + 11, offset_minutes < 0 ? '-' : '+',
                       (int)(size / 60), (int)(size % 60));
}

void note_what_say(struct sheet *sheet, const cJSON *note)
{
    char value[NOTE_VALUE_SIZE];
    const char *serial = note_text(note, "serial");
    (void)note_value_write(sheet->packs, note_text(note, "currency"), note_number(note, "value_minor"), value);
    sheet_field(sheet, "paper.value", value);
    sheet_field(sheet, "paper.serial",
                serial[0] != '\0' ? serial : phrase_of_key(sheet->packs, sheet->language, "paper.not_told").pattern);
}

void note_where_say(struct sheet *sheet, const cJSON *note, int32_t offset_minutes)
{
    char time[NOTE_TIME_SIZE];
    note_time_write(note_number(note, "begun_utc_ms"), offset_minutes, time);
    sheet_field(sheet, "paper.time", time);
    sheet_field(sheet, "paper.lane", note_text(note, "lane"));
    sheet_field(sheet, "paper.sale", note_text(note, "sale"));
    sheet_field(sheet, "paper.staff", note_text(part(note, "body"), "staff"));
}

/* ---- Why it was in doubt ---- */

/* What the check with that id looks at; the id itself when no pack knows it any more. */
static const char *feature_of(const struct sheet *sheet, const cJSON *note, const char *check)
{
    const struct pack_currency *currency = pack_currency_find(sheet->packs, note_text(note, "currency"));
    const char *series = note_text(part(note, "body"), "series");
    const struct pack_note *facts = NULL;
    if (currency != NULL)
        facts = pack_note_find(currency, note_number(note, "value_minor"), series[0] != '\0' ? series : NULL);
    for (uint32_t i = 0; facts != NULL && i < facts->check_count; i++) {
        if (strcmp(facts->checks[i].id, check) == 0)
            return pack_text(sheet->packs, sheet->language, facts->checks[i].feature);
    }
    return check;
}

static void checks_say(struct sheet *sheet, const cJSON *note)
{
    struct growing names = {.memory = sheet->growing.memory};
    const cJSON *answer;
    cJSON_ArrayForEach(answer, part(part(note, "body"), "answers"))
    {
        if (strcmp(note_text(answer, "answer"), "not_as_it_should_be") == 0)
            phrase_name_join(&names, sheet->packs, sheet->language, "list.comma",
                             feature_of(sheet, note, note_text(answer, "check")));
    }
    sheet_field(sheet, "paper.not_matched", growing_text(&names));
    sheet->growing.failed = sheet->growing.failed || names.failed;
    growing_release(&names);
}

/* The channels that the machine named, when they are among those that have a word. */
static void channels_add(struct sheet *sheet, const cJSON *channels, struct growing *said)
{
    struct growing names = {.memory = said->memory};
    const cJSON *channel;
    cJSON_ArrayForEach(channel, channels)
    {
        const char *word = cJSON_GetStringValue(channel);
        const char *name = word == NULL ? "" : phrase_of_word(sheet->packs, sheet->language, "channel", word).pattern;
        if (name[0] != '\0')
            phrase_name_join(&names, sheet->packs, sheet->language, "list.and", name);
    }
    const cfoil_argument argument = {"names", growing_text(&names), 0};
    if (names.length > 0)
        phrase_add(said, phrase_of_key(sheet->packs, sheet->language, "machine.named"), &argument, 1);
    said->failed = said->failed || names.failed;
    growing_release(&names);
}

static void machine_say(struct sheet *sheet, const cJSON *note)
{
    const cJSON *combined = part(part(note, "body"), "combined");
    const char *reason = note_text(combined, "reason");
    struct growing said = {.memory = sheet->growing.memory};
    if (reason[0] != '\0')
        phrase_add(&said, phrase_of_word(sheet->packs, sheet->language, "machine.reason", reason), NULL, 0);
    channels_add(sheet, part(combined, "channels"), &said);
    sheet_field(sheet, "paper.machine", growing_text(&said));
    sheet->growing.failed = sheet->growing.failed || said.failed;
    growing_release(&said);
}

void note_doubt_say(struct sheet *sheet, const cJSON *note)
{
    machine_say(sheet, note);
    checks_say(sheet, note);
}

/* ---- Where it is ---- */

void note_envelope_say(struct sheet *sheet, const cJSON *note)
{
    sheet_field(sheet, "paper.envelope", note_text(note, "envelope"));
}

static void happened_say(struct sheet *sheet, const cJSON *step, int32_t offset_minutes)
{
    char time[NOTE_TIME_SIZE];
    int64_t happened_utc_ms;
    if (!text_time_read(note_text(step, "happened"), &happened_utc_ms))
        return;
    note_time_write(happened_utc_ms, offset_minutes, time);
    sheet_field(sheet, "paper.hand_over.at", time);
}

void note_hand_over_say(struct sheet *sheet, const cJSON *note, int32_t offset_minutes)
{
    const cJSON *step = part(note, "hand_over");
    const char *holder = note_text(step, "holder");
    if (!cJSON_IsObject(step))
        return;
    sheet_field(sheet, "paper.hand_over.to",
                phrase_of_word(sheet->packs, sheet->language, "paper.holder", holder).pattern);
    sheet_field(sheet, "paper.keeper", note_text(step, "keeper"));
    sheet_field(sheet, "paper.receipt_number", note_text(step, "receipt"));
    happened_say(sheet, step, offset_minutes);
}
