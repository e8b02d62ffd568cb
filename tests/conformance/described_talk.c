/*
 * Does a device that talks by itself say what its description expects?
 */
#include "described_client.h"

static bool talking(struct trial *trial, struct speaker *speaker)
{
    if (trial->suite->silent)
        skip(trial, "the device says nothing: see described/talk/signs-of-life");
    return trial->result == RESULT_PASSED && speaker_begin(trial, speaker);
}

static void talk_signs_of_life(struct trial *trial)
{
    struct speaker speaker;
    struct reply reply;
    if (!talking(trial, &speaker))
        return;
    uint64_t silence_us = speaker.description->silence_us;
    if (silence_us == 0) {
        skip(trial, "the description has no silence_ms");
        return;
    }
    bool heard = speaker_listen(&speaker, silence_us + MS(trial->options->latency_ms), &reply);
    trial->suite->silent = !heard;
    figure(trial, "after %.1f ms", (double)reply.delay_us / 1000);
    expect(trial, heard, "nothing came for %u ms", (unsigned)(silence_us / 1000));
}

/* Listens for the time of a case and looks at each message. The first may be the end of one. */
static void talk_look(struct trial *trial, void (*look)(struct trial *, const struct speaker *, const struct reply *))
{
    struct speaker speaker;
    struct reply reply;
    unsigned heard = 0;
    if (!talking(trial, &speaker))
        return;
    if (trial->options->attended)
        (void)note_ask(trial, "insert notes of all kinds, good ones and folded ones");
    uint64_t until_us = line_now_us(speaker.line) + MS(1000 * trial->options->seconds);
    while (trial->result == RESULT_PASSED && speaker_listen(&speaker, until_us, &reply)) {
        if (heard++ > 0)
            look(trial, &speaker, &reply);
    }
    figure(trial, "%u messages", heard);
    if (heard < 2)
        skip(trial, "it said too little in that time");
}

static void whole_look(struct trial *trial, const struct speaker *speaker, const struct reply *reply)
{
    (void)speaker;
    expect(trial, reply->kind == REPLY_DONE, "no whole message: %s", reply_text(reply));
}

static void talk_whole(struct trial *trial)
{
    talk_look(trial, whole_look);
}

static void known_look(struct trial *trial, const struct speaker *speaker, const struct reply *reply)
{
    const struct message *message = &reply->message;
    bool known = message_rule(speaker->description, message->bytes, message->length, CFOIL_KIND_NONE) != NULL;
    expect(trial, known || reply->kind != REPLY_DONE, "no rule knows %.*s",
           speaker->description->text_lines ? (int)message->length : 0, (const char *)message->bytes);
}

static void talk_known(struct trial *trial)
{
    talk_look(trial, known_look);
}

static void note_look(struct trial *trial, const struct speaker *speaker, const struct reply *reply)
{
    const struct message *message = &reply->message;
    const struct described_rule *rule = message_rule(speaker->description, message->bytes, message->length,
                                                     CFOIL_KIND_REJECTED);
    bool names = reply->kind == REPLY_DONE && rule != NULL && rule->note_by != DESCRIBED_NOTE_NONE;
    expect(trial, !names || message_note(speaker->description, rule, message->bytes, message->length) != NULL,
           "the table has no such note: %s", reply_text(reply));
}

static void talk_notes(struct trial *trial)
{
    talk_look(trial, note_look);
}

const struct conformance_case described_talk_cases[] = {
    {"described/talk/signs-of-life", SIDE_WIRE, DESCRIPTIONS("times: silence_ms, then the device is LOST"), "ours",
     "a device that is there does not count as lost", NULL, talk_signs_of_life},
    {"described/talk/whole", SIDE_WIRE, DESCRIPTIONS("lines, frame, check: how messages stand on the line"), "ours",
     "what it says can be read", "insert notes of all kinds", talk_whole},
    {"described/talk/known", SIDE_WIRE, DESCRIPTIONS("whatever no rule fits is told as unknown_code"), "ours",
     "the description is complete", "insert notes of all kinds", talk_known},
    {"described/talk/in-table", SIDE_WIRE, DESCRIPTIONS("notes; rules: which note, by its name or type"), "ours",
     "a refused note has a value", "insert notes of all kinds", talk_notes},
    {NULL, SIDE_WIRE, NULL, NULL, NULL, NULL, NULL}};
