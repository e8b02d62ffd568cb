/*
 * Is this a serial number of the currency, and does its check figure fit? It finds misreadings, nothing else: copies
 * reuse real serial numbers.
 */
#include "model/text.h"
#include "packs/message_format.h"
#include "packs/pack_data.h"

#include <stdio.h>
#include <string.h>

static bool is_digit(char character)
{
    return character >= '0' && character <= '9';
}

static bool is_letter(char character)
{
    return character >= 'A' && character <= 'Z';
}

static char capital_of(char character)
{
    return character >= 'a' && character <= 'z' ? (char)(character - 'a' + 'A') : character;
}

/* The length of a character that counts as a blank: a blank, or the no-break space of pasted text. 0 = none. */
static size_t blank_length(const char *at)
{
    if (strncmp(at, "\xC2\xA0", 2) == 0)
        return 2;
    return *at == ' ' ? 1 : 0;
}

/* Capitals without blanks, U+2605 as a star. False = longer than any serial number. */
static bool serial_normalise(const char *serial, char *target, size_t capacity)
{
    size_t length = 0;
    for (const char *at = serial; *at != '\0';) {
        size_t blank = blank_length(at);
        if (blank > 0) {
            at += blank;
            continue;
        }
        if (length + 1 == capacity) {
            text_copy(target, capacity, serial);
            return false;
        }
        bool star = strncmp(at, "\xE2\x98\x85", 3) == 0;
        target[length++] = star ? '*' : capital_of(*at);
        at += star ? 3 : 1;
    }
    target[length] = '\0';
    return true;
}

static bool place_fits(const struct serial_rule *rule, char place, char character)
{
    if (place == 'L')
        return is_letter(character) && strchr(rule->letters_not_used, character) == NULL;
    return place == 'D' ? is_digit(character) : character == '*';
}

static bool form_fits(const struct serial_rule *rule, const char *serial)
{
    const char *place = rule->form;
    for (; *place != '\0'; place++, serial++) {
        if (!place_fits(rule, *place, *serial))
            return false;
    }
    return *serial == '\0';
}

static const struct serial_rule *rule_find(const struct pack_currency *currency, const char *serial)
{
    for (uint32_t i = 0; i < currency->serial_count; i++) {
        if (form_fits(&currency->serials[i], serial))
            return &currency->serials[i];
    }
    return NULL;
}

static int32_t checksum_of(const struct serial_rule *rule, const char *serial)
{
    if (!rule->has_checksum)
        return CFOIL_CHECKSUM_NONE;
    uint32_t sum = 0;
    for (; *serial != '\0'; serial++) {
        if (is_digit(*serial))
            sum += (uint32_t)(*serial - '0');
        else if (is_letter(*serial))
            sum += rule->letter_a + (uint32_t)(*serial - 'A');
    }
    return sum % rule->modulus == rule->remainder ? CFOIL_CHECKSUM_FITS : CFOIL_CHECKSUM_DIFFERS;
}

/* Whom the first letters name; an unknown prefix is told, never held against the note: new ones are assigned. */
static void issuer_fill(const struct serial_rule *rule, const char *serial, cfoil_serial *result)
{
    const struct serial_prefix *prefix = serial_prefix_find(rule, serial);
    char issuer[160];
    if (rule->prefix_count == 0)
        issuer[0] = '\0';
    else if (prefix == NULL)
        (void)snprintf(issuer, sizeof issuer, "%s not in this pack's list", rule->prefix_means);
    else if (prefix->kept_free)
        (void)snprintf(issuer, sizeof issuer, "kept free for %s, no such notes known", prefix->name);
    else
        (void)snprintf(issuer, sizeof issuer, "%s: %s", rule->prefix_means, prefix->name);
    text_copy(result->issuer, sizeof result->issuer, issuer);
}

static const char *text_of(const struct pack_currency *currency, const cfoil_serial *result)
{
    if (currency->serial_count == 0)
        return "The form of this currency's serial numbers is not known here. The number is kept as read.";
    if (!result->format_known)
        return "This does not have the form of a serial number of this currency. Read it again.";
    switch (result->checksum) {
    case CFOIL_CHECKSUM_FITS:
        return "The check figure fits. This catches misreading only: copies reuse real serial numbers.";
    case CFOIL_CHECKSUM_DIFFERS:
        return "The check figure does not fit. Read the number again; this catches misreading only and judges no note.";
    default:
        return "The form is right. This catches misreading only: copies reuse real serial numbers.";
    }
}

void serial_check(const struct pack_currency *currency, const char *serial, cfoil_serial *result)
{
    result->format_known = 0;
    result->checksum = CFOIL_CHECKSUM_NONE;
    result->series[0] = '\0';
    result->issuer[0] = '\0';
    const struct serial_rule *rule = NULL;
    if (serial_normalise(serial, result->normalised, sizeof result->normalised))
        rule = rule_find(currency, result->normalised);
    if (rule != NULL) {
        result->format_known = 1;
        result->checksum = checksum_of(rule, result->normalised);
        text_copy(result->series, sizeof result->series, rule->series);
        issuer_fill(rule, result->normalised, result);
    }
    text_copy(result->text, sizeof result->text, text_of(currency, result));
}

bool serial_repeats(const struct pack_currency *currency, const char *normalised)
{
    const struct serial_rule *rule = rule_find(currency, normalised);
    return rule != NULL && rule->repeats;
}

/* ---- In the language of the cashier ---- */

static const char *text_key_of(const struct pack_currency *currency, const cfoil_serial *result)
{
    if (currency->serial_count == 0)
        return "serial.not_known";
    if (!result->format_known)
        return "serial.form_differs";
    if (result->checksum == CFOIL_CHECKSUM_NONE)
        return "serial.form_fits";
    return result->checksum == CFOIL_CHECKSUM_FITS ? "serial.figure_fits" : "serial.figure_differs";
}

/* Puts the message of the key in the place of the English text, when somebody has it. */
static void message_put(const struct pack_set *set, const char *language, const char *key,
                        const cfoil_argument arguments[2], char *target, size_t capacity)
{
    char text[1024];
    struct pack_phrase phrase = pack_phrase_of_key(set, language, key);
    if (phrase.pattern == NULL)
        return;
    (void)message_format(phrase.language, phrase.pattern, arguments, 2, text, sizeof text);
    text_copy(target, capacity, text);
}

void serial_words(const struct pack_set *set, const char *language, const struct pack_currency *currency,
                  cfoil_serial *result)
{
    static const cfoil_argument none[2] = {{"means", "", 0}, {"name", "", 0}};
    message_put(set, language, text_key_of(currency, result), none, result->text, sizeof result->text);
    const struct serial_rule *rule = result->format_known ? rule_find(currency, result->normalised) : NULL;
    if (rule == NULL || rule->prefix_count == 0)
        return;
    const struct serial_prefix *prefix = serial_prefix_find(rule, result->normalised);
    const cfoil_argument arguments[2] = {{"means", pack_text(set, language, rule->prefix_means), 0},
                                         {"name", prefix != NULL ? prefix->name : "", 0}};
    const char *key = "serial.issuer";
    if (prefix == NULL)
        key = "serial.issuer_unknown";
    else if (prefix->kept_free)
        key = "serial.issuer_kept_free";
    message_put(set, language, key, arguments, result->issuer, sizeof result->issuer);
}
