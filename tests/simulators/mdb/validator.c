/* What does the simulated bill validator do with notes? Path, escrow, poll queue, masks, stacker count, restart.
 * Poll bytes: MDB/ICP, section 6 (POLL, 33H). What the standard leaves open is a setting. */
#include "validator.h"

#include <string.h>

/* Poll bytes of a bill, 1rrr tttt. */
enum {
    BILL_STACKED = 0x80,
    BILL_HELD = 0x90,
    BILL_RETURNED = 0xA0,
    BILL_TO_RECYCLER = 0xB0,
    BILL_DISABLED = 0xC0,
    BILL_FILLED = 0xD0,
    BILL_DISPENSED = 0xE0,
    BILL_TO_CASH_BOX = 0xF0
};

/* Poll bytes of the validator itself. */
enum {
    POLL_JAMMED = 0x05,
    POLL_WAS_RESET = 0x06,
    POLL_REMOVED_FROM_ESCROW = 0x07,
    POLL_CASH_BOX_OUT = 0x08,
    POLL_REJECTED = 0x0B,
    POLL_ATTEMPTS = 0x40,
    ATTEMPTS_MOST = 0x1F
};

static const uint8_t status_bytes[] = {
    [STATUS_GOOD] = 0x00, [STATUS_MOTOR] = 0x01, [STATUS_SENSOR] = 0x02, [STATUS_BUSY] = 0x03, [STATUS_ROM] = 0x04};

enum { NO_EVENT = -1 };

void validator_queue(struct validator *validator, uint8_t byte)
{
    if (validator->queued < EVENTS_MOST)
        validator->queue[validator->queued++] = byte;
}

void validator_event(struct validator *validator, uint8_t byte, int64_t now_ms)
{
    validator_queue(validator, byte);
    truth_begin(validator->truth, now_ms, "event");
    truth_bytes(validator->truth, "event", &byte, 1);
    truth_end(validator->truth);
}

static void note_log(const struct validator *validator, const char *word, const struct note *note, int byte,
                     int64_t now_ms)
{
    truth_begin(validator->truth, now_ms, word);
    truth_number(validator->truth, "note", note->number);
    truth_number(validator->truth, "type", note->type);
    if (note->type >= 0)
        truth_number(validator->truth, "credit", validator->settings->credit[note->type]);
    if (byte != NO_EVENT)
        truth_bytes(validator->truth, "event", (const uint8_t[]){(uint8_t)byte}, 1);
    truth_number(validator->truth, "count", validator->count);
    truth_end(validator->truth);
}

static void note_say(struct validator *validator, const char *word, int byte, int64_t now_ms)
{
    if (byte != NO_EVENT)
        validator_queue(validator, (uint8_t)byte);
    note_log(validator, word, &validator->note, byte, now_ms);
}

static void note_end(struct validator *validator, enum outcome outcome, int byte, int64_t now_ms)
{
    validator->outcome = outcome;
    if (outcome == OUTCOME_JAMMED)
        validator->stuck = validator->note;
    if (outcome != OUTCOME_NOT_TAKEN) /* such a note never came into the path */
        validator->path = outcome == OUTCOME_JAMMED ? PATH_JAMMED : PATH_EMPTY;
    note_say(validator, outcome_name(outcome), byte, now_ms);
}

/* Level bytes stand in every answer to POLL, or come once, as the device is. */
static void level_begin(struct validator *validator, uint8_t byte)
{
    if (validator->settings->statuses_once)
        validator_queue(validator, byte);
}

size_t validator_levels(const struct validator *validator, uint8_t levels[8])
{
    size_t count = 0;
    if (validator->settings->says_disabled == SAYS_ALWAYS && validator->enabled == 0)
        levels[count++] = DISABLED_POLL_BYTE;
    if (validator->settings->statuses_once)
        return count;
    if (validator->status != STATUS_GOOD)
        levels[count++] = status_bytes[validator->status];
    if (validator->jammed)
        levels[count++] = POLL_JAMMED;
    if (validator->removed)
        levels[count++] = POLL_CASH_BOX_OUT;
    return count;
}

static unsigned known_types(const struct validator *validator)
{
    unsigned mask = 0;
    for (int type = 0; type < TYPES; type++) {
        if (validator->settings->credit[type] >= 0)
            mask |= 1U << type;
    }
    return mask;
}

