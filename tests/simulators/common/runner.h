/* Which step of the script is due? Carries out the timeline, one step after the other. */
#ifndef SIMULATOR_RUNNER_H
#define SIMULATOR_RUNNER_H

#include "actor.h"

/* What only the owner of the sockets can do. */
enum wish { WISH_NOTHING, WISH_DROP, WISH_UNPLUG, WISH_REPLUG };

struct runner {
    const struct script *script;
    const struct actor *actor;
    size_t step;        /* the statement that is due next */
    int64_t entered_ms; /* since when */
    long seen;          /* requests or answers counted at that time */
    long remaining[SCRIPT_STATEMENTS];
    bool connected, ended, gave_up;
    enum wish wish;
};

void runner_start(struct runner *runner, const struct script *script, const struct actor *actor, int64_t now_ms);
/* Does what is due and stops at the first unfulfilled wait, or at a wish; true if any step was done. */
bool runner_run(struct runner *runner, int64_t now_ms);
int64_t runner_deadline(const struct runner *runner, int64_t now_ms);
bool runner_finished(const struct runner *runner);

#endif
