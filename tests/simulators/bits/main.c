/* bits-simulator: a simulated validator that tells its state in bits, on a local TCP port, acting out a script. It is the
 * invented device of examples/descriptions/status-bits.json. See README.md. */
#include "common/server.h"
#include "line.h"

struct simulator {
    struct validator validator;
    struct line line;
};

static void simulator_advance(void *self, int64_t now_ms)
{
    struct simulator *simulator = self;
    validator_advance(&simulator->validator, now_ms);
}

static int64_t simulator_deadline(void *self, int64_t now_ms)
{
    const struct simulator *simulator = self;
    int64_t deadline = validator_deadline(&simulator->validator);
    int64_t back_ms = simulator->validator.off_until_ms;
    return back_ms > now_ms && back_ms < deadline ? back_ms : deadline;
}

static void simulator_note_state(void *self, struct note_state *state, int64_t now_ms)
{
    const struct validator *validator = &((struct simulator *)self)->validator;
    *state = (struct note_state){.accepting = validator_accepting(validator, now_ms),
                                 .events_read = validator->queued == 0 && !validator->started,
                                 .path = validator->path,
                                 .outcome = validator->outcome};
}

static long simulator_count(void *self, enum wait wait, long command)
{
    const struct line *line = &((struct simulator *)self)->line;
    if (wait == WAIT_REQUEST)
        return line->requests[command];
    return line->answered[wait == WAIT_POLLS ? COMMAND_POLL : command];
}

static void simulator_act(void *self, const struct statement *statement, int64_t now_ms)
{
    struct simulator *simulator = self;
    struct validator *validator = &simulator->validator;
    switch (statement->action) {
    case ACTION_INSERT:
        validator_insert(validator, statement->first, (enum way)statement->second, now_ms);
        break;
    case ACTION_JAM:
        validator_jam(validator, now_ms);
        break;
    case ACTION_STACKER:
        validator_stacker(validator, statement->first, now_ms);
        break;
    case ACTION_TAMPERING:
        validator_tampering(validator, now_ms);
        break;
    case ACTION_BITS:
        validator->extra[0] = (uint8_t)statement->first;
        validator->extra[1] = (uint8_t)statement->second;
        break;
    case ACTION_CLEAR:
        validator_clear(validator, now_ms);
        break;
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        line_clear(&simulator->line);
        simulator->line.toggle = -1;
        validator_restart(validator, statement->first, now_ms);
        break;
    case ACTION_SILENCE:
        line_clear(&simulator->line);
        validator_silence(validator, statement->first, now_ms);
        break;
    default: /* pull: no bit tells of it */
        break;
    }
    validator_advance(validator, now_ms);
}

static size_t simulator_receive(void *self, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    struct simulator *simulator = self;
    return line_receive(&simulator->line, bytes, count, now_ms);
}

static void simulator_disconnect(void *self)
{
    struct simulator *simulator = self;
    line_clear(&simulator->line);
}

static void simulator_start(const struct script *script, const struct truth *truth, struct actor *actor)
{
    static struct simulator simulator;
    validator_start(&simulator.validator, script->settings, truth);
    line_start(&simulator.line, &simulator.validator, script->settings, truth);
    *actor = (struct actor){.self = &simulator,
                            .outbox = &simulator.line.outbox,
                            .faults = &simulator.line.faults,
                            .truth = truth,
                            .advance = simulator_advance,
                            .deadline = simulator_deadline,
                            .note_state = simulator_note_state,
                            .count = simulator_count,
                            .act = simulator_act,
                            .receive = simulator_receive,
                            .disconnect = simulator_disconnect};
}

int main(int count, char **arguments)
{
    static struct settings settings;
    settings_default(&settings);
    const struct program program = {
        .name = "bits-simulator", .language = &bits_language, .settings = &settings, .start = simulator_start};
    return server_main(&program, count, arguments);
}
