/* mdb-simulator: a simulated MDB bill validator behind a simulated bus microcontroller, on a local TCP port, acting out
 * a script. See README.md. */
#include "common/server.h"
#include "controller.h"

struct simulator {
    struct validator validator;
    struct bus bus;
    struct carrier carrier;
    struct controller controller;
};

static void simulator_advance(void *self, int64_t now_ms)
{
    struct simulator *simulator = self;
    validator_advance(&simulator->validator, now_ms);
    controller_advance(&simulator->controller, now_ms);
}

static int64_t simulator_deadline(void *self, int64_t now_ms)
{
    const struct simulator *simulator = self;
    int64_t validator = validator_deadline(&simulator->validator, now_ms);
    int64_t controller = controller_deadline(&simulator->controller, now_ms);
    return validator < controller ? validator : controller;
}

static void simulator_note_state(void *self, struct note_state *state, int64_t now_ms)
{
    const struct simulator *simulator = self;
    const struct validator *validator = &simulator->validator;
    *state = (struct note_state){.accepting = validator_accepting(validator, now_ms),
                                 .events_read = validator->queued == 0 &&
                                                !controller_has_events(&simulator->controller),
                                 .path = validator->path,
                                 .outcome = validator->outcome};
}

static long simulator_count(void *self, enum wait wait, long command)
{
    const struct bus *bus = &((struct simulator *)self)->bus;
    if (wait == WAIT_REQUEST)
        return bus->requests[command];
    return bus->answered[wait == WAIT_POLLS ? COMMAND_POLL : command];
}

/* WAIT_KEPT is the only one. */
static bool simulator_reached(void *self, enum wait wait)
{
    (void)wait;
    return controller_has_events(&((struct simulator *)self)->controller);
}

static void note_act(struct validator *validator, const struct statement *statement, int64_t now_ms)
{
    switch (statement->action) {
    case ACTION_INSERT:
        validator_insert(validator, statement->first, (enum way)statement->second, now_ms);
        break;
    case ACTION_EVENT:
        validator_event(validator, (uint8_t)statement->first, now_ms);
        break;
    case ACTION_PULL:
        validator_pull(validator, now_ms);
        break;
    case ACTION_RECYCLER:
        validator_recycler(validator, (enum transfer)statement->second, statement->first, now_ms);
        break;
    case ACTION_JAM:
        validator_jam(validator, now_ms);
        break;
    default:
        break;
    }
}

static void machine_act(struct validator *validator, const struct statement *statement, int64_t now_ms)
{
    switch (statement->action) {
    case ACTION_CLEAR:
        validator_clear(validator, now_ms);
        break;
    case ACTION_STATUS:
        validator_status(validator, (enum status)statement->first, now_ms);
        break;
    case ACTION_STACKER:
        validator_stacker(validator, (enum stacker)statement->first, now_ms);
        break;
    case ACTION_COUNT:
        validator->count = statement->first;
        break;
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        validator_restart(validator, statement->first, statement->first > 0 ? "power_off" : "reset", now_ms);
        break;
    case ACTION_SILENCE:
        validator_silence(validator, statement->first, now_ms);
        break;
    default:
        note_act(validator, statement, now_ms);
        break;
    }
}

static void simulator_act(void *self, const struct statement *statement, int64_t now_ms)
{
    struct simulator *simulator = self;
    if (statement->action == ACTION_CONTROLLER)
        controller_restart(&simulator->controller, statement->first, now_ms);
    else
        machine_act(&simulator->validator, statement, now_ms);
    validator_advance(&simulator->validator, now_ms);
}

static size_t simulator_receive(void *self, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    struct simulator *simulator = self;
    struct packet packet;
    for (size_t i = 0; i < count; i++) {
        if (!carrier_receive(&simulator->carrier, bytes[i], &packet, now_ms))
            continue;
        controller_receive(&simulator->controller, &packet, now_ms);
        return i + 1;
    }
    return count;
}

static void simulator_disconnect(void *self)
{
    struct simulator *simulator = self;
    carrier_clear(&simulator->carrier);
}

static void simulator_start(const struct script *script, const struct truth *truth, struct actor *actor)
{
    static struct simulator simulator;
    validator_start(&simulator.validator, script->settings, truth, 0);
    carrier_start(&simulator.carrier, truth);
    bus_start(&simulator.bus, &simulator.validator, &simulator.carrier.faults);
    controller_start(&simulator.controller, &simulator.bus, &simulator.carrier);
    *actor = (struct actor){.self = &simulator,
                            .outbox = &simulator.carrier.outbox,
                            .faults = &simulator.carrier.faults,
                            .truth = truth,
                            .advance = simulator_advance,
                            .deadline = simulator_deadline,
                            .note_state = simulator_note_state,
                            .count = simulator_count,
                            .reached = simulator_reached,
                            .act = simulator_act,
                            .receive = simulator_receive,
                            .disconnect = simulator_disconnect};
}

int main(int count, char **arguments)
{
    static struct settings settings;
    settings_default(&settings);
    const struct program program = {
        .name = "mdb-simulator", .language = &mdb_language, .settings = &settings, .start = simulator_start};
    return server_main(&program, count, arguments);
}
