/*
 * Runs a lane against a simulated device and records it, for tests/replay/record.sh.
 *   record ADAPTER PORT TRACE HOST [SETTINGS [DESCRIPTION]]
 * HOST: stack, return, "first back", wait, hold, all, none. With a DESCRIPTION, ADAPTER is the id that it gives.
 * Ends when the device has gone.
 */
#include <counterfoil/counterfoil.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum { LIMIT_MS = 20000, HOLD_MS = 2000, GONE_MS = 1200 };

static void held_decide(cfoil_lane *lane, const cfoil_event *event, const char *host, unsigned held)
{
    if (strcmp(host, "wait") == 0)
        return;
    if (strcmp(host, "return") == 0 || (strcmp(host, "first back") == 0 && held == 1)) {
        (void)cfoil_note_return(lane, event->presentation);
        return;
    }
    if (strcmp(host, "hold") == 0)
        (void)cfoil_note_hold(lane, event->presentation, HOLD_MS);
    (void)cfoil_note_stack(lane, event->presentation);
}

static int events_follow(cfoil_lane *lane, const char *host)
{
    unsigned held = 0;
    bool gone = false;
    int quiet_ms = 0;
    for (int waited_ms = 0; waited_ms < LIMIT_MS && !(gone && quiet_ms >= GONE_MS); waited_ms += 100) {
        cfoil_event event = CFOIL_EVENT_INIT;
        int32_t result = cfoil_lane_wait(lane, 100, &event);
        quiet_ms = result == CFOIL_E_TIME_OUT ? quiet_ms + 100 : 0;
        if (result == CFOIL_E_TIME_OUT)
            continue;
        if (result != CFOIL_OK)
            return 1;
        if (event.kind == CFOIL_KIND_HELD)
            held_decide(lane, &event, host, ++held);
        if (event.lane_state == CFOIL_LANE_ENDED)
            return 0;
        if (event.kind == CFOIL_KIND_LANE_STATE)
            gone = event.lane_state == CFOIL_LANE_LOST || event.lane_state == CFOIL_LANE_OPENING;
    }
    return gone ? 0 : 1;
}

int main(int count, char **arguments)
{
    if (count < 5 || count > 7) {
        fprintf(stderr, "usage: %s ADAPTER PORT TRACE HOST [SETTINGS [DESCRIPTION]]\n", arguments[0]);
        return 2;
    }
    cfoil_context *context = NULL;
    cfoil_lane *lane = NULL;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = arguments[1];
    options.port = arguments[2];
    options.record_path = arguments[3];
    options.settings = count > 5 && arguments[5][0] != '\0' ? arguments[5] : NULL;
    options.reconnect_ms = 100;
    options.accept = strcmp(arguments[4], "all") == 0    ? CFOIL_ACCEPT_ALL
                     : strcmp(arguments[4], "none") == 0 ? CFOIL_ACCEPT_NONE
                                                         : CFOIL_ACCEPT_HOLD;
    int32_t result = cfoil_context_open(NULL, &context);
    if (result == CFOIL_OK && count > 6)
        result = cfoil_adapter_describe(context, arguments[6]);
    if (result == CFOIL_OK)
        result = cfoil_lane_open(context, &options, &lane);
    if (result != CFOIL_OK) {
        fprintf(stderr, "%s: %s\n", arguments[3], cfoil_error_text(result));
        return 1;
    }
    int status = events_follow(lane, arguments[4]);
    cfoil_context_close(context);
    return status;
}
