/*
 * Does the real adapter, through the public interface, tell what happened, once, and leave the device as it should?
 */
#include "adapter_lane.h"

#include "described/description.h"

#include <stdlib.h>
#include <string.h>

enum { START_MS = 20000, STATE_MS = 6000, OUTCOME_MS = 12000, SETTLE_MS = 700, NOTES_MAX = 24 };

/* ---- Against the wire ---- */

static struct told pair_meaning(const uint8_t pair[2])
{
    struct told told = {.kind = CFOIL_KIND_NONE, .note_type = pair[0]};
    if (pair[0] > 0 && pair[1] <= 1)
        told.kind = pair[1] == 0 ? CFOIL_KIND_STACKED : CFOIL_KIND_HELD;
    else if (pair[0] == 0 && pair[1] == 1)
        told.kind = CFOIL_KIND_RETURNED;
    else if (pair[0] == 0 && pair[1] <= 5)
        told.kind = CFOIL_KIND_REJECTED;
    return told;
}

/* The adapter's note events must be the wire's, in order; the last ones may have come while the lane was closing. */
static void wire_sequence_compare(const struct adapter_lane *lane, const struct snapshot *after)
{
    struct trial *trial = lane->trial;
    unsigned from = lane->before.counter;
    unsigned count = after->counter >= from ? after->counter - from : 255 - from + after->counter;
    if (after->counter == 0 || count > PAIRS) {
        figure(trial, "too many events to compare with the wire");
        return;
    }
    uint32_t next = 0;
    for (unsigned i = count; i > 0; i--) {
        struct told wire = pair_meaning(after->pairs[i - 1]);
        if (wire.kind == CFOIL_KIND_NONE || next == lane->told_count)
            continue;
        const struct told *told = &lane->told[next++];
        bool same = told->kind == wire.kind && (wire.kind == CFOIL_KIND_RETURNED || wire.kind == CFOIL_KIND_REJECTED ||
                                                told->note_type == wire.note_type);
        if (!expect(trial, same, "note event %u: the device says %u,%u, the adapter %s of type %d", next,
                    after->pairs[i - 1][0], after->pairs[i - 1][1], kind_word(told->kind), (int)told->note_type))
            return;
    }
    expect(trial, next == lane->told_count, "the adapter told %u note events, the device made %u of them",
           lane->told_count, next);
    figure(trial, "%u note events as on the wire", next);
}

/* The value, computed anew from the device's own words. */
static void wire_value_compare(struct client *client, const struct told *told)
{
    struct trial *trial = client->trial;
    struct answer answer;
    if (ask_byte(client, BILL_ID, (uint8_t)told->note_type, &answer) != ANSWER_DONE || answer.length != 7)
        return;
    int64_t digits = 0;
    for (int i = 2; i < 6; i++)
        digits = digits * 10 + (answer.data[i] - '0');
    uint8_t country[2] = {answer.data[0], answer.data[1]};
    if (ask(client, COUNTRY_SCALING, country, 2, &answer) != ANSWER_DONE || answer.length != 3)
        return;
    int64_t value = digits * (answer.data[0] + 256 * answer.data[1]);
    expect(trial, value == told->value_minor, "type %d is worth %lld minor units by 157 and 156, the adapter says %lld",
           (int)told->note_type, (long long)value, (long long)told->value_minor);
    figure(trial, "%lld %s", (long long)told->value_minor, told->currency);
}

/* MDB tells no history: the count of the stacker must have risen by the notes that were told. */
static void count_compare(const struct adapter_lane *lane)
{
    unsigned after;
    unsigned stacked = 0;
    if (!lane->counted || lane->trial->result != RESULT_PASSED || !stacker_count(lane->trial, &after))
        return;
    for (uint32_t i = 0; i < lane->told_count; i++)
        stacked += lane->told[i].kind == CFOIL_KIND_STACKED;
    expect(lane->trial, after == lane->count_before + stacked,
           "the adapter told %u stacked notes, the stacker's count went from %u to %u", stacked, lane->count_before,
           after);
    figure(lane->trial, "%u stacked, as the count says", stacked);
}

