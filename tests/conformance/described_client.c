/*
 * How is a described device spoken to? See described_client.h.
 */
#include "described_client.h"

#include <string.h>

enum { LATE_MS = 250 };

bool speaker_begin(struct trial *trial, struct speaker *speaker)
{
    *speaker = (struct speaker){.trial = trial, .line = trial->suite->line, .description = trial->suite->description};
    if (trial->suite->silent)
        skip(trial, "the device does not answer: see described/start/answered");
    else if (trial->suite->foreign)
        skip(trial, "the device is not the one described: see described/start/as-expected");
    return trial->result == RESULT_PASSED;
}

const char *reply_text(const struct reply *reply)
{
    static char text[3 * 48];
    if (reply->kind == REPLY_SILENT)
        return "silence";
    hex_text(reply->raw, reply->raw_length, text, sizeof text);
    return text;
}

/* ---- Bytes ---- */

static void bytes_drop(struct speaker *speaker, uint32_t count)
{
    speaker->kept -= count;
    memmove(speaker->bytes, speaker->bytes + count, speaker->kept);
}

static uint32_t bytes_receive(struct speaker *speaker, uint64_t until_us)
{
    if (speaker->kept == sizeof speaker->bytes)
        bytes_drop(speaker, speaker->kept);
    uint32_t room = (uint32_t)sizeof speaker->bytes - speaker->kept;
    uint32_t count = line_receive(speaker->line, until_us, speaker->bytes + speaker->kept, room);
    speaker->kept += count;
    return count;
}

uint32_t speaker_wait(struct speaker *speaker, uint64_t duration_us)
{
    uint64_t until_us = line_now_us(speaker->line) + duration_us;
    uint32_t total = speaker->kept;
    speaker->kept = 0;
    while (line_now_us(speaker->line) < until_us && line_gone(speaker->line) == NULL) {
        total += bytes_receive(speaker, until_us);
        speaker->kept = 0;
    }
    return total;
}

/* What we sent comes back first where both directions share a wire. True = it is out of the way. */
static bool echo_take(struct speaker *speaker, const uint8_t *sent, uint32_t length)
{
    bool echo = speaker->kept >= length && memcmp(speaker->bytes, sent, length) == 0;
    if (echo)
        bytes_drop(speaker, length);
    return echo;
}

static void reply_keep(struct speaker *speaker, struct reply *reply, enum reply_kind kind, uint32_t used)
{
    reply->kind = kind;
    reply->raw_length = used;
    memcpy(reply->raw, speaker->bytes, used);
    bytes_drop(speaker, used);
}

/* True = the wait is over. */
static bool reply_look(struct speaker *speaker, struct reply *reply)
{
    uint32_t used;
    enum split split = message_split(speaker->description, speaker->bytes, speaker->kept, &reply->message, &used);
    if (split == SPLIT_MORE)
        return false;
    bool whole = split == SPLIT_DONE || used > 1 || speaker->description->text_lines;
    reply_keep(speaker, reply, split == SPLIT_DONE ? REPLY_DONE : REPLY_DAMAGED, whole ? used : speaker->kept);
    return true;
}

static bool empty_line(const struct speaker *speaker, const struct reply *reply)
{
    return speaker->description->text_lines && reply->kind == REPLY_DONE && reply->message.length == 0;
}

/* Collects one message. `patience_us`: how long its first byte may take. */
static enum reply_kind reply_collect(struct speaker *speaker, uint64_t patience_us, const uint8_t *sent,
                                     uint32_t length, struct reply *reply)
{
    uint64_t begin_us = line_now_us(speaker->line);
    uint64_t until_us = begin_us + patience_us;
    uint64_t rest_us = speaker->description->byte_gap_us + MS(2 * speaker->trial->options->latency_ms) + MS(250);
    uint64_t last_us = 0;
    *reply = (struct reply){.kind = REPLY_SILENT};
    while (speaker->kept == 0 || !reply_look(speaker, reply) || empty_line(speaker, reply)) {
        if (bytes_receive(speaker, until_us) == 0) {
            if (speaker->kept > 0 && line_now_us(speaker->line) >= until_us)
                reply_keep(speaker, reply, REPLY_DAMAGED, speaker->kept);
            break;
        }
        uint64_t now_us = line_now_us(speaker->line);
        if (length > 0 && last_us == 0 && echo_take(speaker, sent, length)) {
            length = 0; /* an echo comes once */
            begin_us = now_us;
            until_us = now_us + patience_us;
            continue;
        }
        if (last_us == 0)
            reply->delay_us = now_us - begin_us;
        else if (now_us - last_us > reply->gap_us)
            reply->gap_us = now_us - last_us;
        last_us = now_us;
        until_us = now_us + rest_us;
    }
    return reply->kind;
}

bool speaker_listen(struct speaker *speaker, uint64_t until_us, struct reply *reply)
{
    uint64_t now_us = line_now_us(speaker->line);
    return reply_collect(speaker, until_us > now_us ? until_us - now_us : 0, NULL, 0, reply) != REPLY_SILENT;
}

