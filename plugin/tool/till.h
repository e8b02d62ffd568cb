/*
 * A cashier's session: what the machine's side, the prompt and the dialogue of one case share.
 */
#ifndef TOOL_TILL_H
#define TOOL_TILL_H

#include "console.h"
#include "machine.h"
#include "phrases.h"

struct till {
    const struct arguments *arguments;
    struct host host;
    struct phrases phrases;
    struct console console;
    FILE *talk; /* where a person reads: standard error when the output is JSON */
    bool json;
    const char *currency;
    uint32_t tools;
    cfoil_lane *lane; /* NULL = no machine */
    intptr_t lane_handle;
    int32_t accept;
    int64_t count;        /* refusals still to deal with; -1 = no limit */
    uint64_t deadline_ms; /* 0 = none */
    bool finished;        /* the session ends as soon as no question is open */
    int code;
};

/* How a question was met. */
enum reply {
    REPLY_LINE,    /* the person typed a line */
    REPLY_MACHINE, /* the machine has an event: fetch it, then ask again */
    REPLY_END      /* no more lines, a stop signal, or the session's time is over */
};

/* Writes the message of the key as "QUESTION > " and waits for a line. With `machine`, an event of the lane interrupts a person's question;
 * scripted lines are never interrupted, so that a script always meets the same questions. */
enum reply till_ask(struct till *till, const char *question_key, bool machine, char line[CONSOLE_LINE_MAX]);

/* Finds out before the first note whether currency, series, jurisdiction and the words for the record are good: on
 * failure writes one line and returns the exit code. */
int till_case_try(const struct till *till);

/* One note from the first doubt to the disposition. `event` is the machine's refusal or NULL. */
void till_case_run(struct till *till, const char *currency, int64_t value_minor, const cfoil_event *event);

/* A case that has not ended, from where it was left. */
void till_case_resume(struct till *till, const char *case_id, const char *currency, int64_t value_minor);

/* Takes up every open case of the lane, or of all lanes when none is named. */
void till_cases_resume(struct till *till);

/* Writes the message of the key as a line of the talk. */
void till_say(const struct till *till, const char *key);

/* Shows an event of the machine. */
void till_event_show(struct till *till, const cfoil_event *event);

/* Notes that nothing more will come from the lane, if so. */
void till_end_check(struct till *till, const cfoil_event *event);

#endif
