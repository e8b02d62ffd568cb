/*
 * From the SETUP answer to notes of known value. See setup.h.
 */
#include "setup.h"

#include <stddef.h>
#include <string.h>

/* ISO 4217: number, letters, decimal places of the minor unit (from memory; numbers of the euro and the dollar also in the
 * published extract of MDB/ICP section 6). */
static const struct {
    uint16_t number;
    char currency[4];
    uint8_t decimals;
} currencies[] = {
    {8, "ALL", 2},   {32, "ARS", 2},  {36, "AUD", 2},  {48, "BHD", 3},  {108, "BIF", 0}, {124, "CAD", 2},
    {152, "CLP", 0}, {156, "CNY", 2}, {170, "COP", 2}, {203, "CZK", 2}, {208, "DKK", 2}, {262, "DJF", 0},
    {324, "GNF", 0}, {344, "HKD", 2}, {348, "HUF", 2}, {352, "ISK", 0}, {356, "INR", 2}, {360, "IDR", 2},
    {368, "IQD", 3}, {376, "ILS", 2}, {392, "JPY", 0}, {398, "KZT", 2}, {400, "JOD", 3}, {410, "KRW", 0},
    {414, "KWD", 3}, {434, "LYD", 3}, {458, "MYR", 2}, {484, "MXN", 2}, {498, "MDL", 2}, {504, "MAD", 2},
    {512, "OMR", 3}, {548, "VUV", 0}, {554, "NZD", 2}, {578, "NOK", 2}, {600, "PYG", 0}, {604, "PEN", 2},
    {608, "PHP", 2}, {634, "QAR", 2}, {643, "RUB", 2}, {646, "RWF", 0}, {682, "SAR", 2}, {702, "SGD", 2},
    {704, "VND", 0}, {710, "ZAR", 2}, {752, "SEK", 2}, {756, "CHF", 2}, {764, "THB", 2}, {784, "AED", 2},
    {788, "TND", 3}, {800, "UGX", 0}, {807, "MKD", 2}, {818, "EGP", 2}, {826, "GBP", 2}, {840, "USD", 2},
    {901, "TWD", 2}, {933, "BYN", 2}, {941, "RSD", 2}, {946, "RON", 2}, {949, "TRY", 2}, {950, "XAF", 0},
    {952, "XOF", 0}, {953, "XPF", 0}, {975, "BGN", 2}, {977, "BAM", 2}, {978, "EUR", 2}, {980, "UAH", 2},
    {981, "GEL", 2}, {985, "PLN", 2}, {986, "BRL", 2},
};

enum { CURRENCIES = (int)(sizeof currencies / sizeof currencies[0]) };

const char *mdb_currency_find(uint16_t country)
{
    uint16_t number = 0;
    /* First digit 1: an ISO 4217 number. First digit 0 is a telephone code, which is never guessed from. */
    if (country >> 12 != 1)
        return NULL;
    for (int shift = 8; shift >= 0; shift -= 4) {
        uint16_t digit = country >> shift & 0xF;
        if (digit > 9)
            return NULL;
        number = (uint16_t)(number * 10 + digit);
    }
    for (int i = 0; i < CURRENCIES; i++) {
        if (currencies[i].number == number)
            return currencies[i].currency;
    }
    return NULL;
}

static uint8_t decimals_of(const char *currency)
{
    for (int i = 0; i < CURRENCIES; i++) {
        if (strcmp(currencies[i].currency, currency) == 0)
            return currencies[i].decimals;
    }
    return 2;
}

bool mdb_value_compute(uint8_t credit, uint16_t scale, uint8_t places, const char *currency, int64_t *value_minor)
{
    /* Amount = credit x scaling factor / 10^decimal places. */
    if (credit == 0 || scale == 0 || places > 6)
        return false;
    int64_t amount = (int64_t)credit * scale;
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

static enum mdb_currency currency_choose(struct mdb_setup *setup, const char *setting)
{
    const char *told = mdb_currency_find(setup->country);
    setup->currency[0] = '\0';
    if (told == NULL && setting[0] == '\0')
        return MDB_CURRENCY_MISSING;
    if (told != NULL && setting[0] != '\0' && strcmp(told, setting) != 0)
        return MDB_CURRENCY_DIFFERENT;
    memcpy(setup->currency, told != NULL ? told : setting, sizeof setup->currency);
    return told != NULL ? MDB_CURRENCY_TOLD : MDB_CURRENCY_SET;
}

bool mdb_setup_read(struct mdb_setup *setup, const uint8_t *data, uint32_t length, const char *setting)
{
    enum { CREDITS = 11, TOKEN = 0xFF };
    if (length < MDB_SETUP_MIN || length > MDB_SETUP_MAX)
        return false;
    memset(setup, 0, sizeof *setup);
    setup->level = data[0];
    setup->country = (uint16_t)(data[1] << 8 | data[2]); /* most significant byte first, as all numbers */
    setup->capacity = (uint16_t)(data[6] << 8 | data[7]);
    setup->escrow = data[10] != 0; /* FF = has escrow, 00 = none */
    setup->source = currency_choose(setup, setting);
    uint16_t scale = (uint16_t)(data[3] << 8 | data[4]);
    for (uint32_t type = 0; type + CREDITS < length; type++) {
        struct mdb_note *note = &setup->notes[type];
        uint8_t credit = data[CREDITS + type];
        note->token = credit == TOKEN;
        note->valued = !note->token && setup->currency[0] != '\0' &&
                       mdb_value_compute(credit, scale, data[5], setup->currency, &note->value_minor);
        setup->valued_count += note->valued ? 1 : 0;
    }
    return true;
}
