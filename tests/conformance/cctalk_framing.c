/*
 * Are messages built, checked and dropped as the standard says? (Generic Specification part 1)
 */
#include "cctalk_client.h"

#include <string.h>

enum { SILENCE_MS = 170, REPEATS = 25, BYTE_TIMEOUT_MS = 120 };

static void simple_poll(struct trial *trial)
{
    struct client client;
    bool found = false;
    for (int tries = 0; tries < 4 && !found && line_gone(trial->suite->line) == NULL; tries++)
        found = client_find(trial, &client); /* a device with motors needs up to 10 s after power-up */
    trial->suite->silent = !found;
    if (!expect(trial, found,
                "no answer to the simple poll; is the port the right one, the device on, and set to the "
                "plain or the CRC form, not to encryption?"))
        return;
    snprintf(trial->suite->settings, sizeof trial->suite->settings, "address=%u;check=%s", client.address,
             client.crc ? "crc" : "sum");
    struct answer answer;
    ask_plain(&client, SIMPLE_POLL, &answer);
    figure(trial, "address %u, %s, %s", client.address, client.crc ? "CRC" : "plain checksum",
           client.echo ? "line with local echo" : "no local echo");
    expect(trial, answer.kind == ANSWER_DONE && answer.length == 0, "254 is answered with %s", answer_text(&answer));
}

static void reply_form(struct trial *trial)
{
    static const uint8_t headers[] = {SIMPLE_POLL, CATEGORY, SELF_CHECK, TYPES_READ, MASTER_READ, BILL_EVENTS};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        struct answer answer;
        ask_plain(&client, headers[i], &answer);
        if (answer.frame_length == 0)
            continue;
        const uint8_t *frame = answer.frame;
        if (!expect(trial, frame[0] == 1, "the reply to %u goes to address %u, not to 1", headers[i], frame[0]) ||
            !expect(trial, client.crc || frame[2] == client.address, "the reply to %u says it is from %u, not %u",
                    headers[i], frame[2], client.address) ||
            !expect(trial, answer.kind != ANSWER_OTHER, "the reply to %u has header %u, not 0, 5 or 6", headers[i],
                    frame[3]))
            return;
    }
}

static void reply_check(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (int i = 1; i <= REPEATS; i++) {
        struct answer answer;
        exchange(&client, i % 2 == 0 ? CATEGORY : SIMPLE_POLL, NULL, 0, 500, &answer);
        if (!expect(trial, answer.kind != ANSWER_DAMAGED, "reply %d of %d has a wrong check or length", i, REPEATS))
            return;
        client_wait(&client, 5);
    }
}

static void every_poll_answered(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (int i = 1; i <= REPEATS; i++) {
        struct answer answer;
        exchange(&client, SIMPLE_POLL, NULL, 0, 500, &answer);
        if (!expect(trial, answer.kind != ANSWER_SILENT, "poll %d of %d was not answered", i, REPEATS))
            return;
        client_wait(&client, 5);
    }
}

static void no_extra_bytes(struct trial *trial)
{
    static const uint8_t headers[] = {SIMPLE_POLL, CATEGORY, BILL_EVENTS};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        uint8_t frame[CCTALK_EXTRA];
        uint8_t received[512];
        uint32_t length = frame_make(&client, client.address, headers[i], NULL, 0, frame);
        uint32_t count = send_and_count(&client, frame, length, SILENCE_MS, received, sizeof received);
        if (count < CCTALK_EXTRA || count < received[1] + (uint32_t)CCTALK_EXTRA)
            continue;
        uint32_t extra = count - received[1] - CCTALK_EXTRA;
        if (!expect(trial, extra == 0, "%u bytes more than the reply to %u has came with it", (unsigned)extra,
                    headers[i]))
            return;
    }
}