static bool healthy(const struct validator *validator, int64_t now_ms)
{
    return now_ms >= validator->off_until_ms && validator->status == STATUS_GOOD && !validator->jammed &&
           !validator->removed && !validator->full;
}

bool validator_accepting(const struct validator *validator, int64_t now_ms)
{
    return healthy(validator, now_ms) && (validator->enabled & known_types(validator)) != 0;
}

/* 010n nnnn counts on while nobody has been told of it. */
static void attempt_count(struct validator *validator, int64_t now_ms)
{
    size_t last = validator->queued;
    size_t told = validator->unacknowledged ? validator->last.events : 0;
    bool counting = last > told && (validator->queue[last - 1] & 0xE0) == POLL_ATTEMPTS &&
                    (validator->queue[last - 1] & ATTEMPTS_MOST) < ATTEMPTS_MOST;
    if (!counting) {
        note_end(validator, OUTCOME_REJECTED, POLL_ATTEMPTS + 1, now_ms);
        return;
    }
    uint8_t byte = ++validator->queue[last - 1];
    note_end(validator, OUTCOME_REJECTED, NO_EVENT, now_ms);
    truth_say(validator->truth, now_ms, "attempts", "number", byte & ATTEMPTS_MOST);
}

/* A machine that is off or reports a fault does not turn its motor: the note never goes in. */
void validator_insert(struct validator *validator, long type, enum way way, int64_t now_ms)
{
    validator->note = (struct note){validator->note.number + 1, type};
    validator->way = way;
    validator->outcome = OUTCOME_NONE;
    if (!healthy(validator, now_ms) || validator->path != PATH_EMPTY) {
        note_end(validator, OUTCOME_NOT_TAKEN, NO_EVENT, now_ms);
        return;
    }
    if (validator->enabled == 0) {
        attempt_count(validator, now_ms);
        return;
    }
    validator->path = PATH_ENTERING;
    validator->path_due_ms = now_ms + validator->settings->move_ms;
}

static void note_move(struct validator *validator, enum path path, int64_t now_ms)
{
    validator->path = path;
    validator->path_due_ms = now_ms + validator->settings->move_ms;
}

static void path_jam(struct validator *validator, int byte, int64_t now_ms)
{
    validator->jammed = true;
    level_begin(validator, POLL_JAMMED);
    note_end(validator, OUTCOME_JAMMED, byte, now_ms);
}

/* 07, and a BILL RETURNED follows. */
static void note_pull(struct validator *validator, int64_t now_ms)
{
    validator_queue(validator, POLL_REMOVED_FROM_ESCROW);
    note_end(validator, OUTCOME_PULLED, (int)(BILL_RETURNED | validator->note.type), now_ms);
}

static bool type_enabled(const struct validator *validator)
{
    return (validator->enabled >> validator->note.type & 1U) != 0;
}

static void note_validate(struct validator *validator, int64_t now_ms)
{
    long type = validator->note.type;
    if (validator->way == WAY_JAMS) {
        path_jam(validator, NO_EVENT, now_ms);
    } else if (validator->way == WAY_REFUSED) {
        note_end(validator, OUTCOME_REJECTED, POLL_REJECTED, now_ms);
    } else if (!type_enabled(validator)) {
        note_end(validator, OUTCOME_REJECTED, (int)(BILL_DISABLED | type), now_ms);
    } else if (validator->way == WAY_PULLED) {
        note_pull(validator, now_ms);
    } else if (validator->settings->escrow && (validator->escrowed >> type & 1U) != 0) {
        validator->path = PATH_HELD;
        validator->escrow_due_ms = now_ms + validator->settings->escrow_timeout_ms;
        note_say(validator, "held", (int)(BILL_HELD | type), now_ms);
    } else {
        note_move(validator, PATH_STACKING, now_ms);
    }
}

bool validator_has_recycler(const struct validator *validator)
{
    return validator->settings->recycles != 0;
}

/* By the host's RECYCLER ENABLE, or because somebody has set the machine so. */
static bool recycled(const struct validator *validator, long type)
{
    bool able = (validator->settings->recycles >> type & 1U) != 0 &&
                validator->stored[type] < validator->settings->holds;
    return able && (validator->settings->recycling || validator->routing[type] != 0);
}