/* ---- Requests ---- */

static void sequence_advance(struct speaker *speaker, bool again)
{
    const struct described_count *count = &speaker->description->sequence;
    if (!speaker->counting)
        speaker->sequence = count->first;
    else if (!again)
        speaker->sequence = speaker->sequence == count->last ? count->first : speaker->sequence + 1;
    speaker->counting = true;
}

enum reply_kind speaker_ask_raw(struct speaker *speaker, const uint8_t *raw, uint32_t length, uint64_t answer_us,
                                struct reply *reply)
{
    *reply = (struct reply){.kind = REPLY_SILENT};
    speaker_wait(speaker, speaker->unanswered ? MS(LATE_MS) : speaker->description->pause_us);
    if (!line_send(speaker->line, raw, length))
        return REPLY_SILENT;
    bool echo = speaker->description->echo;
    uint64_t patience_us = answer_us + MS(speaker->trial->options->latency_ms) + MS(400);
    speaker->unanswered = reply_collect(speaker, patience_us, raw, echo ? length : 0, reply) == REPLY_SILENT;
    return reply->kind;
}

enum reply_kind speaker_ask(struct speaker *speaker, const struct described_bytes *send, uint64_t answer_us, bool again,
                            struct reply *reply)
{
    uint8_t raw[DESCRIBED_FRAME_MAX];
    sequence_advance(speaker, again);
    uint32_t length = message_make(speaker->description, send, speaker->sequence, raw);
    return speaker_ask_raw(speaker, raw, length, answer_us, reply);
}

bool speaker_exchange(struct speaker *speaker, const struct described_exchange *exchange, struct reply *reply)
{
    const struct described_conditions *expect = &exchange->expect;
    for (uint32_t i = 0; i < exchange->tries || i == 0; i++) {
        if (line_gone(speaker->line) != NULL)
            return false;
        speaker_ask(speaker, &exchange->send, exchange->answer_us, i > 0, reply);
        const struct message *message = &reply->message;
        if (exchange->silent ||
            (reply->kind == REPLY_DONE && message_fits(speaker->description, expect, message->bytes, message->length)))
            return true;
        if (reply->kind == REPLY_DONE)
            return false; /* asking again would not change it */
        if (reply->kind == REPLY_DAMAGED)
            speaker_wait(speaker, MS(LATE_MS));
    }
    return false;
}

bool speaker_poll(struct speaker *speaker, struct reply *reply)
{
    struct described_exchange poll = speaker->description->poll;
    if (speaker->accepting && speaker->description->poll_accepting.length > 0)
        poll.send = speaker->description->poll_accepting;
    return speaker_exchange(speaker, &poll, reply);
}

bool speaker_accept(struct speaker *speaker, int32_t accept, struct reply *reply)
{
    const struct described_exchanges *list = &speaker->description->accept[accept];
    speaker->accepting = accept != CFOIL_ACCEPT_NONE;
    for (uint32_t i = 0; i < list->count; i++) {
        if (!speaker_exchange(speaker, &list->items[i], reply))
            return false;
    }
    return true;
}

bool speaker_start(struct trial *trial, struct speaker *speaker)
{
    struct reply reply;
    if (!speaker_begin(trial, speaker))
        return false;
    for (uint32_t i = 0; i < speaker->description->start_count; i++) {
        const struct described_exchange *step = &speaker->description->start[i];
        if (speaker_exchange(speaker, step, &reply) || step->optional)
            continue;
        skip(trial, "start step %u is answered with %s: see described/start/as-expected", (unsigned)i + 1,
             reply_text(&reply));
        return false;
    }
    if (speaker->description->polled && !speaker_accept(speaker, CFOIL_ACCEPT_NONE, &reply)) {
        skip(trial, "accept none is answered with %s: see described/accept/lists", reply_text(&reply));
        return false;
    }
    /* An unread event of the case before is not one of this case. */
    for (int i = 0; speaker->description->polled && i < 3; i++)
        (void)speaker_poll(speaker, &reply);
    return line_gone(speaker->line) == NULL;
}

const uint8_t *speaker_view(const struct speaker *speaker, const struct reply *reply, uint32_t entry, uint32_t *length)
{
    const struct described_buffer *buffer = &speaker->description->buffer;
    const struct message *message = &reply->message;
    if (!buffer->known) {
        *length = message->length;
        return entry == 0 ? message->bytes : NULL;
    }
    uint32_t place = buffer->newest_first ? entry : buffer->entries - 1 - entry;
    uint32_t at = (uint32_t)(buffer->at < 0 ? (int32_t)message->length + buffer->at : buffer->at) +
                  place * buffer->entry_bytes;
    *length = buffer->entry_bytes;
    return entry < buffer->entries && at + buffer->entry_bytes <= message->length ? message->bytes + at : NULL;
}
