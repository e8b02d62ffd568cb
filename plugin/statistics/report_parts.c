/*
 * Rates, names and sentences of the report. See report_parts.h.
 */
#include "statistics/report_parts.h"

#include "model/json.h"
#include "model/names.h"
#include "model/text.h"
#include "statistics/explain.h"
#include "statistics/statistics.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- Rates ---- */

struct share share_make(uint64_t count, uint64_t of)
{
    struct share share = {.count = count, .of = of};
    share.known = interval_wilson(count, of, QUANTILE_975, &share.lower, &share.upper);
    share.rate = share.known ? (double)count / (double)of : 0;
    return share;
}

struct shares shares_of(const struct cell_sums *sums)
{
    uint64_t firsts = cell_trials(sums->firsts);
    return (struct shares){.first_pass = share_make(sums->firsts[CELL_ACCEPTED], firsts),
                           .final = share_make(sums->lasts[CELL_ACCEPTED], cell_trials(sums->lasts)),
                           .refused = share_make(sums->firsts[CELL_REFUSED], firsts),
                           .feeding = share_make(sums->firsts[CELL_FEEDING], firsts),
                           .untold = share_make(sums->firsts[CELL_UNTOLD], firsts),
                           .insertions = cell_trials(sums->insertions)};
}

static bool optional_number_add(cJSON *object, const char *key, bool known, double value)
{
    return known ? json_number_add(object, key, value) : json_null_add(object, key);
}

bool share_add(cJSON *object, const char *key, const struct share *share)
{
    cJSON *item = json_object_add(object, key);
    return json_integer_add(item, "count", (int64_t)share->count) && json_integer_add(item, "of", (int64_t)share->of) &&
           optional_number_add(item, "rate", share->known, share->rate) &&
           optional_number_add(item, "lower", share->known, share->lower) &&
           optional_number_add(item, "upper", share->known, share->upper) &&
           json_flag_add(item, "too_few", share->of < TOO_FEW_BELOW);
}

/* ---- Names ---- */

const char *note_shown(const struct cell_note *note, char text[NOTE_SHOWN_SIZE])
{
    struct money money = {.minor = note->value_minor};
    char amount[AMOUNT_SIZE];
    memcpy(money.currency, note->currency, sizeof money.currency);
    if (note->currency[0] == '\0')
        text_copy(text, NOTE_SHOWN_SIZE, "value not known");
    else if (note->series[0] == '\0')
        text_copy(text, NOTE_SHOWN_SIZE, amount_shown(&money, amount));
    else
        (void)snprintf(text, NOTE_SHOWN_SIZE, "%s series %s", amount_shown(&money, amount), note->series);
    return text;
}

static const char *moment_text(int32_t hour, size_t length, char text[MOMENT_SIZE])
{
    char whole[TEXT_TIME_SIZE];
    text_time(hour * CELL_HOUR_MS, whole);
    whole[10] = whole[0] == '\0' ? '\0' : ' ';
    (void)snprintf(text, MOMENT_SIZE, "%.*s", (int)length, whole);
    return text;
}

const char *day_text(int32_t hour, char text[MOMENT_SIZE])
{
    return moment_text(hour, 10, text);
}

const char *hour_text(int32_t hour, char text[MOMENT_SIZE])
{
    return moment_text(hour, 16, text);
}

/* ---- Signals ---- */

static const char *lane_shown(const struct report *report, const struct signal *signal)
{
    const char *name = signal->lane < report->cells.lane_count ? report->cells.lanes[signal->lane].name : "";
    return name_shown(name, "(no lane named)");
}

void signal_title(const struct report *report, const struct signal *signal, char text[SENTENCE_SIZE])
{
    char note[NOTE_SHOWN_SIZE];
    char channel[WORD_SIZE];
    word_shown(name_channel(signal->channel == CELL_ALL ? CFOIL_CHANNEL_UNKNOWN : signal->channel), channel);
    bool named = signal->channel != CELL_ALL && signal->channel != CFOIL_CHANNEL_UNKNOWN;
    note_shown(&signal->named, note);
    if (signal->kind == SIGNAL_FEEDING)
        (void)snprintf(text, SENTENCE_SIZE, "Lane %s, feeding", lane_shown(report, signal));
    else if (signal->kind == SIGNAL_SENSOR)
        (void)snprintf(text, SENTENCE_SIZE, "Lane %s, %s", lane_shown(report, signal),
                       named ? channel : "no sensor named");
    else if (signal->kind == SIGNAL_MACHINE_NOTE)
        (void)snprintf(text, SENTENCE_SIZE, "Lane %s, %s, %s", lane_shown(report, signal), note,
                       named ? channel : "no sensor named");
    else
        (void)snprintf(text, SENTENCE_SIZE, "%s, %" PRIu32 " %s", note, signal->lanes,
                       signal->lanes == 1 ? "lane" : "lanes");
}

