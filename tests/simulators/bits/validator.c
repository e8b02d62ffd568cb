/* What does the validator with status bits do with notes? The device is invented; the meaning of its bits is in
 * README.md. */
#include "validator.h"

#include <string.h>

enum {
    BIT_IDLE = 0x01,
    BIT_UNDER_WAY = 0x02,
    BIT_HELD = 0x04,
    BIT_STACKED = 0x08,
    BIT_RETURNED = 0x10,
    BIT_REJECTED = 0x20,
    FAULT_STARTED = 0x01,
    FAULT_JAM = 0x02,
    FAULT_FULL = 0x04,
    FAULT_REMOVED = 0x08,
    FAULT_TAMPERING = 0x10,
    CONTROL_ENABLE = 0x01,
    CONTROL_STACK = 0x02,
    CONTROL_RETURN = 0x04
};

/* The upper half of the third status byte with BIT_REJECTED. */
static const uint8_t way_causes[] = {[WAY_REFUSED] = 0x00,
                                     [WAY_TRANSPORT] = 0x10,
                                     [WAY_MAGNETIC] = 0x20,
                                     [WAY_ULTRAVIOLET] = 0x30,
                                     [WAY_STRANGE] = 0xB0};

static void note_log(const struct validator *validator, const char *word, bool told, int64_t now_ms)
{
    truth_begin(validator->truth, now_ms, word);
    truth_number(validator->truth, "note", validator->number);
    truth_number(validator->truth, "type", validator->type);
    truth_number(validator->truth, "told", told);
    truth_end(validator->truth);
}

static bool happening_put(struct validator *validator, uint8_t bit, uint8_t detail)
{
    if (validator->queued == EVENTS_QUEUED)
        return false;
    validator->queue[validator->queued++] = (struct happening){bit, detail};
    return true;
}

/* bit 0: nothing tells of it. */
static void note_end(struct validator *validator, enum outcome outcome, uint8_t bit, uint8_t detail, int64_t now_ms)
{
    validator->outcome = outcome;
    validator->path = outcome == OUTCOME_JAMMED ? PATH_JAMMED : PATH_EMPTY;
    bool told = bit != 0 && happening_put(validator, bit, detail);
    note_log(validator, outcome_name(outcome), told, now_ms);
}

bool validator_accepting(const struct validator *validator, int64_t now_ms)
{
    return validator->enabled && validator->faults == 0 && now_ms >= validator->off_until_ms;
}

void validator_insert(struct validator *validator, long type, enum way way, int64_t now_ms)
{
    validator->number++;
    validator->type = type;
    validator->way = way;
    validator->outcome = OUTCOME_NONE;
    if (!validator_accepting(validator, now_ms) || validator->path != PATH_EMPTY) {
        validator->outcome = OUTCOME_NOT_TAKEN; /* the motor does not turn */
        note_log(validator, outcome_name(OUTCOME_NOT_TAKEN), false, now_ms);
        return;
    }
    validator->path = PATH_ENTERING;
    validator->path_due_ms = now_ms + validator->settings->move_ms;
}

static void note_validate(struct validator *validator, int64_t now_ms)
{
    if (validator->way == WAY_JAMS) {
        validator->faults |= FAULT_JAM;
        note_end(validator, OUTCOME_JAMMED, 0, 0, now_ms);
    } else if (validator->way != WAY_GENUINE) {
        note_end(validator, OUTCOME_REJECTED, BIT_REJECTED, way_causes[validator->way], now_ms);
    } else {
        validator->path = PATH_HELD;
        validator->path_due_ms = now_ms + validator->settings->escrow_timeout_ms;
        note_log(validator, "held", true, now_ms);
    }
}

static void note_move(struct validator *validator, enum path path, int64_t now_ms)
{
    validator->path = path;
    validator->path_due_ms = now_ms + validator->settings->move_ms;
}

static void path_advance(struct validator *validator, int64_t now_ms)
{
    if (validator->path == PATH_EMPTY || validator->path == PATH_JAMMED || now_ms < validator->path_due_ms)
        return;
    if (validator->path == PATH_ENTERING) {
        note_validate(validator, now_ms);
    } else if (validator->path == PATH_HELD) {
        truth_say(validator->truth, now_ms, "escrow_timeout", "note", validator->number);
        note_move(validator, PATH_RETURNING, now_ms);
    } else if (validator->path == PATH_STACKING) {
        note_end(validator, OUTCOME_STACKED, BIT_STACKED, (uint8_t)validator->type, now_ms);
    } else {
        note_end(validator, OUTCOME_RETURNED, BIT_RETURNED, (uint8_t)validator->type, now_ms);
    }
}

void validator_advance(struct validator *validator, int64_t now_ms)
{
    path_advance(validator, now_ms);
    bool accepting = validator_accepting(validator, now_ms);
    if (accepting != validator->was_accepting)
        truth_say(validator->truth, now_ms, accepting ? "enabled" : "inhibited", NULL, 0);
    validator->was_accepting = accepting;
}

