/*
 * A minimal ccTalk note validator that breaks one rule at a time, so that the suite can be seen to notice. It listens
 * on a free port of 127.0.0.1, runs the given command with @PORT@ replaced, and ends with the command's status.
 *   misbehaving-cctalk --fault NAME -- COMMAND...        misbehaving-cctalk --list
 * Notes: each request 236 is the tester's hand; good notes and refused ones take turns.
 */
#include "misbehaving.h"

#include <string.h>

enum { ADDRESS = 40, EXTRA = 5, PARTIAL_MS = 50, MOVE_MS = 10, START_MS = 60, SILENT = -1, NAK = 5, BUSY = 6 };

enum fault {
    NONE,
    NAK_TO_BAD_CHECK,
    ANSWERS_OTHER_ADDRESS,
    BAD_CHECK_IN_FIFTH,
    COUNTER_FROM_ONE,
    WRAPS_TO_ZERO,
    READING_CONSUMES,
    NEWEST_LAST,
    INHIBITS_SURVIVE_RESET,
    INHIBITS_READ_DIFFERENT,
    MASTER_READS_DIFFERENT,
    ACCEPTS_WHILE_INHIBITED,
    ACCEPTS_TYPE_OFF,
    STACKS_UNASKED,
    ACK_TO_EMPTY_ESCROW,
    LATE_REPLY,
    GAPS_IN_REPLY,
    TRAILING_BYTE,
    WRONG_CATEGORY,
    SHORT_BILL_ID,
    NO_VALUED_ID,
    SCALING_ZERO,
    POSITIONS_EMPTY,
    LONG_SELF_CHECK,
    ANSWERS_PARTIAL,
    BUSY_FOR_EVER,
    REPLY_TO_WRONG_HOST,
    MODE_FORGOTTEN,
    NAK_TO_RESET,
    BUFFER_SURVIVES_RESET,
    SHORT_EVENTS,
    OTHER_CREDIT,
    RETURN_CREDITS,
    SERIAL_CHANGES,
    BINARY_TEXT,
    FORGETS_WITHOUT_POLLS,
    LOSES_POLLS,
    COUNTS_TWO,
    REFUSED_CREDITS,
    HOLDS_WITHOUT_ESCROW,
    PRIORITY_UNIT,
    DEAF_TO_SLOW_SENDER,
    STATUS_NOT_COUNTED,
    FAULTS
};

static const char *const fault_names[FAULTS] = {
    [NONE] = "none",
    [NAK_TO_BAD_CHECK] = "nak-to-bad-check",
    [ANSWERS_OTHER_ADDRESS] = "answers-other-address",
    [BAD_CHECK_IN_FIFTH] = "bad-check-in-fifth",
    [COUNTER_FROM_ONE] = "counter-from-one",
    [WRAPS_TO_ZERO] = "wraps-to-zero",
    [READING_CONSUMES] = "reading-consumes",
    [NEWEST_LAST] = "newest-last",
    [INHIBITS_SURVIVE_RESET] = "inhibits-survive-reset",
    [INHIBITS_READ_DIFFERENT] = "inhibits-read-different",
    [MASTER_READS_DIFFERENT] = "master-reads-different",
    [ACCEPTS_WHILE_INHIBITED] = "accepts-while-inhibited",
    [ACCEPTS_TYPE_OFF] = "accepts-type-off",
    [STACKS_UNASKED] = "stacks-unasked",
    [ACK_TO_EMPTY_ESCROW] = "ack-to-empty-escrow",
    [LATE_REPLY] = "late-reply",
    [GAPS_IN_REPLY] = "gaps-in-reply",
    [TRAILING_BYTE] = "trailing-byte",
    [WRONG_CATEGORY] = "wrong-category",
    [SHORT_BILL_ID] = "short-bill-id",
    [NO_VALUED_ID] = "no-valued-id",
    [SCALING_ZERO] = "scaling-zero",
    [POSITIONS_EMPTY] = "positions-empty",
    [LONG_SELF_CHECK] = "long-self-check",
    [ANSWERS_PARTIAL] = "answers-partial",
    [BUSY_FOR_EVER] = "busy-for-ever",
    [REPLY_TO_WRONG_HOST] = "reply-to-wrong-host",
    [MODE_FORGOTTEN] = "mode-forgotten",
    [NAK_TO_RESET] = "nak-to-reset",
    [BUFFER_SURVIVES_RESET] = "buffer-survives-reset",
    [SHORT_EVENTS] = "short-events",
    [OTHER_CREDIT] = "other-credit",
    [RETURN_CREDITS] = "return-credits",
    [SERIAL_CHANGES] = "serial-changes",
    [BINARY_TEXT] = "binary-text",
    [FORGETS_WITHOUT_POLLS] = "forgets-without-polls",
    [LOSES_POLLS] = "loses-polls",
    [COUNTS_TWO] = "counts-two",
    [REFUSED_CREDITS] = "refused-credits",
    [HOLDS_WITHOUT_ESCROW] = "holds-without-escrow",
    [PRIORITY_UNIT] = "priority-unit",
    [DEAF_TO_SLOW_SENDER] = "deaf-to-slow-sender",
    [STATUS_NOT_COUNTED] = "status-not-counted",
};

