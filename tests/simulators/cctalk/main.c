/* cctalk-simulator: a simulated ccTalk note validator on a local TCP port, acting out a script. See README.md. */
#include "common/server.h"
#include "line.h"

enum { POLL_HEADER = 159 };

struct simulator {
    struct device device;
    struct line line;
};

static void simulator_advance(void *self, int64_t now_ms)
{
    struct simulator *simulator = self;
    device_advance(&simulator->device, now_ms);
}

static int64_t simulator_deadline(void *self, int64_t now_ms)
{
    const struct simulator *simulator = self;
    int64_t deadline = device_deadline(&simulator->device);
    int64_t off_until_ms = simulator->device.off_until_ms;
    return now_ms < off_until_ms && off_until_ms < deadline ? off_until_ms : deadline;
}

static void simulator_note_state(void *self, struct note_state *state, int64_t now_ms)
{
    const struct device *device = &((struct simulator *)self)->device;
    *state = (struct note_state){.accepting = device_accepting(device, now_ms),
                                 .events_read = device->events_read == device->events_made,
                                 .path = device->path,
                                 .outcome = device->outcome};
}

static long simulator_count(void *self, enum wait wait, long command)
{
    const struct line *line = &((struct simulator *)self)->line;
    if (wait == WAIT_REQUEST)
        return line->requests[command];
    return line->answered[wait == WAIT_POLLS ? POLL_HEADER : command];
}

static void quiet_start(struct device *device, long duration_ms, int64_t now_ms)
{
    if (device->quiet_until_ms < now_ms + duration_ms)
        device->quiet_until_ms = now_ms + duration_ms;
    truth_say(device->truth, now_ms, "silence", "ms", duration_ms);
}

static void device_act(struct device *device, const struct statement *statement, int64_t now_ms)
{
    switch (statement->action) {
    case ACTION_INSERT:
        device_insert(device, statement->first, (enum way)statement->second, now_ms);
        break;
    case ACTION_EVENT:
        device_event(device, (int)statement->first, (int)statement->second, now_ms);
        break;
    case ACTION_PULL:
        device_pull(device, now_ms);
        break;
    case ACTION_JAM:
        device_jam(device, (enum jam)statement->first, now_ms);
        break;
    case ACTION_CLEAR:
        device_clear(device, now_ms);
        break;
    case ACTION_STACKER:
        device_stacker(device, (enum stacker)statement->first, now_ms);
        break;
    case ACTION_SELF_CHECK:
        device->fault = (int)statement->first;
        device->fault_extra = (int)statement->second;
        break;
    case ACTION_ROUTE_FAILS:
        device->route_failures = statement->first;
        break;
    default:
        break;
    }
    device_advance(device, now_ms);
}

static void simulator_act(void *self, const struct statement *statement, int64_t now_ms)
{
    struct simulator *simulator = self;
    switch (statement->action) {
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        line_clear(&simulator->line);
        device_restart(&simulator->device, statement->first, statement->first > 0 ? "power_off" : "reset", now_ms);
        break;
    case ACTION_SILENCE:
        line_clear(&simulator->line);
        quiet_start(&simulator->device, statement->first, now_ms);
        break;
    default:
        device_act(&simulator->device, statement, now_ms);
        break;
    }
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
    const struct settings *settings = script->settings;
    device_start(&simulator.device, settings, truth, 0);
    line_start(&simulator.line, &simulator.device, settings, truth);
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
        .name = "cctalk-simulator", .language = &cctalk_language, .settings = &settings, .start = simulator_start};
    return server_main(&program, count, arguments);
}
