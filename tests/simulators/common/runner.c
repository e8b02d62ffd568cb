/* Which step of the script is due? Waits are states to be reached, so that a slow host does not spoil a script. */
#include "runner.h"

#include <stdio.h>

enum { STEPS_AT_ONCE = 1000 };

bool runner_finished(const struct runner *runner)
{
    return runner->step == runner->script->count;
}

static long runner_count(const struct runner *runner, const struct statement *statement)
{
    bool counted = statement->wait == WAIT_POLLS || statement->wait == WAIT_REQUEST || statement->wait == WAIT_ANSWERED;
    return counted ? runner->actor->count(runner->actor->self, statement->wait, statement->wait_value) : 0;
}

static void step_enter(struct runner *runner, size_t step, int64_t now_ms)
{
    runner->step = step;
    runner->entered_ms = now_ms;
    if (!runner_finished(runner))
        runner->seen = runner_count(runner, &runner->script->statements[step]);
}

void runner_start(struct runner *runner, const struct script *script, const struct actor *actor, int64_t now_ms)
{
    *runner = (struct runner){.script = script, .actor = actor};
    step_enter(runner, 0, now_ms);
}

static struct note_state note_state(const struct runner *runner, int64_t now_ms)
{
    struct note_state state = {.accepting = false};
    runner->actor->note_state(runner->actor->self, &state, now_ms);
    return state;
}

static bool device_reached(const struct runner *runner, enum wait wait, int64_t now_ms)
{
    struct note_state state = note_state(runner, now_ms);
    switch (wait) {
    case WAIT_ENABLED:
        return state.accepting;
    case WAIT_INHIBITED:
        return !state.accepting;
    case WAIT_EVENTS_READ:
        return state.events_read;
    case WAIT_HELD:
        return state.path == PATH_HELD;
    case WAIT_STACKED:
        return state.outcome == OUTCOME_STACKED;
    case WAIT_RETURNED:
        return state.outcome == OUTCOME_RETURNED;
    case WAIT_REJECTED:
        return state.outcome == OUTCOME_REJECTED;
    default:
        return state.outcome != OUTCOME_NONE;
    }
}

static bool count_reached(const struct runner *runner, const struct statement *statement)
{
    long needed = statement->wait == WAIT_POLLS ? statement->wait_value : 1;
    return runner_count(runner, statement) - runner->seen >= needed;
}

static bool wait_reached(const struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    if (statement->wait >= WAIT_OWN)
        return runner->actor->reached(runner->actor->self, statement->wait);
    switch (statement->wait) {
    case WAIT_NOTHING:
        return true;
    case WAIT_AT:
        return now_ms >= statement->wait_value;
    case WAIT_PAUSE:
        return now_ms - runner->entered_ms >= statement->wait_value;
    case WAIT_CONNECTED:
        return runner->connected;
    case WAIT_DISCONNECTED:
        return !runner->connected;
    case WAIT_POLLS:
    case WAIT_REQUEST:
    case WAIT_ANSWERED:
        return count_reached(runner, statement);
    default:
        return device_reached(runner, statement->wait, now_ms);
    }
}

/* A customer waits until the note before has gone; a jammed machine is tried in vain. */
static bool step_ready(const struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    if (!wait_reached(runner, statement, now_ms))
        return false;
    enum path path = note_state(runner, now_ms).path;
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
    long patience = runner->script->patience_ms;
    return patience > 0 ? step_time(runner, statement) + patience : INT64_MAX;
}

static void fault_start(struct runner *runner, const struct statement *statement)
{
    if (fault_add(runner->actor->faults, &statement->fault))
        return;
    fprintf(stderr, "%s:%d: more than %d faults at the same time; use 'faults off'\n", runner->script->file,
            statement->line, FAULTS_MOST);
    runner->gave_up = true;
}

static void step_act(struct runner *runner, const struct statement *statement, int64_t now_ms)
{
    switch (statement->action) {
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
        runner->actor->faults->count = 0;
        break;
    default:
        runner->actor->act(runner->actor->self, statement, now_ms);
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
        step_act(runner, statement, now_ms);
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
                        runner->script->patience_ms);
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
