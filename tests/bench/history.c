/*
 * An invented history. See history.h. All rates are assumptions, chosen near what the trade says of worn notes (2 to 5 % refused); none
 * was measured.
 */
#include "history.h"

#include <counterfoil/counterfoil.h>
#include <math.h>
#include <stddef.h>
#include <stdlib.h>

#define OPEN_HOUR   8
#define OPEN_HOURS  12
#define FED_AGAIN   0.5  /* of the refused notes */
#define TAKEN_AGAIN 0.6  /* of those, the next time */
#define LOOKED_AT   0.8  /* of what stays refused: a case by hand */
#define NEVER_TAKEN 0.95 /* of doubtful notes and of notes that the data set does not know */
#define HOUR_MS     3600000.0
#define AGAIN_MS    9000

const struct history_plan history_demo = {.seed = 1,
                                          .days = 112,
                                          .lanes = 4,
                                          .notes_per_day = 60,
                                          .day_spread = 0.1,
                                          .drift_day = 56,
                                          .drift_length = 14,
                                          .clean_day = 91,
                                          .drift_lane = 1,
                                          .drift_rise = 10,
                                          .run_day = 80,
                                          .run_hour = 17,
                                          .run_notes = 7,
                                          .run_value = 5000,
                                          .series_day = 63,
                                          .series_length = 21,
                                          .update_day = 105,
                                          .series_value = 1000,
                                          .series_share = 0.25};

const struct history_plan history_quiet = {.seed = 1,
                                           .days = 112,
                                           .lanes = 4,
                                           .notes_per_day = 60,
                                           .day_spread = 0.1,
                                           .drift_day = -1,
                                           .run_day = -1,
                                           .series_day = -1};

static const struct {
    int32_t reason, channel;
    double rate;
} causes[] = {
    {CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_INFRARED, 0.004},
    {CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_ULTRAVIOLET, 0.003},
    {CFOIL_REASON_AUTHENTICITY, CFOIL_CHANNEL_MAGNETIC, 0.002},
    {CFOIL_REASON_NOT_RECOGNISED, CFOIL_CHANNEL_IMAGE, 0.006},
    {CFOIL_REASON_HANDLING, CFOIL_CHANNEL_TRANSPORT, 0.015},
};
#define CAUSES        (sizeof causes / sizeof causes[0])
#define DRIFT_CAUSE   0 /* infrared */
#define UNKNOWN_CAUSE 3

static const struct {
    int64_t value_minor;
    double share;
} values[] = {{500, 0.15}, {1000, 0.30}, {2000, 0.35}, {5000, 0.20}};

struct teller {
    const struct history_plan *plan;
    struct chance chance;
    uint64_t sequence[HISTORY_LANES_MAX];
    history_visit visit;
    void *user;
};

static bool happens(struct teller *teller, double probability)
{
    return chance_uniform(&teller->chance) < probability;
}

/* From 0 to 1 over `length` days from `day` on. */
static double grown(int32_t today, int32_t day, int32_t length)
{
    if (day < 0 || today < day)
        return 0;
    return length <= 0 ? 1 : fmin((today - day + 1.0) / length, 1);
}

static double cause_rate(const struct history_plan *plan, size_t cause, uint32_t lane, int32_t day)
{
    bool drifts = cause == DRIFT_CAUSE && lane == plan->drift_lane && plan->drift_day >= 0 && day < plan->clean_day;
    double rise = drifts ? (plan->drift_rise - 1) * grown(day, plan->drift_day, plan->drift_length) : 0;
    return causes[cause].rate * (1 + rise);
}

static void note_draw(struct teller *teller, int32_t day, struct history_event *event)
{
    double share = chance_uniform(&teller->chance);
    size_t at = 0;
    while (at + 1 < sizeof values / sizeof values[0] && share >= values[at].share)
        share -= values[at++].share;
    event->value_minor = values[at].value_minor;
    event->series = "A";
    const struct history_plan *plan = teller->plan;
    if (event->value_minor == plan->series_value &&
        happens(teller, plan->series_share * grown(day, plan->series_day, plan->series_length)))
        event->series = "B";
}

static bool never_taken(const struct teller *teller, const struct history_event *event, int32_t day)
{
    bool unknown = event->series[0] == 'B' && day < teller->plan->update_day;
    return unknown || event->doubtful;
}

static void cause_draw(struct teller *teller, int32_t day, double weather, struct history_event *event)
{
    event->reason = CFOIL_REASON_NONE;
    event->channel = CFOIL_CHANNEL_UNKNOWN;
    if (never_taken(teller, event, day)) {
        size_t cause = event->doubtful ? DRIFT_CAUSE : UNKNOWN_CAUSE;
        if (happens(teller, NEVER_TAKEN)) {
            event->reason = causes[cause].reason;
            event->channel = causes[cause].channel;
        }
        return;
    }
    for (size_t i = 0; i < CAUSES && event->reason == CFOIL_REASON_NONE; i++) {
        if (happens(teller, fmin(weather * cause_rate(teller->plan, i, event->lane, day), 0.5))) {
            event->reason = causes[i].reason;
            event->channel = causes[i].channel;
        }
    }
}

