/*
 * How do events get into the ledger first and to the host then, in order, each once, also while the ledger fails?
 */
#include "lane/parts.h"
#include "model/error.h"
#include "model/text.h"
#include "os/os.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* A ledger that is busy or full for a moment is waited for, with the host's events; after lane->failing_after_us the
 * host gets them unrecorded and the device takes no more notes. */
#define RETRY_FIRST_US   UINT64_C(50000)
#define RETRY_LONGEST_US UINT64_C(1000000)
#define REPLAY_WAIT_US   UINT64_C(3600000000)

/* ---- To the host ---- */

/* A replay is as fast as the host: it waits for room where a device would not. */
static void room_await(struct lane *lane)
{
    while (lane->replay && queue_full(&lane->queue) && !lane->closing) {
        os_condition_wake_all(lane->changed);
        (void)os_condition_wait(lane->changed, lane->lock, os_monotonic_us() + REPLAY_WAIT_US);
    }
}

static void host_push(struct lane *lane, const struct told *told)
{
    room_await(lane);
    if (told->overflow) {
        queue_overflow_push(&lane->queue, &told->event);
        lane->overflowing = false;
    } else if (!queue_push(&lane->queue, &told->event)) {
        lane->overflowing = true;
    }
    if (lane->watch != NULL && lane->queue.count == 1)
        os_signal_set(lane->watch);
}

static void group_deliver(struct lane *lane, struct group *group, const struct told *events)
{
    group->delivered = true;
    if (group->count == 0)
        return;
    os_mutex_lock(lane->lock);
    for (uint32_t i = 0; i < group->count; i++)
        host_push(lane, &events[i]);
    os_mutex_unlock(lane->lock);
    /* After the unlock: who wakes finds the lock free. */
    os_condition_wake_all(lane->changed);
}

static void all_deliver(struct lane *lane)
{
    const struct told *events = lane->backlog.events;
    for (uint32_t i = 0; i < lane->backlog.group_count; i++) {
        struct group *group = &lane->backlog.groups[i];
        if (!group->delivered)
            group_deliver(lane, group, events);
        events += group->count;
    }
}

static void first_remove(struct backlog *backlog)
{
    uint32_t count = backlog->groups[0].count;
    backlog->event_count -= count;
    backlog->group_count--;
    memmove(backlog->events, backlog->events + count, backlog->event_count * sizeof backlog->events[0]);
    memmove(backlog->groups, backlog->groups + 1, backlog->group_count * sizeof backlog->groups[0]);
}

/* ---- A ledger that fails ---- */

static bool worth_retrying(int32_t result)
{
    return result == CFOIL_E_LEDGER_BUSY || result == CFOIL_E_LEDGER_FULL || result == CFOIL_E_LEDGER_FAILED ||
           result == CFOIL_E_MEMORY;
}

static void failing_tell(struct lane *lane)
{
    cfoil_event event = {.kind = CFOIL_KIND_DEVICE, .condition = CFOIL_CONDITION_LEDGER_FAILING};
    text_copy(event.text, sizeof event.text,
              "Events cannot be recorded: no more notes are taken. Look at the disk of the ledger.");
    backlog_begin(lane, lane->now_us);
    backlog_event_add(lane, &event);
    backlog_end(lane);
}

static void failing_begin(struct lane *lane)
{
    lane->backlog.failing = true;
    all_deliver(lane);
    failing_tell(lane);
}

static void record_failed(struct lane *lane, int32_t result)
{
    struct backlog *backlog = &lane->backlog;
    uint64_t now_us = os_monotonic_us();
    if (backlog->failed_since_us == 0) {
        backlog->failed_since_us = now_us;
        backlog->pause_us = RETRY_FIRST_US;
    } else if (backlog->pause_us < RETRY_LONGEST_US) {
        backlog->pause_us = 2 * backlog->pause_us < RETRY_LONGEST_US ? 2 * backlog->pause_us : RETRY_LONGEST_US;
    }
    backlog->retry_us = now_us + backlog->pause_us;
    bool too_long = now_us - backlog->failed_since_us >= lane->failing_after_us;
    if (!backlog->failing && (too_long || !worth_retrying(result)))
        failing_begin(lane);
}

