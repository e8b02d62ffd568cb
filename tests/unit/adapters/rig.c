/*
 * The bench for the ccTalk adapter. See rig.h.
 */
#include "rig.h"

#include "cctalk/cctalk.h"

#include <stdio.h>
#include <stdlib.h>

/* One character of 10 bits at 9600 baud. */
#define RIG_BYTE_US UINT64_C(1042)

uint32_t rig_random(struct rig *rig, uint32_t below)
{
    rig->seed = rig->seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(rig->seed >> 33) % below;
}

/* ---- The host ---- */

static uint64_t later(uint64_t left, uint64_t right)
{
    return left > right ? left : right;
}

static void line_put(struct rig *rig, const uint8_t *bytes, uint32_t length, uint64_t from_us, bool echo)
{
    uint64_t at_us = later(from_us, rig->line_free_us);
    for (uint32_t i = 0; i < length; i++) {
        at_us += RIG_BYTE_US;
        assert_true(rig->line_count < RIG_LINE);
        struct rig_byte *slot = &rig->line[(rig->line_first + rig->line_count++) % RIG_LINE];
        *slot = (struct rig_byte){at_us, bytes[i], i + 1 == length, echo};
    }
    rig->line_free_us = at_us;
}

static void poll_note(struct rig *rig)
{
    if (rig->gap_counts && rig->polled_us != 0 && rig->now_us - rig->polled_us > rig->poll_gap_us)
        rig->poll_gap_us = rig->now_us - rig->polled_us;
    rig->polled_us = rig->now_us;
}

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct rig *rig = user;
    rig->sends_in_step++;
    assert_true(length >= 5 && length <= rig->adapter->frame_max && length <= 7);
    assert_int_equal(length, 5 + bytes[1]);
    if (!rig->loose) {
        /* Published device manuals: the bus belongs to one speaker at a time; 5 ms after a reply are common practice. */
        assert_true(rig->byte_us == 0 || rig->now_us >= rig->byte_us + 5000);
        uint64_t sent_us = rig->sent_count > 0 ? rig->sent[rig->sent_count - 1].at_us : 0;
        assert_true(rig->answered || sent_us == 0 || rig->now_us >= sent_us + rig->answer_us);
    }
    if (rig->sent_count == RIG_SENT) {
        rig->sent_count = RIG_SENT / 2;
        memmove(rig->sent, rig->sent + RIG_SENT / 2, sizeof rig->sent / 2); /* the older half is forgotten */
    }
    struct rig_sent *sent = &rig->sent[rig->sent_count++];
    *sent = (struct rig_sent){rig->now_us, bytes[3], bytes[0], bytes[1], {0, 0}};
    memcpy(sent->data, bytes + 4, bytes[1]);
    if (bytes[3] == 159)
        poll_note(rig);
    rig->answered = false;
    if (rig->echo)
        line_put(rig, bytes, length, rig->now_us, true);
    memcpy(rig->request, bytes, length);
    rig->request_length = length;
    rig->request_us = rig->now_us + length * RIG_BYTE_US;
}

static void on_event(void *user, const cfoil_adapter_event *event)
{
    struct rig *rig = user;
    assert_int_equal(event->struct_size, sizeof *event);
    assert_true(event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_LOST_EVENTS);
    assert_true(event->text[0] != '\0' && memchr(event->text, '\0', sizeof event->text) != NULL);
    assert_true(event->kind != CFOIL_KIND_STACKED || (event->value_minor > 0 && event->currency[0] != '\0'));
    assert_true(rig->event_count < RIG_EVENTS);
    rig->events[rig->event_count++] = (struct rig_event){rig->now_us, *event};
    if (event->kind == CFOIL_KIND_HELD && rig->policy != POLICY_NONE)
        rig->decide_us = rig->now_us + rig->decide_after_us;
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct rig *rig = user;
    assert_true(lane_state >= CFOIL_LANE_STARTING && lane_state <= CFOIL_LANE_ENDED && text[0] != '\0');
    assert_true(rig->state_count < RIG_STATES);
    struct rig_state *state = &rig->states[rig->state_count++];
    state->at_us = rig->now_us;
    state->state = lane_state;
    state->result = result;
    snprintf(state->text, sizeof state->text, "%s", text);
    rig->gap_counts = lane_state == CFOIL_LANE_ACCEPTING || lane_state == CFOIL_LANE_IDLE;
    if (!rig->gap_counts)
        rig->polled_us = 0;
}

