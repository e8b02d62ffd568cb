/*
 * Does a device that is asked answer as its description says? Cases without notes.
 */
#include "described_client.h"

#include <string.h>

enum { REPEATS = 25, UNASKED_MS = 600 };

static void start_answered(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    bool answered = false;
    if (!speaker_begin(trial, &speaker))
        return;
    for (uint32_t i = 0; i < speaker.description->start_count; i++) {
        const struct described_exchange *step = &speaker.description->start[i];
        for (int tries = 0; tries < 4 && !answered; tries++)
            answered = step->silent ||
                       speaker_ask(&speaker, &step->send, step->answer_us, tries > 0, &reply) != REPLY_SILENT;
        if (step->proves)
            break;
    }
    trial->suite->silent = !answered;
    expect(trial, answered, "no answer to the first start steps");
}

static void start_as_expected(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_begin(trial, &speaker))
        return;
    for (uint32_t i = 0; i < speaker.description->start_count; i++) {
        const struct described_exchange *step = &speaker.description->start[i];
        bool good = speaker_exchange(&speaker, step, &reply) || step->optional;
        if (expect(trial, good, "start step %u%s is answered with %s", (unsigned)i + 1,
                   step->proves ? ", which proves the kind," : "", reply_text(&reply)))
            continue;
        trial->suite->foreign = true;
        return;
    }
    figure(trial, "%u steps", (unsigned)speaker.description->start_count);
}

static void frame_whole(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_start(trial, &speaker))
        return;
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        speaker_ask(&speaker, &speaker.description->poll.send, speaker.description->poll.answer_us, false, &reply);
        expect(trial, reply.kind != REPLY_DAMAGED, "answer %d of %d is no whole message with a right check: %s", i + 1,
               REPEATS, reply_text(&reply));
        expect(trial, reply.kind != REPLY_SILENT, "poll %d of %d is not answered", i + 1, REPEATS);
    }
}

static void frame_nothing_more(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_start(trial, &speaker))
        return;
    for (int i = 0; i < 5 && trial->result == RESULT_PASSED; i++) {
        (void)speaker_poll(&speaker, &reply);
        uint32_t more = speaker_wait(&speaker, MS(UNASKED_MS) / 5);
        expect(trial, more == 0, "%u bytes came that nothing had asked for", (unsigned)more);
    }
}

static void frame_spoilt_request(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    if (!speaker_start(trial, &speaker))
        return;
    const struct description *description = speaker.description;
    if (!speaker_poll(&speaker, &reply)) {
        skip(trial, "a poll is answered with %s: see described/poll/as-expected", reply_text(&reply));
        return;
    }
    uint32_t next = speaker.sequence == description->sequence.last ? description->sequence.first : speaker.sequence + 1;
    uint32_t length = message_make(description, &description->poll.send, next, raw);
    if (!message_spoil(description, raw, length)) {
        skip(trial, "its messages have no check");
        return;
    }
    expect(trial, speaker_ask_raw(&speaker, raw, length, description->poll.answer_us, &reply) == REPLY_SILENT,
           "a request with a wrong check is answered");
    bool good = speaker_poll(&speaker, &reply);
    expect(trial, good || reply.kind == REPLY_DAMAGED, "after a request with a wrong check a poll is answered with %s",
           reply_text(&reply));
}

static void times_answer(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    uint64_t longest_us = 0;
    if (!speaker_start(trial, &speaker))
        return;
    const struct described_exchange *poll = &speaker.description->poll;
    for (int i = 0; i < REPEATS; i++) {
        if (speaker_ask(&speaker, &poll->send, poll->answer_us, false, &reply) != REPLY_SILENT &&
            reply.delay_us > longest_us)
            longest_us = reply.delay_us;
    }
    figure(trial, "up to %.1f ms", (double)longest_us / 1000);
    expect(trial, longest_us <= poll->answer_us + MS(trial->options->latency_ms),
           "an answer took %.1f ms; answer_ms is %u", (double)longest_us / 1000, (unsigned)(poll->answer_us / 1000));
}

static void times_byte_gap(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    uint64_t longest_us = 0;
    if (!speaker_start(trial, &speaker))
        return;
    for (int i = 0; i < REPEATS; i++) {
        (void)speaker_poll(&speaker, &reply);
        longest_us = reply.gap_us > longest_us ? reply.gap_us : longest_us;
    }
    figure(trial, "up to %.1f ms", (double)longest_us / 1000);
    expect(trial, longest_us <= speaker.description->byte_gap_us + MS(trial->options->latency_ms),
           "a pause of %.1f ms inside of an answer; byte_gap_ms is %u", (double)longest_us / 1000,
           (unsigned)(speaker.description->byte_gap_us / 1000));
}

