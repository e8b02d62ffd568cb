/*
 * The table of counts. See cells.h.
 */
#include "statistics/cells.h"

#include "model/text.h"

#include <stdlib.h>
#include <string.h>

#define HOURS_OF_DAY 24
#define DAYS_OF_WEEK 7
#define MONDAY       4 /* 1970-01-01 was a Thursday: day 4 the first Monday */
#define REASON_ALL   255
#define PLACES_MOST  (CELL_ALL - 1u)

const char *const cell_outcome_names[CELL_OUTCOMES] = {"accepted", "refused", "untold", "feeding", "no_trial"};

void cells_free(struct cells *cells)
{
    memory_release(cells->memory, cells->cells);
    memory_release(cells->memory, cells->index);
    memory_release(cells->memory, cells->lanes);
    memory_release(cells->memory, cells->notes);
    *cells = (struct cells){.memory = cells->memory};
}

/* Room for one more of `size` bytes each; what is there is kept. */
static bool room_make(const struct memory *memory, void **items, size_t size, uint32_t count, uint32_t *capacity)
{
    if (count < *capacity)
        return true;
    uint32_t wanted = *capacity == 0 ? 16 : 2 * *capacity;
    void *grown = memory_allocate(memory, wanted * size);
    if (grown == NULL)
        return false;
    if (count > 0)
        memcpy(grown, *items, count * size);
    memory_release(memory, *items);
    *items = grown;
    *capacity = wanted;
    return true;
}

/* ---- Names ---- */

bool cells_lane(struct cells *cells, const char *wanted, uint16_t *lane)
{
    char name[CELL_LANE_SIZE]; /* cut as it will be kept */
    text_copy(name, sizeof name, wanted);
    for (uint32_t i = 0; i < cells->lane_count; i++) {
        if (strcmp(cells->lanes[i].name, name) == 0) {
            *lane = (uint16_t)i;
            return true;
        }
    }
    void *items = cells->lanes;
    if (cells->lane_count >= PLACES_MOST ||
        !room_make(cells->memory, &items, sizeof *cells->lanes, cells->lane_count, &cells->lane_capacity))
        return false;
    cells->lanes = items;
    memset(&cells->lanes[cells->lane_count], 0, sizeof *cells->lanes);
    text_copy(cells->lanes[cells->lane_count].name, CELL_LANE_SIZE, name);
    *lane = (uint16_t)cells->lane_count++;
    return true;
}

static bool note_add(struct cells *cells, const struct cell_note *note, uint16_t *place)
{
    for (uint32_t i = 0; i < cells->note_count; i++) {
        const struct cell_note *known = &cells->notes[i];
        if (known->value_minor == note->value_minor && strcmp(known->currency, note->currency) == 0 &&
            strcmp(known->series, note->series) == 0) {
            *place = (uint16_t)i;
            return true;
        }
    }
    void *items = cells->notes;
    if (cells->note_count >= PLACES_MOST ||
        !room_make(cells->memory, &items, sizeof *cells->notes, cells->note_count, &cells->note_capacity))
        return false;
    cells->notes = items;
    cells->notes[cells->note_count] = *note;
    *place = (uint16_t)cells->note_count++;
    return true;
}

bool cells_note(struct cells *cells, const char *currency, int64_t value_minor, const char *series, uint16_t *note)
{
    static const struct cell_note unknown = {.currency = ""};
    struct cell_note wanted = {.value_minor = currency[0] == '\0' ? 0 : value_minor};
    text_copy(wanted.currency, sizeof wanted.currency, currency);
    text_copy(wanted.series, sizeof wanted.series, currency[0] == '\0' ? "" : series);
    return note_add(cells, &unknown, note) && note_add(cells, &wanted, note);
}

/* ---- Cells ---- */

static bool keys_equal(const struct cell_key *one, const struct cell_key *other)
{
    return one->hour == other->hour && one->lane == other->lane && one->note == other->note &&
           one->channel == other->channel && one->outcome == other->outcome && one->reason == other->reason;
}

/* The mixing of SplitMix64 (constants from memory); any good one would do. */
static uint32_t key_hash(const struct cell_key *key)
{
    uint64_t high = (uint64_t)(uint32_t)key->hour << 32 | (uint32_t)key->lane << 16 | key->note;
    uint64_t z = high ^
                 ((uint64_t)key->channel << 16 | (uint32_t)key->outcome << 8 | key->reason) * 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (uint32_t)(z ^ (z >> 31));
}

/* The place in the index where the key is, or where it would be. */
static uint32_t index_look(const struct cells *cells, const struct cell_key *key)
{
    uint32_t at = key_hash(key) & (cells->index_size - 1);
    while (cells->index[at] != 0 && !keys_equal(&cells->cells[cells->index[at] - 1].key, key))
        at = (at + 1) & (cells->index_size - 1);
    return at;
}

static bool index_grow(struct cells *cells)
{
    if (2 * cells->count + 2 <= cells->index_size)
        return true;
    uint32_t size = cells->index_size == 0 ? 64 : 2 * cells->index_size;
    uint32_t *grown = memory_allocate(cells->memory, size * sizeof *grown);
    if (grown == NULL)
        return false;
    memory_release(cells->memory, cells->index);
    cells->index = grown;
    cells->index_size = size;
    for (uint32_t i = 0; i < cells->count; i++)
        cells->index[index_look(cells, &cells->cells[i].key)] = i + 1;
    return true;
}

