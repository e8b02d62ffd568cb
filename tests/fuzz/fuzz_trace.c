/*
 * Can any text make the trace reader or the player go wrong, and does the reader take only what the writer could write?
 */
#include "fuzz.h"

#include "model/memory.h"
#include "transport/trace.h"

/* An adapter that sends back each byte, asks for a memory at each tick, and counts commands. */
struct echo {
    const cfoil_adapter_host *host;
    uint64_t last_us;
    uint32_t commands;
};

static int32_t echo_open(void *state, const cfoil_adapter_start *start)
{
    struct echo *echo = state;
    echo->host = start->host;
    echo->last_us = start->now_us;
    return start->setting_count > 3 ? CFOIL_E_ARGUMENT_SETTING : CFOIL_OK;
}

static uint64_t echo_step(void *state, const cfoil_adapter_input *input)
{
    struct echo *echo = state;
    uint8_t bytes[TRACE_MEMORY_MAX];
    demand(input->now_us >= echo->last_us);
    echo->last_us = input->now_us;
    if (input->length > 0)
        echo->host->send(echo->host->user, input->bytes, input->length);
    else
        demand(echo->host->memory_load(echo->host->user, "echo/1", bytes, sizeof bytes) <= sizeof bytes);
    return UINT64_MAX;
}

static int32_t echo_command(void *state, int32_t command, int32_t argument, uint64_t now_us)
{
    struct echo *echo = state;
    demand(command >= CFOIL_COMMAND_ACCEPT && command <= CFOIL_COMMAND_QUIT && argument >= 0);
    demand(now_us >= echo->last_us);
    echo->commands++;
    return CFOIL_OK;
}

static const cfoil_adapter echo_adapter = {
    .struct_size = sizeof(cfoil_adapter),
    .api_version = CFOIL_ADAPTER_API,
    .id = "echo",
    .name = "Echo",
    .maturity = CFOIL_MATURITY_EXPERIMENTAL,
    .frame_max = TRACE_BYTES_MAX,
    .state_size = sizeof(struct echo),
    .line = {9600, 8, 1, CFOIL_PARITY_NONE},
    .answer_max_ms = 1000,
    .open = echo_open,
    .step = echo_step,
    .command = echo_command,
};

static void record_is_sound(const struct trace_record *record, uint64_t *time_us)
{
    demand(record->time_us >= *time_us);
    *time_us = record->time_us;
    demand(record->length <= TRACE_BYTES_MAX);
    demand((record->mark != TRACE_FROM && record->mark != TRACE_TO) || record->length > 0);
    demand(record->mark != TRACE_MEMORY || (record->length <= TRACE_MEMORY_MAX && record->device[0] != '\0'));
}

static void read_through(const char *text, size_t size)
{
    struct trace_reader *reader;
    struct trace_record record;
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    uint64_t time_us = 0;
    int32_t result = trace_reader_open_text(&memory_heap, text, size, &reader, &error);
    demand(result == CFOIL_OK || error.line > 0);
    if (result != CFOIL_OK)
        return;
    while ((result = trace_read(reader, &record, &error)) == CFOIL_OK)
        record_is_sound(&record, &time_us);
    demand(result == CFOIL_E_PORT_ENDED || (result == CFOIL_E_DATA_TRACE && error.line > 0));
    trace_reader_close(reader);
}

static int32_t play(const char *text, size_t size, enum trace_chunking chunking, int32_t *line)
{
    struct trace_reader *reader;
    const struct trace_listener listener = {0};
    cfoil_error_info error = CFOIL_ERROR_INFO_INIT;
    int32_t result = trace_reader_open_text(&memory_heap, text, size, &reader, &error);
    if (result == CFOIL_OK)
        result = trace_replay(&memory_heap, &echo_adapter, reader, chunking, size, &listener, &error);
    *line = error.line;
    return result;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data;
    int32_t whole_line;
    int32_t cut_line;
    read_through(text, size);
    int32_t whole = play(text, size, TRACE_WHOLE, &whole_line);
    int32_t cut = play(text, size, TRACE_RANDOM, &cut_line);
    demand(whole == cut && whole_line == cut_line);
    return 0;
}
