/* What does the simulated note validator do with notes? Path, escrow, event buffer, inhibits, watchdog, restart.
 * Event codes, fault codes and the counter rules: ccTalk generic specification, part 3, from memory, except the
 * counter rules, which published device manuals confirm. */
#include "device.h"

#include <string.h>

enum { MODE_ESCROW = 2, FAULT_STACKER = 38, FAULT_JAMMED = 39, FAULT_STACKER_MISSING = 44, FAULT_STACKER_FULL = 45 };

/* What a way of faring comes to at validation: the event 0,B and the outcome. */
static const struct {
    int event;
    enum outcome outcome;
} way_ends[WAY_COUNT] = {
    [WAY_REFUSED] = {2, OUTCOME_REJECTED},      [WAY_TRANSPORT] = {3, OUTCOME_REJECTED},
    [WAY_SWITCHED_OFF] = {5, OUTCOME_REJECTED}, [WAY_PULLED] = {8, OUTCOME_PULLED},
    [WAY_TAMPERED] = {9, OUTCOME_REJECTED},     [WAY_OPTICAL] = {17, OUTCOME_REJECTED},
    [WAY_STRING] = {18, OUTCOME_REJECTED},      [WAY_UNKNOWN] = {21, OUTCOME_STACKED_UNKNOWN},
    [WAY_JAMS] = {6, OUTCOME_JAMMED},
};

static bool fraud_event(int b)
{
    return b == 8 || b == 9 || b == 17 || b == 18;
}

/* Newest first; the counter goes from 255 to 1, because 0 means "just started". */
static void event_push(struct device *device, int a, int b)
{
    memmove(device->pairs[1], device->pairs[0], sizeof device->pairs - sizeof device->pairs[0]);
    device->pairs[0][0] = (uint8_t)a;
    device->pairs[0][1] = (uint8_t)b;
    device->counter = device->counter == 255 ? 1 : (uint8_t)(device->counter + 1);
    device->events_made++;
    if (a != 0)
        return;
    device->errors[b]++;
    device->frauds += fraud_event(b);
    device->rejected += b == 2 || b == 3;
}

void device_event(struct device *device, int a, int b, int64_t now_ms)
{
    event_push(device, a, b);
    truth_begin(device->truth, now_ms, "event");
    truth_bytes(device->truth, "event", device->pairs[0], 2);
    truth_number(device->truth, "counter", device->counter);
    truth_end(device->truth);
}

static void note_log(const struct device *device, const char *word, const struct note *note, bool event, int64_t now_ms)
{
    truth_begin(device->truth, now_ms, word);
    truth_number(device->truth, "note", note->number);
    truth_number(device->truth, "type", note->type);
    truth_text(device->truth, "id", note->id);
    if (event)
        truth_bytes(device->truth, "event", device->pairs[0], 2);
    truth_number(device->truth, "counter", device->counter);
    truth_end(device->truth);
}

/* b < 0: the device makes no event of it. */
static void note_say(struct device *device, const char *word, int a, int b, int64_t now_ms)
{
    if (b >= 0)
        event_push(device, a, b);
    note_log(device, word, &device->note, b >= 0, now_ms);
}

static void note_end(struct device *device, enum outcome outcome, int a, int b, int64_t now_ms)
{
    device->outcome = outcome;
    if (outcome == OUTCOME_JAMMED)
        device->stuck = device->note;
    if (outcome != OUTCOME_NOT_TAKEN) /* such a note never came into the path */
        device->path = outcome == OUTCOME_JAMMED ? PATH_JAMMED : PATH_EMPTY;
    if (outcome == OUTCOME_STACKED) {
        device->accepted++;
        device->accepted_by_type[device->note.type]++;
    }
    note_say(device, outcome_name(outcome), a, b, now_ms);
}

static bool master_open(const struct device *device)
{
    return (device->master & 1) != 0 && !device->self_inhibited;
}

bool device_accepting(const struct device *device, int64_t now_ms)
{
    bool any_type = device->masks[0] != 0 || device->masks[1] != 0;
    return now_ms >= device->off_until_ms && master_open(device) && any_type && device->fault == 0;
}

static bool type_open(const struct device *device, long type)
{
    return (device->masks[(type - 1) / 8] >> ((type - 1) % 8) & 1) != 0;
}

