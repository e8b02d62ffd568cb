/*
 * The validator with status bits of examples/descriptions/status-bits.json, which can break one rule of its description at
 * a time: does the suite name that rule and no other? It shares no code with the suite, the library or the simulator.
 *   misbehaving_bits --fault NAME -- COMMAND...     listens, runs the command with @PORT@ replaced, ends with it
 *   misbehaving_bits --list
 *
 * A note comes whenever notes are wanted: good ones and refused ones take turns.
 */
#include "misbehaving.h"

#include <string.h>

enum fault {
    NO_FAULT,
    SILENT,
    OTHER_MODEL,
    BAD_CHECK_IN_FIFTH,
    TRAILING_BYTE,
    ANSWERS_SPOILT,
    LATE_ANSWER,
    GAP_IN_ANSWER,
    WRONG_TOGGLE,
    REPEAT_DIFFERS,
    LONG_STATUS,
    STRANGE_BITS,
    TAKES_UNWANTED,
    UNKNOWN_NOTE,
    STACK_UNTOLD,
    OTHER_NOTE_STACKED,
    RETURN_UNTOLD,
    STRANGE_REFUSAL,
    FAULTS
};

static const char *const names[FAULTS] = {
    "none",           "silent",        "other-model",  "bad-check-in-fifth", "trailing-byte", "answers-spoilt",
    "late-answer",    "gap-in-answer", "wrong-toggle", "repeat-differs",     "long-status",   "strange-bits",
    "takes-unwanted", "unknown-note",  "stack-untold", "other-note-stacked", "return-untold", "strange-refusal"};

enum { BEGIN = 0x7E, END = 0x7F, ESCAPE = 0x7D, MESSAGE_MAX = 64, NOTE_MS = 250, ANSWER_LATE_MS = 170, GAP_MS = 60 };
enum { AT_REST = 0x01, HELD = 0x04, STACKED = 0x08, RETURNED = 0x10, REJECTED = 0x20 };

static struct {
    int fault; /* enum fault */
    uint8_t received[MESSAGE_MAX];
    size_t received_count;
    bool inside, escaped;
    uint8_t answer[2 * MESSAGE_MAX];
    size_t answer_length;
    int toggle; /* of the request before, -1: none */
    unsigned answers, notes;
    bool enabled, held;
    uint8_t event, detail; /* to be told by the next answer */
    bool shown;
    int64_t note_due_ms;
} device = {.toggle = -1};

static unsigned crc_make(const uint8_t *bytes, size_t count)
{
    unsigned crc = 0xFFFF;
    while (count-- > 0) {
        crc ^= (unsigned)*bytes++ << 8;
        for (int i = 0; i < 8; i++)
            crc = ((crc << 1) ^ ((crc & 0x8000) != 0 ? 0x1021U : 0U)) & 0xFFFF;
    }
    return crc;
}

/* ---- Notes ---- */

static uint8_t note_type(void)
{
    return device.fault == UNKNOWN_NOTE ? 9 : 1;
}

static void note_come(void)
{
    if (device.notes++ % 2 == 0) {
        device.held = true;
        return;
    }
    device.event = REJECTED;
    device.detail = device.fault == STRANGE_REFUSAL ? 0xB0 : 0x10;
}

static void note_move(bool stack)
{
    device.held = false;
    device.event = stack ? STACKED : RETURNED;
    device.detail = note_type();
    if (stack && device.fault == OTHER_NOTE_STACKED)
        device.detail = 2;
    if (device.fault == (stack ? STACK_UNTOLD : RETURN_UNTOLD))
        device.event = 0;
}

static bool device_pass(int64_t now_ms)
{
    bool wants = device.enabled || device.fault == TAKES_UNWANTED;
    if (!wants || device.held || device.event != 0)
        device.note_due_ms = now_ms + NOTE_MS;
    else if (now_ms >= device.note_due_ms)
        note_come();
    return false;
}

/* ---- Answers ---- */

