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

struct time_setting {
    const char *key;
    uint32_t low_ms;
    uint32_t high_ms;
};

static const struct time_setting times[] = {
    {"poll_ms", 25, 500},        /* the bus as a whole: 25 to 200 ms between polls (from memory, weak) */
    {"answer_ms", 5, 1000},      /* the bus limit is 5 ms; a carrier adds its latency */
    {"silence_ms", 1000, 10000}, /* a validator may be silent for 5 s (from memory) */
    {"hold_ms", 500, 600000},
};

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

static int32_t time_read(const struct time_setting *time, const cfoil_adapter_start *start,
                         const cfoil_adapter_setting *setting, uint64_t *time_us)
{
    uint32_t number;
    if (!number_read(setting->value, time->low_ms, time->high_ms, &number)) {
        char rule[48];
        snprintf(rule, sizeof rule, "must be %u to %u", time->low_ms, time->high_ms);
        return refuse(start, setting, rule);
    }
    *time_us = MS(number);
    return CFOIL_OK;
}

/* One of two words; `first` is told as true. */
static int32_t choice_read(const cfoil_adapter_start *start, const cfoil_adapter_setting *setting, const char *first,
                           const char *second, bool *chosen)
{
    if (strcmp(setting->value, first) != 0 && strcmp(setting->value, second) != 0) {
        char rule[48];
        snprintf(rule, sizeof rule, "must be %s or %s", first, second);
        return refuse(start, setting, rule);
    }
    *chosen = strcmp(setting->value, first) == 0;
    return CFOIL_OK;
}

static int32_t currency_read(struct settings *settings, const cfoil_adapter_start *start,
                             const cfoil_adapter_setting *setting)
{
    const char *value = setting->value;
    bool letters = strlen(value) == 3;
    for (uint32_t i = 0; letters && i < 3; i++)
        letters = value[i] >= 'A' && value[i] <= 'Z';
    if (!letters)
        return refuse(start, setting, "write currency=EUR: three capital letters");
    memcpy(settings->currency, value, sizeof settings->currency);
    return CFOIL_OK;
}

static int32_t setting_read(struct settings *settings, const cfoil_adapter_start *start,
                            const cfoil_adapter_setting *setting)
{
    uint64_t *const targets[] = {&settings->poll_us, &settings->answer_us, &settings->silence_us, &settings->hold_us};
    for (uint32_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        if (strcmp(setting->key, times[i].key) == 0)
            return time_read(&times[i], start, setting, targets[i]);
    }
    if (strcmp(setting->key, "currency") == 0)
        return currency_read(settings, start, setting);
    if (strcmp(setting->key, "security") == 0)
        return choice_read(start, setting, "high", "none", &settings->security_high);
    if (strcmp(setting->key, "bus_reset") == 0)
        return choice_read(start, setting, "yes", "no", &settings->bus_reset);
    if (strcmp(setting->key, "stacker_count") == 0)
        return choice_read(start, setting, "yes", "no", &settings->count_used);
    return refuse(start, setting, "there is no such setting");
}

int32_t mdb_settings_read(struct settings *settings, const cfoil_adapter_start *start)
{
    memset(settings, 0, sizeof *settings);
    settings->poll_us = MS(150);
    settings->answer_us = MS(250); /* docs/word-carrier.md, rule 1: two packets may be lost */
    settings->silence_us = MS(5000);
    settings->hold_us = MS(5000);
    settings->security_high = true;
    settings->count_used = true;
    for (uint32_t i = 0; i < start->setting_count; i++) {
        int32_t result = setting_read(settings, start, &start->settings[i]);
        if (result != CFOIL_OK)
            return result;
    }
    return CFOIL_OK;
}
