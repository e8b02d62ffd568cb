/*
 * Does the device say what it is, in the form the standard gives, and the same each time?
 */
#include "cctalk_client.h"

#include <string.h>

static void category(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, CATEGORY, &answer);
    bool right = answer.kind == ANSWER_DONE && answer.length == 14 && memcmp(answer.data, "Bill Validator", 14) == 0;
    expect(trial, right, "245 is answered with %s, not with \"Bill Validator\"", answer_text(&answer));
}

static bool printable(const struct answer *answer)
{
    for (uint32_t i = 0; i < answer->length; i++) {
        if (answer->data[i] < 0x20 || answer->data[i] > 0x7E)
            return false;
    }
    return true;
}

static void texts_are_ascii(struct trial *trial)
{
    static const uint8_t headers[] = {MAKER, PRODUCT, SOFTWARE, BUILD_CODE};
    struct client client;
    unsigned answered = 0;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        struct answer answer;
        if (ask_plain(&client, headers[i], &answer) != ANSWER_DONE)
            continue;
        answered++;
        if (!expect(trial, printable(&answer), "%u is answered with bytes that are not printable ASCII: %s", headers[i],
                    answer_text(&answer)))
            return;
    }
    if (answered == 0)
        skip(trial, "the device carries out none of 246, 244, 241, 192");
}

static void serial_number(struct trial *trial)
{
    struct client client;
    struct answer answer;
    struct answer again;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, SERIAL_NUMBER, &answer);
    if (unsupported(&client, &answer, SERIAL_NUMBER))
        return;
    if (!expect(trial, answer.length == 3 || answer.length == 4, "242 is answered with %u bytes, not 3 (or 4)",
                (unsigned)answer.length))
        return;
    ask_plain(&client, SERIAL_NUMBER, &again);
    bool same = again.length == answer.length && memcmp(again.data, answer.data, answer.length) == 0;
    expect(trial, same, "242 is answered with another number when it is asked again: %s", answer_text(&again));
}

static void comms_revision(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, COMMS_REVISION, &answer);
    if (unsupported(&client, &answer, COMMS_REVISION))
        return;
    expect(trial, answer.length > 0, "4 is answered without data");
    figure(trial, "%s", answer_text(&answer)); /* 3 binary bytes in one manual, 6 ASCII bytes in another */
}

static void polling_priority(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, POLLING_PRIORITY, &answer);
    if (unsupported(&client, &answer, POLLING_PRIORITY))
        return;
    if (expect(trial, answer.length == 2, "249 is answered with %u bytes, not 2", (unsigned)answer.length))
        expect(trial, answer.data[0] <= 9, "249 names unit %u; there are 0 to 9", answer.data[0]);
}

static void optional_commands(struct trial *trial)
{
    static const uint8_t headers[] = {MAKER,          PRODUCT,      SERIAL_NUMBER,
                                      SOFTWARE,       BUILD_CODE,   POLLING_PRIORITY,
                                      COMMS_REVISION, COMMS_STATUS, OPTO_STATES};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        struct answer answer;
        enum answer_kind kind = ask_plain(&client, headers[i], &answer);
        if (kind != ANSWER_DONE)
            figure(trial, "%u: %s", headers[i], answer_text(&answer));
        ask_plain(&client, SIMPLE_POLL, &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE, "after %u the simple poll is answered with %s", headers[i],
                    answer_text(&answer)))
            return;
    }
}

/* Read-only commands of coin acceptors: the only "unknown" ones that are safe to send to any bill validator. */
static void foreign_commands(struct trial *trial)
{
    static const uint8_t headers[] = {229, 248};
    struct client client;
    if (!client_begin(trial, &client))
        return;
    for (size_t i = 0; i < sizeof headers; i++) {
        struct answer answer;
        ask_plain(&client, headers[i], &answer);
        figure(trial, "%u: %s", headers[i], answer.kind == ANSWER_DONE ? "answered" : answer_text(&answer));
        bool harmless = answer.kind != ANSWER_OTHER && answer.kind != ANSWER_DAMAGED;
        if (!expect(trial, harmless, "%u is answered with %s", headers[i], answer_text(&answer)))
            return;
        ask_plain(&client, SIMPLE_POLL, &answer);
        if (!expect(trial, answer.kind == ANSWER_DONE, "after the foreign command %u the device is %s", headers[i],
                    answer_text(&answer)))
            return;
    }
}

