/*
 * Counting the entries of a period. See figures.h.
 */
#include "statistics/figures.h"

#include "ledger/custody.h"
#include "ledger/ledger.h"
#include "model/names.h"
#include "model/text.h"

#include <stdio.h>
#include <string.h>

/* ---- Reading bodies, whatever is missing in them ---- */

static const char *text_in(const cJSON *body, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, key));
    return text != NULL ? text : "";
}

/* A whole number of 0..2^53, the numbers that a double holds exactly. */
static bool whole_in(const cJSON *body, const char *key, uint64_t *value)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(body, key);
    double number = cJSON_IsNumber(item) ? item->valuedouble : -1;
    if (!(number >= 0 && number <= 9007199254740992.0))
        return false;
    *value = (uint64_t)number;
    return (double)*value == number;
}

/* The code of a word; the last place when there is none. */
static int place_of(const char *word, const char *(*name)(int32_t code), int places)
{
    for (int code = 0; code < places - 1; code++) {
        if (strcmp(name(code), word) == 0)
            return code;
    }
    return places - 1;
}

/* ---- Money ---- */

static bool money_add(const struct memory *memory, struct money **list, const char *currency, uint64_t minor)
{
    while (*list != NULL && strcmp((*list)->currency, currency) < 0)
        list = &(*list)->next;
    struct money *money = *list;
    if (money == NULL || strcmp(money->currency, currency) != 0) {
        money = memory_allocate(memory, sizeof *money);
        if (money == NULL)
            return false;
        text_copy(money->currency, sizeof money->currency, currency);
        money->next = *list;
        *list = money;
    }
    money->notes++;
    bool fits = (int64_t)minor <= INT64_MAX - money->minor;
    money->minor = fits ? money->minor + (int64_t)minor : INT64_MAX;
    return true;
}

/* *known = the body names a note of known value, which is in the list now. False when there is no memory. */
static bool note_add(const struct memory *memory, struct money **list, const cJSON *body, bool *known)
{
    const char *currency = text_in(body, "currency");
    uint64_t minor;
    *known = strlen(currency) == 3 && text_acceptable(currency, 3, 3) && whole_in(body, "value_minor", &minor);
    return !*known || money_add(memory, list, currency, minor);
}

static void money_free(const struct memory *memory, struct money *list)
{
    while (list != NULL) {
        struct money *next = list->next;
        memory_release(memory, list);
        list = next;
    }
}

/* ---- Lanes ---- */

static struct lane_figures *lane_find(struct report *report, const char *name)
{
    struct lane_figures **at = &report->lanes;
    while (*at != NULL && strcmp((*at)->name, name) < 0)
        at = &(*at)->next;
    if (*at != NULL && strcmp((*at)->name, name) == 0)
        return *at;
    struct lane_figures *lane = memory_allocate(report->memory, sizeof *lane);
    if (lane == NULL)
        return NULL;
    if (!cells_lane(&report->cells, name, &lane->own.place)) {
        memory_release(report->memory, lane);
        return NULL;
    }
    text_copy(lane->name, sizeof lane->name, name);
    lane->next = *at;
    *at = lane;
    return lane;
}

/* What was imported is another machine's, whatever its lane is called: its store stands before the lane. */
static bool place_find(struct report *report, const struct lane_figures *lane, struct numbering *numbering)
{
    char name[2 * NAME_SIZE + 2];
    (void)snprintf(name, sizeof name, "%s: %s", numbering->store, lane->name);
    return cells_lane(&report->cells, name, &numbering->place);
}

/* NULL = no memory. */
static struct numbering *numbering_find(struct report *report, struct lane_figures *lane, const cJSON *body)
{
    const cJSON *origin = cJSON_GetObjectItemCaseSensitive(body, "origin");
    struct numbering *last = &lane->own;
    if (!cJSON_IsObject(origin))
        return last;
    const char *ledger = text_in(origin, "ledger");
    const char *store = text_in(origin, "store");
    for (; last->next != NULL; last = last->next) {
        if (strcmp(last->next->ledger, ledger) == 0 && strcmp(last->next->store, store) == 0)
            return last->next;
    }
    last->next = memory_allocate(report->memory, sizeof *last);
    if (last->next == NULL)
        return NULL;
    text_copy(last->next->ledger, sizeof last->next->ledger, ledger);
    text_copy(last->next->store, sizeof last->next->store, store);
    return place_find(report, lane, last->next) ? last->next : NULL;
}

