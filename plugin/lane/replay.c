/*
 * How does a lane replay a trace? Through the same calls as a live one, on the trace's own clock, as fast as the host.
 */
#include "lane/parts.h"
#include "model/error.h"
#include "os/os.h"
#include "transport/trace.h"

static int32_t on_open(void *user, int32_t accept, uint64_t now_us)
{
    char text[160] = "";
    return seam_open(user, accept, now_us, text, sizeof text);
}

static void on_lose(void *user, int32_t result, uint64_t now_us)
{
    seam_lose(user, result, now_us);
}

static void on_step(void *user, const uint8_t *bytes, uint32_t length, uint64_t now_us)
{
    seam_step(user, bytes, length, now_us);
}

static void on_command(void *user, int32_t command, int32_t argument, uint64_t now_us)
{
    (void)seam_command(user, command, argument, now_us); /* what the adapter answered shows in what it does next */
}

const struct trace_target *lane_replay_target(struct lane *lane, struct trace_target *target)
{
    *target = (struct trace_target){lane, on_open, on_lose, on_step, on_command};
    return target;
}

/* Closing must not wait for the end of a long trace, nor the replay outrun a ledger that is busy. */
static void between_inputs(struct lane *lane)
{
    if (os_wait(-1, lane->wake, 0) != 0)
        lane_attend(lane);
    while (!lane->closing_seen && !lane->backlog.failing && backlog_deadline(lane) != UINT64_MAX)
        lane_rest(lane, UINT64_MAX);
}

void lane_replay_run(struct lane *lane)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    lane_state_change(lane, CFOIL_LANE_OPENING, CFOIL_OK, "Waiting for the port.", 0);
    int32_t result = CFOIL_OK;
    while (result == CFOIL_OK && !lane->ended && !lane->closing_seen) {
        between_inputs(lane);
        result = trace_player_next(lane->player, &error);
    }
    /* Before the end of the trace is told: the live lane was only closed there, and its host heard no more. */
    seam_close(lane);
    if (result == CFOIL_OK || lane->ended)
        return;
    if (result != CFOIL_E_PORT_ENDED)
        lane_trouble(lane, CFOIL_LOG_ERROR, "trace", &error);
    lane_state_change(lane, CFOIL_LANE_ENDED, result, error.text, lane->now_us);
}