static void unrecorded_tell(struct lane *lane)
{
    cfoil_event event = {.kind = CFOIL_KIND_LOST_EVENTS,
                         .condition = CFOIL_CONDITION_LEDGER_FAILING,
                         .lost_count = lane->backlog.unrecorded};
    (void)snprintf(event.text, sizeof event.text,
                   "%" PRIu32 " events were told but are not in the ledger: reconcile by hand.", event.lost_count);
    lane->backlog.unrecorded = 0;
    backlog_begin(lane, lane->now_us);
    backlog_event_add(lane, &event);
    backlog_end(lane);
}

/* The ledger has everything again, but for what found no place. */
static void recovered(struct lane *lane)
{
    lane->backlog.failing = false;
    lane_log_write(lane, CFOIL_LOG_NOTICE, NULL, "lane", "ledger_recovered", "Events are recorded again.");
    for (uint32_t i = 0; i < lane->devices.count; i++) {
        if (!lane->devices.items[i].stored)
            journal_memory(lane, &lane->devices.items[i].memory);
    }
    if (lane->backlog.unrecorded > 0)
        unrecorded_tell(lane);
}

void backlog_flush(struct lane *lane, bool now)
{
    struct backlog *backlog = &lane->backlog;
    if (backlog->failing)
        all_deliver(lane);
    if (!now && backlog->retry_us != 0 && os_monotonic_us() < backlog->retry_us)
        return;
    while (backlog->group_count > 0) {
        int32_t result = journal_group(lane, &backlog->groups[0], backlog->events);
        if (result != CFOIL_OK) {
            record_failed(lane, result);
            return;
        }
        backlog->failed_since_us = 0;
        backlog->retry_us = 0;
        if (!backlog->groups[0].delivered)
            group_deliver(lane, &backlog->groups[0], backlog->events);
        first_remove(backlog);
    }
    if (backlog->failing)
        recovered(lane);
}

uint64_t backlog_deadline(const struct lane *lane)
{
    return lane->backlog.group_count > 0 ? lane->backlog.retry_us : UINT64_MAX;
}

/* ---- From the adapter ---- */

static bool backlog_full(const struct backlog *backlog, uint32_t places)
{
    return backlog->group_count + places > BACKLOG_GROUPS_MAX || backlog->event_count + places > BACKLOG_EVENTS_MAX;
}

/* Everything there is goes to the host; what the ledger does not take is given up, the oldest first. */
static void room_make(struct lane *lane)
{
    struct backlog *backlog = &lane->backlog;
    backlog_flush(lane, false);
    if (!backlog_full(backlog, 1))
        return;
    bool first = !backlog->failing;
    backlog->failing = true;
    all_deliver(lane);
    while (backlog_full(backlog, first ? 2 : 1)) {
        backlog->unrecorded += backlog->groups[0].count;
        first_remove(backlog);
    }
    if (first)
        failing_tell(lane);
}

void backlog_begin(struct lane *lane, uint64_t now_us)
{
    struct backlog *backlog = &lane->backlog;
    lane->now_us = now_us;
    if (backlog_full(backlog, 1))
        room_make(lane);
    backlog->groups[backlog->group_count] = (struct group){0};
}

/* A memory without events joins the group before it: nothing was told in between, and a ledger that is busy for a while
 * is not drowned in counters. */
static bool memory_join(struct backlog *backlog, const struct group *group)
{
    if (group->count > 0 || backlog->group_count == 0)
        return false;
    struct group *before = &backlog->groups[backlog->group_count - 1];
    if (before->memory_set && strcmp(before->memory.device, group->memory.device) != 0)
        return false;
    before->memory_set = true;
    before->memory = group->memory;
    return true;
}