static void answer_make(const uint8_t *body, size_t count)
{
    unsigned crc = crc_make(body, count) ^ (device.fault == BAD_CHECK_IN_FIFTH && ++device.answers % 5 == 0 ? 1U : 0U);
    uint8_t whole[MESSAGE_MAX];
    memcpy(whole, body, count);
    whole[count++] = (uint8_t)(crc >> 8);
    whole[count++] = (uint8_t)(crc & 0xFF);
    size_t length = 0;
    device.answer[length++] = BEGIN;
    for (size_t i = 0; i < count; i++) {
        bool marks = whole[i] >= ESCAPE && whole[i] <= END;
        if (marks)
            device.answer[length++] = ESCAPE;
        device.answer[length++] = marks ? whole[i] ^ 0x20 : whole[i];
    }
    device.answer[length++] = END;
    device.answer_length = length;
}

static void answer_send(void)
{
    static const uint8_t more = 0;
    size_t first = device.fault == GAP_IN_ANSWER ? 4 : device.answer_length;
    if (device.fault == SILENT)
        return;
    if (device.fault == LATE_ANSWER)
        misbehaving_pause(ANSWER_LATE_MS);
    misbehaving_send(device.answer, first);
    if (first < device.answer_length) {
        misbehaving_pause(GAP_MS);
        misbehaving_send(device.answer + first, device.answer_length - first);
    }
    if (device.fault == TRAILING_BYTE)
        misbehaving_send(&more, 1);
}

static void identity_answer(int toggle)
{
    uint8_t body[9] = {(uint8_t)(0x40 | toggle), 'S', 'B', 'V', '1', '0', '0', '7', '7'};
    if (device.fault == OTHER_MODEL)
        body[4] = '2';
    device.shown = false;
    answer_make(body, sizeof body);
}

static void status_answer(int toggle, uint8_t control)
{
    if (device.shown)
        device.event = 0;
    device.enabled = (control & 1) != 0;
    if (device.held && (control & 6) != 0)
        note_move((control & 2) != 0);
    uint8_t state = device.enabled ? AT_REST : 0;
    if (!device.enabled && device.fault == STRANGE_BITS)
        state |= 0x80;
    if (device.held && device.event == 0)
        state |= HELD;
    device.shown = device.event != 0;
    uint8_t body[5] = {(uint8_t)(0x20 | (device.fault == WRONG_TOGGLE ? 0 : toggle)), (uint8_t)(state | device.event),
                       0,
                       device.event != 0 ? device.detail
                       : device.held     ? note_type()
                                         : 0,
                       0};
    answer_make(body, device.fault == LONG_STATUS ? 5 : 4);
}

/* The same toggle again: the answer before. */
static void repeat_answer(int toggle)
{
    uint8_t body[4] = {(uint8_t)(0x20 | toggle), 0, 0, 0x0F};
    if (device.fault == REPEAT_DIFFERS)
        answer_make(body, sizeof body);
}

static void message_take(void)
{
    const uint8_t *body = device.received;
    size_t count = device.received_count;
    if (count < 3)
        return;
    bool sound = crc_make(body, count - 2) == ((unsigned)body[count - 2] << 8 | body[count - 1]);
    if (!sound && device.fault != ANSWERS_SPOILT)
        return;
    int toggle = body[0] & 1;
    int kind = body[0] & 0xFE;
    if (!sound)
        answer_make((const uint8_t[]){0x20, 0, 0, 0}, 4);
    else if (kind == 0x40)
        identity_answer(toggle);
    else if (kind != 0x10)
        return;
    else if (toggle == device.toggle)
        repeat_answer(toggle);
    else
        status_answer(toggle, body[1]);
    device.toggle = sound ? toggle : device.toggle;
    answer_send();
}

static void byte_take(uint8_t byte)
{
    if (byte == BEGIN || device.received_count == MESSAGE_MAX) {
        device.inside = byte == BEGIN;
        device.escaped = false;
        device.received_count = 0;
        return;
    }
    if (!device.inside)
        return;
    if (byte == END) {
        device.inside = false;
        message_take();
    } else if (byte == ESCAPE) {
        device.escaped = true;
    } else {
        device.received[device.received_count++] = device.escaped ? byte ^ 0x20 : byte;
        device.escaped = false;
    }
}

static void device_take(const uint8_t *bytes, size_t length, int64_t now_ms)
{
    (void)device_pass(now_ms);
    for (size_t i = 0; i < length; i++)
        byte_take(bytes[i]);
}

static void device_gone(void)
{
    device.inside = false;
    device.enabled = false;
}

int main(int count, char **arguments)
{
    static const struct misbehaving program = {names, FAULTS, device_take, device_pass, device_gone};
    return misbehaving_main(&program, count, arguments, &device.fault);
}
