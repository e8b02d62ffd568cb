/*
 * How does a request get its answer, and what was the answer like? See cctalk_client.h.
 */
#include "cctalk_client.h"

#include <stdlib.h>
#include <string.h>

enum {
    HOST = 1,
    FIRST_ADDRESS = 40, /* bill validators 40..47: from memory of the standard's address table */
    LAST_ADDRESS = 47,
    ADDRESS_MAX = 255,
    REPLY_NAK = 5,
    REPLY_BUSY = 6,
    BYTE_GAP_MS = 50, /* receiver's inter-byte time-out: two device manuals */
    PROBE_MS = 250,
    ANSWER_MS = 250,       /* far beyond the limit: that has a case of its own */
    SLOW_ANSWER_MS = 1500, /* commands that act first */
    BUSY_PAUSE_MS = 50,
    BUSY_LIMIT_MS = 2000,
    BUFFER_MAX = 1024
};

/* ---- Messages ---- */

static unsigned crc_add(unsigned crc, uint8_t byte)
{
    crc ^= (unsigned)byte << 8;
    for (int bit = 0; bit < 8; bit++)
        crc = (crc & 0x8000U) != 0 ? ((crc << 1) ^ 0x1021U) & 0xFFFFU : crc << 1;
    return crc;
}

/* Polynomial 0x1021 from 0, over everything but the two places of the CRC itself: a published device manual. */
static unsigned crc_of(const uint8_t *frame, uint32_t length)
{
    unsigned crc = crc_add(crc_add(0, frame[0]), frame[1]);
    for (uint32_t i = 3; i + 1 < length; i++)
        crc = crc_add(crc, frame[i]);
    return crc;
}

/* The value that makes the sum of all bytes zero: the standard, and device manuals. */
static uint8_t sum_of(const uint8_t *bytes, uint32_t length)
{
    unsigned sum = 0;
    for (uint32_t i = 0; i < length; i++)
        sum += bytes[i];
    return (uint8_t)(0x100U - (sum & 0xFFU));
}

uint32_t frame_make(const struct client *client, uint8_t address, uint8_t header, const uint8_t *data, uint32_t length,
                    uint8_t *frame)
{
    uint32_t total = length + CCTALK_EXTRA;
    frame[0] = address;
    frame[1] = (uint8_t)length;
    frame[2] = HOST;
    frame[3] = header;
    if (length > 0)
        memcpy(frame + 4, data, length);
    if (!client->crc) {
        frame[total - 1] = sum_of(frame, total - 1);
        return total;
    }
    unsigned crc = crc_of(frame, total);
    frame[2] = (uint8_t)(crc & 0xFFU);
    frame[total - 1] = (uint8_t)(crc >> 8);
    return total;
}

static bool check_good(const struct client *client, const uint8_t *frame, uint32_t length)
{
    if (client->crc)
        return crc_of(frame, length) == (frame[2] | (unsigned)frame[length - 1] << 8);
    return sum_of(frame, length) == 0;
}

/* The length of the message there, 0 = none or not whole. */
static uint32_t frame_at(const struct client *client, const uint8_t *bytes, uint32_t count)
{
    if (count < CCTALK_EXTRA || count < bytes[1] + (uint32_t)CCTALK_EXTRA)
        return 0;
    uint32_t length = bytes[1] + (uint32_t)CCTALK_EXTRA;
    return check_good(client, bytes, length) ? length : 0;
}

/* ---- One exchange ---- */

struct reception {
    uint8_t bytes[BUFFER_MAX];
    uint32_t count;
    uint32_t begin; /* behind the echo */
    const uint8_t *sent;
    uint32_t sent_length;
    uint64_t sent_us;
    uint64_t last_us;
};

static void answer_fill(struct answer *answer, const uint8_t *frame, uint32_t length)
{
    memcpy(answer->frame, frame, length);
    answer->frame_length = length;
    answer->data = answer->frame + 4;
    answer->length = length - CCTALK_EXTRA;
    answer->kind = frame[3] == 0            ? ANSWER_DONE
                   : frame[3] == REPLY_NAK  ? ANSWER_NAK
                   : frame[3] == REPLY_BUSY ? ANSWER_BUSY
                                            : ANSWER_OTHER;
}

/* Looks for a whole message: anywhere, but away from the beginning it must be from our device to us. */
static bool answer_find(const struct client *client, const struct reception *reception, struct answer *answer)
{
    for (uint32_t at = reception->begin; at < reception->count; at++) {
        const uint8_t *frame = reception->bytes + at;
        bool ours = frame[0] == HOST && (client->crc || reception->count - at < 3 || frame[2] == client->address);
        uint32_t length = at == reception->begin || ours ? frame_at(client, frame, reception->count - at) : 0;
        if (length == 0)
            continue;
        answer_fill(answer, frame, length);
        answer->strangers = at - reception->begin;
        answer->extra = reception->count - at - length;
        return true;
    }
    return false;
}