/* A machine that is off or reports a fault does not turn its motor: the note never goes in. */
void device_insert(struct device *device, long type, enum way way, int64_t now_ms)
{
    device->note = (struct note){device->note.number + 1, type, device->settings->notes[type]};
    device->way = way;
    device->outcome = OUTCOME_NONE;
    if (now_ms < device->off_until_ms || device->fault != 0 || device->path != PATH_EMPTY) {
        note_end(device, OUTCOME_NOT_TAKEN, -1, -1, now_ms);
        return;
    }
    device->inserted++;
    if (!master_open(device)) {
        note_end(device, OUTCOME_REJECTED, 0, 0, now_ms);
        return;
    }
    device->path = PATH_ENTERING;
    device->path_due_ms = now_ms + device->settings->move_ms;
}

void device_stack(struct device *device, int64_t now_ms)
{
    device->path = PATH_STACKING;
    device->path_due_ms = now_ms + device->settings->move_ms;
}

void device_return(struct device *device, int64_t now_ms)
{
    device->path = PATH_RETURNING;
    device->path_due_ms = now_ms + device->settings->move_ms;
}

static void note_validate(struct device *device, int64_t now_ms)
{
    if (device->way != WAY_GENUINE && device->way != WAY_JAMS_IN_STACKER) {
        if (device->way == WAY_JAMS)
            device->fault = FAULT_JAMMED;
        note_end(device, way_ends[device->way].outcome, 0, way_ends[device->way].event, now_ms);
        return;
    }
    if (!type_open(device, device->note.type)) {
        note_end(device, OUTCOME_REJECTED, 0, 4, now_ms);
        return;
    }
    if ((device->mode & MODE_ESCROW) == 0) {
        device_stack(device, now_ms);
        return;
    }
    device->path = PATH_HELD;
    device->escrow_due_ms = now_ms + device->settings->escrow_timeout_ms;
    note_say(device, "held", (int)device->note.type, 1, now_ms);
}

static void note_arrive(struct device *device, int64_t now_ms)
{
    if (device->way == WAY_JAMS_IN_STACKER) {
        device->fault = FAULT_STACKER;
        note_end(device, OUTCOME_JAMMED, 0, 7, now_ms);
        return;
    }
    note_end(device, OUTCOME_STACKED, (int)device->note.type, 0, now_ms);
}

static void path_advance(struct device *device, int64_t now_ms)
{
    if (device->path == PATH_ENTERING && now_ms >= device->path_due_ms)
        note_validate(device, now_ms);
    if (device->path == PATH_HELD && now_ms >= device->escrow_due_ms) {
        truth_say(device->truth, now_ms, "escrow_timeout", "note", device->note.number);
        device_return(device, now_ms);
    }
    if (device->path == PATH_STACKING && now_ms >= device->path_due_ms)
        note_arrive(device, now_ms);
    if (device->path == PATH_RETURNING && now_ms >= device->path_due_ms)
        note_end(device, OUTCOME_RETURNED, 0, 1, now_ms);
}

/* About 1 s without header 159 and the device inhibits itself; the masks stay (two published device manuals). */
static bool watchdog_runs(const struct device *device)
{
    return device->settings->watchdog_ms > 0 && (device->master & 1) != 0 && !device->self_inhibited;
}

void device_advance(struct device *device, int64_t now_ms)
{
    path_advance(device, now_ms);
    if (watchdog_runs(device) && now_ms - device->last_poll_ms > device->settings->watchdog_ms) {
        device->self_inhibited = true;
        truth_say(device->truth, now_ms, "watchdog", NULL, 0);
    }
    bool accepting = device_accepting(device, now_ms);
    if (accepting != device->was_accepting)
        truth_say(device->truth, now_ms, accepting ? "enabled" : "inhibited", NULL, 0);
    device->was_accepting = accepting;
}

int64_t device_deadline(const struct device *device)
{
    int64_t deadline = INT64_MAX;
    if (device->path == PATH_HELD)
        deadline = device->escrow_due_ms;
    else if (device->path != PATH_EMPTY && device->path != PATH_JAMMED)
        deadline = device->path_due_ms;
    int64_t watchdog = device->last_poll_ms + device->settings->watchdog_ms + 1;
    if (watchdog_runs(device) && watchdog < deadline)
        deadline = watchdog;
    return deadline;
}

