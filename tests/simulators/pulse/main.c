/* pulse-simulator: a simulated contact-pulse device and the box that samples its wires, on a local TCP port, acting out a
 * script. See README.md. */
#include "common/server.h"
#include "contact.h"

static void simulator_advance(void *self, int64_t now_ms)
{
    contact_advance(self, now_ms);
}

static int64_t simulator_deadline(void *self, int64_t now_ms)
{
    return contact_deadline(self, now_ms);
}

static void simulator_note_state(void *self, struct note_state *state, int64_t now_ms)
{
    const struct contact *contact = self;
    *state = (struct note_state){.accepting = contact_accepting(contact, now_ms),
                                 .events_read = contact->edge_next == contact->edge_count &&
                                                now_ms >= contact->busy_until_ms,
                                 .path = contact->path,
                                 .outcome = contact->outcome};
}

/* The only thing it hears is the state of its outputs. */
static long simulator_count(void *self, enum wait wait, long command)
{
    (void)wait;
    (void)command;
    return ((const struct contact *)self)->heard;
}

static void simulator_act(void *self, const struct statement *statement, int64_t now_ms)
{
    struct contact *contact = self;
    switch (statement->action) {
    case ACTION_INSERT:
        contact_insert(contact, statement->first, (enum way)statement->second, now_ms);
        break;
    case ACTION_PULSES:
        contact_pulse(contact, statement->first, now_ms);
        break;
    case ACTION_CONTACT:
        contact_set(contact, statement->first != 0, now_ms);
        break;
    case ACTION_OTHER:
        contact_other(contact, statement->first, statement->second != 0, now_ms);
        break;
    case ACTION_RESET:
    case ACTION_POWER_OFF:
        contact_power_off(contact, statement->first, now_ms);
        break;
    case ACTION_SILENCE:
        truth_say(contact->truth, now_ms, "silence", "ms", statement->first);
        contact->mute_until_ms = now_ms + statement->first;
        break;
    default: /* pull, clear: there is no wire for it */
        break;
    }
    contact_advance(contact, now_ms);
}

static size_t simulator_receive(void *self, const uint8_t *bytes, size_t count, int64_t now_ms)
{
    (void)count;
    contact_outputs(self, bytes[0], now_ms);
    return 1;
}

static void simulator_connect(void *self, int64_t now_ms)
{
    contact_tell(self, now_ms);
}

/* Outputs that nobody drives are off. */
static void simulator_disconnect(void *self)
{
    struct contact *contact = self;
    outbox_clear(&contact->outbox);
    contact->outputs = 0;
}

static void simulator_start(const struct script *script, const struct truth *truth, struct actor *actor)
{
    static struct contact contact;
    contact_start(&contact, script->settings, truth);
    *actor = (struct actor){.self = &contact,
                            .outbox = &contact.outbox,
                            .faults = &contact.faults,
                            .truth = truth,
                            .advance = simulator_advance,
                            .deadline = simulator_deadline,
                            .note_state = simulator_note_state,
                            .count = simulator_count,
                            .act = simulator_act,
                            .receive = simulator_receive,
                            .disconnect = simulator_disconnect,
                            .connect = simulator_connect};
}

int main(int count, char **arguments)
{
    static struct settings settings;
    settings_default(&settings);
    const struct program program = {
        .name = "pulse-simulator", .language = &pulse_language, .settings = &settings, .start = simulator_start};
    return server_main(&program, count, arguments);
}
