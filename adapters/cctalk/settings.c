/*
 * The host's settings: which there are and what they may be. README.md lists them.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

static int32_t refuse(const cfoil_adapter_start *start, const cfoil_adapter_setting *setting, const char *rule)
{
    if (start->error != NULL && start->error_capacity > 0)
        snprintf(start->error, start->error_capacity, "Setting %.32s=%.32s: %s.", setting->key, setting->value, rule);
    return CFOIL_E_ARGUMENT_SETTING;
}

/* Decimal digits only, low..high. */
static bool number_read(const char *text, uint32_t low, uint32_t high, uint32_t *number)
{
    uint32_t value = 0;
    if (text[0] == '\0' || strlen(text) > 6)
        return false;
    for (; *text != '\0'; text++) {
        if (*text < '0' || *text > '9')
            return false;
        value = value * 10 + (uint32_t)(*text - '0');
    }
    *number = value;
    return value >= low && value <= high;
}

static bool time_read(const char *text, uint32_t low_ms, uint32_t high_ms, uint64_t *time_us)
{
    uint32_t number;
    if (!number_read(text, low_ms, high_ms, &number))
        return false;
    *time_us = MS(number);
    return true;
}

static bool capitals(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (text[i] < 'A' || text[i] > 'Z')
            return false;
    }
    return text[length] == '\0';
}

static int32_t currency_read(struct settings *settings, const cfoil_adapter_start *start,
                             const cfoil_adapter_setting *setting)
{
    const char *country = setting->key + strlen("currency.");
    if (!capitals(country, 2) || !capitals(setting->value, 3))
        return refuse(start, setting, "write currency.GB=GBP: two country letters, three currency letters");
    if (strcmp(country, "TK") == 0)
        return refuse(start, setting, "TK marks tokens, which are never money");
    if (settings->currency_count == CCTALK_CURRENCIES)
        return refuse(start, setting, "too many currency settings");
    struct cctalk_currency *currency = &settings->currencies[settings->currency_count++];
    memcpy(currency->country, country, sizeof currency->country);
    memcpy(currency->currency, setting->value, sizeof currency->currency);
    return CFOIL_OK;
}

static int32_t word_read(const cfoil_adapter_start *start, const cfoil_adapter_setting *setting,
                         const char *const *words, int *choice)
{
    for (int i = 0; i < 3; i++) {
        if (strcmp(setting->value, words[i]) == 0) {
            *choice = i;
            return CFOIL_OK;
        }
    }
    char rule[64];
    snprintf(rule, sizeof rule, "must be %s, %s or %s", words[0], words[1], words[2]);
    return refuse(start, setting, rule);
}

static int32_t address_read(struct settings *settings, const cfoil_adapter_start *start,
                            const cfoil_adapter_setting *setting)
{
    uint32_t number = 0;
    if (strcmp(setting->value, "auto") != 0 && !number_read(setting->value, 2, 255, &number))
        return refuse(start, setting, "must be auto or 2 to 255");
    settings->address = (uint8_t)number;
    return CFOIL_OK;
}

static int32_t setting_read(struct settings *settings, const cfoil_adapter_start *start,
                            const cfoil_adapter_setting *setting)
{
    static const char *const checks[] = {"auto", "sum", "crc"};
    const char *key = setting->key;
    const char *value = setting->value;
    int choice = 0;
    int32_t result = CFOIL_OK;
    if (strcmp(key, "address") == 0)
        return address_read(settings, start, setting);
    if (strncmp(key, "currency.", strlen("currency.")) == 0)
        return currency_read(settings, start, setting);
    if (strcmp(key, "check") == 0) {
        result = word_read(start, setting, checks, &choice);
        settings->check = (enum check_setting)choice;
        return result;
    }
    if (strcmp(key, "poll_ms") == 0)
        return time_read(value, 50, 500, &settings->poll_us) ? CFOIL_OK : refuse(start, setting, "must be 50 to 500");
    if (strcmp(key, "answer_ms") == 0)
        return time_read(value, 20, 2000, &settings->answer_us) ? CFOIL_OK
                                                                : refuse(start, setting, "must be 20 to 2000");
    if (strcmp(key, "hold_ms") == 0)
        return time_read(value, 0, 600000, &settings->hold_us) ? CFOIL_OK
                                                               : refuse(start, setting, "must be 0 to 600000");
    return refuse(start, setting, "there is no such setting");
}

int32_t cctalk_settings_read(struct settings *settings, const cfoil_adapter_start *start)
{
    memset(settings, 0, sizeof *settings);
    settings->address = ADDRESS_FIRST;
    settings->poll_us = MS(200);
    settings->answer_us = MS(120); /* 100 ms, and 20 ms for the latency of a USB serial adapter */
    settings->hold_us = MS(30000);
    for (uint32_t i = 0; i < start->setting_count; i++) {
        int32_t result = setting_read(settings, start, &start->settings[i]);
        if (result != CFOIL_OK)
            return result;
    }
    return CFOIL_OK;
}
