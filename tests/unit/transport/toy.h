/*
 * The smallest adapter for tests of lanes and traces: three-byte frames, one for each thing an adapter can tell.
 *
 * From the device AA CODE ARGUMENT, to the device 55 CODE ARGUMENT.
 */
#ifndef UNIT_TRANSPORT_TOY_H
#define UNIT_TRANSPORT_TOY_H

#include "test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#define TOY_FROM 0xAA
#define TOY_TO   0x55

struct toy {
    const cfoil_adapter_host *host;
    int32_t accept;
    bool identified;
    bool refusing; /* commands */
    bool deaf;     /* after quit: answers only when the device has spoken */
    uint32_t poll_ms;
    uint64_t due_us;
    uint32_t frame_length;
    uint8_t frame[3];
    uint32_t waiting_length;
    uint8_t waiting[15];
};

static inline void toy_send(struct toy *toy, char code, int32_t argument)
{
    uint8_t frame[3] = {TOY_TO, (uint8_t)code, (uint8_t)argument};
    toy->host->send(toy->host->user, frame, sizeof frame);
}

static inline void toy_ready_tell(struct toy *toy)
{
    bool accepting = toy->accept != CFOIL_ACCEPT_NONE;
    toy->host->state(toy->host->user, accepting ? CFOIL_LANE_ACCEPTING : CFOIL_LANE_IDLE, CFOIL_OK, "Ready.");
}

static inline int32_t toy_open(void *state, const cfoil_adapter_start *start)
{
    struct toy *toy = state;
    toy->host = start->host;
    toy->accept = start->accept;
    for (uint32_t i = 0; i < start->setting_count; i++) {
        if (strcmp(start->settings[i].key, "poll_ms") != 0) {
            snprintf(start->error, start->error_capacity, "There is no setting %s.", start->settings[i].key);
            return CFOIL_E_ARGUMENT_SETTING;
        }
        toy->poll_ms = (uint32_t)strtoul(start->settings[i].value, NULL, 10);
    }
    toy->due_us = start->now_us + (uint64_t)toy->poll_ms * 1000;
    toy->host->state(toy->host->user, CFOIL_LANE_STARTING, CFOIL_OK, "Looking for the device.");
    toy_send(toy, 'H', toy->accept);
    return CFOIL_OK;
}

static inline void toy_event(struct toy *toy, int32_t kind, int32_t argument, int32_t condition, uint32_t flags)
{
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = kind;
    event.condition = condition;
    event.flags = flags;
    event.raw_length = 3;
    memcpy(event.raw, toy->frame, 3);
    snprintf(event.raw_text, sizeof event.raw_text, "frame %c", toy->frame[1]);
    snprintf(event.text, sizeof event.text, "Told %d.", (int)argument);
    if (kind == CFOIL_KIND_REJECTED) {
        event.reason = CFOIL_REASON_NOT_RECOGNISED;
        event.reasons_possible = 1u << CFOIL_REASON_NOT_RECOGNISED;
    } else if (kind <= CFOIL_KIND_RETURNED && argument > 0) {
        event.note_type = argument;
        event.value_minor = 100 * (int64_t)argument;
        memcpy(event.currency, "EUR", 4);
    }
    toy->host->event(toy->host->user, &event);
}

static inline void toy_identified(struct toy *toy)
{
    uint8_t bytes[64] = {0};
    uint32_t length = toy->host->memory_load(toy->host->user, "toy/1", bytes, sizeof bytes);
    toy->identified = true;
    toy_ready_tell(toy);
    toy_send(toy, 'K', length > 0 ? bytes[0] : 0);
}

static inline void toy_store(struct toy *toy, const char *device, int32_t argument)
{
    uint8_t byte = (uint8_t)argument;
    toy->host->memory_store(toy->host->user, device, &byte, 1);
}

static inline void toy_fault(struct toy *toy, int32_t argument)
{
    static const uint8_t many[64];
    cfoil_adapter_event event = CFOIL_ADAPTER_EVENT_INIT;
    event.kind = CFOIL_KIND_LANE_STATE;
    if (argument == 0)
        toy->host->event(toy->host->user, &event);
    if (argument == 1)
        toy->host->state(toy->host->user, CFOIL_LANE_OPENING, CFOIL_OK, "");
    if (argument == 2)
        toy->host->send(toy->host->user, many, 17);
    if (argument == 3)
        toy->host->memory_store(toy->host->user, "a b", many, 1);
    if (argument == 4)
        toy->host->memory_store(toy->host->user, "toy/1", many, 65);
    if (argument == 5)
        (void)toy->host->memory_load(toy->host->user, "", NULL, 0);
    if (argument == 6)
        toy->host->log(toy->host->user, CFOIL_LOG_NOTICE, "said", "The toy said something.");
}

