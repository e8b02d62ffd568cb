/*
 * Speaking to a described device as its description says, and what it says back.
 */
#ifndef CONFORMANCE_DESCRIBED_CLIENT_H
#define CONFORMANCE_DESCRIBED_CLIENT_H

#include "described_wire.h"
#include "line.h"

enum reply_kind { REPLY_SILENT, REPLY_DAMAGED, REPLY_DONE };

struct reply {
    enum reply_kind kind;
    struct message message;
    uint32_t raw_length;
    uint8_t raw[DESCRIBED_FRAME_MAX];
    uint64_t delay_us; /* from the request to the first byte */
    uint64_t gap_us;   /* the longest pause inside of the message */
};

struct speaker {
    struct trial *trial;
    struct line *line;
    const struct description *description;
    uint32_t sequence; /* of the request sent last */
    bool counting;     /* a request was sent */
    bool accepting;
    bool unanswered; /* the request before: its answer may still come */
    uint32_t kept;   /* bytes that belong to no message yet */
    uint8_t bytes[DESCRIBED_FRAME_MAX];
};

/* Nothing is sent. False = the case is skipped: the device is known to be silent, another, or not to be understood. */
bool speaker_begin(struct trial *trial, struct speaker *speaker);
/* And then the start steps are gone through, and notes are off. False = skipped. */
bool speaker_start(struct trial *trial, struct speaker *speaker);

/* One request, sent once. `again`: with the sequence value of the request before. */
enum reply_kind speaker_ask(struct speaker *speaker, const struct described_bytes *send, uint64_t answer_us, bool again,
                            struct reply *reply);
/* Bytes as they are, numbered or not. */
enum reply_kind speaker_ask_raw(struct speaker *speaker, const uint8_t *raw, uint32_t length, uint64_t answer_us,
                                struct reply *reply);
/* Sent up to `tries` times. True = its answer fits; a silent exchange always does. */
bool speaker_exchange(struct speaker *speaker, const struct described_exchange *exchange, struct reply *reply);
/* The poll as it is now, with notes on or off. */
bool speaker_poll(struct speaker *speaker, struct reply *reply);
/* Goes through the list for this choice, or sets the poll for it. False = an answer was not as expected. */
bool speaker_accept(struct speaker *speaker, int32_t accept, struct reply *reply);

/* The next message that comes by itself. False = none until then. */
bool speaker_listen(struct speaker *speaker, uint64_t until_us, struct reply *reply);
/* Waits, and takes whatever comes; how many bytes did. */
uint32_t speaker_wait(struct speaker *speaker, uint64_t duration_us);

/* What rules look at in an answer: the message, or one entry of its buffer (0 = the newest); NULL = there is none. */
const uint8_t *speaker_view(const struct speaker *speaker, const struct reply *reply, uint32_t entry, uint32_t *length);

/* The answer in words, for what a case says; valid until the next call. */
const char *reply_text(const struct reply *reply);

/* Clauses. */
#define DESCRIPTIONS(part) "docs/descriptions.md, " part

#endif
