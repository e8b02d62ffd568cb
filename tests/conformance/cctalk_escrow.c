/*
 * Is a held note's fate in the host's hands, and does the device tell it?
 */
#include "cctalk_watch.h"

enum { DECISION_MS = 800, OUTCOME_MS = 6000, EMPTY = 254, STACK = 1, RETURN = 0, EXTEND = 255 };

static void route_empty(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    client.held = true; /* a note may still be there from before: back, and then nothing is in escrow */
    client_end(&client);
    ask_byte(&client, ROUTE, STACK, &answer);
    if (unsupported(&client, &answer, ROUTE))
        return;
    bool empty = answer.length == 1 && (answer.data[0] == EMPTY || answer.data[0] == 255);
    expect(trial, empty, "with an empty escrow 154 is answered with %s, not with 254", answer_text(&answer));
}

/* Waits for the end of the held note. False = none came. */
static bool outcome_await(struct watch *watch, struct bill_event *event)
{
    uint64_t until_us = line_now_us(watch->client->line) + MS(OUTCOME_MS);
    return watch_next(watch, until_us, event);
}

static void waits_for_decision(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!note_hold(trial, &client, &watch, &event))
        return;
    if (watch_next(&watch, line_now_us(client.line) + MS(DECISION_MS), &event))
        expect(trial, !is_credit(event), "a note of type %u was stacked and credited, and nobody had decided", event.a);
    client_end(&client);
}

/* The device acted by itself, which has a case of its own. */
static bool acted_alone(struct trial *trial, struct watch *watch, struct bill_event *event)
{
    if (watch->broken != NULL || !watch_next(watch, line_now_us(watch->client->line) + MS(100), event))
        return false;
    if (is_credit(*event))
        skip(trial, "the note was stacked without being asked: see cctalk/escrow/waits-for-decision");
    return is_credit(*event);
}

/* True when 154 was taken and an outcome came. */
static bool decided(struct trial *trial, struct watch *watch, uint8_t route, struct bill_event *event)
{
    struct client *client = watch->client;
    struct answer answer;
    if (acted_alone(trial, watch, event))
        return false;
    ask_byte(client, ROUTE, route, &answer);
    /* The reply was damaged: the first request may have been taken, and the escrow be empty at the second. */
    bool empty = answer.kind == ANSWER_DONE && answer.length == 1 && answer.data[0] == EMPTY;
    bool taken = answer.kind == ANSWER_DONE && (answer.length == 0 || (empty && client->repeated));
    if (!taken && acted_alone(trial, watch, event))
        return false;
    return expect(trial, taken, "154 [%u] is answered with %s, not with ACK", route, answer_text(&answer)) &&
           expect(trial, outcome_await(watch, event), "154 [%u] was taken, and no event told what became of the note",
                  route);
}

static void held_then_stacked(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!note_hold(trial, &client, &watch, &event))
        return;
    uint8_t type = event.a;
    if (decided(trial, &watch, STACK, &event)) {
        bool jam = event.a == 0 && event.b > 1;
        if (jam)
            skip(trial, "the note did not arrive (event 0,%u)", event.b);
        expect(trial, jam || (is_credit(event) && event.a == type),
               "type %u was held and stacked, the event is %u,%u and not %u,0", type, event.a, event.b, type);
        uint64_t until_us = line_now_us(client.line) + MS(500);
        while (watch_next(&watch, until_us, &event))
            expect(trial, !is_credit(event), "one note was stacked, and a second credit came");
    }
    client_end(&client);
}

static void held_then_returned(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!note_hold(trial, &client, &watch, &event))
        return;
    if (decided(trial, &watch, RETURN, &event)) {
        bool trouble = event.a == 0 && event.b > 1;
        if (trouble)
            skip(trial, "the note did not come back (event 0,%u)", event.b);
        expect(trial, trouble || (event.a == 0 && event.b == 1),
               "the note was given back, the event is %u,%u and not 0,1", event.a, event.b);
    }
    client_end(&client);
}

static void extend(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    struct answer answer;
    if (!note_hold(trial, &client, &watch, &event))
        return;
    if (!acted_alone(trial, &watch, &event)) {
        ask_byte(&client, ROUTE, EXTEND, &answer);
        bool known = answer.kind == ANSWER_DONE && answer.length == 0;
        if (!known)
            skip(trial, "154 [255] is answered with %s", answer_text(&answer));
        else if (watch_next(&watch, line_now_us(client.line) + MS(DECISION_MS), &event))
            expect(trial, !is_credit(event) && !(event.a == 0 && event.b == 1),
                   "the hold was extended, and the note left at once (%u,%u)", event.a, event.b);
    }
    client_end(&client);
}

static void without_escrow(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct bill_event event;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch))
        return;
    if (notes_enable(&client, 1) && note_await(&watch, WISH_GOOD, "insert a good note; it will be stacked", &event) &&
        expect(trial, is_credit(event), "escrow is off, and a note of type %u is held", event.a))
        expect(trial, watch.credits == 1, "one note, %u credits", watch.credits);
    client_end(&client);
}

const struct conformance_case cctalk_escrow_cases[] = {
    {"cctalk/escrow/route-empty", SIDE_WIRE, "part 2, header 154: 254 = the escrow is empty", "memory",
     "a decision that came too late is seen as such", NULL, route_empty},
    {"cctalk/escrow/waits-for-decision", SIDE_WIRE, "part 2, headers 153 and 154: the device holds and waits", "memory",
     "no money is taken before the host has decided", "insert a good note; it will come back", waits_for_decision},
    {"cctalk/escrow/held-then-stacked", SIDE_WIRE, "part 3, bill events: type,1 then type,0", "memory",
     "one note is one credit, of the type that was held", "insert a good note; it will be stacked", held_then_stacked},
    {"cctalk/escrow/held-then-returned", SIDE_WIRE, "part 3, bill events: type,1 then 0,1", "memory",
     "a returned note is told and not credited", "insert a good note; it will come back", held_then_returned},
    {"cctalk/escrow/extend", SIDE_WIRE, "part 2, header 154: 255 = hold longer", "memory",
     "a person has time to decide (optional)", "insert a good note; it will come back", extend},
    {"cctalk/escrow/without-escrow", SIDE_WIRE, "part 2, header 153: escrow off, stacked at once", "memory",
     "a host without decisions gets its credit", "insert a good note; it will be stacked", without_escrow},
    {0}};
