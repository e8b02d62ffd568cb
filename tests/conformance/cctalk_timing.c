/*
 * Does the device answer in time, and without long pauses inside a reply?
 */
#include "cctalk_client.h"

#include <stdlib.h>

enum {
    SAMPLES = 12,
    OUTLIERS = 2,   /* what the host's own system may delay */
    REPLY_MS = 50,  /* quick commands: one device manual says 10 ms, another 50 ms */
    GAP_MS = 10,    /* between bytes: two device manuals and the standard's revision history */
    SLOW_MS = 1000, /* commands that act first: common practice, no source */
    BUSY_PATIENCE = 3
};

static int larger(const void *left, const void *right)
{
    uint64_t a = *(const uint64_t *)left;
    uint64_t b = *(const uint64_t *)right;
    return (a > b) - (a < b);
}

/* The largest, some outliers left out: they are more likely ours than the device's. */
static double judged_ms(uint64_t *samples, unsigned count)
{
    qsort(samples, count, sizeof *samples, larger);
    return (double)samples[count > OUTLIERS ? count - 1 - OUTLIERS : count - 1] / 1000;
}

static bool samples_take(struct client *client, uint8_t header, bool gaps, double limit_ms, const char *what)
{
    uint64_t samples[SAMPLES];
    unsigned count = 0;
    for (unsigned i = 0; i < SAMPLES; i++) {
        struct answer answer;
        exchange(client, header, NULL, 0, 500, &answer);
        if (answer.kind == ANSWER_DONE)
            samples[count++] = gaps ? answer.gap_us : answer.first_us;
        client_wait(client, 5);
    }
    if (count == 0)
        return true;
    double worst_ms = judged_ms(samples, count);
    figure(client->trial, "%u: %.1f ms", header, worst_ms);
    return expect(client->trial, worst_ms <= limit_ms, "%s to %u: %.1f ms, allowed are %.0f ms", what, header, worst_ms,
                  limit_ms);
}

static void reply_within_limit(struct trial *trial)
{
    static const uint8_t headers[] = {SIMPLE_POLL, TYPES_READ, MASTER_READ, BILL_EVENTS};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers && trial->result == RESULT_PASSED; i++)
        samples_take(&client, headers[i], false, REPLY_MS + latency_ms(&client), "reply");
}

static void byte_gap(struct trial *trial)
{
    static const uint8_t headers[] = {CATEGORY, BILL_EVENTS};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers && trial->result == RESULT_PASSED; i++)
        samples_take(&client, headers[i], true, GAP_MS + latency_ms(&client), "pause inside the reply");
}

static void slow_commands(struct trial *trial)
{
    static const uint8_t none[2] = {0, 0};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    static const struct {
        uint8_t header;
        uint32_t length;
    } commands[] = {{SELF_CHECK, 0}, {TYPES_WRITE, 2}, {MODE_WRITE, 1}};
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        struct answer answer;
        ask(&client, commands[i].header, none, commands[i].length, &answer);
        double took_ms = (double)answer.first_us / 1000;
        if (answer.kind != ANSWER_DONE)
            continue;
        figure(trial, "%u: %.1f ms", commands[i].header, took_ms);
        if (!expect(trial, took_ms <= SLOW_MS + latency_ms(&client), "reply to %u after %.0f ms, allowed are %d ms",
                    commands[i].header, took_ms, SLOW_MS))
            return;
    }
}

static void busy_ends(struct trial *trial)
{
    static const uint8_t headers[] = {SIMPLE_POLL, CATEGORY,   TYPES_READ, MASTER_READ,
                                      MODE_READ,   SELF_CHECK, BILL_EVENTS};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        struct answer answer;
        for (int tries = 0; tries < BUSY_PATIENCE; tries++) {
            if (ask_plain(&client, headers[i], &answer) != ANSWER_BUSY) /* waits some seconds itself */
                break;
        }
        if (!expect(trial, answer.kind != ANSWER_BUSY, "%u is answered with BUSY without end", headers[i]))
            return;
    }
}

const struct conformance_case cctalk_timing_cases[] = {
    {"cctalk/timing/reply-within-limit", SIDE_WIRE, "device manuals: quick commands answered within 50 ms", "one",
     "polling keeps its pace", NULL, reply_within_limit},
    {"cctalk/timing/byte-gap", SIDE_WIRE, "part 1, timing: never more than 10 ms between bytes of a message", "one",
     "the host need not wait long to know that a reply is torn", NULL, byte_gap},
    {"cctalk/timing/slow-commands", SIDE_WIRE, "commands that act first: our limit of 1 s", "practice",
     "self-check and settings do not hold up a start", NULL, slow_commands},
    {"cctalk/timing/busy-ends", SIDE_WIRE, "part 1, reply header 6: occupied, try later", "several",
     "BUSY is not for ever", NULL, busy_ends},
    {0}};