static void on_log(void *user, int32_t level, const char *key, const char *text)
{
    struct rig *rig = user;
    assert_true(level >= CFOIL_LOG_ERROR && level <= CFOIL_LOG_DEBUG && key[0] != '\0' && text[0] != '\0');
    snprintf(rig->logs[rig->log_count++ % RIG_LOGS], sizeof rig->logs[0], "%s", key);
}

static struct rig_memory *memory_find(struct rig *rig, const char *device)
{
    for (uint32_t i = 0; i < RIG_MEMORIES; i++) {
        struct rig_memory *memory = &rig->memories[i];
        if (memory->device[0] == '\0')
            snprintf(memory->device, sizeof memory->device, "%s", device);
        if (strcmp(memory->device, device) == 0)
            return memory;
    }
    fail_msg("too many devices");
    return NULL;
}

static uint32_t on_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    struct rig_memory *memory = memory_find(user, device);
    if (memory->length > 0)
        memcpy(bytes, memory->bytes, memory->length < capacity ? memory->length : capacity);
    return memory->length;
}

static void on_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct rig_memory *memory = memory_find(user, device);
    assert_true(length <= sizeof memory->bytes);
    memory->length = length;
    memcpy(memory->bytes, bytes, length);
}

/* ---- Life ---- */

struct rig *rig_begin(void)
{
    struct rig *rig = calloc(1, sizeof *rig);
    assert_non_null(rig);
    fake_begin(&rig->fake);
    rig->adapter = &cctalk_adapter;
    rig->host = (cfoil_adapter_host){.struct_size = sizeof rig->host,
                                     .user = rig,
                                     .send = on_send,
                                     .event = on_event,
                                     .state = on_state,
                                     .log = on_log,
                                     .memory_load = on_load,
                                     .memory_store = on_store};
    rig->state = malloc(rig->adapter->state_size);
    rig->now_us = 1000000;
    rig->answer_us = 120000;
    rig->request_us = UINT64_MAX;
    rig->decide_us = UINT64_MAX;
    rig->seed = 1;
    return rig;
}

void rig_end(struct rig *rig)
{
    free(rig->state);
    free(rig);
}

static uint32_t settings_cut(char *text, cfoil_adapter_setting *settings)
{
    uint32_t count = 0;
    char *rest = text;
    while (rest != NULL && *rest != '\0') {
        char *value = strchr(rest, '=');
        char *next = strchr(rest, ';');
        if (next != NULL)
            *next++ = '\0';
        *value++ = '\0';
        settings[count++] = (cfoil_adapter_setting){rest, value};
        rest = next;
    }
    return count;
}

int32_t rig_open(struct rig *rig, int32_t accept, const char *settings, char *error)
{
    char text[1024];
    cfoil_adapter_setting items[32];
    snprintf(text, sizeof text, "%s", settings);
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .setting_count = settings_cut(text, items),
                                 .settings = items,
                                 .host = &rig->host,
                                 .now_us = rig->now_us,
                                 .accept = accept,
                                 .error_capacity = error != NULL ? 160 : 0,
                                 .error = error};
    memset(rig->state, 0, rig->adapter->state_size);
    rig->deadline_us = rig->now_us;
    rig->quit_sent = false;
    rig->gap_counts = false;
    rig->polled_us = 0;
    return rig->adapter->open(rig->state, &start);
}

void rig_start(struct rig *rig, int32_t accept, const char *settings)
{
    char error[160] = "";
    if (rig_open(rig, accept, settings, error) != CFOIL_OK)
        fail_msg("%s", error);
}

void rig_ready(struct rig *rig, int32_t accept)
{
    rig_start(rig, accept, "");
    if (!rig_run_until_state(rig, accept == CFOIL_ACCEPT_NONE ? CFOIL_LANE_IDLE : CFOIL_LANE_ACCEPTING, 20000)) {
        rig_dump(rig);
        fail_msg("not ready");
    }
}

void rig_restart(struct rig *rig, int32_t accept)
{
    rig->line_count = 0;
    rig->decide_us = UINT64_MAX;
    rig->byte_us = 0;
    rig->answered = true;
    rig->states[rig->state_count++] = (struct rig_state){rig->now_us, 0, 0, "the host ended"};
    rig_start(rig, accept, "");
}

