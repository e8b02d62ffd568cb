/*
 * The host's settings: which there are and what they may be. README.md lists them.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

static int32_t refuse(const cfoil_adapter_start *start, const char *key, const char *rule)
{
    if (start->error != NULL && start->error_capacity > 0)
        snprintf(start->error, start->error_capacity, "Setting %.32s: %s.", key, rule);
    return CFOIL_E_ARGUMENT_SETTING;
}

/* Decimal digits up to `end`, 1 or more of them, at most `longest`. */
static bool digits_read(const char *text, const char *end, int longest, int64_t *number)
{
    if (text == end || end - text > longest)
        return false;
    int64_t value = 0;
    for (; text < end; text++) {
        if (*text < '0' || *text > '9')
            return false;
        value = value * 10 + (*text - '0');
    }
    *number = value;
    return true;
}

static bool time_read(const char *text, int64_t low_ms, int64_t high_ms, uint64_t *time_us)
{
    int64_t number;
    if (!digits_read(text, text + strlen(text), 5, &number) || number < low_ms || number > high_ms)
        return false;
    *time_us = MS((uint64_t)number);
    return true;
}

/* One of the words, NULL at their end; -1 = none. */
static int word_find(const char *const *words, const char *word)
{
    for (int i = 0; words[i] != NULL; i++) {
        if (strcmp(words[i], word) == 0)
            return i;
    }
    return -1;
}

static int32_t line_read(struct settings *settings, const cfoil_adapter_start *start, const char *value)
{
    static const char *const words[] = {"cts", "dsr", "dcd", "ri", NULL};
    static const char *const names[] = {"CTS", "DSR", "DCD", "RI"};
    static const uint8_t lines[] = {CFOIL_LINE_CTS, CFOIL_LINE_DSR, CFOIL_LINE_DCD, CFOIL_LINE_RI};
    int choice = word_find(words, value);
    if (choice < 0)
        return refuse(start, "line", "it must be cts, dsr, dcd or ri");
    settings->line = lines[choice];
    settings->line_name = names[choice];
    return CFOIL_OK;
}

static int32_t level_read(const cfoil_adapter_start *start, const cfoil_adapter_setting *setting, bool *high)
{
    static const char *const words[] = {"low", "high", NULL};
    int choice = word_find(words, setting->value);
    if (choice < 0)
        return refuse(start, setting->key, "it must be high or low");
    *high = choice == 1;
    return CFOIL_OK;
}

static int32_t inhibit_read(struct settings *settings, const cfoil_adapter_start *start, const char *value)
{
    static const char *const words[] = {"none", "dtr", "rts", NULL};
    static const enum inhibit_output outputs[] = {INHIBIT_NONE, INHIBIT_DTR, INHIBIT_RTS};
    int choice = word_find(words, value);
    if (choice < 0)
        return refuse(start, "inhibit", "it must be dtr, rts or none");
    settings->inhibit = outputs[choice];
    return CFOIL_OK;
}

