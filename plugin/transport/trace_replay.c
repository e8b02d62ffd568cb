/*
 * What does a bare adapter tell under a trace? The player with the smallest possible core around it. See trace.h.
 */
#include "transport/trace.h"

#include "model/error.h"
#include "transport/settings.h"

#include <string.h>

#define AREA "trace"

struct replay {
    const cfoil_adapter *adapter;
    const struct trace_listener *listener;
    struct trace_player *player;
    struct settings settings;
    cfoil_adapter_host host;
    void *state;
    bool open;
    uint64_t now_us;
};

static void on_send(void *user, const uint8_t *bytes, uint32_t length)
{
    struct replay *replay = user;
    trace_player_sent(replay->player, bytes, length);
}

static void on_event(void *user, const cfoil_adapter_event *event)
{
    struct replay *replay = user;
    if (replay->listener->event != NULL)
        replay->listener->event(replay->listener->user, event, replay->now_us);
}

static void on_state(void *user, int32_t lane_state, int32_t result, const char *text)
{
    struct replay *replay = user;
    if (replay->listener->state != NULL)
        replay->listener->state(replay->listener->user, lane_state, result, text, replay->now_us);
}

static void on_log(void *user, int32_t level, const char *key, const char *text)
{
    (void)user;
    (void)level;
    (void)key;
    (void)text;
}

static uint32_t on_memory_load(void *user, const char *device, uint8_t *bytes, uint32_t capacity)
{
    struct replay *replay = user;
    uint32_t length = 0;
    return trace_player_memory(replay->player, device, bytes, capacity, &length) ? length : 0;
}

static void on_memory_store(void *user, const char *device, const uint8_t *bytes, uint32_t length)
{
    struct replay *replay = user;
    if (replay->listener->store != NULL)
        replay->listener->store(replay->listener->user, device, bytes, length);
}

static int32_t adapter_open(void *user, int32_t accept, uint64_t now_us)
{
    struct replay *replay = user;
    char text[256] = "";
    replay->now_us = now_us;
    memset(replay->state, 0, replay->adapter->state_size);
    cfoil_adapter_start start = {
        .struct_size = sizeof start,
        .setting_count = replay->settings.count,
        .settings = replay->settings.items,
        .host = &replay->host,
        .now_us = now_us,
        .accept = accept,
        .error_capacity = sizeof text,
        .error = text,
        .adapter = replay->adapter,
    };
    int32_t result = replay->adapter->open(replay->state, &start);
    replay->open = result == CFOIL_OK;
    return result;
}

static void adapter_close(struct replay *replay)
{
    if (replay->open && replay->adapter->close != NULL)
        replay->adapter->close(replay->state);
    replay->open = false;
}

static void adapter_lose(void *user, int32_t result, uint64_t now_us)
{
    struct replay *replay = user;
    (void)result;
    replay->now_us = now_us;
    adapter_close(replay);
}

static void adapter_step(void *user, const uint8_t *bytes, uint32_t length, uint64_t now_us)
{
    struct replay *replay = user;
    replay->now_us = now_us;
    cfoil_adapter_input input = {sizeof input, length, bytes, now_us};
    replay->adapter->step(replay->state, &input);
}

static void adapter_command(void *user, int32_t command, int32_t argument, uint64_t now_us)
{
    struct replay *replay = user;
    replay->now_us = now_us;
    replay->adapter->command(replay->state, command, argument, now_us);
}

static int32_t replay_run(struct replay *replay, cfoil_error_info *error)
{
    int32_t result;
    do {
        result = trace_player_next(replay->player, error);
    } while (result == CFOIL_OK);
    adapter_close(replay);
    return result == CFOIL_E_PORT_ENDED ? CFOIL_OK : result;
}

static int32_t replay_prepare(struct replay *replay, const struct trace_header *header, cfoil_error_info *error)
{
    if (strcmp(header->adapter, replay->adapter->id) != 0)
        return error_set(error, CFOIL_E_DATA_TRACE, 0, AREA, "The trace is of adapter %s: replay it with that one.",
                         header->adapter);
    int32_t result = settings_parse(header->settings, &replay->settings, error);
    (void)settings_take(&replay->settings, "carrier"); /* a trace holds words: whatever carried them */
    return result;
}

int32_t trace_replay(const struct memory *memory, const cfoil_adapter *adapter, struct trace_reader *reader,
                     enum trace_chunking chunking, uint64_t seed, const struct trace_listener *listener,
                     cfoil_error_info *error)
{
    struct replay replay = {.adapter = adapter, .listener = listener};
    replay.host = (cfoil_adapter_host){.struct_size = sizeof replay.host,
                                       .user = &replay,
                                       .send = on_send,
                                       .event = on_event,
                                       .state = on_state,
                                       .log = on_log,
                                       .memory_load = on_memory_load,
                                       .memory_store = on_memory_store};
    struct trace_target target = {&replay, adapter_open, adapter_lose, adapter_step, adapter_command};
    int32_t result = trace_player_create(memory, reader, &target, chunking, seed, &replay.player, error);
    if (result != CFOIL_OK)
        return result;
    replay.state = memory_allocate(memory, adapter->state_size);
    if (replay.state == NULL)
        result = error_memory_set(error, AREA);
    if (result == CFOIL_OK)
        result = replay_prepare(&replay, trace_player_header(replay.player), error);
    if (result == CFOIL_OK)
        result = replay_run(&replay, error);
    memory_release(memory, replay.state);
    trace_player_destroy(replay.player);
    return result;
}