enum path { EMPTY, ENTERING, HELD, STACKING, RETURNING };

static struct {
    enum fault fault;
    uint8_t masks[2], master, mode;
    uint8_t counter, pairs[5][2];
    enum path path;
    bool good; /* the note under way */
    uint8_t type;
    int64_t path_due_ms;
    int64_t silent_until_ms;
    int64_t polled_ms;
    unsigned replies, notes, polls, serial, bad_checks;
    uint8_t received[512];
    size_t received_count;
    int64_t received_ms;
    bool slow; /* the message under way came in pieces */
} device;

static bool is(enum fault fault)
{
    return device.fault == fault;
}

/* ---- Notes ---- */

static void event_push(uint8_t a, uint8_t b)
{
    if (is(NEWEST_LAST)) {
        memmove(device.pairs[0], device.pairs[1], 8);
        device.pairs[4][0] = a;
        device.pairs[4][1] = b;
    } else {
        memmove(device.pairs[1], device.pairs[0], 8);
        device.pairs[0][0] = a;
        device.pairs[0][1] = b;
    }
    if (device.counter == 255)
        device.counter = is(WRAPS_TO_ZERO) ? 0 : 1;
    else
        device.counter++;
}

static bool open_for_notes(void)
{
    bool master = device.master != 0 || is(ACCEPTS_WHILE_INHIBITED);
    bool types = (device.masks[0] | device.masks[1]) != 0 || is(ACCEPTS_TYPE_OFF);
    return master && types;
}

static void path_set(enum path path)
{
    device.path = path;
    device.path_due_ms = misbehaving_clock_ms() + MOVE_MS;
}

static void note_insert(void)
{
    if (device.path != EMPTY)
        return;
    device.good = ++device.notes % 2 == 1;
    device.type = (uint8_t)(device.notes % 4 < 2 ? 1 : 2);
    path_set(ENTERING);
}

static void note_judge(void)
{
    bool escrow = (device.mode & 2) != 0 || is(HOLDS_WITHOUT_ESCROW);
    device.path = EMPTY;
    if (device.master == 0 && !open_for_notes()) {
        event_push(0, 0);
    } else if (!open_for_notes()) {
        event_push(0, 4);
    } else if (!device.good) {
        event_push(0, 2);
        if (is(REFUSED_CREDITS))
            event_push(device.type, 0);
    } else if (!escrow) {
        path_set(STACKING);
    } else {
        event_push(device.type, 1);
        path_set(is(STACKS_UNASKED) ? STACKING : HELD);
    }
    if (is(COUNTS_TWO)) {
        for (int i = 0; i < 6; i++)
            event_push(0, 10);
    }
}

static void path_advance(int64_t now_ms)
{
    if (device.path == EMPTY || device.path == HELD || now_ms < device.path_due_ms)
        return;
    if (device.path == ENTERING) {
        note_judge();
        return;
    }
    bool credits = device.path == STACKING || is(RETURN_CREDITS);
    device.path = EMPTY;
    if (credits)
        event_push(is(OTHER_CREDIT) ? 7 : device.type, 0);
    else
        event_push(0, 1);
}

static void reset(void)
{
    if (!is(INHIBITS_SURVIVE_RESET))
        device.masks[0] = device.masks[1] = 0;
    device.master = 0;
    device.mode = 0;
    device.counter = is(COUNTER_FROM_ONE) ? 1 : 0;
    if (!is(BUFFER_SURVIVES_RESET))
        memset(device.pairs, 0, sizeof device.pairs);
    device.path = EMPTY;
    device.silent_until_ms = misbehaving_clock_ms() + START_MS;
}

/* ---- Replies ---- */

struct reply {
    int header;
    uint8_t data[64];
    size_t length;
};

static void put(struct reply *reply, const void *bytes, size_t length)
{
    memcpy(reply->data, bytes, length);
    reply->length = length;
}