/* Host and device may share one wire: then the host hears itself first. */
static void echo_strip(struct client *client, struct reception *reception)
{
    if (reception->begin > 0 || reception->count < reception->sent_length)
        return;
    if (memcmp(reception->bytes, reception->sent, reception->sent_length) != 0)
        return;
    reception->begin = reception->sent_length;
    client->echo = true;
}

static void times_take(const struct client *client, struct reception *reception, struct answer *answer, uint32_t before)
{
    uint64_t now_us = line_now_us(client->line);
    if (reception->count <= reception->begin)
        reception->sent_us = now_us; /* the echo's end is the request's end */
    else if (before <= reception->begin)
        answer->first_us = now_us - reception->sent_us;
    else if (now_us - reception->last_us > answer->gap_us)
        answer->gap_us = now_us - reception->last_us;
    reception->last_us = now_us;
}

uint32_t latency_ms(const struct client *client)
{
    return client->trial->options->latency_ms;
}

static void exchange_frame(struct client *client, const uint8_t *frame, uint32_t length, uint32_t wait_ms,
                           struct answer *answer)
{
    memset(answer, 0, sizeof *answer);
    answer->kind = ANSWER_SILENT;
    if (!line_send(client->line, frame, length))
        return;
    static struct reception reception;
    reception = (struct reception){.sent = frame, .sent_length = length, .sent_us = line_now_us(client->line)};
    if (line_serial(client->line))
        reception.sent_us += (uint64_t)length * 1042; /* 10 bits at 9600 baud */
    uint64_t until_us = reception.sent_us + MS(wait_ms);
    for (;;) {
        uint32_t before = reception.count;
        uint32_t got = line_receive(client->line, until_us, reception.bytes + before, BUFFER_MAX - before);
        if (got == 0)
            break;
        reception.count += got;
        echo_strip(client, &reception);
        times_take(client, &reception, answer, before);
        if (answer_find(client, &reception, answer) || reception.count == BUFFER_MAX)
            break;
        if (reception.count > reception.begin)
            until_us = line_now_us(client->line) + MS(BYTE_GAP_MS + latency_ms(client));
    }
    if (answer->frame_length == 0 && reception.count > reception.begin)
        answer->kind = ANSWER_DAMAGED;
}

void exchange(struct client *client, uint8_t header, const uint8_t *data, uint32_t length, uint32_t wait_ms,
              struct answer *answer)
{
    uint8_t frame[CCTALK_DATA_MAX + CCTALK_EXTRA];
    uint32_t total = frame_make(client, client->address, header, data, length, frame);
    exchange_frame(client, frame, total, wait_ms, answer);
}

static uint32_t wait_of(uint8_t header)
{
    bool slow = header == SELF_CHECK || header == ROUTE || header == TYPES_WRITE || header == MODE_WRITE ||
                header == RESET;
    return slow ? SLOW_ANSWER_MS : ANSWER_MS;
}

enum answer_kind ask(struct client *client, uint8_t header, const uint8_t *data, uint32_t length, struct answer *answer)
{
    uint64_t busy_until_us = line_now_us(client->line) + MS(BUSY_LIMIT_MS);
    int silent = 0;
    client->repeated = false;
    for (int damaged = 0; damaged < 4;) {
        exchange(client, header, data, length, wait_of(header) + latency_ms(client), answer);
        if (line_gone(client->line) != NULL)
            return answer->kind;
        client->repeated = client->repeated || answer->kind == ANSWER_DAMAGED || answer->kind == ANSWER_SILENT;
        if (answer->kind == ANSWER_BUSY && line_now_us(client->line) < busy_until_us)
            client_wait(client, BUSY_PAUSE_MS);
        else if (answer->kind == ANSWER_DAMAGED)
            damaged++;
        else if (answer->kind != ANSWER_SILENT || ++silent == 2)
            return answer->kind;
    }
    return answer->kind;
}

enum answer_kind ask_plain(struct client *client, uint8_t header, struct answer *answer)
{
    return ask(client, header, NULL, 0, answer);
}

enum answer_kind ask_byte(struct client *client, uint8_t header, uint8_t byte, struct answer *answer)
{
    return ask(client, header, &byte, 1, answer);
}

/* ---- Without an answer ---- */

static uint32_t collect(struct client *client, uint64_t until_us, uint8_t *received, uint32_t capacity)
{
    uint32_t count = 0;
    for (;;) {
        uint8_t bytes[256];
        uint32_t got = line_receive(client->line, until_us, bytes, sizeof bytes);
        if (got == 0)
            return count;
        for (uint32_t i = 0; i < got && count < capacity; i++)
            received[count++] = bytes[i];
        if (line_now_us(client->line) >= until_us) /* it may never be quiet */
            return count;
    }
}

