/*
 * The bench for described devices: a virtual clock, a line that delivers in whole messages, single bytes or random pieces,
 * and a host that counts what it is told. The device is a function of the test. What holds for every step is asserted here.
 */
#ifndef DESCRIBED_RIG_H
#define DESCRIBED_RIG_H

#include "described/described.h"
#include "packs/description.h"
#include "test.h"

#include <stdio.h>
#include <stdlib.h>

enum { RIG_LINE = 65536, RIG_EVENTS = 8192, RIG_STATES = 4096, RIG_SENT = 64 };

enum rig_chunks { CHUNKS_WHOLE, CHUNKS_BYTES, CHUNKS_RANDOM };
enum rig_policy { RIG_UNDECIDED, RIG_STACKS, RIG_RETURNS, RIG_MIXED };

struct rig_byte {
    uint64_t at_us;
    uint8_t byte;
};

struct rig {
    struct description *description;
    cfoil_adapter adapter;
    cfoil_adapter_host host;
    void *state;
    uint64_t now_us;
    uint64_t deadline_us;
    uint64_t step_us;
    uint32_t steps_now;
    uint32_t seed;
    enum rig_chunks chunks;
    enum rig_policy policy;
    uint64_t decide_us;

    uint32_t line_first, line_count;
    struct rig_byte line[RIG_LINE];
    uint64_t line_free_us;

    void *device;
    void (*heard)(struct rig *rig, const uint8_t *bytes, uint32_t length); /* what the adapter sent */
    uint64_t (*lives)(struct rig *rig); /* what the device does by itself; returns when it wants to be called next */
    uint64_t life_us;

    uint32_t event_count;
    cfoil_adapter_event events[RIG_EVENTS];
    uint32_t state_count;
    int32_t states[RIG_STATES];
    int32_t state_now;
    int32_t result_now;
    uint32_t sent_count;
    uint32_t credited[65536 / 256];
    uint32_t shortfalls;
    uint32_t memory_length;
    uint8_t memory[64];
    char memory_key[48];
};

static inline uint32_t rig_random(struct rig *rig, uint32_t below)
{
    rig->seed = rig->seed * 1664525u + 1013904223u;
    return (rig->seed >> 8) % below;
}

/* The device says something, `delay_us` from now; bytes never overtake each other. */
static inline void rig_put(struct rig *rig, const void *bytes, uint32_t length, uint64_t delay_us)
{
    uint64_t at_us = rig->now_us + delay_us;
    if (at_us < rig->line_free_us)
        at_us = rig->line_free_us;
    for (uint32_t i = 0; i < length; i++) {
        assert_true(rig->line_count < RIG_LINE);
        bool piece = rig->chunks == CHUNKS_BYTES || (rig->chunks == CHUNKS_RANDOM && rig_random(rig, 3) == 0);
        at_us += piece ? 1100 : 0;
        rig->line[(rig->line_first + rig->line_count++) % RIG_LINE] = (struct rig_byte){at_us,
                                                                                        ((const uint8_t *)bytes)[i]};
    }
    rig->line_free_us = at_us + 1;
}

static inline void rig_put_text(struct rig *rig, const char *text)
{
    rig_put(rig, text, (uint32_t)strlen(text), 0);
}

static void rig_on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct rig *rig = user;
    assert_true(length >= 1 && length <= rig->adapter.frame_max);
    rig->sent_count++;
    if (rig->heard != NULL)
        rig->heard(rig, bytes, length);
}

static const struct described_note *rig_note_find(const struct rig *rig, int32_t type)
{
    for (uint32_t i = 0; i < rig->description->note_count; i++) {
        if (rig->description->notes[i].type == type)
            return &rig->description->notes[i];
    }
    return NULL;
}

