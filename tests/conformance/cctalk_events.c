/*
 * Does the event buffer count and keep events so that none is lost or read twice?
 */
#include "cctalk_watch.h"

#include <string.h>

enum { READS = 6, WRAP_NEAR = 240, WRAP_NOTES_MAX = 300 };

static void reply_form(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, BILL_EVENTS, &answer);
    expect(trial, answer.kind == ANSWER_DONE && answer.length == 1 + 2 * PAIRS, "159 is answered with %s, not 11 bytes",
           answer_text(&answer));
}

/* Far from 255 it takes too many notes for a person. */
static bool wrap_in_reach(struct trial *trial, const struct watch *watch)
{
    if (watch->last.counter >= WRAP_NEAR || trial->options->notes_come)
        return true;
    skip(trial, "the counter is at %u: it takes %u more notes to see it wrap", watch->last.counter,
         255U - watch->last.counter + 1);
    return false;
}

static void wrap(struct trial *trial)
{
    struct client client;
    struct watch watch;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch) || !wrap_in_reach(trial, &watch))
        return;
    uint8_t from = watch.last.counter;
    struct bill_event event;
    if (!notes_enable(&client, 3))
        return;
    for (int notes = 0; notes < WRAP_NOTES_MAX && !watch.wrapped && trial->result == RESULT_PASSED; notes++) {
        if (note_await(&watch, WISH_ANY, "insert any note (the counter must go past 255)", &event))
            if (client.held) {
                struct answer answer;
                ask_byte(&client, ROUTE, 0, &answer);
            }
    }
    figure(trial, "from %u to %u", from, watch.last.counter);
    if (watch.wrapped || watch.to_zero) /* an event that takes it past 255 */
        trial->result = RESULT_PASSED;
    expect(trial, !watch.to_zero, "the counter went from %u to 0; after 255 comes 1", watch.last.counter);
    client_end(&client);
}

static void reading_does_not_consume(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch))
        return;
    if (notes_enable(&client, 3) && note_await(&watch, WISH_ANY, "insert any note", &event)) {
        struct snapshot first = watch.last;
        struct snapshot again;
        for (int i = 0; i < READS && snapshot_read(&client, &again); i++) {
            if (first.counter != again.counter) { /* the note goes on: look again */
                first = again;
                continue;
            }
            if (!expect(trial, memcmp(&first, &again, sizeof first) == 0,
                        "read %d differs from the one before, and no event came between", i + 1))
                break;
        }
    }
    if (watch.broken != NULL && strstr(watch.broken, trial->item->id) != NULL) {
        trial->result = RESULT_PASSED;
        expect(trial, false, "what was read once is gone at the next read, and no event came between");
    }
    client_end(&client);
}

static void newest_first(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch))
        return;
    if (notes_enable(&client, 3)) {
        for (int notes = 0; notes < 3 && trial->result == RESULT_PASSED; notes++)
            (void)note_await(&watch, WISH_ANY, "insert any note", &event);
    }
    if (watch.broken != NULL && strstr(watch.broken, trial->item->id) != NULL) {
        trial->result = RESULT_PASSED;
        expect(trial, false, "the newest event must be the first pair, and older ones must move down by one");
    }
    client_end(&client);
}

static void counter_counts_events(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch))
        return;
    unsigned events = 0;
    uint8_t from = watch.last.counter;
    if (notes_enable(&client, 3)) {
        for (int notes = 0; notes < 2 && note_await(&watch, WISH_ANY, "insert any note", &event); notes++)
            events++;
    }
    if (watch.jumped) /* what every other case is skipped for */
        trial->result = RESULT_PASSED;
    if (trial->result == RESULT_PASSED) {
        figure(trial, "counter from %u to %u", from, watch.last.counter);
        expect(trial, !watch.jumped, "the counter jumped by more than five at one note");
        expect(trial, events == 0 || watch.last.counter != from, "events came, and the counter stayed at %u", from);
    }
    client_end(&client);
}

static void refused_note(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch))
        return;
    if (notes_enable(&client, 3) &&
        note_await(&watch, WISH_REFUSED, "insert a note that will be refused: folded, or plain paper", &event)) {
        figure(trial, "0,%u", event.b);
        uint64_t until_us = line_now_us(client.line) + MS(600);
        while (watch_next(&watch, until_us, &event))
            expect(trial, !is_credit(event), "a credit of type %u followed a refused note", event.a);
    }
    client_end(&client);
}

const struct conformance_case cctalk_events_cases[] = {
    {"cctalk/events/reply-form", SIDE_WIRE, "part 2, header 159: counter and five pairs, 11 bytes", "memory",
     "events can be read", NULL, reply_form},
    {"cctalk/events/wrap", SIDE_WIRE, "device manuals: after 255 comes 1", "several", "0 always means a restart",
     "insert notes until the counter has passed 255 (only offered when it is near)", wrap},
    {"cctalk/events/reading-does-not-consume", SIDE_WIRE, "part 2, header 159: reading removes nothing", "memory",
     "a lost reply loses no event", "insert any note", reading_does_not_consume},
    {"cctalk/events/newest-first", SIDE_WIRE, "part 2, header 159: a new event pushes the others down", "memory",
     "the order of events is known", "insert any note, three times", newest_first},
    {"cctalk/events/counter-counts-events", SIDE_WIRE, "device manual: +1 for each event", "one",
     "loss is seen as a gap", "insert any note, twice", counter_counts_events},
    {"cctalk/events/refused-note", SIDE_WIRE, "part 3, bill events: 0,2 to 0,5 and fraud codes carry no money",
     "memory", "a refused note is told and not credited", "insert a note that will be refused: folded, or plain paper",
     refused_note},
    {0}};