static bool sequenced_start(struct trial *trial, struct speaker *speaker)
{
    if (!speaker_start(trial, speaker))
        return false;
    if (speaker->description->driver == DESCRIBED_DRIVER_HOST)
        return true;
    skip(trial, "the host does not number its requests");
    return false;
}

static void sequence_shown(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!sequenced_start(trial, &speaker))
        return;
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        uint32_t shown = 0;
        speaker_ask(&speaker, &speaker.description->poll.send, speaker.description->poll.answer_us, false, &reply);
        bool there = reply.kind != REPLY_DONE ||
                     message_number(speaker.description, &speaker.description->sequence.number, reply.message.bytes,
                                    reply.message.length, &shown);
        expect(trial, there && (reply.kind != REPLY_DONE || shown == speaker.sequence),
               "the answer to request number %u shows %u", (unsigned)speaker.sequence, (unsigned)shown);
    }
}

static void sequence_repeated(struct trial *trial)
{
    struct speaker speaker;
    struct reply first;
    struct reply again;
    if (!sequenced_start(trial, &speaker))
        return;
    const struct described_exchange *poll = &speaker.description->poll;
    for (int i = 0; i < 5 && trial->result == RESULT_PASSED; i++) {
        speaker_ask(&speaker, &poll->send, poll->answer_us, false, &first);
        speaker_wait(&speaker, MS(250));
        speaker_ask(&speaker, &poll->send, poll->answer_us, true, &again);
        if (first.kind != REPLY_DONE || again.kind == REPLY_DAMAGED)
            continue; /* see described/frame/whole */
        bool same = again.kind == REPLY_DONE && again.raw_length == first.raw_length &&
                    memcmp(again.raw, first.raw, first.raw_length) == 0;
        expect(trial, same, "a repeated request is answered with %s, not as the first time", reply_text(&again));
    }
}

static void poll_as_expected(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_start(trial, &speaker))
        return;
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        bool good = speaker_poll(&speaker, &reply);
        expect(trial, good || reply.kind != REPLY_DONE, "poll %d is answered with %s", i + 1, reply_text(&reply));
    }
}

static void poll_known(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_start(trial, &speaker))
        return;
    if (speaker.description->buffer.known) {
        skip(trial, "what its buffer holds from before is not new");
        return;
    }
    for (int i = 0; i < REPEATS && trial->result == RESULT_PASSED; i++) {
        if (!speaker_poll(&speaker, &reply))
            continue;
        const struct message *message = &reply.message;
        expect(trial, message_rule(speaker.description, message->bytes, message->length, CFOIL_KIND_NONE) != NULL,
               "no rule knows %s", reply_text(&reply));
    }
}

static bool buffer_start(struct trial *trial, struct speaker *speaker)
{
    if (!speaker_start(trial, speaker))
        return false;
    if (speaker->description->buffer.known)
        return true;
    skip(trial, "the description has no buffer");
    return false;
}

static void buffer_counter(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    uint32_t value = 0;
    if (!buffer_start(trial, &speaker) || !speaker_poll(&speaker, &reply))
        return;
    const struct described_count *count = &speaker.description->buffer.counter;
    bool there = message_number(speaker.description, &count->number, reply.message.bytes, reply.message.length, &value);
    bool valid = (value >= count->first && value <= count->last) || (count->has_reset && value == count->reset);
    figure(trial, "counter %u", (unsigned)value);
    expect(trial, there && valid, "the counter is %u, outside of what it can be", (unsigned)value);
}

static void accept_lists(struct trial *trial)
{
    static const char *const words[] = {"none", "hold", "all"};
    struct speaker speaker;
    struct reply reply;
    if (!speaker_begin(trial, &speaker))
        return;
    bool any = false;
    for (uint32_t i = 0; i < speaker.description->start_count; i++)
        (void)speaker_exchange(&speaker, &speaker.description->start[i], &reply);
    for (int32_t accept = CFOIL_ACCEPT_ALL; accept >= CFOIL_ACCEPT_NONE; accept--) {
        any = any || speaker.description->accept[accept].known;
        bool good = speaker_accept(&speaker, accept, &reply);
        if (!expect(trial, good, "accept %s: an exchange is answered with %s", words[accept], reply_text(&reply)))
            break;
    }
    (void)speaker_accept(&speaker, CFOIL_ACCEPT_NONE, &reply);
    if (!any)
        skip(trial, "the description has no accept lists");
}

