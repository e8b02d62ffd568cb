/*
 * Anything typed at the till: are lines cut as promised, however the bytes come, and does each amount, day and number that
 * is taken say the same as what was typed?
 */
#include "fuzz.h"

#include "../../plugin/tool/console.h"
#include "../../plugin/tool/values.h"

#include <counterfoil/counterfoil.h>
#include <stdio.h>

/* Digits without leading zeros, a point, and as many digits as the currency has decimals. */
static void amount_write(const char *typed, int decimals, char *text, size_t size)
{
    typed += strspn(typed, "0");
    size_t whole = strspn(typed, "0123456789");
    const char *rest = typed[whole] != '\0' ? typed + whole + 1 : "";
    snprintf(text, size, "%.*s.%s", whole > 0 ? (int)whole : 1, whole > 0 ? typed : "0", rest);
    for (size_t missing = (size_t)decimals - strlen(rest); missing > 0; missing--)
        strcat(text, "0");
}

static void amount_try(const char *line, const char *currency)
{
    int64_t value = 0;
    int decimals = currency_decimals(currency);
    if (!amount_parse(line, currency, &value))
        return;
    char typed[CONSOLE_LINE_MAX + 8];
    char taken[64];
    int64_t unit = decimals == 0 ? 1 : decimals == 2 ? 100 : 1000;
    demand(value > 0 && !amount_grouped(line) && strspn(line, "0123456789.,") == strlen(line));
    amount_write(line, decimals, typed, sizeof typed);
    if (decimals == 0)
        snprintf(taken, sizeof taken, "%lld.", (long long)value);
    else
        snprintf(taken, sizeof taken, "%lld.%0*lld", (long long)(value / unit), decimals, (long long)(value % unit));
    demand(strcmp(typed, taken) == 0);
}

/* Counts the days from 1970 again, one by one. */
static void day_try(const char *line)
{
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int64_t utc_ms = -1;
    if (!day_parse(line, &utc_ms))
        return;
    demand(utc_ms >= 0 && utc_ms % DAY_MS == 0);
    int64_t days = utc_ms / DAY_MS;
    int year = 1970;
    int month = 0;
    for (;; year++) {
        int64_t length = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0 ? 366 : 365;
        if (days < length)
            break;
        days -= length;
    }
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    for (; days >= lengths[month] + (leap && month == 1); month++)
        days -= lengths[month] + (leap && month == 1);
    char again[48];
    snprintf(again, sizeof again, "%04d-%02d-%02d", year, month + 1, (int)days + 1);
    demand(strcmp(again, line) == 0);
}

static void words_try(const char *line)
{
    int64_t whole = 0;
    uint32_t tools = 0;
    if (whole_parse(line, -5, INT64_MAX - 1, &whole)) {
        char again[32];
        snprintf(again, sizeof again, "%lld", (long long)whole);
        demand(strcmp(again, line[strspn(line, "0")] != '\0' ? line + strspn(line, "0") : "0") == 0);
    }
    if (tools_parse(line, &tools))
        demand(tools > 0 && tools < 16);
}

static void line_try(const char *line)
{
    size_t length = strlen(line);
    demand(length < CONSOLE_LINE_MAX && (length == 0 || (line[0] != ' ' && line[length - 1] != ' ')));
    for (size_t i = 0; i < length; i++)
        demand((unsigned char)line[i] >= ' ' && line[i] != 0x7F);
    amount_try(line, "EUR");
    amount_try(line, "JPY");
    amount_try(line, "KWD");
    day_try(line);
    words_try(line);
}

/* As the keyboard gives them: in pieces, whose size the first byte tells. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct console console;
    struct walk walk = {data, size};
    uint32_t piece = 1 + 16u * walk_byte(&walk);
    char line[CONSOLE_LINE_MAX];
    memset(&console, 0, sizeof console);
    while (walk.left > 0 || console.length > 0) {
        uint32_t room = (uint32_t)(sizeof console.buffer - console.length);
        demand(console.length < sizeof console.buffer);
        console.length += walk_bytes(&walk, piece < room ? piece : room, (uint8_t *)console.buffer + console.length);
        console.ended = walk.left == 0;
        while (console_line_take(&console, line))
            line_try(line);
        demand(!console.ended || console.length == 0);
    }
    return 0;
}
