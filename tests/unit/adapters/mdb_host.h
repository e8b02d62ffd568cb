/*
 * The host of the device and bus of fake_mdb.h: it opens the adapter, feeds it, keeps what it tells, and looks at it. One
 * test file includes it once.
 */
#ifndef MDB_HOST_H
#define MDB_HOST_H

#include "fake_mdb.h"

/* ---- The host ---- */

static inline void host_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct rig *rig = user;
    assert_true(length > 0 && length % 2 == 0 && length <= mdb_adapter.frame_max);
    fake_advance(&rig->fake, rig->now_us);
    for (uint32_t i = 0; i < length; i += 2)
        word_from_master(rig, (uint16_t)(bytes[i] | bytes[i + 1] << 8));
    for (uint32_t i = 0; i < length && rig->sent_length < FAKE_SENT; i++)
        rig->sent[rig->sent_length++] = bytes[i];
}

static inline void host_event(void *user, const cfoil_adapter_event *event)
{
    struct rig *rig = user;
    assert_int_equal(event->struct_size, sizeof *event);
    assert_true(event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_LOST_EVENTS);
    assert_true(event->text[0] != '\0' && strlen(event->text) < sizeof event->text - 1);
    assert_true(rig->event_count < FAKE_EVENTS);
    rig->events[rig->event_count++] = *event;
}

static inline void host_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct rig *rig = user;
    rig->lane_state = lane_state;
    rig->lane_result = result;
    snprintf(rig->lane_text, sizeof rig->lane_text, "%s", text);
}

static inline void host_log(void *user, int32_t level, const char *key, const char *text)
{
    struct rig *rig = user;
    assert_true(level >= CFOIL_LOG_ERROR && level <= CFOIL_LOG_DEBUG && text[0] != '\0');
    snprintf(rig->last_log, sizeof rig->last_log, "%s", key);
    rig->log_count++;
}

static inline uint32_t memory_place(const struct rig *rig, const char *device)
{
    uint32_t place = 0;
    while (place < 7 && rig->memory_key[place][0] != '\0' && strcmp(rig->memory_key[place], device) != 0)
        place++;
    return place;
}

static inline uint32_t host_memory_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    struct rig *rig = user;
    uint32_t place = memory_place(rig, device);
    if (rig->memory_dead || strcmp(rig->memory_key[place], device) != 0)
        return 0;
    uint32_t length = rig->memory_length[place];
    memcpy(bytes, rig->memory[place], length < capacity ? length : capacity);
    return length;
}

static inline void host_memory_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct rig *rig = user;
    uint32_t place = memory_place(rig, device);
    assert_true(length <= 64);
    rig->store_count++;
    if (rig->memory_dead)
        return;
    snprintf(rig->memory_key[place], sizeof rig->memory_key[place], "%s", device);
    memcpy(rig->memory[place], bytes, length);
    rig->memory_length[place] = length;
}

static inline void rig_step(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {sizeof input, length, bytes, rig->now_us};
    fake_advance(&rig->fake, rig->now_us);
    uint64_t due_us = mdb_adapter.step(rig->state, &input);
    assert_true(due_us > rig->now_us); /* nothing is left undone */
    rig->deadline_us = due_us > rig->now_us + 1000 ? due_us : rig->now_us + 1000;
}

/* The host begins anew: nothing of the adapter is left but what it stored. */
static inline int32_t rig_open(struct rig *rig)
{
    cfoil_adapter_setting settings[8];
    char error[160] = "";
    uint32_t count = 0;
    for (; count < 8 && rig->settings[2 * count] != NULL; count++)
        settings[count] = (cfoil_adapter_setting){rig->settings[2 * count], rig->settings[2 * count + 1]};
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = count,
                                 .settings = settings,
                                 .host = &rig->host,
                                 .now_us = rig->now_us,
                                 .accept = (int32_t)rig->accept,
                                 .error_capacity = sizeof error,
                                 .error = error};
    memset(rig->state, 0, mdb_adapter.state_size);
    rig->line_length = 0;
    int32_t result = mdb_adapter.open(rig->state, &start);
    if (result == CFOIL_OK)
        rig_step(rig, NULL, 0);
    return result;
}

static inline struct rig *rig_new(uint32_t accept)
{
    struct rig *rig = calloc(1, sizeof *rig);
    assert_non_null(rig);
    rig->state = calloc(1, mdb_adapter.state_size);
    assert_non_null(rig->state);
    rig->host = (cfoil_adapter_host){
        sizeof rig->host, 0, rig, host_send, host_event, host_state, host_log, host_memory_load, host_memory_store};
    fake_begin(&rig->fake);
    rig->accept = accept;
    rig->now_us = 1000;
    rig->random = 1;
    return rig;
}

static inline void rig_free(struct rig *rig)
{
    free(rig->state);
    free(rig);
}

