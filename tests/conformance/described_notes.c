/*
 * Does a device that is asked say of notes what its description expects?
 */
#include "described_client.h"

#include <string.h>

enum { OUTCOME_MS = 10000, UNWANTED_MS = 2500 };

/* ---- Events of a device that is asked ---- */

/* What a wait has seen. */
struct sight {
    struct reply reply;
    const uint8_t *view;
    uint32_t length;
    const struct described_rule *rule;
    bool unknown;
    char strange[3 * 24]; /* the first view that no rule knows */
    uint32_t counter;     /* of an event buffer, as read last */
    bool counted;
};

static uint32_t buffer_news(const struct speaker *speaker, struct sight *sight)
{
    const struct described_count *count = &speaker->description->buffer.counter;
    uint32_t value = 0;
    if (!message_number(speaker->description, &count->number, sight->reply.message.bytes, sight->reply.message.length,
                        &value))
        return 0;
    uint32_t before = sight->counted ? sight->counter : value;
    sight->counted = true;
    sight->counter = value;
    uint32_t news = value >= before ? value - before : count->last - before + (value - count->first) + 1;
    return news < speaker->description->buffer.entries ? news : speaker->description->buffer.entries;
}

static void strange_keep(struct sight *sight)
{
    if (!sight->unknown)
        hex_text(sight->view, sight->length, sight->strange, sizeof sight->strange);
    sight->unknown = true;
}

/* Is there an event of that kind in the answer? With a buffer: among the new entries, oldest first. */
static bool sight_look(const struct speaker *speaker, struct sight *sight, int32_t kind)
{
    bool buffer = speaker->description->buffer.known;
    for (uint32_t entries = buffer ? buffer_news(speaker, sight) : 1; entries > 0; entries--) {
        sight->view = speaker_view(speaker, &sight->reply, entries - 1, &sight->length);
        if (sight->view == NULL)
            continue;
        sight->rule = message_rule(speaker->description, sight->view, sight->length, kind);
        if (sight->rule == NULL)
            strange_keep(sight);
        else if (sight->rule->kind == kind)
            return true;
    }
    return false;
}

/* Polls until there is an event of that kind. False = none in time. */
static bool event_await(struct speaker *speaker, struct sight *sight, int32_t kind, uint64_t wait_us)
{
    uint64_t until_us = line_now_us(speaker->line) + wait_us;
    while (line_now_us(speaker->line) < until_us && line_gone(speaker->line) == NULL && !sight->unknown) {
        if (speaker_poll(speaker, &sight->reply) && sight_look(speaker, sight, kind))
            return true;
        speaker_wait(speaker, speaker->description->poll_us);
    }
    return false;
}

static uint64_t patience_us(const struct trial *trial)
{
    return MS(1000 * trial->options->seconds);
}

/* Notes off; one that is still held goes back. */
static void notes_end(struct speaker *speaker)
{
    const struct described_exchange *back = &speaker->description->give_back;
    struct sight sight = {.counted = false};
    struct reply reply;
    (void)speaker_accept(speaker, CFOIL_ACCEPT_NONE, &reply);
    if (!speaker->description->buffer.known && speaker_poll(speaker, &sight.reply) &&
        sight_look(speaker, &sight, CFOIL_KIND_HELD) && back->send.length > 0)
        (void)speaker_exchange(speaker, back, &reply);
}

/* Ready, notes on, and the buffer read once. */
static bool notes_begin(struct trial *trial, struct speaker *speaker, struct sight *sight, const char *wish)
{
    struct reply reply;
    *sight = (struct sight){.counted = false};
    if (!speaker_start(trial, speaker) || !note_ask(trial, wish))
        return false;
    if (speaker_poll(speaker, &sight->reply))
        (void)sight_look(speaker, sight, CFOIL_KIND_HELD);
    sight->unknown = false;
    if (speaker_accept(speaker, CFOIL_ACCEPT_HOLD, &reply))
        return true;
    skip(trial, "accept hold is answered with %s: see described/accept/lists", reply_text(&reply));
    return false;
}

static bool held_await(struct trial *trial, struct speaker *speaker, struct sight *sight, const char *wish)
{
    if (!notes_begin(trial, speaker, sight, wish))
        return false;
    uint64_t until_us = line_now_us(speaker->line) + patience_us(trial);
    while (line_now_us(speaker->line) < until_us) {
        if (event_await(speaker, sight, CFOIL_KIND_HELD, until_us - line_now_us(speaker->line)))
            return true;
        if (!sight->unknown)
            break;
        sight->unknown = false; /* a refused note, perhaps: see described/rules/refused-known */
    }
    skip(trial, "no note was held in time");
    return false;
}

/* ---- Cases of a device that is asked ---- */

static void held_told(struct trial *trial)
{
    struct speaker speaker;
    struct sight sight;
    if (held_await(trial, &speaker, &sight, "insert a good note; it will come back")) {
        const struct described_note *note = message_note(speaker.description, sight.rule, sight.view, sight.length);
        expect(trial, note != NULL, "a note is held that the table of notes does not have: %s",
               reply_text(&sight.reply));
        if (note != NULL)
            figure(trial, "type %d, %lld %s", (int)note->type, (long long)note->value_minor, note->currency);
    }
    notes_end(&speaker);
}