static void rig_on_event(void *user, const cfoil_adapter_event *event)
{
    struct rig *rig = user;
    assert_int_equal(event->struct_size, sizeof *event);
    assert_true(event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_LOST_EVENTS);
    assert_true(event->text[0] != '\0' && memchr(event->text, '\0', sizeof event->text) != NULL);
    assert_true(event->finding_count <= CFOIL_FINDINGS_MAX && event->raw_length <= CFOIL_RAW_MAX);
    assert_true(rig->event_count < RIG_EVENTS);
    rig->events[rig->event_count++] = *event;
    if (event->kind == CFOIL_KIND_STACKED) {
        const struct described_note *note = rig_note_find(rig, event->note_type);
        assert_non_null(note);
        assert_true(event->value_minor > 0 && event->value_minor == note->value_minor);
        assert_string_equal(event->currency, note->currency);
        rig->credited[event->note_type & 0xFF]++;
    }
    bool short_told = event->kind == CFOIL_KIND_LOST_EVENTS ||
                      event->condition == CFOIL_CONDITION_AMOUNT_MAY_BE_SHORT ||
                      event->condition == CFOIL_CONDITION_OUTCOME_UNKNOWN ||
                      event->condition == CFOIL_CONDITION_UNKNOWN_NOTE_STACKED;
    rig->shortfalls += short_told ? 1 : 0;
    if (event->kind == CFOIL_KIND_HELD && rig->policy != RIG_UNDECIDED)
        rig->decide_us = rig->now_us + 120000;
}

static void rig_on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct rig *rig = user;
    assert_true(lane_state >= CFOIL_LANE_STARTING && lane_state <= CFOIL_LANE_ENDED && text[0] != '\0');
    assert_true(rig->state_count < RIG_STATES);
    rig->states[rig->state_count++] = lane_state;
    rig->state_now = lane_state;
    rig->result_now = result;
}

static void rig_on_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    assert_true(level >= CFOIL_LOG_ERROR && level <= CFOIL_LOG_DEBUG && key[0] != '\0' && text[0] != '\0');
}

static uint32_t rig_on_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    struct rig *rig = user;
    if (strcmp(device, rig->memory_key) != 0)
        return 0;
    memcpy(bytes, rig->memory, rig->memory_length < capacity ? rig->memory_length : capacity);
    return rig->memory_length;
}

static void rig_on_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct rig *rig = user;
    assert_true(length <= sizeof rig->memory);
    snprintf(rig->memory_key, sizeof rig->memory_key, "%s", device);
    memcpy(rig->memory, bytes, length);
    rig->memory_length = length;
}

static inline struct rig *rig_make(struct description *description)
{
    struct rig *rig = calloc(1, sizeof *rig);
    assert_non_null(rig);
    rig->description = description;
    described_adapter_make(description, &rig->adapter);
    rig->host = (cfoil_adapter_host){.struct_size = sizeof rig->host,
                                     .user = rig,
                                     .send = rig_on_send,
                                     .event = rig_on_event,
                                     .state = rig_on_state,
                                     .log = rig_on_log,
                                     .memory_load = rig_on_load,
                                     .memory_store = rig_on_store};
    rig->state = malloc(rig->adapter.state_size);
    rig->now_us = 1000000;
    rig->seed = 1;
    rig->life_us = UINT64_MAX;
    rig->decide_us = UINT64_MAX;
    return rig;
}

static inline struct rig *rig_of_text(const char *text)
{
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (description_parse(&memory_heap, "test.json", text, strlen(text), &description, &error) != CFOIL_OK)
        fail_msg("%s", error.text);
    return rig_make(description);
}

static inline struct rig *rig_of_example(const char *name)
{
    char path[512];
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    snprintf(path, sizeof path, SOURCE_DIR "/examples/descriptions/%s.json", name);
    if (description_load(&memory_heap, path, &description, &error) != CFOIL_OK)
        fail_msg("%s", error.text);
    return rig_make(description);
}

static inline void rig_end(struct rig *rig)
{
    memory_release(&memory_heap, rig->description);
    free(rig->state);
    free(rig);
}