void device_pull(struct device *device, int64_t now_ms)
{
    if (device->path == PATH_EMPTY || device->path == PATH_JAMMED)
        device_event(device, 0, 8, now_ms);
    else
        note_end(device, OUTCOME_PULLED, 0, 8, now_ms);
}

void device_jam(struct device *device, enum jam jam, int64_t now_ms)
{
    static const int events[] = {[JAM_TRANSPORT] = 6, [JAM_SAFE] = 16, [JAM_STACKER] = 7};
    device->fault = jam == JAM_STACKER ? FAULT_STACKER : FAULT_JAMMED;
    if (device->path == PATH_EMPTY || device->path == PATH_JAMMED)
        device_event(device, 0, events[jam], now_ms);
    else
        note_end(device, OUTCOME_JAMMED, 0, events[jam], now_ms);
}

/* Somebody opens the machine and takes out what is stuck. */
void device_clear(struct device *device, int64_t now_ms)
{
    device->fault = 0;
    device->fault_extra = -1;
    if (device->path == PATH_JAMMED) {
        device->path = PATH_EMPTY;
        note_log(device, "removed", &device->stuck, false, now_ms);
    }
    truth_say(device->truth, now_ms, "cleared", NULL, 0);
}

void device_stacker(struct device *device, enum stacker stacker, int64_t now_ms)
{
    static const int events[] = {10, 11, 12, 13, 14, 15};
    static const int faults[] = {0, FAULT_STACKER_MISSING, 0, FAULT_STACKER, FAULT_STACKER_FULL, FAULT_STACKER};
    device->fault = faults[stacker];
    device->fault_extra = -1;
    device_event(device, 0, events[stacker], now_ms);
}

/* The standard leaves open what becomes of a note under way; the script chooses. A note already on its way to the
 * stacker is stacked, but the event that would have said so is lost with the buffer. */
static void note_lose(struct device *device, int64_t now_ms)
{
    if (device->path == PATH_EMPTY || device->path == PATH_JAMMED)
        return;
    bool stacks = device->path == PATH_STACKING ||
                  (device->path == PATH_HELD && device->settings->stacks_on_power_loss);
    note_end(device, stacks ? OUTCOME_STACKED : OUTCOME_RETURNED, -1, -1, now_ms);
}

static void defaults_set(struct device *device)
{
    memset(device->masks, 0, sizeof device->masks);
    memset(device->pairs, 0, sizeof device->pairs);
    device->master = 0;
    device->mode = (uint8_t)device->settings->mode;
    device->counter = 0;
    device->self_inhibited = false;
    device->timeouts = device->ignored = device->bad_checksums = 0;
    if (device->settings->keeps_counters)
        return;
    device->inserted = device->accepted = device->rejected = device->frauds = 0;
    memset(device->accepted_by_type, 0, sizeof device->accepted_by_type);
    memset(device->errors, 0, sizeof device->errors);
}

void device_restart(struct device *device, long off_ms, const char *why, int64_t now_ms)
{
    truth_say(device->truth, now_ms, why, "counter", device->counter);
    note_lose(device, now_ms);
    defaults_set(device);
    device->events_made++; /* the zero counter is news too: a script can wait until the host has read it */
    device->off_until_ms = now_ms + off_ms + device->settings->start_ms;
    if (device->quiet_until_ms < device->off_until_ms)
        device->quiet_until_ms = device->off_until_ms;
}

void device_start(struct device *device, const struct settings *settings, const struct truth *truth, int64_t now_ms)
{
    *device = (struct device){.settings = settings, .truth = truth};
    device->note.id = "";
    device->fault = (int)settings->fault[0];
    device->fault_extra = (int)settings->fault[1];
    defaults_set(device);
    device->counter = (uint8_t)settings->counter;
    for (size_t i = 0; i < settings->earlier_count; i++) {
        device->pairs[i][0] = (uint8_t)settings->earlier[i][0];
        device->pairs[i][1] = (uint8_t)settings->earlier[i][1];
    }
    device->off_until_ms = now_ms + settings->start_ms;
    device->quiet_until_ms = device->off_until_ms;
    truth_say(truth, now_ms, "started", "counter", device->counter);
}
