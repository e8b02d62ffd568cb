/* What is the device? Reads one setting by the table of the simulator. */
#include "settings.h"

#include <string.h>

static bool numbers_read(struct words *words, const struct setting *setting, long *values)
{
    for (int i = 0; i < setting->allowed; i++) {
        if (i >= setting->needed && words_at_end(words))
            break;
        if (!words_number(words, setting->word, setting->least, setting->most, &values[i]))
            return false;
    }
    return true;
}

static bool values_read(struct words *words, void *settings, const struct setting *setting)
{
    char *target = (char *)settings + setting->offset;
    void *numbers = target;
    bool good = false;
    if (setting->kind == SETTING_NUMBERS)
        good = numbers_read(words, setting, numbers);
    else if (setting->kind == SETTING_TEXT)
        good = words_text(words, setting->word, (size_t)setting->most, target);
    else
        good = words_choice(words, setting->word, setting->choices, numbers);
    return good && words_finish(words);
}

bool setting_read(struct words *words, void *settings, const struct setting *table, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (words_skip(words, table[i].word))
            return values_read(words, settings, &table[i]);
    }
    return words_fail(words, "the device has no setting '%s'", words_peek(words));
}

bool text_plain(const char *text)
{
    return strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .") == strlen(text);
}