/* ---- Time ---- */

static void step(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {.struct_size = sizeof input, .length = length, .bytes = bytes, .now_us = rig->now_us};
    rig->steps_now = rig->step_us == rig->now_us ? rig->steps_now + 1 : 0;
    rig->step_us = rig->now_us;
    assert_true(rig->steps_now < 8); /* no busy loop */
    rig->sends_in_step = 0;
    rig->deadline_us = rig->adapter->step(rig->state, &input);
    assert_true(rig->sends_in_step <= 1);
    assert_true(rig->deadline_us > rig->now_us);
}

int32_t rig_command(struct rig *rig, int32_t command, int32_t argument)
{
    int32_t result = rig->adapter->command(rig->state, command, argument, rig->now_us);
    if (result == CFOIL_OK)
        step(rig, NULL, 0);
    return result;
}

static void decide(struct rig *rig)
{
    rig->decide_us = UINT64_MAX;
    bool stack = rig->policy == POLICY_STACK || (rig->policy == POLICY_MIXED && rig_random(rig, 3) != 0);
    (void)rig_command(rig, stack ? CFOIL_COMMAND_STACK : CFOIL_COMMAND_RETURN, 0); /* the note may have gone */
}

static void deliver(struct rig *rig)
{
    uint8_t bytes[RIG_LINE];
    uint32_t length = 0;
    uint32_t first = rig->line_first;
    uint32_t ready = 0;
    while (ready < rig->line_count && rig->line[(first + ready) % RIG_LINE].at_us <= rig->now_us) {
        const struct rig_byte *byte = &rig->line[(first + ready++) % RIG_LINE];
        bytes[length++] = byte->byte;
        if (!byte->echo) {
            rig->byte_us = byte->at_us;
            rig->answered = rig->answered || byte->end;
        }
    }
    rig->line_first = (first + ready) % RIG_LINE;
    rig->line_count -= ready;
    if (!rig->cut && length > 0)
        step(rig, bytes, length);
}

/* When the next bytes reach the host: with each byte, at the end of what was sent, or somewhere between. */
static uint64_t deliver_next(struct rig *rig)
{
    for (uint32_t i = 0; i < rig->line_count; i++) {
        const struct rig_byte *byte = &rig->line[(rig->line_first + i) % RIG_LINE];
        bool now = rig->chunks == CHUNKS_BYTES || byte->end;
        if (now || (rig->chunks == CHUNKS_RANDOM && rig_random(rig, 4) == 0))
            return byte->at_us;
    }
    return UINT64_MAX;
}

static void request_arrive(struct rig *rig)
{
    struct fake_answer answer;
    uint64_t end_us = rig->request_us;
    rig->request_us = UINT64_MAX;
    if (rig->cut)
        return;
    fake_request(&rig->fake, rig->request, rig->request_length, end_us, &answer);
    if (answer.length > 0)
        line_put(rig, answer.bytes, answer.length, end_us + answer.delay_us, false);
}

void rig_run(struct rig *rig, uint32_t ms)
{
    uint64_t until_us = rig->now_us + 1000 * (uint64_t)ms;
    uint64_t bytes_us = deliver_next(rig);
    while (rig->now_us < until_us) {
        uint64_t next_us = until_us;
        uint64_t times[] = {rig->deadline_us, bytes_us, rig->request_us, fake_next(&rig->fake), rig->decide_us};
        for (uint32_t i = 0; i < sizeof times / sizeof times[0]; i++)
            next_us = times[i] < next_us ? times[i] : next_us;
        rig->now_us = later(rig->now_us, next_us);
        fake_advance(&rig->fake, rig->now_us);
        if (rig->request_us <= rig->now_us)
            request_arrive(rig);
        else if (bytes_us <= rig->now_us)
            deliver(rig);
        else if (rig->decide_us <= rig->now_us)
            decide(rig);
        else if (rig->deadline_us <= rig->now_us)
            step(rig, NULL, 0);
        bytes_us = deliver_next(rig);
    }
}

bool rig_run_until_state(struct rig *rig, int32_t state, uint32_t limit_ms)
{
    for (uint32_t ms = 0; ms < limit_ms && rig_lane_state(rig) != state; ms += 5)
        rig_run(rig, 5);
    return rig_lane_state(rig) == state;
}