static void sound_check(struct trial *trial, const struct described_exchange *exchange, bool set, const char *what)
{
    struct speaker speaker;
    struct reply reply;
    if (!speaker_start(trial, &speaker))
        return;
    if (exchange->send.length == 0) {
        skip(trial, "the description has no %s", what);
        return;
    }
    if (set && !speaker_accept(&speaker, CFOIL_ACCEPT_HOLD, &reply)) {
        skip(trial, "accept hold is answered with %s: see described/accept/lists", reply_text(&reply));
        return;
    }
    for (int i = 0; i < 3 && trial->result == RESULT_PASSED; i++) {
        bool good = speaker_exchange(&speaker, exchange, &reply);
        expect(trial, good, "%s is answered with %s", what, reply_text(&reply));
    }
    (void)speaker_accept(&speaker, CFOIL_ACCEPT_NONE, &reply);
}

static void self_check_sound(struct trial *trial)
{
    sound_check(trial, &trial->suite->description->self_check, false, "self_check");
}

static void watch_set(struct trial *trial)
{
    sound_check(trial, &trial->suite->description->watch, true, "watch");
}

const struct conformance_case described_asked_cases[] = {
    {"described/start/answered", SIDE_WIRE, DESCRIPTIONS("start: gone through after opening"), "ours",
     "the device is there", NULL, start_answered},
    {"described/start/as-expected", SIDE_WIRE, DESCRIPTIONS("start: proves; exchange: expect"), "ours",
     "it is the device that the description is of", NULL, start_as_expected},
    {"described/accept/lists", SIDE_WIRE, DESCRIPTIONS("accept: lists of exchanges for none, hold, all"), "ours",
     "notes are switched on and off, and the device confirms it", NULL, accept_lists},
    {"described/frame/whole", SIDE_WIRE, DESCRIPTIONS("frame, check, lines: how messages stand on the line"), "ours",
     "its messages can be told from noise", NULL, frame_whole},
    {"described/frame/nothing-more", SIDE_WIRE, DESCRIPTIONS("poll: with it the device is asked"), "ours",
     "it speaks only when it is asked", NULL, frame_nothing_more},
    {"described/frame/spoilt-request", SIDE_WIRE, "common practice, no source: a damaged request is not answered",
     "practice", "noise does not switch anything", NULL, frame_spoilt_request},
    {"described/times/answer", SIDE_WIRE, DESCRIPTIONS("times: answer_ms, from a request to its answer"), "ours",
     "no request is repeated for nothing", NULL, times_answer},
    {"described/times/byte-gap", SIDE_WIRE, DESCRIPTIONS("times: byte_gap_ms, a longer pause breaks a message"), "ours",
     "no message is given up for nothing", NULL, times_byte_gap},
    {"described/sequence/shown", SIDE_WIRE, DESCRIPTIONS("sequence: an answer must show the value of its request"),
     "ours", "a late answer is known", NULL, sequence_shown},
    {"described/sequence/repeated", SIDE_WIRE, DESCRIPTIONS("sequence: a repeated request has the same value"), "ours",
     "a lost answer loses no event", NULL, sequence_repeated},
    {"described/poll/as-expected", SIDE_WIRE, DESCRIPTIONS("poll: expect"), "ours", "each answer can be read", NULL,
     poll_as_expected},
    {"described/rules/idle-known", SIDE_WIRE, DESCRIPTIONS("whatever no rule fits is told as unknown_code"), "ours",
     "the description is complete for a device at rest", NULL, poll_known},
    {"described/buffer/counter", SIDE_WIRE, DESCRIPTIONS("buffer: counter, first, last, reset"), "ours",
     "loss is noticed", NULL, buffer_counter},
    {"described/self-check/sound", SIDE_WIRE, DESCRIPTIONS("self_check: expect for a sound device"), "ours",
     "a sound device is not taken for faulty", NULL, self_check_sound},
    {"described/watch/set", SIDE_WIRE, DESCRIPTIONS("watch: expect for a device that is still set"), "ours",
     "a reset is noticed, and nothing else taken for one", NULL, watch_set},
    {NULL, SIDE_WIRE, NULL, NULL, NULL, NULL, NULL}};