/* A lane numbers its events and presentations from 1 each time it is opened: a note that was held before then is
 * not the one that this number means now. */
static void sequence_follow(struct numbering *numbering, const cJSON *body)
{
    uint64_t sequence;
    if (!whole_in(body, "seq", &sequence))
        return;
    if (sequence <= numbering->sequence)
        numbering->held = 0;
    numbering->sequence = sequence;
}

/* ---- Presentations ---- */

/* STACKED or RETURNED: was this note counted as held? Then it is not any more. */
static bool held_end(struct numbering *numbering, uint64_t presentation)
{
    if (presentation == 0 || presentation != numbering->held)
        return false;
    numbering->held = 0;
    return true;
}

static bool stacked_count(struct report *report, struct figures *figures, const cJSON *body)
{
    bool known;
    figures->stacked++;
    if (!note_add(report->memory, &figures->money_stacked, body, &known))
        return false;
    figures->stacked_without_value += !known;
    return true;
}

/* The channel that the refusal names first of those that speak strongest. */
static uint16_t channel_of(const cJSON *body)
{
    const cJSON *finding;
    int32_t best = CFOIL_CHANNEL_UNKNOWN;
    int strongest = 0;
    cJSON_ArrayForEach(finding, cJSON_GetObjectItemCaseSensitive(body, "findings"))
    {
        int32_t channel = name_channel_find(text_in(finding, "channel"));
        int strength = place_of(text_in(finding, "strength"), name_strength, CFOIL_STRENGTH_STRONG + 2);
        if (channel <= CFOIL_CHANNEL_UNKNOWN || strength > CFOIL_STRENGTH_STRONG || strength <= strongest)
            continue;
        strongest = strength;
        best = channel;
    }
    return (uint16_t)best;
}

static uint8_t outcome_of(int reason)
{
    switch (reason) {
    case CFOIL_REASON_AUTHENTICITY:
    case CFOIL_REASON_NOT_RECOGNISED:
        return CELL_REFUSED;
    case CFOIL_REASON_HANDLING:
        return CELL_FEEDING;
    case CFOIL_REASON_NOT_ENABLED:
    case CFOIL_REASON_DEVICE:
    case CFOIL_REASON_TAMPERING:
        return CELL_NO_TRIAL;
    default:
        return CELL_UNTOLD;
    }
}

/* The note that a body names, as far as it does. */
static bool note_place(struct report *report, const cJSON *body, uint16_t *note)
{
    const char *currency = text_in(body, "currency");
    const char *series = text_in(body, "series");
    uint64_t minor = 0;
    bool known = strlen(currency) == 3 && text_acceptable(currency, 3, 3) && whole_in(body, "value_minor", &minor) &&
                 text_acceptable(series, 0, CELL_SERIES_SIZE - 1);
    return cells_note(&report->cells, known ? currency : "", (int64_t)minor, series, note);
}

static bool insertion_add(struct report *report, struct numbering *numbering, const cJSON *body, bool refused,
                          int reason)
{
    struct insertion insertion = {.time_utc_ms = report->last_time_utc_ms, .lane = numbering->place};
    (void)whole_in(body, "seq", &insertion.sequence);
    if (refused) {
        insertion.outcome = outcome_of(reason);
        insertion.reason = (uint8_t)reason;
        insertion.channel = insertion.outcome == CELL_REFUSED ? channel_of(body) : CFOIL_CHANNEL_UNKNOWN;
    }
    return note_place(report, body, &insertion.note) && insertion_count(&report->cells, &numbering->watch, &insertion);
}