/* What becomes of a held note after the exchange. */
static void held_move(struct trial *trial, bool stack)
{
    struct speaker speaker;
    struct sight sight;
    const char *wish = stack ? "insert a good note; it will be stacked" : "insert a good note; it will come back";
    int32_t kind = stack ? CFOIL_KIND_STACKED : CFOIL_KIND_RETURNED;
    const struct description *description = trial->suite->description;
    const struct described_exchange *exchange = stack ? &description->stack : &description->give_back;
    if (exchange->send.length == 0) {
        skip(trial, "the description has no such exchange");
        return;
    }
    if (held_await(trial, &speaker, &sight, wish)) {
        const struct described_note *note = message_note(description, sight.rule, sight.view, sight.length);
        bool taken = speaker_exchange(&speaker, exchange, &sight.reply);
        bool told = taken && exchange->events && sight_look(&speaker, &sight, kind);
        told = told || event_await(&speaker, &sight, kind, MS(OUTCOME_MS));
        expect(trial, told, "no rule told that the note was %s", stack ? "stacked" : "returned");
        const struct described_note *end = told ? message_note(description, sight.rule, sight.view, sight.length)
                                                : NULL;
        expect(trial, !told || !stack || end == note, "another note was stacked than was held: %s",
               reply_text(&sight.reply));
    }
    notes_end(&speaker);
}

/* Reading again, with the note still held, shows the same. */
static void buffer_kept(struct trial *trial)
{
    struct speaker speaker;
    struct sight sight;
    struct reply reply;
    if (!trial->suite->description->buffer.known) {
        skip(trial, "the description has no buffer");
        return;
    }
    if (held_await(trial, &speaker, &sight, "insert a good note; it will come back")) {
        for (int i = 0; i < 4 && trial->result == RESULT_PASSED; i++) {
            bool same = speaker_poll(&speaker, &reply) && reply.raw_length == sight.reply.raw_length &&
                        memcmp(reply.raw, sight.reply.raw, reply.raw_length) == 0;
            expect(trial, same, "reading changes the buffer: now it is %s", reply_text(&reply));
        }
        if (speaker.description->give_back.send.length > 0)
            (void)speaker_exchange(&speaker, &speaker.description->give_back, &reply);
    }
    notes_end(&speaker);
}

static void held_stacked(struct trial *trial)
{
    held_move(trial, true);
}

static void held_returned(struct trial *trial)
{
    held_move(trial, false);
}

static void refused_known(struct trial *trial)
{
    struct speaker speaker;
    struct sight sight;
    if (!notes_begin(trial, &speaker, &sight, "insert a note that will be refused: folded, or plain paper"))
        return;
    uint64_t until_us = line_now_us(speaker.line) + patience_us(trial);
    const struct described_exchange *back = &speaker.description->give_back;
    bool refused = false;
    while (!refused && !sight.unknown && line_now_us(speaker.line) < until_us && line_gone(speaker.line) == NULL) {
        struct sight held = sight;
        refused = event_await(&speaker, &sight, CFOIL_KIND_REJECTED, MS(300));
        held.reply = sight.reply;
        if (!refused && !speaker.description->buffer.known && sight_look(&speaker, &held, CFOIL_KIND_HELD) &&
            back->send.length > 0)
            (void)speaker_exchange(&speaker, back, &held.reply); /* a good note: the next one, please */
    }
    expect(trial, !sight.unknown, "no rule knows %s", sight.strange);
    if (!refused)
        skip(trial, "no note was refused in time");
    else
        figure(trial, "%s", sight.rule->text);
    notes_end(&speaker);
}

static void none_not_taken(struct trial *trial)
{
    struct speaker speaker;
    struct sight sight = {.counted = false};
    struct reply reply;
    if (!speaker_start(trial, &speaker) || !note_ask(trial, "insert a good note; it must not be taken"))
        return;
    (void)speaker_accept(&speaker, CFOIL_ACCEPT_NONE, &reply);
    uint64_t until_us = line_now_us(speaker.line) +
                        MS(trial->options->attended ? 1000 * trial->options->seconds : UNWANTED_MS);
    while (line_now_us(speaker.line) < until_us && trial->result == RESULT_PASSED && line_gone(speaker.line) == NULL) {
        if (!speaker_poll(&speaker, &sight.reply))
            continue;
        bool held = sight_look(&speaker, &sight, CFOIL_KIND_HELD);
        bool stacked = !held && !speaker.description->buffer.known && sight_look(&speaker, &sight, CFOIL_KIND_STACKED);
        expect(trial, !held && !stacked, "a note is taken while none are wanted: %s", reply_text(&sight.reply));
        speaker_wait(&speaker, speaker.description->poll_us);
    }
    notes_end(&speaker);
}

const struct conformance_case described_notes_cases[] = {
    {"described/accept/none-taken", SIDE_WIRE, DESCRIPTIONS("accept: none"), "ours", "a closed till takes no money",
     "insert a good note; it must not be taken", none_not_taken},
    {"described/held/in-table", SIDE_WIRE, DESCRIPTIONS("notes; rules: held, which note"), "ours",
     "a held note has a value", "insert a good note; it will come back", held_told},
    {"described/held/stacked", SIDE_WIRE, DESCRIPTIONS("held: stack; only a rule with stacked is money"), "ours",
     "a stacked note is told, and as the one that was held", "insert a good note; it will be stacked", held_stacked},
    {"described/held/returned", SIDE_WIRE, DESCRIPTIONS("held: return; rules: returned"), "ours",
     "a note that goes back is told", "insert a good note; it will come back", held_returned},
    {"described/rules/refused-known", SIDE_WIRE, DESCRIPTIONS("rules: rejected; what no rule fits is unknown_code"),
     "ours", "a refused note is told as such", "insert a note that will be refused: folded, or plain paper",
     refused_known},
    {"described/buffer/kept", SIDE_WIRE, DESCRIPTIONS("buffer: reading must not remove anything"), "ours",
     "a lost answer loses no event", "insert a good note; it will come back", buffer_kept},
    {NULL, SIDE_WIRE, NULL, NULL, NULL, NULL, NULL}};
