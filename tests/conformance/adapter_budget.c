/*
 * How long does the bare adapter work in each step? The last recording is played to it, and every step is timed with
 * the clock of the thread's own processor time: what other programs take does not count.
 */
#include "adapter_lane.h"

#include "cctalk/cctalk.h"
#include "described/described.h"
#include "mdb/mdb.h"
#include "pulse/pulse.h"

#include <string.h>
#include <time.h>

enum { LIMIT_US = 1000, PLAYS = 3 };

static const cfoil_adapter *const bare_adapters[] = {&cctalk_adapter, &mdb_adapter, &pulse_adapter};

static struct {
    const cfoil_adapter *bare;
    uint64_t worst_ns;
    uint64_t all_ns;
    uint64_t steps;
} timing;

static uint64_t work_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return (uint64_t)now.tv_sec * 1000000000 + (uint64_t)now.tv_nsec;
}

static int32_t bare_open(void *state, const cfoil_adapter_start *start)
{
    cfoil_adapter_start copy = *start;
    copy.adapter = timing.bare;
    return timing.bare->open(state, &copy);
}

static uint64_t bare_step(void *state, const cfoil_adapter_input *input)
{
    uint64_t begin_ns = work_ns();
    uint64_t due_us = timing.bare->step(state, input);
    uint64_t took_ns = work_ns() - begin_ns;
    timing.all_ns += took_ns;
    timing.steps++;
    if (took_ns > timing.worst_ns)
        timing.worst_ns = took_ns;
    return due_us;
}

static const cfoil_adapter *bare_find(const char *id)
{
    for (size_t i = 0; i < sizeof bare_adapters / sizeof bare_adapters[0]; i++) {
        if (strcmp(bare_adapters[i]->id, id) == 0)
            return bare_adapters[i];
    }
    return NULL;
}

/* False = the replay departs. */
static bool play(struct trial *trial, const cfoil_adapter *timed)
{
    static const struct trace_listener nobody;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    struct trace_reader *reader;
    int32_t result = trace_reader_open(&memory_heap, trial->suite->last_trace, &reader, &error);
    if (result == CFOIL_OK)
        result = trace_replay(&memory_heap, timed, reader, TRACE_WHOLE, 0, &nobody, &error);
    return expect(trial, result == CFOIL_OK, "the bare adapter departs from its recording: %s", error.text);
}

void adapter_step_time(struct trial *trial)
{
    const cfoil_adapter *loaded = trial->suite->loaded;
    const cfoil_adapter *bare = loaded != NULL ? loaded : bare_find(trial->options->adapter);
    cfoil_adapter described;
    if (trial->suite->description != NULL) {
        described_adapter_make(trial->suite->description, &described);
        bare = &described;
    }
    if (bare == NULL || trial->suite->last_trace[0] == '\0') {
        skip(trial, bare == NULL ? "not an adapter of this suite's own build" : "no case before has recorded a trace");
        return;
    }
    uint64_t best_worst_ns = UINT64_MAX;
    timing.bare = bare;
    cfoil_adapter timed = *bare;
    timed.open = bare_open;
    timed.step = bare_step;
    timing.all_ns = timing.steps = 0;
    for (int i = 0; i < PLAYS; i++) { /* the best of three: a page fault is not the adapter's */
        timing.worst_ns = 0;
        if (!play(trial, &timed))
            return;
        best_worst_ns = timing.worst_ns < best_worst_ns ? timing.worst_ns : best_worst_ns;
    }
    figure(trial, "%llu steps, longest %.1f us, mean %.2f us, allowed %d us", (unsigned long long)timing.steps / PLAYS,
           (double)best_worst_ns / 1000, timing.steps > 0 ? (double)timing.all_ns / 1000 / (double)timing.steps : 0.0,
           LIMIT_US);
    expect(trial, best_worst_ns <= (uint64_t)LIMIT_US * 1000, "a step took %.1f us of work",
           (double)best_worst_ns / 1000);
}
