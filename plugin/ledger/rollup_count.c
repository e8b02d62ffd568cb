/*
 * Counting entries into cells. See rollup_count.h; docs/statistics.md says what each count means.
 */
#include "ledger/rollup_count.h"

#include "ledger/custody.h"
#include "model/names.h"
#include "model/text.h"

#include <string.h>

struct sum {
    struct rollup_cell cell;
    struct sum *next;  /* in the order of their making */
    struct sum *chain; /* of the same place in the table */
};

struct rollup_sums {
    const struct memory *memory;
    rollup_lane_load load;
    void *user;
    struct sum *first;
    struct sum **last;
    struct sum **places;
    size_t place_count; /* a power of 2 */
    size_t cell_count;
    struct rollup_lane *lanes;
    struct rollup_source *sources;
};

#define PLACES_AT_FIRST 64

/* ---- Reading bodies, whatever is missing in them ---- */

static const char *text_in(const cJSON *body, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(body, key));
    return text != NULL ? text : "";
}

/* A whole number of 0..2^53, the numbers that a double holds exactly. */
static bool whole_in(const cJSON *body, const char *key, int64_t *value)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(body, key);
    double number = cJSON_IsNumber(item) ? item->valuedouble : -1;
    if (!(number >= 0 && number <= 9007199254740992.0))
        return false;
    *value = (int64_t)number;
    return (double)*value == number;
}

/* The code of a word, or the one after the last for a word that is not known. */
static int32_t code_of(const char *word, int32_t (*find)(const char *word), int32_t last)
{
    int32_t code = find(word);
    return code >= 0 ? code : last + 1;
}

/* An entry counts under a note when the body names one of known value. */
static void note_read(const cJSON *body, struct rollup_key *key)
{
    const char *currency = text_in(body, "currency");
    int64_t value;
    if (strlen(currency) != 3 || !text_acceptable(currency, 3, 3) || !whole_in(body, "value_minor", &value))
        return;
    text_copy(key->currency, sizeof key->currency, currency);
    key->value_minor = value;
}

static void channel_add(struct rollup_key *key, const char *word)
{
    int32_t channel = name_channel_find(word);
    if (channel >= 0)
        key->channels |= 1u << channel;
}

/* ---- Cells ---- */

static uint64_t hash_bytes(uint64_t hash, const void *bytes, size_t length)
{
    const unsigned char *at = bytes;
    for (size_t i = 0; i < length; i++)
        hash = (hash ^ at[i]) * UINT64_C(1099511628211);
    return hash;
}

static uint64_t hash_number(uint64_t hash, int64_t number)
{
    return (hash ^ (uint64_t)number) * UINT64_C(1099511628211) ^ (hash >> 29);
}

static size_t key_hash(const struct rollup_key *key)
{
    uint64_t hash = UINT64_C(14695981039346656037);
    hash = hash_number(hash, key->hour);
    hash = hash_number(hash, key->source);
    hash = hash_number(hash, key->value_minor);
    hash = hash_number(hash, key->reason);
    hash = hash_number(hash, key->channels);
    hash = hash_number(hash, key->condition);
    hash = hash_number(hash, key->disposition);
    hash = hash_number(hash, (int64_t)key->advice * 64 + key->move);
    hash = hash_bytes(hash, key->lane, strlen(key->lane));
    hash = hash_bytes(hash, key->currency, strlen(key->currency));
    hash = hash_bytes(hash, key->type, strlen(key->type));
    return (size_t)(hash ^ (hash >> 32));
}

static bool key_same(const struct rollup_key *one, const struct rollup_key *other)
{
    return one->hour == other->hour && one->source == other->source && one->value_minor == other->value_minor &&
           one->reason == other->reason && one->channels == other->channels && one->condition == other->condition &&
           one->disposition == other->disposition && one->advice == other->advice && one->move == other->move &&
           strcmp(one->lane, other->lane) == 0 && strcmp(one->currency, other->currency) == 0 &&
           strcmp(one->type, other->type) == 0;
}

