/*
 * Do the wires of a contact-pulse device do what the settings say?
 */
#include "pulse_client.h"

enum { QUIET_MS = 2500 };

static bool contact_begin(struct trial *trial, struct wires *wires)
{
    if (!wires_begin(trial, wires))
        return false;
    if (wires->closed)
        skip(trial, "the contact is not at rest: see pulse/contact/rest");
    return trial->result == RESULT_PASSED;
}

/* Notes on, and the first train. */
static bool train_await(struct trial *trial, struct wires *wires, struct train *train)
{
    if (!contact_begin(trial, wires) || !note_ask(trial, "insert a good note of the lowest value; it will be taken"))
        return false;
    if (trial->suite->foreign) {
        skip(trial, "the pulses of two notes cannot be told apart: see pulse/train/apart");
        return false;
    }
    wires_accept(wires, true);
    bool came = wires_train(wires, line_now_us(wires->line) + MS(1000 * trial->options->seconds), train);
    wires_accept(wires, false);
    if (!came)
        skip(trial, "no pulses came in time");
    return came;
}

static void state_at_start(struct trial *trial)
{
    struct wires wires;
    if (wires_begin(trial, &wires)) {
        figure(trial, "%02x", wires.state);
    } else if (trial->suite->silent) {
        trial->result = RESULT_PASSED;
        expect(trial, false, "no state of the lines came");
    }
}

static void inputs_only(struct trial *trial)
{
    struct wires wires;
    if (!wires_begin(trial, &wires))
        return;
    (void)wires_change(&wires, line_now_us(wires.line) + MS(500));
    expect(trial, wires.strange == 0, "a state has bits %02x set, which are no inputs", wires.strange);
}

static void each_a_change(struct trial *trial)
{
    struct wires wires;
    if (!wires_begin(trial, &wires))
        return;
    (void)wires_change(&wires, line_now_us(wires.line) + MS(QUIET_MS));
    expect(trial, wires.repeats == 0, "%u states came that were no change", wires.repeats);
}

static void contact_rest(struct trial *trial)
{
    struct wires wires;
    if (wires_begin(trial, &wires))
        expect(trial, !wires.closed, "the contact does not come to rest open");
}

static void quiet_inhibited(struct trial *trial)
{
    struct wires wires;
    if (!contact_begin(trial, &wires))
        return;
    if (wires.inhibit == 0) {
        skip(trial, "no output is set to inhibit the device");
        return;
    }
    if (trial->options->attended && !note_ask(trial, "insert a good note; it must not be taken"))
        return;
    uint64_t wait_us = trial->options->attended ? MS(1000 * trial->options->seconds) : MS(QUIET_MS);
    expect(trial, !wires_change(&wires, line_now_us(wires.line) + wait_us), "a pulse came while no notes are wanted");
}

static void train_apart(struct trial *trial)
{
    struct wires wires;
    struct train train;
    if (!contact_begin(trial, &wires) || !note_ask(trial, "insert two good notes, one right after the other"))
        return;
    wires_accept(&wires, true);
    uint64_t until_us = line_now_us(wires.line) + MS(1000 * trial->options->seconds);
    bool came = wires_train(&wires, until_us, &train);
    wires_accept(&wires, false);
    if (!came) {
        skip(trial, "no pulses came in time");
        return;
    }
    /* A pause of half the gap inside of a train is no pause between its pulses. */
    uint64_t longest_us = 0;
    uint64_t shortest_us = UINT64_MAX;
    for (unsigned i = 0; i + 1 < train.pulses; i++) {
        longest_us = train.pause_us[i] > longest_us ? train.pause_us[i] : longest_us;
        shortest_us = train.pause_us[i] < shortest_us ? train.pause_us[i] : shortest_us;
    }
    figure(trial, "longest pause %.0f ms", (double)longest_us / 1000);
    bool apart = train.pulses < 2 || 2 * longest_us < MS(wires.gap_max_ms) || longest_us < 2 * shortest_us;
    trial->suite->foreign = !expect(trial, apart, "a pause of %.0f ms in a train with pauses of %.0f ms: two notes?",
                                    (double)longest_us / 1000, (double)shortest_us / 1000);
}

static void train_number(struct trial *trial)
{
    struct wires wires;
    struct train train;
    if (!train_await(trial, &wires, &train))
        return;
    figure(trial, "%u pulses", train.pulses);
    trial->suite->odd = !expect(trial, wires.any_number || wires.numbers[train.pulses],
                                "%u pulses, and no note of so many is set", train.pulses);
}

