/*
 * Any device under an adapter: what the bytes of the input say is done to it on a virtual clock, twice, with what comes
 * from the line given whole and byte by byte. Whatever comes, the adapter keeps the rules of adapter.h, and how the line
 * was cut makes no difference.
 */
#ifndef ADAPTER_DRIVE_H
#define ADAPTER_DRIVE_H

#include "fuzz.h"

#include <counterfoil/adapter.h>
#include <stdio.h>

enum { DRIVE_WIRE_MAX = 1024, DRIVE_WAITS_MAX = 12, DRIVE_TICKS_MAX = 100, DRIVE_STEPS_MAX = 4000 };

struct drive;

/* The protocol's own part. */
struct protocol {
    const cfoil_adapter *adapter;
    const char *const *settings[4]; /* keys and values in turn, NULL at the end; the input chooses */
    bool pieces_matter;             /* several answers in one read may be doubted, one after the other not */
    /* A well-formed answer, made of bytes of the input. */
    uint32_t (*answer_make)(struct drive *drive, struct walk *walk, uint8_t wire[DRIVE_WIRE_MAX]);
    /* Money that is told must have been said: what is on the line, and each event. */
    void (*line_note)(void *judge, const uint8_t *bytes, uint32_t length);
    void (*event_check)(void *judge, const cfoil_adapter_event *event);
    void *judge;
    size_t judge_size;
};

struct drive {
    const struct protocol *protocol;
    const char *const *settings;
    cfoil_adapter_host host;
    void *state;
    uint64_t now_us, due_us;
    int32_t accept;
    bool single, any_given;
    uint8_t sent[4096]; /* the last that was sent */
    uint32_t sent_length, sent_count;
    uint8_t memory[64];
    uint32_t memory_length;
    uint64_t digest; /* of everything it told */
    uint32_t steps;
};

static void digest_add(struct drive *drive, const void *bytes, size_t length)
{
    const uint8_t *byte = bytes;
    for (size_t i = 0; i < length; i++)
        drive->digest = (drive->digest ^ byte[i]) * UINT64_C(1099511628211);
}

/* ---- What the adapter tells ---- */

static bool text_ends(const char *text, size_t size)
{
    return memchr(text, '\0', size) != NULL;
}

static void drive_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct drive *drive = user;
    demand(bytes != NULL && length >= 1 && length <= drive->protocol->adapter->frame_max &&
           length <= sizeof drive->sent);
    memcpy(drive->sent, bytes, length);
    drive->sent_length = length;
    drive->sent_count++;
    digest_add(drive, "send", 4);
    digest_add(drive, bytes, length);
}

static void drive_event(void *user, const cfoil_adapter_event *event)
{
    struct drive *drive = user;
    demand(event->struct_size == sizeof *event);
    demand(event->kind >= CFOIL_KIND_HELD && event->kind <= CFOIL_KIND_LOST_EVENTS);
    demand(event->finding_count <= CFOIL_FINDINGS_MAX && event->raw_length <= CFOIL_RAW_MAX);
    demand(text_ends(event->text, sizeof event->text) && event->text[0] != '\0');
    demand(text_ends(event->raw_text, sizeof event->raw_text) && text_ends(event->currency, sizeof event->currency));
    demand(text_ends(event->note_name, sizeof event->note_name) && event->value_minor >= 0);
    if (event->kind == CFOIL_KIND_STACKED || event->kind == CFOIL_KIND_HELD)
        demand(event->value_minor > 0 && strlen(event->currency) == 3);
    drive->protocol->event_check(drive->protocol->judge, event);
    digest_add(drive, event, sizeof *event);
}

static void drive_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct drive *drive = user;
    demand(lane_state >= CFOIL_LANE_STARTING && lane_state <= CFOIL_LANE_ENDED && text[0] != '\0');
    digest_add(drive, &lane_state, sizeof lane_state);
    digest_add(drive, &result, sizeof result);
    digest_add(drive, text, strlen(text));
}

static void drive_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    demand(level >= CFOIL_LOG_ERROR && level <= CFOIL_LOG_DEBUG && key[0] != '\0' && text[0] != '\0');
}

static uint32_t drive_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    const struct drive *drive = user;
    demand(strlen(device) < 64);
    memcpy(bytes, drive->memory, drive->memory_length < capacity ? drive->memory_length : capacity);
    return drive->memory_length;
}

static void drive_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct drive *drive = user;
    demand(strlen(device) < 64 && bytes != NULL && length >= 1 && length <= sizeof drive->memory);
    memcpy(drive->memory, bytes, length);
    drive->memory_length = length;
    digest_add(drive, bytes, length);
}

/* ---- What is done to it ---- */

static void drive_step(struct drive *drive, const uint8_t *bytes, uint32_t length)
{
    cfoil_adapter_input input = {sizeof input, length, bytes, drive->now_us};
    drive->due_us = drive->protocol->adapter->step(drive->state, &input);
    demand(drive->due_us > drive->now_us);
    drive->steps++;
}

static void line_give(struct drive *drive, const uint8_t *bytes, uint32_t length)
{
    if (length == 0)
        return;
    drive->protocol->line_note(drive->protocol->judge, bytes, length);
    uint32_t piece = drive->single ? 1 : length;
    for (uint32_t at = 0; at < length; at += piece) {
        uint8_t *exact = bytes_copy(bytes + at, piece); /* in a block of its own, so that one byte too far is seen */
        drive_step(drive, exact, piece);
        free(exact);
    }
}

