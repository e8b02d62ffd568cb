/*
 * What a paper says of one note: its fields, in the words of the sheet's language.
 */
#ifndef PAPERS_NOTE_H
#define PAPERS_NOTE_H

#include "papers/sheet.h"

#include <cjson/cJSON.h>

/* Members of a note as keep_notes() lists it; "" and 0 for what is not there. */
const char *note_text(const cJSON *note, const char *key);
int64_t note_number(const cJSON *note, const char *key);

/* "EUR 50"; false = no pack of the currency is loaded. */
#define NOTE_VALUE_SIZE 48
bool note_value_write(const struct pack_set *packs, const char *currency, int64_t value_minor,
                      char value[NOTE_VALUE_SIZE]);

/* "2026-11-28 20:15 +01:00", "" for a time that is none. */
#define NOTE_TIME_SIZE 32
void note_time_write(int64_t time_utc_ms, int32_t offset_minutes, char time[NOTE_TIME_SIZE]);

/* Fields of the sheet. */
void note_what_say(struct sheet *sheet, const cJSON *note);                          /* value, serial number */
void note_where_say(struct sheet *sheet, const cJSON *note, int32_t offset_minutes); /* time, till, sale, staff */
void note_doubt_say(struct sheet *sheet, const cJSON *note);                         /* machine, checks by hand */
void note_envelope_say(struct sheet *sheet, const cJSON *note);
void note_hand_over_say(struct sheet *sheet, const cJSON *note, int32_t offset_minutes);

#endif
