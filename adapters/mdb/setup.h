/*
 * From the SETUP answer to notes of known value: currency codes, scaling, and which types are money.
 */
#ifndef MDB_SETUP_H
#define MDB_SETUP_H

#include <stdbool.h>
#include <stdint.h>

#define MDB_TYPES 16

/* MDB/ICP 4.3 section 6, SETUP: 11 bytes and one for each type; some devices send fewer than 16 types. */
#define MDB_SETUP_MIN 12u
#define MDB_SETUP_MAX 27u

struct mdb_note {
    bool valued; /* the type is money of a value that is known */
    bool token;  /* a vend token: never money */
    int64_t value_minor;
};

enum mdb_currency {
    MDB_CURRENCY_TOLD,     /* by the device, as an ISO 4217 number */
    MDB_CURRENCY_SET,      /* by the host's setting: the device tells a telephone code or a number we do not know */
    MDB_CURRENCY_MISSING,  /* the device tells no currency we know, and there is no setting */
    MDB_CURRENCY_DIFFERENT /* the setting contradicts the device */
};

struct mdb_setup {
    uint8_t level;
    uint16_t country; /* packed BCD as sent */
    enum mdb_currency source;
    char currency[4]; /* "" = not known */
    uint16_t capacity;
    bool escrow;
    uint32_t valued_count;
    struct mdb_note notes[MDB_TYPES];
};

/* `setting` is the host's currency, "" = none. False when the answer is too short or too long. */
bool mdb_setup_read(struct mdb_setup *setup, const uint8_t *data, uint32_t length, const char *setting);

/* ISO 4217 letters for a packed-BCD code with the first digit 1; NULL = not in the table. */
const char *mdb_currency_find(uint16_t country);

/* Minor units; false when no exact amount exists. */
bool mdb_value_compute(uint8_t credit, uint16_t scale, uint8_t places, const char *currency, int64_t *value_minor);

#endif
