/*
 * How is an adapter given the same input again, and where does what it sends depart from the trace? See trace.h.
 */
#include "transport/trace.h"

#include "model/error.h"
#include "model/text.h"

#include <stdio.h>
#include <string.h>

#define AREA        "trace"
#define PENDING_MAX (4 * TRACE_BYTES_MAX) /* bytes sent between two inputs */

struct trace_player {
    const struct memory *memory;
    struct trace_reader *reader;
    struct trace_target target;
    enum trace_chunking chunking;
    uint64_t random;
    /* One record read ahead. */
    bool ahead;
    int32_t next_result;
    struct trace_record next;
    cfoil_error_info next_error;
    /* Where the replay is. */
    bool begun;
    bool open;
    bool stepped; /* at last_us or later, since the adapter was opened or got a command */
    uint64_t last_us;
    /* The first departure from the trace. */
    bool departed;
    cfoil_error_info departure;
    /* What the adapter sent and the trace has not confirmed yet. */
    uint32_t pending_length;
    uint8_t pending[PENDING_MAX];
    uint8_t input[TRACE_BYTES_MAX]; /* the reader's buffer is overwritten when a memory record is read in a step */
};

static void depart(struct trace_player *player, const char *text)
{
    if (player->departed)
        return;
    player->departed = true;
    int32_t line = trace_reader_line(player->reader);
    error_set(&player->departure, CFOIL_E_DATA_TRACE, 0, AREA, "Trace line %d: %s", (int)line, text);
    player->departure.line = line;
}

/* The first bytes as text, for the message. */
static void bytes_describe(const uint8_t *bytes, uint32_t length, char target[64])
{
    uint32_t shown = length <= 24 ? length : 24;
    text_hex(bytes, shown, target);
    if (shown < length)
        text_copy(target + 2 * (size_t)shown, 64 - 2 * (size_t)shown, "...");
}

static void depart_bytes(struct trace_player *player, const char *what)
{
    char sent[64];
    char text[192];
    bytes_describe(player->pending, player->pending_length, sent);
    (void)snprintf(text, sizeof text, "%s: %s", what, sent);
    depart(player, text);
}

static const struct trace_record *peek(struct trace_player *player)
{
    if (!player->ahead) {
        player->next_result = trace_read(player->reader, &player->next, &player->next_error);
        player->ahead = true;
    }
    return player->next_result == CFOIL_OK ? &player->next : NULL;
}

static void consume(struct trace_player *player)
{
    player->ahead = false;
}

/* ---- What the adapter sent ---- */

void trace_player_sent(struct trace_player *player, const uint8_t *bytes, uint32_t length)
{
    if (length > PENDING_MAX - player->pending_length) {
        depart(player, "the adapter sends without end.");
        return;
    }
    memcpy(player->pending + player->pending_length, bytes, length);
    player->pending_length += length;
}

/* Strikes out what the `to` records that come next confirm. Times are not compared: in a recorded trace they follow
 * from the input, and a hand-written one may leave steps out. */
static void pending_match(struct trace_player *player)
{
    const struct trace_record *next;
    while (player->pending_length > 0 && !player->departed && (next = peek(player)) != NULL && next->mark == TRACE_TO) {
        if (next->length > player->pending_length || memcmp(next->bytes, player->pending, next->length) != 0) {
            depart_bytes(player, "the adapter sent other bytes");
            return;
        }
        player->pending_length -= next->length;
        memmove(player->pending, player->pending + next->length, player->pending_length);
        consume(player);
    }
}

bool trace_player_memory(struct trace_player *player, const char *device, uint8_t *bytes, uint32_t capacity,
                         uint32_t *length)
{
    pending_match(player);
    const struct trace_record *next = peek(player);
    if (next == NULL || next->mark != TRACE_MEMORY)
        return false;
    if (strcmp(next->device, device) != 0) {
        depart(player, "the adapter asked for the memory of another device.");
        return false;
    }
    *length = next->length;
    memcpy(bytes, next->bytes, next->length < capacity ? next->length : capacity);
    consume(player);
    return true;
}

/* ---- Input ---- */

static uint32_t piece_length(struct trace_player *player, uint32_t left)
{
    if (player->chunking == TRACE_WHOLE)
        return left;
    if (player->chunking == TRACE_SINGLE)
        return 1;
    /* xorshift64: Marsaglia, Xorshift RNGs, Journal of Statistical Software 8(14), 2003. */
    player->random ^= player->random << 13;
    player->random ^= player->random >> 7;
    player->random ^= player->random << 17;
    return 1 + (uint32_t)(player->random % left);
}

static void step(struct trace_player *player, const uint8_t *bytes, uint32_t length, uint64_t now_us)
{
    player->target.step(player->target.user, bytes, length, now_us);
    player->last_us = now_us;
    player->stepped = true;
}