static inline void rig_open(struct rig *rig, int32_t accept)
{
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .host = &rig->host,
                                 .now_us = rig->now_us,
                                 .accept = accept,
                                 .adapter = &rig->adapter};
    memset(rig->state, 0, rig->adapter.state_size);
    rig->deadline_us = rig->now_us;
    rig->line_count = 0;
    rig->decide_us = UINT64_MAX;
    assert_int_equal(rig->adapter.open(rig->state, &start), CFOIL_OK);
}

static inline void rig_step(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {.struct_size = sizeof input, .length = length, .bytes = bytes, .now_us = rig->now_us};
    rig->steps_now = rig->step_us == rig->now_us ? rig->steps_now + 1 : 0;
    rig->step_us = rig->now_us;
    assert_true(rig->steps_now < 16); /* no busy loop */
    rig->deadline_us = rig->adapter.step(rig->state, &input);
    assert_true(rig->deadline_us > rig->now_us);
}

static inline int32_t rig_command(struct rig *rig, int32_t command, int32_t argument)
{
    int32_t result = rig->adapter.command(rig->state, command, argument, rig->now_us);
    if (result == CFOIL_OK)
        rig_step(rig, NULL, 0);
    return result;
}

static inline uint64_t rig_sooner(uint64_t left, uint64_t right)
{
    return left < right ? left : right;
}

static inline void rig_deliver(struct rig *rig)
{
    static uint8_t bytes[RIG_LINE];
    uint32_t length = 0;
    while (rig->line_count > 0 && rig->line[rig->line_first].at_us <= rig->now_us) {
        bytes[length++] = rig->line[rig->line_first].byte;
        rig->line_first = (rig->line_first + 1) % RIG_LINE;
        rig->line_count--;
    }
    if (length > 0)
        rig_step(rig, bytes, length);
}

static inline void rig_decide(struct rig *rig)
{
    rig->decide_us = UINT64_MAX;
    bool stack = rig->policy == RIG_STACKS || (rig->policy == RIG_MIXED && rig_random(rig, 3) != 0);
    (void)rig_command(rig, stack ? CFOIL_COMMAND_STACK : CFOIL_COMMAND_RETURN, 0); /* the note may have gone */
}

/* Lets so many milliseconds pass. */
static inline void rig_run(struct rig *rig, uint64_t duration_ms)
{
    uint64_t end_us = rig->now_us + 1000 * duration_ms;
    for (;;) {
        uint64_t next_us = rig_sooner(rig_sooner(rig->deadline_us, rig->life_us), rig->decide_us);
        if (rig->line_count > 0)
            next_us = rig_sooner(next_us, rig->line[rig->line_first].at_us);
        if (next_us > end_us)
            break;
        if (next_us > rig->now_us)
            rig->now_us = next_us;
        if (rig->life_us <= rig->now_us) {
            rig->life_us = rig->lives(rig);
            assert_true(rig->life_us > rig->now_us);
        }
        if (rig->decide_us <= rig->now_us)
            rig_decide(rig);
        rig_deliver(rig);
        if (rig->deadline_us <= rig->now_us)
            rig_step(rig, NULL, 0);
    }
    rig->now_us = end_us;
}

/* The device says a text, and a moment passes. */
static inline void rig_say(struct rig *rig, const char *text)
{
    rig_put_text(rig, text);
    rig_run(rig, 1000);
}

static inline uint32_t rig_count(const struct rig *rig, int32_t kind, int32_t condition)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i];
        count += event->kind == kind && (condition == CFOIL_CONDITION_NONE || event->condition == condition) ? 1 : 0;
    }
    return count;
}

static inline uint32_t rig_credits(const struct rig *rig)
{
    return rig_count(rig, CFOIL_KIND_STACKED, CFOIL_CONDITION_NONE);
}

static inline const cfoil_adapter_event *rig_last(const struct rig *rig)
{
    assert_true(rig->event_count > 0);
    return &rig->events[rig->event_count - 1];
}

#endif
