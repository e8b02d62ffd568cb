/*
 * A minimal MDB note validator behind a minimal bus controller (docs/word-carrier.md), that breaks one rule at a time.
 * It listens on a free port of 127.0.0.1, runs the given command with @PORT@ replaced, and ends with the command's
 * status.
 *   misbehaving-mdb --fault NAME -- COMMAND...        misbehaving-mdb --list
 * Notes: each SECURITY command is the tester's hand; good notes and refused ones take turns.
 */
#include "misbehaving.h"

#include <stdio.h>
#include <string.h>

enum { MODE = 0x100, FLAG = 0x7E, ESCAPE = 0x7D, PACKET_MAX = 96, QUEUE_MAX = 32, MOVE_MS = 10, AGAIN_MS = 100 };
enum { HELLO = 1, ACKNOWLEDGE = 2, SEND = 0x10, BLOCK = 0x11 };

enum fault {
    NONE,
    SILENT_POLL,
    BAD_CHECKSUM_IN_FIFTH,
    LONG_ACK,
    ANSWERS_BAD_CHECKSUM,
    ANSWERS_WITHOUT_MODE,
    ANSWERS_OTHER_ADDRESS,
    SHORT_SETUP,
    SETUP_CHANGES,
    LEVEL_ZERO,
    COUNTRY_NOT_DECIMAL,
    SCALING_ZERO,
    VALUES_DESCEND,
    ESCROW_FLAG_ONE,
    SHORT_IDENTITY,
    BINARY_IDENTITY,
    STRANGE_OPTIONS,
    LONG_STACKER,
    OVERFULL,
    UNKNOWN_CODE,
    BILL_TYPE_NAK,
    SECURITY_NAK,
    TAKES_WHILE_DISABLED,
    REFUSED_CREDITS,
    EMPTY_ESCROW_UNTOLD,
    STACKS_UNASKED,
    OTHER_CREDIT,
    CREDIT_TWICE,
    RETURN_CREDITS,
    HOLDS_WITHOUT_ESCROW,
    COUNT_STUCK,
    RESET_UNTOLD,
    RESET_TOLD_AGAIN,
    BUS_RESET_IGNORED,
    ENABLED_AFTER_RESET,
    FAULTS
};

static const char *const names[FAULTS] = {
    [NONE] = "none",
    [SILENT_POLL] = "silent",
    [BAD_CHECKSUM_IN_FIFTH] = "bad-checksum-in-fifth",
    [LONG_ACK] = "long-ack",
    [ANSWERS_BAD_CHECKSUM] = "answers-bad-checksum",
    [ANSWERS_WITHOUT_MODE] = "answers-without-mode",
    [ANSWERS_OTHER_ADDRESS] = "answers-other-address",
    [SHORT_SETUP] = "short-setup",
    [SETUP_CHANGES] = "setup-changes",
    [LEVEL_ZERO] = "level-zero",
    [COUNTRY_NOT_DECIMAL] = "country-not-decimal",
    [SCALING_ZERO] = "scaling-zero",
    [VALUES_DESCEND] = "values-descend",
    [ESCROW_FLAG_ONE] = "escrow-flag-one",
    [SHORT_IDENTITY] = "short-identity",
    [BINARY_IDENTITY] = "binary-identity",
    [STRANGE_OPTIONS] = "strange-options",
    [LONG_STACKER] = "long-stacker",
    [OVERFULL] = "overfull",
    [UNKNOWN_CODE] = "unknown-code",
    [BILL_TYPE_NAK] = "bill-type-nak",
    [SECURITY_NAK] = "security-nak",
    [TAKES_WHILE_DISABLED] = "takes-while-disabled",
    [REFUSED_CREDITS] = "refused-credits",
    [EMPTY_ESCROW_UNTOLD] = "empty-escrow-untold",
    [STACKS_UNASKED] = "stacks-unasked",
    [OTHER_CREDIT] = "other-credit",
    [CREDIT_TWICE] = "credit-twice",
    [RETURN_CREDITS] = "return-credits",
    [HOLDS_WITHOUT_ESCROW] = "holds-without-escrow",
    [COUNT_STUCK] = "count-stuck",
    [RESET_UNTOLD] = "reset-untold",
    [RESET_TOLD_AGAIN] = "reset-told-again",
    [BUS_RESET_IGNORED] = "bus-reset-ignored",
    [ENABLED_AFTER_RESET] = "enabled-after-reset",
};

enum path { EMPTY, ENTERING, HELD, STACKING, RETURNING };

static struct {
    enum fault fault;
    unsigned enabled, escrowed;
    enum path path;
    uint8_t type;
    bool good;
    int64_t due_ms;
    uint8_t queue[16];
    size_t queued;
    unsigned count, notes, replies, setups, bill_types;
    bool was_reset; /* by the host, in this run */
} device;

