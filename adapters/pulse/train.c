/*
 * What does a train of pulses mean? Money only when nothing about it is in doubt.
 */
#include "session.h"

#include <stdio.h>
#include <string.h>

static void event_tell(const struct session *session, cfoil_adapter_event *event)
{
    session->host->event(session->host->user, event);
}

void pulse_condition_tell(const struct session *session, int32_t condition, const char *text)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = condition;
    snprintf(event.raw_text, sizeof event.raw_text, "line %s", session->settings.line_name);
    snprintf(event.text, sizeof event.text, "%s", text);
    event_tell(session, &event);
}

void pulse_train_begin(struct session *session)
{
    struct train *train = &session->train;
    if (train->under_way)
        return;
    *train = (struct train){.under_way = true, .joined = !session->ready, .inhibited = !pulse_accepting(session)};
}

/* The first reason is the one that is told. */
void pulse_train_spoil(struct session *session, const char *why)
{
    pulse_train_begin(session);
    if (session->train.spoilt == NULL)
        session->train.spoilt = why;
}

void pulse_begin(struct session *session, uint64_t gap_us)
{
    bool first = session->train.good == 0;
    pulse_train_begin(session);
    /* A pulse that a loose contact cut in two must not count twice. */
    if (!first && gap_us < session->settings.pulse_min_us)
        pulse_train_spoil(session, "two pulses came too close together");
    /* Noise kept the train from ending in time. */
    if (!first && gap_us >= session->settings.gap_max_us)
        pulse_train_spoil(session, "those of two notes may have run together");
}

void pulse_end(struct session *session, uint64_t width_us)
{
    const struct settings *settings = &session->settings;
    if (width_us < settings->pulse_min_us)
        pulse_train_spoil(session, "a pulse was too short");
    else if (width_us > settings->pulse_max_us)
        pulse_train_spoil(session, "a pulse was too long");
    else if (session->train.good == PULSES_MAX)
        pulse_train_spoil(session, "more pulses came than any note has");
    else
        session->train.good++;
}

static void raw_put(const struct session *session, cfoil_adapter_event *event)
{
    uint32_t good = session->train.good;
    event->raw_length = 2;
    event->raw[0] = (uint8_t)(good & 0xFF);
    event->raw[1] = (uint8_t)(good >> 8);
    snprintf(event->raw_text, sizeof event->raw_text, "%u pulse%s on %s", (unsigned)good, good == 1 ? "" : "s",
             session->settings.line_name);
}

/* 0 = no note has so many pulses. */
static int64_t value_find(const struct settings *settings, uint32_t pulses, int32_t *note_type)
{
    if (settings->per_pulse_minor > 0)
        return settings->per_pulse_minor * pulses;
    for (uint32_t i = 0; i < settings->value_count; i++) {
        if (settings->values[i].pulses == pulses) {
            *note_type = (int32_t)i + 1;
            return settings->values[i].value_minor;
        }
    }
    return 0;
}

static void money_tell(const struct session *session, int32_t note_type, int64_t value_minor)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_STACKED;
    event.note_type = note_type;
    event.value_minor = value_minor;
    memcpy(event.currency, session->settings.currency, sizeof event.currency);
    raw_put(session, &event);
    snprintf(event.text, sizeof event.text, "The device gave %s: the note is in the box.", event.raw_text);
    event_tell(session, &event);
}

static void doubt_tell(const struct session *session, int32_t condition, const char *why)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_DEVICE;
    event.condition = condition;
    raw_put(session, &event);
    const char *advice = condition == CFOIL_CONDITION_UNKNOWN_CODE ? "Not counted as money; look at the wiring."
                                                                   : "Not counted as money: count the box.";
    snprintf(event.text, sizeof event.text, "%s, and %s. %s", event.raw_text, why, advice);
    event_tell(session, &event);
}

/* A train without one good pulse is noise as far as anybody can know; with one, a note may be in the box. */
static int32_t doubt_condition(const struct train *train)
{
    return train->good > 0 ? CFOIL_CONDITION_UNKNOWN_NOTE_STACKED : CFOIL_CONDITION_UNKNOWN_CODE;
}

void pulse_train_end(struct session *session)
{
    struct train *train = &session->train;
    int32_t note_type = 0;
    int64_t value_minor = value_find(&session->settings, train->good, &note_type);
    if (train->joined)
        doubt_tell(session, CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT, "they may have begun before anybody watched");
    else if (train->spoilt != NULL)
        doubt_tell(session, doubt_condition(train), train->spoilt);
    else if (train->inhibited)
        doubt_tell(session, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED, "no notes were wanted then");
    else if (value_minor > 0)
        money_tell(session, note_type, value_minor);
    else
        doubt_tell(session, CFOIL_CONDITION_UNKNOWN_NOTE_STACKED, "no note of so many is set");
    *train = (struct train){.under_way = false};
}