/* Without memory for a larger table the old one stays: slower, not wrong. */
static void places_grow(struct rollup_sums *sums)
{
    size_t count = sums->place_count > 0 ? 4 * sums->place_count : PLACES_AT_FIRST;
    struct sum **places = memory_allocate(sums->memory, count * sizeof(struct sum *));
    if (places == NULL)
        return;
    for (struct sum *sum = sums->first; sum != NULL; sum = sum->next) {
        size_t place = key_hash(&sum->cell.key) & (count - 1);
        sum->chain = places[place];
        places[place] = sum;
    }
    memory_release(sums->memory, sums->places);
    sums->places = places;
    sums->place_count = count;
}

/* NULL = no memory. */
static struct rollup_cell *cell_find(struct rollup_sums *sums, const struct rollup_key *key)
{
    if (sums->cell_count >= sums->place_count)
        places_grow(sums);
    if (sums->place_count == 0)
        return NULL;
    struct sum **place = &sums->places[key_hash(key) & (sums->place_count - 1)];
    for (struct sum *sum = *place; sum != NULL; sum = sum->chain) {
        if (key_same(&sum->cell.key, key))
            return &sum->cell;
    }
    struct sum *sum = memory_allocate(sums->memory, sizeof *sum);
    if (sum == NULL)
        return NULL;
    sum->cell.key = *key;
    sum->chain = *place;
    *place = sum;
    *sums->last = sum;
    sums->last = &sum->next;
    sums->cell_count++;
    return &sum->cell;
}

/* Numbers in bodies may be anything: a sum stops at the top. */
static void number_add(int64_t *count, int64_t number)
{
    *count = number > 0 && *count > INT64_MAX - number ? INT64_MAX : *count + number;
}

bool rollup_sums_cell_add(struct rollup_sums *sums, const struct rollup_cell *cell)
{
    struct rollup_cell *sum = cell_find(sums, &cell->key);
    for (int i = 0; sum != NULL && i < ROLLUP_COUNTS; i++)
        number_add(&sum->counts[i], cell->counts[i]);
    return sum != NULL;
}

static bool count_add(struct rollup_sums *sums, const struct rollup_key *key, enum rollup_count which, int64_t number)
{
    struct rollup_cell *cell = cell_find(sums, key);
    if (cell == NULL)
        return false;
    number_add(&cell->counts[which], number);
    return true;
}

/* ---- Sources ---- */

bool rollup_sums_source_add(struct rollup_sums *sums, int64_t id, const char *ledger, const char *store)
{
    struct rollup_source **at = &sums->sources;
    while (*at != NULL)
        at = &(*at)->next;
    struct rollup_source *source = memory_allocate(sums->memory, sizeof *source);
    if (source == NULL)
        return false;
    source->id = id;
    text_copy(source->ledger, sizeof source->ledger, ledger);
    text_copy(source->store, sizeof source->store, store);
    *at = source;
    return true;
}

/* An imported entry names its origin; 0 = the ledger's own. Negative = no memory. */
static int64_t source_of(struct rollup_sums *sums, const cJSON *body)
{
    const cJSON *origin = cJSON_GetObjectItemCaseSensitive(body, "origin");
    int64_t last = 0;
    if (!cJSON_IsObject(origin))
        return 0;
    for (struct rollup_source *source = sums->sources; source != NULL; source = source->next) {
        if (strcmp(source->ledger, text_in(origin, "ledger")) == 0 &&
            strcmp(source->store, text_in(origin, "store")) == 0)
            return source->id;
        last = source->id;
    }
    if (!rollup_sums_source_add(sums, last + 1, text_in(origin, "ledger"), text_in(origin, "store")))
        return -1;
    struct rollup_source *source = sums->sources;
    while (source->next != NULL)
        source = source->next;
    source->fresh = true;
    return source->id;
}

/* ---- Lanes ---- */