static void comms_status(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, COMMS_CLEAR, &answer);
    if (unsupported(&client, &answer, COMMS_CLEAR))
        return;
    ask_plain(&client, COMMS_STATUS, &answer);
    if (unsupported(&client, &answer, COMMS_STATUS))
        return;
    if (!expect(trial, answer.length == 3, "2 is answered with %u bytes, not 3", (unsigned)answer.length) ||
        !expect(trial, answer.data[2] == 0, "just cleared, 2 counts %u bad checksums", answer.data[2]))
        return;
    uint8_t frame[CCTALK_EXTRA];
    uint8_t received[16];
    uint32_t length = frame_make(&client, client.address, SIMPLE_POLL, NULL, 0, frame);
    frame[length - 1] ^= 0x55;
    send_and_count(&client, frame, length, 100, received, sizeof received);
    client_wait(&client, 100);
    ask_plain(&client, COMMS_STATUS, &answer);
    bool counted = answer.kind == ANSWER_DONE && answer.length == 3 && answer.data[2] > 0;
    expect(trial, counted, "after a message with a wrong check, 2 is answered with %s", answer_text(&answer));
}

static void self_check_form(struct trial *trial)
{
    struct client client;
    struct answer answer;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, SELF_CHECK, &answer);
    if (unsupported(&client, &answer, SELF_CHECK))
        return;
    expect(trial, answer.length == 1 || answer.length == 2, "232 is answered with %u bytes, not 1 or 2",
           (unsigned)answer.length);
    figure(trial, "fault code %u", answer.length > 0 ? answer.data[0] : 0);
}

static void self_check_repeats(struct trial *trial)
{
    struct client client;
    struct answer answer;
    struct answer again;
    if (!client_begin(trial, &client))
        return;
    ask_plain(&client, SELF_CHECK, &answer);
    if (unsupported(&client, &answer, SELF_CHECK))
        return;
    ask_plain(&client, SELF_CHECK, &again);
    bool same = again.kind == ANSWER_DONE && again.length > 0 && answer.length > 0 && again.data[0] == answer.data[0];
    expect(trial, same, "asked again, 232 is answered with %s", answer_text(&again));
}

const struct conformance_case cctalk_identity_cases[] = {
    {"cctalk/identity/category", SIDE_WIRE, "part 2, header 245: \"Bill Validator\"", "memory",
     "the host can tell a bill validator from a coin acceptor", NULL, category},
    {"cctalk/identity/texts-are-ascii", SIDE_WIRE, "part 2, headers 246, 244, 241, and 192 (from memory): ASCII", "one",
     "texts can be shown and recorded", NULL, texts_are_ascii},
    {"cctalk/identity/serial-number", SIDE_WIRE, "part 2, header 242: 3 bytes, the same each time", "memory",
     "the host can recognise the device after a restart", NULL, serial_number},
    {"cctalk/identity/comms-revision", SIDE_WIRE, "part 2, header 4: any length, since manuals differ", "several",
     "the revision can be recorded", NULL, comms_revision},
    {"cctalk/identity/polling-priority", SIDE_WIRE, "part 2, header 249: unit 0 to 9 and value", "one",
     "the poll interval can be read", NULL, polling_priority},
    {"cctalk/identity/optional-commands", SIDE_WIRE, "optional commands: data, NAK or silence, nothing worse", "one",
     "a host may ask for what the device does not have", NULL, optional_commands},
    {"cctalk/identity/foreign-commands", SIDE_WIRE, "commands of other devices: NAK or silence", "one",
     "a coin acceptor's read commands do no harm", NULL, foreign_commands},
    {"cctalk/identity/comms-status", SIDE_WIRE, "part 2, headers 3 and 2: three counters, bad checksums last",
     "several", "line quality can be read from the device (optional)", NULL, comms_status},
    {"cctalk/self-check/form", SIDE_WIRE, "part 2, header 232: a fault code, or a code and one more byte", "one",
     "faults can be decoded", NULL, self_check_form},
    {"cctalk/self-check/repeatable", SIDE_WIRE, "part 2, header 232: clears nothing", "practice",
     "a fault stays visible until it is mended", NULL, self_check_repeats},
    {0}};
