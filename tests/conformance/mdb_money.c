/*
 * Resets, notes on and off, escrow and the stacker's count: does an MDB validator move notes only as it is told, and
 * tell each of them once?
 */
#include "mdb_client.h"

enum {
    JUST_RESET = 0x06,
    INVALID_ESCROW = 0x0A,
    STACK = 1,
    RETURN = 0,
    BREAK_WORD = 0x8000,
    RESET_LIMIT_MS = 10000,
    DECISION_MS = 800,
    OUTCOME_MS = 6000,
    NOTE_SETTLES_MS = 500,
    OFFERS = 3
};

/* RESET, then polls until 06 has come. False = the case has failed or is skipped. */
static bool device_reset(struct mdb_client *client)
{
    struct mdb_answer answer;
    uint8_t event;
    master_ask_plain(client, MDB_RESET, &answer);
    master_events_forget();
    uint64_t begin_us = line_now_us(client->line);
    uint64_t until_us = begin_us + MS(RESET_LIMIT_MS);
    client->held = false;
    while (master_event(client, until_us, &event)) {
        if (event != JUST_RESET)
            continue;
        figure(client->trial, "06 after %.0f ms", (double)(line_now_us(client->line) - begin_us) / 1000);
        return true;
    }
    skip(client->trial, "no 06 within 10 s: see mdb/reset/told");
    return false;
}

static void reset_told(struct trial *trial)
{
    struct mdb_client client;
    struct mdb_answer answer;
    uint8_t event = 0;
    if (!master_begin(trial, &client))
        return;
    master_ask_plain(&client, MDB_RESET, &answer);
    expect(trial, answer.kind == MDB_ACK, "RESET is answered with %s", master_text(&answer));
    master_events_forget();
    uint64_t until_us = line_now_us(client.line) + MS(RESET_LIMIT_MS / 4);
    while (event != JUST_RESET && master_event(&client, until_us, &event))
        ;
    expect(trial, event == JUST_RESET, "after RESET no answer to POLL said 06");
    master_end(&client);
}

static void reset_told_once(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_begin(trial, &client) || !device_reset(&client))
        return;
    uint64_t until_us = line_now_us(client.line) + MS(DECISION_MS);
    while (master_event(&client, until_us, &event))
        expect(trial, event != JUST_RESET, "06 was acknowledged and told again");
    master_end(&client);
}

static void bus_reset(struct trial *trial)
{
    static const uint16_t words[] = {BREAK_WORD};
    struct mdb_client client;
    struct mdb_answer answer;
    uint8_t event = 0;
    if (!master_begin(trial, &client))
        return;
    master_words_exchange(&client, words, 1, 400, &answer); /* 100 ms of break, 200 ms of rest */
    master_events_forget();
    uint64_t until_us = line_now_us(client.line) + MS(RESET_LIMIT_MS / 4);
    while (event != JUST_RESET && master_event(&client, until_us, &event))
        ;
    expect(trial, event == JUST_RESET, "after a bus reset no answer to POLL said 06");
    master_end(&client);
}

static void acknowledged(struct trial *trial, const uint8_t *command, uint32_t length, const char *what)
{
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client))
        return;
    master_ask(&client, command, length, &answer);
    expect(trial, answer.kind == MDB_ACK, "%s is answered with %s", what, master_text(&answer));
    master_end(&client);
}

static void bill_type_taken(struct trial *trial)
{
    static const uint8_t none[] = {MDB_BILL_TYPE, 0, 0, 0, 0};
    acknowledged(trial, none, sizeof none, "BILL TYPE");
}

static void security_taken(struct trial *trial)
{
    static const uint8_t high[] = {MDB_SECURITY, 0xFF, 0xFF};
    acknowledged(trial, high, sizeof high, "SECURITY");
}

static void escrow_empty(struct trial *trial)
{
    static const uint8_t stack[] = {MDB_ESCROW, STACK};
    struct mdb_client client;
    struct mdb_answer answer;
    uint8_t event = 0;
    if (!master_begin(trial, &client))
        return;
    client.held = true; /* a note may still be there: back with it first */
    master_end(&client);
    uint64_t until_us = line_now_us(client.line) + MS(NOTE_SETTLES_MS);
    while (master_event(&client, until_us, &event))
        ;
    master_ask(&client, stack, sizeof stack, &answer);
    event = 0;
    until_us = line_now_us(client.line) + MS(1500);
    while (event != INVALID_ESCROW && master_event(&client, until_us, &event))
        expect(trial, !master_is_credit(event), "ESCROW with an empty escrow made a credit: %02x", event);
    expect(trial, event == INVALID_ESCROW || answer.kind != MDB_ACK,
           "ESCROW with an empty escrow was acknowledged, and no 0A followed");
}

