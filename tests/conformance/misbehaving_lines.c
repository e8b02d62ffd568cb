/*
 * The detector of examples/descriptions/detector-lines.json, which can break one rule of its description at a time: does
 * the suite name that rule and no other? It shares no code with the suite, the library or the simulator.
 *   misbehaving_lines --fault NAME -- COMMAND...     listens, runs the command with @PORT@ replaced, ends with it
 *   misbehaving_lines --list
 */
#include "misbehaving.h"

#include <string.h>

enum fault {
    NO_FAULT,
    SAYS_NOTHING,
    ENDS_WITH_LF,
    TOO_LONG,
    OTHER_LETTERS,
    UNKNOWN_WORD,
    UNKNOWN_SENSOR,
    UNKNOWN_NOTE,
    FAULTS
};

static const char *const names[FAULTS] = {"none",          "says-nothing", "ends-with-lf",   "too-long",
                                          "other-letters", "unknown-word", "unknown-sensor", "unknown-note"};

enum { PAUSE_MS = 120 };

static struct {
    int fault; /* enum fault */
    unsigned said;
    int64_t due_ms;
} device;

static const char *line_choose(void)
{
    static const char *const lines[] = {"ALIVE",         "PASS;EUR5", "FAIL;EUR10;UV", "PASS;EUR50", "FAIL;EUR20;UV+IR",
                                        "FAIL;EUR50;MG", "SKEW",      "FAIL;?"};
    static const char *const wrong[FAULTS] = {
        [TOO_LONG] = "FAIL;EUR5;UV;0123456789012345678901234567890123456789012345678901",
        [OTHER_LETTERS] = "FAIL;EUR5;\xC3\x9C",
        [UNKNOWN_WORD] = "TEMPERATURE;41",
        [UNKNOWN_SENSOR] = "FAIL;EUR20;NOSE",
        [UNKNOWN_NOTE] = "FAIL;EUR7;UV"};
    unsigned turn = device.said++ % 8;
    return turn == 6 && wrong[device.fault] != NULL ? wrong[device.fault] : lines[turn];
}

static bool device_pass(int64_t now_ms)
{
    if (!misbehaving_connected() || now_ms < device.due_ms || device.fault == SAYS_NOTHING)
        return true;
    const char *line = line_choose();
    bool short_end = device.fault == ENDS_WITH_LF;
    device.due_ms = now_ms + PAUSE_MS;
    misbehaving_send((const uint8_t *)line, strlen(line));
    misbehaving_send((const uint8_t *)(short_end ? "\n" : "\r\n"), short_end ? 1 : 2);
    return true;
}

/* It listens to nobody. */
static void device_take(const uint8_t *bytes, size_t length, int64_t now_ms)
{
    (void)bytes;
    (void)length;
    (void)now_ms;
}

static void device_gone(void)
{
}

int main(int count, char **arguments)
{
    static const struct misbehaving program = {names, FAULTS, device_take, device_pass, device_gone};
    return misbehaving_main(&program, count, arguments, &device.fault);
}