int64_t validator_deadline(const struct validator *validator)
{
    bool moves = validator->path != PATH_EMPTY && validator->path != PATH_JAMMED;
    return moves ? validator->path_due_ms : INT64_MAX;
}

/* ---- What the script does ---- */

void validator_jam(struct validator *validator, int64_t now_ms)
{
    bool note = validator->path != PATH_EMPTY && validator->path != PATH_JAMMED;
    validator->faults |= FAULT_JAM;
    if (note)
        note_end(validator, OUTCOME_JAMMED, 0, 0, now_ms);
    else
        truth_say(validator->truth, now_ms, "jam", NULL, 0);
}

void validator_stacker(struct validator *validator, long stacker, int64_t now_ms)
{
    static const uint8_t bits[] = {0, FAULT_FULL, FAULT_REMOVED};
    validator->faults = (uint8_t)((validator->faults & FAULT_JAM) | bits[stacker]);
    truth_say(validator->truth, now_ms, "stacker", "bits", bits[stacker]);
}

/* Told until somebody has looked. */
void validator_tampering(struct validator *validator, int64_t now_ms)
{
    validator->tampering = FAULT_TAMPERING;
    truth_say(validator->truth, now_ms, "tampering", NULL, 0);
}

void validator_clear(struct validator *validator, int64_t now_ms)
{
    validator->faults = 0;
    validator->tampering = 0;
    memset(validator->extra, 0, sizeof validator->extra);
    if (validator->path == PATH_JAMMED)
        validator->path = PATH_EMPTY;
    truth_say(validator->truth, now_ms, "cleared", NULL, 0);
}

/* A note under way when the power goes comes back, or is stacked if it was on its way there; nothing tells of it. */
void validator_restart(struct validator *validator, long off_ms, int64_t now_ms)
{
    truth_say(validator->truth, now_ms, off_ms > 0 ? "power_off" : "reset", "queued", validator->queued);
    if (validator->path != PATH_EMPTY && validator->path != PATH_JAMMED)
        note_end(validator, validator->path == PATH_STACKING ? OUTCOME_STACKED : OUTCOME_RETURNED, 0, 0, now_ms);
    validator->queued = 0;
    validator->shown = validator->start_shown = false;
    validator->enabled = false;
    validator->started = true;
    validator->off_until_ms = now_ms + off_ms + validator->settings->start_ms;
    if (validator->quiet_until_ms < validator->off_until_ms)
        validator->quiet_until_ms = validator->off_until_ms;
}

void validator_silence(struct validator *validator, long ms, int64_t now_ms)
{
    truth_say(validator->truth, now_ms, "silence", "ms", ms);
    validator->quiet_until_ms = now_ms + ms;
}

void validator_start(struct validator *validator, const struct settings *settings, const struct truth *truth)
{
    memset(validator, 0, sizeof *validator);
    validator->settings = settings;
    validator->truth = truth;
    validator->started = true;
    validator->off_until_ms = validator->quiet_until_ms = settings->start_ms;
    truth_say(truth, 0, "started", NULL, 0);
}

/* ---- What the host does ---- */

void validator_confirm(struct validator *validator)
{
    if (validator->start_shown)
        validator->started = false;
    if (validator->shown)
        memmove(&validator->queue[0], &validator->queue[1], (size_t)--validator->queued * sizeof validator->queue[0]);
    validator->shown = validator->start_shown = false;
}

void validator_forget(struct validator *validator)
{
    if (validator->settings->forgets_unread)
        validator_confirm(validator);
    validator->shown = validator->start_shown = false;
}

void validator_control(struct validator *validator, uint8_t control, int64_t now_ms)
{
    validator->enabled = (control & CONTROL_ENABLE) != 0;
    if (validator->path == PATH_HELD && (control & CONTROL_STACK) != 0)
        note_move(validator, PATH_STACKING, now_ms);
    else if (validator->path == PATH_HELD && (control & CONTROL_RETURN) != 0)
        note_move(validator, PATH_RETURNING, now_ms);
    validator_advance(validator, now_ms);
}

void validator_status(struct validator *validator, uint8_t status[STATUS_BYTES], int64_t now_ms)
{
    bool moves = validator->path != PATH_EMPTY && validator->path != PATH_JAMMED && validator->path != PATH_HELD;
    unsigned states = validator_accepting(validator, now_ms) ? BIT_IDLE : 0U;
    states |= moves ? BIT_UNDER_WAY : 0U;
    states |= validator->path == PATH_HELD ? BIT_HELD : 0U;
    status[2] = (uint8_t)validator->type;
    if (validator->queued > 0) { /* a note event names its own note, so it does not share an answer with a held one */
        states = (states & ~(unsigned)BIT_HELD) | validator->queue[0].bit;
        status[2] = validator->queue[0].detail;
    }
    status[0] = (uint8_t)(states | validator->extra[0]);
    status[1] = (uint8_t)((validator->started ? FAULT_STARTED : 0) | validator->faults | validator->tampering |
                          validator->extra[1]);
    validator->shown = validator->queued > 0;
    validator->start_shown = validator->started;
}