/* ---- Notes ---- */

static void not_taken(struct mdb_client *client, const char *text)
{
    struct trial *trial = client->trial;
    uint8_t event;
    if (!note_ask(trial, text))
        return;
    unsigned offers = trial->options->attended ? 1 : OFFERS;
    uint32_t wait_ms = trial->options->attended ? 1000 * trial->options->seconds : NOTE_SETTLES_MS;
    unsigned seen = 0;
    for (unsigned i = 0; i < offers && trial->result == RESULT_PASSED; i++) {
        master_hand(client);
        uint64_t until_us = line_now_us(client->line) + MS(wait_ms);
        while (master_event(client, until_us, &event)) {
            seen++;
            expect(trial, !master_is_held(event) && !master_is_credit(event),
                   "%02x: a note was taken, though every type is off", event);
        }
    }
    figure(trial, "%u events", seen);
}

static void disabled_not_taken(struct trial *trial)
{
    static const uint8_t none[] = {MDB_BILL_TYPE, 0, 0, 0, 0};
    struct mdb_client client;
    struct mdb_answer answer;
    if (!master_begin(trial, &client) || !master_enable(&client, true))
        return;
    master_ask(&client, none, sizeof none, &answer);
    not_taken(&client, "offer a good note: the device must not take it");
    master_end(&client);
}

static void reset_disables(struct trial *trial)
{
    struct mdb_client client;
    if (!master_begin(trial, &client) || !master_enable(&client, true))
        return;
    if (device_reset(&client))
        not_taken(&client, "offer a good note: after a reset the device must not take it");
    master_end(&client);
}

static void refused_note(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_begin(trial, &client))
        return;
    if (master_enable(&client, true) &&
        master_note_await(&client, MDB_WISH_REFUSED, "insert a note that will be refused: folded, or plain paper",
                          &event)) {
        figure(trial, "%02x", event);
        uint64_t until_us = line_now_us(client.line) + MS(DECISION_MS);
        while (master_event(&client, until_us, &event))
            expect(trial, !master_is_credit(event), "a credit (%02x) followed a refused note", event);
    }
    master_end(&client);
}

static void waits_for_decision(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_note_hold(trial, &client, &event))
        return;
    if (master_event(&client, line_now_us(client.line) + MS(DECISION_MS), &event))
        expect(trial, !master_is_credit(event), "%02x: the note was stacked, and nobody had decided", event);
    master_end(&client);
}

/* The device acted by itself, which has a case of its own. */
static bool acted_alone(struct mdb_client *client)
{
    uint8_t event;
    if (!master_event(client, line_now_us(client->line) + MS(100), &event))
        return false;
    if (master_is_credit(event))
        skip(client->trial, "the note was stacked without being asked: see mdb/escrow/waits-for-decision");
    return true;
}

/* True when ESCROW was taken and an outcome came. */
static bool decided(struct mdb_client *client, uint8_t decision, uint8_t *event)
{
    const uint8_t command[] = {MDB_ESCROW, decision};
    struct trial *trial = client->trial;
    struct mdb_answer answer;
    if (acted_alone(client))
        return false;
    master_ask(client, command, sizeof command, &answer);
    if (!expect(trial, answer.kind == MDB_ACK, "ESCROW %u is answered with %s", decision, master_text(&answer)))
        return false;
    uint64_t until_us = line_now_us(client->line) + MS(OUTCOME_MS);
    bool told = master_event(client, until_us, event);
    if (told && *event == INVALID_ESCROW) /* the command was repeated, its ACK having been lost */
        told = master_event(client, until_us, event);
    return expect(trial, told, "ESCROW %u was acknowledged, and POLL did not tell what became of the note", decision);
}

static void held_then_stacked(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_note_hold(trial, &client, &event))
        return;
    uint8_t type = event & 0x0F;
    if (decided(&client, STACK, &event)) {
        expect(trial, master_is_credit(event) && (event & 0x0F) == type,
               "type %u was held and stacked, POLL tells %02x and not %02x", type, event, 0x80U | type);
    }
    master_end(&client);
}

static void credit_told_once(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_note_hold(trial, &client, &event))
        return;
    if (decided(&client, STACK, &event)) {
        uint64_t until_us = line_now_us(client.line) + MS(DECISION_MS);
        while (master_event(&client, until_us, &event))
            expect(trial, !master_is_credit(event), "one note was stacked, and a second credit (%02x) came", event);
    }
    master_end(&client);
}

