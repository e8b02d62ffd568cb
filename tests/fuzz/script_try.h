/*
 * Any bytes as a script of a simulator: refused, or sound, and then acted out on a virtual clock against a host that says
 * anything. Each simulator includes this behind its own main.c, whose start it calls.
 */
#ifndef SCRIPT_TRY_H
#define SCRIPT_TRY_H

#include "fuzz.h"

#include "common/runner.h"
#include "common/script.h"

#include <stdio.h>

enum { SCRIPT_ROUNDS = 300, REQUEST_MOST = 512 };

struct script_play {
    struct script script;
    struct runner runner;
    struct actor actor;
    struct truth truth;
    uint32_t seed;
    int64_t now_ms;
};

static uint32_t play_random(struct script_play *play, uint32_t below)
{
    play->seed = play->seed * 1664525u + 1013904223u;
    return (play->seed >> 8) % below;
}

/* A message as a host sends it, mostly well formed; gives its length. */
static size_t request_make(struct script_play *play, uint8_t bytes[REQUEST_MOST]);

/* What is read must be fit to be carried out: repetitions point to their beginnings, and all are closed. */
static void script_is_sound(const struct script *script)
{
    int depth = 0;
    demand(script->count <= SCRIPT_STATEMENTS);
    for (size_t i = 0; i < script->count; i++) {
        const struct statement *statement = &script->statements[i];
        demand(statement->line >= 1);
        depth += statement->action == ACTION_REPEAT;
        if (statement->action == ACTION_REPEAT_END) {
            depth--;
            demand(statement->first >= 0 && (size_t)statement->first < i);
            demand(script->statements[statement->first].action == ACTION_REPEAT);
        }
        demand(depth >= 0);
        demand(statement->action != ACTION_FAULT || statement->fault.kind != NULL);
    }
    demand(depth == 0);
}

/* As the server does, without sockets. */
static void answers_send(struct script_play *play)
{
    struct outbox *outbox = play->actor.outbox;
    demand(outbox->count <= CHUNKS);
    for (size_t i = 0; i < outbox->count && outbox->chunks[i].due_ms <= play->now_ms; i++) {
        demand(outbox->chunks[i].length > 0 && outbox->chunks[i].length <= CHUNK_BYTES);
        if (play->runner.connected && outbox->sent != NULL)
            outbox->sent(outbox->user, &outbox->chunks[i]);
    }
    outbox_spill(outbox, play->now_ms);
}

static void wish_take(struct script_play *play)
{
    bool comes = !play->runner.connected && play_random(play, 8) == 0;
    if (play->runner.wish != WISH_NOTHING) {
        play->actor.disconnect(play->actor.self);
        play->runner.connected = false;
        comes = play->runner.wish == WISH_REPLUG;
    }
    if (comes && play->actor.connect != NULL)
        play->actor.connect(play->actor.self, play->now_ms);
    play->runner.connected = play->runner.connected || comes;
    play->runner.wish = WISH_NOTHING;
}

static void request_give(struct script_play *play)
{
    uint8_t bytes[REQUEST_MOST];
    size_t length = request_make(play, bytes);
    for (size_t at = 0; at < length;) {
        size_t used = play->actor.receive(play->actor.self, bytes + at, length - at, play->now_ms);
        demand(used > 0 && used <= length - at);
        at += used;
    }
}

/* On to the next moment at which something is due, or a little. */
static void time_pass(struct script_play *play)
{
    int64_t next_ms = play->now_ms + 1 + play_random(play, 400);
    int64_t due_ms[] = {play->actor.deadline(play->actor.self, play->now_ms),
                        runner_deadline(&play->runner, play->now_ms), outbox_deadline(play->actor.outbox)};
    for (size_t i = 0; i < sizeof due_ms / sizeof due_ms[0]; i++) {
        if (due_ms[i] > play->now_ms && due_ms[i] < next_ms)
            next_ms = due_ms[i];
    }
    play->now_ms = next_ms;
}

static void script_act(struct script_play *play)
{
    runner_start(&play->runner, &play->script, &play->actor, 0);
    for (int i = 0; i < SCRIPT_ROUNDS && !play->runner.gave_up && !play->runner.ended; i++) {
        play->actor.advance(play->actor.self, play->now_ms);
        (void)runner_run(&play->runner, play->now_ms);
        demand(play->runner.step <= play->script.count);
        wish_take(play);
        answers_send(play);
        if (play->runner.connected && play_random(play, 3) != 0)
            request_give(play);
        time_pass(play);
    }
}

static uint32_t bytes_hash(const uint8_t *data, size_t size)
{
    uint32_t hash = 2166136261u;
    for (size_t i = 0; i < size; i++)
        hash = (hash ^ data[i]) * 16777619u;
    return hash;
}

/* False when the script was refused. */
static bool script_is_read(struct script_play *play, const struct language *language, struct settings *settings,
                           const uint8_t *data, size_t size)
{
    if (size == 0)
        return false; /* a stream of no bytes cannot be opened everywhere */
    uint8_t *bytes = bytes_copy(data, size);
    FILE *stream = fmemopen(bytes, size, "r");
    demand(stream != NULL);
    bool good = script_read_stream(&play->script, language, settings, "fuzz.sim", stream);
    fclose(stream);
    demand(!good || memchr(data, '\0', size) == NULL);
    free(bytes);
    return good;
}

/* `state_size`: of what simulator_start() makes; a program starts once and finds it cleared. */
static int script_try(const struct language *language, size_t state_size, const uint8_t *data, size_t size)
{
    static struct script_play play;
    static struct settings settings;
    memset(&play, 0, sizeof play);
    settings_default(&settings);
    play.seed = bytes_hash(data, size);
    if (!script_is_read(&play, language, &settings, data, size))
        return 0;
    script_is_sound(&play.script);
    simulator_start(&play.script, &play.truth, &play.actor);
    memset(play.actor.self, 0, state_size);
    simulator_start(&play.script, &play.truth, &play.actor);
    script_act(&play);
    return 0;
}

#endif