static bool presentation_count(struct report *report, struct lane_figures *lane, struct numbering *numbering,
                               const cJSON *body)
{
    uint64_t presentation = 0;
    (void)whole_in(body, "presentation", &presentation);
    int kind = place_of(text_in(body, "kind"), name_kind, CFOIL_KIND_LANE_STATE + 2);
    bool outcome = kind == CFOIL_KIND_STACKED || kind == CFOIL_KIND_RETURNED;
    bool was_held = outcome && held_end(numbering, presentation);
    const char *reason = text_in(body, "reason");
    int place = reason[0] == '\0' ? CFOIL_REASON_NONE : place_of(reason, name_reason, REASON_PLACES);
    struct figures *both[2] = {&report->total, &lane->figures};
    bool good = true;
    for (int i = 0; good && i < 2; i++) {
        both[i]->held_open += kind == CFOIL_KIND_HELD;
        both[i]->held_open -= was_held;
        both[i]->returned += kind == CFOIL_KIND_RETURNED;
        both[i]->rejected[place] += kind == CFOIL_KIND_REJECTED;
        if (kind == CFOIL_KIND_STACKED)
            good = stacked_count(report, both[i], body);
    }
    bool refused = kind == CFOIL_KIND_REJECTED;
    if (good && (refused || kind == CFOIL_KIND_HELD || (outcome && !was_held)))
        good = insertion_add(report, numbering, body, refused, place);
    if (kind == CFOIL_KIND_HELD)
        numbering->held = presentation;
    return good;
}

/* ---- The machine ---- */

static void machine_count(struct figures *figures, const cJSON *body)
{
    const char *condition = text_in(body, "condition");
    const char *kind = text_in(body, "kind");
    if (condition[0] != '\0')
        figures->conditions[place_of(condition, name_condition, CONDITION_PLACES)]++;
    if (strcmp(kind, name_kind(CFOIL_KIND_LOST_EVENTS)) == 0) {
        uint64_t lost = 0;
        figures->losses++;
        figures->losses_uncounted += !whole_in(body, "lost_count", &lost);
        figures->events_lost += lost;
    }
    if (strcmp(kind, name_kind(CFOIL_KIND_LANE_STATE)) == 0 &&
        strcmp(text_in(body, "lane_state"), name_lane_state(CFOIL_LANE_LOST)) == 0)
        figures->connections_lost++;
}

/* ---- Cases ---- */

static bool case_count(struct report *report, struct figures *figures, const cJSON *body)
{
    int disposition = place_of(text_in(body, "disposition"), name_disposition, DISPOSITION_PLACES);
    const char *word = text_in(body, "advice");
    int advice = word[0] == '\0' ? CFOIL_ADVICE_NONE : place_of(word, name_advice, ADVICE_PLACES);
    if (disposition == CFOIL_DISPOSITION_NONE)
        disposition = DISPOSITION_PLACES - 1;
    figures->cases[disposition][advice]++;
    figures->overrides += cJSON_IsObject(cJSON_GetObjectItemCaseSensitive(body, "override")) != 0;
    bool known;
    return disposition != CFOIL_DISPOSITION_SET_ASIDE ||
           note_add(report->memory, &figures->money_set_aside, body, &known);
}

/* A case says which note was refused: its value and series, which the machine did not know. */
static bool case_identify(struct report *report, struct numbering *numbering, const cJSON *body)
{
    const cJSON *event;
    uint16_t note;
    if (!note_place(report, body, &note))
        return false;
    cJSON_ArrayForEach(event, cJSON_GetObjectItemCaseSensitive(body, "presentations"))
    {
        uint64_t sequence = 0;
        if (strcmp(text_in(event, "kind"), name_kind(CFOIL_KIND_REJECTED)) == 0 && whole_in(event, "seq", &sequence) &&
            !insertion_identify(&report->cells, &numbering->watch, sequence, note))
            return false;
    }
    return true;
}

/* ---- Kept notes ---- */

const int custody_age_days[CUSTODY_AGES - 1] = {1, 7, 30};

static void custody_count(struct report *report, const cJSON *body)
{
    _Static_assert((int)CUSTODY_PLACES == (int)CUSTODY_STATE_COUNT, "one place for each state");
    const char *state = text_in(body, "state");
    if (strcmp(state, text_in(body, "from")) != 0)
        report->custody.steps[custody_state_find(state)]++;
}

/* ---- Entries ---- */

