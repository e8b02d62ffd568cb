/* Which bytes go over the line? Begin 7E, end 7F, escape 7D with XOR 20, CRC-16 (1021, start FFFF) high byte first, a
 * toggle in bit 0 of the first byte: an invented device. */
#include "line.h"

#include <string.h>

enum {
    BEGIN = 0x7E,
    END = 0x7F,
    ESCAPE = 0x7D,
    ESCAPE_XOR = 0x20,
    KIND_IDENTITY = 0x40,
    KIND_POLL = 0x10,
    KIND_STATUS = 0x20,
    STACK_WISH = 0x02,
    RETURN_WISH = 0x04,
    GAP_MS = 20
};

static void chunk_sent(void *user, const struct chunk *chunk)
{
    struct line *line = user;
    if (chunk->command >= 0)
        line->answered[chunk->command]++;
}

void line_start(struct line *line, struct validator *validator, const struct settings *settings,
                const struct truth *truth)
{
    memset(line, 0, sizeof *line);
    line->validator = validator;
    line->settings = settings;
    line->truth = truth;
    line->toggle = -1;
    line->outbox.sent = chunk_sent;
    line->outbox.user = line;
}

void line_clear(struct line *line)
{
    line->inside = line->escaped = false;
    line->received_count = 0;
    outbox_clear(&line->outbox);
}

static unsigned crc_of(const uint8_t *bytes, size_t length)
{
    unsigned crc = 0xFFFF;
    for (size_t i = 0; i < length; i++) {
        crc ^= (unsigned)bytes[i] << 8;
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 0x8000U) != 0 ? (crc << 1 ^ 0x1021U) & 0xFFFFU : crc << 1;
    }
    return crc;
}

/* ---- Answers ---- */

static size_t wire_put(uint8_t *wire, size_t length, uint8_t byte)
{
    if (byte == BEGIN || byte == END || byte == ESCAPE) {
        wire[length++] = ESCAPE;
        byte ^= ESCAPE_XOR;
    }
    wire[length++] = byte;
    return length;
}

static void answer_build(struct line *line, const uint8_t *body, size_t count)
{
    unsigned crc = crc_of(body, count);
    memcpy(line->previous, line->answer, line->answer_length);
    line->previous_length = line->answer_length;
    size_t length = 0;
    line->answer[length++] = BEGIN;
    for (size_t i = 0; i < count; i++)
        length = wire_put(line->answer, length, body[i]);
    length = wire_put(line->answer, length, (uint8_t)(crc >> 8));
    length = wire_put(line->answer, length, (uint8_t)(crc & 0xFF));
    line->answer[length++] = END;
    line->answer_length = length;
}

static bool deaf(const struct fault *fault)
{
    return fault->kind->own == OWN_DEAF;
}

static void fault_log(const struct line *line, const struct fault *fault, int64_t now_ms)
{
    truth_begin(line->truth, now_ms, "fault");
    truth_text(line->truth, "kind", fault->kind->word);
    truth_end(line->truth);
}

static void answer_send(struct line *line, int command, int64_t now_ms)
{
    struct outgoing out = {.bits = 8, .intact = true, .delay_ms = line->settings->reply_ms};
    outgoing_lead_bytes(&out, line->answer, line->answer_length);
    out.start = 0;
    for (size_t i = 0; i < line->faults.count; i++) {
        struct fault *fault = &line->faults.fault[i];
        if (deaf(fault) || !fault_strikes(fault, command))
            continue;
        fault_log(line, fault, now_ms);
        if (outgoing_worth(&out))
            fault_apply(fault, &out);
        if (fault->kind->own == OWN_STALE)
            outgoing_lead_bytes(&out, line->previous, line->previous_length);
    }
    struct chunk *last = out.mute ? NULL : outbox_answer(&line->outbox, &out, now_ms);
    if (last != NULL)
        last->command = command;
}

/* ---- Requests ---- */

static bool request_unheard(struct line *line, int command, int64_t now_ms)
{
    bool unheard = false;
    for (size_t i = 0; i < line->faults.count; i++) {
        struct fault *fault = &line->faults.fault[i];
        if (!deaf(fault) || !fault_strikes(fault, command))
            continue;
        fault_log(line, fault, now_ms);
        unheard = true;
    }
    return unheard;
}

static void identity_answer(struct line *line, int toggle)
{
    uint8_t body[9] = {(uint8_t)(KIND_IDENTITY | toggle)};
    memcpy(body + 1, line->settings->model, 4);
    memcpy(body + 5, line->settings->serial, 4);
    validator_forget(line->validator);
    answer_build(line, body, sizeof body);
}

/* The same toggle again: the host did not get the answer, nothing is done twice. */
static void poll_answer(struct line *line, int toggle, uint8_t control, int64_t now_ms)
{
    if (toggle == line->toggle)
        return;
    uint8_t body[1 + STATUS_BYTES] = {(uint8_t)(KIND_STATUS | toggle)};
    validator_confirm(line->validator);
    validator_control(line->validator, control, now_ms);
    validator_status(line->validator, body + 1, now_ms);
    answer_build(line, body, sizeof body);
}

/* COMMANDS: no request of this device. */
static int command_find(const uint8_t *body, size_t count)
{
    if (count == 1 && (body[0] & 0xFE) == KIND_IDENTITY)
        return COMMAND_IDENTITY;
    if (count != 2 || (body[0] & 0xFE) != KIND_POLL)
        return COMMANDS;
    if ((body[1] & STACK_WISH) != 0)
        return COMMAND_STACK;
    return (body[1] & RETURN_WISH) != 0 ? COMMAND_RETURN : COMMAND_POLL;
}

static void message_handle(struct line *line, int64_t now_ms)
{
    const uint8_t *body = line->received;
    size_t count = line->received_count;
    if (count < 3 || now_ms < line->validator->quiet_until_ms)
        return;
    unsigned crc = (unsigned)body[count - 2] << 8 | body[count - 1];
    int command = command_find(body, count - 2);
    if (crc_of(body, count - 2) != crc || command == COMMANDS)
        return;
    line->requests[command]++;
    if (request_unheard(line, command, now_ms))
        return;
    int toggle = body[0] & 1;
    if (command == COMMAND_IDENTITY)
        identity_answer(line, toggle);
    else
        poll_answer(line, toggle, body[1], now_ms);
    line->toggle = toggle;
    answer_send(line, command, now_ms);
}

/* True when the byte ended a message. */
static bool byte_receive(struct line *line, uint8_t byte, int64_t now_ms)
{
    if (byte == BEGIN) {
        line->inside = true;
        line->escaped = false;
        line->received_count = 0;
        return false;
    }
    bool ends = line->inside && byte == END;
    if (ends)
        message_handle(line, now_ms);
    if (ends || line->received_count == FRAME_MOST)
        line->inside = false;
    if (!line->inside)
        return ends;
    if (byte == ESCAPE && !line->escaped) {
        line->escaped = true;
        return false;
    }
    line->received[line->received_count++] = line->escaped ? byte ^ ESCAPE_XOR : byte;
    line->escaped = false;
    return false;
}

size_t line_receive(struct line *line, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    if (now_ms - line->received_ms > GAP_MS)
        line->inside = false;
    line->received_ms = now_ms;
    for (size_t i = 0; i < count; i++) {
        if (byte_receive(line, bytes[i], now_ms))
            return i + 1;
    }
    return count;
}
