/*
 * What the forms of the report share: rates of a table of counts, signals in words, what a refusal means.
 */
#ifndef STATISTICS_REPORT_PARTS_H
#define STATISTICS_REPORT_PARTS_H

#include "statistics/predict.h"
#include "statistics/report.h"
#include "statistics/shown.h"
#include "statistics/signals.h"

#include <cjson/cJSON.h>

/* ---- Rates ---- */

/* A count of trials with its interval; `known` is false when there were none. */
struct share {
    uint64_t count, of;
    double rate, lower, upper;
    bool known;
};
struct share share_make(uint64_t count, uint64_t of);

/* Of the notes put in for the first time: accepted at once, accepted in the end, refused for the note, fed badly. */
struct shares {
    struct share first_pass, final, refused, feeding, untold;
    uint64_t insertions;
};
struct shares shares_of(const struct cell_sums *sums);

/* {"count","of","rate","lower","upper","too_few"}; the last four null, but for too_few, without trials. */
bool share_add(cJSON *object, const char *key, const struct share *share);

/* ---- Names ---- */

#define NOTE_SHOWN_SIZE 64
/* "EUR 20.00 ES2", "XTS 1000 minor units", or "value not known". */
const char *note_shown(const struct cell_note *note, char text[NOTE_SHOWN_SIZE]);

#define MOMENT_SIZE 20
/* "2026-03-01", or with the hour "2026-03-01 17:00". */
const char *day_text(int32_t hour, char text[MOMENT_SIZE]);
const char *hour_text(int32_t hour, char text[MOMENT_SIZE]);

/* ---- Sentences ---- */

#define SENTENCE_SIZE 512
void signal_title(const struct report *report, const struct signal *signal, char text[SENTENCE_SIZE]);
void signal_evidence(const struct signal *signal, char text[SENTENCE_SIZE]);

/* One or two sentences: is there anything to do? */
void verdict_text(const struct report *report, char text[SENTENCE_SIZE]);

/* What a refusal of a note of this currency means, by the refusals of this report. False without a published figure or with too
 * few notes. */
struct prediction {
    const struct base_rate *base;
    double refused, low, centre,
        high; /* log odds; `refused` = the share of genuine notes that it was worked out with */
};
bool prediction_make(const struct report *report, const char *currency, struct prediction *prediction);
void prediction_text(const struct prediction *prediction, char text[SENTENCE_SIZE]);

/* ---- Parts of the JSON ---- */

bool report_figures_add(cJSON *object, const struct report *report);
bool report_signals_add(cJSON *object, const struct report *report);

#endif