static void wire_compare(const struct adapter_lane *lane)
{
    struct client client;
    struct snapshot after;
    count_compare(lane);
    if (!lane->wire || lane->trial->result != RESULT_PASSED)
        return;
    if (wire_open(lane->trial, &client) && snapshot_read(&client, &after)) {
        wire_sequence_compare(lane, &after);
        for (uint32_t i = 0; i < lane->told_count; i++) {
            if (lane->told[i].kind == CFOIL_KIND_HELD || lane->told[i].kind == CFOIL_KIND_STACKED) {
                wire_value_compare(&client, &lane->told[i]);
                break;
            }
        }
    }
    wire_close(lane->trial);
}

/* Nothing can be accepted: the master inhibit or every type is off. */
static void wire_inhibited(struct trial *trial)
{
    struct client client;
    struct answer master;
    struct answer types;
    if (!wire_known(trial) || trial->result != RESULT_PASSED)
        return;
    if (wire_open(trial, &client)) {
        ask_plain(&client, MASTER_READ, &master);
        ask_plain(&client, TYPES_READ, &types);
        bool closed = master.kind == ANSWER_DONE && master.length > 0 && (master.data[0] & 1) == 0;
        bool none = types.kind == ANSWER_DONE && types.length >= 2 && types.data[0] == 0 && types.data[1] == 0;
        expect(trial, closed || none, "the lane is closed and the device still takes notes");
    }
    wire_close(trial);
}

/* ---- Cases ---- */

static bool holds(const struct trial *trial)
{
    const struct suite *suite = trial->suite;
    if (suite->loaded != NULL)
        return (suite->loaded->capabilities & CFOIL_ADAPTER_ESCROW) != 0;
    if (suite->description != NULL)
        return suite->description->stack.send.length > 0;
    return strcmp(trial->options->adapter, "pulse") != 0;
}

/* A device without escrow takes notes only when all are wanted. */
static int32_t accept_most(const struct trial *trial)
{
    return holds(trial) ? CFOIL_ACCEPT_HOLD : CFOIL_ACCEPT_ALL;
}

static void becomes_ready(struct trial *trial)
{
    struct adapter_lane lane;
    if (adapter_lane_open(trial, &lane, NULL, CFOIL_ACCEPT_NONE) &&
        adapter_lane_state(&lane, CFOIL_LANE_IDLE, START_MS) && lane.identity[0] != '\0')
        figure(trial, "%s", lane.identity);
    adapter_lane_close(&lane);
}

static void accepts_and_stops(struct trial *trial)
{
    struct adapter_lane lane;
    if (adapter_lane_open(trial, &lane, NULL, CFOIL_ACCEPT_NONE) &&
        adapter_lane_state(&lane, CFOIL_LANE_IDLE, START_MS)) {
        cfoil_lane_accept(lane.lane, accept_most(trial));
        if (adapter_lane_state(&lane, CFOIL_LANE_ACCEPTING, STATE_MS)) {
            cfoil_lane_accept(lane.lane, CFOIL_ACCEPT_NONE);
            adapter_lane_state(&lane, CFOIL_LANE_IDLE, STATE_MS);
        }
    }
    adapter_lane_close(&lane);
    wire_inhibited(trial);
}

static void inhibited_after_close(struct trial *trial)
{
    struct adapter_lane lane;
    if (adapter_lane_open(trial, &lane, NULL, accept_most(trial)))
        adapter_lane_state(&lane, CFOIL_LANE_ACCEPTING, START_MS);
    adapter_lane_close(&lane);
    wire_inhibited(trial);
}

/* Lets the device become quiet and inhibited, so that wire and adapter can be compared. */
static void notes_end(struct adapter_lane *lane)
{
    const struct told *told;
    cfoil_lane_accept(lane->lane, CFOIL_ACCEPT_NONE);
    /* A detector that only talks goes on whatever is wanted. */
    for (int notes = 0; notes < NOTES_MAX && (told = adapter_lane_told(lane, SETTLE_MS)) != NULL; notes++) {
        if (told->kind == CFOIL_KIND_HELD)
            cfoil_note_return(lane->lane, lane->presentation);
    }
    adapter_lane_close(lane);
    wire_compare(lane);
}