static void period_text(const struct signal *signal, char text[SENTENCE_SIZE])
{
    char first[MOMENT_SIZE];
    char last[MOMENT_SIZE];
    if (signal->kind == SIGNAL_RUN)
        (void)snprintf(text, SENTENCE_SIZE, "Within two hours from %s UTC", hour_text(signal->first_hour, first));
    else if (signal->going_on)
        (void)snprintf(text, SENTENCE_SIZE, "Since %s, and going on", day_text(signal->first_hour, first));
    else
        (void)snprintf(text, SENTENCE_SIZE, "From %s to %s", day_text(signal->first_hour, first),
                       day_text(signal->after_hour - 1, last));
}

void signal_evidence(const struct signal *signal, char text[SENTENCE_SIZE])
{
    char period[SENTENCE_SIZE];
    char inside[SHARE_SIZE];
    char outside[SHARE_SIZE];
    char seen[MOMENT_SIZE] = "";
    period_text(signal, period);
    double in = (double)signal->inside.events / fmax((double)signal->inside.trials, 1);
    double out = (double)signal->outside.events / fmax((double)signal->outside.trials, 1);
    int length = snprintf(text, SENTENCE_SIZE,
                          "%.80s: %" PRIu64 " of %" PRIu64 " notes (%s), otherwise %" PRIu64 " of %" PRIu64 " (%s).",
                          period, signal->inside.events, signal->inside.trials, share_shown(in, inside),
                          signal->outside.events, signal->outside.trials, share_shown(out, outside));
    if (signal->seen && length > 0 && length < SENTENCE_SIZE)
        (void)snprintf(text + length, SENTENCE_SIZE - (size_t)length, " The chart first showed it on %s.",
                       day_text(signal->seen_day * 24, seen));
}

/* ---- Verdict ---- */

static struct cell_sums sums_of(const struct cells *cells)
{
    struct cell_sums sums = {{0}, {0}, {0}};
    for (uint32_t i = 0; i < cells->count; i++)
        cell_sums_add(&sums, &cells->cells[i]);
    return sums;
}

void verdict_text(const struct report *report, char text[SENTENCE_SIZE])
{
    struct cell_sums sums = sums_of(&report->cells);
    struct shares shares = shares_of(&sums);
    char share[SHARE_SIZE];
    const struct signals *signals = &report->signals;
    if (shares.first_pass.of == 0)
        text_copy(text, SENTENCE_SIZE, "No notes were put in.");
    else if (shares.first_pass.of < TOO_FEW_BELOW)
        text_copy(text, SENTENCE_SIZE, "Too few notes to judge by.");
    else if (signals->count > 0)
        (void)snprintf(text, SENTENCE_SIZE,
                       "%" PRIu32 " %s out, and should be looked into. %s of the notes were accepted at the first try.",
                       signals->count, signals->count == 1 ? "thing stands" : "things stand",
                       share_shown(shares.first_pass.rate, share));
    else if (signals->tests == 0)
        (void)snprintf(
            text, SENTENCE_SIZE,
            "%s of the notes were accepted at the first try. Too few days or refusals to tell machine from notes.",
            share_shown(shares.first_pass.rate, share));
    else
        (void)snprintf(text, SENTENCE_SIZE, "Nothing stands out. %s of the notes were accepted at the first try.",
                       share_shown(shares.first_pass.rate, share));
}

/* ---- What a refusal means ---- */

bool prediction_make(const struct report *report, const char *currency, struct prediction *prediction)
{
    struct cell_sums sums = sums_of(&report->cells);
    struct share refused = shares_of(&sums).refused;
    prediction->base = base_rate_find(currency);
    if (prediction->base == NULL || refused.of < TOO_FEW_BELOW || refused.count == 0 || refused.upper >= 1)
        return false;
    double yearly = prediction->base->per_million * 1e-6;
    prediction->refused = refused.rate;
    prediction->low = predictive_log_odds(BASE_LOW * yearly, CATCH_ASSUMED, refused.upper);
    prediction->centre = predictive_log_odds(BASE_CENTRE * yearly, CATCH_ASSUMED, refused.rate);
    prediction->high = predictive_log_odds(BASE_HIGH * yearly, CATCH_ASSUMED, refused.lower);
    return true;
}

void prediction_text(const struct prediction *prediction, char text[SENTENCE_SIZE])
{
    char low[ONE_IN_SIZE];
    char centre[ONE_IN_SIZE];
    char high[ONE_IN_SIZE];
    char share[SHARE_SIZE];
    int tenths = (int)(prediction->base->per_million * 10 + 0.5);
    one_in_text(prediction->low, low);
    one_in_text(prediction->centre, centre);
    one_in_text(prediction->high, high);
    (void)snprintf(
        text, SENTENCE_SIZE,
        "%s: of the notes that the machines refused here, about %s may be a counterfeit, and it may be anything from "
        "%s to "
        "%s. Worked out from %d.%d found per million in circulation (%s), %s of all notes refused, and the assumption "
        "that a machine refuses 99 %% of counterfeits.",
        prediction->base->currency, centre, low, high, tenths / 10, tenths % 10, prediction->base->year,
        share_shown(prediction->refused, share));
}