static void train_width(struct trial *trial)
{
    struct wires wires;
    struct train train;
    if (!train_await(trial, &wires, &train))
        return;
    uint64_t slack_us = MS(trial->options->latency_ms);
    for (unsigned i = 0; i < train.pulses; i++) {
        uint64_t width_us = train.width_us[i];
        expect(trial, width_us + slack_us >= MS(wires.pulse_min_ms) && width_us <= MS(wires.pulse_max_ms) + slack_us,
               "pulse %u lasts %.1f ms; pulse_min_ms is %u, pulse_max_ms %u", i + 1, (double)width_us / 1000,
               (unsigned)wires.pulse_min_ms, (unsigned)wires.pulse_max_ms);
    }
    figure(trial, "the first lasts %.1f ms", (double)train.width_us[0] / 1000);
}

static void train_pause(struct trial *trial)
{
    struct wires wires;
    struct train train;
    if (!train_await(trial, &wires, &train))
        return;
    if (train.pulses < 2) {
        skip(trial, "one pulse has no pause: a note of more pulses is needed");
        return;
    }
    uint64_t slack_us = MS(trial->options->latency_ms);
    for (unsigned i = 0; i + 1 < train.pulses; i++)
        expect(trial, train.pause_us[i] + slack_us >= MS(wires.pulse_min_ms),
               "the pause behind pulse %u lasts %.1f ms; pulse_min_ms is %u", i + 1, (double)train.pause_us[i] / 1000,
               (unsigned)wires.pulse_min_ms);
    figure(trial, "the first lasts %.1f ms", (double)train.pause_us[0] / 1000);
}

/* A note that is in the box must be told whole, even if the next one is not wanted any more. */
static void inhibit_finishes(struct trial *trial)
{
    struct wires wires;
    struct train train = {.pulses = 0};
    if (!contact_begin(trial, &wires) || !note_ask(trial, "insert a good note of several pulses; it will be taken"))
        return;
    if (trial->suite->foreign || trial->suite->odd)
        skip(trial, "see %s", trial->suite->odd ? "pulse/train/number" : "pulse/train/apart");
    else if (wires.inhibit == 0)
        skip(trial, "no output is set to inhibit the device");
    if (trial->result != RESULT_PASSED)
        return;
    wires_accept(&wires, true);
    uint64_t until_us = line_now_us(wires.line) + MS(1000 * trial->options->seconds);
    if (!wires_change(&wires, until_us) || !wires.closed) {
        skip(trial, "no pulses came in time");
        return;
    }
    wires_accept(&wires, false);
    bool whole = wires_train_go_on(&wires, &train);
    figure(trial, "%u pulses", train.pulses);
    expect(trial, whole && (wires.any_number || wires.numbers[train.pulses]),
           "inhibited in the middle of a note it gave %u pulses, which no note has", train.pulses);
}

const struct conformance_case pulse_cases[] = {
    {"pulse/lines/state-at-start", SIDE_WIRE, LINES("the first byte is the state at the beginning"), "ours",
     "something tells the state of the lines", NULL, state_at_start},
    {"pulse/lines/inputs-only", SIDE_WIRE, LINES("one byte with CTS, DSR, DCD and RI"), "ours",
     "what comes is line states and nothing else", NULL, inputs_only},
    {"pulse/lines/each-a-change", SIDE_WIRE, LINES("one byte for each change of the inputs"), "ours",
     "the time of a byte is the time of a change", NULL, each_a_change},
    {"pulse/contact/rest", SIDE_WIRE, PULSE("what is told: a contact that stays closed is a fault"), "ours",
     "line and level are set right", NULL, contact_rest},
    {"pulse/inhibit/quiet", SIDE_WIRE, PULSE("wiring: the inhibit wire keeps the device from taking notes"), "ours",
     "a closed till takes no money", "insert a good note; it must not be taken", quiet_inhibited},
    {"pulse/train/apart", SIDE_WIRE, PULSE("gap_max_ms: less than the pause between notes"), "ours",
     "two notes are not taken for one", "insert two good notes, one right after the other", train_apart},
    {"pulse/train/number", SIDE_WIRE, PULSE("values: other numbers of pulses are no money"), "ours",
     "the note is worth what its pulses say", "insert a good note; it will be taken", train_number},
    {"pulse/train/width", SIDE_WIRE, PULSE("pulse_min_ms, pulse_max_ms"), "ours", "pulses are not taken for noise",
     "insert a good note; it will be taken", train_width},
    {"pulse/train/pause", SIDE_WIRE, PULSE("pulse_min_ms: also the shortest pause between two"), "ours",
     "two pulses are not taken for one", "insert a good note of several pulses; it will be taken", train_pause},
    {"pulse/inhibit/finishes", SIDE_WIRE, "common practice, no source: a note in the box is told whole", "practice",
     "no note is lost when the till stops taking them", "insert a good note of several pulses; it will be taken",
     inhibit_finishes},
    {NULL, SIDE_WIRE, NULL, NULL, NULL, NULL, NULL}};