/* Waits for a note event of that kind; others are let go by, held notes given back. */
static const struct told *kind_await(struct adapter_lane *lane, int32_t kind, const char *wish)
{
    if (!note_ask(lane->trial, wish))
        return NULL;
    for (int notes = 0; notes < NOTES_MAX; notes++) {
        const struct told *told = adapter_lane_told(lane, 1000 * lane->trial->options->seconds);
        if (told == NULL)
            break;
        if (told->kind == kind)
            return told;
        if (told->kind == CFOIL_KIND_HELD)
            cfoil_note_return(lane->lane, lane->presentation);
    }
    skip(lane->trial, "no such note came in time");
    return NULL;
}

static bool lane_accepting(struct trial *trial, struct adapter_lane *lane, int32_t accept)
{
    return adapter_lane_open(trial, lane, NULL, accept) && adapter_lane_state(lane, CFOIL_LANE_ACCEPTING, START_MS);
}

static void held_decide(struct trial *trial, bool stack)
{
    struct adapter_lane lane;
    if (!holds(trial)) {
        skip(trial, "this device cannot hold a note");
        return;
    }
    if (!lane_accepting(trial, &lane, CFOIL_ACCEPT_HOLD)) {
        adapter_lane_close(&lane);
        return;
    }
    const struct told *held = kind_await(&lane, CFOIL_KIND_HELD, "insert a good note");
    if (held == NULL) {
        notes_end(&lane);
        return;
    }
    int32_t type = held->note_type;
    expect(trial, held->currency[0] != '\0' && held->value_minor > 0, "the held note has no value");
    int32_t result = stack ? cfoil_note_stack(lane.lane, lane.presentation)
                           : cfoil_note_return(lane.lane, lane.presentation);
    expect(trial, result == CFOIL_OK, "the decision was not taken: %s", cfoil_error_text(result));
    const struct told *end = adapter_lane_told(&lane, OUTCOME_MS);
    int32_t kind = stack ? CFOIL_KIND_STACKED : CFOIL_KIND_RETURNED;
    if (expect(trial, end != NULL, "no event told what became of the held note"))
        expect(trial, end->kind == kind && (!stack || end->note_type == type),
               "the held note of type %d should have been %s, told was %s of type %d", (int)type, kind_word(kind),
               kind_word(end->kind), (int)end->note_type);
    notes_end(&lane);
}

static void held_and_stacked(struct trial *trial)
{
    held_decide(trial, true);
}

static void held_and_returned(struct trial *trial)
{
    held_decide(trial, false);
}

static void stacked_at_once(struct trial *trial)
{
    struct adapter_lane lane;
    if (!lane_accepting(trial, &lane, CFOIL_ACCEPT_ALL)) {
        adapter_lane_close(&lane);
        return;
    }
    const struct told *told = kind_await(&lane, CFOIL_KIND_STACKED, "insert a good note; it will be stacked");
    if (told != NULL)
        expect(trial, told->currency[0] != '\0' && told->value_minor > 0, "the stacked note has no value");
    notes_end(&lane);
}

static void rejected(struct trial *trial)
{
    struct adapter_lane lane;
    if (!lane_accepting(trial, &lane, accept_most(trial))) {
        adapter_lane_close(&lane);
        return;
    }
    (void)kind_await(&lane, CFOIL_KIND_REJECTED, "insert a note that will be refused: folded, or plain paper");
    notes_end(&lane);
}

/* A new host without memory must not take what is in the device's buffer for new money. */
static void nothing_twice(struct trial *trial)
{
    struct adapter_lane lane;
    if (adapter_lane_open(trial, &lane, NULL, CFOIL_ACCEPT_NONE) &&
        adapter_lane_state(&lane, CFOIL_LANE_IDLE, START_MS)) {
        const struct told *told;
        for (int notes = 0; notes < NOTES_MAX && (told = adapter_lane_told(&lane, SETTLE_MS)) != NULL; notes++)
            expect(trial, told->kind != CFOIL_KIND_STACKED, "a note of type %d was credited, and none was inserted",
                   (int)told->note_type);
    }
    adapter_lane_close(&lane);
}

static bool told_same(const struct told *left, const struct told *right)
{
    return left->kind == right->kind && left->note_type == right->note_type &&
           left->value_minor == right->value_minor && left->flags == right->flags;
}