static void put_text(struct reply *reply, const char *text)
{
    put(reply, text, strlen(text));
}

static void put_byte(struct reply *reply, uint8_t byte)
{
    reply->data[reply->length++] = byte;
}

static void identity_answer(uint8_t header, struct reply *reply)
{
    static const uint8_t priority[] = {2, 20};
    switch (header) {
    case 249:
        put(reply, priority, 2);
        if (is(PRIORITY_UNIT))
            reply->data[0] = 12;
        break;
    case 245:
        put_text(reply, is(WRONG_CATEGORY) ? "Coin Acceptor" : "Bill Validator");
        break;
    case 242:
        put(reply, "\x56\x34\x12", 3);
        reply->data[0] = (uint8_t)(reply->data[0] + (is(SERIAL_CHANGES) ? device.serial++ : 0));
        break;
    case 4:
        put(reply, "\x01\x04\x07", 3);
        break;
    default:
        put_text(reply, is(BINARY_TEXT) && header == 244 ? "NV\x01" : "NV 1");
        break;
    }
}

static void note_answer(uint8_t header, const uint8_t *data, struct reply *reply)
{
    if (header == 157) {
        put_text(reply, data[0] > 2 ? "......." : is(NO_VALUED_ID) ? "GB0000A" : data[0] == 1 ? "GB0005A" : "GB0010A");
        if (is(SHORT_BILL_ID) && data[0] == 2)
            reply->length = 6;
    } else if (header == 156) {
        bool known = data[0] == 'G' && data[1] == 'B' && !is(SCALING_ZERO);
        put(reply, known ? "\x64\x00\x02" : "\x00\x00\x00", 3);
    } else {
        put(reply, is(POSITIONS_EMPTY) ? "\x00\x00" : "\x03\x00", 2);
    }
}

static void route_answer(uint8_t route, struct reply *reply)
{
    if (device.path != HELD) {
        if (!is(ACK_TO_EMPTY_ESCROW))
            put_byte(reply, 254);
        return;
    }
    if (route == 1)
        path_set(STACKING);
    else if (route == 0)
        path_set(RETURNING);
}

static void inhibit_answer(uint8_t header, const uint8_t *data, struct reply *reply)
{
    switch (header) {
    case 231:
        memcpy(device.masks, data, 2);
        break;
    case 230:
        put(reply, device.masks, 2);
        if (is(INHIBITS_READ_DIFFERENT) && device.masks[0] != 0)
            reply->data[0] ^= 4;
        break;
    case 228:
        device.master = data[0] & 1;
        break;
    case 227:
        put_byte(reply, is(MASTER_READS_DIFFERENT) ? 0 : device.master);
        break;
    case 153:
        device.mode = data[0] & 3;
        break;
    default:
        put_byte(reply, is(MODE_FORGOTTEN) ? 0 : device.mode);
        break;
    }
}

static void events_answer(struct reply *reply)
{
    device.polled_ms = misbehaving_clock_ms();
    put_byte(reply, device.counter);
    memcpy(reply->data + 1, device.pairs, 10);
    reply->length = is(SHORT_EVENTS) ? 9 : 11;
    if (is(READING_CONSUMES))
        memset(device.pairs, 0, sizeof device.pairs);
}

static void answer(uint8_t header, const uint8_t *data, struct reply *reply)
{
    switch (header) {
    case 254:
        if (is(LOSES_POLLS) && ++device.polls % 7 == 0)
            reply->header = SILENT;
        break;
    case 249:
    case 246:
    case 245:
    case 244:
    case 242:
    case 241:
    case 192:
    case 4:
        identity_answer(header, reply);
        break;
    case 236:
        put_byte(reply, device.path != EMPTY);
        note_insert();
        break;
    case 232:
        put(reply, "\x00\x00\x00", is(LONG_SELF_CHECK) ? 3 : 1);
        if (is(BUSY_FOR_EVER))
            *reply = (struct reply){.header = BUSY};
        break;
    case 157:
    case 156:
    case 155:
        note_answer(header, data, reply);
        break;
    case 159:
        events_answer(reply);
        break;
    case 154:
        route_answer(data[0], reply);
        break;
    case 231:
    case 230:
    case 228:
    case 227:
    case 153:
    case 152:
        inhibit_answer(header, data, reply);
        break;
    case 3:
        device.bad_checks = 0;
        break;
    case 2:
        put(reply, "\x00\x00\x00", 3);
        reply->data[2] = (uint8_t)(is(STATUS_NOT_COUNTED) ? 0 : device.bad_checks);
        break;
    case 1:
        if (is(NAK_TO_RESET))
            reply->header = NAK;
        else
            reset();
        break;
    default:
        reply->header = SILENT;
        break;
    }
}