struct cell *cells_at(struct cells *cells, const struct cell_key *key)
{
    if (!index_grow(cells))
        return NULL;
    uint32_t at = index_look(cells, key);
    if (cells->index[at] != 0)
        return &cells->cells[cells->index[at] - 1];
    void *items = cells->cells;
    if (!room_make(cells->memory, &items, sizeof *cells->cells, cells->count, &cells->capacity))
        return NULL;
    cells->cells = items;
    cells->cells[cells->count] = (struct cell){.key = *key};
    cells->index[at] = ++cells->count;
    return &cells->cells[cells->count - 1];
}

const struct cell *cells_find(const struct cells *cells, const struct cell_key *key)
{
    if (cells->index_size == 0)
        return NULL;
    uint32_t place = cells->index[index_look(cells, key)];
    return place == 0 ? NULL : &cells->cells[place - 1];
}

/* ---- Sums ---- */

/* Whole division that rounds down, for hours before 1970 too. */
static int32_t floor_divide(int32_t value, int32_t by)
{
    return value / by - (value % by < 0);
}

static int32_t span_of(enum cell_span span, int32_t hour)
{
    int32_t day = floor_divide(hour, HOURS_OF_DAY);
    switch (span) {
    case CELL_SPAN_HOUR:
        return hour;
    case CELL_SPAN_DAY:
        return day;
    case CELL_SPAN_WEEK:
        return MONDAY + DAYS_OF_WEEK * floor_divide(day - MONDAY, DAYS_OF_WEEK);
    case CELL_SPAN_HOUR_OF_DAY:
        return hour - HOURS_OF_DAY * day;
    default:
        return 0;
    }
}

static bool key_seen(const struct cell_key *key, const struct cell_view *view, struct cells *to, struct cell_key *seen)
{
    *seen = (struct cell_key){.hour = span_of(view->span, key->hour),
                              .lane = view->lane ? key->lane : CELL_ALL,
                              .note = view->note ? key->note : CELL_ALL,
                              .channel = view->channel ? key->channel : CELL_ALL,
                              .outcome = view->outcome ? key->outcome : CELL_OUTCOMES,
                              .reason = view->reason ? key->reason : REASON_ALL};
    if (!view->note || view->series || to->notes[key->note].series[0] == '\0')
        return true;
    struct cell_note plain = to->notes[key->note];
    memset(plain.series, 0, sizeof plain.series);
    return note_add(to, &plain, &seen->note);
}

static int keys_compare(const void *left, const void *right)
{
    const struct cell_key *one = &((const struct cell *)left)->key;
    const struct cell_key *other = &((const struct cell *)right)->key;
    int64_t off[] = {(int64_t)one->hour - other->hour, one->lane - other->lane,     one->note - other->note,
                     one->outcome - other->outcome,    one->reason - other->reason, one->channel - other->channel};
    for (size_t i = 0; i < sizeof off / sizeof off[0]; i++) {
        if (off[i] != 0)
            return off[i] < 0 ? -1 : 1;
    }
    return 0;
}

static void index_fill(struct cells *cells)
{
    memset(cells->index, 0, cells->index_size * sizeof *cells->index);
    for (uint32_t i = 0; i < cells->count; i++)
        cells->index[index_look(cells, &cells->cells[i].key)] = i + 1;
}

bool cells_sum(const struct cells *from, const struct cell_view *view, struct cells *to)
{
    uint16_t place;
    for (uint32_t i = 0; i < from->lane_count; i++) {
        if (!cells_lane(to, from->lanes[i].name, &place))
            return false;
    }
    for (uint32_t i = 0; i < from->note_count; i++) {
        if (!note_add(to, &from->notes[i], &place))
            return false;
    }
    for (uint32_t i = 0; i < from->count; i++) {
        struct cell_key key;
        struct cell *sum = key_seen(&from->cells[i].key, view, to, &key) ? cells_at(to, &key) : NULL;
        if (sum == NULL)
            return false;
        sum->counts.insertions += from->cells[i].counts.insertions;
        sum->counts.firsts += from->cells[i].counts.firsts;
        sum->counts.lasts += from->cells[i].counts.lasts;
    }
    if (to->count > 0) {
        qsort(to->cells, to->count, sizeof *to->cells, keys_compare);
        index_fill(to);
    }
    return true;
}

void cell_sums_add(struct cell_sums *sums, const struct cell *cell)
{
    uint8_t outcome = cell->key.outcome;
    if (outcome >= CELL_OUTCOMES)
        return;
    sums->insertions[outcome] += cell->counts.insertions;
    sums->firsts[outcome] += cell->counts.firsts;
    sums->lasts[outcome] += cell->counts.lasts;
}

uint64_t cell_trials(const uint64_t counts[CELL_OUTCOMES])
{
    return counts[CELL_ACCEPTED] + counts[CELL_REFUSED] + counts[CELL_UNTOLD] + counts[CELL_FEEDING];
}
