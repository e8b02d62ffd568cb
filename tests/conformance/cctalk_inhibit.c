/*
 * Does the device take notes only when it is told to?
 */
#include "cctalk_watch.h"

#include <string.h>

enum { OFFERS = 3, NOTE_SETTLES_MS = 500, WATCHDOG_MS = 1600 };

static void types_read_back(struct trial *trial)
{
    static const uint8_t patterns[][2] = {{0xFF, 0xFF}, {0x55, 0x55}, {0xAA, 0xAA}, {0x01, 0x00}, {0x00, 0x00}};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    struct answer answer;
    uint8_t there[2] = {0xFF, 0xFF}; /* unprogrammed places may always read 0 (a device manual) */
    ask_byte(&client, MASTER_WRITE, 0, &answer);
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0] && trial->result == RESULT_PASSED; i++) {
        ask(&client, TYPES_WRITE, patterns[i], 2, &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE, "231 is answered with %s", answer_text(&answer)))
            break;
        ask_plain(&client, TYPES_READ, &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE && answer.length >= 2, "230 is answered with %s",
                    answer_text(&answer)))
            break;
        if (i == 0)
            memcpy(there, answer.data, 2);
        bool same = answer.data[0] == (patterns[i][0] & there[0]) && answer.data[1] == (patterns[i][1] & there[1]);
        expect(trial, same, "231 wrote %02x %02x, 230 reads %02x %02x (places that exist: %02x %02x)", patterns[i][0],
               patterns[i][1], answer.data[0], answer.data[1], there[0], there[1]);
    }
    expect(trial, trial->result != RESULT_PASSED || (there[0] | there[1]) != 0, "no type can be enabled");
    client_end(&client);
}

static void master_read_back(struct trial *trial)
{
    static const uint8_t values[] = {0, 1, 0};
    static const uint8_t none[2] = {0, 0};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    struct answer answer;
    ask(&client, TYPES_WRITE, none, 2, &answer);
    for (size_t i = 0; i < sizeof values && trial->result == RESULT_PASSED; i++) {
        ask_byte(&client, MASTER_WRITE, values[i], &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE, "228 is answered with %s", answer_text(&answer)))
            break;
        ask_plain(&client, MASTER_READ, &answer);
        bool same = answer.kind == ANSWER_DONE && answer.length == 1 && (answer.data[0] & 1) == values[i];
        expect(trial, same, "228 wrote %u, 227 is answered with %s", values[i], answer_text(&answer));
    }
    client_end(&client);
}

static void mode_read_back(struct trial *trial)
{
    static const uint8_t modes[] = {1, 3};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    struct answer answer;
    ask_byte(&client, MASTER_WRITE, 0, &answer);
    for (size_t i = 0; i < sizeof modes && trial->result == RESULT_PASSED; i++) {
        ask_byte(&client, MODE_WRITE, modes[i], &answer);
        if (unsupported(&client, &answer, MODE_WRITE))
            break;
        ask_plain(&client, MODE_READ, &answer);
        if (unsupported(&client, &answer, MODE_READ))
            break;
        bool same = answer.length == 1 && (answer.data[0] & 3) == modes[i];
        expect(trial, same, "153 wrote %u, 152 is answered with %s", modes[i], answer_text(&answer));
    }
    client_end(&client);
}

/* A note is offered to a device that must not take it: no event may say that it is in escrow or stacked. */
static void no_note_taken(struct watch *watch, const char *text)
{
    struct client *client = watch->client;
    struct trial *trial = client->trial;
    struct bill_event event;
    if (!note_ask(trial, text))
        return;
    unsigned seen = 0;
    unsigned offers = trial->options->attended ? 1 : OFFERS;
    uint32_t wait_ms = trial->options->attended ? 1000 * trial->options->seconds : NOTE_SETTLES_MS;
    for (unsigned i = 0; i < offers && trial->result == RESULT_PASSED; i++) {
        struct answer answer;
        ask_plain(client, OPTO_STATES, &answer); /* simulated devices take it as the tester's hand */
        uint64_t until_us = line_now_us(client->line) + MS(wait_ms);
        while (trial->result == RESULT_PASSED && watch_next(watch, until_us, &event)) {
            seen++;
            expect(trial, !is_held(event), "a note of type %u is in escrow, though the device is inhibited", event.a);
            expect(trial, !is_credit(event), "a note of type %u was stacked, though the device is inhibited", event.a);
        }
    }
    if (watch->broken != NULL)
        skip(trial, "%s", watch->broken);
    figure(trial, "%u events", seen); /* none when the device does not even draw the note in */
}

static void master_refuses_notes(struct trial *trial)
{
    struct client client;
    struct watch watch;
    struct answer answer;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch) || !notes_enable(&client, 3))
        return;
    ask_byte(&client, MASTER_WRITE, 0, &answer);
    no_note_taken(&watch, "offer a good note: the device must not take it");
    client_end(&client);
}

static void type_refused(struct trial *trial)
{
    static const uint8_t none[2] = {0, 0};
    struct client client;
    struct watch watch;
    struct answer answer;
    if (!client_begin(trial, &client) || !watch_begin(&client, &watch) || !notes_enable(&client, 3))
        return;
    ask(&client, TYPES_WRITE, none, 2, &answer);
    no_note_taken(&watch, "offer a good note: the device must give it back");
    client_end(&client);
}

static void watchdog_keeps_masks(struct trial *trial)
{
    static const uint8_t mask[2] = {0x05, 0x00};
    struct client client;
    struct answer before;
    struct answer after;
    if (!client_begin(trial, &client))
        return;
    ask_byte(&client, MASTER_WRITE, 0, &before);
    ask(&client, TYPES_WRITE, mask, 2, &before);
    ask_plain(&client, TYPES_READ, &before);
    client_wait(&client, WATCHDOG_MS); /* no 159: the device may inhibit itself, but must forget nothing */
    ask_plain(&client, BILL_EVENTS, &after);
    ask_plain(&client, TYPES_READ, &after);
    bool same = before.kind == after.kind && before.length == after.length &&
                memcmp(before.frame, after.frame, before.frame_length) == 0;
    expect(trial, same, "after %d ms without polls 230 is answered with %s", WATCHDOG_MS, answer_text(&after));
    client_end(&client);
}

const struct conformance_case cctalk_inhibit_cases[] = {
    {"cctalk/inhibit/types-read-back", SIDE_WIRE, "part 2, headers 231 and 230: two masks, 1 = accept", "several",
     "what was written is what holds", NULL, types_read_back},
    {"cctalk/inhibit/master-read-back", SIDE_WIRE, "part 2, headers 228 and 227: bit 0, 1 = normal", "one",
     "what was written is what holds", NULL, master_read_back},
    {"cctalk/mode/read-back", SIDE_WIRE, "part 2, headers 153 and 152: stacker and escrow bits", "memory",
     "escrow can be switched", NULL, mode_read_back},
    {"cctalk/inhibit/master-refuses-notes", SIDE_WIRE, "part 2, header 228: 0 = master inhibit on", "one",
     "a closed till takes no money", "offer a good note; it must come back", master_refuses_notes},
    {"cctalk/inhibit/type-refused", SIDE_WIRE, "part 2, header 231: 0 = inhibit that type", "several",
     "a type that is off is not taken", "offer a good note; it must come back", type_refused},
    {"cctalk/inhibit/watchdog-keeps-masks", SIDE_WIRE,
     "device manuals: about 1 s without a poll the device may inhibit itself; masks unchanged", "several",
     "polling may resume without a new set-up", NULL, watchdog_keeps_masks},
    {0}};