static void reply_send(uint8_t request, const struct reply *reply, uint8_t from)
{
    uint8_t frame[80] = {is(REPLY_TO_WRONG_HOST) ? 3 : 1, (uint8_t)reply->length, from, (uint8_t)reply->header};
    memcpy(frame + 4, reply->data, reply->length);
    size_t length = reply->length + EXTRA;
    unsigned sum = 0;
    for (size_t i = 0; i + 1 < length; i++)
        sum += frame[i];
    frame[length - 1] = (uint8_t)(0x100U - (sum & 0xFFU));
    if (is(BAD_CHECK_IN_FIFTH) && ++device.replies % 5 == 0)
        frame[length - 1] ^= 0x10;
    if (is(TRAILING_BYTE))
        frame[length++] = 0;
    if (is(LATE_REPLY) && request == 227)
        misbehaving_pause(150);
    if (is(GAPS_IN_REPLY) && request == 245) {
        misbehaving_send(frame, 8);
        misbehaving_pause(45);
        misbehaving_send(frame + 8, length - 8);
        return;
    }
    misbehaving_send(frame, length);
}

static void nothing_answer(int header)
{
    struct reply reply = {.header = header};
    reply_send(0, &reply, ADDRESS);
}

static void frame_take(void)
{
    const uint8_t *frame = device.received;
    size_t length = device.received_count;
    unsigned sum = 0;
    for (size_t i = 0; i < length; i++)
        sum += frame[i];
    bool ours = frame[0] == ADDRESS || frame[0] == 0;
    bool other = is(ANSWERS_OTHER_ADDRESS) && (sum & 0xFFU) == 0 && frame[0] == ADDRESS + 1;
    if (!ours && !other)
        return;
    if ((sum & 0xFFU) != 0) {
        device.bad_checks++;
        /* The other form has its check elsewhere: this fault is about damage only. */
        if (is(NAK_TO_BAD_CHECK) && frame[2] == 1)
            nothing_answer(NAK);
        return;
    }
    if (is(DEAF_TO_SLOW_SENDER) && device.slow)
        return;
    if (frame[3] == 253) {
        uint8_t address = ADDRESS;
        misbehaving_send(&address, 1);
        return;
    }
    struct reply reply = {.header = 0};
    answer(frame[3], frame + 4, &reply);
    if (reply.header != SILENT)
        reply_send(frame[3], &reply, other ? frame[0] : ADDRESS);
}

static void byte_take(uint8_t byte)
{
    device.received[device.received_count++] = byte;
    if (device.received_count == 2 && byte > 252)
        device.received_count = 0;
    if (device.received_count >= EXTRA && device.received_count == device.received[1] + (size_t)EXTRA) {
        frame_take();
        device.received_count = 0;
        device.slow = false;
    }
}

/* ---- What the frame calls ---- */

static bool time_pass(int64_t now_ms)
{
    path_advance(now_ms);
    if (device.received_count > 0 && now_ms - device.received_ms > PARTIAL_MS) {
        device.received_count = 0;
        device.slow = false;
        if (is(ANSWERS_PARTIAL))
            nothing_answer(NAK);
    }
    if (is(FORGETS_WITHOUT_POLLS) && now_ms - device.polled_ms > 1200)
        device.masks[0] = device.masks[1] = 0;
    return (device.path != EMPTY && device.path != HELD) || device.received_count > 0;
}

static void bytes_take(const uint8_t *bytes, size_t length, int64_t now_ms)
{
    if (device.received_count > 0)
        device.slow = true;
    for (size_t i = 0; i < length; i++) {
        if (now_ms >= device.silent_until_ms)
            byte_take(bytes[i]);
    }
    device.received_ms = now_ms;
}

static void client_gone(void)
{
    device.received_count = 0;
}

int main(int count, char **arguments)
{
    const struct misbehaving frame = {fault_names, FAULTS, bytes_take, time_pass, client_gone};
    int fault = misbehaving_fault(&frame, count, arguments);
    if (fault < 0)
        return fault == MISBEHAVING_LISTED ? 0 : 2;
    device.fault = (enum fault)fault;
    reset();
    device.counter = 253; /* it has been on for long: the counter is near its end */
    return misbehaving_run(&frame, arguments + 4);
}
