/*
 * From the device's note names to money. See notes.h.
 */
#include "notes.h"

#include <stddef.h>
#include <string.h>

bool cctalk_id_valid(const uint8_t *id, uint32_t length)
{
    /* Generic Specification Part 3, bill id: two country letters, four digits, one issue letter (from memory). The
     * filler of an empty position is not known, so everything else counts as empty. */
    if (length != CCTALK_ID_LENGTH)
        return false;
    bool zero = true;
    for (uint32_t i = 0; i < CCTALK_ID_LENGTH; i++) {
        bool digit = i >= 2 && i <= 5;
        uint8_t low = digit ? '0' : 'A';
        uint8_t high = digit ? '9' : 'Z';
        if (id[i] < low || id[i] > high)
            return false;
        if (digit && id[i] != '0')
            zero = false;
    }
    return !zero;
}

/* Countries with one currency of their own, and EU for the euro; ISO 3166-1 and ISO 4217. TK, by which some devices
 * mark tokens (from memory, weak), is not here on purpose: tokens are never money. */
static const struct {
    char country[3];
    char currency[4];
    uint8_t decimals;
} currencies[] = {
    {"AU", "AUD", 2}, {"BR", "BRL", 2}, {"CA", "CAD", 2}, {"CH", "CHF", 2}, {"CN", "CNY", 2}, {"CZ", "CZK", 2},
    {"DK", "DKK", 2}, {"EU", "EUR", 2}, {"GB", "GBP", 2}, {"HU", "HUF", 2}, {"IN", "INR", 2}, {"JP", "JPY", 0},
    {"MX", "MXN", 2}, {"NO", "NOK", 2}, {"NZ", "NZD", 2}, {"PL", "PLN", 2}, {"RO", "RON", 2}, {"SE", "SEK", 2},
    {"TR", "TRY", 2}, {"US", "USD", 2}, {"ZA", "ZAR", 2},
};

const char *cctalk_currency_find(const struct cctalk_currency *settings, uint32_t count, const char country[3])
{
    for (uint32_t i = 0; i < count; i++) {
        if (strcmp(settings[i].country, country) == 0)
            return settings[i].currency;
    }
    for (size_t i = 0; i < sizeof currencies / sizeof currencies[0]; i++) {
        if (strcmp(currencies[i].country, country) == 0)
            return currencies[i].currency;
    }
    return NULL;
}

/* Decimal places of the currency by ISO 4217, or those of the device for a currency that is not in the table. */
static uint8_t decimals_of(const char *currency, uint8_t places)
{
    for (size_t i = 0; i < sizeof currencies / sizeof currencies[0]; i++) {
        if (strcmp(currencies[i].currency, currency) == 0)
            return currencies[i].decimals;
    }
    return places;
}

bool cctalk_value_compute(const char *id, uint16_t scale, uint8_t places, const char *currency, int64_t *value_minor)
{
    /* Amount = digits x scale / 10^places; a reply of 0, 0, 0 to header 156 means 'country not supported'. */
    if (scale == 0 || places > 6)
        return false;
    int64_t digits = 0;
    for (int i = 2; i <= 5; i++)
        digits = digits * 10 + (id[i] - '0');
    int64_t amount = digits * scale;
    uint8_t decimals = decimals_of(currency, places);
    for (; places < decimals; places++)
        amount *= 10;
    for (; places > decimals; places--) {
        if (amount % 10 != 0)
            return false;
        amount /= 10;
    }
    *value_minor = amount;
    return true;
}
