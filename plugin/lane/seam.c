/*
 * How is the adapter called? Each call is written to the trace, is one group of events, and is followed by what it sent.
 */
#include "lane/parts.h"
#include "model/error.h"
#include "model/text.h"
#include "transport/trace.h"
#include "transport/transport.h"

#include <string.h>

/* Nobody steps an adapter more often than this without bytes, whatever it asks for. */
#define STEP_SHORTEST_US 1000

void seam_trace(struct lane *lane, const struct trace_record *record)
{
    if (lane->writer == NULL)
        return;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    if (trace_write(lane->writer, record, &error) == CFOIL_OK)
        return;
    lane_trouble(lane, CFOIL_LOG_ERROR, "trace_write", &error);
    trace_writer_close(lane->writer); /* a trace with a hole would be worth nothing: it ends here */
    lane->writer = NULL;
}

static void call_begin(struct lane *lane, uint64_t now_us)
{
    backlog_overflow_tell(lane, now_us);
    backlog_begin(lane, now_us);
}

/* Words and messages keep their blocks: each goes out as the adapter sent it. */
static int32_t output_write(struct lane *lane, uint32_t length, cfoil_error_info *error)
{
    if (lane->block_count == 0)
        return transport_write(lane->transport, lane->output, length, error);
    int32_t result = CFOIL_OK;
    uint32_t begin = 0;
    for (uint32_t i = 0; result == CFOIL_OK && i < lane->block_count; i++) {
        result = transport_write(lane->transport, lane->output + begin, lane->block_ends[i] - begin, error);
        begin = lane->block_ends[i];
    }
    return result;
}

static void call_end(struct lane *lane)
{
    /* Recorded before the device hears anything: what it takes for delivered must not get lost here. */
    backlog_end(lane);
    uint32_t length = lane->output_length;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = length > 0 && lane->transport != NULL ? output_write(lane, length, &error) : CFOIL_OK;
    lane->output_length = 0;
    lane->block_count = 0;
    if (result == CFOIL_OK)
        return;
    lane->port_result = result;
    lane_trouble(lane, CFOIL_LOG_WARNING, "port_write", &error);
}

int32_t seam_open(struct lane *lane, int32_t accept, uint64_t now_us, char *text, uint32_t text_capacity)
{
    call_begin(lane, now_us);
    struct trace_record record = {.mark = TRACE_OPEN, .time_us = now_us, .argument = accept};
    seam_trace(lane, &record);
    memset(lane->adapter_state, 0, lane->adapter->state_size);
    cfoil_adapter_start start = {
        .struct_size = sizeof start,
        .setting_count = lane->settings.count,
        .settings = lane->settings.items,
        .host = &lane->host,
        .now_us = now_us,
        .accept = accept,
        .error_capacity = text_capacity,
        .error = text,
        .adapter = lane->adapter,
    };
    int32_t result = lane->adapter->open(lane->adapter_state, &start);
    lane->open = result == CFOIL_OK;
    lane->accept_given = accept;
    lane->accept_count_given = lane->accept_count_seen;
    lane->accept_retry_us = 0;
    lane->deadline_us = now_us;
    call_end(lane);
    return result;
}

void seam_step(struct lane *lane, const uint8_t *bytes, uint32_t length, uint64_t now_us)
{
    call_begin(lane, now_us);
    struct trace_record record = {
        .mark = length > 0 ? TRACE_FROM : TRACE_TICK, .time_us = now_us, .bytes = bytes, .length = length};
    seam_trace(lane, &record);
    cfoil_adapter_input input = {.struct_size = sizeof input, .length = length, .bytes = bytes, .now_us = now_us};
    uint64_t deadline_us = lane->adapter->step(lane->adapter_state, &input);
    lane->deadline_us = deadline_us > now_us + STEP_SHORTEST_US ? deadline_us : now_us + STEP_SHORTEST_US;
    call_end(lane);
}

int32_t seam_command(struct lane *lane, int32_t command, int32_t argument, uint64_t now_us)
{
    call_begin(lane, now_us);
    struct trace_record record = {.mark = TRACE_COMMAND, .time_us = now_us, .command = command, .argument = argument};
    seam_trace(lane, &record);
    int32_t result = lane->adapter->command(lane->adapter_state, command, argument, now_us);
    call_end(lane);
    return result;
}

static void adapter_close(struct lane *lane)
{
    if (lane->open && lane->adapter->close != NULL)
        lane->adapter->close(lane->adapter_state);
    lane->open = false;
    lane->output_length = 0; /* there is nobody any more to send it to */
    lane->block_count = 0;
}

/* The note that was in escrow at the end: nobody here knows what the device does with it. */
static void held_note_tell(struct lane *lane, const char *text)
{
    if (lane->presentations.held == 0)
        return;
    const cfoil_event *held = &lane->presentations.note;
    cfoil_event event = {.kind = CFOIL_KIND_DEVICE,
                         .condition = CFOIL_CONDITION_OUTCOME_UNKNOWN,
                         .note_type = held->note_type,
                         .value_minor = held->value_minor};
    memcpy(event.currency, held->currency, sizeof event.currency);
    memcpy(event.note_name, held->note_name, sizeof event.note_name);
    text_copy(event.text, sizeof event.text, text);
    backlog_event_add(lane, &event);
}

void seam_close(struct lane *lane)
{
    backlog_begin(lane, lane->now_us);
    adapter_close(lane);
    if (lane->ended || lane->closing_seen)
        held_note_tell(lane, "The lane ended while a note was held: look whether it came back, and count the box.");
    backlog_end(lane);
}

void seam_lose(struct lane *lane, int32_t result, uint64_t now_us)
{
    call_begin(lane, now_us);
    struct trace_record record = {.mark = TRACE_LOST, .time_us = now_us, .argument = result};
    seam_trace(lane, &record);
    adapter_close(lane);
    lane_state_tell(lane, CFOIL_LANE_LOST, result,
                    result == CFOIL_E_PORT_GONE ? "The port has gone: trying to open it again."
                                                : "The port failed: trying to open it again.");
    held_note_tell(lane, "The line went while a note was held: look whether it came back, and count the box.");
    backlog_end(lane);
}