/* How many bytes that have arrived are handed over at once. */
static inline uint32_t chunk_of(struct rig *rig, uint32_t ready)
{
    uint32_t most = rig->chunks == CHUNKS_BYTE     ? 1
                    : rig->chunks == CHUNKS_RANDOM ? 1 + rig_random(rig) % 5
                    : rig->chunks == CHUNKS_WORD   ? 2
                                                   : ready;
    return ready < most ? ready : most;
}

static inline void rig_once(struct rig *rig, uint64_t until_us)
{
    uint64_t next_us = rig->deadline_us < until_us ? rig->deadline_us : until_us;
    if (rig->line_length > 0 && rig->line[0].time_us < next_us)
        next_us = rig->line[0].time_us;
    if (!rig->fake.boots && fake_moves(&rig->fake) && rig->fake.motion_us < next_us)
        next_us = rig->fake.motion_us;
    rig->now_us = next_us > rig->now_us ? next_us : rig->now_us;
    fake_advance(&rig->fake, rig->now_us);
    uint8_t bytes[FAKE_LINE];
    uint32_t ready = 0;
    while (ready < rig->line_length && rig->line[ready].time_us <= rig->now_us) {
        bytes[ready] = rig->line[ready].byte;
        ready++;
    }
    ready = chunk_of(rig, ready);
    memmove(rig->line, rig->line + ready, (rig->line_length - ready) * sizeof rig->line[0]);
    rig->line_length -= ready;
    if (ready > 0 || rig->now_us >= rig->deadline_us)
        rig_step(rig, bytes, ready);
}

static inline void rig_run(struct rig *rig, uint64_t milliseconds)
{
    uint64_t until_us = rig->now_us + milliseconds * 1000;
    while (rig->now_us < until_us)
        rig_once(rig, until_us);
}

static inline int32_t rig_command(struct rig *rig, int32_t command, int32_t argument)
{
    int32_t result = mdb_adapter.command(rig->state, command, argument, rig->now_us);
    rig_step(rig, NULL, 0);
    return result;
}

/* ---- Looking at what was told ---- */

static inline uint32_t told_count(const struct rig *rig, int32_t kind, int32_t condition)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->event_count; i++)
        count += rig->events[i].kind == kind && rig->events[i].condition == condition ? 1 : 0;
    return count;
}

static inline uint32_t told_device(const struct rig *rig, int32_t condition)
{
    return told_count(rig, CFOIL_KIND_DEVICE, condition);
}

static inline uint32_t told_stacked(const struct rig *rig)
{
    return told_count(rig, CFOIL_KIND_STACKED, CFOIL_CONDITION_NONE);
}

static inline uint32_t told_lost(const struct rig *rig)
{
    return told_count(rig, CFOIL_KIND_LOST_EVENTS, CFOIL_CONDITION_COUNTER_GAP);
}

static inline uint32_t stacked_of(const struct rig *rig, uint8_t type)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->event_count; i++)
        count += rig->events[i].kind == CFOIL_KIND_STACKED && rig->events[i].note_type == type + 1 ? 1 : 0;
    return count;
}

static inline const cfoil_adapter_event *told_last(const struct rig *rig, int32_t kind)
{
    for (uint32_t i = rig->event_count; i > 0; i--) {
        if (rig->events[i - 1].kind == kind)
            return &rig->events[i - 1];
    }
    fail_msg("no event of kind %d", kind);
    return &rig->events[0]; /* not reached; fail_msg does not say so to the compiler */
}

static inline void told_print(const struct rig *rig)
{
    for (uint32_t i = 0; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i];
        print_message("  kind %d condition %d type %d lost %u flags %u [%s] %s\n", event->kind, event->condition,
                      event->note_type, event->lost_count, event->flags, event->raw_text, event->text);
    }
    print_message("  state %d result %x %s\n", rig->lane_state, (unsigned)rig->lane_result, rig->lane_text);
}

/* Starts, and is ready in the state that goes with what is accepted. */
static inline struct rig *rig_ready(uint32_t accept, const char *const *settings)
{
    struct rig *rig = rig_new(accept);
    for (uint32_t i = 0; settings != NULL && settings[i] != NULL; i++)
        rig->settings[i] = settings[i];
    assert_int_equal(rig_open(rig), CFOIL_OK);
    rig_run(rig, 3000);
    return rig;
}

static inline void rig_forget(struct rig *rig)
{
    rig->event_count = 0;
}

/* Settings of a device that keeps no count. */
static const char *const uncounted[] = {"stacker_count", "no", NULL};

static inline struct rig *recycler_ready(void)
{
    struct rig *rig = rig_new(CFOIL_ACCEPT_ALL);
    rig->fake.setup[0] = 2;
    rig->fake.options = 0x02;
    rig->fake.recycler[3] = 5;
    rig_open(rig);
    rig_run(rig, 3000);
    assert_int_equal(rig->lane_state, CFOIL_LANE_ACCEPTING);
    return rig;
}

#endif