void backlog_end(struct lane *lane)
{
    struct backlog *backlog = &lane->backlog;
    const struct group *group = &backlog->groups[backlog->group_count];
    bool memory_due = group->memory_set && lane->ledger != NULL && !lane->replay &&
                      device_differs(&lane->devices, &group->memory);
    if (group->count == 0 && !memory_due)
        return;
    if (!memory_join(backlog, group))
        backlog->group_count++;
    backlog_flush(lane, false);
}

/* What the host's calls may do with the note in escrow. */
static void held_note_follow(struct lane *lane, const cfoil_event *event)
{
    uint64_t held = lane->presentations.held;
    if (event->kind != CFOIL_KIND_HELD && lane->held.presentation == held)
        return;
    os_mutex_lock(lane->lock);
    lane->held = (struct held_note){.presentation = held};
    os_mutex_unlock(lane->lock);
}

void backlog_event_add(struct lane *lane, cfoil_event *event)
{
    struct backlog *backlog = &lane->backlog;
    if (backlog->event_count == BACKLOG_EVENTS_MAX) {
        /* More than one call should tell: the part so far becomes a group of its own. The device's memory stays with
         * the last part, so that it never counts an event that is not recorded. */
        struct group rest = backlog->groups[backlog->group_count];
        backlog->groups[backlog->group_count].memory_set = false;
        backlog_end(lane);
        backlog_begin(lane, lane->now_us);
        backlog->groups[backlog->group_count] = rest;
        backlog->groups[backlog->group_count].count = 0;
    }
    event->struct_size = sizeof *event;
    event->sequence = ++lane->sequence;
    event->time_utc_ms = os_time_utc_ms();
    event->monotonic_us = lane->now_us;
    event->lane_state = lane->state;
    event->presentation = presentation_assign(&lane->presentations, event);
    held_note_follow(lane, event);
    backlog->events[backlog->event_count++] = (struct told){.event = *event};
    backlog->groups[backlog->group_count].count++;
}

void backlog_memory_set(struct lane *lane, const struct device_memory *memory)
{
    struct group *group = &lane->backlog.groups[lane->backlog.group_count];
    if (group->memory_set && strcmp(group->memory.device, memory->device) != 0) {
        /* One transaction holds one device: a second one gets a group of its own. */
        backlog_end(lane);
        backlog_begin(lane, lane->now_us);
        group = &lane->backlog.groups[lane->backlog.group_count];
    }
    group->memory_set = true;
    group->memory = *memory;
}

/* ---- What the lane itself tells ---- */

void backlog_overflow_tell(struct lane *lane, uint64_t now_us)
{
    /* In order: not before the events that were told earlier are with the host. */
    if (!lane->overflowing || lane->backlog.group_count > 0)
        return;
    os_mutex_lock(lane->lock);
    bool due = queue_overflow_due(&lane->queue);
    uint32_t dropped = lane->queue.dropped;
    os_mutex_unlock(lane->lock);
    if (!due)
        return;
    cfoil_event event = {
        .kind = CFOIL_KIND_LOST_EVENTS, .condition = CFOIL_CONDITION_QUEUE_OVERFLOW, .lost_count = dropped};
    (void)snprintf(event.text, sizeof event.text,
                   "%" PRIu32 " events were dropped because they were not fetched in time.", dropped);
    backlog_begin(lane, now_us);
    backlog_event_add(lane, &event);
    lane->backlog.events[lane->backlog.event_count - 1].overflow = true;
    backlog_end(lane);
}

void lane_state_tell(struct lane *lane, int32_t state, int32_t result, const char *text)
{
    if (lane->state == state && lane->state_result == result)
        return;
    lane->state = state;
    lane->state_result = result;
    lane->ended = state == CFOIL_LANE_ENDED;
    cfoil_event event = {.kind = CFOIL_KIND_LANE_STATE, .result = result};
    text_copy(event.text, sizeof event.text, text);
    backlog_event_add(lane, &event);
}

void lane_state_change(struct lane *lane, int32_t state, int32_t result, const char *text, uint64_t now_us)
{
    backlog_begin(lane, now_us);
    lane_state_tell(lane, state, result, text);
    backlog_end(lane);
}
