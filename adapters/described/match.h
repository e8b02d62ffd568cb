/*
 * Reading a message by its description: conditions, numbers, fields, notes, and the raw text of an event.
 */
#ifndef DESCRIBED_MATCH_H
#define DESCRIBED_MATCH_H

#include "description.h"

/* What conditions and rules look at: a whole message, or one entry of an event buffer. */
struct described_view {
    const uint8_t *bytes;
    uint32_t length;
    char separator; /* 0 = the fields of a line are not parted */
};

bool described_fits(const struct described_conditions *conditions, const struct described_view *view);

/* The number, or false when the message has no such place or field, or no number there. */
bool described_number_read(const struct described_number *number, const struct described_view *view, uint32_t *value);

/* The note that the rule names for this message: an index into description->notes, or -1. */
int32_t described_note_find(const struct description *description, const struct described_rule *rule,
                            const struct described_view *view);

/* "{3}" byte 3 in decimal, "{x3}" in hexadecimal, "{-1}" the last one, "{f2}" field 2, "{line}" the whole line. */
void described_raw_text_make(const char *form, const struct described_view *view, char *text, uint32_t capacity);

/* Every byte in hexadecimal, as far as there is room; a line as it is. */
void described_raw_text_plain(const struct described_view *view, bool line, char *text, uint32_t capacity);

/* How many steps of counting lie between two values; both must be values that the count can have. */
bool described_count_valid(const struct described_count *count, uint32_t value);
uint32_t described_steps_between(const struct described_count *count, uint32_t before, uint32_t now);
uint32_t described_count_next(const struct described_count *count, uint32_t value);

#endif