/* Sends what must not be answered. */
static bool stays_silent(struct client *client, const uint8_t *bytes, uint32_t length, const char *what)
{
    uint8_t received[64];
    uint32_t count = send_and_count(client, bytes, length, SILENCE_MS, received, sizeof received);
    char hex[64];
    hex_text(received, count, hex, sizeof hex);
    return expect(client->trial, count == 0, "%s was answered: %s", what, hex);
}

/* The receiver must be ready for the next message. */
static void answers_again(struct client *client, const char *after)
{
    struct answer answer;
    if (client->trial->result != RESULT_PASSED)
        return;
    client_wait(client, BYTE_TIMEOUT_MS);
    ask_plain(client, SIMPLE_POLL, &answer);
    expect(client->trial, answer.kind != ANSWER_SILENT, "after %s and a pause of %d ms the next poll is not answered",
           after, BYTE_TIMEOUT_MS);
}

static void silent_on_bad_check(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    uint8_t frame[CCTALK_EXTRA];
    uint32_t length = frame_make(&client, client.address, SIMPLE_POLL, NULL, 0, frame);
    for (int change = 1; change <= 0x81 && trial->result == RESULT_PASSED; change += 0x40) {
        uint8_t damaged[CCTALK_EXTRA];
        memcpy(damaged, frame, length);
        damaged[length - 1] = (uint8_t)(damaged[length - 1] ^ change);
        stays_silent(&client, damaged, length, "a message with a wrong check");
    }
    answers_again(&client, "a message with a wrong check");
}

static void silent_to_other_address(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    const uint8_t others[] = {(uint8_t)(client.address == 255 ? 254 : client.address + 1), 2};
    for (size_t i = 0; i < sizeof others && trial->result == RESULT_PASSED; i++) {
        uint8_t frame[CCTALK_EXTRA];
        uint32_t length = frame_make(&client, others[i], SIMPLE_POLL, NULL, 0, frame);
        uint8_t received[64];
        uint32_t count = send_and_count(&client, frame, length, SILENCE_MS, received, sizeof received);
        /* Another device may really be there: it answers with its own address. */
        bool foreign = !client.crc && count >= CCTALK_EXTRA && received[2] == others[i] && others[i] == 2;
        expect(trial, count == 0 || foreign, "a message to address %u was answered", others[i]);
    }
    answers_again(&client, "a message to another address");
}

static void partial_dropped(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    uint8_t frame[CCTALK_EXTRA];
    uint32_t length = frame_make(&client, client.address, SIMPLE_POLL, NULL, 0, frame);
    for (uint32_t part = 1; part < length && trial->result == RESULT_PASSED; part += 2) {
        stays_silent(&client, frame, part, "a part of a message");
        answers_again(&client, "a part of a message");
    }
}

static void garbage_dropped(struct trial *trial)
{
    static const uint8_t garbage[] = {0xFF, 0x00, 0xAA, 0x55, 0x7F};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    uint8_t received[64];
    (void)send_and_count(&client, garbage, sizeof garbage, SILENCE_MS, received, sizeof received);
    answers_again(&client, "bytes without meaning");
}

static void length_limit(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    const uint8_t frame[] = {client.address, 253, 1, SIMPLE_POLL};
    uint8_t received[64];
    (void)send_and_count(&client, frame, sizeof frame, SILENCE_MS, received, sizeof received);
    answers_again(&client, "a message that claims 253 data bytes");
}

static void other_check_silent(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    struct client other = client;
    other.crc = !client.crc;
    uint8_t frame[CCTALK_EXTRA];
    uint32_t length = frame_make(&other, client.address, SIMPLE_POLL, NULL, 0, frame);
    stays_silent(&client, frame, length, client.crc ? "a plain message to a CRC device" : "a CRC message");
    answers_again(&client, "a message of the other check");
}

