/*
 * Strict reading of what people type: whole numbers, days, amounts, tools.
 */
#include "values.h"

#include <counterfoil/counterfoil.h>
#include <stddef.h>
#include <string.h>

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Reads digits up to the first other character; false when there are none, or too many for 64 bits. */
static bool digits_take(const char **text, int64_t *value)
{
    if (!is_digit(**text))
        return false;
    int64_t sum = 0;
    for (; is_digit(**text); (*text)++) {
        int digit = **text - '0';
        if (sum > (INT64_MAX - digit) / 10)
            return false;
        sum = sum * 10 + digit;
    }
    *value = sum;
    return true;
}

bool whole_parse(const char *text, int64_t least, int64_t most, int64_t *value)
{
    int64_t number;
    if (!digits_take(&text, &number) || *text != '\0' || number < least || number > most)
        return false;
    *value = number;
    return true;
}

/* Days since 1970-01-01 in the Gregorian calendar: whole years, then the months of this one. */
static int64_t days_count(int64_t year, int64_t month, int64_t day)
{
    static const int before[] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    int64_t past = year - 1;
    int64_t leap_days = past / 4 - past / 100 + past / 400 - (1969 / 4 - 1969 / 100 + 1969 / 400);
    return (year - 1970) * 365 + leap_days + before[month - 1] + (leap && month > 2 ? 1 : 0) + day - 1;
}

static int64_t days_in_month(int64_t year, int64_t month)
{
    if (month == 12)
        return 31;
    return days_count(year, month + 1, 1) - days_count(year, month, 1);
}

bool day_parse(const char *text, int64_t *utc_ms)
{
    if (strlen(text) != 10 || text[4] != '-' || text[7] != '-')
        return false;
    const char *place = text;
    int64_t year, month, day;
    if (!digits_take(&place, &year) || place++ != text + 4 || !digits_take(&place, &month) || place++ != text + 7 ||
        !digits_take(&place, &day) || *place != '\0')
        return false;
    if (year < 1970 || month < 1 || month > 12 || day < 1 || day > days_in_month(year, month))
        return false;
    *utc_ms = days_count(year, month, day) * DAY_MS;
    return true;
}

/* ISO 4217 list one: the currencies that differ from two decimals (from memory). */
int currency_decimals(const char *currency)
{
    static const char none[] = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF";
    static const char three[] = "BHD IQD JOD KWD LYD OMR TND";
    if (strlen(currency) != 3)
        return 2;
    if (strstr(none, currency) != NULL)
        return 0;
    return strstr(three, currency) != NULL ? 3 : 2;
}

bool amount_grouped(const char *text)
{
    int64_t whole;
    bool comma = digits_take(&text, &whole) && *text == ',';
    return comma && strlen(text) == 4 && strspn(text + 1, "0123456789") == 3;
}

bool amount_parse(const char *text, const char *currency, int64_t *value_minor)
{
    int64_t amount;
    if (amount_grouped(text) || !digits_take(&text, &amount))
        return false;
    int decimals = currency_decimals(currency);
    if (*text == '.' || *text == ',') {
        text++;
        if (!is_digit(*text))
            return false;
    }
    for (int i = 0; i < decimals; i++) {
        int digit = is_digit(*text) ? *text++ - '0' : 0;
        if (amount > (INT64_MAX - digit) / 10)
            return false;
        amount = amount * 10 + digit;
    }
    if (*text != '\0' || amount == 0)
        return false;
    *value_minor = amount;
    return true;
}

bool tools_parse(const char *text, uint32_t *tools)
{
    static const struct {
        const char *name;
        uint32_t tool;
    } known[] = {
        {"magnifier", CFOIL_TOOL_MAGNIFIER},
        {"uv", CFOIL_TOOL_UV_A},
        {"ruler", CFOIL_TOOL_RULER},
        {"known-note", CFOIL_TOOL_KNOWN_NOTE},
    };
    uint32_t mask = 0;
    for (;;) {
        size_t length = strcspn(text, ",");
        uint32_t found = 0;
        for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
            if (strlen(known[i].name) == length && strncmp(known[i].name, text, length) == 0)
                found = known[i].tool;
        }
        if (found == 0)
            return false;
        mask |= found;
        if (text[length] == '\0')
            break;
        text += length + 1;
    }
    *tools = mask;
    return true;
}