static int32_t currency_read(struct settings *settings, const cfoil_adapter_start *start, const char *value)
{
    bool capitals = strlen(value) == 3 && strspn(value, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == 3;
    if (!capitals)
        return refuse(start, "currency", "it must be three capital letters, for example EUR");
    memcpy(settings->currency, value, sizeof settings->currency);
    return CFOIL_OK;
}

/* Up to 1000 million minor units: a thousand pulses of it are far from the end of int64. */
static bool money_read(const char *text, const char *end, int64_t *minor)
{
    return digits_read(text, end, 10, minor) && *minor >= 1 && *minor <= INT64_C(1000000000);
}

static bool known_already(const struct settings *settings, int64_t pulses)
{
    for (uint32_t i = 0; i < settings->value_count; i++) {
        if (settings->values[i].pulses == (uint32_t)pulses)
            return true;
    }
    return false;
}

/* VALUE:PULSES,VALUE:PULSES,... */
static int32_t values_read(struct settings *settings, const cfoil_adapter_start *start, const char *text)
{
    for (const char *next = text; next != NULL;) {
        const char *sign = strchr(next, ':');
        const char *end = strchr(next, ',');
        int64_t minor;
        int64_t pulses;
        if (end == NULL)
            end = next + strlen(next);
        if (sign == NULL || sign > end || !money_read(next, sign, &minor) || !digits_read(sign + 1, end, 4, &pulses) ||
            pulses < 1 || pulses > PULSES_MAX)
            return refuse(start, "values", "write 500:1,1000:2 for minor units and their pulses, 1 to 1000 pulses");
        if (known_already(settings, pulses))
            return refuse(start, "values", "two notes have the same number of pulses");
        if (settings->value_count == VALUES_MAX)
            return refuse(start, "values", "there may be 32 notes at most");
        settings->values[settings->value_count++] = (struct pulse_value){minor, (uint32_t)pulses};
        next = *end == ',' ? end + 1 : NULL;
    }
    return CFOIL_OK;
}

static int32_t value_read(struct settings *settings, const cfoil_adapter_start *start, const char *text)
{
    if (!money_read(text, text + strlen(text), &settings->per_pulse_minor))
        return refuse(start, "value_minor", "it must be 1 to 1000000000 minor units");
    return CFOIL_OK;
}

static int32_t time_setting_read(struct settings *settings, const cfoil_adapter_start *start,
                                 const cfoil_adapter_setting *setting)
{
    const char *key = setting->key;
    const char *value = setting->value;
    /* Looks are 5 ms apart: what is shorter than 10 ms may fall between two of them. */
    if (strcmp(key, "pulse_min_ms") == 0)
        return time_read(value, 10, 1000, &settings->pulse_min_us) ? CFOIL_OK : refuse(start, key, "10 to 1000");
    if (strcmp(key, "pulse_max_ms") == 0)
        return time_read(value, 15, 5000, &settings->pulse_max_us) ? CFOIL_OK : refuse(start, key, "15 to 5000");
    if (strcmp(key, "gap_max_ms") == 0)
        return time_read(value, 20, 10000, &settings->gap_max_us) ? CFOIL_OK : refuse(start, key, "20 to 10000");
    if (strcmp(key, "debounce_ms") == 0)
        return time_read(value, 0, 500, &settings->debounce_us) ? CFOIL_OK : refuse(start, key, "0 to 500");
    return refuse(start, key, "there is no such setting");
}

static int32_t setting_read(struct settings *settings, const cfoil_adapter_start *start,
                            const cfoil_adapter_setting *setting)
{
    const char *key = setting->key;
    if (strcmp(key, "line") == 0)
        return line_read(settings, start, setting->value);
    if (strcmp(key, "active") == 0)
        return level_read(start, setting, &settings->active_high);
    if (strcmp(key, "inhibit") == 0)
        return inhibit_read(settings, start, setting->value);
    if (strcmp(key, "inhibit_active") == 0)
        return level_read(start, setting, &settings->inhibit_high);
    if (strcmp(key, "currency") == 0)
        return currency_read(settings, start, setting->value);
    if (strcmp(key, "value_minor") == 0)
        return value_read(settings, start, setting->value);
    if (strcmp(key, "values") == 0)
        return values_read(settings, start, setting->value);
    return time_setting_read(settings, start, setting);
}

/* What one setting alone cannot tell. */
static int32_t settings_judge(const struct settings *settings, const cfoil_adapter_start *start)
{
    if (settings->currency[0] == '\0')
        return refuse(start, "currency", "it must be given, for example currency=EUR");
    if ((settings->per_pulse_minor == 0) == (settings->value_count == 0))
        return refuse(start, "value_minor", "give either value_minor or values");
    if (settings->pulse_max_us <= settings->pulse_min_us)
        return refuse(start, "pulse_max_ms", "it must be more than pulse_min_ms");
    if (settings->debounce_us >= settings->pulse_min_us)
        return refuse(start, "debounce_ms", "it must be less than pulse_min_ms");
    if (settings->gap_max_us <= settings->pulse_min_us)
        return refuse(start, "gap_max_ms", "it must be more than pulse_min_ms");
    return CFOIL_OK;
}

int32_t pulse_settings_read(struct settings *settings, const cfoil_adapter_start *start)
{
    *settings = (struct settings){.line = CFOIL_LINE_CTS,
                                  .line_name = "CTS",
                                  .active_high = true,
                                  .pulse_min_us = MS(20),
                                  .pulse_max_us = MS(200),
                                  .gap_max_us = MS(400),
                                  .debounce_us = MS(5)};
    for (uint32_t i = 0; i < start->setting_count; i++) {
        int32_t result = setting_read(settings, start, &start->settings[i]);
        if (result != CFOIL_OK)
            return result;
    }
    return settings_judge(settings, start);
}