static void count_raise(struct validator *validator)
{
    static const long steps[] = {[COUNTING_RIGHT] = 1, [COUNTING_STUCK] = 0, [COUNTING_JUMPS] = 2};
    validator->count += steps[validator->settings->counting];
    if (validator->count >= validator->settings->capacity)
        validator->full = true;
}

static void note_stack(struct validator *validator, bool says, int64_t now_ms)
{
    long type = validator->note.type;
    int byte = (int)(BILL_STACKED | type);
    if (recycled(validator, type)) {
        validator->stored[type]++;
        byte = (int)(BILL_TO_RECYCLER | type);
    } else {
        count_raise(validator);
    }
    note_end(validator, OUTCOME_STACKED, says ? byte : NO_EVENT, now_ms);
}

static void note_arrive(struct validator *validator, int64_t now_ms)
{
    if (validator->way == WAY_JAMS_IN_STACKER)
        path_jam(validator, NO_EVENT, now_ms);
    else if (validator->way == WAY_JAMS_WITHIN_REACH) /* the device reports BILL RETURNED: no credit */
        path_jam(validator, (int)(BILL_RETURNED | validator->note.type), now_ms);
    else
        note_stack(validator, validator->way != WAY_UNSAID, now_ms);
}

void validator_advance(struct validator *validator, int64_t now_ms)
{
    if (validator->path == PATH_ENTERING && now_ms >= validator->path_due_ms)
        note_validate(validator, now_ms);
    if (validator->path == PATH_HELD && now_ms >= validator->escrow_due_ms) {
        truth_say(validator->truth, now_ms, "escrow_timeout", "note", validator->note.number);
        note_move(validator, PATH_RETURNING, now_ms);
    }
    if (validator->path == PATH_STACKING && now_ms >= validator->path_due_ms)
        note_arrive(validator, now_ms);
    if (validator->path == PATH_RETURNING && now_ms >= validator->path_due_ms)
        note_end(validator, OUTCOME_RETURNED, (int)(BILL_RETURNED | validator->note.type), now_ms);
    bool accepting = validator_accepting(validator, now_ms);
    if (accepting != validator->was_accepting)
        truth_say(validator->truth, now_ms, accepting ? "enabled" : "inhibited", NULL, 0);
    validator->was_accepting = accepting;
}

int64_t validator_deadline(const struct validator *validator, int64_t now_ms)
{
    int64_t deadline = now_ms < validator->off_until_ms ? validator->off_until_ms : INT64_MAX;
    int64_t path = INT64_MAX;
    if (validator->path == PATH_HELD)
        path = validator->escrow_due_ms;
    else if (validator->path != PATH_EMPTY && validator->path != PATH_JAMMED)
        path = validator->path_due_ms;
    return path < deadline ? path : deadline;
}

bool validator_decide(struct validator *validator, bool stack, int64_t now_ms)
{
    if (validator->path != PATH_HELD)
        return false;
    note_move(validator, stack ? PATH_STACKING : PATH_RETURNING, now_ms);
    return true;
}

void validator_pull(struct validator *validator, int64_t now_ms)
{
    if (validator->path == PATH_EMPTY || validator->path == PATH_JAMMED || validator->note.type < 0)
        validator_event(validator, POLL_REMOVED_FROM_ESCROW, now_ms);
    else
        note_pull(validator, now_ms);
}

void validator_jam(struct validator *validator, int64_t now_ms)
{
    if (validator->path != PATH_EMPTY && validator->path != PATH_JAMMED) {
        path_jam(validator, NO_EVENT, now_ms);
        return;
    }
    validator->jammed = true;
    level_begin(validator, POLL_JAMMED);
    truth_say(validator->truth, now_ms, "jam", NULL, 0);
}

/* Somebody opens the machine and takes out what is stuck. */
void validator_clear(struct validator *validator, int64_t now_ms)
{
    validator->jammed = false;
    if (validator->path == PATH_JAMMED) {
        validator->path = PATH_EMPTY;
        note_log(validator, "removed", &validator->stuck, NO_EVENT, now_ms);
    }
    truth_say(validator->truth, now_ms, "cleared", NULL, 0);
}