uint32_t send_and_count(struct client *client, const uint8_t *bytes, uint32_t length, uint32_t wait_ms,
                        uint8_t *received, uint32_t capacity)
{
    if (!line_send(client->line, bytes, length))
        return 0;
    uint64_t until_us = line_now_us(client->line) + MS(wait_ms + latency_ms(client));
    uint32_t count = collect(client, until_us, received, capacity);
    if (!client->echo || count < length || memcmp(received, bytes, length) != 0)
        return count;
    memmove(received, received + length, count - length);
    return count - length;
}

void client_wait(struct client *client, uint32_t wait_ms)
{
    uint8_t dropped[64];
    (void)collect(client, line_now_us(client->line) + MS(wait_ms), dropped, sizeof dropped);
}

/* ---- Finding the device ---- */

static bool probe(struct client *client, uint8_t address, bool crc)
{
    client->address = address;
    client->crc = crc;
    struct answer answer;
    for (int tries = 0; tries < 2; tries++) {
        exchange(client, SIMPLE_POLL, NULL, 0, PROBE_MS + latency_ms(client), &answer);
        if (answer.frame_length > 0)
            return true;
    }
    return false;
}

/* The text behind "key=" in "a=1;b=2"; its length. */
static size_t setting_find(const char *settings, const char *key, const char **value)
{
    size_t length = strlen(key);
    for (const char *at = settings; at != NULL && *at != '\0'; at = strchr(at, ';')) {
        at += *at == ';';
        if (strncmp(at, key, length) == 0 && at[length] == '=') {
            *value = at + length + 1;
            return strcspn(*value, ";");
        }
    }
    return 0;
}

bool client_find(struct trial *trial, struct client *client)
{
    *client = (struct client){.trial = trial, .line = trial->suite->line};
    const char *value = "";
    size_t length = setting_find(trial->settings, "check", &value);
    bool sum_wanted = length != 3 || strncmp(value, "crc", 3) != 0;
    bool crc_wanted = length != 3 || strncmp(value, "sum", 3) != 0;
    unsigned first = FIRST_ADDRESS;
    unsigned last = LAST_ADDRESS;
    length = setting_find(trial->settings, "address", &value);
    unsigned long number = length > 0 ? strtoul(value, NULL, 10) : 0;
    if (number >= 2 && number <= ADDRESS_MAX)
        first = last = (unsigned)number;
    for (int crc = 0; crc < 2; crc++) {
        if (crc == 0 ? !sum_wanted : !crc_wanted)
            continue;
        for (unsigned address = first; address <= last; address++) {
            if (probe(client, (uint8_t)address, crc == 1))
                return true;
        }
    }
    return false;
}

bool client_begin(struct trial *trial, struct client *client)
{
    if (trial->suite->silent) {
        skip(trial, "the device does not answer: see cctalk/framing/simple-poll");
        return false;
    }
    if (!client_find(trial, client)) {
        if (line_gone(trial->suite->line) == NULL)
            skip(trial, "the device does not answer: see cctalk/framing/simple-poll");
        return false;
    }
    snprintf(trial->suite->settings, sizeof trial->suite->settings, "address=%u;check=%s", client->address,
             client->crc ? "crc" : "sum");
    return true;
}

void client_end(struct client *client)
{
    static const uint8_t none[2] = {0, 0};
    struct answer answer;
    if (line_gone(client->line) != NULL)
        return;
    (void)ask_byte(client, MASTER_WRITE, 0, &answer);
    for (int tries = 0; client->held && tries < 5; tries++) { /* back to the customer, also if it was still moving */
        (void)ask_byte(client, ROUTE, 0, &answer);
        client->held = tries < 2 || (answer.kind == ANSWER_DONE && answer.length == 0);
        client_wait(client, 120);
        (void)ask_plain(client, BILL_EVENTS, &answer);
    }
    client->held = false;
    (void)ask(client, TYPES_WRITE, none, 2, &answer);
}

const char *answer_text(const struct answer *answer)
{
    static char text[160];
    static const char *const words[] = {[ANSWER_NAK] = "NAK",
                                        [ANSWER_BUSY] = "BUSY",
                                        [ANSWER_OTHER] = "an unknown reply header",
                                        [ANSWER_SILENT] = "silence",
                                        [ANSWER_DAMAGED] = "damaged bytes"};
    if (answer->kind != ANSWER_DONE)
        return words[answer->kind];
    if (answer->length == 0)
        return "ACK";
    char hex[96];
    hex_text(answer->data, answer->length, hex, sizeof hex);
    snprintf(text, sizeof text, "%u bytes: %s", (unsigned)answer->length, hex);
    return text;
}

bool unsupported(struct client *client, const struct answer *answer, uint8_t header)
{
    if (answer->kind != ANSWER_NAK && answer->kind != ANSWER_SILENT && answer->kind != ANSWER_BUSY)
        return false;
    skip(client->trial, "the device does not carry out header %u (%s)", header, answer_text(answer));
    return true;
}