static bool tell(struct teller *teller, struct history_event *event)
{
    event->sequence = ++teller->sequence[event->lane];
    return teller->visit(teller->user, event);
}

/* A note comes in, perhaps twice, and is perhaps looked at by hand. */
static bool note_tell(struct teller *teller, int32_t day, double weather, struct history_event event)
{
    cause_draw(teller, day, weather, &event);
    event.disposition = CFOIL_DISPOSITION_NONE;
    bool again = event.reason != CFOIL_REASON_NONE && happens(teller, FED_AGAIN);
    bool taken = again && !never_taken(teller, &event, day) && happens(teller, TAKEN_AGAIN);
    bool stays = event.reason != CFOIL_REASON_NONE && !taken;
    bool looked_at = stays && event.reason != CFOIL_REASON_HANDLING && happens(teller, LOOKED_AT);
    int32_t ending = event.doubtful || happens(teller, 0.05) ? CFOIL_DISPOSITION_NOT_TAKEN : CFOIL_DISPOSITION_TAKEN;
    if (event.doubtful && happens(teller, 0.5))
        ending = CFOIL_DISPOSITION_SET_ASIDE;
    event.disposition = looked_at ? ending : CFOIL_DISPOSITION_NONE;
    if (again && looked_at)
        event.disposition = CFOIL_DISPOSITION_NONE; /* the case comes after the second time */
    if (!tell(teller, &event))
        return false;
    if (!again)
        return true;
    event.time_utc_ms += AGAIN_MS;
    event.sequence_before = event.sequence;
    event.disposition = looked_at ? ending : CFOIL_DISPOSITION_NONE;
    if (taken)
        event.reason = CFOIL_REASON_NONE;
    return tell(teller, &event);
}

/* ---- Days ---- */

static int times_compare(const void *left, const void *right)
{
    double one = *(const double *)left;
    double other = *(const double *)right;
    return (one > other) - (one < other);
}

/* Saturdays are full and Sundays closed; the year has a wave. */
static double day_notes(const struct history_plan *plan, int32_t day)
{
    int32_t weekday = day % 7; /* 0 = Monday */
    double factor = weekday == 6 ? 0 : weekday == 5 ? 1.5 : 0.9;
    return plan->notes_per_day * factor * (1 + 0.15 * sin(2 * 3.141592653589793 * day / 365));
}

static bool day_tell(struct teller *teller, int32_t day)
{
    enum { MOST = 4000 };
    const struct history_plan *plan = teller->plan;
    static const struct history_event none = {.series = "A"};
    double weather = exp(plan->day_spread * chance_normal(&teller->chance));
    double mean = day_notes(plan, day) * plan->lanes;
    double wanted = mean > 0 ? fmax(mean + sqrt(mean) * chance_normal(&teller->chance), 0) : 0;
    uint32_t count = wanted < MOST ? (uint32_t)wanted : MOST;
    double *times = malloc((count + 1) * sizeof *times);
    if (times == NULL)
        return false;
    for (uint32_t i = 0; i < count; i++)
        times[i] = (OPEN_HOUR + OPEN_HOURS * chance_uniform(&teller->chance)) * HOUR_MS;
    qsort(times, count, sizeof *times, times_compare);
    bool good = true;
    uint32_t run = 0;
    for (uint32_t i = 0; good && i <= count; i++) {
        double now = i < count ? times[i] : 24 * HOUR_MS;
        /* The run: one about every eight minutes, from a quarter past on, at one lane after the other. */
        while (good && day == plan->run_day && run < plan->run_notes) {
            double at = plan->run_hour * HOUR_MS + (15 + 40.0 * run / plan->run_notes) / 60 * HOUR_MS;
            if (at > now)
                break;
            struct history_event event = none;
            event.time_utc_ms = HISTORY_BEGIN_MS + day * HISTORY_DAY_MS + (int64_t)at;
            event.lane = run++ % plan->lanes;
            event.value_minor = plan->run_value;
            event.doubtful = true;
            good = note_tell(teller, day, weather, event);
        }
        if (!good || i == count)
            break;
        struct history_event event = none;
        event.time_utc_ms = HISTORY_BEGIN_MS + day * HISTORY_DAY_MS + (int64_t)now;
        event.lane = (uint32_t)(chance_next(&teller->chance) % plan->lanes);
        note_draw(teller, day, &event);
        good = note_tell(teller, day, weather, event);
    }
    free(times);
    return good;
}

bool history_tell(const struct history_plan *plan, history_visit visit, void *user)
{
    struct chance seeds = {
        .state = plan->seed}; /* mixed: streams of neighbouring states would be one stream, moved by a step */
    uint64_t begin = chance_next(&seeds);
    struct teller teller = {.plan = plan, .chance = {.state = begin}, .visit = visit, .user = user};
    for (uint32_t day = 0; day < plan->days; day++) {
        if (!day_tell(&teller, (int32_t)day))
            return false;
    }
    return true;
}
