/* Which step of the script is due? Waits are states to be reached, so that a slow host does not spoil a script. */
#include "runner.h"

#include <stdio.h>

enum { STEPS_AT_ONCE = 1000, POLL_HEADER = 159 };

bool runner_finished(const struct runner *runner)
{
    return runner->step == runner->script->count;
}

static long runner_count(const struct runner *runner, const struct statement *statement)
{
    if (statement->wait == WAIT_POLLS)
        return runner->line->answered[POLL_HEADER];
    if (statement->wait == WAIT_ANSWERED)
        return runner->line->answered[statement->wait_value];
    if (statement->wait == WAIT_REQUEST)
        return runner->line->requests[statement->wait_value];
    return 0;
}

static void step_enter(struct runner *runner, size_t step, int64_t now_ms)
{
    runner->step = step;
    runner->entered_ms = now_ms;
    if (!runner_finished(runner))
        runner->seen = runner_count(runner, &runner->script->statements[step]);
}

void runner_start(struct runner *runner, const struct script *script, struct device *device, struct line *line,
                  int64_t now_ms)
{
    *runner = (struct runner){.script = script, .device = device, .line = line};
    step_enter(runner, 0, now_ms);
}

static bool note_state_reached(const struct device *device, enum wait wait)
{
    switch (wait) {
    case WAIT_HELD:
        return device->path == PATH_HELD;
    case WAIT_STACKED:
        return device->outcome == OUTCOME_STACKED;
    case WAIT_RETURNED:
        return device->outcome == OUTCOME_RETURNED;
    case WAIT_REJECTED:
        return device->outcome == OUTCOME_REJECTED;
    default:
        return device->outcome != OUTCOME_NONE;
    }
}

static bool count_reached(const struct runner *runner, const struct statement *statement)
{
    long needed = statement->wait == WAIT_POLLS ? statement->wait_value : 1;
    return runner_count(runner, statement) - runner->seen >= needed;
}

static bool wait_reached(const struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    switch (statement->wait) {
    case WAIT_NOTHING:
        return true;
    case WAIT_AT:
        return now_ms >= statement->wait_value;
    case WAIT_PAUSE:
        return now_ms - runner->entered_ms >= statement->wait_value;
    case WAIT_ENABLED:
        return device_accepting(runner->device, now_ms);
    case WAIT_INHIBITED:
        return !device_accepting(runner->device, now_ms);
    case WAIT_EVENTS_READ:
        return runner->device->events_read == runner->device->events_made;
    case WAIT_CONNECTED:
        return runner->connected;
    case WAIT_DISCONNECTED:
        return !runner->connected;
    case WAIT_POLLS:
    case WAIT_REQUEST:
    case WAIT_ANSWERED:
        return count_reached(runner, statement);
    default:
        return note_state_reached(runner->device, statement->wait);
    }
}

/* A customer waits until the note before has gone; a jammed machine is tried in vain. */
static bool step_ready(const struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    if (!wait_reached(runner, statement, now_ms))
        return false;
    enum path path = runner->device->path;
    return statement->action != ACTION_INSERT || path == PATH_EMPTY || path == PATH_JAMMED;
}

/* The moment from which the step can be done at all. */
static int64_t step_time(const struct runner *runner, const struct statement *statement)
{
    if (statement->wait == WAIT_PAUSE)
        return runner->entered_ms + statement->wait_value;
    bool later = statement->wait == WAIT_AT && statement->wait_value > runner->entered_ms;
    return later ? statement->wait_value : runner->entered_ms;
}

/* From then on, patience runs. */
static int64_t step_limit(const struct runner *runner, const struct statement *statement)
{
    long patience = runner->script->settings.patience_ms;
    return patience > 0 ? step_time(runner, statement) + patience : INT64_MAX;
}