static bool body_count(struct report *report, const char *kind, const cJSON *body)
{
    char name[NAME_SIZE];
    text_copy(name, sizeof name, text_in(body, "lane"));
    if (report->options->lane != NULL && strcmp(report->options->lane, name) != 0)
        return true;
    if (strcmp(kind, LEDGER_KIND_CUSTODY) == 0)
        custody_count(report, body);
    bool presentation = strcmp(kind, LEDGER_KIND_PRESENTATION) == 0;
    bool machine = strcmp(kind, LEDGER_KIND_DEVICE) == 0;
    if (!presentation && !machine && strcmp(kind, LEDGER_KIND_CASE) != 0)
        return true;
    struct lane_figures *lane = lane_find(report, name);
    if (lane == NULL)
        return false;
    struct numbering *numbering = numbering_find(report, lane, body);
    if (numbering == NULL)
        return false;
    if (!presentation && !machine)
        return case_count(report, &report->total, body) && case_count(report, &lane->figures, body) &&
               case_identify(report, numbering, body);
    sequence_follow(numbering, body);
    if (presentation)
        return presentation_count(report, lane, numbering, body);
    machine_count(&report->total, body);
    machine_count(&lane->figures, body);
    return true;
}

bool report_entry_count(void *user, int64_t number, const char *kind, int64_t time_utc_ms, const char *body)
{
    struct report *report = user;
    report->cells.memory = report->memory;
    if (report->entries == 0)
        report->first_entry = number;
    report->entries++;
    report->last_entry = number;
    report->last_time_utc_ms = time_utc_ms;
    cJSON *parsed;
    report->memory_failed = ledger_body_parse(body, &parsed) != CFOIL_OK;
    if (report->memory_failed)
        return false;
    report->unreadable += parsed == NULL;
    report->memory_failed = parsed != NULL && !body_count(report, kind, parsed);
    cJSON_Delete(parsed);
    return !report->memory_failed;
}

static void figures_free(const struct memory *memory, struct figures *figures)
{
    money_free(memory, figures->money_stacked);
    money_free(memory, figures->money_set_aside);
}

void report_free(struct report *report)
{
    report->cells.memory = report->signals.memory = report->memory;
    cells_free(&report->cells);
    signals_free(&report->signals);
    figures_free(report->memory, &report->total);
    while (report->lanes != NULL) {
        struct lane_figures *next = report->lanes->next;
        figures_free(report->memory, &report->lanes->figures);
        for (struct numbering *at = report->lanes->own.next, *after; at != NULL; at = after) {
            after = at->next;
            memory_release(report->memory, at);
        }
        memory_release(report->memory, report->lanes);
        report->lanes = next;
    }
}

/* ---- Sums ---- */

uint64_t figures_rejected(const struct figures *figures)
{
    uint64_t sum = 0;
    for (int i = 0; i < REASON_PLACES; i++)
        sum += figures->rejected[i];
    return sum;
}

uint64_t figures_accepted(const struct figures *figures)
{
    return figures->stacked + figures->returned + figures->held_open;
}

/* What the machine was told not to take, could not take for a trouble of its own, or suspected as interference says
 * nothing about notes: such insertions are no trials. */
void figures_rates(const struct figures *figures, struct rate rates[RATES])
{
    uint64_t of = figures_accepted(figures) + figures_rejected(figures) - figures->rejected[CFOIL_REASON_NOT_ENABLED] -
                  figures->rejected[CFOIL_REASON_DEVICE] - figures->rejected[CFOIL_REASON_TAMPERING];
    rates[0] = (struct rate){"accepted", "accepted", figures_accepted(figures), of};
    rates[1] = (struct rate){
        "refused_for_the_note", "refused for the note",
        figures->rejected[CFOIL_REASON_AUTHENTICITY] + figures->rejected[CFOIL_REASON_NOT_RECOGNISED], of};
    rates[2] = (struct rate){"refused_for_feeding", "refused for feeding", figures->rejected[CFOIL_REASON_HANDLING],
                             of};
}

uint64_t cases_ended(const struct figures *figures, int32_t disposition)
{
    uint64_t sum = 0;
    for (int32_t place = 0; place < DISPOSITION_PLACES; place++) {
        for (int advice = 0; advice < ADVICE_PLACES; advice++)
            sum += disposition < 0 || place == disposition ? figures->cases[place][advice] : 0;
    }
    return sum;
}