static void bytes_play(struct trace_player *player, const struct trace_record *record)
{
    uint32_t length = record->length;
    uint64_t now_us = record->time_us;
    memcpy(player->input, record->bytes, length);
    consume(player);
    for (uint32_t at = 0, piece; at < length; at += piece) {
        piece = piece_length(player, length - at);
        step(player, player->input + at, piece, now_us);
    }
}

static int32_t adapter_open(struct trace_player *player, int32_t accept, uint64_t now_us, cfoil_error_info *error)
{
    player->begun = true;
    player->stepped = false;
    player->last_us = now_us;
    int32_t result = player->target.open(player->target.user, accept, now_us);
    if (result != CFOIL_OK)
        return error_set(error, result, 0, AREA, "Trace line %d: the adapter cannot be opened.",
                         (int)trace_reader_line(player->reader));
    player->open = true;
    return CFOIL_OK;
}

static void command_play(struct trace_player *player, const struct trace_record *record)
{
    struct trace_record copy = *record;
    consume(player);
    player->last_us = copy.time_us;
    player->stepped = false;
    player->target.command(player->target.user, copy.command, copy.argument, copy.time_us);
}

static void lost_play(struct trace_player *player, const struct trace_record *record)
{
    struct trace_record copy = *record;
    consume(player);
    player->open = false;
    player->last_us = copy.time_us;
    player->target.lose(player->target.user, copy.argument, copy.time_us);
}

/* A `to` record that nothing pending explains. In a trace without ticks it implies a step at its time. */
static void step_implied(struct trace_player *player, const struct trace_record *record)
{
    if (record->time_us > player->last_us || !player->stepped)
        step(player, NULL, 0, record->time_us);
    if (player->pending_length == 0)
        depart(player, "the adapter did not send this.");
}

static void input_play(struct trace_player *player, const struct trace_record *record)
{
    uint64_t now_us = record->time_us;
    switch (record->mark) {
    case TRACE_LOST:
        lost_play(player, record);
        break;
    case TRACE_TICK:
        consume(player);
        step(player, NULL, 0, now_us);
        break;
    case TRACE_FROM:
        bytes_play(player, record);
        break;
    case TRACE_TO:
        step_implied(player, record);
        break;
    case TRACE_COMMAND:
        command_play(player, record);
        break;
    case TRACE_MEMORY:
        depart(player, "the adapter did not ask for this memory.");
        break;
    case TRACE_OPEN:
        depart(player, "the adapter is open already.");
        break;
    }
}

static int32_t record_play(struct trace_player *player, const struct trace_record *record, cfoil_error_info *error)
{
    if (record->mark == TRACE_OPEN && !player->open) {
        int32_t accept = record->argument;
        uint64_t now_us = record->time_us;
        consume(player);
        return adapter_open(player, accept, now_us, error);
    }
    /* A hand-written trace may begin without a word about the opening. */
    if (!player->begun)
        return adapter_open(player, trace_reader_header(player->reader)->accept, 0, error);
    if (player->open)
        input_play(player, record);
    else
        depart(player, "the adapter is not open here.");
    return CFOIL_OK;
}

int32_t trace_player_next(struct trace_player *player, cfoil_error_info *error)
{
    int32_t result = CFOIL_OK;
    const struct trace_record *record = player->departed ? NULL : peek(player);
    if (record != NULL)
        result = record_play(player, record, error);
    if (result != CFOIL_OK)
        return result;
    pending_match(player);
    record = player->departed ? NULL : peek(player);
    if (player->pending_length > 0)
        depart_bytes(player, "the adapter sent what the trace does not have");
    const cfoil_error_info *told = player->departed ? &player->departure : record == NULL ? &player->next_error : NULL;
    if (told == NULL)
        return CFOIL_OK;
    if (error != NULL)
        *error = *told;
    return told->result;
}

/* ---- Life ---- */

int32_t trace_player_create(const struct memory *memory, struct trace_reader *reader, const struct trace_target *target,
                            enum trace_chunking chunking, uint64_t seed, struct trace_player **player,
                            cfoil_error_info *error)
{
    *player = memory_allocate(memory, sizeof **player);
    if (*player == NULL) {
        trace_reader_close(reader);
        return error_memory_set(error, AREA);
    }
    (*player)->memory = memory;
    (*player)->reader = reader;
    (*player)->target = *target;
    (*player)->chunking = chunking;
    (*player)->random = seed != 0 ? seed : 1; /* xorshift stays at zero for ever */
    (*player)->next_error.struct_size = sizeof(cfoil_error_info);
    (*player)->departure.struct_size = sizeof(cfoil_error_info);
    return CFOIL_OK;
}

const struct trace_header *trace_player_header(const struct trace_player *player)
{
    return trace_reader_header(player->reader);
}

void trace_player_destroy(struct trace_player *player)
{
    if (player == NULL)
        return;
    trace_reader_close(player->reader);
    memory_release(player->memory, player);
}
