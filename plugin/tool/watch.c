/*
 * counterfoil watch: what does the machine tell? One line an event.
 */
#include "commands.h"
#include "console.h"
#include "machine.h"
#include "print.h"

/* How long a held note that was told to go back is waited for at the end. */
#define HELD_END_MS 5000

struct watch {
    cfoil_lane *lane;
    bool json;
    int32_t accept;
    int64_t count;        /* note events still to come; -1 = no limit */
    uint64_t deadline_ms; /* 0 = none */
    uint64_t held;        /* presentation that is on its way back, 0 = none */
    bool finished;
    int code;
};

static void event_take(struct watch *watch, const cfoil_event *event)
{
    if (!event_print(stdout, watch->json, event)) {
        watch->finished = true;
        watch->held = 0;
        return;
    }
    if (event->kind == CFOIL_KIND_HELD && watch->accept == CFOIL_ACCEPT_HOLD) {
        watch->held = event->presentation;
        held_note_return(watch->lane, event->presentation);
    } else if (event->kind != CFOIL_KIND_DEVICE && event->presentation == watch->held) {
        watch->held = 0;
    }
    if (event_is_end(watch->lane, event, &watch->code)) {
        watch->finished = true;
        watch->held = 0;
    }
    bool counts = event->kind != CFOIL_KIND_LANE_STATE && event->condition != CFOIL_CONDITION_IDENTIFIED;
    if (counts && watch->count > 0 && --watch->count == 0)
        watch->finished = true;
}

/* Waits for one event at most; false when there will be no more. */
static bool event_wait(struct watch *watch, uint64_t deadline_ms)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    int32_t result = cfoil_lane_wait(watch->lane, slice_ms(deadline_ms), &event);
    if (result == CFOIL_OK)
        event_take(watch, &event);
    if (result == CFOIL_OK || result == CFOIL_E_TIME_OUT)
        return true;
    watch->code = failure_report(watch->lane, result, "cannot wait for events");
    return false;
}

static void events_show(struct watch *watch)
{
    while (!watch->finished && !stop_asked() && !deadline_passed(watch->deadline_ms)) {
        if (!event_wait(watch, watch->deadline_ms))
            return;
    }
    /* Nobody should find a note between the rollers after we have gone. */
    uint64_t end_ms = clock_ms() + HELD_END_MS;
    while (watch->held != 0 && !deadline_passed(end_ms)) {
        if (!event_wait(watch, end_ms))
            return;
    }
}

int watch_run(const struct arguments *arguments)
{
    struct watch watch = {.accept = CFOIL_ACCEPT_NONE, .count = -1, .json = arguments->values[OPTION_JSON] != NULL};
    int64_t seconds = 0;
    if (!arguments_accept(arguments, &watch.accept) ||
        !arguments_whole(arguments, OPTION_COUNT, 1, INT32_MAX, &watch.count) ||
        !arguments_whole(arguments, OPTION_SECONDS, 1, INT32_MAX, &seconds))
        return TOOL_USAGE;
    struct host host;
    int code = host_open(arguments, LEDGER_WRITE, &host);
    if (code != TOOL_OK)
        return code;
    stop_prepare();
    code = machine_open(arguments, &host, watch.accept, &watch.lane);
    if (code == TOOL_OK) {
        watch.deadline_ms = seconds == 0 ? 0 : clock_ms() + (uint64_t)seconds * 1000u;
        events_show(&watch);
        code = watch.code;
    }
    cfoil_lane_close(watch.lane);
    host_close(&host);
    return code;
}
