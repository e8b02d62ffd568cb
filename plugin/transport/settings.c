/*
 * What do the adapter settings say? See settings.h.
 */
#include "transport/settings.h"

#include "model/error.h"
#include "model/text.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define KEY_MAX        32
#define KEY_CHARACTERS "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-."

static int32_t refuse(cfoil_error_info *error, uint32_t number, const char *text)
{
    return error_set(error, CFOIL_E_ARGUMENT_SETTING, 0, "settings", "Adapter setting %u: %s", (unsigned)number, text);
}

static bool known_already(const struct settings *settings, const char *key)
{
    for (uint32_t i = 0; i < settings->count; i++) {
        if (strcmp(settings->items[i].key, key) == 0)
            return true;
    }
    return false;
}

static int32_t item_add(struct settings *settings, char *item, cfoil_error_info *error)
{
    uint32_t number = settings->count + 1;
    char *sign = strchr(item, '=');
    if (sign == NULL)
        return refuse(error, number, "write it as key=value.");
    *sign = '\0';
    size_t length = strspn(item, KEY_CHARACTERS);
    if (length == 0 || length > KEY_MAX || item[length] != '\0')
        return refuse(error, number, "the key must be 1 to 32 letters, digits, '_', '-' and '.', without blanks.");
    if (sign[1] == '\0')
        return refuse(error, number, "the value is missing: write it as key=value.");
    if (known_already(settings, item))
        return refuse(error, number, "the key was given before: give it once.");
    if (settings->count == SETTINGS_MAX)
        return refuse(error, number, "there may be 32 at most.");
    settings->items[settings->count].key = item;
    settings->items[settings->count].value = sign + 1;
    settings->count++;
    return CFOIL_OK;
}

int32_t settings_parse(const char *text, struct settings *settings, cfoil_error_info *error)
{
    memset(settings, 0, sizeof *settings);
    if (text == NULL || text[0] == '\0')
        return CFOIL_OK;
    if (!text_acceptable(text, 1, SETTINGS_TEXT_MAX))
        return error_set(error, CFOIL_E_ARGUMENT_SETTING, 0, "settings",
                         "The settings must be at most 512 bytes of UTF-8 without control characters.");
    text_copy(settings->text, sizeof settings->text, text);
    int32_t result = CFOIL_OK;
    for (char *item = settings->text, *next; result == CFOIL_OK && item != NULL; item = next) {
        next = strchr(item, ';');
        if (next != NULL)
            *next++ = '\0';
        result = item_add(settings, item, error);
    }
    return result;
}

const char *settings_take(struct settings *settings, const char *key)
{
    uint32_t place = 0;
    while (place < settings->count && strcmp(settings->items[place].key, key) != 0)
        place++;
    if (place == settings->count)
        return NULL;
    const char *value = settings->items[place].value;
    settings->count--;
    memmove(&settings->items[place], &settings->items[place + 1],
            (settings->count - place) * sizeof settings->items[0]);
    return value;
}

void settings_join(const struct settings *settings, char text[SETTINGS_TEXT_MAX + 1])
{
    size_t filled = 0;
    text[0] = '\0';
    for (uint32_t i = 0; i < settings->count; i++) {
        const cfoil_adapter_setting *item = &settings->items[i];
        int length = snprintf(text + filled, SETTINGS_TEXT_MAX + 1 - filled, "%s%s=%s", i > 0 ? ";" : "", item->key,
                              item->value);
        filled += (size_t)length; /* never longer than the text it was cut from */
    }
}