/* What a second look at the last recording tells must be what the first told. */
static void replay_agrees(struct trial *trial)
{
    char port[PATH_SIZE + 8];
    struct adapter_lane *lanes;
    if (trial->suite->last_trace[0] == '\0') {
        skip(trial, "no case before has recorded a trace");
        return;
    }
    lanes = calloc(2, sizeof *lanes);
    if (!expect(trial, lanes != NULL, "there is no memory"))
        return;
    snprintf(port, sizeof port, "trace:%s", trial->suite->last_trace);
    for (int i = 0; i < 2 && trial->result == RESULT_PASSED; i++) {
        if (adapter_lane_open(trial, &lanes[i], port, CFOIL_ACCEPT_NONE)) {
            while (adapter_lane_told(&lanes[i], 10000) != NULL)
                ;
            expect(trial, lanes[i].result == CFOIL_E_PORT_ENDED, "the replay ended with: %s",
                   cfoil_error_text(lanes[i].result));
        }
        adapter_lane_close(&lanes[i]);
    }
    bool same = lanes[0].told_count == lanes[1].told_count;
    for (uint32_t i = 0; same && i < lanes[0].told_count; i++)
        same = told_same(&lanes[0].told[i], &lanes[1].told[i]);
    expect(trial, same, "two replays of one trace tell different things");
    figure(trial, "%u note events", lanes[0].told_count);
    free(lanes);
}

static void restart_told(struct trial *trial)
{
    struct adapter_lane lane;
    if (!trial->options->attended) {
        skip(trial, "needs a hand at the power switch: use --attended");
        return;
    }
    if (lane_accepting(trial, &lane, accept_most(trial))) {
        fprintf(stderr, "\a>>> %s: switch the device off for some seconds and on again\n", trial->item->id);
        bool gone = false;
        for (uint32_t i = 0; i < 5 * trial->options->seconds && !(gone && lane.state == CFOIL_LANE_ACCEPTING); i++) {
            (void)adapter_lane_event(&lane, 200);
            gone = gone || lane.state == CFOIL_LANE_LOST || lane.state == CFOIL_LANE_STARTING;
        }
        if (!gone)
            skip(trial, "the device was not switched off in time");
        else
            adapter_lane_state(&lane, CFOIL_LANE_ACCEPTING, 2 * START_MS);
    }
    adapter_lane_close(&lane);
}

#define DUTY "docs/adapters.md, the six duties: "

const struct conformance_case adapter_cases[] = {
    {"adapter/becomes-ready", SIDE_ADAPTER, "docs/adapters.md: STARTING, then IDLE", "ours",
     "the adapter understands this device", NULL, becomes_ready},
    {"adapter/accepts-and-stops", SIDE_ADAPTER, "counterfoil.h, cfoil_lane_accept", "ours",
     "notes are switched on and off, and the device confirms it", NULL, accepts_and_stops},
    {"adapter/inhibited-after-close", SIDE_ADAPTER, "counterfoil.h, cfoil_lane_close: inhibits the device", "ours",
     "a closed till takes no money", NULL, inhibited_after_close},
    {"adapter/held-and-stacked", SIDE_ADAPTER, DUTY "money only on the device's word; exactly once", "ours",
     "one note is one credit, with the value the device named", "insert a good note; it will be stacked",
     held_and_stacked},
    {"adapter/held-and-returned", SIDE_ADAPTER, DUTY "money only on the device's word", "ours",
     "a returned note is no credit", "insert a good note; it will come back", held_and_returned},
    {"adapter/stacked-at-once", SIDE_ADAPTER, DUTY "exactly once", "ours", "notes without escrow are credited once",
     "insert a good note; it will be stacked", stacked_at_once},
    {"adapter/rejected", SIDE_ADAPTER, DUTY "raw code kept", "ours", "a refused note is told",
     "insert a note that will be refused: folded, or plain paper", rejected},
    {"adapter/nothing-twice", SIDE_ADAPTER, DUTY "exactly once", "ours",
     "what the device's buffer still holds is not credited again", NULL, nothing_twice},
    {"adapter/restart-told", SIDE_ADAPTER, "docs/adapters.md: start-up anew after a restart", "ours",
     "a power cut is survived", "switch the device off for some seconds and on again", restart_told},
    {"adapter/replay-agrees", SIDE_ADAPTER, "docs/traces.md: a replay is bit for bit the same", "ours",
     "a fault can be looked into from its trace", NULL, replay_agrees},
    {"adapter/step-time", SIDE_ADAPTER, "adapter.h: every function returns within 1 ms of work", "ours",
     "the adapter never holds up its lane", NULL, adapter_step_time},
    {0}};
