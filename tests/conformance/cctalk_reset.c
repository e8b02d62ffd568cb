/*
 * Does a reset bring the device to its defaults, in every state?
 */
#include "cctalk_watch.h"

#include <string.h>

enum { RESET_PAUSE_MS = 100, RESET_LIMIT_MS = 10000, POLL_MS = 250 };

/* Resets and waits until the device answers again. False = the case has failed or is skipped. */
static bool device_reset(struct client *client)
{
    struct trial *trial = client->trial;
    struct answer answer;
    exchange(client, RESET, NULL, 0, 1000, &answer);
    if (answer.kind == ANSWER_NAK || answer.kind == ANSWER_BUSY) {
        skip(trial, "the device does not reset (%s): see cctalk/reset/answers-again", answer_text(&answer));
        return false;
    }
    client->held = false;
    uint64_t begin_us = line_now_us(client->line);
    client_wait(client, RESET_PAUSE_MS); /* "wait at least 100 ms": a device manual */
    while (line_gone(client->line) == NULL && line_now_us(client->line) < begin_us + MS(RESET_LIMIT_MS)) {
        exchange(client, SIMPLE_POLL, NULL, 0, POLL_MS, &answer);
        if (answer.kind == ANSWER_DONE) {
            figure(trial, "answers after %.0f ms", (double)(line_now_us(client->line) - begin_us) / 1000);
            return true;
        }
        client_wait(client, POLL_MS / 4);
    }
    skip(trial, "the device does not answer within 10 s: see cctalk/reset/answers-again");
    return false;
}

static void answers_again(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    for (int tries = 0; tries < 3; tries++) {
        exchange(&client, RESET, NULL, 0, 1000, &answer);
        if (answer.kind != ANSWER_DAMAGED)
            break;
        client_wait(&client, 1000);
    }
    expect(trial, answer.kind == ANSWER_DONE && answer.length == 0, "1 is answered with %s, not with ACK",
           answer_text(&answer));
    bool back = false;
    uint64_t until_us = line_now_us(client.line) + MS(RESET_LIMIT_MS);
    client_wait(&client, RESET_PAUSE_MS);
    while (!back && line_gone(client.line) == NULL && line_now_us(client.line) < until_us) {
        exchange(&client, SIMPLE_POLL, NULL, 0, POLL_MS, &answer);
        back = answer.frame_length > 0;
    }
    expect(trial, back, "10 s after the reset the device does not answer");
}

static void inhibits_default(struct trial *trial)
{
    static const uint8_t all[2] = {0xFF, 0xFF};
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_byte(&client, MASTER_WRITE, 0, &answer);
    ask(&client, TYPES_WRITE, all, 2, &answer);
    if (!device_reset(&client))
        return;
    ask_plain(&client, TYPES_READ, &answer);
    bool none = answer.kind == ANSWER_DONE && answer.length >= 2 && answer.data[0] == 0 && answer.data[1] == 0;
    expect(trial, none, "after a reset 230 is answered with %s; every type must be inhibited", answer_text(&answer));
    ask_plain(&client, MASTER_READ, &answer);
    figure(trial, "227 after reset: %s", answer_text(&answer)); /* coin devices: 1; bill validators: 0, from memory */
    client_end(&client);
}

static void counter_zero(struct trial *trial)
{
    struct client client;
    struct snapshot snapshot;
    if (!client_begin(trial, &client) || !device_reset(&client) || !snapshot_read(&client, &snapshot))
        return;
    expect(trial, snapshot.counter == 0, "after a reset the event counter is %u, not 0", snapshot.counter);
}

static void buffer_empty(struct trial *trial)
{
    struct client client;
    struct snapshot snapshot;
    static const uint8_t nothing[2 * PAIRS];
    if (!client_begin(trial, &client) || !device_reset(&client) || !snapshot_read(&client, &snapshot))
        return;
    expect(trial, memcmp(snapshot.pairs, nothing, sizeof nothing) == 0,
           "after a reset the buffer still holds events, the newest %u,%u", snapshot.pairs[0][0], snapshot.pairs[0][1]);
}

static void while_enabled(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client) || !notes_enable(&client, 3) || !device_reset(&client))
        return;
    ask_plain(&client, CATEGORY, &answer);
    expect(trial, answer.kind == ANSWER_DONE, "reset while enabled: 245 is answered with %s", answer_text(&answer));
    client_end(&client);
}

static void while_held(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!note_hold(trial, &client, &watch, &event))
        return;
    if (device_reset(&client)) {
        struct watch after;
        if (watch_begin(&client, &after) && watch_next(&after, line_now_us(client.line) + MS(1000), &event))
            figure(trial, "event %u,%u after the reset", event.a, event.b);
        figure(trial, "look where the note went: the standard leaves it open");
    }
    client_end(&client);
}

static void twice(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    for (int i = 0; i < 2; i++) { /* twice in a row: a reset must not depend on what was before */
        if (!device_reset(&client))
            return;
    }
    ask_plain(&client, SIMPLE_POLL, &answer);
    expect(trial, answer.kind == ANSWER_DONE, "after two resets in a row 254 is answered with %s",
           answer_text(&answer));
}

const struct conformance_case cctalk_reset_cases[] = {
    {"cctalk/reset/answers-again", SIDE_WIRE, "part 2, header 1: ACK, then restart; our limit of 10 s", "several",
     "a reset can be seen through", NULL, answers_again},
    {"cctalk/reset/inhibits-default", SIDE_WIRE, "part 2, header 1: all inhibits go to defaults, nothing accepted",
     "several", "a device that lost its settings takes no notes", NULL, inhibits_default},
    {"cctalk/reset/counter-zero", SIDE_WIRE, "device manual: the event counter is 0 only after power-up or reset",
     "one", "a restart is seen in the counter", NULL, counter_zero},
    {"cctalk/reset/buffer-empty", SIDE_WIRE, "part 2, header 1: the event buffer goes to its default", "several",
     "old events are not read as new ones", NULL, buffer_empty},
    {"cctalk/reset/twice", SIDE_WIRE, "part 2, header 1", "several", "a reset does not depend on what was before", NULL,
     twice},
    {"cctalk/reset/while-enabled", SIDE_WIRE, "part 2, header 1", "several", "a reset is taken while notes are awaited",
     NULL, while_enabled},
    {"cctalk/reset/while-held", SIDE_WIRE, "part 2, header 1; the fate of the note is not settled", "memory",
     "a reset with a note in escrow ends", "insert a good note; look where it goes", while_held},
    {0}};
