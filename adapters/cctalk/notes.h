/*
 * From the device's note names to money: bill ids, scaling, and which currency a country code stands for.
 */
#ifndef CCTALK_NOTES_H
#define CCTALK_NOTES_H

#include <stdbool.h>
#include <stdint.h>

#define CCTALK_TYPES      16 /* header 231 has two mask bytes: types 1 to 16 */
#define CCTALK_ID_LENGTH  7  /* header 157: two letters, four digits, one letter */
#define CCTALK_CURRENCIES 16 /* currency settings kept */

struct cctalk_note {
    bool programmed; /* the device has a note of this type */
    bool valued;     /* and its value is known */
    char name[CCTALK_ID_LENGTH + 1];
    char currency[4];
    int64_t value_minor;
};

/* Which currency the two letters stand for, from the host's settings. */
struct cctalk_currency {
    char country[3];
    char currency[4];
};

/* Is it two capitals, four digits that are not all zero, one capital? Anything else is an empty position. */
bool cctalk_id_valid(const uint8_t *id, uint32_t length);

/* ISO 4217 of the country, from the host's settings first, then from the built-in table; NULL = not known. */
const char *cctalk_currency_find(const struct cctalk_currency *settings, uint32_t count, const char country[3]);

/* Minor units of the currency for `digits` of the id at the device's scaling. False when the scaling says that the
 * country is not supported, or when the number of decimal places is not the currency's and no exact amount exists. */
bool cctalk_value_compute(const char *id, uint16_t scale, uint8_t places, const char *currency, int64_t *value_minor);

#endif