/* Bytes that need not be one answer. */
static void line_give_any(struct drive *drive, const uint8_t *bytes, uint32_t length)
{
    drive->any_given = true;
    line_give(drive, bytes, length);
}

static void drive_open(struct drive *drive)
{
    cfoil_adapter_setting items[8];
    char error[160] = "";
    cfoil_adapter_start start = {.struct_size = sizeof start,
                                 .settings = items,
                                 .host = &drive->host,
                                 .now_us = drive->now_us,
                                 .accept = drive->accept,
                                 .error_capacity = sizeof error,
                                 .error = error,
                                 .adapter = drive->protocol->adapter};
    for (const char *const *text = drive->settings; *text != NULL; text += 2)
        items[start.setting_count++] = (cfoil_adapter_setting){text[0], text[1]};
    memset(drive->state, 0, drive->protocol->adapter->state_size);
    demand(drive->protocol->adapter->open(drive->state, &start) == CFOIL_OK);
    drive->due_us = drive->now_us;
}

/* Up to the next thing the adapter sends, so that an answer comes in time. */
static void request_await(struct drive *drive)
{
    uint32_t before = drive->sent_count;
    for (int i = 0; i < DRIVE_WAITS_MAX && drive->sent_count == before && drive->due_us != UINT64_MAX; i++) {
        if (drive->due_us > drive->now_us)
            drive->now_us = drive->due_us;
        drive_step(drive, NULL, 0);
    }
}

/* As a lane does: stepped whenever it asked for it, but not for ever. */
static void time_pass(struct drive *drive, uint64_t passed_us)
{
    uint64_t until_us = drive->now_us + passed_us;
    for (int i = 0; i < DRIVE_TICKS_MAX && drive->due_us < until_us; i++) {
        drive->now_us = drive->due_us > drive->now_us ? drive->due_us : drive->now_us;
        drive_step(drive, NULL, 0);
    }
    drive->now_us = until_us;
    drive_step(drive, NULL, 0);
}

static void reopen(struct drive *drive, uint8_t how)
{
    if (drive->protocol->adapter->close != NULL)
        drive->protocol->adapter->close(drive->state);
    drive->accept = how % 3;
    if (how >= 128)
        drive->memory_length = 0;
    drive_open(drive);
}

static void command_give(struct drive *drive, struct walk *walk)
{
    uint8_t which = walk_byte(walk);
    int32_t command = 1 + which % 5;
    int32_t argument = command == CFOIL_COMMAND_HOLD ? 100 * walk_byte(walk) : which / 5 % 4;
    int32_t result = drive->protocol->adapter->command(drive->state, command, argument, drive->now_us);
    digest_add(drive, &result, sizeof result);
    if (result == CFOIL_OK)
        drive_step(drive, NULL, 0);
}

static void drive_act(struct drive *drive, struct walk *walk)
{
    uint8_t wire[DRIVE_WIRE_MAX];
    uint8_t what = walk_byte(walk);
    switch (what % 8) {
    case 0:
        line_give_any(drive, wire, walk_bytes(walk, 1 + what / 8u, wire));
        break;
    case 1:
        request_await(drive);
        break;
    case 2:
        time_pass(drive, UINT64_C(1000) * walk_byte(walk));
        break;
    case 3:
        time_pass(drive, UINT64_C(100000) * walk_byte(walk));
        break;
    case 4:
        command_give(drive, walk);
        break;
    case 5:
        if (what >= 240)
            reopen(drive, walk_byte(walk));
        else if (what >= 224)
            line_give_any(drive, drive->sent, drive->sent_length); /* an echo */
        break;
    default: /* an answer to what was sent last, which is awaited before */
        if (what % 8 == 6)
            request_await(drive);
        line_give(drive, wire, drive->protocol->answer_make(drive, walk, wire));
        break;
    }
}

/* Gives the digest, or 0 when the input was too long to be carried out to its end. */
static uint64_t input_run(const struct protocol *protocol, struct walk walk, bool single, bool *any_given)
{
    struct drive drive = {.protocol = protocol, .single = single, .now_us = 1000000};
    uint8_t first = walk_byte(&walk);
    drive.host = (cfoil_adapter_host){sizeof drive.host, 0,         &drive,     drive_send, drive_event,
                                      drive_state,       drive_log, drive_load, drive_store};
    drive.settings = protocol->settings[first / 4 % 4];
    drive.accept = first % 3;
    drive.digest = UINT64_C(14695981039346656037);
    drive.state = malloc(protocol->adapter->state_size);
    demand(drive.state != NULL);
    memset(protocol->judge, 0, protocol->judge_size);
    drive_open(&drive);
    while (walk.left > 0 && drive.steps < DRIVE_STEPS_MAX)
        drive_act(&drive, &walk);
    if (protocol->adapter->close != NULL)
        protocol->adapter->close(drive.state);
    free(drive.state);
    *any_given = drive.any_given;
    return drive.steps < DRIVE_STEPS_MAX ? drive.digest : 0;
}

/* The same input twice, first whole. */
static void adapter_drive(const struct protocol *protocol, const uint8_t *data, size_t size)
{
    struct walk walk = {data, size};
    bool any_given;
    uint64_t whole = input_run(protocol, walk, false, &any_given);
    uint64_t cut = input_run(protocol, walk, true, &any_given);
    demand(whole == cut || whole == 0 || cut == 0 || (protocol->pieces_matter && any_given));
}

#endif
