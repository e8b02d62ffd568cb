/*
 * A contact-pulse device that can break one rule at a time, and the box that tells its lines: does the suite name that rule
 * and no other? It shares no code with the suite, the library or the simulator.
 *   misbehaving_pulse --fault NAME -- COMMAND...     listens, runs the command with @PORT@ replaced, ends with it
 *   misbehaving_pulse --list
 *
 * Pulses of 100 ms on CTS, the inhibit wire on DTR: a note comes whenever notes are wanted, two and four pulses by turns.
 */
#include "misbehaving.h"

enum fault {
    NO_FAULT,
    SAYS_NOTHING,
    OUTPUT_BITS,
    REPEATS_STATES,
    STAYS_CLOSED,
    IGNORES_INHIBIT,
    NOTES_RUN_TOGETHER,
    ODD_NUMBER,
    SHORT_PULSE,
    LONG_PULSE,
    SHORT_PAUSE,
    CUT_BY_INHIBIT,
    FAULTS
};

static const char *const names[FAULTS] = {"none",         "says-nothing",    "output-bits",        "repeats-states",
                                          "stays-closed", "ignores-inhibit", "notes-run-together", "odd-number",
                                          "short-pulse",  "long-pulse",      "short-pause",        "cut-by-inhibit"};

enum { PULSE_MS = 100, REST_MS = 1000, NOTE_MS = 60, LINE_CTS = 1, OUTPUT_DTR = 16, REPEAT_MS = 400 };

static struct {
    int fault;  /* enum fault */
    bool known; /* the first state was told */
    bool closed, wanted;
    int left;    /* pulses of this note still to end */
    int number;  /* of the note */
    int pulse;   /* of this note, from 0 */
    bool second; /* a second note follows at once */
    int64_t due_ms, told_ms;
} device;

static void state_tell(int64_t now_ms)
{
    uint8_t state = (uint8_t)((device.closed ? LINE_CTS : 0) | (device.fault == OUTPUT_BITS ? 0x20 : 0));
    device.told_ms = now_ms;
    if (device.fault != SAYS_NOTHING)
        misbehaving_send(&state, 1);
}

static int64_t width_ms(void)
{
    if (device.pulse == 1 && device.fault == SHORT_PULSE)
        return 12;
    return device.pulse == 1 && device.fault == LONG_PULSE ? 350 : PULSE_MS;
}

static int64_t pause_ms(void)
{
    return device.pulse == 0 && device.fault == SHORT_PAUSE ? 12 : PULSE_MS;
}

static void note_begin(int64_t now_ms)
{
    device.number++;
    device.pulse = 0;
    device.left = device.number % 2 == 1 ? 2 : 4;
    device.left += device.fault == ODD_NUMBER;
    device.second = device.fault == NOTES_RUN_TOGETHER;
    device.due_ms = now_ms + NOTE_MS;
}

static void pulse_end(int64_t now_ms)
{
    device.closed = false;
    device.left--;
    device.due_ms = now_ms + (device.left > 0 ? pause_ms() : REST_MS);
    if (device.left == 0 && device.second) { /* the next note, before the gap is over */
        device.second = false;
        device.left = 2;
        device.due_ms = now_ms + 380;
    }
    device.pulse++;
}

static void edge_make(int64_t now_ms)
{
    if (device.closed) {
        pulse_end(now_ms);
    } else {
        device.closed = true;
        device.due_ms = now_ms + width_ms();
    }
    state_tell(now_ms);
}

static bool wants_notes(void)
{
    return device.wanted || device.fault == IGNORES_INHIBIT;
}

/* True = something is due soon. */
static bool device_pass(int64_t now_ms)
{
    if (!misbehaving_connected())
        return false;
    if (!device.known) {
        device.known = true;
        device.closed = device.fault == STAYS_CLOSED;
        state_tell(now_ms);
    }
    if (device.fault == REPEATS_STATES && now_ms >= device.told_ms + REPEAT_MS && device.left == 0)
        state_tell(now_ms);
    if (device.fault == STAYS_CLOSED || now_ms < device.due_ms)
        return true;
    if (device.left > 0)
        edge_make(now_ms);
    else if (wants_notes())
        note_begin(now_ms);
    return true;
}

static void device_take(const uint8_t *bytes, size_t length, int64_t now_ms)
{
    device.wanted = (bytes[length - 1] & OUTPUT_DTR) != 0;
    bool cut = device.fault == CUT_BY_INHIBIT && !device.wanted && device.left > 0 && device.pulse == 0 &&
               device.closed;
    if (cut) /* its first pulse is its last */
        device.left = 1;
    (void)now_ms;
}

static void device_gone(void)
{
    device.known = false;
    device.wanted = false;
}

int main(int count, char **arguments)
{
    static const struct misbehaving program = {names, FAULTS, device_take, device_pass, device_gone};
    return misbehaving_main(&program, count, arguments, &device.fault);
}
