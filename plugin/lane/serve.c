/*
 * What does a lane's thread do? It opens the port, lets the adapter talk to the device, and sleeps in between.
 */
#include "lane/parts.h"
#include "model/error.h"
#include "os/os.h"
#include "transport/arrival.h"
#include "transport/trace.h"
#include "transport/transport.h"

#include <string.h>

#define PAUSE_FIRST_MS   100              /* between attempts to open a port; doubles up to the lane's reconnect_ms */
#define PAUSE_PLUGGED_MS 2000             /* a plug that is put in again serves soon, also where no event tells of it */
#define OPEN_MAX_MS      5000             /* for one attempt; closing the lane ends it at once */
#define QUIT_MAX_US      UINT64_C(300000) /* for the last frame of an adapter */
#define ACCEPT_RETRY_US  UINT64_C(500000) /* until a device that refused is asked again */

uint64_t lane_clock(const struct lane *lane)
{
    return os_monotonic_us() - lane->start_us;
}

/* Lane's time to system's clock; UINT64_MAX stays. */
static uint64_t system_time(const struct lane *lane, uint64_t time_us)
{
    return time_us < UINT64_MAX - lane->start_us ? time_us + lane->start_us : UINT64_MAX;
}

static uint64_t earlier(uint64_t one, uint64_t other)
{
    return one < other ? one : other;
}

/* ---- What the host's calls have left ---- */

/* The host may ask again for what the adapter did not take. */
static void command_refused(struct lane *lane, const struct lane_command *command, int32_t result)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    error_set(&error, result, 0, lane->adapter->id,
              "The device is not ready for the command: ask again if the note is "
              "still held.");
    os_mutex_lock(lane->lock);
    if (lane->held.presentation == command->presentation)
        lane->held = (struct held_note){.presentation = command->presentation};
    os_mutex_unlock(lane->lock);
    lane_trouble(lane, CFOIL_LOG_WARNING, "command", &error);
}

static void command_run(struct lane *lane, const struct lane_command *command)
{
    /* The note may have gone since the call was checked. */
    if (!lane->open || lane->presentations.held != command->presentation)
        return;
    uint64_t now_us = lane_clock(lane);
    int32_t result = seam_command(lane, command->command, command->argument, now_us);
    if (result == CFOIL_OK)
        seam_step(lane, NULL, 0, now_us);
    else
        command_refused(lane, command, result);
}

void lane_attend(struct lane *lane)
{
    struct lane_command commands[LANE_COMMANDS_MAX];
    os_signal_clear(lane->wake);
    os_mutex_lock(lane->lock);
    lane->closing_seen = lane->closing;
    lane->accept_seen = lane->accept;
    lane->accept_count_seen = lane->accept_count;
    uint32_t count = lane->command_count;
    memcpy(commands, lane->commands, count * sizeof commands[0]);
    lane->command_count = 0;
    os_mutex_unlock(lane->lock);
    for (uint32_t i = 0; i < count; i++)
        command_run(lane, &commands[i]);
    backlog_overflow_tell(lane, lane->replay ? lane->now_us : lane_clock(lane));
}

/* Returns OS_READY_*. */
static int rest(struct lane *lane, intptr_t handle, uint64_t until_us)
{
    int ready = os_wait(handle, lane->wake, earlier(until_us, backlog_deadline(lane)));
    if ((ready & OS_READY_SIGNAL) != 0)
        lane_attend(lane);
    if (os_monotonic_us() >= backlog_deadline(lane))
        backlog_flush(lane, false);
    return ready;
}

void lane_rest(struct lane *lane, uint64_t until_us)
{
    (void)rest(lane, -1, until_us);
}

/* ---- Serving an open port ---- */

static int32_t accept_wanted(const struct lane *lane)
{
    return lane->backlog.failing ? CFOIL_ACCEPT_NONE : lane->accept_seen;
}

/* Is there something to tell the adapter that it was not told yet? */
static bool accept_due(const struct lane *lane)
{
    bool again = lane->accept_count_seen != lane->accept_count_given && !lane->backlog.failing;
    return again || accept_wanted(lane) != lane->accept_given;
}