static struct {
    uint8_t packet[2 * PACKET_MAX]; /* being received */
    size_t length;
    bool escaped;
    uint8_t seen; /* number of the host's last packet */
    uint8_t number;
    uint8_t waiting[QUEUE_MAX][PACKET_MAX]; /* blocks for the host, the first one under way */
    size_t lengths[QUEUE_MAX];
    size_t first, count;
    bool under_way;
    int64_t again_ms;
} controller;

static bool is(enum fault fault)
{
    return device.fault == fault;
}

/* ---- Notes ---- */

static void tell(uint8_t byte)
{
    if (device.queued < sizeof device.queue)
        device.queue[device.queued++] = byte;
}

static void path_set(enum path path)
{
    device.path = path;
    device.due_ms = misbehaving_clock_ms() + MOVE_MS;
}

static void note_insert(void)
{
    if (device.path != EMPTY)
        return;
    device.good = ++device.notes % 2 == 1;
    device.type = (uint8_t)(device.notes % 4 < 2 ? 0 : 1);
    path_set(ENTERING);
}

static void note_judge(void)
{
    bool open = device.enabled != 0 || (is(TAKES_WHILE_DISABLED) && !device.was_reset);
    device.path = EMPTY;
    if (!open) {
        tell(0x41);
    } else if (!device.good) {
        tell(0x0B);
        if (is(REFUSED_CREDITS))
            tell((uint8_t)(0x80 | device.type));
    } else if (device.escrowed == 0 && !is(HOLDS_WITHOUT_ESCROW)) {
        path_set(STACKING);
    } else {
        tell((uint8_t)(0x90 | device.type));
        path_set(is(STACKS_UNASKED) ? STACKING : HELD);
    }
}

static void path_end(void)
{
    bool stacks = device.path == STACKING;
    device.path = EMPTY;
    if (!stacks && !is(RETURN_CREDITS)) {
        tell((uint8_t)(0xA0 | device.type));
        return;
    }
    if (!is(COUNT_STUCK) && stacks)
        device.count++;
    tell((uint8_t)(0x80 | (is(OTHER_CREDIT) ? 7 : device.type)));
}

static void reset(bool told)
{
    device.queued = 0;
    device.path = EMPTY;
    if (!is(ENABLED_AFTER_RESET))
        device.enabled = device.escrowed = 0;
    device.was_reset = true;
    if (told)
        tell(0x06);
}

/* ---- Commands ---- */

enum kind { ANSWER_NONE, ANSWER_ACK, ANSWER_NAK, ANSWER_DATA };

struct answer {
    enum kind kind;
    uint8_t data[40];
    size_t length;
    bool told; /* poll bytes: gone once the controller has acknowledged them */
};

static void put(struct answer *answer, const void *bytes, size_t length)
{
    answer->kind = ANSWER_DATA;
    memcpy(answer->data + answer->length, bytes, length);
    answer->length += length;
}

static void setup_answer(struct answer *answer)
{
    uint8_t setup[27] = {2, 0x19, 0x78, 0x01, 0xF4, 2, 0x01, 0x90, 0xFF, 0xFF, 0xFF, 1, 2};
    if (is(LEVEL_ZERO))
        setup[0] = 0;
    if (is(COUNTRY_NOT_DECIMAL))
        setup[1] = 0x2C;
    if (is(SCALING_ZERO))
        setup[3] = setup[4] = 0;
    if (is(VALUES_DESCEND))
        setup[13] = 1;
    if (is(ESCROW_FLAG_ONE))
        setup[10] = 1;
    if (is(SETUP_CHANGES))
        setup[5] = (uint8_t)(2 + ++device.setups % 2);
    put(answer, setup, is(SHORT_SETUP) ? 11 : sizeof setup);
}

static void poll_answer(struct answer *answer)
{
    if (is(RESET_TOLD_AGAIN) && device.was_reset && device.queued == 0 && device.replies % 4 == 0)
        tell(0x06);
    if (is(UNKNOWN_CODE) && device.replies % 8 == 0)
        tell(0x11);
    answer->told = true;
    if (device.queued > 0)
        put(answer, device.queue, device.queued);
    if (is(SILENT_POLL))
        answer->kind = ANSWER_NONE;
}

static void escrow_answer(uint8_t decision)
{
    if (device.path != HELD) {
        if (!is(EMPTY_ESCROW_UNTOLD))
            tell(0x0A);
        return;
    }
    path_set((decision & 1) != 0 ? STACKING : RETURNING);
}