void validator_status(struct validator *validator, enum status status, int64_t now_ms)
{
    validator->status = status;
    if (status != STATUS_GOOD)
        level_begin(validator, status_bytes[status]);
    truth_say(validator->truth, now_ms, "status", "byte", status_bytes[status]);
}

void validator_stacker(struct validator *validator, enum stacker stacker, int64_t now_ms)
{
    static const char *const words[] = {"stacker_ok", "stacker_removed", "stacker_inserted", "stacker_full"};
    validator->removed = stacker == STACKER_REMOVED;
    validator->full = stacker == STACKER_FULL;
    if (stacker == STACKER_REMOVED)
        level_begin(validator, POLL_CASH_BOX_OUT);
    if (stacker == STACKER_REMOVED && validator->settings->count_clears)
        validator->count = 0;
    truth_say(validator->truth, now_ms, words[stacker], "count", validator->count);
}

/* Movements that somebody else than the customer makes: money for nobody. */
void validator_recycler(struct validator *validator, enum transfer transfer, long type, int64_t now_ms)
{
    static const int bytes[] = {BILL_FILLED, BILL_DISPENSED, BILL_TO_CASH_BOX};
    if (transfer == TRANSFER_FILL)
        validator->stored[type]++;
    else if (validator->stored[type] > 0)
        validator->stored[type]--;
    if (transfer == TRANSFER_TO_CASH_BOX)
        count_raise(validator);
    validator_event(validator, (uint8_t)(bytes[transfer] | type), now_ms);
}

/* The standard leaves open what becomes of a note under way; the script chooses. A note already on its way to the
 * stacker is stacked, but nothing will say so. */
static void note_lose(struct validator *validator, int64_t now_ms)
{
    if (validator->path == PATH_EMPTY || validator->path == PATH_JAMMED)
        return;
    bool stacks = validator->path == PATH_STACKING ||
                  (validator->path == PATH_HELD && validator->settings->stacks_on_power_loss);
    if (stacks)
        note_stack(validator, false, now_ms);
    else
        note_end(validator, OUTCOME_RETURNED, NO_EVENT, now_ms);
}

/* All types disabled, all options off; 06 comes first. */
static void defaults_set(struct validator *validator)
{
    size_t kept = validator->settings->keeps_events ? validator->queued : 0;
    if (kept == EVENTS_MOST)
        kept--;
    memmove(validator->queue + 1, validator->queue, kept);
    validator->queue[0] = POLL_WAS_RESET;
    validator->queued = kept + 1;
    validator->unacknowledged = false;
    validator->enabled = validator->escrowed = validator->manual = validator->options = 0;
    memset(validator->routing, 0, sizeof validator->routing);
    if (validator->settings->says_disabled == SAYS_ONCE)
        validator_queue(validator, DISABLED_POLL_BYTE);
}

void validator_restart(struct validator *validator, long off_ms, const char *why, int64_t now_ms)
{
    truth_say(validator->truth, now_ms, why, "unread", (long)validator->queued);
    note_lose(validator, now_ms);
    defaults_set(validator);
    validator->off_until_ms = now_ms + off_ms + validator->settings->start_ms;
    if (validator->quiet_until_ms < validator->off_until_ms)
        validator->quiet_until_ms = validator->off_until_ms;
}

void validator_silence(struct validator *validator, long duration_ms, int64_t now_ms)
{
    if (validator->quiet_until_ms < now_ms + duration_ms)
        validator->quiet_until_ms = now_ms + duration_ms;
    truth_say(validator->truth, now_ms, "silence", "ms", duration_ms);
}

void validator_start(struct validator *validator, const struct settings *settings, const struct truth *truth,
                     int64_t now_ms)
{
    *validator = (struct validator){.settings = settings, .truth = truth};
    validator->count = settings->count;
    validator->security = (unsigned)settings->security;
    memcpy(validator->stored, settings->stored, sizeof validator->stored);
    defaults_set(validator);
    validator->off_until_ms = now_ms + settings->start_ms;
    validator->quiet_until_ms = validator->off_until_ms;
    truth_say(truth, now_ms, "started", "count", validator->count);
}