static void accept_apply(struct lane *lane)
{
    int32_t wanted = accept_wanted(lane);
    uint64_t now_us = lane_clock(lane);
    if (!lane->open || !accept_due(lane) || now_us < lane->accept_retry_us)
        return;
    int32_t result = seam_command(lane, CFOIL_COMMAND_ACCEPT, wanted, now_us);
    if (result != CFOIL_OK) {
        cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
        error_set(&error, result, 0, lane->adapter->id, "The device does not take the accept command yet.");
        lane_trouble(lane, CFOIL_LOG_WARNING, "accept", &error);
        lane->accept_retry_us = now_us + ACCEPT_RETRY_US;
        return;
    }
    lane->accept_given = wanted;
    lane->accept_count_given = lane->accept_count_seen;
    seam_step(lane, NULL, 0, now_us);
}

/* One wait for the port, the host or the time. A transport that has something to do by itself does it when it is read.
 */
static int port_wait(const struct lane *lane, const struct os_signal *wake, uint64_t until_us)
{
    uint64_t due_us = transport_deadline(lane->transport);
    int ready = os_wait(transport_handle(lane->transport), wake, earlier(until_us, due_us));
    return due_us != UINT64_MAX && os_monotonic_us() >= due_us ? ready | OS_READY_PORT : ready;
}

static void notice_log(struct lane *lane)
{
    const char *notice = transport_notice(lane->transport);
    if (notice != NULL)
        lane_log_write(lane, CFOIL_LOG_NOTICE, NULL, "carrier", "carrier", notice);
}

/* True when the adapter was stepped, or will not be any more. */
static bool input_take(struct lane *lane)
{
    uint32_t length;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = transport_read(lane->transport, lane->input, sizeof lane->input, &length, &error);
    if (length > 0) {
        lane->heard = true;
        seam_step(lane, lane->input, length, lane_clock(lane));
    }
    notice_log(lane);
    if (result == CFOIL_OK)
        return length > 0;
    lane->port_result = result;
    lane_trouble(lane, CFOIL_LOG_WARNING, "port_read", &error);
    return true;
}

/* What the port has, or what is due by time: also when the port has something that is nothing to the adapter. */
static void port_attend(struct lane *lane, int ready)
{
    bool stepped = (ready & OS_READY_PORT) != 0 && input_take(lane);
    if (!stepped && lane_clock(lane) >= lane->deadline_us)
        seam_step(lane, NULL, 0, lane_clock(lane));
}

/* One wait and what it brought. What is due by time is done also while bytes stream in. */
static void serve_once(struct lane *lane)
{
    uint64_t until_us = earlier(system_time(lane, lane->deadline_us), backlog_deadline(lane));
    if (accept_due(lane))
        until_us = earlier(until_us, system_time(lane, lane->accept_retry_us));
    int ready = port_wait(lane, lane->wake, until_us);
    port_attend(lane, ready);
    if ((ready & OS_READY_SIGNAL) != 0)
        lane_attend(lane);
    if (os_monotonic_us() >= backlog_deadline(lane))
        backlog_flush(lane, false);
}

static bool serving(const struct lane *lane)
{
    return !lane->closing_seen && !lane->ended && lane->port_result == CFOIL_OK;
}

static void served_set(struct lane *lane, bool served)
{
    os_mutex_lock(lane->lock);
    lane->served = served;
    lane->accept_seen = lane->accept;
    lane->accept_count_seen = lane->accept_count;
    os_mutex_unlock(lane->lock);
}

static void serve(struct lane *lane)
{
    char text[160] = "";
    lane->heard = false;
    served_set(lane, true);
    lane->port_result = CFOIL_OK;
    int32_t result = seam_open(lane, accept_wanted(lane), lane_clock(lane), text, sizeof text);
    if (result != CFOIL_OK) {
        lane_state_change(lane, CFOIL_LANE_ENDED, result, text, lane_clock(lane));
        return;
    }
    seam_step(lane, NULL, 0, lane_clock(lane));
    while (serving(lane)) {
        accept_apply(lane);
        serve_once(lane);
    }
}