/* NULL = no memory, or what is known of it could not be loaded. */
static struct rollup_lane *lane_find(struct rollup_sums *sums, const struct rollup_key *key)
{
    for (struct rollup_lane *lane = sums->lanes; lane != NULL; lane = lane->next) {
        if (lane->source == key->source && strcmp(lane->name, key->lane) == 0)
            return lane;
    }
    struct rollup_lane *lane = memory_allocate(sums->memory, sizeof *lane);
    if (lane == NULL)
        return NULL;
    lane->source = key->source;
    text_copy(lane->name, sizeof lane->name, key->lane);
    lane->next = sums->lanes;
    sums->lanes = lane;
    return sums->load == NULL || sums->load(sums->user, lane) ? lane : NULL;
}

/* A lane numbers its events and presentations from 1 each time it is opened: a note that was held before then is not the
 * one that this number means now. */
static void sequence_follow(struct rollup_lane *lane, const cJSON *body)
{
    int64_t sequence;
    if (!whole_in(body, "seq", &sequence))
        return;
    if (sequence <= lane->sequence)
        lane->held = 0;
    lane->sequence = sequence;
}

/* ---- Presentations ---- */

/* May this insertion be the note that was refused before? */
static bool retry_is(const struct rollup_lane *lane, const struct rollup_key *key, int64_t time_utc_ms)
{
    const struct rollup_key *refused = &lane->refused_key;
    if (lane->refused_utc_ms == 0 || time_utc_ms < lane->refused_utc_ms ||
        time_utc_ms - lane->refused_utc_ms > ROLLUP_RETRY_MS)
        return false;
    bool both_known = refused->currency[0] != '\0' && key->currency[0] != '\0';
    return !both_known || (strcmp(refused->currency, key->currency) == 0 && refused->value_minor == key->value_minor);
}

static bool acceptance_count(struct rollup_sums *sums, struct rollup_lane *lane, const struct rollup_key *key,
                             int64_t time_utc_ms)
{
    bool retry = retry_is(lane, key, time_utc_ms);
    lane->refused_utc_ms = 0;
    if (!retry)
        return count_add(sums, key, ROLLUP_ACCEPTED_FIRST, 1);
    return count_add(sums, key, ROLLUP_ACCEPTED_RETRY, 1) && count_add(sums, &lane->refused_key, ROLLUP_RECOVERED, 1);
}

/* What the machine was told not to take, could not take for a trouble of its own, or suspected as interference says
 * nothing about notes. */
static bool trial_is(int32_t reason)
{
    return reason != CFOIL_REASON_NOT_ENABLED && reason != CFOIL_REASON_DEVICE && reason != CFOIL_REASON_TAMPERING;
}

static bool refusal_count(struct rollup_sums *sums, struct rollup_lane *lane, const struct rollup_key *key,
                          int64_t time_utc_ms)
{
    if (!count_add(sums, key, ROLLUP_REJECTED, 1))
        return false;
    if (!trial_is(key->reason))
        return true;
    bool retry = retry_is(lane, key, time_utc_ms);
    if (!retry)
        lane->refused_key = *key;
    lane->refused_utc_ms = time_utc_ms;
    return count_add(sums, key, retry ? ROLLUP_REJECTED_RETRY : ROLLUP_REJECTED_FIRST, 1);
}

/* STACKED or RETURNED. A note that was held has been counted as accepted then, and is not held any more. */
static bool outcome_count(struct rollup_sums *sums, struct rollup_lane *lane, const struct rollup_key *key,
                          enum rollup_count which, int64_t presentation, int64_t time_utc_ms)
{
    bool was_held = presentation != 0 && presentation == lane->held;
    if (was_held)
        lane->held = 0;
    bool good = was_held ? count_add(sums, &lane->held_key, ROLLUP_HELD, -1)
                         : acceptance_count(sums, lane, key, time_utc_ms);
    return good && count_add(sums, key, which, 1);
}

static void presentation_read(const cJSON *body, struct rollup_key *key)
{
    const char *reason = text_in(body, "reason");
    const cJSON *finding;
    note_read(body, key);
    text_copy(key->type, sizeof key->type, text_in(body, "note_name"));
    key->reason = reason[0] == '\0' ? CFOIL_REASON_NONE : code_of(reason, name_reason_find, CFOIL_REASON_TAMPERING);
    cJSON_ArrayForEach(finding, cJSON_GetObjectItemCaseSensitive(body, "findings"))
        channel_add(key, text_in(finding, "channel"));
}

