/* lines-simulator: a simulated detector that prints a line for each note, on a local TCP port, acting out a script. It is
 * the invented device of examples/descriptions/detector-lines.json. See README.md. */
#include "common/server.h"
#include "language.h"

#include <string.h>

struct detector {
    const struct settings *settings;
    const struct truth *truth;
    struct outbox outbox;
    struct faults faults;
    enum path path;
    enum outcome outcome;
    enum way way;
    long number, value, lines; /* lines: printed so far */
    int64_t path_due_ms, alive_due_ms, off_until_ms;
    bool started, stopped; /* stopped: jammed or dirty */
};

/* ---- Printing ---- */

static void line_say(struct detector *detector, const char *text, int64_t now_ms)
{
    struct outgoing out = {.bits = 8, .intact = true};
    outgoing_lead_bytes(&out, (const uint8_t *)"\r\n", 2);
    outgoing_lead_bytes(&out, (const uint8_t *)text, strlen(text));
    out.start = 0;
    detector->alive_due_ms = now_ms + detector->settings->alive_ms;
    detector->lines++;
    for (size_t i = 0; i < detector->faults.count; i++) {
        struct fault *fault = &detector->faults.fault[i];
        if (!fault_strikes(fault, -1))
            continue;
        truth_begin(detector->truth, now_ms, "fault");
        truth_text(detector->truth, "kind", fault->kind->word);
        truth_end(detector->truth);
        if (outgoing_worth(&out))
            fault_apply(fault, &out);
    }
    if (!out.mute)
        outbox_answer(&detector->outbox, &out, now_ms);
}

/* ---- Notes ---- */

static void note_end(struct detector *detector, enum outcome outcome, int64_t now_ms)
{
    detector->path = PATH_EMPTY;
    detector->outcome = outcome;
    truth_begin(detector->truth, now_ms, outcome_name(outcome));
    truth_number(detector->truth, "note", detector->number);
    truth_number(detector->truth, "value", detector->value);
    truth_end(detector->truth);
}

/* A detector only looks: every note comes out again. "passed" is told like "returned" in the log. */
static void note_judge(struct detector *detector, int64_t now_ms)
{
    static const char *const sensors[WAY_COUNT] = {
        [WAY_UV] = "UV",     [WAY_IR] = "IR",       [WAY_MG] = "MG",       [WAY_THREAD] = "THREAD",
        [WAY_SIZE] = "SIZE", [WAY_THICK] = "THICK", [WAY_IMAGE] = "IMAGE", [WAY_UV_IR] = "UV+IR"};
    char text[64];
    if (detector->way == WAY_PASSED)
        snprintf(text, sizeof text, "PASS;EUR%ld", detector->value);
    else if (detector->way == WAY_SKEWED)
        strcpy(text, "SKEW");
    else if (detector->way == WAY_STRANGE)
        strcpy(text, "FAIL;?");
    else
        snprintf(text, sizeof text, "FAIL;EUR%ld;%s", detector->value, sensors[detector->way]);
    line_say(detector, text, now_ms);
    note_end(detector, detector->way == WAY_PASSED ? OUTCOME_RETURNED : OUTCOME_REJECTED, now_ms);
}

static bool detector_ready(const struct detector *detector, int64_t now_ms)
{
    return detector->started && !detector->stopped && now_ms >= detector->off_until_ms;
}

static void note_insert(struct detector *detector, const struct statement *statement, int64_t now_ms)
{
    detector->number++;
    detector->value = statement->first;
    detector->way = (enum way)statement->second;
    detector->outcome = OUTCOME_NONE;
    if (!detector_ready(detector, now_ms)) {
        note_end(detector, OUTCOME_NOT_TAKEN, now_ms);
        return;
    }
    detector->path = PATH_ENTERING;
    detector->path_due_ms = now_ms + detector->settings->move_ms;
}

/* ---- The device ---- */

static void detector_advance(void *self, int64_t now_ms)
{
    struct detector *detector = self;
    if (now_ms < detector->off_until_ms)
        return;
    if (!detector->started) {
        detector->started = true;
        line_say(detector, "HELLO", now_ms);
    }
    if (detector->path == PATH_ENTERING && now_ms >= detector->path_due_ms)
        note_judge(detector, now_ms);
    if (detector->settings->alive_ms > 0 && now_ms >= detector->alive_due_ms)
        line_say(detector, "ALIVE", now_ms);
}

