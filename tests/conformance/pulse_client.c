/*
 * What do the wires of a contact-pulse device do? See pulse_client.h.
 */
#include "pulse_client.h"

#include <stdlib.h>
#include <string.h>

enum { FIRST_STATE_MS = 1000, REST_LIMIT_MS = 2500, OUTPUT_DTR = 16, OUTPUT_RTS = 32, INPUTS = 15 };

/* ---- Settings ---- */

/* The value behind "key=", up to the next ';'; "" = not given. */
static void setting_find(const char *settings, const char *key, char *value, size_t capacity)
{
    size_t key_length = strlen(key);
    value[0] = '\0';
    for (const char *at = settings; at != NULL && *at != '\0'; at = strchr(at, ';')) {
        at += *at == ';';
        if (strncmp(at, key, key_length) != 0 || at[key_length] != '=')
            continue;
        size_t length = strcspn(at + key_length + 1, ";");
        snprintf(value, capacity, "%.*s", (int)(length < capacity ? length : capacity - 1), at + key_length + 1);
        return;
    }
}

static uint32_t number_find(const char *settings, const char *key, uint32_t otherwise)
{
    char value[16];
    setting_find(settings, key, value, sizeof value);
    return value[0] == '\0' ? otherwise : (uint32_t)strtoul(value, NULL, 10);
}

static void numbers_read(struct wires *wires, const char *values)
{
    for (const char *at = strchr(values, ':'); at != NULL; at = strchr(at + 1, ':')) {
        unsigned long pulses = strtoul(at + 1, NULL, 10);
        if (pulses < sizeof wires->numbers / sizeof wires->numbers[0])
            wires->numbers[pulses] = true;
    }
}

static void settings_read(struct wires *wires, const char *settings)
{
    static const char *const lines[] = {"cts", "dsr", "dcd", "ri"};
    char value[400];
    setting_find(settings, "line", value, sizeof value);
    wires->input = 1;
    for (unsigned i = 0; i < 4; i++) {
        if (strcmp(value, lines[i]) == 0)
            wires->input = (uint8_t)(1U << i);
    }
    setting_find(settings, "active", value, sizeof value);
    wires->low = strcmp(value, "low") == 0;
    setting_find(settings, "inhibit", value, sizeof value);
    wires->inhibit = strcmp(value, "dtr") == 0 ? OUTPUT_DTR : strcmp(value, "rts") == 0 ? OUTPUT_RTS : 0;
    setting_find(settings, "inhibit_active", value, sizeof value);
    wires->inhibit_high = strcmp(value, "high") == 0;
    wires->pulse_min_ms = number_find(settings, "pulse_min_ms", 20);
    wires->pulse_max_ms = number_find(settings, "pulse_max_ms", 200);
    wires->gap_max_ms = number_find(settings, "gap_max_ms", 400);
    setting_find(settings, "values", value, sizeof value);
    wires->any_number = value[0] == '\0';
    numbers_read(wires, value);
}

/* ---- States ---- */

static void state_take(struct wires *wires, uint8_t state)
{
    bool closed = ((state & wires->input) != 0) != wires->low;
    wires->strange |= (uint8_t)(state & ~(unsigned)INPUTS);
    wires->repeats += wires->known && state == wires->state;
    if (!wires->known || closed != wires->closed)
        wires->changed_us = line_now_us(wires->line);
    wires->known = true;
    wires->closed = closed;
    wires->state = state;
}

/* One state, of those that came. False = none until then. */
static bool state_await(struct wires *wires, uint64_t until_us)
{
    if (wires->waiting_count == 0)
        wires->waiting_count = line_receive(wires->line, until_us, wires->waiting, sizeof wires->waiting);
    if (wires->waiting_count == 0)
        return false;
    state_take(wires, wires->waiting[0]);
    memmove(wires->waiting, wires->waiting + 1, --wires->waiting_count);
    return true;
}

bool wires_change(struct wires *wires, uint64_t until_us)
{
    bool before = wires->closed;
    while (wires->waiting_count > 0 || line_now_us(wires->line) < until_us) {
        if (state_await(wires, until_us) && wires->closed != before)
            return true;
        if (line_gone(wires->line) != NULL)
            return false;
    }
    return false;
}

void wires_accept(struct wires *wires, bool wanted)
{
    bool high = wanted != wires->inhibit_high;
    uint8_t outputs = OUTPUT_DTR | OUTPUT_RTS;
    if (!high)
        outputs = (uint8_t)(outputs & ~(unsigned)wires->inhibit);
    (void)line_send(wires->line, &outputs, 1);
}

/* Pulses of a note that is on its way are let go by. */
static void rest_await(struct wires *wires)
{
    uint64_t limit_us = line_now_us(wires->line) + MS(wires->gap_max_ms + REST_LIMIT_MS);
    while (line_now_us(wires->line) < limit_us && line_gone(wires->line) == NULL) {
        uint64_t rest_us = line_now_us(wires->line) + MS(wires->gap_max_ms);
        if (!wires_change(wires, rest_us) && !wires->closed)
            return;
    }
}

bool wires_begin(struct trial *trial, struct wires *wires)
{
    const char *settings = trial->options->settings;
    *wires = (struct wires){.trial = trial, .line = trial->suite->line};
    settings_read(wires, settings[0] != '\0' ? settings : line_trace_settings(wires->line));
    wires_accept(wires, false);
    uint64_t until_us = line_now_us(wires->line) + MS(FIRST_STATE_MS + trial->options->latency_ms);
    while (!wires->known && line_now_us(wires->line) < until_us && line_gone(wires->line) == NULL)
        (void)state_await(wires, until_us);
    trial->suite->silent = !wires->known;
    if (!wires->known) {
        skip(trial, "no state of the lines came: see pulse/lines/state-at-start");
        return false;
    }
    rest_await(wires);
    return line_gone(wires->line) == NULL;
}

/* ---- Trains ---- */

bool wires_train_go_on(struct wires *wires, struct train *train)
{
    uint64_t closed_us = wires->changed_us;
    train->begin_us = closed_us;
    for (;;) {
        uint64_t limit_us = closed_us + MS(wires->pulse_max_ms) + MS(5000);
        if (!wires_change(wires, limit_us) || train->pulses == TRAIN_PULSES)
            return false; /* it does not open any more */
        train->width_us[train->pulses] = wires->changed_us - closed_us;
        train->end_us = wires->changed_us;
        if (!wires_change(wires, train->end_us + MS(wires->gap_max_ms))) {
            train->pulses++;
            return line_gone(wires->line) == NULL;
        }
        train->pause_us[train->pulses++] = wires->changed_us - train->end_us;
        closed_us = wires->changed_us;
    }
}

bool wires_train(struct wires *wires, uint64_t until_us, struct train *train)
{
    *train = (struct train){.pulses = 0};
    while (line_now_us(wires->line) < until_us && line_gone(wires->line) == NULL) {
        if (wires_change(wires, until_us) && wires->closed)
            return wires_train_go_on(wires, train);
    }
    return false;
}
