/*
 * ICU's own MessageFormat and PluralRules, as plain functions. See icu_message.h.
 */
#include "icu_message.h"

#include <string>
#include <unicode/msgfmt.h>
#include <unicode/plurrule.h>

static void copy(const icu::UnicodeString &from, char *target, size_t capacity)
{
    std::string bytes;
    from.toUTF8String(bytes);
    const size_t length = bytes.size() < capacity ? bytes.size() : capacity - 1;
    bytes.copy(target, length);
    target[length] = '\0';
}

bool icu_message(const char *language, const char *pattern, const struct icu_value *values, size_t count, char *target,
                 size_t capacity)
{
    UErrorCode status = U_ZERO_ERROR;
    const icu::MessageFormat format(icu::UnicodeString::fromUTF8(pattern), icu::Locale(language), status);
    icu::UnicodeString names[8];
    icu::Formattable arguments[8];
    for (size_t i = 0; i < count && i < 8; i++) {
        names[i] = icu::UnicodeString::fromUTF8(values[i].name);
        if (values[i].text != nullptr)
            arguments[i] = icu::Formattable(icu::UnicodeString::fromUTF8(values[i].text));
        else
            arguments[i] = icu::Formattable(values[i].number);
    }
    icu::UnicodeString result;
    if (U_SUCCESS(status))
        format.format(names, arguments, static_cast<int32_t>(count), result, status);
    if (U_FAILURE(status))
        return false;
    copy(result, target, capacity);
    return true;
}

void icu_plural(const char *language, int64_t number, char *target, size_t capacity)
{
    UErrorCode status = U_ZERO_ERROR;
    icu::PluralRules *rules = icu::PluralRules::forLocale(icu::Locale(language), status);
    copy(rules->select(static_cast<double>(number)), target, capacity);
    delete rules;
}