static int64_t detector_deadline(void *self, int64_t now_ms)
{
    const struct detector *detector = self;
    if (now_ms < detector->off_until_ms)
        return detector->off_until_ms;
    int64_t deadline = detector->path == PATH_ENTERING ? detector->path_due_ms : INT64_MAX;
    bool alive = detector->settings->alive_ms > 0 && detector->alive_due_ms < deadline;
    return alive ? detector->alive_due_ms : deadline;
}

static void detector_note_state(void *self, struct note_state *state, int64_t now_ms)
{
    const struct detector *detector = self;
    *state = (struct note_state){.accepting = detector_ready(detector, now_ms),
                                 .events_read = detector->outbox.count == 0,
                                 .path = detector->path,
                                 .outcome = detector->outcome};
}

/* What the host could count: lines. */
static long detector_count(void *self, enum wait wait, long command)
{
    (void)wait;
    (void)command;
    return ((const struct detector *)self)->lines;
}

static void detector_restart(struct detector *detector, long off_ms, int64_t now_ms)
{
    truth_say(detector->truth, now_ms, off_ms > 0 ? "power_off" : "reset", NULL, 0);
    if (detector->path == PATH_ENTERING)
        note_end(detector, OUTCOME_RETURNED, now_ms);
    outbox_clear(&detector->outbox);
    detector->started = false;
    detector->off_until_ms = now_ms + off_ms + detector->settings->start_ms;
}

static void detector_stop(struct detector *detector, const char *text, int64_t now_ms)
{
    bool stopped = detector->stopped;
    detector->stopped = text != NULL;
    if (detector->stopped && detector->path == PATH_ENTERING)
        note_end(detector, OUTCOME_JAMMED, now_ms);
    if (detector->stopped)
        line_say(detector, text, now_ms);
    else if (stopped)
        line_say(detector, "READY", now_ms);
}

static void detector_act(void *self, const struct statement *statement, int64_t now_ms)
{
    struct detector *detector = self;
    switch (statement->action) {
    case ACTION_INSERT:
        note_insert(detector, statement, now_ms);
        break;
    case ACTION_SAY:
        line_say(detector, detector->settings->texts[statement->first], now_ms);
        break;
    case ACTION_JAM:
        detector_stop(detector, "JAM", now_ms);
        break;
    case ACTION_DIRTY:
        detector_stop(detector, "CLEAN", now_ms);
        break;
    case ACTION_CLEAR:
        detector_stop(detector, NULL, now_ms);
        break;
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        detector_restart(detector, statement->first, now_ms);
        break;
    case ACTION_SILENCE:
        detector->off_until_ms = now_ms + statement->first;
        break;
    default: /* pull: it does not notice */
        break;
    }
}

/* It listens to nobody. */
static size_t detector_receive(void *self, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    (void)self;
    (void)bytes;
    (void)now_ms;
    return count;
}

static void detector_disconnect(void *self)
{
    outbox_clear(&((struct detector *)self)->outbox);
}

static void simulator_start(const struct script *script, const struct truth *truth, struct actor *actor)
{
    static struct detector detector;
    detector.settings = script->settings;
    detector.truth = truth;
    detector.off_until_ms = detector.settings->start_ms;
    truth_say(truth, 0, "started", NULL, 0);
    *actor = (struct actor){.self = &detector,
                            .outbox = &detector.outbox,
                            .faults = &detector.faults,
                            .truth = truth,
                            .advance = detector_advance,
                            .deadline = detector_deadline,
                            .note_state = detector_note_state,
                            .count = detector_count,
                            .act = detector_act,
                            .receive = detector_receive,
                            .disconnect = detector_disconnect};
}

int main(int count, char **arguments)
{
    static struct settings settings;
    settings_default(&settings);
    const struct program program = {
        .name = "lines-simulator", .language = &lines_language, .settings = &settings, .start = simulator_start};
    return server_main(&program, count, arguments);
}