static void fault_start(struct runner *runner, const struct statement *statement)
{
    if (line_fault_add(runner->line, &statement->fault))
        return;
    fprintf(stderr, "%s:%d: more than %d faults at the same time; use 'faults off'\n", runner->script->file,
            statement->line, LINE_FAULTS);
    runner->gave_up = true;
}

static void quiet_start(struct device *device, long duration_ms, int64_t now_ms)
{
    if (device->quiet_until_ms < now_ms + duration_ms)
        device->quiet_until_ms = now_ms + duration_ms;
    truth_say(device->truth, now_ms, "silence", "ms", duration_ms);
}

static void device_act(struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    struct device *device = runner->device;
    switch (statement->action) {
    case ACTION_INSERT:
        device_insert(device, statement->first, (enum way)statement->second, now_ms);
        break;
    case ACTION_EVENT:
        device_event(device, (int)statement->first, (int)statement->second, now_ms);
        break;
    case ACTION_PULL:
        device_pull(device, now_ms);
        break;
    case ACTION_JAM:
        device_jam(device, (enum jam)statement->first, now_ms);
        break;
    case ACTION_CLEAR:
        device_clear(device, now_ms);
        break;
    case ACTION_STACKER:
        device_stacker(device, (enum stacker)statement->first, now_ms);
        break;
    case ACTION_SELF_CHECK:
        device->fault = (int)statement->first;
        device->fault_extra = (int)statement->second;
        break;
    case ACTION_ROUTE_FAILS:
        device->route_failures = statement->first;
        break;
    default:
        break;
    }
    device_advance(device, now_ms);
}

static void line_act(struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    switch (statement->action) {
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        line_clear(runner->line);
        device_restart(runner->device, statement->first, statement->first > 0 ? "power_off" : "reset", now_ms);
        break;
    case ACTION_SILENCE:
        line_clear(runner->line);
        quiet_start(runner->device, statement->first, now_ms);
        break;
    case ACTION_DROP:
        runner->wish = WISH_DROP;
        break;
    case ACTION_UNPLUG:
        runner->wish = WISH_UNPLUG;
        break;
    case ACTION_REPLUG:
        runner->wish = WISH_REPLUG;
        break;
    case ACTION_FAULT:
        fault_start(runner, statement);
        break;
    case ACTION_FAULTS_OFF:
        runner->line->fault_count = 0;
        break;
    default:
        device_act(runner, statement, now_ms);
        break;
    }
}

/* Gives the step that follows. */
static size_t step_do(struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    size_t start = (size_t)statement->first;
    switch (statement->action) {
    case ACTION_END:
        runner->ended = true;
        return runner->script->count;
    case ACTION_REPEAT:
        runner->remaining[runner->step] = statement->first;
        return runner->step + 1;
    case ACTION_REPEAT_END:
        return --runner->remaining[start] > 0 ? start + 1 : runner->step + 1;
    default:
        line_act(runner, statement, now_ms);
        return runner->step + 1;
    }
}

bool runner_run(struct runner *runner, int64_t now_ms)
{
    bool progress = false;
    for (int i = 0; i < STEPS_AT_ONCE && !runner_finished(runner) && !runner->gave_up; i++) {
        const struct statement *statement = &runner->script->statements[runner->step];
        if (!step_ready(runner, statement, now_ms)) {
            runner->gave_up = now_ms >= step_limit(runner, statement);
            if (runner->gave_up)
                fprintf(stderr, "%s:%d: waited %ld ms in vain\n", runner->script->file, statement->line,
                        runner->script->settings.patience_ms);
            break;
        }
        step_enter(runner, step_do(runner, statement, now_ms), now_ms);
        progress = true;
        if (runner->wish != WISH_NOTHING)
            break;
    }
    return progress;
}

int64_t runner_deadline(const struct runner *runner, int64_t now_ms)
{
    if (runner_finished(runner))
        return INT64_MAX;
    const struct statement *statement = &runner->script->statements[runner->step];
    int64_t time = step_time(runner, statement);
    return time > now_ms ? time : step_limit(runner, statement);
}
