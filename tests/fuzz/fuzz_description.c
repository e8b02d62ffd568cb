/*
 * Any bytes as a device description: refused with a reason, or loaded and then usable. A device that is loaded is driven
 * for a while by random bytes and by random messages that are well formed; no money may come of it that the description's
 * table does not have, and no call may ask to be called again at once for ever.
 */
#include "fuzz.h"

#include "described/check.h"
#include "described/described.h"
#include "described/wire.h"
#include "packs/description.h"

struct host {
    const struct description *description;
    uint32_t sent;
};

static uint32_t seed;

static uint32_t random_next(uint32_t below)
{
    seed = seed * 1664525u + 1013904223u;
    return (seed >> 8) % below;
}

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct host *host = user;
    demand(bytes != NULL && length >= 1 && length <= DESCRIBED_FRAME_MAX);
    host->sent++;
}

static void on_event(void *user, const cfoil_adapter_event *event)
{
    const struct host *host = user;
    demand(event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_LOST_EVENTS);
    demand(memchr(event->text, '\0', sizeof event->text) != NULL && event->text[0] != '\0');
    demand(memchr(event->raw_text, '\0', sizeof event->raw_text) != NULL);
    demand(event->raw_length <= CFOIL_RAW_MAX && event->finding_count <= CFOIL_FINDINGS_MAX);
    if (event->kind != CFOIL_KIND_STACKED && event->kind != CFOIL_KIND_HELD)
        return;
    bool known = false;
    for (uint32_t i = 0; i < host->description->note_count; i++) {
        const struct described_note *note = &host->description->notes[i];
        known = known || (note->type == event->note_type && note->value_minor == event->value_minor &&
                          strcmp(note->currency, event->currency) == 0);
    }
    demand(known && event->value_minor > 0);
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    (void)user;
    (void)result;
    demand(lane_state >= CFOIL_LANE_STARTING && lane_state <= CFOIL_LANE_ENDED && text[0] != '\0');
}

static void on_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    demand(level > 0 && key[0] != '\0' && text[0] != '\0');
}

static uint32_t on_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    (void)user;
    demand(strlen(device) < 64 && capacity <= 64);
    for (uint32_t i = 0; i < capacity; i++)
        bytes[i] = (uint8_t)random_next(3);
    return random_next(capacity + 1);
}

static void on_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    (void)user;
    demand(strlen(device) < 64 && bytes != NULL && length <= 64);
}

/* A line or frame as the description has them, with random contents. */
static uint32_t message_make(const struct description *description, uint8_t raw[DESCRIBED_FRAME_MAX])
{
    struct described_bytes send = {.length = 0};
    const struct described_frame *frame = &description->frame;
    uint32_t length = frame->fixed_length != 0 ? frame->fixed_length : 1 + random_next(24);
    if (length > DESCRIBED_SEND_MAX)
        length = DESCRIBED_SEND_MAX;
    if (length < frame->begin_length + frame->end_length)
        length = frame->begin_length + frame->end_length;
    for (uint32_t i = 0; i < length; i++)
        send.bytes[i] = (uint8_t)(description->text_lines ? ' ' + random_next(95)
                                                          : random_next(random_next(2) ? 256 : 8));
    memcpy(send.bytes, frame->begin, frame->begin_length);
    memcpy(send.bytes + length - frame->end_length, frame->end, frame->end_length);
    send.length = length;
    return described_message_build(description, &send, random_next(4), raw);
}

static uint32_t input_make(const struct description *description, uint8_t raw[DESCRIBED_FRAME_MAX])
{
    if (random_next(3) != 0)
        return message_make(description, raw);
    uint32_t length = random_next(40);
    for (uint32_t i = 0; i < length; i++)
        raw[i] = (uint8_t)random_next(256);
    return length;
}

static void device_drive(const struct description *description)
{
    cfoil_adapter adapter;
    struct host host = {.description = description};
    const cfoil_adapter_host table = {sizeof table, 0, &host, on_send, on_event, on_state, on_log, on_load, on_store};
    described_adapter_make(description, &adapter);
    void *state = calloc(1, adapter.state_size);
    demand(state != NULL);
    cfoil_adapter_start start = {.struct_size = sizeof start, .host = &table, .accept = 1, .adapter = &adapter};
    demand(adapter.open(state, &start) == CFOIL_OK);
    uint64_t now_us = 0;
    for (int i = 0; i < 300; i++) {
        uint8_t raw[DESCRIBED_FRAME_MAX];
        uint32_t length = random_next(2) == 0 ? input_make(description, raw) : 0;
        cfoil_adapter_input input = {sizeof input, length, raw, now_us};
        uint64_t due_us = adapter.step(state, &input);
        demand(due_us > now_us);
        if (random_next(8) == 0)
            (void)adapter.command(state, (int32_t)random_next(6), (int32_t)random_next(4), now_us);
        uint64_t wait_us = due_us - now_us < 5000000 ? due_us - now_us : 5000000;
        now_us += random_next(2) == 0 ? 1000 : wait_us;
    }
    free(state);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct description *description;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    seed = (uint32_t)size;
    for (size_t i = 0; i < size; i++)
        seed = seed * 31u + data[i];
    int32_t result = description_parse(&memory_heap, "fuzz.json", (const char *)data, size, &description, &error);
    demand((result == CFOIL_OK) == (description != NULL));
    if (description == NULL) {
        demand(error.result == result && (result & 0xff) == CFOIL_CLASS_DATA && error.text[0] != '\0');
        return 0;
    }
    for (uint32_t i = 0; i < description->rule_count; i++) {
        const struct described_rule *rule = &description->rules[i];
        demand(rule->kind != CFOIL_KIND_STACKED || rule->note_by != DESCRIBED_NOTE_NONE);
    }
    device_drive(description);
    memory_release(&memory_heap, description);
    return 0;
}
