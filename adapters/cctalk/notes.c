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
} currencies[] = {
    {"AU", "AUD"}, {"BR", "BRL"}, {"CA", "CAD"}, {"CH", "CHF"}, {"CN", "CNY"}, {"CZ", "CZK"}, {"DK", "DKK"},
    {"EU", "EUR"}, {"GB", "GBP"}, {"HU", "HUF"}, {"IN", "INR"}, {"JP", "JPY"}, {"MX", "MXN"}, {"NO", "NOK"},
    {"NZ", "NZD"}, {"PL", "PLN"}, {"RO", "RON"}, {"SE", "SEK"}, {"TR", "TRY"}, {"US", "USD"}, {"ZA", "ZAR"},
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

/* Currencies whose minor unit is not a hundredth: ISO 4217 (from memory). */
static const struct {
    char currency[4];
    uint8_t decimals;
} uneven[] = {
    {"BHD", 3}, {"BIF", 0}, {"CLP", 0}, {"DJF", 0}, {"GNF", 0}, {"IQD", 3}, {"ISK", 0}, {"JOD", 3},
    {"JPY", 0}, {"KMF", 0}, {"KRW", 0}, {"KWD", 3}, {"LYD", 3}, {"OMR", 3}, {"PYG", 0}, {"RWF", 0},
    {"TND", 3}, {"UGX", 0}, {"VND", 0}, {"VUV", 0}, {"XAF", 0}, {"XOF", 0}, {"XPF", 0},
};

static uint8_t decimals_of(const char *currency)
{
    for (size_t i = 0; i < sizeof uneven / sizeof uneven[0]; i++) {
        if (strcmp(uneven[i].currency, currency) == 0)
            return uneven[i].decimals;
    }
    return 2;
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
    uint8_t decimals = decimals_of(currency);
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