static void stacker_answer(struct answer *answer)
{
    unsigned count = device.count + (is(OVERFULL) ? 500 : 0);
    const uint8_t bytes[3] = {(uint8_t)(count >> 8), (uint8_t)(count & 0xFF), 0};
    put(answer, bytes, is(LONG_STACKER) ? 3 : 2);
}

static void expansion_answer(uint8_t command, struct answer *answer)
{
    static const uint8_t options[] = {0, 0, 0, 0};
    if (command == 1)
        return;
    put(answer, "TST000000000001MISBEHAVING ", 27);
    put(answer, "\x01\x00", 2);
    if (command == 2)
        put(answer, options, 4);
    if (is(STRANGE_OPTIONS) && command == 2)
        answer->data[29] = 0x40;
    if (is(BINARY_IDENTITY))
        answer->data[5] = 0x03;
    if (is(SHORT_IDENTITY))
        answer->length = 20;
}

static void command_answer(const uint8_t *block, struct answer *answer)
{
    answer->kind = ANSWER_ACK;
    switch (block[0] & 7) {
    case 0:
        reset(!is(RESET_UNTOLD));
        break;
    case 1:
        setup_answer(answer);
        break;
    case 2:
        note_insert();
        answer->kind = is(SECURITY_NAK) ? ANSWER_NAK : ANSWER_ACK;
        break;
    case 3:
        poll_answer(answer);
        break;
    case 4:
        device.bill_types++;
        device.enabled = (unsigned)block[1] << 8 | block[2];
        device.escrowed = (unsigned)block[3] << 8 | block[4];
        answer->kind = is(BILL_TYPE_NAK) && device.enabled == 0 ? ANSWER_NAK : ANSWER_ACK;
        break;
    case 5:
        escrow_answer(block[1]);
        break;
    case 6:
        stacker_answer(answer);
        break;
    default:
        expansion_answer(block[1], answer);
        break;
    }
}

/* ---- The carrier ---- */

static unsigned crc_of(const uint8_t *bytes, size_t length)
{
    unsigned crc = 0xFFFF;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1) != 0 ? (crc >> 1) ^ 0x8408U : crc >> 1;
    }
    return crc ^ 0xFFFFU;
}

static void packet_send(const uint8_t *content, size_t length)
{
    uint8_t whole[PACKET_MAX + 2];
    uint8_t stuffed[2 * PACKET_MAX + 8];
    size_t count = 0;
    memcpy(whole, content, length);
    unsigned crc = crc_of(content, length);
    whole[length++] = (uint8_t)(crc & 0xFF);
    whole[length++] = (uint8_t)(crc >> 8);
    stuffed[count++] = FLAG;
    for (size_t i = 0; i < length; i++) {
        bool special = whole[i] == FLAG || whole[i] == ESCAPE;
        if (special)
            stuffed[count++] = ESCAPE;
        stuffed[count++] = special ? whole[i] ^ 0x20 : whole[i];
    }
    stuffed[count++] = FLAG;
    misbehaving_send(stuffed, count);
}

/* The first block that waits goes, or goes again. */
static void waiting_send(int64_t now_ms)
{
    if (controller.count == 0 || (controller.under_way && now_ms < controller.again_ms))
        return;
    if (!controller.under_way)
        controller.number = controller.number == 255 ? 1 : (uint8_t)(controller.number + 1);
    controller.under_way = true;
    controller.again_ms = now_ms + AGAIN_MS;
    uint8_t *packet = controller.waiting[controller.first];
    packet[1] = controller.number;
    packet_send(packet, controller.lengths[controller.first]);
}

static void block_queue(const uint16_t *words, size_t count)
{
    if (controller.count == QUEUE_MAX)
        return;
    size_t at = (controller.first + controller.count++) % QUEUE_MAX;
    uint8_t *packet = controller.waiting[at];
    packet[0] = BLOCK;
    for (size_t i = 0; i < count; i++) {
        packet[2 + 2 * i] = (uint8_t)(words[i] & 0xFF);
        packet[3 + 2 * i] = (uint8_t)(words[i] >> 8);
    }
    controller.lengths[at] = 2 + 2 * count;
    waiting_send(misbehaving_clock_ms());
}

static void answer_put(const struct answer *answer)
{
    uint16_t words[48];
    unsigned sum = 0;
    size_t count = answer->length;
    device.replies++;
    if (answer->kind == ANSWER_NONE)
        return;
    if (answer->kind != ANSWER_DATA) {
        words[0] = answer->kind == ANSWER_ACK ? MODE : MODE | 0xFF;
        words[1] = MODE;
        bool twice = is(LONG_ACK) && answer->kind == ANSWER_ACK && device.bill_types == 1;
        device.bill_types += twice;
        if (twice)
            words[0] = 0;
        block_queue(words, twice ? 2 : 1);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        words[i] = answer->data[i];
        sum += answer->data[i];
    }
    bool bad = is(BAD_CHECKSUM_IN_FIFTH) && device.replies % 5 == 0;
    words[count] = (uint16_t)(MODE | ((sum + bad) & 0xFF));
    block_queue(words, count + 1);
    if (answer->told && !bad) {
        device.queued = 0;
        if (is(CREDIT_TWICE) && answer->length == 1 && (answer->data[0] & 0xF0) == 0x80 && device.escrowed != 0 &&
            device.notes % 2 == 1) {
            tell(answer->data[0]);
            device.notes++; /* only once more */
        }
    }
}

