/*
 * Which events has the device made since? And how does a case come by a note? See cctalk_watch.h.
 */
#include "cctalk_watch.h"

#include <string.h>

enum { POLL_MS = 50, EVENTS_LENGTH = 11, CALL_AGAIN_MS = 1000, STRANGERS_MAX = 8, OUTCOME_MS = 5000 };

bool is_held(struct bill_event event)
{
    return event.a > 0 && event.b == 1;
}

bool is_credit(struct bill_event event)
{
    return event.a > 0 && event.b == 0;
}

/* Failed validation, transport, inhibited, or believed to be a fraud: no money, and the note stays outside. */
bool is_refused(struct bill_event event)
{
    return event.a == 0 &&
           ((event.b >= 2 && event.b <= 5) || event.b == 8 || event.b == 9 || event.b == 17 || event.b == 18);
}

bool snapshot_read(struct client *client, struct snapshot *snapshot)
{
    struct answer answer;
    enum answer_kind kind = ask_plain(client, BILL_EVENTS, &answer);
    if (kind != ANSWER_DONE || answer.length != EVENTS_LENGTH) {
        skip(client->trial, "no usable answer to 159 (%s): see cctalk/events/reply-form", answer_text(&answer));
        return false;
    }
    snapshot->counter = answer.data[0];
    memcpy(snapshot->pairs, answer.data + 1, sizeof snapshot->pairs);
    return true;
}

bool watch_begin(struct client *client, struct watch *watch)
{
    *watch = (struct watch){.client = client};
    return snapshot_read(client, &watch->last);
}

/* 0 only after a reset, +1 for each event, 1 after 255: two published device manuals. */
static unsigned events_since(struct watch *watch, uint8_t now)
{
    uint8_t last = watch->last.counter;
    if (now == 0 && last != 0) {
        watch->to_zero = true;
        watch->broken = "the event counter became 0 without a reset: see cctalk/events/wrap";
        return 0;
    }
    if (now < last)
        watch->wrapped = true;
    return now >= last ? (unsigned)(now - last) : 255U - last + now;
}

/* What was there must still be there, moved down by the number of new events. */
static void order_check(struct watch *watch, const struct snapshot *now, unsigned count)
{
    static const uint8_t nothing[2 * PAIRS];
    size_t length = count < PAIRS ? (PAIRS - count) * sizeof now->pairs[0] : 0;
    if (length == 0 || memcmp(now->pairs[count], watch->last.pairs[0], length) == 0)
        return;
    bool emptied = memcmp(now->pairs[count], nothing, length) == 0;
    watch->broken = count == 0 || emptied
                        ? "reading changes the event buffer: see cctalk/events/reading-does-not-consume"
                        : "older events do not move down by one place each: see cctalk/events/newest-first";
}

static bool watch_read(struct watch *watch)
{
    struct snapshot now;
    if (!snapshot_read(watch->client, &now))
        return false;
    unsigned count = events_since(watch, now.counter);
    watch->client->held = watch->client->held || watch->broken != NULL; /* nobody knows */
    if (watch->broken != NULL)
        return false;
    if (count > PAIRS) {
        watch->jumped = true;
        count = PAIRS;
    }
    order_check(watch, &now, count);
    watch->last = now;
    for (unsigned i = count; i > 0; i--)
        watch->waiting[watch->waiting_count++] = (struct bill_event){now.pairs[i - 1][0], now.pairs[i - 1][1]};
    watch->client->held = watch->client->held || watch->broken != NULL || watch->jumped;
    return watch->broken == NULL;
}

static void event_take(struct watch *watch, struct bill_event *event)
{
    *event = watch->waiting[0];
    watch->waiting_count--;
    memmove(watch->waiting, watch->waiting + 1, watch->waiting_count * sizeof watch->waiting[0]);
    if (is_held(*event))
        watch->client->held = true;
    if (is_credit(*event) || (event->a == 0 && event->b == 1))
        watch->client->held = false;
    watch->credits += is_credit(*event);
}

bool watch_next(struct watch *watch, uint64_t until_us, struct bill_event *event)
{
    struct line *line = watch->client->line;
    while (watch->waiting_count == 0) {
        if (line_gone(line) != NULL || watch->broken != NULL || !watch_read(watch))
            return false;
        if (watch->waiting_count > 0)
            break;
        if (line_now_us(line) >= until_us)
            return false;
        client_wait(watch->client, POLL_MS);
    }
    event_take(watch, event);
    return true;
}

bool notes_enable(struct client *client, uint8_t mode)
{
    static const uint8_t all[2] = {0xFF, 0xFF};
    struct answer answer;
    if (ask_byte(client, MODE_WRITE, mode, &answer) != ANSWER_DONE) {
        skip(client->trial, "the operating mode cannot be set (%s)", answer_text(&answer));
        return false;
    }
    bool types = ask(client, TYPES_WRITE, all, 2, &answer) == ANSWER_DONE;
    if (!types || ask_byte(client, MASTER_WRITE, 1, &answer) != ANSWER_DONE) {
        skip(client->trial, "the device cannot be enabled (%s): see cctalk/inhibit", answer_text(&answer));
        client_end(client);
        return false;
    }
    return true;
}

static bool fits(enum wish wish, struct bill_event event)
{
    return wish == WISH_ANY || (wish == WISH_HELD && is_held(event)) ||
           (wish == WISH_GOOD && (is_held(event) || is_credit(event))) || (wish == WISH_REFUSED && is_refused(event));
}

/* A note that another case would want: back to the customer, and on to the next. */
static void stranger_end(struct watch *watch)
{
    struct answer answer;
    struct bill_event event;
    if (!watch->client->held)
        return;
    (void)ask_byte(watch->client, ROUTE, 0, &answer);
    uint64_t until_us = line_now_us(watch->client->line) + MS(OUTCOME_MS);
    while (watch->client->held && watch_next(watch, until_us, &event))
        ;
}

/* "Is the path free?" Simulated devices take it as the tester's hand. */
static void path_look(struct client *client)
{
    struct answer answer;
    (void)ask_plain(client, OPTO_STATES, &answer);
}

bool note_await(struct watch *watch, enum wish wish, const char *text, struct bill_event *event)
{
    struct client *client = watch->client;
    if (!note_ask(client->trial, text))
        return false;
    uint64_t until_us = line_now_us(client->line) + MS(1000) * client->trial->options->seconds;
    unsigned strangers = 0;
    stranger_end(watch); /* the note before */
    while (strangers < STRANGERS_MAX && watch->broken == NULL && !watch->jumped && line_gone(client->line) == NULL &&
           line_now_us(client->line) < until_us) {
        path_look(client);
        if (!watch_next(watch, line_now_us(client->line) + MS(CALL_AGAIN_MS), event))
            continue;
        if (fits(wish, *event))
            return true;
        strangers++;
        stranger_end(watch);
    }
    const char *jumped = "more events than the buffer holds: see cctalk/events/counter-counts-events";
    const char *why = watch->broken != NULL ? watch->broken : watch->jumped ? jumped : "no such note came in time";
    skip(client->trial, "%s", why);
    return false;
}

bool note_hold(struct trial *trial, struct client *client, struct watch *watch, struct bill_event *event)
{
    if (!client_begin(trial, client) || !watch_begin(client, watch))
        return false;
    if (notes_enable(client, 3) && note_await(watch, WISH_HELD, "insert a good note", event))
        return true;
    client_end(client);
    return false;
}