static bool presentation_count(struct rollup_sums *sums, struct rollup_lane *lane, struct rollup_key *key,
                               const cJSON *body, int64_t time_utc_ms)
{
    int64_t presentation = 0;
    (void)whole_in(body, "presentation", &presentation);
    presentation_read(body, key);
    switch (name_kind_find(text_in(body, "kind"))) {
    case CFOIL_KIND_HELD:
        lane->held = presentation;
        lane->held_key = *key;
        return acceptance_count(sums, lane, key, time_utc_ms) && count_add(sums, key, ROLLUP_HELD, 1);
    case CFOIL_KIND_STACKED:
        return outcome_count(sums, lane, key, ROLLUP_STACKED, presentation, time_utc_ms);
    case CFOIL_KIND_RETURNED:
        return outcome_count(sums, lane, key, ROLLUP_RETURNED, presentation, time_utc_ms);
    case CFOIL_KIND_REJECTED:
        return refusal_count(sums, lane, key, time_utc_ms);
    default:
        return true;
    }
}

/* ---- The machine, cases, custody ---- */

static bool machine_count(struct rollup_sums *sums, struct rollup_key *key, const cJSON *body)
{
    const char *condition = text_in(body, "condition");
    int32_t kind = name_kind_find(text_in(body, "kind"));
    bool good = true;
    if (condition[0] != '\0') {
        key->condition = code_of(condition, name_condition_find, CFOIL_CONDITION_IDENTIFIED);
        good = count_add(sums, key, ROLLUP_CONDITIONS, 1);
    }
    if (good && kind == CFOIL_KIND_LOST_EVENTS) {
        int64_t lost = 0;
        bool counted = whole_in(body, "lost_count", &lost);
        good = count_add(sums, key, ROLLUP_LOSSES, 1) && count_add(sums, key, ROLLUP_EVENTS_LOST, lost) &&
               count_add(sums, key, ROLLUP_LOSSES_UNCOUNTED, !counted);
    }
    if (good && kind == CFOIL_KIND_LANE_STATE &&
        strcmp(text_in(body, "lane_state"), name_lane_state(CFOIL_LANE_LOST)) == 0)
        good = count_add(sums, key, ROLLUP_CONNECTIONS_LOST, 1);
    return good;
}

static bool case_count(struct rollup_sums *sums, struct rollup_key *key, const cJSON *body)
{
    const cJSON *combined = cJSON_GetObjectItemCaseSensitive(body, "combined");
    const char *advice = text_in(body, "advice");
    const char *reason = text_in(combined, "reason");
    const cJSON *channel;
    note_read(body, key);
    text_copy(key->type, sizeof key->type, text_in(body, "series"));
    key->disposition = code_of(text_in(body, "disposition"), name_disposition_find, CFOIL_DISPOSITION_ABANDONED);
    if (key->disposition == CFOIL_DISPOSITION_NONE)
        key->disposition = CFOIL_DISPOSITION_ABANDONED + 1;
    key->advice = advice[0] == '\0' ? CFOIL_ADVICE_NONE : code_of(advice, name_advice_find, CFOIL_ADVICE_CHECK_MACHINE);
    key->reason = reason[0] == '\0' ? CFOIL_REASON_NONE : code_of(reason, name_reason_find, CFOIL_REASON_TAMPERING);
    cJSON_ArrayForEach(channel, cJSON_GetObjectItemCaseSensitive(combined, "channels"))
        channel_add(key, cJSON_IsString(channel) ? channel->valuestring : "");
    bool override = cJSON_IsObject(cJSON_GetObjectItemCaseSensitive(body, "override")) != 0;
    return count_add(sums, key, ROLLUP_CASES, 1) && count_add(sums, key, ROLLUP_OVERRIDES, override);
}