bool rig_run_until_event(struct rig *rig, int32_t kind, uint32_t limit_ms)
{
    uint32_t before = rig_count(rig, kind);
    for (uint32_t ms = 0; ms < limit_ms && rig_count(rig, kind) == before; ms += 5)
        rig_run(rig, 5);
    return rig_count(rig, kind) > before;
}

void rig_bytes(struct rig *rig, const uint8_t *bytes, uint32_t length)
{
    line_put(rig, bytes, length, rig->now_us, false);
}

/* ---- What was seen ---- */

int32_t rig_lane_state(const struct rig *rig)
{
    return rig->state_count > 0 ? rig->states[rig->state_count - 1].state : 0;
}

uint32_t rig_count(const struct rig *rig, int32_t kind)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->event_count; i++)
        count += rig->events[i].event.kind == kind ? 1 : 0;
    return count;
}

uint32_t rig_conditions(const struct rig *rig, int32_t condition)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->event_count; i++)
        count += rig->events[i].event.condition == condition ? 1 : 0;
    return count;
}

uint32_t rig_requests(const struct rig *rig, uint8_t header, int32_t first)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->sent_count; i++)
        count += rig->sent[i].header == header && (first < 0 || rig->sent[i].data[0] == first) ? 1 : 0;
    return count;
}

uint32_t rig_logged(const struct rig *rig, const char *key)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < rig->log_count && i < RIG_LOGS; i++)
        count += strcmp(rig->logs[i], key) == 0 ? 1 : 0;
    return count;
}

const cfoil_adapter_event *rig_last(const struct rig *rig, int32_t kind)
{
    for (uint32_t i = rig->event_count; i > 0; i--) {
        if (rig->events[i - 1].event.kind == kind)
            return &rig->events[i - 1].event;
    }
    fail_msg("no event of kind %d", kind);
    return NULL;
}

void rig_forget(struct rig *rig)
{
    rig->event_count = 0;
    rig->sent_count = 0;
    rig->log_count = 0;
    if (rig->state_count > 0)
        rig->states[0] = rig->states[rig->state_count - 1];
    rig->state_count = rig->state_count > 0 ? 1 : 0;
}

void rig_dump(const struct rig *rig)
{
    print_message("now %llu us, %u stacked, %u returned, %u rejected\n", (unsigned long long)rig->now_us,
                  rig->fake.stacked_count, rig->fake.returned_count, rig->fake.rejected_count);
    for (uint32_t i = 0; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i].event;
        print_message("  %10llu event kind %d condition %d type %d flags %u lost %u raw '%s' %s\n",
                      (unsigned long long)rig->events[i].at_us, event->kind, event->condition, event->note_type,
                      event->flags, event->lost_count, event->raw_text, event->text);
    }
    for (uint32_t i = 0; i < rig->state_count; i++)
        print_message("  %10llu state %d %s\n", (unsigned long long)rig->states[i].at_us, rig->states[i].state,
                      rig->states[i].text);
    for (uint32_t i = rig->sent_count > 60 ? rig->sent_count - 60 : 0; i < rig->sent_count; i++)
        print_message("  %10llu sent %u [%u %u] to %u\n", (unsigned long long)rig->sent[i].at_us, rig->sent[i].header,
                      rig->sent[i].data[0], rig->sent[i].data[1], rig->sent[i].address);
    for (uint32_t i = 0; i < rig->log_count && i < RIG_LOGS; i++)
        print_message("  log %s\n", rig->logs[i]);
}

uint32_t rig_stacked_check(const struct rig *rig)
{
    uint32_t at = 0;
    for (uint32_t i = 0; i < rig->event_count; i++) {
        const cfoil_adapter_event *event = &rig->events[i].event;
        if (event->kind != CFOIL_KIND_STACKED)
            continue;
        while (at < rig->fake.stacked_count && rig->fake.stacked[at] != event->note_type)
            at++; /* missed: counted below */
        if (at == rig->fake.stacked_count) {
            rig_dump(rig);
            fail_msg("more was told as stacked than the device stacked");
        }
        at++;
    }
    return rig->fake.stacked_count - rig_count(rig, CFOIL_KIND_STACKED);
}