static void held_then_returned(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_note_hold(trial, &client, &event))
        return;
    uint8_t type = event & 0x0F;
    if (decided(&client, RETURN, &event))
        expect(trial, master_is_returned(event) && (event & 0x0F) == type,
               "type %u was held and given back, POLL tells %02x and not %02x", type, event, 0xA0U | type);
    master_end(&client);
}

/* The only way to see a credit that was told twice or never: the count must go with the notes. */
static void count_follows(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    unsigned before;
    unsigned after;
    if (!master_note_hold(trial, &client, &event))
        return;
    if (master_count_read(&client, &before) && decided(&client, STACK, &event) && master_is_credit(event)) {
        if ((event & 0xF0) == 0xB0)
            skip(trial, "the note went to the recycler, which has counts of its own");
        master_wait(&client, 300);
        if (master_count_read(&client, &after))
            expect(trial, after == before + 1, "one note was stacked, the count went from %u to %u", before, after);
    }
    master_end(&client);
}

static void without_escrow(struct trial *trial)
{
    struct mdb_client client;
    uint8_t event;
    if (!master_begin(trial, &client))
        return;
    if (master_enable(&client, false) &&
        master_note_await(&client, MDB_WISH_GOOD, "insert a good note; it will be stacked", &event))
        expect(trial, master_is_credit(event), "no escrow was wanted, POLL tells %02x", event);
    master_end(&client);
}

#define SECTION "MDB/ICP section 6, "

const struct conformance_case mdb_money_cases[] = {
    {"mdb/bill-type/taken", SIDE_WIRE, SECTION "BILL TYPE: ACK", "one", "notes can be switched off", NULL,
     bill_type_taken},
    {"mdb/security/taken", SIDE_WIRE, SECTION "SECURITY: ACK", "one", "high security can be asked for", NULL,
     security_taken},
    {"mdb/bill-type/disabled-not-taken", SIDE_WIRE, SECTION "BILL TYPE: 0 = disabled", "memory",
     "a closed till takes no money", "offer a good note; it must come back", disabled_not_taken},
    {"mdb/poll/refused-note", SIDE_WIRE, SECTION "POLL 0B, C0 to CF, 40 to 5F: no money", "one",
     "a refused note is told and not credited", "insert a note that will be refused: folded, or plain paper",
     refused_note},
    {"mdb/escrow/empty", SIDE_WIRE, SECTION "POLL 0A: ESCROW without a note", "one",
     "a decision that came too late is seen as such", NULL, escrow_empty},
    {"mdb/escrow/waits-for-decision", SIDE_WIRE, SECTION "ESCROW: the device holds and waits", "memory",
     "no money is taken before the host has decided", "insert a good note; it will come back", waits_for_decision},
    {"mdb/escrow/held-then-stacked", SIDE_WIRE, SECTION "POLL 9t, then 8t (or Bt) of the same type", "one",
     "one note is one credit of the type that was held", "insert a good note; it will be stacked", held_then_stacked},
    {"mdb/escrow/credit-told-once", SIDE_WIRE, SECTION "POLL: what was acknowledged is not told again", "memory",
     "one note is not two", "insert a good note; it will be stacked", credit_told_once},
    {"mdb/escrow/held-then-returned", SIDE_WIRE, SECTION "POLL 9t, then At", "one",
     "a returned note is told and not credited", "insert a good note; it will come back", held_then_returned},
    {"mdb/escrow/without-escrow", SIDE_WIRE, SECTION "BILL TYPE: escrow bit 0, stacked at once", "memory",
     "a host without decisions gets its credit", "insert a good note; it will be stacked", without_escrow},
    {"mdb/stacker/count-follows", SIDE_WIRE, SECTION "STACKER: number of notes", "memory",
     "credits can be checked against the box", "insert a good note; it will be stacked", count_follows},
    {"mdb/reset/told", SIDE_WIRE, SECTION "RESET: ACK, then POLL tells 06", "one", "a restart is seen", NULL,
     reset_told},
    {"mdb/reset/told-once", SIDE_WIRE, SECTION "POLL 06: since the last POLL", "one", "one restart is not two", NULL,
     reset_told_once},
    {"mdb/reset/bus-reset", SIDE_WIRE, "MDB/ICP section 3, break of 100 ms: every peripheral resets", "memory",
     "a stuck bus can be freed", NULL, bus_reset},
    {"mdb/reset/disables-all", SIDE_WIRE, SECTION "after reset all types are disabled", "memory",
     "a device that lost its settings takes no notes", "offer a good note; it must come back", reset_disables},
    {0}};