static bool step_count(struct rollup_sums *sums, struct rollup_key *key, const cJSON *body)
{
    note_read(body, key);
    key->move = custody_move_find(text_in(body, "move"));
    if (key->move == 0)
        key->move = CFOIL_CUSTODY_GIVE_BACK + 1;
    return count_add(sums, key, ROLLUP_STEPS, 1);
}

/* ---- Entries ---- */

/* Rounds down, before 1970 too. */
static int64_t hour_of(int64_t time_utc_ms)
{
    int64_t hour = time_utc_ms / ROLLUP_HOUR_MS;
    return hour - (time_utc_ms % ROLLUP_HOUR_MS < 0);
}

static bool body_count(struct rollup_sums *sums, const char *kind, int64_t time_utc_ms, const cJSON *body)
{
    struct rollup_key key = {.hour = hour_of(time_utc_ms)};
    bool presentation = strcmp(kind, LEDGER_KIND_PRESENTATION) == 0;
    key.source = source_of(sums, body);
    if (key.source < 0)
        return false;
    text_copy(key.lane, sizeof key.lane, text_in(body, "lane"));
    if (strcmp(kind, LEDGER_KIND_CASE) == 0)
        return case_count(sums, &key, body);
    if (strcmp(kind, LEDGER_KIND_CUSTODY) == 0)
        return step_count(sums, &key, body);
    struct rollup_lane *lane = lane_find(sums, &key);
    if (lane == NULL)
        return false;
    sequence_follow(lane, body);
    return presentation ? presentation_count(sums, lane, &key, body, time_utc_ms) : machine_count(sums, &key, body);
}

bool rollup_sums_count(struct rollup_sums *sums, const char *kind, int64_t time_utc_ms, const char *body)
{
    static const char *const counted[] = {LEDGER_KIND_PRESENTATION, LEDGER_KIND_DEVICE, LEDGER_KIND_CASE,
                                          LEDGER_KIND_CUSTODY};
    bool counts = false;
    for (size_t i = 0; i < sizeof counted / sizeof counted[0]; i++)
        counts = counts || strcmp(kind, counted[i]) == 0;
    if (!counts)
        return true;
    cJSON *parsed;
    if (ledger_body_parse(body, &parsed) != CFOIL_OK)
        return false;
    bool good = parsed == NULL || body_count(sums, kind, time_utc_ms, parsed);
    cJSON_Delete(parsed);
    return good;
}

/* ---- The whole ---- */

struct rollup_sums *rollup_sums_create(const struct memory *memory, rollup_lane_load load, void *user)
{
    struct rollup_sums *sums = memory_allocate(memory, sizeof *sums);
    if (sums == NULL)
        return NULL;
    sums->memory = memory;
    sums->load = load;
    sums->user = user;
    sums->last = &sums->first;
    return sums;
}

void rollup_sums_free(struct rollup_sums *sums)
{
    if (sums == NULL)
        return;
    while (sums->first != NULL) {
        struct sum *next = sums->first->next;
        memory_release(sums->memory, sums->first);
        sums->first = next;
    }
    while (sums->lanes != NULL) {
        struct rollup_lane *next = sums->lanes->next;
        memory_release(sums->memory, sums->lanes);
        sums->lanes = next;
    }
    while (sums->sources != NULL) {
        struct rollup_source *next = sums->sources->next;
        memory_release(sums->memory, sums->sources);
        sums->sources = next;
    }
    memory_release(sums->memory, sums->places);
    memory_release(sums->memory, sums);
}

const struct rollup_source *rollup_sums_sources(const struct rollup_sums *sums)
{
    return sums->sources;
}

const struct rollup_lane *rollup_sums_lanes(const struct rollup_sums *sums)
{
    return sums->lanes;
}

bool rollup_sums_visit(const struct rollup_sums *sums, rollup_visit visit, void *user)
{
    for (const struct sum *sum = sums->first; sum != NULL; sum = sum->next) {
        if (!visit(user, &sum->cell))
            return false;
    }
    return true;
}
