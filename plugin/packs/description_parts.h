/*
 * What the files that read a device description share. Each function reads one value at the reader's present path.
 */
#ifndef PACKS_DESCRIPTION_PARTS_H
#define PACKS_DESCRIPTION_PARTS_H

#include "packs/description.h"
#include "packs/fields.h"

/* The index of the word object[key] in a list that NULL ends; a missing key leaves *index. */
int32_t description_word_read(struct reader *reader, const cJSON *object, const char *key, const char *const words[],
                              int32_t *index);

/* The value of a hexadecimal digit, or -1. */
int32_t description_digit_of(char digit);

/* Pairs of hexadecimal digits, parted by blanks: minimum..maximum bytes. */
int32_t description_hex_read(struct reader *reader, const cJSON *object, const char *key, uint32_t minimum,
                             uint32_t maximum, uint8_t *bytes, uint32_t *length);

/* The same as one number, most significant first. */
int32_t description_hex_number_read(struct reader *reader, const cJSON *object, const char *key, uint32_t bytes,
                                    uint32_t *number);

/* The keys of a place that holds a number, and reading them. A missing mask is all bits. */
#define FIELDS_OF_A_NUMBER                                                                                             \
    {"at", FIELD_INTEGER, false, -DESCRIBED_MESSAGE_MAX, DESCRIBED_MESSAGE_MAX - 1},                                   \
        {"bytes", FIELD_INTEGER, false, 1, 4}, {"order", FIELD_TEXT, false, 3, 6}, {"mask", FIELD_TEXT, false, 2, 11}, \
    {                                                                                                                  \
        "field", FIELD_INTEGER, false, 1, 40                                                                           \
    }
int32_t description_number_read(struct reader *reader, const cJSON *object, const struct description *description,
                                struct described_number *number);
int32_t description_count_read(struct reader *reader, const cJSON *object, const struct description *description,
                               struct described_count *count);

/* "frame" or "lines", and "sequence". */
int32_t description_line_read(struct reader *reader, const cJSON *tree, struct description *description);
int32_t description_sequence_read(struct reader *reader, const cJSON *tree, struct description *description);

/* Conditions: of whole messages, or of the entries of an event buffer. */
int32_t description_conditions_read(struct reader *reader, const cJSON *object, const char *key,
                                    const struct description *description, bool entries,
                                    struct described_conditions *conditions);

/* "start", "poll", "acknowledge", "accept", "held", "self_check". */
int32_t description_talk_read(struct reader *reader, const cJSON *tree, struct description *description);

/* "buffer", "notes", "rules". */
int32_t description_rules_read(struct reader *reader, const cJSON *tree, struct description *description);

/* Can every rule fit some message, and is every note named by some rule? */
int32_t description_reach_check(struct reader *reader, const struct description *description);

#endif