/* The lane is closing: the adapter may inhibit the device with its last frame, in a short time. */
static void quit(struct lane *lane)
{
    uint64_t now_us = lane_clock(lane);
    uint64_t until_us = now_us + QUIT_MAX_US;
    bool taking = lane->state == CFOIL_LANE_ACCEPTING;
    lane->sent = false;
    if (seam_command(lane, CFOIL_COMMAND_QUIT, 0, now_us) != CFOIL_OK)
        return;
    seam_step(lane, NULL, 0, now_us);
    /* The line may be busy with an answer that comes first. A device that takes no notes needs no last word. */
    while (taking && !lane->sent && lane->port_result == CFOIL_OK && lane_clock(lane) < until_us) {
        uint64_t wait_us = earlier(lane->deadline_us, until_us);
        port_attend(lane, port_wait(lane, NULL, system_time(lane, wait_us)));
    }
    /* Written is not yet sent where packets are acknowledged. */
    while (transport_busy(lane->transport) && lane->port_result == CFOIL_OK && lane_clock(lane) < until_us) {
        if ((port_wait(lane, NULL, system_time(lane, until_us)) & OS_READY_PORT) != 0)
            (void)input_take(lane);
    }
}

/* ---- Opening the port ---- */

static uint32_t pause_next(const struct lane *lane, uint32_t pause_ms)
{
    uint32_t longer_ms = pause_ms == 0 ? PAUSE_FIRST_MS : 2 * pause_ms;
    if (lane->plugged && longer_ms > PAUSE_PLUGGED_MS)
        longer_ms = PAUSE_PLUGGED_MS;
    return longer_ms < lane->reconnect_ms ? longer_ms : lane->reconnect_ms;
}

/* True when it was cut short, because a USB device has come that may be the one. */
static bool pause(struct lane *lane, uint32_t pause_ms)
{
    uint64_t until_us = os_monotonic_us() + (uint64_t)pause_ms * 1000;
    bool arrived = false;
    while (!lane->closing_seen && !arrived && os_monotonic_us() < until_us)
        arrived = (rest(lane, arrival_handle(lane->arrival), until_us) & OS_READY_PORT) != 0;
    arrival_clear(lane->arrival);
    return arrived;
}

static void arrival_await(struct lane *lane)
{
    if (lane->plugged && lane->arrival == NULL)
        lane->arrival = arrival_begin(lane->memory);
}

static void arrival_forget(struct lane *lane)
{
    arrival_end(lane->arrival);
    lane->arrival = NULL;
}

/* False = not now; the host is told once why, the log each time. */
static bool port_open(struct lane *lane)
{
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = transport_open(lane->memory, lane->port_text, lane->way, &lane->adapter->line, OPEN_MAX_MS,
                                    lane->wake, &lane->transport, &error);
    if (result == CFOIL_OK)
        return true;
    if (result == CFOIL_E_STATE_CLOSING)
        return false; /* woken: perhaps not to close */
    lane_trouble(lane, CFOIL_LOG_WARNING, "port_open", &error);
    if (lane->state == CFOIL_LANE_OPENING)
        lane_state_change(lane, CFOIL_LANE_OPENING, result, error.text, lane_clock(lane));
    return false;
}

static void port_serve(struct lane *lane)
{
    serve(lane);
    served_set(lane, false);
    if (lane->open && lane->closing_seen && lane->port_result == CFOIL_OK && !lane->ended)
        quit(lane);
    if (lane->port_result != CFOIL_OK && !lane->closing_seen && !lane->ended)
        seam_lose(lane, lane->port_result, lane_clock(lane));
    else
        seam_close(lane);
    transport_close(lane->transport);
    lane->transport = NULL;
}

static void live_run(struct lane *lane)
{
    uint32_t pause_ms = 0;
    lane_state_change(lane, CFOIL_LANE_OPENING, CFOIL_OK, "Waiting for the port.", lane_clock(lane));
    while (!lane->closing_seen && !lane->ended) {
        bool arrived = pause(lane, pause_ms);
        lane_attend(lane);
        if (lane->closing_seen)
            break;
        lane->heard = false;
        bool opened = port_open(lane);
        if (opened) {
            arrival_forget(lane);
            port_serve(lane);
        } else if (os_wait(-1, lane->wake, 0) != 0) {
            continue; /* woken while opening: look what for, then try again */
        } else {
            arrival_await(lane);
        }
        /* A port that opens and is of no use is not opened in a tight loop either. */
        pause_ms = lane->heard || arrived ? PAUSE_FIRST_MS : pause_next(lane, pause_ms);
    }
    arrival_forget(lane);
}

void lane_run(void *user)
{
    struct lane *lane = user;
    if (lane->replay)
        lane_replay_run(lane);
    else
        live_run(lane);
    while (!lane->closing_seen)
        lane_rest(lane, UINT64_MAX);
    backlog_flush(lane, true); /* the last chance of what the ledger did not take yet */
}