static void words_take(const uint16_t *words, size_t count)
{
    uint8_t block[40] = {0};
    unsigned sum = 0;
    if (count == 1 && words[0] == 0x8000) {
        if (!is(BUS_RESET_IGNORED))
            reset(true);
        return;
    }
    if (count < 2 || count > sizeof block)
        return;
    for (size_t i = 0; i < count; i++) {
        block[i] = (uint8_t)(words[i] & 0xFF);
        sum += i + 1 < count ? block[i] : 0U;
    }
    bool mode = (words[0] & MODE) != 0 || is(ANSWERS_WITHOUT_MODE);
    bool ours = (block[0] & 0xF8) == 0x30 || is(ANSWERS_OTHER_ADDRESS);
    bool whole = (sum & 0xFF) == block[count - 1] || is(ANSWERS_BAD_CHECKSUM);
    if (!mode || !ours || !whole)
        return;
    struct answer answer = {.kind = ANSWER_NONE};
    command_answer(block, &answer);
    answer_put(&answer);
}

static void send_take(const uint8_t *packet, size_t length)
{
    const uint8_t acknowledge[] = {ACKNOWLEDGE, 0, packet[1]};
    packet_send(acknowledge, sizeof acknowledge);
    if (packet[1] == controller.seen)
        return;
    controller.seen = packet[1];
    uint16_t words[48];
    size_t count = 0;
    for (size_t i = 2; i + 1 < length && count < 48; i += 2)
        words[count++] = (uint16_t)(packet[i] | packet[i + 1] << 8);
    words_take(words, count);
}

static void packet_take(const uint8_t *packet, size_t length, int64_t now_ms)
{
    static const uint8_t hello[] = {HELLO, 0, 1, 0x4D, 0x49, 0x53, 0x42};
    if (length < 4 || crc_of(packet, length - 2) != (packet[length - 2] | (unsigned)packet[length - 1] << 8))
        return;
    length -= 2;
    if (packet[0] == HELLO) {
        memset(&controller, 0, sizeof controller);
        packet_send(hello, sizeof hello);
    } else if (packet[0] == ACKNOWLEDGE && length == 3) {
        if (!controller.under_way || packet[2] != controller.number)
            return;
        controller.under_way = false;
        controller.first = (controller.first + 1) % QUEUE_MAX;
        controller.count--;
        waiting_send(now_ms);
    } else if (packet[0] == SEND) {
        send_take(packet, length);
    }
}

static void byte_take(uint8_t byte, int64_t now_ms)
{
    if (byte == FLAG) {
        uint8_t packet[2 * PACKET_MAX];
        size_t length = controller.length;
        memcpy(packet, controller.packet, length);
        controller.length = 0;
        controller.escaped = false;
        if (length > 0)
            packet_take(packet, length, now_ms);
    } else if (byte == ESCAPE) {
        controller.escaped = true;
    } else if (controller.length < sizeof controller.packet) {
        controller.packet[controller.length++] = controller.escaped ? byte ^ 0x20 : byte;
        controller.escaped = false;
    }
}

/* ---- What the frame calls ---- */

static void bytes_take(const uint8_t *bytes, size_t length, int64_t now_ms)
{
    for (size_t i = 0; i < length; i++)
        byte_take(bytes[i], now_ms);
}

static bool time_pass(int64_t now_ms)
{
    waiting_send(now_ms);
    if (device.path == EMPTY || device.path == HELD)
        return controller.count > 0;
    if (now_ms >= device.due_ms) {
        if (device.path == ENTERING)
            note_judge();
        else
            path_end();
    }
    return true;
}

static void client_gone(void)
{
    memset(&controller, 0, sizeof controller);
}

int main(int count, char **arguments)
{
    const struct misbehaving frame = {names, FAULTS, bytes_take, time_pass, client_gone};
    int fault = misbehaving_fault(&frame, count, arguments);
    if (fault < 0)
        return fault == MISBEHAVING_LISTED ? 0 : 2;
    device.fault = (enum fault)fault;
    tell(0x06);
    return misbehaving_run(&frame, arguments + 4);
}