static void slow_sender(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    uint8_t frame[CCTALK_EXTRA];
    uint32_t length = frame_make(&client, client.address, SIMPLE_POLL, NULL, 0, frame);
    for (int tries = 0; tries < 3; tries++) { /* our own system may stretch a gap beyond what we meant */
        uint8_t received[64];
        for (uint32_t i = 0; i + 1 < length && line_send(client.line, frame + i, 1); i++)
            client_wait(&client, 5);
        if (send_and_count(&client, frame + length - 1, 1, SILENCE_MS, received, sizeof received) >= CCTALK_EXTRA)
            return;
        client_wait(&client, BYTE_TIMEOUT_MS);
    }
    expect(trial, false, "a poll whose bytes come some milliseconds apart is not answered");
}

static void address_poll(struct trial *trial)
{
    struct client client;
    if (!client_begin(trial, &client))
        return;
    uint8_t frame[CCTALK_EXTRA];
    uint8_t received[256];
    uint32_t length = frame_make(&client, 0, ADDRESS_POLL, NULL, 0, frame);
    uint32_t count = send_and_count(&client, frame, length, 4U * client.address + SILENCE_MS, received,
                                    sizeof received);
    if (count == 0)
        skip(trial, "the device does not answer the address poll");
    else
        expect(trial, memchr(received, client.address, count) != NULL,
               "the bare byte %u is not among the %u bytes that came", client.address, (unsigned)count);
}

#define PART_1 "ccTalk Generic Specification part 1, "

const struct conformance_case cctalk_framing_cases[] = {
    {"cctalk/framing/simple-poll", SIDE_WIRE, "part 2, header 254: answered with ACK", "several",
     "the device is there and answers", NULL, simple_poll},
    {"cctalk/framing/reply-form", SIDE_WIRE, PART_1 "replies: to address 1, from the device, header 0, 5 or 6",
     "several", "replies can be told from requests and from other devices", NULL, reply_form},
    {"cctalk/framing/reply-check", SIDE_WIRE, PART_1 "checksum: the sum of all bytes is zero; CRC form likewise",
     "several", "the host can trust what it reads", NULL, reply_check},
    {"cctalk/framing/every-poll-answered", SIDE_WIRE, "part 2, header 254", "several",
     "no request is lost in the device", NULL, every_poll_answered},
    {"cctalk/framing/no-extra-bytes", SIDE_WIRE, PART_1 "message structure: length and nothing more", "several",
     "nothing follows a reply that could be taken for the next", NULL, no_extra_bytes},
    {"cctalk/framing/silent-on-bad-check", SIDE_WIRE, PART_1 "a damaged message is dropped without a reply", "one",
     "a damaged address cannot make the wrong device answer", NULL, silent_on_bad_check},
    {"cctalk/framing/silent-to-other-address", SIDE_WIRE, PART_1 "a slave speaks only when addressed", "several",
     "devices on one bus do not talk together", NULL, silent_to_other_address},
    {"cctalk/framing/partial-dropped", SIDE_WIRE,
     PART_1 "timing: 50 ms after the last byte a partial message is dropped", "several",
     "a torn message neither gets a reply nor blocks the next", NULL, partial_dropped},
    {"cctalk/framing/garbage-dropped", SIDE_WIRE, PART_1 "timing: the receiver is reset after 50 ms", "several",
     "noise does not block the device", NULL, garbage_dropped},
    {"cctalk/framing/length-limit", SIDE_WIRE, PART_1 "message structure: 253 to 255 data bytes are not allowed",
     "several", "an impossible length does not block the device", NULL, length_limit},
    {"cctalk/framing/other-check-silent", SIDE_WIRE, PART_1 "a device uses one check, and drops the other", "memory",
     "the form of the check can be found out by asking", NULL, other_check_silent},
    {"cctalk/framing/slow-sender", SIDE_WIRE, PART_1 "timing: up to 10 ms between the bytes of a message", "one",
     "a slow host is understood", NULL, slow_sender},
    {"cctalk/framing/address-poll", SIDE_WIRE, "part 2, header 253: the bare address byte after 4 ms x address",
     "several", "the device can be found on a bus (optional)", NULL, address_poll},
    {0}};
