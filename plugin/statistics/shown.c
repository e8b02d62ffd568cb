/*
 * Names, words, shares and amounts as people read them. See shown.h.
 */
#include "statistics/shown.h"

#include "model/text.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* A name that other hands may have written into the file must not break the page. */
const char *name_shown(const char *name, const char *absent)
{
    if (name[0] == '\0')
        return absent;
    return text_acceptable(name, 1, NAME_SIZE - 1) ? name : "(a name that cannot be shown)";
}

/* Words joined by '_' as people read them. */
const char *word_shown(const char *name, char word[WORD_SIZE])
{
    text_copy(word, WORD_SIZE, name);
    for (char *at = word; *at != '\0'; at++) {
        if (*at == '_')
            *at = ' ';
    }
    return word;
}

/* In whole tenths, since printf would take the decimal sign of the host's locale. */
const char *share_shown(double share, char text[SHARE_SIZE])
{
    int tenths = (int)(share * 1000 + 0.5);
    (void)snprintf(text, SHARE_SIZE, "%d.%d %%", tenths / 10, tenths % 10);
    return text;
}

/* Currencies of two decimals (ISO 4217, from memory) as people write them; others in minor units. */
const char *amount_shown(const struct money *money, char text[AMOUNT_SIZE])
{
    static const char two_decimals[][4] = {"EUR", "GBP", "INR", "USD"};
    for (size_t i = 0; i < sizeof two_decimals / sizeof two_decimals[0]; i++) {
        if (strcmp(money->currency, two_decimals[i]) != 0)
            continue;
        (void)snprintf(text, AMOUNT_SIZE, "%s %" PRId64 ".%02d", money->currency, money->minor / 100,
                       (int)(money->minor % 100));
        return text;
    }
    (void)snprintf(text, AMOUNT_SIZE, "%s %" PRId64 " minor units", money->currency, money->minor);
    return text;
}