static inline void toy_status_take(struct toy *toy, uint8_t code, int32_t argument)
{
    const cfoil_adapter_host *host = toy->host;
    if (code == 'I')
        toy_identified(toy);
    if (code == 'E')
        host->state(host->user, CFOIL_LANE_ENDED, CFOIL_E_DEVICE_WRONG, "Another kind of device.");
    if (code == 'L')
        host->state(host->user, CFOIL_LANE_LOST, CFOIL_E_DEVICE_SILENT, "No answer.");
    if (code == 'J')
        toy->refusing = argument != 0;
    if (code == 'D') {
        toy->deaf = argument != 0;
        toy_send(toy, 'D', argument);
    }
    if (code == 'F')
        toy_fault(toy, argument);
    if (code == 'm')
        toy_store(toy, "toy/1", argument);
    if (code == '2') {
        toy_store(toy, "toy/1", argument);
        toy_store(toy, "toy/2", argument);
    }
    if (code == '9') {
        char device[16];
        for (int i = 0; i < 9; i++) {
            snprintf(device, sizeof device, "many/%d", i);
            toy_store(toy, device, argument);
        }
    }
}

static inline void toy_frame_take(struct toy *toy)
{
    uint8_t code = toy->frame[1];
    int32_t argument = toy->frame[2];
    if (code == 'N')
        toy_event(toy, CFOIL_KIND_HELD, argument, CFOIL_CONDITION_NONE, 0);
    if (code == 'S')
        toy_event(toy, CFOIL_KIND_STACKED, argument, CFOIL_CONDITION_NONE, 0);
    if (code == 'W')
        toy_event(toy, CFOIL_KIND_STACKED, argument, CFOIL_CONDITION_NONE, CFOIL_EVENT_WHILE_AWAY);
    if (code == 'R')
        toy_event(toy, CFOIL_KIND_RETURNED, argument, CFOIL_CONDITION_NONE, 0);
    if (code == 'U')
        toy_event(toy, CFOIL_KIND_DEVICE, 0, CFOIL_CONDITION_OUTCOME_UNKNOWN, 0);
    if (code == 'T')
        toy_event(toy, CFOIL_KIND_DEVICE, argument, CFOIL_CONDITION_FAULT, 0);
    if (code == 'B' || code == 'X') {
        for (int32_t i = 0; i < (code == 'X' ? 1 : argument); i++)
            toy_event(toy, CFOIL_KIND_REJECTED, i, CFOIL_CONDITION_NONE, 0);
    }
    if (code == 'M') {
        toy_store(toy, "toy/1", argument);
        toy_event(toy, CFOIL_KIND_STACKED, 5, CFOIL_CONDITION_NONE, 0);
    }
    toy_status_take(toy, code, argument);
    toy->deaf = toy->deaf && code == 'D';
}

static inline void toy_byte_take(struct toy *toy, uint8_t byte)
{
    if (toy->frame_length == 0 && byte != TOY_FROM)
        return;
    toy->frame[toy->frame_length++] = byte;
    if (toy->frame_length < sizeof toy->frame)
        return;
    toy->frame_length = 0;
    toy_frame_take(toy);
}

static inline uint64_t toy_step(void *state, const cfoil_adapter_input *input)
{
    struct toy *toy = state;
    for (uint32_t i = 0; i < input->length; i++)
        toy_byte_take(toy, input->bytes[i]);
    if (toy->waiting_length > 0 && !toy->deaf) {
        toy->host->send(toy->host->user, toy->waiting, toy->waiting_length);
        toy->waiting_length = 0;
    }
    if (toy->poll_ms == 0)
        return UINT64_MAX;
    if (input->now_us >= toy->due_us) {
        toy_send(toy, 'P', 0);
        toy->due_us = input->now_us + (uint64_t)toy->poll_ms * 1000;
    }
    return toy->due_us;
}

static inline int32_t toy_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    static const char codes[] = "?ASRHQ";
    struct toy *toy = state;
    (void)now_us;
    if (toy->refusing || toy->waiting_length + 3 > sizeof toy->waiting)
        return CFOIL_E_STATE_NOT_READY;
    if (command == CFOIL_COMMAND_ACCEPT) {
        toy->accept = argument;
        if (toy->identified)
            toy_ready_tell(toy);
    }
    uint8_t frame[3] = {TOY_TO, (uint8_t)codes[command], (uint8_t)argument};
    memcpy(toy->waiting + toy->waiting_length, frame, sizeof frame);
    toy->waiting_length += 3;
    return CFOIL_OK;
}

static inline void toy_close(void *state)
{
    (void)state;
}

static const cfoil_adapter toy_adapter = {
    .struct_size = sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "toy",
    .name = "Toy for tests",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL,
    .capabilities = CFOIL_ADAPTER_ESCROW | CFOIL_ADAPTER_INHIBIT | CFOIL_ADAPTER_MEMORY,
    .frame_max = 16,
    .state_size = sizeof(struct toy),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 1000,
    .open = toy_open,
    .step = toy_step,
    .command = toy_command,
    .close = toy_close,
};

#endif
